"""Fingering: the ways to play a line on a neck, fewest shifts first, then the least cost."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import groupby, pairwise

from engine.lines.line import Line
from engine.neck.hand import COVERED, OPEN, USUAL_TEMPO, WIDEST, Touch, pace, reached_from, touches
from engine.neck.instrument import GUITAR, Instrument, Place
from engine.neck.limits import FREE, Limits, check
from engine.neck.paths import ONE_SHIFT, Gap, Layer, Path, Step, best_path

# A part of the neck: the hand keeps within so many positions; the next part begins so many frets higher.
PART, NEXT_PART = 5, 3


@dataclass(frozen=True, slots=True)
class Way:
    """One fingering of a line; ``places``, ``positions`` and ``fingers`` (0: open string) for each note.

    ``shifts`` counts the changes of position, ``span`` is the widest stretch in frets (the
    highest fret less the lowest) while the hand stays, ``cost`` grows with difficulty: it
    is the least that these places cost. A position asks for a reach only where the notes do.
    """

    places: tuple[Place, ...]
    positions: tuple[int, ...]
    fingers: tuple[int, ...]
    shifts: int
    span: int
    cost: int


def ways(line: Line, instrument: Instrument = GUITAR, limits: Limits = FREE) -> tuple[Way, ...]:
    """The best way of all, and one for each other part of the neck on which the line can be played.

    A part's way is the best that keeps the hand within ``PART`` neighbouring positions. It is
    left out where half of its notes or more lie as in a better one. BadInput where the line
    cannot be played within the limits.
    """
    check(line, instrument, limits)
    layers, gaps = layers_of(line, instrument, limits), gaps_of(line)
    parts = (range(low, low + PART) for low in range(1, instrument.frets + 1, NEXT_PART))
    paths = [best_path(within, gaps) for part in parts if all(within := _within(layers, part))]
    # A way without a shift has one position, so it lies within a part.
    if all(path.value >= ONE_SHIFT for path in paths):
        paths.append(best_path(layers, gaps))
    kept: list[Way] = []
    for path in sorted(paths, key=lambda path: path.value):
        way = _way(path, gaps)
        if all(_alike(way, better) * 2 < len(way.places) for better in kept):
            kept.append(way)
    return tuple(kept)


def layers_of(line: Line, instrument: Instrument, limits: Limits = FREE) -> list[Layer]:
    """Every touch of each note within the limits; a layer is empty where a note has no place."""
    high = instrument.frets if limits.high is None else limits.high
    holds = dict(limits.holds)
    opens, frets = instrument.opens, instrument.frets
    return [
        layer_of(note.pitch.midi, opens, frets, limits.low, high, holds.get(index), limits.stretch)
        for index, note in enumerate(line.notes)
    ]


@lru_cache(512)
def layer_of(
    midi: int, opens: tuple[int, ...], frets: int, low: int, high: int, held: int | None, stretch: int = WIDEST
) -> Layer:
    """Every touch of a pitch by position, on string ``held`` or on any, by a hand of that stretch."""
    layer: dict[int, list[Touch]] = {}
    for string, lowest in enumerate(opens, 1):
        fret = midi - lowest
        if held in (None, string) and (fret == OPEN or low <= fret <= high):
            for position in range(1, frets + 1) if fret == OPEN else reached_from(fret, frets, stretch):
                layer.setdefault(position, []).extend(touches(string, fret, position))
    return layer


def gaps_of(line: Line) -> list[Gap]:
    """What lies between each note and the next."""
    beats_a_second = (line.tempo or USUAL_TEMPO) / 60
    return [
        Gap(pace(float(after.start - before.start) / beats_a_second), after.start > before.end)
        for before, after in pairwise(line.notes)
    ]


def _within(layers: Sequence[Layer], part: range) -> list[Layer]:
    return [{position: layer[position] for position in part if position in layer} for layer in layers]


def _alike(one: Way, other: Way) -> int:
    return sum(first == second for first, second in zip(one.places, other.places, strict=True))


def _way(path: Path, gaps: Sequence[Gap]) -> Way:
    shifts, cost = divmod(path.value, ONE_SHIFT)
    steps = _without_needless_reaches(path.steps, gaps)
    return Way(
        tuple(Place(step.touch.string, step.touch.fret) for step in steps),
        tuple(step.position for step in steps),
        tuple(step.touch.finger for step in steps),
        shifts,
        _span(path),
        cost,
    )


def _without_needless_reaches(steps: Sequence[Step], gaps: Sequence[Gap]) -> Sequence[Step]:
    """The same places, each stay of the hand in a position that covers all of them, wherever there is one.

    A reach at both ends of a stay can cost less than the two longer shifts that it saves,
    but where the hand is then is not the position that a player would name.
    """
    stays = [list(stay) for _, stay in groupby(steps, key=lambda step: step.position)]
    positions = [stay[0].position for stay in stays]
    for number, stay in enumerate(stays):
        frets = [step.touch.fret for step in stay if step.touch.fret != OPEN]
        covering = range(max(1, max(frets) - COVERED + 1), min(frets) + 1) if frets else range(0)
        free = [position for position in covering if position not in positions[max(0, number - 1) : number + 2]]
        if free and positions[number] not in covering:
            positions[number] = min(free, key=lambda position: abs(position - stay[0].position))
    layers = [
        {position: touches(step.touch.string, step.touch.fret, position)}
        for position, stay in zip(positions, stays, strict=True)
        for step in stay
    ]
    return best_path(layers, gaps).steps if positions != [stay[0].position for stay in stays] else steps


def _span(path: Path) -> int:
    """The widest stretch in frets while the hand stays."""
    spans = [0]
    for _, stay in groupby(path.steps, key=lambda step: step.position):
        frets = [step.touch.fret for step in stay if step.touch.fret != OPEN]
        if frets:
            spans.append(max(frets) - min(frets))
    return max(spans)
