"""Chance that is the same everywhere.

Only ``random()`` is drawn from: the other methods of ``random.Random`` are
not promised to stay the same from one Python version to the next.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from random import Random
from typing import TypeVar

T = TypeVar("T")

# A prime far above any number of questions, so that two seeds never share a stream.
_STRIDE = 1_000_000_007


def chance_for(seed: int, index: int) -> Random:
    """The source of chance for question ``index`` of a stream; -1 is a stream's own."""
    return Random(seed * _STRIDE + index + 1)


def pick(items: Sequence[T], chance: Random) -> T:
    """One of ``items``, each as likely as the others."""
    return items[int(chance.random() * len(items))]


def shuffled(items: Iterable[T], chance: Random) -> list[T]:
    """``items`` in a random order (Fisher and Yates, from the end)."""
    mixed = list(items)
    for last in range(len(mixed) - 1, 0, -1):
        other = int(chance.random() * (last + 1))
        mixed[last], mixed[other] = mixed[other], mixed[last]
    return mixed
