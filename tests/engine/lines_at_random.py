"""Lines at random, the same ones from the same seed: every thing that a line may have, often."""

from collections.abc import Sequence
from fractions import Fraction
from random import Random
from typing import TypeVar

from engine.lines.line import Change, Line, Meter, Note, merged
from engine.theory.chord import KINDS, chord_of
from engine.theory.key import MAJOR_KEYS, MINOR_KEYS, parse_key
from engine.theory.pitch import Pitch

T = TypeVar("T")
METERS = (Meter(4, 4), Meter(3, 4), Meter(6, 8))
# Ways to fill one beat of a quarter note, or two: lengths in beats.
FILLINGS = (
    "1", "1/2 1/2", "1/3 1/3 1/3", "1/4 1/4 1/4 1/4", "2/3 1/3", "1/3 2/3", "3/4 1/4", "1/4 1/2 1/4", "2",
    "2/3 2/3 2/3", "1/2 1 1/2", "1/6 1/6 1/6 1/6 1/6 1/6", "1/5 1/5 1/5 1/5 1/5", "3/2 1/2", "1/8 1/8 1/4 1/2",
    "1/3 1/6 1/6 1/3", "4/3 2/3",
)  # fmt: skip
PICKUPS = ("0", "0", "1/2", "1", "3/2", "2", "1/3", "2/3")


class Chance:
    """Draws from ``random()`` alone, which stays the same across versions of Python."""

    def __init__(self, seed: int) -> None:
        self._draw = Random(seed).random

    def below(self, count: int) -> int:
        return int(self._draw() * count)

    def one_of(self, choices: Sequence[T]) -> T:
        return choices[self.below(len(choices))]

    def happens(self, share: float) -> bool:
        return self._draw() < share


def line_at_random(seed: int) -> Line:
    """One line of two to four bars, perhaps with a pickup."""
    chance = Chance(seed)
    key = parse_key(chance.one_of(MAJOR_KEYS + MINOR_KEYS))
    meter = chance.one_of(METERS)
    begin = -Fraction(chance.one_of(PICKUPS))
    end = meter.bar * (2 + chance.below(3))
    return Line(
        key,
        meter,
        _notes(chance, begin, end),
        _changes(chance, meter, end),
        begin,
        end,
        title=f"Line <{seed}> & “its” ♭9",
        composer=chance.one_of(("", "Anna & Bo", "Zoë")),
        tempo=chance.one_of((None, 96, 208)),
    )


def _notes(chance: Chance, begin: Fraction, end: Fraction) -> tuple[Note, ...]:
    """Beat after beat is filled; some notes are left out, some go on to the next one's end."""
    notes: list[Note] = []
    at = begin
    lengths: list[Fraction] = []
    while at < end:
        if not lengths:
            whole = at - at // 1
            lengths = [1 - whole] if whole else [Fraction(length) for length in chance.one_of(FILLINGS).split()]
        length = min(lengths.pop(0), end - at)
        if notes and notes[-1].end == at and chance.happens(0.15):
            notes[-1] = Note(notes[-1].pitch, notes[-1].start, notes[-1].length + length)
        elif not chance.happens(0.15):
            pitch = Pitch(chance.below(7), chance.one_of((-2, -1, -1, 0, 0, 0, 0, 1, 1, 2)), 3 + chance.below(4))
            notes.append(Note(pitch, at, length))
        at += length
    return tuple(notes)


def _changes(chance: Chance, meter: Meter, end: Fraction) -> tuple[Change, ...]:
    changes: list[Change] = []
    beat = Fraction(0)
    while beat < end:
        root = Pitch(chance.below(7), chance.one_of((-1, 0, 1)))
        chord = chord_of(root, chance.one_of(tuple(KINDS)))
        changes.append(Change(chord, beat))
        beat += chance.one_of((meter.bar, meter.bar, meter.bar / 2, Fraction(1), Fraction(1, 2)))
    return merged(tuple(changes))
