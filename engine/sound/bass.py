"""Walking bass: the root on the downbeat of every chord, chord tones between, and a way to the next root.

How a line gets from one root to the next is told in ``bass_lines``; here it is put into bars, range and time.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from random import Random

from engine.lines.line import Meter
from engine.sound.bass_lines import bass_of, tones_of, ways
from engine.sound.event import Event
from engine.sound.stretch import Stretch

RANGE = range(28, 56)  # E1 to G3, as it sounds
_MIDDLE = 40
_BETWEEN = ("5", "3", "1")  # what a chord's later bars begin with
_SPREAD = 1.6  # how much worse than the best a way may be, and still be played now and then
BY_TEMPO, IN_TWO, IN_FOUR = FEELS = ("auto", "two", "four")
# Quarter notes a minute by which it is decided: below the first and above the second the bass plays in two.
WALKS = (90, 280)
_PICKUP = 0.3  # how often a half note in two makes room for a step to the next root
_LEGATO = Fraction(19, 20)


def walking(
    stretches: Sequence[Stretch], meter: Meter, seed: int, loops: bool = False, feel: str = BY_TEMPO
) -> list[Event]:
    """The bass under chords, in quarter notes or in two, as the ``feel`` says (one of ``FEELS``).

    Where it ``loops`` the last chord leads to the first note.
    """
    return [event for _, played in walked(stretches, meter, seed, loops, feel) for event in played]


def walked(
    stretches: Iterable[Stretch], meter: Meter, seed: int, loops: bool = False, feel: str = BY_TEMPO
) -> Iterator[tuple[Fraction, list[Event]]]:
    """The same a bar or less at a time, each with the beat at which it ends; stretches are taken as they are needed."""
    chance = Random(seed)
    coming = (part for stretch in stretches for part in _parts(stretch, meter, feel))
    opening = part = next(coming, None)
    after = next(coming, None)
    if opening is None:
        return
    first = now = _nearest(bass_of(opening.stretch.chord), _MIDDLE)
    while part:
        following, after = after, next(coming, None)
        if following:
            goals = _goals(part, following, now)
            if loops and after is None:
                goals = [key for key in goals if abs(key - first) <= 12] or goals
        else:
            goals = [first] if loops else _goals(part, opening, now)
        stays = following is not None and not following.opens
        way, goal = _chosen(part, now, goals, stays, chance)
        yield part.end, [*_played(part, [now + step for step in way], goal, chance)]
        part, now = following, goal


@dataclass(frozen=True, slots=True)
class _Part:
    """Up to four beats of one chord: from ``begin`` to ``end``, ``step`` a beat; ``opens`` where the chord begins."""

    stretch: Stretch
    begin: Fraction
    end: Fraction
    step: Fraction
    opens: bool
    in_two: bool

    @property
    def beats(self) -> int:
        """How many notes it has."""
        return -int(-(self.end - self.begin) // self.step)


def halves(meter: Meter) -> bool:
    """Whether a bar can be played in two."""
    return meter.bar.denominator == 1 and meter.bar % 2 == 0


def _parts(stretch: Stretch, meter: Meter, feel: str) -> Iterator[_Part]:
    """A stretch cut at its bar lines, and longer bars in threes and fours."""
    wanted = feel == IN_TWO or (feel == BY_TEMPO and not WALKS[0] <= stretch.tempo <= WALKS[1])
    in_two = wanted and halves(meter)
    compound = meter.unit > 4 and meter.beats % 3 == 0
    step = Fraction(2) if in_two else Fraction(3, 2) if compound else Fraction(1)
    begin = stretch.begin
    while begin < stretch.end:
        line = (begin // meter.bar + 1) * meter.bar
        end = min(stretch.end, line)
        beats = -int(-(end - begin) // step)
        if beats > 4 or (in_two and beats > 2):
            end = begin + step * (2 if in_two else 3 if beats in (5, 6) else 4)
        yield _Part(stretch, begin, end, step, begin == stretch.begin, in_two)
        begin = end


def _nearest(pitch_class: int, to: int) -> int:
    """The key number of a pitch class in range that is nearest to another."""
    return min((key for key in RANGE if key % 12 == pitch_class), key=lambda key: abs(key - to))


def _goals(part: _Part, following: _Part, now: int) -> list[int]:
    """Where the next part may begin: on the next chord's root, or on a tone of the same chord."""
    if following.opens:
        root = bass_of(following.stretch.chord)
        return [key for key in RANGE if key % 12 == root and -12 <= key - now <= 12]
    tones = dict(tones_of(part.stretch.chord, part.stretch.key))
    base = bass_of(part.stretch.chord)
    classes = {(base + tones[name]) % 12 for name in _BETWEEN}
    return [key for key in RANGE if key % 12 in classes and abs(key - now) <= 12 and key != now]


def _chosen(part: _Part, now: int, goals: Sequence[int], stays: bool, chance: Random) -> tuple[tuple[int, ...], int]:
    """One of the best ways from here to one of the goals."""
    tones = tones_of(part.stretch.chord, part.stretch.key)
    above = (now - bass_of(part.stretch.chord)) % 12
    start = next((name for name in _BETWEEN if not part.opens and dict(tones)[name] == above), "1")
    found: list[tuple[float, tuple[int, ...], int]] = []
    most = math.inf
    for goal in goals:
        pull = abs(goal - _MIDDLE) / 8
        for way in ways(tones, start, part.beats, goal - now, part.in_two, stays):
            cost = way.cost + pull
            if cost > most:
                break
            if now + min(way.steps) in RANGE and now + max(way.steps) in RANGE:
                found.append((cost, way.steps, goal))
                most = min(most, cost + _SPREAD)
    likely = [one for one in found if one[0] <= most]
    if not likely:
        goal = min(goals, key=lambda key: (key == now, abs(key - now)))
        # A chord that no way fits is held by its root and the octave.
        other = 12 if now + 12 in RANGE else -12
        return tuple(other * (beat % 2) for beat in range(part.beats)), goal
    _, steps, goal = likely[int(chance.random() * len(likely))]
    return steps, goal


def _played(part: _Part, notes: Sequence[int], goal: int, chance: Random) -> Iterator[Event]:
    """The notes in time. In two, a half note now and then makes room for a step to the next one."""
    length = part.step * _LEGATO
    for place, key in enumerate(notes):
        begin = part.begin + place * part.step
        last = place == len(notes) - 1
        if last:
            length = (part.end - begin) * _LEGATO
        leads = part.in_two and last and part.end - begin == 2 and chance.random() < _PICKUP
        beside = [step for step in (goal - 1, goal + 1) if 0 < abs(step - key) <= 7 and step in RANGE]
        if leads and beside:
            yield Event(begin, _LEGATO, key, _loudness(place), "bass")
            begin, length, key = begin + 1, _LEGATO, min(beside, key=lambda step: abs(step - key))
        yield Event(begin, length, key, _loudness(place), "bass")


def _loudness(place: int) -> float:
    return 0.75 if place == 0 else 0.68
