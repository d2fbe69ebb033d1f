"""Where a note can go when the chord changes: every tone of the next chord, the nearest first."""

import pytest
from by_hand import HALF_STEPS, ROOTS, SIGNS, sound
from hypothesis import given
from hypothesis import strategies as st

from engine.theory.chord import KINDS, chord_of
from engine.theory.chord_symbol import parse_chord
from engine.theory.pitch import parse_pitch
from engine.theory.resolution import steps_into

EXAMPLES = [
    # the seventh falls to the third, the third holds as the seventh or rises to the root
    ("F4", "Cmaj7", "E4 3 -1, G4 5 +2, C4 1 -5, B3 7 -6"),
    ("B3", "Cmaj7", "B3 7 0, C4 1 +1, G3 5 -4, E4 3 +5"),
    ("F4", "Cm7", "Eb4 b3 -2, G4 5 +2, C4 1 -5, Bb4 b7 +5"),
    ("C5", "G7", "B4 3 -1, D5 5 +2, G4 1 -5, F5 b7 +5"),
    ("Ab4", "Cm7", "G4 5 -1, Bb4 b7 +2, C5 1 +4, Eb4 b3 -5"),
    # across the octave's line
    ("B4", "F7", "C5 5 +1, A4 3 -2, Eb5 b7 +4, F4 1 -6"),
    ("C4", "Bmaj7", "B3 1 -1, A#3 7 -2, D#4 3 +3, F#3 5 -6"),
    ("B#3", "E7", "B3 5 -1, D4 b7 +2, G#3 3 -4, E4 1 +4"),
    ("Cb5", "Bbmaj7", "Bb4 1 -1, A4 7 -2, D5 3 +3, F4 5 -6"),
    # no octave given, none answered
    ("F", "Cmaj7", "E 3 -1, G 5 +2, C 1 -5, B 7 -6"),
]


@pytest.mark.parametrize(("note", "following", "expected"), EXAMPLES)
def test_where_a_note_can_go(note: str, following: str, expected: str) -> None:
    steps = steps_into(parse_pitch(note), parse_chord(following))
    said = [f"{step.note} {step.degree} {step.semitones:+d}".replace("+0", "0") for step in steps]
    assert said == expected.split(", ")


def _piano_key(note: str) -> int:
    name, octave = note[:-1], int(note[-1])
    return 12 * (octave + 1) + HALF_STEPS[name[0]] + SIGNS[name[1:]]


NOTES = st.builds(
    lambda letter, sign: letter + sign, st.sampled_from("CDEFGAB"), st.sampled_from(["bb", "b", "", "#", "##"])
)


@given(NOTES, st.integers(2, 6), st.sampled_from(ROOTS), st.sampled_from(sorted(KINDS)))
def test_every_tone_of_the_next_chord_stands_in_its_nearest_octave(
    name: str, octave: int, root: str, kind: str
) -> None:
    note = f"{name}{octave}"
    following = chord_of(parse_pitch(root), kind)
    steps = steps_into(parse_pitch(note), following)
    assert sorted(step.degree.name for step in steps) == sorted(KINDS[kind].split())
    distances = [abs(step.semitones) for step in steps]
    assert distances == sorted(distances)
    for step in steps:
        there = str(step.note)
        assert _piano_key(there) - _piano_key(note) == step.semitones, f"{note} to {there}"
        others = [_piano_key(f"{there[:-1]}{other}") - _piano_key(note) for other in range(10)]
        assert abs(step.semitones) == min(abs(other) for other in others)
        assert (step.semitones == 0) == (sound(there) == sound(note))
    without = steps_into(parse_pitch(name), following)
    assert [(step.degree, step.semitones) for step in without] == [(step.degree, step.semitones) for step in steps]
    assert all(step.note.octave is None for step in without)
