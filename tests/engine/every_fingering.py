"""Every fingering of a line, by brute force: what the engine's own search is held against."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import pairwise, product

from shift_counting import fewest_shifts

from engine.lines.line import Line
from engine.neck.fingering import gaps_of
from engine.neck.hand import Touch, motion, shift, touches
from engine.neck.instrument import Instrument, Place
from engine.neck.limits import FREE, Limits
from engine.neck.paths import Gap

# How far below and above its position a hand reaches, by its stretch.
REACH = {3: (0, 3), 4: (0, 4), 5: (1, 4)}


def placements(line: Line, instrument: Instrument, limits: Limits = FREE) -> Iterator[tuple[Place, ...]]:
    """Every way to choose a place for each note."""
    holds = dict(limits.holds)
    yield from product(
        *(
            [
                place
                for place in instrument.places(note.pitch.midi)
                if limits.allows(place) and holds.get(index) in (None, place.string)
            ]
            for index, note in enumerate(line.notes)
        )
    )


def hands(places: Sequence[Place], frets: int, stretch: int = 5) -> Iterator[tuple[int, ...]]:
    """Every sequence of positions from which places can be played, the hand at rest under an open string."""
    below, above = REACH[stretch]

    def after(index: int, before: int | None) -> Iterator[tuple[int, ...]]:
        if index == len(places):
            yield ()
            return
        fret = places[index].fret
        stays = fret == 0 and before is not None
        for position in [before] if stays else range(1, frets + 1):
            if fret == 0 or position - below <= fret <= position + above:
                for rest in after(index + 1, position):
                    yield (position, *rest)

    yield from after(0, None)


def changes(positions: Sequence[int]) -> int:
    return sum(first != second for first, second in pairwise(positions))


def least(line: Line, instrument: Instrument, limits: Limits = FREE) -> int:
    """The fewest shifts of all placements."""
    return min(fewest_shifts(places, limits.stretch) for places in placements(line, instrument, limits))


def cost_of(line: Line, positions: Sequence[int], played: Sequence[Touch]) -> int:
    """What a way costs, added up from the tables of the hand."""
    pairs = zip(gaps_of(line), pairwise(positions), pairwise(played), strict=True)
    return sum(touch.cost for touch in played) + sum(pair_cost(gap, hand, *two) for gap, hand, two in pairs)


def pair_cost(gap: Gap, hand: tuple[int, int], one: Touch, other: Touch) -> int:
    strings = other.string - one.string
    if hand[0] == hand[1]:
        return motion(gap.pace, strings, other.fret - one.fret, one.finger, other.finger)
    slides = not strings and one.finger == other.finger and abs(one.fret - other.fret) == 1
    return shift(gap.pace, hand[1] - hand[0], gap.rest, one.fret == 0, slides, strings)


def all_values(line: Line, instrument: Instrument, limits: Limits = FREE) -> Iterator[tuple[int, int]]:
    """Shifts and cost of every path: each placement, each sequence of positions, each choice of fingers."""
    for places in placements(line, instrument, limits):
        for positions in hands(places, instrument.frets, limits.stretch):
            each = [touches(*place, position) for place, position in zip(places, positions, strict=True)]
            for played in product(*each):
                yield changes(positions), cost_of(line, positions, played)


def least_step_by_step(line: Line, instrument: Instrument, limits: Limits = FREE) -> int:
    """The fewest shifts of all placements, for longer lines: how few lead to each choice of positions that are left."""
    below, above = REACH[limits.stretch]
    ends: dict[tuple[int, int], int] = {(1, instrument.frets): 0}
    holds = dict(limits.holds)
    for index, note in enumerate(line.notes):
        after: dict[tuple[int, int], int] = {}
        for string, fret in instrument.places(note.pitch.midi):
            if not limits.allows(Place(string, fret)) or holds.get(index) not in (None, string):
                continue
            for (low, high), shifts in ends.items():
                reach = (low, high) if fret == 0 else (max(1, fret - above), min(instrument.frets, fret + below))
                both = max(low, reach[0]), min(high, reach[1])
                fresh = [(both, shifts)] if both[0] <= both[1] else []
                for state, count in [*fresh, (reach, shifts + 1)]:
                    after[state] = min(count, after.get(state, count))
        ends = after
    return min(ends.values())


def value_step_by_step(line: Line, instrument: Instrument, limits: Limits = FREE) -> tuple[int, int]:
    """Fewest shifts and least cost: every touch of a note after every touch of the note before, nothing left out."""
    below, above = REACH[limits.stretch]
    before: dict[tuple[int, Touch], tuple[int, int]] = {}
    holds = dict(limits.holds)
    gaps = [None, *gaps_of(line)]
    for index, (note, gap) in enumerate(zip(line.notes, gaps, strict=True)):
        after: dict[tuple[int, Touch], tuple[int, int]] = {}
        for place in instrument.places(note.pitch.midi):
            if not limits.allows(place) or holds.get(index) not in (None, place.string):
                continue
            for position in range(1, instrument.frets + 1):
                if place.fret and not position - below <= place.fret <= position + above:
                    continue
                for touch in touches(*place, position):
                    values = (
                        [(0, touch.cost)]
                        if gap is None
                        else [
                            (
                                shifts + (there != position),
                                cost + pair_cost(gap, (there, position), other, touch) + touch.cost,
                            )
                            for (there, other), (shifts, cost) in before.items()
                            if there == position or place.fret
                        ]
                    )
                    if values:
                        after[position, touch] = min(values)
        before = after
    return min(before.values())
