"""A chord in its place: what the rhythm section has to know to play it."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache

from engine.sound.feel import STRAIGHT
from engine.theory.chord import Chord
from engine.theory.degree import Degree
from engine.theory.family import family_of
from engine.theory.key import Key

DOMINANTS = ("dominant", "augmented dominant", "suspended dominant")
# The usual scale tone on a rung and the flat one, of which the key has the one or the other.
_BOTH_WAYS = {9: ("9", "b9"), 13: ("13", "b13")}
# These keep the scale of their kind in every key.
_OWN_SCALE = ("diminished seventh", "diminished major seventh", "diminished triad", "half-diminished")


@dataclass(frozen=True, slots=True)
class Stretch:
    """``chord`` from ``begin`` to ``end`` (beats) in ``key`` at ``tempo``, then ``following``, None at the end.

    ``ratio``: how the eighths swing there.
    """

    chord: Chord
    key: Key
    begin: Fraction
    end: Fraction
    tempo: int
    following: Chord | None = None
    ratio: Fraction = STRAIGHT


@lru_cache(maxsize=1024)
def scale_tone(chord: Chord, rung: int, key: Key) -> str:
    """The degree of a chord on rung 9, 11 or 13: the symbol's, else the key's, else the one of its family."""
    named = chord.on_rung(rung)
    if named:
        return named[0].name
    family = family_of(chord)
    usual = family.upper[(9, 11, 13).index(rung)]
    if rung in _BOTH_WAYS and family.name not in _OWN_SCALE:
        scale = {note.pitch_class for note in key.scale}
        inside = [name for name in _BOTH_WAYS[rung] if Degree(name).over(chord.root).pitch_class in scale]
        return inside[0] if inside else usual
    return usual


def leads_to_minor(chord: Chord, following: Chord | None, key: Key) -> bool:
    """Whether a dominant falls a fifth to a chord with a minor third, or is the V of a minor key."""
    if family_of(chord).name not in DOMINANTS:
        return False
    root = chord.root.pitch_class
    if following and (following.root.pitch_class - root) % 12 == 5:
        return following.has("b3")
    return key.mode == "minor" and (root - key.tonic.pitch_class) % 12 == 7
