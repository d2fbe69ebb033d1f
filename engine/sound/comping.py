"""Comping: when the chords are struck.

The rhythms are the common property of rhythm sections: on the beat and off it, two in a bar, some a swung eighth early.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from random import Random

from engine.lines.line import Meter
from engine.sound.event import Event
from engine.sound.feel import STRAIGHT, swung
from engine.sound.stretch import Stretch
from engine.sound.voicing import Voicing

# Meter, from which tempo to which, rhythms of a bar: each stroke is a beat from the bar's start and its length.
# A stroke half a beat before a new chord is that chord already.
RHYTHMS = (
    ("4/4", 0, 89, ("0:4", "0:2 2:2", "0:3 7/2:1/2", "0:3/2 3/2:5/2")),
    ("4/4", 90, 219, (
        "0:3/2 3/2:1/2", "1/2:1/2 2:1", "3/2:3/2", "0:1 5/2:1/2", "1:1/2 5/2:1/2", "3/2:1/2 7/2:1/2", "0:2 7/2:1/2",
        "1/2:1/2 3/2:1", "1:1/2 3:1/2", "0:1/2 3/2:1/2 3:1/2",
    )),
    ("4/4", 220, 999, ("0:3/2 3/2:1/2", "0:2", "3/2:3/2", "3/2:1/2 7/2:1", "0:3 7/2:1/2", "2:1")),
    ("3/4", 0, 99, ("0:3", "0:2 2:1", "0:3/2 3/2:3/2")),
    ("3/4", 100, 999, ("0:3/2 3/2:1", "0:2", "1:1/2 2:1/2", "3/2:3/2", "0:1 5/2:1/2", "1:1 5/2:1/2")),
)  # fmt: skip
_ANY = ("0:1",)  # another meter: on the one, and where chords come
_EARLY = Fraction(1, 2)
_ADDED = Fraction(3, 2)  # how long a chord sounds that no stroke of the rhythm meets
_OVER = Fraction(1)  # how long one that comes early sounds at least in its own bar
_ON, _OFF = 0.48, 0.56  # loudness on the beat and off it
_SHORTEST = Fraction(1, 4)


@dataclass(frozen=True, slots=True)
class _Stroke:
    """The chord at a place among the stretches, struck at ``begin`` for so long."""

    begin: Fraction
    length: Fraction
    place: int


def comping(stretches: Sequence[Stretch], voicings: Sequence[Voicing], meter: Meter, seed: int) -> list[Event]:
    """The chords in a rhythm by chance, swung: every chord is struck, no two strokes lie on each other."""
    return [event for played in comped([(stretches, voicings, False)], meter, seed) for event in played]


def comped(
    choruses: Iterable[tuple[Sequence[Stretch], Sequence[Voicing], bool]], meter: Meter, seed: int
) -> Iterator[list[Event]]:
    """The same chorus by chorus, whole bars each; with each stands whether another follows.

    A chord that is struck before its chorus begins is played with that one.
    """
    chance = Random(seed)
    early: list[_Stroke] = []
    before: Fraction | None = None
    for stretches, voicings, goes_on in choruses:
        kept = _kept(early, _strokes(stretches, meter, chance, before is None, bool(early), goes_on))
        played: list[Event] = []
        for stroke, after in zip(kept, [*kept[1:], None], strict=True):
            if stroke.place < len(stretches):
                ratio = stretches[stroke.place - 1].ratio if stroke.place else before or STRAIGHT
                played += _struck(stroke, after, stretches[stroke.place], ratio, voicings[stroke.place])
        yield played
        early = [replace(stroke, place=0) for stroke in kept if stroke.place == len(stretches)]
        before = stretches[-1].ratio


def _struck(
    stroke: _Stroke, after: _Stroke | None, stretch: Stretch, before: Fraction, voicing: Voicing
) -> Iterator[Event]:
    """A stroke as it is played until the one ``after`` it; ``before``: how eighths swing ahead of its chord."""
    end, ratio = stroke.begin + stroke.length, stretch.ratio
    if stroke.begin < stretch.begin:
        # Struck early, it is held over the bar line.
        end, ratio = max(end, stretch.begin + _OVER), before
    end = min(end, stretch.end, after.begin if after else stretch.end)
    begin = swung(stroke.begin, ratio)
    loudness = _ON if stroke.begin.denominator == 1 else _OFF
    for key in voicing.keys:
        yield Event(begin, swung(end, ratio) - begin, key, loudness, "piano")


def _strokes(
    stretches: Sequence[Stretch], meter: Meter, chance: Random, opens: bool, is_struck: bool, goes_on: bool
) -> list[_Stroke]:
    """All strokes of a chorus in order, and of the one that follows those that come early, where it ``goes_on``.

    ``opens``: the very first one; ``is_struck``: whether its first chord came early.
    """
    found: list[_Stroke] = []
    place = 0
    begin = stretches[0].begin
    while begin < stretches[-1].end:
        while stretches[place].end <= begin:
            place += 1
        for at, length in _rhythm(str(meter), stretches[place].tempo, opens and begin == stretches[0].begin, chance):
            sounding = _place(stretches, place, begin + at, goes_on)
            if sounding is not None:
                found.append(_Stroke(begin + at, length, sounding))
        begin += meter.bar
    struck = {stroke.place for stroke in found} | ({0} if is_struck else set())
    found += [_Stroke(one.begin, _ADDED, index) for index, one in enumerate(stretches) if index not in struck]
    return sorted(found, key=lambda one: one.begin)


def _kept(early: Sequence[_Stroke], strokes: Sequence[_Stroke]) -> list[_Stroke]:
    """The strokes after those that came ``early``, each at least half a beat after the one before."""
    kept = [*early]
    for stroke in strokes:
        new = not kept or kept[-1].place < stroke.place
        apart = not kept or stroke.begin - kept[-1].begin > _EARLY
        # What was struck early is held over the bar line; only a chord that comes at once may follow at once.
        if apart or (new and stroke.begin - kept[-1].begin >= _SHORTEST):
            kept.append(stroke)
    return kept


def _place(stretches: Sequence[Stretch], place: int, beat: Fraction, goes_on: bool) -> int | None:
    """Which stretch a stroke at a beat is for, their number for the first of the next chorus.

    None for one that would come before the whole begins anew.
    """
    while place < len(stretches) and stretches[place].end <= beat:
        place += 1
    if place == len(stretches):
        return None
    if beat.denominator > 1 and stretches[place].end - beat <= _EARLY:
        return place + 1 if place + 1 < len(stretches) or goes_on else None
    return place


def _rhythm(meter: str, tempo: int, first: bool, chance: Random) -> list[tuple[Fraction, Fraction]]:
    """One of the rhythms of a meter at a tempo; the very first bar begins on the one."""
    rows = next((row[3] for row in RHYTHMS if row[0] == meter and row[1] <= tempo <= row[2]), _ANY)
    offered = [row for row in rows if row.startswith("0:")] if first else rows
    row = offered[int(chance.random() * len(offered))]
    return [_READ[stroke] for stroke in row.split()]


def _read(stroke: str) -> tuple[Fraction, Fraction]:
    at, _, length = stroke.partition(":")
    return Fraction(at), Fraction(length)


_READ = {
    stroke: _read(stroke) for rows in (*(row[3] for row in RHYTHMS), _ANY) for row in rows for stroke in row.split()
}
