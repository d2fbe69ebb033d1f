"""Lines as text for people."""

import re
from fractions import Fraction

import pytest

from engine.formats.text import beat_in_bar, write_text
from engine.lines.line import Change, Line, Meter, Note
from engine.theory.chord_symbol import parse_chord
from engine.theory.key import parse_key
from engine.theory.naming import name_over
from engine.theory.pitch import parse_pitch
from engine.theory.wording import Profile, show
from tests.engine.lines_at_random import line_at_random

NOTES = "G4@-1:1/2 A4@-1/2:1/2 Bb4@0:1/3 D5@1/3:1/3 F5@2/3:1/3 Eb5@1:3/2 F#4@5/2:1/2 Ab4@3:1 D5@4:5/2"
LINE = Line(
    parse_key("Bb"),
    Meter(),
    tuple(
        Note(parse_pitch(name), Fraction(start), Fraction(length))
        for name, start, length in (re.split("[@:]", item) for item in NOTES.split())
    ),
    (Change(parse_chord("Cm7"), Fraction(0)), Change(parse_chord("F7b9"), Fraction(5, 2)),
     Change(parse_chord("Bbmaj7/D"), Fraction(4))),
    Fraction(-1),
    Fraction(8),
    title="Round the\ncorner",
    composer="Zoë",
    tempo=132,
)  # fmt: skip

WRITTEN = """\
Round the corner
by Zoë
Key B♭, 4/4, beats are quarter notes
132 quarter notes a minute

Bar   Chords
0     Cm7
1     Cm7   F7♭9 on 3½
2     B♭maj7/D

Bar   Beat   Note   Length   Chord      Degree
0     4      G4     ½        Cm7        5
0     4½     A4     ½        Cm7        13
1     1      B♭4    ⅓        Cm7        ♭7
1     1⅓     D5     ⅓        Cm7        9
1     1⅔     F5     ⅓        Cm7        11
1     2      E♭5    1½       Cm7        ♭3
1     3½     F♯4    ½        F7♭9       ♭9
1     4      A♭4    1        F7♭9       ♯9
2     1      D5     2½       B♭maj7/D   3
"""


def test_a_whole_line() -> None:
    assert write_text(LINE) == WRITTEN


def test_in_the_signs_and_names_that_the_reader_wants() -> None:
    plain = write_text(LINE, Profile(signs=False))
    assert "1     Cm7   F7b9 on 3½\n" in plain
    assert not set("♭♯") & set(plain)
    german = write_text(LINE, Profile(names="german"))
    assert "Key B, 4/4" in german
    assert "Bmaj7/D" in german


def test_a_chord_that_starts_in_the_pickup_is_shown_once() -> None:
    changes = (Change(parse_chord("Dm7"), Fraction(-1, 2)), *LINE.changes)
    written = write_text(Line(LINE.key, LINE.meter, LINE.notes, changes, LINE.begin, LINE.end))
    assert written.splitlines()[3:5] == ["0     Dm7", "1     Cm7   F7♭9 on 3½"]


def test_beats_are_those_of_the_signature() -> None:
    line = Line(parse_key("C"), Meter(6, 8), (Note(parse_pitch("C5"), Fraction(3, 2), Fraction(3, 4)),),
                (Change(parse_chord("C"), Fraction(0)),), Fraction(0), Fraction(3))  # fmt: skip
    written = write_text(line)
    assert "6/8, beats are eighth notes" in written
    assert written.splitlines()[-1].split() == ["1", "4", "C5", "1½", "C", "1"]
    assert "a minute" not in written


@pytest.mark.parametrize(
    ("length", "wanted"),
    [("1/8", "⅛"), ("1", "1"), ("9/4", "2¼"), ("1/7", "1/7"), ("10/7", "1 3/7"), ("3/16", "3/16"), ("35/16", "2 3/16")],
)
def test_lengths_are_written_as_people_do(length: str, wanted: str) -> None:
    line = Line(LINE.key, LINE.meter, (Note(parse_pitch("D5"), Fraction(0), Fraction(length)),), LINE.changes,
                Fraction(0), Fraction(4))  # fmt: skip
    assert re.split(" {3,}", write_text(line).splitlines()[-1])[3] == wanted


def test_a_thousand_lines_are_aligned_and_whole() -> None:
    for seed in range(1000):
        line = line_at_random(seed)
        _, bars, table = write_text(line).rstrip("\n").split("\n\n")
        head, *rows = table.splitlines()
        starts = [found.start() for found in re.finditer(r"\S+", head)]
        assert len(rows) == len(line.notes), f"seed {seed}"
        for row, note in zip(rows, line.notes, strict=True):
            # Every cell starts below its heading, and a gap stands before it.
            assert all(row[at] != " " and (at == 0 or row[at - 3 : at] == "   ") for at in starts), row
            cells = [row[at:end].strip() for at, end in zip(starts, [*starts[1:], None], strict=True)]
            chord = line.chord_of(note)
            assert cells[2] == show(note.pitch)
            assert cells[4:] == [show(chord), show(name_over(chord, note.pitch).degree)]
            # Bar and beat together are the start again.
            bar, beat = int(cells[0]), beat_in_bar(line.meter, note.start)
            assert (bar - 1) * line.meter.bar + (beat - 1) * 4 / line.meter.unit == note.start
        shown = " ".join(bars.split())
        assert all(show(change.chord) in shown for change in line.changes), f"seed {seed}"
