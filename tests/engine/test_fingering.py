"""Fingerings: right pitches, a hand that can play them, and never a shift or a cost more than need be."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from fractions import Fraction
from itertools import combinations, groupby
from operator import eq
from random import Random
from typing import TypeAlias

import pytest
from shift_counting import fewest_shifts, lowest_frets, nearest_frets

from engine.lines.line import Line
from engine.neck import hand
from engine.neck.easier import easier
from engine.neck.fingering import Way, gaps_of, layer_of, layers_of, ways
from engine.neck.hand import FINGERS
from engine.neck.instrument import GUITAR, INSTRUMENTS, Instrument, Place, tuned
from engine.neck.limits import FREE, Limits
from engine.neck.paths import ONE_SHIFT, advance, best_path, from_start
from engine.theory.bad_input import BadInput
from tests.engine.every_fingering import (
    REACH,
    all_values,
    changes,
    hands,
    least,
    least_step_by_step,
    placements,
    value_step_by_step,
)
from tests.engine.short_lines import line_of, midis_at_random, open_strings_often, varied_line

Make: TypeAlias = Callable[[int, int, Instrument], Line]
BASS = INSTRUMENTS["bass"]
# Tunings on which every placement of a longer line can be tried.
SMALL = (
    tuned("E1,A1,D2,G2", 12),
    tuned("C3,G3,D4,A4", 13),
    tuned("D2,A2,D3,F#3,A3", 12),
    tuned("E2,A2,D3,G3,B3,E4", 14),
)


def assert_playable(way: Way, line: Line, instrument: Instrument, limits: Limits = FREE) -> None:
    opens = instrument.opens
    below, above = REACH[limits.stretch]
    assert [opens[string - 1] + fret for string, fret in way.places] == [note.pitch.midi for note in line.notes]
    assert all(0 <= fret <= instrument.frets for _, fret in way.places)
    assert all(limits.allows(place) for place in way.places)
    assert all(way.places[index].string == string for index, string in limits.holds)
    assert all(1 <= position <= instrument.frets for position in way.positions)
    for (_, fret), position, finger in zip(way.places, way.positions, way.fingers, strict=True):
        assert (finger == 0) == (fret == 0)
        assert fret == 0 or finger in [finger for finger, _ in FINGERS[fret - position]]
        assert fret == 0 or -below <= fret - position <= above
    assert not needless_reaches(way)
    for index, place in enumerate(way.places[1:], 1):
        assert place.fret or way.positions[index] == way.positions[index - 1], "the hand moved under an open string"
    assert way.shifts == changes(way.positions) >= fewest_shifts(way.places, limits.stretch)
    stays = [
        [fret for _, (_, fret) in stay if fret]
        for _, stay in groupby(zip(way.positions, way.places, strict=True), key=lambda pair: pair[0])
    ]
    assert way.span == max([max(frets) - min(frets) for frets in stays if frets], default=0) <= limits.stretch
    assert way.cost >= 0


def stays_of(way: Way) -> list[tuple[tuple[int, ...], int]]:
    """The frets that are pressed from each position, in order."""
    each = groupby(zip(way.positions, way.places, strict=True), key=lambda pair: pair[0])
    return [(tuple(fret for _, (_, fret) in stay if fret), position) for position, stay in each]


def needless_reaches(way: Way) -> list[tuple[tuple[int, ...], int]]:
    """The stays of the hand, with their frets, that need a reach though another position covers them all.

    One whose every such position is the one before or after stays where it is: there would be a shift less to tell.
    """
    stays, found = stays_of(way), []
    for number, (frets, position) in enumerate(stays):
        beside = {other for _, other in (*stays[:number][-1:], *stays[number + 1 :][:1])}
        covering = set(range(max(max(frets) - 3, 1), min(frets) + 1)) if frets else set()
        if covering and position not in covering and covering - beside:
            found.append((frets, position))
    return found


# --- counting ---------------------------------------------------------------------


def test_shifts_are_counted_from_places_alone() -> None:
    one_string = [
        [(1, fret) for fret in frets] for frets in ((), (0, 0), (5, 10), (5, 11), (1, 6), (1, 0, 7), (5, 0, 9))
    ]
    assert [fewest_shifts(places) for places in one_string] == [0, 0, 0, 1, 0, 1, 0]


def test_the_two_simple_ways() -> None:
    line = line_of([43, 64, 66, 67, 63])
    assert [place.fret for place in lowest_frets(line, GUITAR)] == [3, 0, 2, 3, 4]
    up_the_neck = line_of([84, 80, 71])
    assert lowest_frets(up_the_neck, GUITAR) == ((1, 20), (1, 16), (1, 7))
    assert nearest_frets(up_the_neck, GUITAR) == ((1, 20), (2, 21), (4, 21))


# --- as few shifts as can be ------------------------------------------------------


@pytest.mark.parametrize("seed", range(60))
def test_counting_shifts_agrees_with_every_sequence_of_positions(seed: int) -> None:
    midis = midis_at_random(seed, 4, SMALL[seed % 3])
    for places in list(placements(line_of(midis), SMALL[seed % 3]))[:40]:
        assert fewest_shifts(places) == min(map(changes, hands(places, SMALL[seed % 3].frets)))


@pytest.mark.parametrize("seed", range(80))
def test_no_placement_has_fewer_shifts(seed: int) -> None:
    instrument = SMALL[seed % len(SMALL)]
    count = 3 + seed % 7 if len(instrument.strings) < 6 else 3 + seed % 5
    line = line_of(midis_at_random(seed, count, instrument, widest=(5, 12, 40)[seed % 3]))
    assert ways(line, instrument)[0].shifts == least(line, instrument)


@pytest.mark.parametrize("seed", range(40))
def test_no_placement_within_limits_has_fewer_shifts(seed: int) -> None:
    instrument = SMALL[seed % len(SMALL)]
    line = line_of(midis_at_random(1000 + seed, 6, instrument))
    every = list(placements(line, instrument))
    any_way = every[len(every) * (seed % 7) // 7]
    holds = tuple((index, any_way[index].string) for index in range(seed % 3, 6, 3))
    frets = [fret for _, fret in any_way if fret] or [1]
    for limits in (Limits(holds=holds), Limits(min(frets), max(frets)), Limits(min(frets), max(frets), holds)):
        first, *others = ways(line, instrument, limits)
        assert first.shifts == least(line, instrument, limits)
        for way in (first, *others):
            assert_playable(way, line, instrument, limits)


@pytest.mark.parametrize("seed", range(30))
def test_of_the_ways_with_as_few_shifts_none_costs_less(seed: int) -> None:
    instrument = SMALL[seed % 3]
    line = varied_line(2000 + seed, 3, instrument)
    way = ways(line, instrument)[0]
    assert (way.shifts, way.cost) == min(all_values(line, instrument))


@pytest.mark.parametrize("instrument", [GUITAR, BASS, INSTRUMENTS["seven-string guitar"]], ids=lambda one: one.name)
@pytest.mark.parametrize("seed", range(40))
def test_unseen_lines_have_their_pitches_and_the_best_way(instrument: Instrument, seed: int) -> None:
    line = varied_line(3000 + seed, 6 + seed % 9, instrument)
    first, *others = ways(line, instrument)
    for way in (first, *others):
        assert_playable(way, line, instrument)
    assert first.shifts == fewest_shifts(first.places) == least_step_by_step(line, instrument)
    assert (first.shifts, first.cost) == value_step_by_step(line, instrument)
    for other in (lowest_frets(line, instrument), nearest_frets(line, instrument)):
        assert first.shifts <= fewest_shifts(other)


@pytest.mark.parametrize("make", [varied_line, open_strings_often])
@pytest.mark.parametrize("seed", range(40))
def test_the_search_from_the_end_finds_the_same_value(make: Make, seed: int) -> None:
    line = make(10_000 + seed, 9, GUITAR)
    layers, gaps = layers_of(line, GUITAR)[::-1], gaps_of(line)[::-1]
    values = from_start(layers[0])
    for after, layer, gap in zip(layers, layers[1:], gaps, strict=False):
        values, _ = advance(after, values, layer, gap, backwards=True)
    least = min(min(row) for row in values.values())
    assert least == best_path(layers[::-1], gaps[::-1]).value
    assert divmod(least, ONE_SHIFT) == value_step_by_step(line, GUITAR)


# --- where the hand is said to be --------------------------------------------------


@pytest.mark.parametrize(
    ("frets", "told"),
    [
        ((15, 13, 11, 10, 8, 10, 13, 16), {(15, 13, 11): 11, (10, 8, 10): 8, (13, 16): 13}),
        ((12, 15, 18, 21, 20, 18, 16, 14), {(12, 15): 12, (18, 21, 20, 18): 18, (16, 14): 14}),
    ],
)
def test_a_position_asks_for_no_reach_that_its_notes_do_not_need(
    frets: tuple[int, ...], told: dict[tuple[int, ...], int]
) -> None:
    """Along one string the hand shifts there and back: a reach at both ends would cost less than the way."""
    line = line_of([GUITAR.opens[1] + fret for fret in frets])
    (way, *_) = ways(line, GUITAR, Limits(holds=tuple((index, 2) for index in range(len(frets)))))
    assert_playable(way, line, GUITAR)
    assert dict(stays_of(way)) == told


# --- a smaller hand ---------------------------------------------------------------


@pytest.mark.parametrize("stretch", [3, 4])
@pytest.mark.parametrize("seed", range(20))
def test_counting_shifts_of_a_smaller_hand_agrees_with_every_sequence_of_positions(seed: int, stretch: int) -> None:
    instrument = SMALL[seed % 3]
    for places in list(placements(line_of(midis_at_random(seed, 4, instrument)), instrument))[:30]:
        every = hands(places, instrument.frets, stretch)
        assert fewest_shifts(places, stretch) == min(map(changes, every))


@pytest.mark.parametrize("stretch", [3, 4])
@pytest.mark.parametrize("seed", range(20))
def test_no_placement_and_no_path_is_better_for_a_smaller_hand(seed: int, stretch: int) -> None:
    instrument, limits = SMALL[seed % 3], Limits(stretch=stretch)
    line = line_of(midis_at_random(11_000 + seed, 3 + seed % 6, instrument, widest=(5, 12, 40)[seed % 3]))
    for way in ways(line, instrument, limits):
        assert_playable(way, line, instrument, limits)
    assert ways(line, instrument, limits)[0].shifts == least(line, instrument, limits)
    short = varied_line(12_000 + seed, 3, instrument)
    assert value(ways(short, instrument, limits)[0]) == min(all_values(short, instrument, limits))


@pytest.mark.parametrize("stretch", [3, 4])
@pytest.mark.parametrize("seed", range(20))
def test_longer_lines_have_the_best_way_for_a_smaller_hand(seed: int, stretch: int) -> None:
    line = varied_line(13_000 + seed, 12, GUITAR)
    any_place = GUITAR.places(line.notes[seed % 12].pitch.midi)[-1]
    frets = [place.fret for note in line.notes for place in GUITAR.places(note.pitch.midi)[:1]]
    region = Limits(max(1, min(frets)), max(frets), stretch=stretch)
    for limits in (Limits(stretch=stretch), Limits(holds=((seed % 12, any_place.string),), stretch=stretch), region):
        first, *others = ways(line, GUITAR, limits)
        for way in (first, *others):
            assert_playable(way, line, GUITAR, limits)
        assert first.shifts == fewest_shifts(first.places, stretch) == least_step_by_step(line, GUITAR, limits)
        assert value(first) == value_step_by_step(line, GUITAR, limits)


def test_every_stretch_takes_its_frets_and_not_one_more() -> None:
    held = ((0, 1), (1, 1))
    for stretch in REACH:
        limits = Limits(holds=held, stretch=stretch)
        within, beyond = (ways(line_of([70, 70 + frets]), GUITAR, limits)[0] for frets in (stretch, stretch + 1))
        assert (within.shifts, within.span) == (0, stretch)
        assert (beyond.shifts, beyond.span) == (1, 0)


def test_a_larger_hand_never_shifts_more() -> None:
    for seed in range(20):
        line = varied_line(14_000 + seed, 12, GUITAR)
        shifts = [ways(line, limits=Limits(stretch=stretch))[0].shifts for stretch in (5, 4, 3)]
        assert shifts == sorted(shifts)


@pytest.mark.parametrize("stretch", [0, 2, 6, 44])
def test_a_hand_that_is_not_counted_with_is_one_sentence(stretch: int) -> None:
    said = f'column 1: "{stretch}" is no stretch that a hand is counted with; give a distance of 3, 4 or 5 frets.'
    for asked in (ways, easier):
        with pytest.raises(BadInput) as bad:
            asked(line_of([60, 62]), GUITAR, Limits(stretch=stretch))
        assert str(bad.value) == said


# --- ways -------------------------------------------------------------------------


@pytest.mark.parametrize("seed", range(30))
def test_ways_are_in_order_and_differ_in_more_than_half_of_their_notes(seed: int) -> None:
    found = ways(line_of(midis_at_random(4000 + seed, 12, GUITAR, widest=5)))
    assert [(way.shifts, way.cost) for way in found] == sorted((way.shifts, way.cost) for way in found)
    for one, other in combinations(found, 2):
        assert sum(map(eq, one.places, other.places)) * 2 < len(one.places)


def test_every_part_of_the_neck_that_can_has_a_way() -> None:
    found = ways(line_of([64, 67, 71, 74, 72, 71, 69, 67]))
    assert sorted(way.positions[0] for way in found) == [7, 12, 14, 19]
    assert {way.shifts for way in found} == {0}


def test_the_hand_waits_under_an_open_string_and_shifts_after_it() -> None:
    """Though there is time before the open string, and little after it."""
    (first, *_) = ways(line_of([41, 40, 80], [Fraction(4), Fraction(1, 8), Fraction(1)]))
    assert first.places == ((6, 1), (6, 0), (1, 16))
    assert first.positions[0] == first.positions[1] < first.positions[2]
    assert first.shifts == 1


@pytest.mark.parametrize("seed", range(30))
def test_open_strings_in_between_are_played_in_the_best_way(seed: int) -> None:
    line = open_strings_often(8000 + seed, 7, GUITAR)
    for way in ways(line):
        assert_playable(way, line, GUITAR)
    assert value(ways(line)[0]) == value_step_by_step(line, GUITAR)


@pytest.mark.parametrize("midis", [(67, 72, 73), (73, 72, 67)])
def test_half_steps_on_one_string_are_slides_where_that_is_best(midis: Sequence[int]) -> None:
    line, limits = line_of(midis), Limits(holds=tuple((index, 1) for index in range(len(midis))))
    (first, *_) = ways(line, GUITAR, limits)
    assert value(first) == value_step_by_step(line, GUITAR, limits)
    changes_of_hand = [index for index in range(1, len(midis)) if first.positions[index] != first.positions[index - 1]]
    assert any(first.fingers[index] == first.fingers[index - 1] for index in changes_of_hand)


def test_open_strings_alone_need_no_hand() -> None:
    (first, *_) = ways(line_of([40, 45, 50, 55, 59, 64]))
    assert (first.shifts, first.span, first.cost > 0) == (0, 0, True)
    assert {fret for _, fret in first.places} == {0}
    assert set(first.fingers) == {0}


def test_six_frets_are_one_position_and_seven_are_not() -> None:
    one_string = [65, 70]
    assert ways(line_of(one_string), limits=Limits(holds=((0, 1), (1, 1))))[0].shifts == 0
    wider = ways(line_of([65, 71]), limits=Limits(holds=((0, 1), (1, 1))))[0]
    assert (wider.shifts, wider.span) == (1, 0)
    assert ways(line_of(one_string), limits=Limits(holds=((0, 1), (1, 1))))[0].span == 5


# --- the cost ---------------------------------------------------------------------


@pytest.mark.parametrize("rest", [1, 2, 3])
def test_a_shift_takes_the_rest(rest: int) -> None:
    """Frets 1, 4, 6 and 9 of one string: one shift, which may be before any of the last three."""
    held = Limits(holds=tuple((index, 1) for index in range(4)))
    positions = ways(line_of([65, 68, 70, 73], rests=(rest,)), limits=held)[0].positions
    assert [index for index in range(1, 4) if positions[index] != positions[index - 1]] == [rest]


# --- more room is never worse -----------------------------------------------------


def value(way: Way) -> tuple[int, int]:
    return way.shifts, way.cost


@pytest.mark.parametrize("seed", range(20))
def test_more_frets_a_wider_region_or_fewer_holds_are_never_worse(seed: int) -> None:
    instrument = tuned("E2,A2,D3,G3,B3,E4", 14)
    line = varied_line(5000 + seed, 9, instrument)
    best = ways(line, instrument)[0]
    assert value(ways(line, tuned("E2,A2,D3,G3,B3,E4", 17))[0]) <= value(best)
    narrow = Limits(4, 11)
    if all(any(map(narrow.allows, instrument.places(note.pitch.midi))) for note in line.notes):
        assert (
            value(best) <= value(ways(line, instrument, Limits(3, 12))[0]) <= value(ways(line, instrument, narrow)[0])
        )
    held = tuple((index, instrument.places(note.pitch.midi)[-1].string) for index, note in enumerate(line.notes))
    values = [value(ways(line, instrument, Limits(holds=held[:count]))[0]) for count in range(10)]
    assert values == sorted(values)


@pytest.mark.parametrize("seed", range(10))
def test_a_held_note_stays_and_the_rest_is_solved_around_it(seed: int) -> None:
    line = varied_line(6000 + seed, 8, GUITAR)
    best = ways(line)[0]
    for index, place in enumerate(best.places):
        assert value(ways(line, limits=Limits(holds=((index, place.string),)))[0]) == value(best)
        for other in GUITAR.places(line.notes[index].pitch.midi):
            limits = Limits(holds=((index, other.string),))
            way = ways(line, limits=limits)[0]
            assert_playable(way, line, GUITAR, limits)
            assert value(way) == value_step_by_step(line, GUITAR, limits)


@pytest.fixture
def even_neck(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """A neck on which no fret costs more than another."""
    monkeypatch.setattr(hand, "HEIGHT", (0,))
    monkeypatch.setattr(hand, "WIDE_REACH", ())
    layer_of.cache_clear()
    yield
    layer_of.cache_clear()


@pytest.mark.usefixtures("even_neck")
@pytest.mark.parametrize("seed", range(20))
def test_a_fret_higher_it_has_the_same_shape(seed: int) -> None:
    draw = Random(7000 + seed).random
    line = line_of([65 + int(draw() * 15) for _ in range(9)])
    higher = line_of([note.pitch.midi + 1 for note in line.notes])
    low, high = ways(line, limits=Limits(5, 16)), ways(higher, limits=Limits(6, 17))
    assert high[0].places == tuple(Place(string, fret + 1) for string, fret in low[0].places)
    assert value(low[0]) == value(high[0])
