"""Lengths as they are written: note values, dots, ties and tuplets.

What is split where follows the usual rules of engraving: a length that no
value has is split at the strongest place inside it, a rest stands where its
own length does, and what lies on no grid of halves is a tuplet of the shortest
stretch that starts and ends on one.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache
from math import gcd, lcm

from engine.formats.bars import Bar, Part
from engine.lines.line import Meter
from engine.theory.pitch import Pitch

# Every value that is written, with its length in beats of a quarter note.
VALUES = {
    "breve": Fraction(8), "whole": Fraction(4), "half": Fraction(2), "quarter": Fraction(1), "eighth": Fraction(1, 2),
    "16th": Fraction(1, 4), "32nd": Fraction(1, 8), "64th": Fraction(1, 16), "128th": Fraction(1, 32),
}  # fmt: skip
_WRITTEN = {
    **{length: (name, 0) for name, length in VALUES.items()},
    **{length * 3 / 2: (name, 1) for name, length in VALUES.items()},
}
_SOME_PITCH = Pitch(0, 0, 4)
_LONGEST_TUPLET = Fraction(4)
_FINEST_TUPLET = 15  # more notes in the place of a power of two are not written as a tuplet
_FINEST_CUT = Fraction(1, 4)  # of a tuplet that is too long for one


@dataclass(frozen=True, slots=True)
class Tuplet:
    """``actual`` notes in the place of ``normal`` ones, from ``start`` to ``end``."""

    actual: int
    normal: int
    start: Fraction
    end: Fraction


@dataclass(frozen=True, slots=True)
class Written:
    """A part with the one value that it is written with; ``value`` is None where no value has its length."""

    part: Part
    value: str | None = None
    dots: int = 0
    tuplet: Tuplet | None = None

    @property
    def length(self) -> Fraction:
        """How long it sounds, in beats."""
        return self.part.end - self.part.start


def beat_of(meter: Meter) -> Fraction:
    """The length that is felt as one beat: a dotted value in 6/8, 9/8 and 12/8, else the signature's unit."""
    return Fraction(12 if meter.unit > 4 and meter.beats > 3 and meter.beats % 3 == 0 else 4, meter.unit)


def write_bar(bar: Bar, parts: Sequence[Part], meter: Meter) -> list[Written]:
    """The parts of a bar, split until each is one value; together they fill the same time."""
    rhythm = tuple(replace(part, pitch=_SOME_PITCH) if part.pitch else part for part in parts)
    starts = [part.start for part in parts]
    return [
        replace(piece, part=replace(piece.part, pitch=parts[bisect_right(starts, piece.part.start) - 1].pitch))
        for piece in _rhythm(bar, rhythm, meter)
    ]


@lru_cache(maxsize=256)
def _rhythm(bar: Bar, parts: tuple[Part, ...], meter: Meter) -> list[Written]:
    """What ``write_bar`` gives, whatever the pitches: a line has the same rhythm in every key."""
    return _write_bar(bar, parts, _Grid((bar.number - 1) * meter.bar, beat_of(meter), meter.bar))


