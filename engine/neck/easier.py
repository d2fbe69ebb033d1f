"""What would lie better: one note an octave away, or the whole line, and how much that saves."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from engine.lines.line import Line
from engine.lines.moving import by_octaves
from engine.neck.fingering import gaps_of, layers_of
from engine.neck.instrument import GUITAR, Instrument
from engine.neck.limits import FREE, Limits, check
from engine.neck.paths import ONE_SHIFT, Gap, Layer, Value, Values, advance, best_path, from_start
from engine.neck.sentences import note_text
from engine.theory.wording import Text, say

# Where no shift is saved: how much of the cost has to be, at least and as one part in so many, to be worth a word.
_LEAST, _PART = 10, 4
_NOTE = {1: "Raise {note} an octave: {saved}.", -1: "Drop {note} an octave: {saved}."}
_LINE = {1: "Play the whole line an octave higher: {saved}.", -1: "Play the whole line an octave lower: {saved}."}
_SAVED = {1: "one shift saved", 2: "two shifts saved", 3: "three shifts saved"}
_MORE_SAVED = "{count} shifts saved"
_LESS_WORK = "no shift saved, but it lies much easier"


@dataclass(frozen=True, slots=True)
class Saving:
    """What is saved by moving the note at ``index``, or the whole line (None), by ``octaves`` (1 or -1).

    ``shifts`` and ``cost`` are those of the best way now less those of the best way
    then; the cost may rise where shifts are saved. ``text`` says it in one sentence.
    """

    index: int | None
    octaves: int
    shifts: int
    cost: int
    text: Text


def easier(line: Line, instrument: Instrument = GUITAR, limits: Limits = FREE) -> tuple[Saving, ...]:
    """Everything that is worth moving by an octave, what saves most first; a note that is held stays.

    BadInput where the line cannot be played within the limits.
    """
    check(line, instrument, limits)
    layers, gaps = layers_of(line, instrument, limits), gaps_of(line)
    now = best_path(layers, gaps).value
    moved = [*_whole_line(line, instrument, limits), *_single_notes(line, instrument, limits, layers, gaps)]
    better = sorted((value, number) for number, (value, _, _) in enumerate(moved) if _is_worth_it(now, value))
    return tuple(_saving(line, now, *moved[number]) for _, number in better)


def _whole_line(line: Line, instrument: Instrument, limits: Limits) -> Iterator[tuple[Value, int | None, int]]:
    for octaves in (-1, 1):
        there = by_octaves(line, octaves)
        layers = layers_of(there, instrument, limits)
        if all(layers):
            yield best_path(layers, gaps_of(there)).value, None, octaves


def _single_notes(
    line: Line, instrument: Instrument, limits: Limits, layers: Sequence[Layer], gaps: Sequence[Gap]
) -> Iterator[tuple[Value, int | None, int]]:
    """The best value with each note moved: the best way up to it joined to the best way on from it."""
    held = {index for index, _ in limits.holds}
    before, after = _sweep(layers, gaps), _sweep(layers[::-1], gaps[::-1], backwards=True)[::-1]
    last = len(layers) - 1
    for octaves in (-1, 1):
        for index, layer in enumerate(layers_of(by_octaves(line, octaves), instrument, limits)):
            if index in held or not layer:
                continue
            own = from_start(layer)
            up_to = advance(layers[index - 1], before[index - 1], layer, gaps[index - 1])[0] if index else own
            on = advance(layers[index + 1], after[index + 1], layer, gaps[index], True)[0] if index < last else own
            values = (
                first + second - touch.cost
                for position, row in layer.items()
                for first, second, touch in zip(up_to[position], on[position], row, strict=True)
            )
            yield min(values), index, octaves


def _sweep(layers: Sequence[Layer], gaps: Sequence[Gap], backwards: bool = False) -> list[Values]:
    """For every layer the least values of the paths that end in its touches."""
    values = [from_start(layers[0])]
    for before, layer, gap in zip(layers, layers[1:], gaps, strict=False):
        values.append(advance(before, values[-1], layer, gap, backwards)[0])
    return values


def _is_worth_it(now: Value, then: Value) -> bool:
    (shifts, cost), (new_shifts, new_cost) = divmod(now, ONE_SHIFT), divmod(then, ONE_SHIFT)
    return new_shifts < shifts or (new_shifts == shifts and cost - new_cost >= max(_LEAST, cost / _PART))


def _saving(line: Line, now: Value, then: Value, index: int | None, octaves: int) -> Saving:
    (shifts, cost), (new_shifts, new_cost) = divmod(now, ONE_SHIFT), divmod(then, ONE_SHIFT)
    if shifts > new_shifts:
        saved = say(_SAVED.get(shifts - new_shifts, _MORE_SAVED), count=shifts - new_shifts)
    else:
        saved = say(_LESS_WORK)
    if index is None:
        text = say(_LINE[octaves], saved=saved)
    else:
        text = say(_NOTE[octaves], note=note_text(line, index), saved=saved)
    return Saving(index, octaves, shifts - new_shifts, cost - new_cost, text)
