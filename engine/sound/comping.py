"""Comping: when the chords are struck.

The rhythms are the common property of rhythm sections: on the beat and off it, two in a bar, some a swung eighth early.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from random import Random

from engine.lines.line import Meter
from engine.sound.event import Event
from engine.sound.feel import swung
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
    strokes = _strokes(stretches, meter, Random(seed))
    events = []
    for number, stroke in enumerate(strokes):
        stretch = stretches[stroke.place]
        end = stroke.begin + stroke.length
        ratio = stretch.ratio
        if stroke.begin < stretch.begin:
            ratio = stretches[stroke.place - 1].ratio
            # Struck early, it is held over the bar line.
            end = max(end, stretch.begin + _OVER)
        end = min(end, stretch.end)
        if number + 1 < len(strokes):
            end = min(end, strokes[number + 1].begin)
        loudness = _ON if stroke.begin.denominator == 1 else _OFF
        begin = swung(stroke.begin, ratio)
        length = swung(end, ratio) - begin
        events += [Event(begin, length, key, loudness, "piano") for key in voicings[stroke.place].keys]
    return events


def _strokes(stretches: Sequence[Stretch], meter: Meter, chance: Random) -> list[_Stroke]:
    """The strokes in order, each at least half a beat after the one before."""
    found: list[_Stroke] = []
    place = 0
    begin = stretches[0].begin
    while begin < stretches[-1].end:
        while stretches[place].end <= begin:
            place += 1
        for at, length in _rhythm(str(meter), stretches[place].tempo, begin == stretches[0].begin, chance):
            sounding = _place(stretches, place, begin + at)
            if sounding is not None:
                found.append(_Stroke(begin + at, length, sounding))
        begin += meter.bar
    struck = {stroke.place for stroke in found}
    found += [_Stroke(one.begin, _ADDED, index) for index, one in enumerate(stretches) if index not in struck]
    kept: list[_Stroke] = []
    for stroke in sorted(found, key=lambda one: one.begin):
        new = not kept or kept[-1].place < stroke.place
        apart = not kept or stroke.begin - kept[-1].begin > _EARLY
        # What was struck early is held over the bar line; only a chord that comes at once may follow at once.
        if apart or (new and stroke.begin - kept[-1].begin >= _SHORTEST):
            kept.append(stroke)
    return kept


def _place(stretches: Sequence[Stretch], place: int, beat: Fraction) -> int | None:
    """Which stretch a stroke at a beat is for; None for one that would come before the whole begins anew."""
    while place < len(stretches) and stretches[place].end <= beat:
        place += 1
    if place == len(stretches):
        return None
    if beat.denominator > 1 and stretches[place].end - beat <= _EARLY:
        return place + 1 if place + 1 < len(stretches) else None
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
