"""Short figures over one chord: fragments of its arpeggio, steps of its scale, chord tones reached by half step."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import lru_cache
from typing import NamedTuple

from engine.drills.slips_in_counting import ladder
from engine.theory.chord import Chord, chord_of
from engine.theory.degree import Degree
from engine.theory.naming import OUTSIDE, name_over
from engine.theory.pitch import Pitch


class Figure(NamedTuple):
    """Steps of the chord's scale, counted up from the root: 8 is the octave, 9 the step above it.

    ``<3`` is the note a half step under the third step. ``over``: degrees that the chord must have.
    """

    steps: str
    over: str = ""


# The degrees of a dominant, whatever else it names.
_DOMINANT = "3 b7"
# By how many notes they have; composed for this drill.
THREE = (
    Figure("1 3 5"), Figure("5 3 1"), Figure("3 5 7"), Figure("7 5 3"), Figure("5 7 9"), Figure("9 7 5"),
    Figure("3 5 6", "6"), Figure("6 5 3", "6"), Figure("5 6 8", "6"),
    Figure("4 <3 3"), Figure("6 <5 5"), Figure("9 <8 8"), Figure("2 <3 3"), Figure("1 <3 3"), Figure("3 <5 5"),
    Figure("1 2 3"), Figure("3 2 1"), Figure("5 4 3"), Figure("5 6 7"), Figure("7 6 5"), Figure("8 7 6", _DOMINANT),
)  # fmt: skip
FOUR = (
    Figure("1 3 5 7"), Figure("7 5 3 1"), Figure("3 5 7 9"), Figure("9 7 5 3"), Figure("5 3 7 9"),
    Figure("3 5 6 8", "6"), Figure("8 6 5 3", "6"), Figure("1 2 3 5"), Figure("5 3 2 1"), Figure("3 2 1 5"),
    Figure("4 <3 3 5"), Figure("4 <3 3 1"), Figure("6 <5 5 3"), Figure("9 <8 8 5"), Figure("2 <3 3 1"),
    Figure("<3 3 5 7"), Figure("<5 5 7 9"), Figure("1 <3 3 5"), Figure("5 <3 3 1"),
    Figure("5 4 3 2"), Figure("8 7 6 5", _DOMINANT), Figure("8 <8 7 6", _DOMINANT),
)  # fmt: skip
FIVE = (
    Figure("3 5 7 9 8"), Figure("9 8 7 5 3"), Figure("4 <3 3 5 7"), Figure("6 <5 5 3 1"), Figure("5 4 <3 3 1"),
    Figure("<3 3 5 7 9"), Figure("2 <3 3 5 7"), Figure("1 2 3 5 7"), Figure("9 <8 8 7 5"),
    Figure("3 5 6 8 9", "6"), Figure("7 6 5 4 3"), Figure("8 <8 7 6 5", _DOMINANT), Figure("9 8 7 6 5", _DOMINANT),
)  # fmt: skip
WIDEST = 11  # half steps: so much lies within an octave of keys, wherever it begins
# By level.
FIGURES: Mapping[int, tuple[Figure, ...]] = {1: THREE, 2: FOUR, 3: (*FOUR, *FIVE)}
_THIRDS = (0, 2, 4, 6)  # scale steps above the root, from 0, on which the chord itself stands
_STEPS, _OCTAVE = 7, 12


class Note(NamedTuple):
    """A note of a figure: its degree, and letter steps and half steps up from the root."""

    degree: Degree
    steps: int
    semitones: int


@lru_cache(maxsize=64)
def figures_over(kind: str, level: int) -> tuple[tuple[Note, ...], ...]:
    """The figures of a level that a player would play over a kind of chord, each sounding another way.

    None has a note twice, and none is wider than ``WIDEST``.
    """
    chord = chord_of(Pitch(0), kind)
    rungs = ladder(chord)
    found: dict[tuple[int, ...], tuple[Note, ...]] = {}
    for figure in FIGURES[level]:
        notes = tuple(_note(chord, rungs, word) for word in figure.steps.split())
        sounds = tuple(note.semitones for note in notes)
        names = {note.degree.name for note in notes}
        if len(set(sounds)) < len(sounds) or max(sounds) - min(sounds) > WIDEST or chord.spoilt & names:
            continue
        if all(map(chord.has, figure.over.split())) and all(
            _belongs(chord, rungs, word) for word in figure.steps.split()
        ):
            found.setdefault(sounds, notes)
    return tuple(found.values())


def _note(chord: Chord, rungs: Sequence[Degree], word: str) -> Note:
    octave, step = divmod(int(word.removeprefix("<")) - 1, _STEPS)
    degree = rungs[step]
    if not word.startswith("<"):
        return Note(degree, degree.steps + _STEPS * octave, degree.semitones + _OCTAVE * octave)
    semitones = degree.semitones + _OCTAVE * octave - 1
    under = name_over(chord, degree.over(chord.root).up(-1, -1)).degree
    octave = (semitones - under.semitones) // _OCTAVE
    return Note(under, under.steps + _STEPS * octave, semitones)


def _belongs(chord: Chord, rungs: Sequence[Degree], word: str) -> bool:
    """Whether a step is a tone of the chord, or between two of them one that its scale has; what leads into one may."""
    if word.startswith("<"):
        return True
    step = (int(word) - 1) % _STEPS
    degree = rungs[step]
    if step in _THIRDS:
        return degree in chord.degrees
    return name_over(chord, degree.over(chord.root)).role != OUTSIDE


def pitches(root: Pitch, notes: Sequence[Note]) -> tuple[Pitch, ...]:
    """The notes over a root that has an octave, without double accidentals."""
    return tuple(root.up(note.steps, note.semitones).readable() for note in notes)
