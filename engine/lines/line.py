"""A line: a few bars of melody over their chords."""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass
from fractions import Fraction

from engine.theory.chord import Chord
from engine.theory.key import Key
from engine.theory.pitch import Pitch


@dataclass(frozen=True, slots=True)
class Note:
    """A sounding note: its ``pitch`` with an octave, its ``start`` and ``length`` in beats (a quarter note is 1).

    Notes that are tied are one note. ``start`` is negative in a pickup.
    """

    pitch: Pitch
    start: Fraction
    length: Fraction

    @property
    def end(self) -> Fraction:
        """The beat at which it stops."""
        return self.start + self.length


@dataclass(frozen=True, slots=True)
class Change:
    """``chord`` sounds from ``beat`` until the next change."""

    chord: Chord
    beat: Fraction


@dataclass(frozen=True, slots=True)
class Meter:
    """A time signature: ``beats`` over ``unit`` (a power of two)."""

    beats: int = 4
    unit: int = 4

    @property
    def bar(self) -> Fraction:
        """A bar's length in quarter notes."""
        return Fraction(4 * self.beats, self.unit)

    def __str__(self) -> str:
        return f"{self.beats}/{self.unit}"


@dataclass(frozen=True, slots=True)
class Line:
    """A line.

    ``notes`` in order, one at a time; ``changes`` in order, at least one, no chord
    twice in a row. Beat 0 is the start of the first full bar. ``begin`` is that of
    the first bar or of the pickup (negative), ``end`` that of the last bar line.
    ``number`` tells the lines of one file apart; ``tempo`` is quarter notes a minute.
    ``source`` says where it was taken from (a tune and a bar), ``group`` what its
    keeper sorts it under.
    """

    key: Key
    meter: Meter
    notes: tuple[Note, ...]
    changes: tuple[Change, ...]
    begin: Fraction
    end: Fraction
    title: str = ""
    number: int = 1
    composer: str = ""
    tempo: int | None = None
    remarks: tuple[str, ...] = ()
    source: str = ""
    group: str = ""

    def __hash__(self) -> int:
        """Cheap on purpose: lines are keys of caches, and few of them are alike in this."""
        return hash((self.number, self.title, self.key, len(self.notes), self.end))

    def place_at(self, beat: Fraction) -> int:
        """The index of the change that is in force at a beat; a pickup has the first chord."""
        return max(0, bisect_right([change.beat for change in self.changes], beat) - 1)

    def chord_at(self, beat: Fraction) -> Chord:
        """The chord that sounds at a beat."""
        return self.changes[self.place_at(beat)].chord

    def chord_of(self, note: Note) -> Chord:
        """The chord that a note starts over."""
        return self.chord_at(note.start)


def merged(changes: tuple[Change, ...]) -> tuple[Change, ...]:
    """The changes without those that only repeat the chord before them."""
    kept: list[Change] = []
    for change in changes:
        if not kept or change.chord.symbol != kept[-1].chord.symbol:
            kept.append(change)
    return tuple(kept)
