"""A line's bars, and what of its notes falls into each."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from engine.lines.line import Line, Meter
from engine.theory.pitch import Pitch


@dataclass(frozen=True, slots=True)
class Part:
    """A note or, without a ``pitch``, a rest, as far as it lies within one bar; in beats of a quarter note.

    ``tied_back`` and ``tied_on``: whether its note goes on across the bar line before and behind it.
    """

    start: Fraction
    end: Fraction
    pitch: Pitch | None = None
    tied_back: bool = False
    tied_on: bool = False


@dataclass(frozen=True, slots=True)
class Bar:
    """A bar from ``start`` to ``end``. ``number`` is 1 for the first full bar, 0 for a pickup."""

    number: int
    start: Fraction
    end: Fraction


def bar_number(meter: Meter, beat: Fraction) -> int:
    """The number of the bar that a beat lies in."""
    return int(beat // meter.bar) + 1


def bars_of(line: Line) -> tuple[Bar, ...]:
    """The bars, without gaps from the line's begin to its end; the first and the last one may be short."""
    first, end = bar_number(line.meter, line.begin), max(line.end, *(note.end for note in line.notes), line.begin)
    length = line.meter.bar
    bars: list[Bar] = []
    while (start := max(line.begin, (first - 1 + len(bars)) * length)) < end:
        number = first + len(bars)
        bars.append(Bar(number, start, min(end, number * length)))
    return tuple(bars)


def parts_of(line: Line, bar: Bar) -> tuple[Part, ...]:
    """The notes and rests of a bar; they fill it."""
    parts: list[Part] = []
    at = bar.start
    for note in line.notes:
        if note.start >= bar.end:
            break
        if note.end <= bar.start:
            continue
        start, end = max(note.start, bar.start), min(note.end, bar.end)
        if at < start:
            parts.append(Part(at, start))
        parts.append(Part(start, end, note.pitch, note.start < start, end < note.end))
        at = end
    if at < bar.end:
        parts.append(Part(at, bar.end))
    return tuple(parts)
