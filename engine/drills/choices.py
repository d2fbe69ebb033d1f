"""Putting the choices of a question together: no two alike, not too many that would do."""

from __future__ import annotations

from collections.abc import Hashable, Iterable
from random import Random

from engine.drills.chance import shuffled
from engine.drills.question import Choice, Press, Tab, Tap, Value
from engine.theory.chord import Chord
from engine.theory.pitch import Pitch

CHOICES = 4
# So many wrong choices may be usable ones; the others are plain mistakes.
MOST_USABLE = 2


def sound(value: Value) -> Hashable:
    """What a value sounds like, octaves left out: two choices of one question never share it."""
    if isinstance(value, Chord):
        return value.pitch_classes
    if isinstance(value, str | Tap | Press | Tab):
        return value
    if isinstance(value, tuple):
        return tuple(degree.semitones % 12 for degree in value)
    return value.pitch_class if isinstance(value, Pitch) else value.semitones


def arranged(right: Choice, wrong: Iterable[Choice], chance: Random) -> tuple[Choice, ...]:
    """``right`` and the first three of ``wrong`` that sound unlike any other, in a random order.

    More than ``MOST_USABLE`` usable ones are taken only where nothing else is left.
    """
    taken = {sound(right.value)}
    chosen: list[Choice] = []
    spare: list[Choice] = []
    for choice in wrong:
        if sound(choice.value) in taken or len(chosen) == CHOICES - 1:
            continue
        if choice.usable and sum(one.usable for one in chosen) == MOST_USABLE:
            spare.append(choice)
            continue
        taken.add(sound(choice.value))
        chosen.append(choice)
    for choice in spare:
        if sound(choice.value) not in taken and len(chosen) < CHOICES - 1:
            taken.add(sound(choice.value))
            chosen.append(choice)
    return tuple(shuffled([right, *chosen], chance))