@dataclass(frozen=True, slots=True)
class _Grid:
    """The strong and weak places of a bar of the length ``bar``, counted from ``origin``."""

    origin: Fraction
    beat: Fraction
    bar: Fraction

    @property
    def steps(self) -> Iterator[Fraction]:
        """Its steps from coarse to fine: halves of a bar that can be halved, beats, and their parts."""
        step = self.beat
        while self.bar % (2 * step) == 0:
            step *= 2
        while step > self.beat / 64:
            yield step
            # A dotted beat has three parts, and they have two each.
            step = step / 3 if step == self.beat and step.numerator == 3 else step / 2

    def has(self, place: Fraction) -> bool:
        """Whether halving a beat often enough leads to a place."""
        return _odd((place - self.origin).denominator) == 1

    def around(self, start: Fraction, end: Fraction) -> tuple[Fraction, Fraction]:
        """Two places, or the beats before and behind them where they are not on the grid."""
        low, high = (start - self.origin) // self.beat, -((self.origin - end) // self.beat)
        return (
            start if self.has(start) else self.origin + low * self.beat,
            end if self.has(end) else self.origin + high * self.beat,
        )

    def strongest(self, start: Fraction, end: Fraction) -> tuple[Fraction, Fraction] | None:
        """The strongest place between two others, with the step that it is on; the last of its kind."""
        for step in self.steps:
            place = self.origin + (-((self.origin - end) // step) - 1) * step
            if start < place < end:
                return place, step
        return None

    def cut(self, start: Fraction, end: Fraction, finest: Fraction = Fraction(0)) -> Fraction | None:
        """The strongest place between two others, on a step that is not finer than ``finest``."""
        found = self.strongest(start, end)
        return found[0] if found and found[1] >= finest else None

    def note_stands(self, note: Part) -> bool:
        """Whether a note may hide the strongest places inside it.

        One, where it starts half a step of the grid away, or on a stronger
        place; more than one, where it starts or ends on the step.
        """
        found = self.strongest(note.start, note.end)
        if found is None:
            return True
        place, step = found
        start, end = note.start - self.origin, note.end - self.origin
        return start % (step / 2) == 0 and (place - step <= note.start or 0 in (start % step, end % step))

    def rest_stands(self, rest: Part) -> bool:
        """Whether a rest may stand here: on the step of the grid that it fills."""
        length = rest.end - rest.start
        return length in tuple(self.steps) and (rest.start - self.origin) % length == 0


def _write_bar(bar: Bar, parts: Sequence[Part], grid: _Grid) -> list[Written]:
    written: list[Written] = []
    span: list[Part] = []
    for part in parts:
        span.append(part)
        if grid.has(part.end) or part.end == bar.end:
            written += _write_span(span, grid)
            span = []
    return written


def _write_span(parts: list[Part], grid: _Grid) -> list[Written]:
    """The parts between two places on the grid, none of which ends on it but the last."""
    start, end = parts[0].start, parts[-1].end
    if len(parts) == 1 and grid.has(start) and grid.has(end):
        return _plain(parts[0], grid)
    tuplet = _tuplet(parts, grid)
    if tuplet and tuplet.end - tuplet.start <= _LONGEST_TUPLET and all(_value(part, tuplet) for part in parts):
        return [_in_tuplet(part, tuplet) for part in parts]
    # Too long or too crooked for one: the beat in the middle of it parts it, or a half or a quarter of one.
    if (place := grid.cut(start, end, _FINEST_CUT)) is not None:
        halves: list[Part] = []
        for part in parts:
            halves += _split(part, place) if part.start < place < part.end else [part]
        left = [part for part in halves if part.end <= place]
        right = [part for part in halves if part.start >= place]
        return _write_span(left, grid) + _write_span(right, grid)
    tied = [piece for part in parts for piece in _tied(part, tuplet)] if tuplet else []
    return tied if tied and all(piece.value for piece in tied) else [Written(part) for part in parts]


def _tuplet(parts: list[Part], grid: _Grid) -> Tuplet | None:
    """The tuplet that these parts make, None where there is none within reason.

    A pickup or a last bar may hold a part of one only: it is counted from beat to beat.
    """
    start, end = grid.around(parts[0].start, parts[-1].end)
    whole = end - start
    odd = _odd(whole.numerator)
    if odd not in (1, 3):
        return None
    ends = [(part.start - start) / whole for part in parts] + [(parts[-1].end - start) / whole]
    actual = _odd(lcm(*(place.denominator for place in ends)))
    normal = odd
    while normal * 2 < actual:
        normal *= 2
    common = gcd(actual, normal)
    if not normal < actual <= _FINEST_TUPLET * common:
        return None
    return Tuplet(actual // common, normal // common, start, end)


def _odd(number: int) -> int:
    """What is left of a number when it cannot be halved any more."""
    while number % 2 == 0:
        number //= 2
    return number


def _value(part: Part, tuplet: Tuplet) -> tuple[str, int] | None:
    return _WRITTEN.get((part.end - part.start) * tuplet.actual / tuplet.normal)


def _in_tuplet(part: Part, tuplet: Tuplet) -> Written:
    value = _value(part, tuplet)
    return Written(part, *value, tuplet) if value else Written(part)


def _tied(part: Part, tuplet: Tuplet) -> list[Written]:
    """A part of a tuplet, split into the longest values that fit."""
    length = (part.end - part.start) * tuplet.actual / tuplet.normal
    fitting = [value for value in VALUES.values() if value < length]
    if _value(part, tuplet) or not fitting:
        return [_in_tuplet(part, tuplet)]
    first, rest = _split(part, part.start + fitting[0] * tuplet.normal / tuplet.actual)
    return [_in_tuplet(first, tuplet), *_tied(rest, tuplet)]


def _plain(part: Part, grid: _Grid) -> list[Written]:
    """A part that is no tuplet."""
    value = _WRITTEN.get(part.end - part.start)
    place = grid.cut(part.start, part.end)
    if value and (place is None or (grid.note_stands if part.pitch else grid.rest_stands)(part)):
        return [Written(part, *value)]
    if place is None:
        return [Written(part)]
    return [piece for half in _split(part, place) for piece in _plain(half, grid)]


def _split(part: Part, place: Fraction) -> list[Part]:
    """A part in two; a note's are tied."""
    sounds = part.pitch is not None
    return [replace(part, end=place, tied_on=sounds), replace(part, start=place, tied_back=sounds)]
