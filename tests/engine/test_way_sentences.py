"""What is said about a way."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from engine.lines.line import Line
from engine.neck.fingering import Way, ways
from engine.neck.instrument import Place
from engine.neck.limits import Limits
from engine.neck.sentences import bar_text, fret_text, note_text, way_text
from engine.theory.wording import Profile, render
from tests.engine.short_lines import line_of


def said(line: Line, positions: tuple[int, ...]) -> str:
    """The sentence for the line on string 1 with the hand at these positions."""
    frets = [note.pitch.midi - 64 for note in line.notes]
    fingers = tuple(fret and min(4, max(1, fret - hand + 1)) for fret, hand in zip(frets, positions, strict=True))
    return render(way_text(line, Way(tuple(Place(1, fret) for fret in frets), positions, fingers, 0, 0, 0)))


@pytest.mark.parametrize(
    ("midis", "rests", "positions", "says"),
    [
        ((72, 74, 76), (), (8, 8, 8), "No shift: the hand stays at the 8th fret."),
        ((65, 76), (1,), (1, 12), "One shift, to the 12th fret, on the rest in bar 1."),
        ((65, 76), (), (1, 12), "One shift, to the 12th fret, for E in bar 1."),
        ((65, 64, 75), (), (1, 1, 11), "One shift, to the 11th fret, while an open string rings in bar 1."),
        ((66, 67), (), (2, 3), "One shift, to the 3rd fret, sliding a half step to G in bar 1."),
        ((68, 69), (), (2, 5), "One shift, to the 5th fret, for A in bar 1."),
        ((65, 77, 65), (), (1, 13, 1), "Two shifts: to the 13th fret, for the second F in bar 1, then to the 1st fret, "
                                       "for the third F in bar 1."),
        ((65, 76, 65, 77), (2,), (1, 12, 1, 13), "Three shifts: to the 12th fret, for E in bar 1, then to the 1st "
                                                 "fret, on the rest in bar 1, then to the 13th fret, for the third F "
                                                 "in bar 1."),
        ((65, 77, 65, 77, 66), (), (1, 13, 1, 13, 2), "4 shifts, between the 1st fret and the 13th fret."),
        ((64, 64), (), (1, 1), "Open strings only: the hand has nothing to do."),
    ],
)  # fmt: skip
def test_a_way_in_one_sentence(
    midis: tuple[int, ...], rests: tuple[int, ...], positions: tuple[int, ...], says: str
) -> None:
    assert said(line_of(midis, rests=rests), positions) == says


def test_frets_are_counted_as_players_do() -> None:
    texts = [render(fret_text(fret)).split()[1] for fret in range(1, 25)]
    assert texts[:5] == ["1st", "2nd", "3rd", "4th", "5th"]
    assert texts[9:14] == ["10th", "11th", "12th", "13th", "14th"]
    assert texts[19:] == ["20th", "21st", "22nd", "23rd", "24th"]


def test_bars_are_counted_from_the_first_full_one() -> None:
    line = line_of([60] * 12)
    assert render(bar_text(line, Fraction(0))) == "bar 1"
    assert render(bar_text(line, Fraction(4))) == "bar 2"
    assert render(bar_text(line, Fraction(-1, 2))) == "the pickup"


def test_a_note_is_told_apart_from_its_like_in_the_bar() -> None:
    line = line_of([60, 62, 72, 60, 61, 60, 60, 60, 60, 62])
    texts = [render(note_text(line, index)) for index in range(10)]
    assert texts[:4] == ["the first C in bar 1", "D in bar 1", "the second C in bar 1", "the third C in bar 1"]
    assert texts[8:] == ["C in bar 2", "D in bar 2"]
    sixteenths = line_of([60] * 16, [Fraction(1, 4)] * 16)
    assert render(note_text(sixteenths, 8)) == "the 9th C in bar 1"


def test_the_reader_decides_how_notes_look_and_the_language() -> None:
    line = line_of([65, 75])
    text = note_text(line, 1)
    assert render(text) == "E♭ in bar 1"
    german = Profile(names="german", sentences={"{note} in {bar}": "{note} in {bar}", "bar {number}": "Takt {number}"})
    assert render(text, german) == "E♭ in Takt 1"


def test_a_shift_in_a_pickup() -> None:
    line = line_of([65, 76])
    notes = tuple(replace(note, start=note.start - 1) for note in line.notes)
    line = replace(line, notes=notes, begin=Fraction(-1))
    assert said(line, (1, 12)) == "One shift, to the 12th fret, for E in the pickup."


def test_the_sentence_tells_the_way_that_was_found() -> None:
    line = line_of([65, 76], rests=(1,))
    way = ways(line, limits=Limits(holds=((0, 1), (1, 1))))[0]
    fret = render(fret_text(way.positions[1]))
    assert render(way_text(line, way)) == f"One shift, to {fret}, on the rest in bar 1."
