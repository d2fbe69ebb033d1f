"""Degrees: what a note is, counted from the root of its chord."""

from __future__ import annotations

from dataclasses import dataclass

from engine.theory.bad_input import BadInput
from engine.theory.interval import Interval
from engine.theory.pitch import Pitch

# Every degree name of the trade, with its letter steps and semitones above the root.
DEGREES = {
    "1": (0, 0), "b9": (1, 1), "9": (1, 2), "#9": (1, 3), "b3": (2, 3), "3": (2, 4),
    "4": (3, 5), "11": (3, 5), "#11": (3, 6), "b5": (4, 6), "5": (4, 7), "#5": (4, 8),
    "b6": (5, 8), "6": (5, 9), "b13": (5, 8), "13": (5, 9),
    "bb7": (6, 9), "b7": (6, 10), "7": (6, 11),
}  # fmt: skip

# The number in each name; a 4 is an 11 in the stack.
_RUNGS = {name: 11 if name == "4" else int(name.lstrip("b#")) for name in DEGREES}


@dataclass(frozen=True, slots=True)
class Degree:
    """A degree by its ASCII name, one of ``DEGREES``."""

    name: str

    @property
    def steps(self) -> int:
        """Letter steps above the root, 0 to 6."""
        return DEGREES[self.name][0]

    @property
    def semitones(self) -> int:
        """Semitones above the root, 0 to 11."""
        return DEGREES[self.name][1]

    @property
    def rung(self) -> int:
        """Where it stands when thirds are stacked: 1, 3, 5, 6, 7, 9, 11 or 13."""
        return _RUNGS[self.name]

    @property
    def interval(self) -> Interval:
        """Its interval above the root, a ninth where it is called 9."""
        octave = 1 if self.rung > 7 else 0
        return Interval(self.steps + 7 * octave, self.semitones + 12 * octave)

    def over(self, root: Pitch) -> Pitch:
        """The note that this degree is over ``root``."""
        return root.up(self.steps, self.semitones)

    def __str__(self) -> str:
        return self.name


def parse_degree(text: str) -> Degree:
    """Read a degree such as ``b9`` or ``♯11``; BadInput where it is none."""
    name = text.replace("♭", "b").replace("♯", "#").replace("𝄫", "bb")
    if name not in DEGREES:
        raise BadInput(text, 1, "is no degree", "write one of " + " ".join(DEGREES))
    return Degree(name)
