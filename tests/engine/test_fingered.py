"""A line on the neck as its page has it: the chosen way, holds, what would lie better, and twelve keys to practise."""

from dataclasses import replace

import pytest

from engine.formats.abc import read_abc
from engine.lines.line import Line
from engine.lines.moving import Span, in_all_keys, moved_to, placed
from engine.lines.reading import read_line
from engine.lines.stock import stock
from engine.neck.fingering import ways
from engine.neck.hand import REACH
from engine.neck.instrument import GUITAR, INSTRUMENTS
from engine.neck.limits import Limits
from engine.practice.fingered import fingered, lowest, may_save, moved_shape, savings, within_frets
from engine.practice.own_way import ANY_WAY, OwnWay, moved_by, played
from engine.practice.settings import AS_IT_CAME, Settings
from engine.theory.key import parse_key
from engine.theory.wording import render

LINES = [placed(line, Span(GUITAR.lowest, GUITAR.highest)) for line in stock()]
LINE = LINES[0]


def line_of(notes: str) -> Line:
    return read_abc(f"X:1\nL:1/8\nK:C\n{notes}|]\n")[0]


# Shifts that an octave saves: a leap that no hand reaches.
LEAP = line_of('"C" C,D,E,F, G,A,B,C|"C" c\'2 C,D, E,F,G,A,')


@pytest.mark.parametrize("line", LINES, ids=lambda line: f"{line.number}")
def test_the_chosen_way_is_the_nearest_and_without_a_choice_the_best(line: Line) -> None:
    best = fingered(line, ANY_WAY, AS_IT_CAME)
    assert best.ways == ways(line)
    assert best.chosen == best.ways[0]
    for way in best.ways:
        assert fingered(line, OwnWay(way=lowest(way)), AS_IT_CAME).chosen == way
        # The line is kept in a key five frets lower than it is shown in.
        assert fingered(line, OwnWay(way=lowest(way) - 5), AS_IT_CAME, 5).chosen == way
    assert fingered(line, OwnWay(way=-50), AS_IT_CAME).chosen == min(best.ways, key=lowest)


@pytest.mark.parametrize("line", LINES, ids=lambda line: f"{line.number}")
def test_what_is_held_lies_there_and_the_rest_is_solved_around_it(line: Line) -> None:
    for index, note in enumerate(line.notes[:6]):
        for place in GUITAR.places(note.pitch.midi):
            found = fingered(line, OwnWay(held=((index, place.string),)), AS_IT_CAME)
            assert found.chosen is not None
            assert found.chosen.places[index] == place
            assert found.ways == ways(line, limits=Limits(holds=((index, place.string),)))
            assert found.left_out is None


def test_a_hold_goes_along_to_other_keys_where_it_can_be_played_and_the_others_are_said() -> None:
    index = max(range(len(LINE.notes)), key=lambda place: LINE.notes[place].pitch.midi)
    (string, _), *_ = GUITAR.places(LINE.notes[index].pitch.midi)
    low = min(range(len(LINE.notes)), key=lambda place: LINE.notes[place].pitch.midi)
    deep = GUITAR.places(LINE.notes[low].pitch.midi)[0].string
    own = OwnWay(held=((index, string), (low, deep)))
    left_out = 0
    for key in ("C", "Eb", "F", "G", "A", "B"):
        there = moved_to(LINE, parse_key(key))
        found = fingered(there, own, AS_IT_CAME)
        can = [hold for hold in own.held if hold[1] in {place.string for place in found.places_of(hold[0])}]
        assert list(found.held) == can
        assert (found.left_out is None) == (len(can) == 2)
        left_out += 2 - len(can)
        if found.left_out:
            assert render(found.left_out).startswith("Not held here: ")
        assert found.chosen is not None
        assert all(found.chosen.places[place].string == held for place, held in can)
    assert left_out


def test_a_hold_on_a_string_that_the_instrument_has_not_is_left_out() -> None:
    bass = INSTRUMENTS["bass"]
    line = placed(LINE, Span(bass.lowest, bass.highest))
    found = fingered(line, OwnWay(held=((0, 6),)), Settings(bass))
    assert found.chosen is not None
    assert found.held == ()
    assert found.left_out is not None


@pytest.mark.parametrize("stretch", sorted(REACH))
def test_the_players_stretch_and_instrument_are_obeyed(stretch: int) -> None:
    for instrument in INSTRUMENTS.values():
        line = placed(LINE, Span(instrument.lowest, instrument.highest))
        found = fingered(line, ANY_WAY, Settings(instrument, False, stretch))
        assert found.chosen is not None
        assert found.chosen.span <= stretch
        for note, place in zip(line.notes, found.chosen.places, strict=True):
            assert instrument.opens[place.string - 1] + place.fret == note.pitch.midi


