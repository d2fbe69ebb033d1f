"""Lines moved: to other keys, by octaves, into a range; spelling as a second engine transposes it."""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest
from music21 import interval, pitch

from engine.formats.abc import read_abc
from engine.lines.line import Line, Note
from engine.lines.moving import (
    GUITAR,
    ORDERS,
    Span,
    by_octaves,
    in_all_keys,
    key_for,
    keys_of,
    moved_to,
    note_by_octaves,
    placed,
    with_last_chord,
)
from engine.lines.stock import stock
from engine.theory.bad_input import BadInput
from engine.theory.chord_symbol import parse_chord
from engine.theory.key import parse_key
from engine.theory.pitch import Pitch, parse_pitch

MAJOR = 'X:1\nL:1/8\nM:4/4\nK:C\n"Dm7"DFAc "G7"B_AGF|"Cmaj7"E4 z4|]\n'
MINOR = 'X:1\nL:1/8\nM:4/4\nK:Am\n"Bm7b5"DFAc "E7"^GBd=f|"Am"e4 z4|]\n'


def line_of(abc: str) -> Line:
    (line,) = read_abc(abc)
    return line


def names(line: Line) -> list[str]:
    return [str(note.pitch) for note in line.notes]


def symbols(line: Line) -> list[str]:
    return [change.chord.symbol for change in line.changes]


# --- keys and orders ----------------------------------------------------------


@pytest.mark.parametrize(
    ("mode", "order", "expected"),
    [
        ("major", "fourths", "C F Bb Eb Ab Db Gb B E A D G"),
        ("major", "chromatic", "C Db D Eb E F Gb G Ab A Bb B"),
        ("major", "whole-tone", "C D E Gb Ab Bb Db Eb F G A B"),
        ("major", "chromatic-down", "C B Bb A Ab G Gb F E Eb D Db"),
        ("major", "minor-thirds", "C Eb Gb A F Ab B D Bb Db E G"),
        ("minor", "fourths", "Am Dm Gm Cm Fm Bbm Ebm G#m C#m F#m Bm Em"),
        ("minor", "chromatic", "Am Bbm Bm Cm C#m Dm Ebm Em Fm F#m Gm G#m"),
        ("minor", "whole-tone", "Am Bm C#m Ebm Fm Gm Bbm Cm Dm Em F#m G#m"),
    ],
)
def test_the_twelve_keys_come_in_the_order_that_is_asked(mode: str, order: str, expected: str) -> None:
    assert [str(key) for key in keys_of(mode, order)] == expected.split()


def test_the_orders_go_by_their_steps() -> None:
    for mode in ("major", "minor"):
        sounds = {order: [key.tonic.pitch_class for key in keys_of(mode, order)] for order in ORDERS}
        assert all(sorted(order) == list(range(12)) for order in sounds.values())
        steps = {order: {(second - first) % 12 for first, second in pairwise(tones)} for order, tones in sounds.items()}
        # Three diminished sevenths, three minor thirds in each.
        assert [(second - first) % 12 for first, second in pairwise(sounds["minor-thirds"])].count(3) == 9
        # Two whole-tone rows, a half step or so between them.
        assert (steps["fourths"], steps["chromatic"], steps["chromatic-down"]) == ({5}, {1}, {11})
        assert 2 in steps["whole-tone"]
        assert len(steps["whole-tone"]) == 2


def test_an_order_that_is_none_is_a_key_error() -> None:
    with pytest.raises(KeyError):
        keys_of("major", "fifths")


def test_all_keys_keep_the_lines_mode_and_begin_where_the_order_does() -> None:
    assert [str(line.key) for line in in_all_keys(line_of(MAJOR))] == [str(key) for key in keys_of("major")]
    assert [str(line.key) for line in in_all_keys(line_of(MINOR), "chromatic")][:3] == ["Am", "Bbm", "Bm"]
    assert str(key_for(line_of(MINOR), parse_key("Eb"))) == "Ebm"
    assert str(key_for(line_of(MAJOR), parse_key("Gm"))) == "G"


