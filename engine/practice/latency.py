"""How late sound comes: clicks to tap along with, and what the taps tell.

Headphones without a wire play what they are given 100 to 300 ms later, and a browser mostly does not know of it. A note
that lights up when it is given away is then ahead of what is heard. So a player taps along with clicks, the page
notes when (JavaScript measures and nothing else), and here it is worked out how much later than the clicks they are.

What the browser knows of its own delay (``outputLatency``, else ``baseLatency``) is taken off before, in
docs/app/band.js, both where taps are noted and where notes light up: what is set here is only the rest.

People tap some 20 to 50 ms ahead of a beat, musicians less (B. H. Repp, "Sensorimotor synchronization: A review of the
tapping literature", Psychonomic Bulletin & Review 12, 2005, pages 969 to 992: negative mean asynchrony). Nothing is
added for that. It differs from one person to the next, so one number for everybody would be a guess; and a touch screen
tells of a touch some tens of milliseconds after it, which is as large and goes the other way. What may remain has light
come a few hundredths of a second before sound, as with everything that is seen from some metres away.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import combinations_with_replacement
from math import floor, isfinite

from engine.practice.setting import whole
from engine.sound.event import Arrangement, Event
from engine.theory.bad_input import BadInput

MOST_LATE = 500  # milliseconds; nobody plays along with what comes later
# A click every two thirds of a second: about as fast as people like to tap, and longer than the longest delay and the
# earliest tap together, so that there is only one click that a tap can belong to.
TEMPO = 90
COUNT_IN, CLICKS = 4, 12
EARLIEST = -100  # milliseconds: a tap ahead of its click by more than this belongs to the click before
# The first taps seek the beat; after two or three of them the error is as small as it gets (Repp, as above).
SOUGHT = 2
# Of the ten that remain, a few may be missed. With fewer the middle is moved too far by each.
ENOUGH = 6
# Seconds: a second touch so soon is the finger's bounce, not a tap.
BOUNCE = 0.15
# Milliseconds from the middle within which two of three taps must lie: for errors by chance that is the standard
# deviation. Who taps along has 10 to 40, taps that have nothing to do with the clicks some 200; and at 60 the middle of
# ten taps is still known to 20.
WIDEST = 60
# Milliseconds: a finer number would promise more than ten taps can tell.
STEP = 5
_COUNTED, _TAPPED, _LENGTH = 0.8, 0.6, Fraction(1, 4)  # loudness of the clicks, their length in beats
_INTERVAL = 60_000 / TEMPO
_MOST_TAPS = 200


class TryAgain(BadInput):
    """Taps that tell nothing sure."""

    def __init__(self, problem: str, instead: str) -> None:
        super().__init__("", 1, problem, instead)

    def __str__(self) -> str:
        return f"{self.problem[0].upper()}{self.problem[1:]}: {self.instead}."


@dataclass(frozen=True, slots=True)
class Estimate:
    """``late``: what to set, in whole steps of milliseconds, 0 to 500. ``taps``: how many it is made of.

    ``middle`` and ``scatter`` in milliseconds: how much later than the clicks the taps were, below 0 for earlier, and
    how far from that two of three stay.
    """

    late: int
    middle: float
    scatter: float
    taps: int


def clicks() -> Arrangement:
    """What sounds: the count-in, a little louder, and the clicks to tap along with."""
    events = tuple(
        Event(Fraction(beat), _LENGTH, None, _COUNTED if beat < COUNT_IN else _TAPPED, "click")
        for beat in range(COUNT_IN + CLICKS)
    )
    return Arrangement(events, ((Fraction(0), TEMPO),), Fraction(COUNT_IN + CLICKS))


def estimated(taps: Iterable[float]) -> Estimate:
    """What taps tell; each is a second of ``clicks``, by when the browser takes it to be heard.

    TryAgain where they are too few, or where they lie so wide that their middle means nothing.
    """
    errors = _errors(taps)
    if len(errors) < ENOUGH:
        raise TryAgain(
            f"only {len(errors)} of your taps could be used, {ENOUGH} are needed",
            "try again, one tap per click to the end",
        )
    middle = _middle(errors)
    scatter = sorted(abs(error - middle) for error in errors)[(2 * len(errors) + 2) // 3 - 1]
    if scatter > WIDEST:
        raise TryAgain(
            "your taps were too uneven to tell",
            "try again, one tap per click",
        )
    middle = (middle - EARLIEST) % _INTERVAL + EARLIEST
    late = STEP * floor(middle / STEP + 0.5)
    return Estimate(max(0, min(MOST_LATE, late)), middle, scatter, len(errors))


def _errors(taps: Iterable[float]) -> list[float]:
    """How late each tap is that counts, in milliseconds, from ``EARLIEST`` on; the first ones and bounces are left out.

    Times are counted round the interval of the clicks: where some taps fall just before the border between two clicks
    and others behind it, they lie close together all the same.
    """
    found = []
    before = -BOUNCE
    for tap in sorted(tap for tap in taps if isfinite(tap))[:_MOST_TAPS]:
        if tap - before < BOUNCE:
            continue
        before = tap
        # So much later than the first click that is tapped along with, and the click that it belongs to.
        click, error = divmod(1000 * tap - COUNT_IN * _INTERVAL - EARLIEST, _INTERVAL)
        if SOUGHT <= click < CLICKS:
            found.append(error + EARLIEST)
    if not found:
        return []
    centre = min(found, key=lambda one: sum(abs(_apart(other, one)) for other in found))
    return [centre + _apart(one, centre) for one in found]


def _apart(one: float, other: float) -> float:
    """The way from one time to another round the interval, the shorter one."""
    return (one - other + _INTERVAL / 2) % _INTERVAL - _INTERVAL / 2


def _middle(errors: Sequence[float]) -> float:
    """The median of the means of all pairs, each tap with itself among them.

    It is moved as little as the median by a tap that went astray, and is nearly as exact as the mean (J. L. Hodges and
    E. L. Lehmann, "Estimates of location based on rank tests", Annals of Mathematical Statistics 34, 1963).
    """
    means = sorted((one + other) / 2 for one, other in combinations_with_replacement(errors, 2))
    # Python's own median would make every start of the engine a little longer: its module is a large one.
    return (means[(len(means) - 1) // 2] + means[len(means) // 2]) / 2


_read = whole("number of milliseconds", 0, MOST_LATE)


def read_late(text: str) -> int:
    """What was typed, in milliseconds; nothing at all is 0. BadInput where it is no whole number from 0 to 500."""
    return _read(text.strip().removesuffix("ms").strip() or "0")
