"""Drums: the ride cymbal, the hi-hat, and the clicks that count in."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from random import Random

from engine.lines.line import Meter
from engine.sound.event import Event
from engine.sound.feel import swung

# A bar of the ride and of the hi-hat by meter; an off-beat in brackets is left out now and then.
PATTERNS = {
    "4/4": ("0 1 (3/2) 2 3 (7/2)", "1 3"),
    "2/2": ("0 1 (3/2) 2 3 (7/2)", "1 3"),
    "3/4": ("0 1 (3/2) 2 (5/2)", "1"),
    "2/4": ("0 1 (3/2)", "1"),
    "5/4": ("0 1 (3/2) 2 3 (7/2) 4 (9/2)", "1 4"),
    "6/4": ("0 1 (3/2) 2 3 4 (9/2) 5", "1 4"),
    "6/8": ("0 1 3/2 (5/2)", "3/2"),
    "12/8": ("0 1 3/2 5/2 3 4 9/2 (11/2)", "3/2 9/2"),
}
_LEFT_OUT = 0.2
_STROKE = Fraction(1, 2)  # how long a stroke is written, in beats
_CLICK = Fraction(1, 4)
_RIDE, _RIDE_BACK, _RIDE_OFF, _HAT = 0.42, 0.5, 0.34, 0.36
_CLICK_ONE, _CLICK_OTHER = 0.8, 0.6


def drums(begin: Fraction, bars: int, meter: Meter, ratio: Fraction, chance: Random) -> list[Event]:
    """Ride and hi-hat for so many bars from a bar line on, swung by ``ratio``."""
    events = []
    pattern = [*_pattern(meter, ratio)]
    for _ in range(bars):
        for at, length, instrument, loudness, optional in pattern:
            if not optional or chance.random() >= _LEFT_OUT:
                events.append(Event(begin + at, length, None, loudness, instrument))
        begin += meter.bar
    return events


def _pattern(meter: Meter, ratio: Fraction) -> Iterator[tuple[Fraction, Fraction, str, float, bool]]:
    """A bar's strokes: from the table, else the ride on every beat and the hi-hat on every second one.

    Each with its place, length, instrument, loudness, and whether it may be left out.
    """
    beats = [str(Fraction(4 * beat, meter.unit)) for beat in range(meter.beats)]
    ride, hat = PATTERNS.get(str(meter), (" ".join(beats), " ".join(beats[1::2])))
    for word in ride.split():
        at, optional = Fraction(word.strip("()")), word.startswith("(")
        # The beats of the hi-hat carry a little more.
        loudness = _RIDE_OFF if optional else _RIDE_BACK if word in hat.split() else _RIDE
        begin = swung(at, ratio)
        yield begin, min(at + _STROKE, meter.bar) - begin, "ride", loudness, optional
    for word in hat.split():
        at = Fraction(word)
        yield at, min(_STROKE, meter.bar - at), "hi-hat", _HAT, False


def count_in(bars: int, end: Fraction, meter: Meter) -> Iterator[Event]:
    """Clicks for so many bars before ``end``: every beat of the last bar, every second one of those before it."""
    compound = meter.unit > 4 and meter.beats % 3 == 0
    beat = Fraction(3 if compound else 1) * 4 / meter.unit
    for bar in range(bars):
        begin = end - (bars - bar) * meter.bar
        step = 1 if bar == bars - 1 or meter.bar / beat % 2 else 2
        for number in range(0, int(meter.bar / beat), step):
            loudness = _CLICK_ONE if number == 0 else _CLICK_OTHER
            yield Event(begin + number * beat, _CLICK, None, loudness, "click")
