"""Lines that nobody has seen, others in every run: their pitches, their positions, their shifts, and none better.

A test that fails says the seed of its run; LINEKEEPER_SEED=… repeats that.
"""

from __future__ import annotations

import os
from itertools import groupby

import pytest
from shift_counting import fewest_of_all, fewest_shifts, lowest_frets, nearest_frets

from engine.neck.fingering import ways
from engine.neck.instrument import GUITAR, INSTRUMENTS, Instrument, tuned
from engine.neck.limits import Limits
from tests.engine.every_fingering import least_step_by_step, value_step_by_step
from tests.engine.short_lines import varied_line

COUNT = 40
SHORT = 8  # notes of a line on which every placement is tried
THREE = (GUITAR, INSTRUMENTS["five-string bass"], tuned("D2,A2,D3,G3,C4,F4", 24, "an instrument of its own"))


def seed_of_this_run() -> int:
    given = os.environ.get("LINEKEEPER_SEED")
    return int(given) if given else int.from_bytes(os.urandom(4), "big")


@pytest.fixture(scope="module")
def seed() -> int:
    """One seed for the whole run; pytest shows what is printed here where a test fails."""
    found = seed_of_this_run()
    print(f"LINEKEEPER_SEED={found}")
    return found


@pytest.mark.parametrize("number", range(COUNT))
@pytest.mark.parametrize("instrument", THREE, ids=lambda one: one.name)
def test_an_unseen_line(seed: int, instrument: Instrument, number: int) -> None:
    told = f"LINEKEEPER_SEED={seed}, line {number}"
    stretch = (5, 5, 4, 3)[number % 4]
    limits = Limits(stretch=stretch)
    below, above = {5: (1, 4), 4: (0, 4), 3: (0, 3)}[stretch]
    line = varied_line(seed * COUNT + number, 4 + number % 13, instrument)
    first, *others = ways(line, instrument, limits)
    for way in (first, *others):
        for note, (string, fret), position in zip(line.notes, way.places, way.positions, strict=True):
            assert instrument.strings[-string].midi + fret == note.pitch.midi, told
            assert fret == 0 or -below <= fret - position <= above, told
            assert 1 <= position <= instrument.frets >= fret, told
        assert way.shifts == len(list(groupby(way.positions))) - 1 >= fewest_shifts(way.places, stretch), told
    assert first.shifts == fewest_shifts(first.places, stretch) == least_step_by_step(line, instrument, limits), told
    assert (first.shifts, first.cost) == value_step_by_step(line, instrument, limits), told
    if len(line.notes) <= SHORT:
        assert first.shifts == fewest_of_all(line, instrument, stretch), told
    for simple in (lowest_frets(line, instrument), nearest_frets(line, instrument)):
        assert first.shifts <= fewest_shifts(simple, stretch), told
