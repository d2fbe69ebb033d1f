"""Intervals: how far apart two letters and two sounds are, and what that is called."""

from __future__ import annotations

from dataclasses import dataclass

from engine.theory.pitch import Pitch

NUMBERS = (
    "unison", "second", "third", "fourth", "fifth", "sixth", "seventh",
    "octave", "ninth", "tenth", "eleventh", "twelfth", "thirteenth", "fourteenth",
)  # fmt: skip
# Semitones of the perfect or major interval over each number of letter steps.
PLAIN = (0, 2, 4, 5, 7, 9, 11)
PERFECT = frozenset({0, 3, 4})
# Quality by how many semitones an interval differs from the plain one.
QUALITIES_OF_PERFECT = {-2: "doubly diminished", -1: "diminished", 0: "perfect", 1: "augmented", 2: "doubly augmented"}
QUALITIES_OF_MAJOR = {
    -3: "doubly diminished",
    -2: "diminished",
    -1: "minor",
    0: "major",
    1: "augmented",
    2: "doubly augmented",
}


@dataclass(frozen=True, slots=True)
class Interval:
    """An ascending interval within two octaves: ``steps`` letters (0 to 13), ``semitones``."""

    steps: int
    semitones: int

    @property
    def name(self) -> str:
        """The usual English name, "major third"."""
        octave, step = divmod(self.steps, 7)
        table = QUALITIES_OF_PERFECT if step in PERFECT else QUALITIES_OF_MAJOR
        quality = table.get(self.semitones - 12 * octave - PLAIN[step])
        if quality is None:
            return f"{self.semitones} half steps"
        return f"{quality} {NUMBERS[self.steps]}"


def interval_above(low: Pitch, high: Pitch) -> Interval:
    """The interval from ``low`` up to the next ``high``, octaves left out."""
    steps = (high.letter - low.letter) % 7
    plain = PLAIN[steps]
    semitones = (high.pitch_class - low.pitch_class - plain + 6) % 12 - 6 + plain
    return Interval(steps, semitones)
