"""What a device is, and what is found of it in a line."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from engine.lines.line import Line
from engine.lines.reading import Heard
from engine.theory.wording import Text


@dataclass(frozen=True, slots=True)
class Found:
    """A device in a line: its ``name``, its ``first`` and ``last`` note (indexes, inclusive), and a sentence.

    ``target`` is the index of the note that it leads to, where it leads to one;
    what of it lies before that note's chord is heard against that chord.
    """

    name: str
    first: int
    last: int
    text: Text
    target: int | None = None

    @property
    def count(self) -> int:
        """How many notes it has."""
        return self.last - self.first + 1


@dataclass(frozen=True, slots=True)
class Passage:
    """What a recogniser looks at: the ``line`` and its notes, each read over its chord."""

    line: Line
    notes: tuple[Heard, ...]


@dataclass(frozen=True, slots=True)
class Device:
    """A row of the table of devices.

    ``condition`` is what must be true, as a teacher says it. A device is left
    out where a longer one covers all of its notes, unless it ``stands`` beside
    that; one that is about the change ``covers`` none.
    """

    name: str
    condition: str
    stands: bool = False
    covers: bool = True


@dataclass(frozen=True, slots=True)
class Group:
    """The devices of one file, and the function that finds them all in a passage."""

    devices: tuple[Device, ...]
    find: Callable[[Passage], Iterator[Found]]
