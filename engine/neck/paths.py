"""The best path through a line's layers, by dynamic programming.

A layer holds every touch of a note (string, fret, finger) from every position that
reaches it. A path takes one touch of each layer; its value is its number of shifts and
its cost (engine.neck.hand), compared in this order.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import NamedTuple, TypeAlias

from engine.neck.hand import OPEN, Touch, motion, shift

# Shifts × ONE_SHIFT + cost, so that comparing values compares shifts first.
Value: TypeAlias = int
ONE_SHIFT: Value = 1 << 28
_NONE: Value = 1 << 62

# The touches of a note by position; the values and the links run parallel to them.
Layer: TypeAlias = Mapping[int, Sequence[Touch]]
Values: TypeAlias = Mapping[int, Sequence[Value]]
_Links: TypeAlias = Mapping[int, Sequence[tuple[int, int]]]


class Gap(NamedTuple):
    """What lies between two notes: how much motion counts there, and whether there is a rest."""

    pace: int
    rest: bool


class Step(NamedTuple):
    """One note of a path: the position of the hand, and the touch."""

    position: int
    touch: Touch


@dataclass(frozen=True, slots=True)
class Path:
    """One touch of each layer, and their value."""

    value: Value
    steps: tuple[Step, ...]


def best_path(layers: Sequence[Layer], gaps: Sequence[Gap]) -> Path:
    """The path with the fewest shifts, and of those the one that costs least. No layer may be empty."""
    values, links = from_start(layers[0]), []
    for before, layer, gap in zip(layers, layers[1:], gaps, strict=False):
        values, back = advance(before, values, layer, gap)
        links.append(back)
    ends = ((value, position, index) for position, row in values.items() for index, value in enumerate(row))
    value, position, index = min(ends)
    steps = [Step(position, layers[-1][position][index])]
    for layer, back in zip(layers[-2::-1], reversed(links), strict=True):
        position, index = back[position][index]
        steps.append(Step(position, layer[position][index]))
    return Path(value, tuple(reversed(steps)))


def from_start(layer: Layer) -> Values:
    """The values of the paths that begin in each touch of a layer."""
    return {position: [touch.cost for touch in row] for position, row in layer.items()}


def advance(before: Layer, values: Values, layer: Layer, gap: Gap, backwards: bool = False) -> tuple[Values, _Links]:
    """The least values of the paths that end in each touch of ``layer``, and the touch before each.

    ``values`` are those of ``before``, the layer before it; ``backwards`` the one after
    it, for paths that run from the line's end. The hand does not move under an open string.

    The least number of shifts in ``before`` is m. No touch needs more than m + 1 in
    ``layer``, since the hand can go anywhere by one shift more: so only touches with m
    can be worth a shift, and a touch that has m without one needs none.
    """
    pace, rest = gap
    limit = (min(map(min, values.values())) // ONE_SHIFT + 1) * ONE_SHIFT
    leaders = sorted(
        (value + ONE_SHIFT, position, index)
        for position, row in values.items()
        for index, value in enumerate(row)
        if value < limit and not (backwards and before[position][index].fret == OPEN)
    )
    least: dict[int, list[Value]] = {}
    links: dict[int, list[tuple[int, int]]] = {}
    for position, row in layer.items():
        near = [
            (value, other.string, other.fret, other.finger, index)
            for index, (value, other) in enumerate(zip(values.get(position, ()), before.get(position, ()), strict=True))
        ]
        least[position], links[position] = [], []
        for string, fret, finger, cost in row:
            best, link = _NONE, (position, 0)
            for value, other, other_fret, other_finger, index in near:
                value += motion(pace, string - other, fret - other_fret, other_finger, finger)
                if value < best:
                    best, link = value, (position, index)
            if best >= limit and (backwards or fret != OPEN):
                for value, there, index in leaders:
                    if value >= best:
                        break
                    other, other_fret, other_finger, _ = before[there][index]
                    slides = other == string and other_finger == finger and other_fret - fret in (-1, 1)
                    from_open = (fret if backwards else other_fret) == OPEN
                    value += shift(pace, there - position, rest, from_open, slides, string - other)
                    if value < best:
                        best, link = value, (there, index)
            least[position].append(best + cost)
            links[position].append(link)
    return least, links
