"""What is played, as plain data: events on a time line, with the tempo that turns beats into seconds."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from typing import Any

from engine.theory.chord import Chord
from engine.theory.key import Key
from engine.theory.wording import USUAL, Profile, show

# The JSON tells an instrument by its place here.
INSTRUMENTS = ("guitar", "piano", "bass", "ride", "hi-hat", "click")
SLOWEST, FASTEST = 40, 320  # quarter notes a minute
VERSION = 1


@dataclass(frozen=True, slots=True)
class Event:
    """A sound: ``beat`` and ``length`` in quarter notes from the start, as they are played (swung already).

    ``pitch``: a MIDI key number, None for what has no pitch. ``loudness``: above 0, at most 1. ``index``: which note of
    the line that sounds, None for the band.
    """

    beat: Fraction
    length: Fraction
    pitch: int | None
    loudness: float
    instrument: str
    index: int | None = None

    @property
    def end(self) -> Fraction:
        """The beat at which it stops."""
        return self.beat + self.length


@dataclass(frozen=True, slots=True)
class Chapter:
    """What is in force from ``beat`` on.

    ``chorus`` counts from 1, 0 is the count-in; ``line`` is the place of the line that sounds among those given, None
    where none does; ``free`` is the player's own turn to answer.
    """

    beat: Fraction
    key: Key
    chord: Chord
    chorus: int
    line: int | None = None
    free: bool = False


@dataclass(frozen=True, slots=True)
class Arrangement:
    """``events`` in order of their beats; ``tempos``: from which beat how many quarter notes a minute, from 0 on.

    ``length`` in beats; ``loop``: from which beat to which to play it again and again, None for once.
    """

    events: tuple[Event, ...]
    tempos: tuple[tuple[Fraction, int], ...]
    length: Fraction
    chapters: tuple[Chapter, ...] = ()
    loop: tuple[Fraction, Fraction] | None = None


def clock(tempos: tuple[tuple[Fraction, int], ...]) -> Callable[[Fraction], float]:
    """What tells the second of a beat: exact up to the rounding of one float, whatever tempos came before."""
    begins = [beat for beat, _ in tempos]
    passed = [Fraction(0)]
    for (begin, tempo), (end, _) in pairwise(tempos):
        passed.append(passed[-1] + (end - begin) * 60 / tempo)

    def second(beat: Fraction) -> float:
        place = max(0, bisect_right(begins, beat) - 1) if len(begins) > 1 else 0
        begin, tempo = tempos[place]
        # Numerators and denominators, because whole numbers are quick and fractions are not.
        above = beat.numerator * begin.denominator - begin.numerator * beat.denominator
        below = beat.denominator * begin.denominator * tempo
        before = passed[place]
        return (60 * above * before.denominator + before.numerator * below) / (below * before.denominator)

    return second


def seconds(arrangement: Arrangement) -> list[tuple[float, float]]:
    """Start and length of every event, in seconds."""
    second = clock(arrangement.tempos)
    times: list[tuple[float, float]] = []
    last: Event | None = None
    for event in arrangement.events:
        # A chord's notes share their beat and their length, which are worked out once: that is nearly half of the time.
        if last is None or event.beat is not last.beat or event.length is not last.length:
            start = second(event.beat)
            time = start, second(event.beat + event.length) - start
        times.append(time)
        last = event
    return times


def as_json(arrangement: Arrangement, profile: Profile = USUAL) -> dict[str, Any]:
    """What the page plays: rows of start, length, MIDI key, loudness, instrument and index; seconds to 0.1 ms.

    The loop is told to 1 ns: what it is off adds up each time around, and 0.05 ms would be late to the ear in an hour.
    """
    second = clock(arrangement.tempos)
    number = {name: place for place, name in enumerate(INSTRUMENTS)}
    events = [
        [round(start, 4), round(length, 4), event.pitch, event.loudness, number[event.instrument], event.index]
        for event, (start, length) in zip(arrangement.events, seconds(arrangement), strict=True)
    ]
    chapters = [[round(second(chapter.beat), 4), _told(chapter, profile)] for chapter in arrangement.chapters]
    loop = [round(second(beat), 9) for beat in arrangement.loop] if arrangement.loop else None
    return {
        "v": VERSION,
        "length": round(second(arrangement.length), 4),
        "events": events,
        "instruments": list(INSTRUMENTS),
        "chapters": chapters,
        "loop": loop,
    }


def _told(chapter: Chapter, profile: Profile) -> dict[str, Any]:
    return {
        "key": show(chapter.key, profile),
        "chord": show(chapter.chord, profile),
        "chorus": chapter.chorus,
        "line": chapter.line,
        "free": chapter.free,
    }
