"""The lines of a walking bass: from a tone of a chord to the root of the next one.

Source: the rules of the usual textbooks. A chord's last beat is a half step or a scale step beside the next root, or
its fifth; the beats between move by step or through the chord; two leaps in one direction are rare, a note struck
twice, sevenths and more than an octave are left to solos.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import lru_cache
from typing import NamedTuple

from engine.sound.stretch import scale_tone
from engine.theory.chord import Chord
from engine.theory.degree import Degree
from engine.theory.key import Key

# The beats of a chord before the one that leads on, by how many there are and the tone they begin with. Degrees, a
# comma an octave lower, an apostrophe an octave higher.
BODIES = {
    ("1", 1): ("1",),
    ("1", 2): ("1 3", "1 5", "1 5,", "1 7,", "1 2"),
    ("1", 3): ("1 2 3", "1 3 5", "1 5 3", "1 7, 5,", "1 5, 7,", "1 7, 6,", "1 3 2", "1 5 7", "1 5, 3,", "1 6, 5,"),
    ("3", 1): ("3",),
    ("3", 2): ("3 5", "3 2", "3 1"),
    ("3", 3): ("3 5 7", "3 2 1", "3 5 3", "3 1 5,", "3 5 1'", "3 1 2", "3 1 7,"),
    ("5", 1): ("5",),
    ("5", 2): ("5 3", "5 7", "5 6", "5 1"),
    ("5", 3): ("5 3 1", "5 6 7", "5 3 2", "5 7 1'", "5 1' 7", "5 3 5", "5 6 5"),
}  # fmt: skip
# In two, and where nothing leads on, the whole stretch.
WHOLE = {
    ("1", 1): ("1",),
    ("1", 2): ("1 5", "1 5,", "1 3", "1 3,"),
    ("3", 1): ("3",),
    ("3", 2): ("3 5", "3 1", "3 5,"),
    ("5", 1): ("5",),
    ("5", 2): ("5 3", "5 1", "5 1'"),
}  # fmt: skip
# How much it costs a line to go so many half steps; None is never played.
_COST: tuple[float | None, ...] = (None, 0, 0, 0.6, 0.8, 1.0, 3.0, 1.0, 3.0, 3.5, None, None, 1.8)
_BY_HALF_STEP, _BY_STEP, _BY_FIFTH = 0.0, 0.5, 1.4
_SAME_WAY = 2.0  # two leaps after each other in one direction
_TOO_SOON = 1.2  # the next root is heard already
_TURNS_BACK = 2.0  # it is heard just before the note that leads to it
_NOT_LED = 1.0  # the last beat is only a tone of the chord
_MINOR_THIRD = 3
Tones = tuple[tuple[str, int], ...]


class Way(NamedTuple):
    """Half steps above the first note, a note each, and what the line costs with its step to the goal."""

    cost: float
    steps: tuple[int, ...]


def bass_of(chord: Chord) -> int:
    """The pitch class that the bass has under a chord."""
    return (chord.bass or chord.root).pitch_class


@lru_cache(maxsize=1024)
def tones_of(chord: Chord, key: Key) -> Tones:
    """What a bass walks on over a chord: degrees by their number, in half steps above the bass, 0 to 11."""
    base = bass_of(chord)

    def first(rungs: Sequence[int], otherwise: str) -> str:
        return next((degree.name for rung in rungs for degree in chord.on_rung(rung)), otherwise)

    # The fifth gives way to what would rub against it, and the sixth to a raised fifth.
    fifth = "b13" if chord.has("b13") else first((5,), "1")
    thirteenth = fifth if fifth == "#5" else first((6, 13), scale_tone(chord, 13, key))
    named = {
        "1": "1",
        "2": scale_tone(chord, 9, key),
        "3": first((3, 11, 9), "5"),
        "5": fifth,
        "6": thirteenth,
        "7": first((7, 6), "b7" if chord.has("b3") else thirteenth),
    }
    heights = {number: (chord.root.pitch_class + Degree(name).semitones - base) % 12 for number, name in named.items()}
    return tuple({**heights, "1": 0}.items())


@lru_cache(maxsize=4096)
def ways(tones: Tones, start: str, beats: int, goal: int, in_two: bool, stays: bool = False) -> tuple[Way, ...]:
    """Every way to play so many beats from a tone of a chord and to step to a goal that lies ``goal`` half steps above.

    ``tones``: what the bass walks on over the chord, one of them the ``start``; ``beats``: 1 to 4, in two 1 or 2;
    ``stays``: whether the goal is another tone of the same chord. The cheapest way first.
    """
    found: list[Way] = []
    if not in_two and beats > 1:
        leading = [*_leading(goal, tones, start, stays)]
        for cost, steps in _bodies(tones, start, beats - 1):
            for led, last in leading:
                found += _joined(cost + led, steps, (last, goal))
    if in_two or beats <= 2:
        for cost, steps in _bodies(tones, start, beats, whole=True):
            found += _joined(cost + (_NOT_LED if beats > 1 else 0), steps, (goal,))
    return tuple(sorted(found, key=lambda way: way.cost))


def _joined(cost: float, steps: tuple[int, ...], rest: tuple[int, ...]) -> Iterator[Way]:
    """A line with what follows it, the goal last, and what that costs more; nothing where it is never played."""
    line = (*steps, *rest)
    moved = _cost(line[len(steps) - 2 if len(steps) > 1 else 0 :], counted=len(rest))
    if moved is not None:
        told = _TOO_SOON * line[1:-1].count(rest[-1]) + _TURNS_BACK * (line[-3:-2] == rest[-1:])
        yield Way(cost + moved + told, line[:-1])


@lru_cache(maxsize=1024)
def _bodies(tones: Tones, start: str, beats: int, whole: bool = False) -> tuple[tuple[float, tuple[int, ...]], ...]:
    """The bodies of so many beats over a chord, in half steps above their first note, and what each costs."""
    heights = dict(tones)
    found = []
    for body in (WHOLE if whole else BODIES)[start, beats]:
        line = [heights[word.rstrip(",'")] + 12 * (word.count("'") - word.count(",")) for word in body.split()]
        steps = tuple(height - line[0] for height in line)
        cost = _cost(steps, len(steps) - 1)
        if cost is not None:
            found.append((cost, steps))
    return tuple(found)


def _leading(goal: int, tones: Tones, start: str, stays: bool) -> Iterator[tuple[float, int]]:
    """The notes that lead to a goal, and what each costs.

    As long as a minor chord stays, its major third leads nowhere: it would be heard as the chord's.
    """
    first, third = dict(tones)[start], dict(tones)["3"]
    classes = {(height - first) % 12 for _, height in tones}
    wrong = (4 - first) % 12 if stays and third == _MINOR_THIRD else None
    for step in (-1, 1):
        if (goal + step) % 12 != wrong:
            yield _BY_HALF_STEP, goal + step
    for step in (-2, 2):
        if (goal + step) % 12 in classes:
            yield _BY_STEP, goal + step
    for step in (-5, 7):
        yield _BY_FIFTH, goal + step


def _cost(line: Sequence[int], counted: int) -> float | None:
    """What the last ``counted`` moves of a line cost; None where one of them is never played."""
    total, same_way = 0.0, 0
    begin = len(line) - 1 - counted
    before = line[begin] - line[begin - 1] if begin else 0
    for place in range(begin, len(line) - 1):
        move = line[place + 1] - line[place]
        cost = _COST[abs(move)] if abs(move) < len(_COST) else None
        if cost is None:
            return None
        total += cost
        same_way += move * before > 0 and min(abs(move), abs(before)) > 4
        before = move
    return total + _SAME_WAY * same_way