@pytest.mark.parametrize(
    ("notes", "said"),
    [
        ('"C" C,,2 E,2 G,2 C2', "C2 lies outside the guitar, which goes from E2 to fret 22 above E4."),
        ('"C" C,,2 D,,2 G,2 C2', "C2 and D2 lie outside the guitar, which goes from E2 to fret 22 above E4."),
        ('"C" C,,D,,C,,D,, C,,B,,,A,,,G,,,', "8 of its notes lie outside the guitar, which goes from E2 to fret 22"),
        ("\"C\" C,,2 d''2 G,2 C2", "C2 and D7 lie outside the guitar, which goes from E2 to fret 22 above E4."),
    ],
)
def test_a_line_outside_the_instrument_says_so_and_what_helps(notes: str, said: str) -> None:
    line = line_of(notes)
    found = fingered(line, ANY_WAY, AS_IT_CAME)
    assert (found.ways, found.chosen) == ((), None)
    assert render(found.text).startswith(said)
    there = played(line, moved_by(ANY_WAY, dict(found.moves)))
    assert fingered(there, ANY_WAY, AS_IT_CAME).chosen is not None


def test_a_line_without_notes_says_so() -> None:
    found = fingered(replace(LINE, notes=()), ANY_WAY, AS_IT_CAME)
    assert render(found.text) == "There is no note to play."
    assert found.chosen is None
    assert not may_save(found)


def test_what_would_lie_better_saves_what_it_says() -> None:
    found = fingered(LEAP, ANY_WAY, AS_IT_CAME)
    assert found.chosen is not None
    assert may_save(found)
    better = savings(found, 5)
    assert 0 < len(better) <= 2
    for one in better:
        there = fingered(played(LEAP, moved_by(ANY_WAY, {one.index: one.octaves})), ANY_WAY, AS_IT_CAME)
        assert there.chosen is not None
        assert found.chosen.shifts - there.chosen.shifts == one.shifts > 0


@pytest.mark.parametrize("line", LINES[:8], ids=lambda line: f"{line.number}")
def test_nothing_that_would_be_offered_is_passed_over(line: Line) -> None:
    found = fingered(line, ANY_WAY, AS_IT_CAME)
    assert may_save(found) or not savings(found, 5)


@pytest.mark.parametrize("line", LINES, ids=lambda line: f"{line.number}")
def test_one_shape_has_the_same_strings_and_fingers_in_every_key(line: Line) -> None:
    for own in [OwnWay(way=lowest(way)) for way in ways(line)]:
        found = fingered(line, own, AS_IT_CAME)
        way = found.chosen
        assert way is not None
        rows = moved_shape(found, in_all_keys(line))
        assert len(rows) == 12
        for row in rows:
            if not row.places:
                assert row.text
                continue
            away = {there.fret - here.fret for here, there in zip(way.places, row.places, strict=True)}
            assert len(away) == 1
            assert [place.string for place in row.places] == [place.string for place in way.places]
            assert row.position - lowest(way) in away
            for note, (string, fret) in zip(row.line.notes, row.places, strict=True):
                assert GUITAR.opens[string - 1] + fret == note.pitch.midi
                assert 0 <= fret <= GUITAR.frets
            # The same line, though it may be an octave away.
            assert [heard.degree for heard in read_line(row.line)] == [heard.degree for heard in read_line(line)] or (
                row.line.key != line.key
            )


def test_a_shape_that_would_leave_the_neck_is_an_octave_away_or_said() -> None:
    high = fingered(LINE, OwnWay(way=50), Settings(replace(GUITAR, frets=17)))
    rows = moved_shape(high, in_all_keys(LINE))
    assert any(row.text and "an octave lower" in render(row.text) for row in rows)
    short = replace(GUITAR, frets=12)
    line = placed(LINE, Span(short.lowest, short.highest))
    gone = [row for row in moved_shape(fingered(line, ANY_WAY, Settings(short)), in_all_keys(line)) if not row.places]
    assert {render(row.text) for row in gone if row.text} == {"Here the shape would leave the neck."}


@pytest.mark.parametrize("low", [1, 5, 9, 18])
def test_twelve_keys_within_five_frets(low: int) -> None:
    rows = within_frets(in_all_keys(LINE), AS_IT_CAME, low)
    assert len(rows) == 12
    assert any(row.places for row in rows)
    for row, line in zip(rows, in_all_keys(LINE), strict=True):
        assert (row.line.notes[0].pitch.midi - line.notes[0].pitch.midi) % 12 == 0
        if not row.places:
            assert row.text
            assert "within these frets" in render(row.text)
        for note, (string, fret) in zip(row.line.notes, row.places, strict=False):
            assert fret == 0 or low <= fret <= low + 4
            assert GUITAR.opens[string - 1] + fret == note.pitch.midi
