"""Lie better: what one note, or the line, an octave away saves is what the best way then has less."""

from __future__ import annotations

from collections.abc import Callable
from typing import TypeAlias

import pytest

from engine.lines.line import Line
from engine.lines.moving import by_octaves, note_by_octaves
from engine.neck.easier import Saving, easier
from engine.neck.fingering import ways
from engine.neck.instrument import GUITAR, INSTRUMENTS, Instrument
from engine.neck.limits import FREE, Limits
from engine.theory.bad_input import BadInput
from engine.theory.wording import render
from tests.engine.short_lines import line_of, midis_at_random, open_strings_often, varied_line

Make: TypeAlias = Callable[[int, int, Instrument], Line]


def value(line: Line, instrument: Instrument, limits: Limits = FREE) -> tuple[int, int]:
    best = ways(line, instrument, limits)[0]
    return best.shifts, best.cost


def moved(line: Line, index: int | None, octaves: int) -> Line:
    return by_octaves(line, octaves) if index is None else note_by_octaves(line, index, octaves)


def is_worth_it(now: tuple[int, int], then: tuple[int, int]) -> bool:
    saved = now[1] - then[1]
    return then[0] < now[0] or (then[0] == now[0] and saved >= 10 and 4 * saved >= now[1])


@pytest.mark.parametrize("name", ["guitar", "bass", "seven-string guitar"])
@pytest.mark.parametrize("make", [varied_line, open_strings_often])
@pytest.mark.parametrize("seed", range(12))
def test_savings_are_what_moving_each_note_and_the_line_saves(name: str, make: Make, seed: int) -> None:
    instrument = INSTRUMENTS[name]
    line = make(9000 + seed, 9, instrument)
    now = value(line, instrument)
    worth: list[tuple[tuple[int, int], int | None, int]] = []
    for index in (None, *range(len(line.notes))):
        for octaves in (-1, 1):
            try:
                then = value(moved(line, index, octaves), instrument)
            except BadInput:
                continue
            if is_worth_it(now, then):
                worth.append((then, index, octaves))
    found = easier(line, instrument)
    assert {(saving.index, saving.octaves) for saving in found} == {(index, octaves) for _, index, octaves in worth}
    then_of = {(index, octaves): then for then, index, octaves in worth}
    for saving in found:
        then = then_of[saving.index, saving.octaves]
        assert (saving.shifts, saving.cost) == (now[0] - then[0], now[1] - then[1])
    assert [then_of[saving.index, saving.octaves] for saving in found] == sorted(then for then, _, _ in worth)


@pytest.mark.parametrize("stretch", [3, 4])
@pytest.mark.parametrize("seed", range(6))
def test_savings_are_those_of_a_smaller_hand(seed: int, stretch: int) -> None:
    line, limits = varied_line(15_000 + seed, 9, GUITAR), Limits(stretch=stretch)
    now = value(line, GUITAR, limits)
    for saving in easier(line, GUITAR, limits):
        then = value(moved(line, saving.index, saving.octaves), GUITAR, limits)
        assert (saving.shifts, saving.cost) == (now[0] - then[0], now[1] - then[1])


def said(savings: tuple[Saving, ...]) -> list[str]:
    return [render(saving.text) for saving in savings]


def test_a_note_out_of_reach_costs_two_shifts() -> None:
    line = line_of([43, 45, 47, 81, 47, 45, 43])
    assert ways(line)[0].shifts == 2
    first, *_ = easier(line)
    assert (first.index, first.octaves, first.shifts) == (3, -1, 2)
    assert render(first.text) == "Drop the second A in bar 1 an octave: two shifts saved."


def test_a_line_up_the_neck_is_easier_an_octave_lower() -> None:
    assert said(easier(line_of([84, 83, 81, 79, 77, 76])))[0].startswith(
        "Play the whole line an octave lower: no shift"
    )


def test_what_lies_well_needs_no_word() -> None:
    assert easier(line_of([60, 62, 64, 65, 67])) == ()


def test_a_note_that_is_held_is_not_moved_and_the_holds_count() -> None:
    line = line_of([43, 45, 47, 81, 47, 45, 43])
    assert all(saving.index != 3 for saving in easier(line, limits=Limits(holds=((3, 1),))))
    held = Limits(holds=((1, 6), (5, 5)))
    for saving in easier(line, limits=held):
        if saving.index is not None:
            then = value(moved(line, saving.index, saving.octaves), GUITAR, held)
            assert value(line, GUITAR, held)[0] - then[0] == saving.shifts


def test_savings_stay_within_the_region() -> None:
    line = line_of([60, 64, 62, 72, 64, 62, 60])
    assert all(saving.octaves == -1 or saving.index is not None for saving in easier(line, limits=Limits(1, 8)))


def test_one_note_and_many() -> None:
    assert easier(line_of([40])) == ()
    assert isinstance(easier(line_of(midis_at_random(1, 64, GUITAR))), tuple)