@pytest.mark.parametrize(
    ("abc", "key", "notes", "chords"),
    [
        (MAJOR, "Bb", "C4 Eb4 G4 Bb4 A4 Gb4 F4 Eb4 D4", "Cm7 F7 Bbmaj7"),
        (MAJOR, "F", "G4 Bb4 D5 F5 E5 Db5 C5 Bb4 A4", "Gm7 C7 Fmaj7"),
        (MAJOR, "G", "A3 C4 E4 G4 F#4 Eb4 D4 C4 B3", "Am7 D7 Gmaj7"),
        (MAJOR, "Gb", "Ab3 Cb4 Eb4 Gb4 F4 D4 Db4 Cb4 Bb3", "Abm7 Db7 Gbmaj7"),
        (MAJOR, "B", "C#4 E4 G#4 B4 A#4 G4 F#4 E4 D#4", "C#m7 F#7 Bmaj7"),
        (MAJOR, "Cb", "Db4 Fb4 Ab4 Cb5 Bb4 G4 Gb4 Fb4 Eb4", "Dbm7 Gb7 Cbmaj7"),
        (MINOR, "Dm", "G4 Bb4 D5 F5 C#5 E5 G5 Bb5 A5", "Em7b5 A7 Dm"),
        (MINOR, "G#m", "C#4 E4 G#4 B4 F##4 A#4 C#5 E5 D#5", "A#m7b5 D#7 G#m"),
    ],
)
def test_a_line_in_another_key_is_written_as_players_write_it(abc: str, key: str, notes: str, chords: str) -> None:
    moved = moved_to(line_of(abc), parse_key(key))
    assert (names(moved), symbols(moved)) == (notes.split(), chords.split())


def test_times_title_and_chord_places_stay() -> None:
    line = line_of(MAJOR)
    for moved in in_all_keys(line):
        assert [(note.start, note.length) for note in moved.notes] == [(note.start, note.length) for note in line.notes]
        assert [change.beat for change in moved.changes] == [change.beat for change in line.changes]
        assert (moved.begin, moved.end, moved.meter) == (line.begin, line.end, line.meter)


# --- spelling, against another engine -----------------------------------------

# Where music21 keeps two accidentals and we write one: the note as it writes it, and ours. Two are hard to read, so
# only the leading tone of a minor key keeps them.
FEWER_SIGNS = {
    "Abb": "G", "Bbb": "A", "Cbb": "Bb", "Dbb": "C", "Ebb": "D", "Fbb": "Eb", "Gbb": "F",
    "C##": "D", "D##": "E", "F##": "G", "G##": "A", "A##": "B", "E##": "F#", "B##": "C#",
}  # fmt: skip


def theirs(note: Pitch, low: Pitch, high: Pitch, semitones: int) -> str:
    """The note moved by the interval between two tonics, as music21 has it, in our ASCII."""
    sign = str.maketrans({"b": "-"})
    first = pitch.Pitch(str(low.in_octave(4)).translate(sign))
    second = pitch.Pitch(str(high).translate(sign))
    second.octave = next(octave for octave in range(2, 7) if _midi(second, octave) - first.midi == semitones)
    away = interval.Interval(first, second)
    moved = pitch.Pitch(str(note).translate(sign)).transpose(away)
    return moved.nameWithOctave.replace("-", "b")


def _midi(one: pitch.Pitch, octave: int) -> float:
    return float(12 * (octave + 1) + pitch.Pitch(one.step + "4").midi - 60 + one.accidental.alter) if one.accidental \
        else float(12 * (octave + 1) + pitch.Pitch(one.step + "4").midi - 60)  # fmt: skip


def test_spelling_agrees_with_another_engine_but_for_double_accidentals() -> None:
    compared, fewer = 0, set()
    for line in [line_of(MAJOR), line_of(MINOR), *stock()]:
        for key in keys_of(line.key.mode):
            moved = moved_to(line, key)
            semitones = moved.notes[0].pitch.midi - line.notes[0].pitch.midi
            for old, new in zip(line.notes, moved.notes, strict=True):
                expected = theirs(old.pitch, line.key.tonic, key.tonic, semitones)
                compared += 1
                if str(new.pitch) == expected:
                    continue
                name = expected.rstrip("-0123456789")
                assert str(new.pitch.in_octave(None)) == FEWER_SIGNS[name], (key, str(old.pitch), expected)
                fewer.add(name)
    assert compared > 2000
    assert fewer <= set(FEWER_SIGNS)
    assert len(fewer) > 3, "the table is used"


