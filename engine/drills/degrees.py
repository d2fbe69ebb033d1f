"""Which degrees are asked over which chords, by level: the material of every drill about single degrees."""

from __future__ import annotations

from typing import TypeAlias

from engine.drills.material import chords_for, without_double_accidentals
from engine.drills.options import Options
from engine.theory.chord import Chord
from engine.theory.degree import Degree
from engine.theory.naming import name_over

_SEVENTHS = ("maj7", "m7", "7")
_ALL_SEVENTHS = (*_SEVENTHS, "m7b5", "mMaj7", "dim7", "6", "m6")
TRIADS = ("maj", "m", "dim", "aug")
_ALTERED = ("7b9", "7#9", "7#11", "7b13", "7b9b13", "7#5", "maj7#5", "maj7#11", "7sus4")
LEVELS = {
    1: _SEVENTHS,
    2: _ALL_SEVENTHS,
    3: (*_ALL_SEVENTHS, *_ALTERED, *TRIADS),
}
# Degrees that are asked besides the chord's own, where they fit over it.
UPPER = {1: (), 2: ("9", "11", "13"), 3: ("9", "11", "13", "b9", "#9", "#11", "b13")}

# The slips of who counts, in both directions.
MISTAKES_HERE = (
    "other sign",
    "a letter too far",
    "a letter short",
    "counted down",
    "counted from the third",
    "counted from the fifth",
)

Card: TypeAlias = tuple[Chord, Degree]


def cards_for(slug: str, options: Options) -> list[Card]:
    """Every chord with every degree that may be asked over it, the root left out."""
    found = []
    for chord in chords_for(slug, options, LEVELS):
        own = [degree for degree in chord.degrees if degree.name != "1"]
        upper = [Degree(name) for name in UPPER[options.level] if _fits(chord, Degree(name))]
        found += [(chord, degree) for degree in dict.fromkeys([*own, *upper])]
    wanted = without_double_accidentals([(chord, (degree.over(chord.root),)) for chord, degree in found])
    return [card for card, keep in zip(found, wanted, strict=True) if keep]


def _fits(chord: Chord, degree: Degree) -> bool:
    """Whether players use the degree over the chord, under that name; a triad is asked for its own tones alone."""
    if chord.kind in TRIADS:
        return False
    named = name_over(chord, degree.over(chord.root))
    return named.role in ("extension", "alteration") and named.degree == degree
