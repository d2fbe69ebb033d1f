"""Chords: a root, the degrees that its symbol names, and a bass."""

from __future__ import annotations

from dataclasses import dataclass

from engine.theory.degree import Degree
from engine.theory.pitch import Pitch

# The kinds of chord that have a name here: the suffix we write, and the degrees it names.
# In the order of the trade: what a player meets first stands first.
KINDS = {
    "maj": "1 3 5", "m": "1 b3 5", "dim": "1 b3 b5", "aug": "1 3 #5",
    "maj7": "1 3 5 7", "m7": "1 b3 5 b7", "7": "1 3 5 b7", "m7b5": "1 b3 b5 b7",
    "dim7": "1 b3 b5 bb7", "mMaj7": "1 b3 5 7", "6": "1 3 5 6", "m6": "1 b3 5 6",
    "maj7#5": "1 3 #5 7", "7#5": "1 3 #5 b7", "7b5": "1 3 b5 b7", "dimMaj7": "1 b3 b5 7",
    "sus4": "1 5 11", "sus2": "1 5 9", "7sus4": "1 5 b7 11",
    "7b9": "1 3 5 b7 b9", "7#9": "1 3 5 b7 #9", "7#11": "1 3 5 b7 #11", "7b13": "1 3 5 b7 b13",
    "7b9b13": "1 3 5 b7 b9 b13", "7#5#9": "1 3 #5 b7 #9", "7b9#11": "1 3 5 b7 b9 #11",
    "7alt": "1 3 b5 #5 b7 b9 #9", "9": "1 3 5 b7 9", "13": "1 3 5 b7 9 13", "7b5b9": "1 3 b5 b7 b9",
    "maj7#11": "1 3 5 7 #11", "maj9": "1 3 5 7 9", "m9": "1 b3 5 b7 9", "6/9": "1 3 5 6 9",
}  # fmt: skip
# Of a tone that a chord alters, the natural one is not played over it.
NATURAL_OF = {"b9": "9", "#5": "5", "b13": "13"}
_KIND_OF = {tuple(degrees.split()): kind for kind, degrees in KINDS.items()}


@dataclass(frozen=True, slots=True)
class Chord:
    """A chord.

    ``degrees`` are those that the symbol names, thirds stacked upwards;
    ``suffix`` is what stands behind the root in the symbol, as typed.
    """

    root: Pitch
    degrees: tuple[Degree, ...]
    suffix: str = ""
    bass: Pitch | None = None

    @property
    def symbol(self) -> str:
        """The symbol as it was typed, with an ASCII root."""
        return f"{self.root}{self.suffix}" + (f"/{self.bass}" if self.bass else "")

    @property
    def kind(self) -> str | None:
        """The name in ``KINDS`` of what it is, None for a chord with no name there."""
        return _KIND_OF.get(tuple(degree.name for degree in self.degrees))

    @property
    def notes(self) -> tuple[Pitch, ...]:
        """The notes of its degrees, in their order."""
        return tuple(degree.over(self.root) for degree in self.degrees)

    @property
    def pitch_classes(self) -> frozenset[int]:
        """How it sounds, octaves and order left out."""
        return frozenset(note.pitch_class for note in self.notes)

    def has(self, name: str) -> bool:
        """Whether the symbol names this degree."""
        return Degree(name) in self.degrees

    def on_rung(self, rung: int) -> tuple[Degree, ...]:
        """The degrees on one rung of the stack of thirds (1, 3, 5, 7, 9 …); a sixth is no seventh."""
        return tuple(degree for degree in self.degrees if degree.rung == rung)

    def own_degree(self, semitones: int) -> Degree | None:
        """What the symbol itself calls the tone so many semitones above the root, whatever the octave."""
        return next((degree for degree in self.degrees if degree.semitones == semitones % 12), None)

    @property
    def spoilt(self) -> frozenset[str]:
        """The natural degrees that would spoil the ones that it alters."""
        return frozenset(NATURAL_OF[degree.name] for degree in self.degrees if degree.name in NATURAL_OF)

    def __str__(self) -> str:
        return self.symbol


def chord_of(root: Pitch, kind: str) -> Chord:
    """The chord of a ``KINDS`` name over a root; the triad "maj" is written without a suffix."""
    degrees = tuple(Degree(name) for name in KINDS[kind].split())
    return Chord(root, degrees, "" if kind == "maj" else kind)
