"""How MusicXML says which tones a chord has: one of its kinds, and the degrees by which the chord differs from it."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from engine.theory.chord import Chord
from engine.theory.degree import Degree

# The kinds of MusicXML 4.0 (data type kind-value) with the tones that each stands for. Left out: the four
# sixth and Tristan chords of classical harmony, and "pedal" and "none", which are no chords in thirds.
KINDS = {
    "major": "1 3 5", "minor": "1 b3 5", "augmented": "1 3 #5", "diminished": "1 b3 b5",
    "dominant": "1 3 5 b7", "major-seventh": "1 3 5 7", "minor-seventh": "1 b3 5 b7",
    "diminished-seventh": "1 b3 b5 bb7", "augmented-seventh": "1 3 #5 b7", "half-diminished": "1 b3 b5 b7",
    "major-minor": "1 b3 5 7", "major-sixth": "1 3 5 6", "minor-sixth": "1 b3 5 6",
    "dominant-ninth": "1 3 5 b7 9", "major-ninth": "1 3 5 7 9", "minor-ninth": "1 b3 5 b7 9",
    "dominant-11th": "1 3 5 b7 9 11", "major-11th": "1 3 5 7 9 11", "minor-11th": "1 b3 5 b7 9 11",
    "dominant-13th": "1 3 5 b7 9 11 13", "major-13th": "1 3 5 7 9 11 13", "minor-13th": "1 b3 5 b7 9 11 13",
    "suspended-fourth": "1 5 11", "suspended-second": "1 5 9", "power": "1 5",
}  # fmt: skip
# An added tone is counted from the dominant chord's own: major and perfect, but a minor seventh.
_DOMINANT = {1: 0, 3: 4, 5: 7, 6: 9, 7: 10, 9: 2, 11: 5, 13: 9}
# How far each difference takes a chord from its kind, on a rung or (0) on any other. Many readers look at the kind
# alone: they should not sound a tone that is not there, a third least of all, nor miss the seventh.
_COSTS = {("add", 0): 2, ("alter", 0): 3, ("add", 7): 4, ("alter", 7): 4, ("subtract", 0): 4, ("subtract", 3): 9}


@dataclass(frozen=True, slots=True)
class Difference:
    """A ``<degree>``: ``how`` is add, alter or subtract; ``alter`` in half steps."""

    number: int
    alter: int
    how: str


def kind_of(chord: Chord) -> tuple[str, tuple[Difference, ...]]:
    """The kind that is nearest to a chord, the plainest of those alike, and how the chord differs from it."""
    nearest = min(KINDS, key=lambda kind: _distance(tuple(_differences(chord, KINDS[kind]))))
    return nearest, tuple(_differences(chord, KINDS[nearest]))


def _distance(differences: tuple[Difference, ...]) -> int:
    return sum(_COSTS.get((each.how, each.number), _COSTS[each.how, 0]) for each in differences)


def _differences(chord: Chord, tones: str) -> Iterator[Difference]:
    of_kind = {degree.rung: degree for degree in map(Degree, tones.split())}
    seen: set[int] = set()
    for degree in chord.degrees:
        own = of_kind.get(degree.rung)
        # A rung with two tones, as the fifths and ninths of an altered dominant, alters one and adds the other.
        if own and degree.rung not in seen and own not in chord.degrees:
            yield Difference(degree.rung, degree.semitones - own.semitones, "alter")
        elif degree != own:
            yield Difference(degree.rung, degree.semitones - _DOMINANT[degree.rung], "add")
        seen.add(degree.rung)
    for rung in of_kind:
        if rung not in seen:
            yield Difference(rung, 0, "subtract")
