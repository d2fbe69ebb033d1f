"""A second opinion on files in ABC: music21, on each example as typed and as it is written again.

Every disagreement stands in ``DISAGREEMENTS`` with its reason. One that is
not listed fails, and so does a listed one that is none any more.
"""

from fractions import Fraction

import pytest
from music21 import converter
from music21.exceptions21 import Music21Exception

from engine.formats.abc import read_abc, write_abc
from engine.lines.line import Line
from tests.engine.abc_examples import CHANGES, HEADER, READINGS

_NO_UNIT = "music21 wants M: or L: in every file; the standard has a default for both"
DISAGREEMENTS = {
    "L: changes on the way": "music21 reads no L: in brackets",
    "rests": "music21 does not read x, the rest that is not printed",
    "bars of rest": "music21 takes Z and X for notes",
    **dict.fromkeys(
        (
            "the key's flats", "a minor key", "a minor key in short", "a mode with a space",
            "a natural against the key", "a treble clef", "a bass clef moves nothing", "a tie carries a natural",
            "comments and directives", "an indented file", "no X:", "an empty line before the music",
        ),
        _NO_UNIT,
    ),
}  # fmt: skip
EXAMPLES = {name: music for table in (READINGS, CHANGES) for name, (music, _) in table.items()}
Sounds = list[tuple[int, Fraction, Fraction]]


def whole(music: str) -> str:
    return music if music.lstrip().startswith(("X:", "K:", "%%")) else HEADER + music


def exact(time: float | Fraction) -> Fraction:
    return Fraction(time).limit_denominator(5000)


def ours(line: Line) -> Sounds:
    """MIDI key, start from the line's beginning and length of each note."""
    return [(note.pitch.midi, note.start - line.begin, note.length) for note in line.notes]


def theirs(text: str, accidentals: str) -> Sounds | None:
    """The same by music21, told how long accidentals hold; None where it reads nothing."""
    try:
        score = converter.parse(f"%abc-2.1\n%%propagate-accidentals {accidentals}\n{text}", format="abc")
    except Music21Exception:
        return None
    return [
        (note.pitch.midi, exact(note.offset), exact(note.quarterLength))
        for note in score.stripTies().flatten().notes
        if hasattr(note, "pitch")
    ]


@pytest.mark.parametrize("name", EXAMPLES)
def test_music21_reads_what_was_typed(name: str) -> None:
    text = whole(EXAMPLES[name])
    agrees = ours(read_abc(text)[0]) == theirs(text, "pitch")
    assert agrees != (name in DISAGREEMENTS), DISAGREEMENTS.get(name)


@pytest.mark.parametrize("accidentals", ["octave", "pitch"])
@pytest.mark.parametrize("name", EXAMPLES)
def test_music21_reads_what_is_written_whichever_way_it_takes_accidentals(name: str, accidentals: str) -> None:
    line = read_abc(whole(EXAMPLES[name]))[0]
    assert theirs(write_abc(line), accidentals) == ours(line)