def test_a_double_sharp_is_kept_only_as_the_third_of_its_chord() -> None:
    for line in [line_of(MAJOR), line_of(MINOR), *stock()]:
        for moved in in_all_keys(line):
            for note in moved.notes:
                if abs(note.pitch.accidental) > 1:
                    chord = moved.chord_of(note)
                    assert [str(d.over(chord.root)) for d in chord.on_rung(3)] == [str(note.pitch.in_octave(None))]


@pytest.mark.parametrize("tonic", ["Bbb", "B#", "E#", "Fb", "Cb", "D#", "A#"])
def test_even_an_unusual_key_keeps_every_distance(tonic: str) -> None:
    line = line_of(MAJOR)
    moved = moved_to(line, key_for(line, type(line.key)(parse_pitch(tonic))))
    distances = {new.pitch.midi - old.pitch.midi for new, old in zip(moved.notes, line.notes, strict=True)}
    assert len(distances) == 1
    assert abs(distances.pop()) <= 6


# --- octaves and ranges -------------------------------------------------------


@pytest.mark.parametrize("octaves", [-2, -1, 0, 1, 2])
def test_octaves_move_every_note_and_its_name_stays(octaves: int) -> None:
    line = line_of(MAJOR)
    moved = by_octaves(line, octaves)
    assert [note.pitch.midi - 12 * octaves for note in moved.notes] == [note.pitch.midi for note in line.notes]
    assert [str(note.pitch.in_octave(None)) for note in moved.notes] == [
        str(note.pitch.in_octave(None)) for note in line.notes
    ]


def test_one_note_by_octaves_leaves_the_others() -> None:
    line = line_of(MAJOR)
    assert " ".join(names(note_by_octaves(line, 3, -1))) == "D4 F4 A4 C4 B4 Ab4 G4 F4 E4"
    assert names(note_by_octaves(line, 8, 1))[-1] == "E5"


@pytest.mark.parametrize("index", [9, 100])
def test_a_note_that_is_not_there_is_an_index_error(index: int) -> None:
    with pytest.raises(IndexError):
        note_by_octaves(line_of(MAJOR), index, 1)


def test_a_note_in_no_octave_cannot_go_up_one() -> None:
    line = line_of(MAJOR)
    loose = type(line)(
        line.key, line.meter, (Note(parse_pitch("C"), Fraction(0), Fraction(1)),), line.changes, line.begin, line.end
    )
    with pytest.raises(ValueError, match="C is in no octave"):
        by_octaves(loose, 1)


@pytest.mark.parametrize(
    ("octaves", "span", "lowest"),
    [(0, GUITAR, "D4"), (2, GUITAR, "D4"), (-2, GUITAR, "D3"), (0, Span(36, 59), "D2"), (0, Span(74, 90), "D5")],
)
def test_a_line_goes_to_the_nearest_octave_of_a_range(octaves: int, span: Span, lowest: str) -> None:
    found = placed(by_octaves(line_of(MAJOR), octaves), span)
    assert names(found)[0] == lowest
    assert all(span.low <= note.pitch.midi <= span.high for note in found.notes)


def test_a_line_that_is_as_wide_as_the_range_fits_and_a_wider_one_is_refused() -> None:
    line = line_of(MAJOR)
    assert names(placed(line, Span(62, 72))) == names(line)
    with pytest.raises(BadInput) as caught:
        placed(line, Span(62, 71))
    said = str(caught.value)
    assert "is 10 half steps wide and fits no octave of a range of 9; give a wider range" in said
    with pytest.raises(BadInput, match="fits no octave"):
        # Narrow enough, but the range ends between two octaves of it.
        placed(line, Span(63, 73))


# --- the last chord -----------------------------------------------------------


def test_another_last_chord_keeps_the_notes() -> None:
    line = line_of(MAJOR)
    found = with_last_chord(line, parse_chord("Cm7"))
    assert symbols(found) == ["Dm7", "G7", "Cm7"]
    assert found.notes == line.notes


def test_a_last_chord_that_repeats_the_one_before_is_no_change() -> None:
    assert symbols(with_last_chord(line_of(MAJOR), parse_chord("G7"))) == ["Dm7", "G7"]
