"""What a note is over a chord: its degree, its other names, its role."""

from __future__ import annotations

from dataclasses import dataclass

from engine.theory.chord import Chord
from engine.theory.degree import Degree
from engine.theory.family import family_of
from engine.theory.pitch import Pitch

CHORD_TONE = "chord tone"
EXTENSION = "extension"
ALTERATION = "alteration"
PASSING = "passing"
OUTSIDE = "outside"
ROLES = (CHORD_TONE, EXTENSION, ALTERATION, PASSING, OUTSIDE)

# A natural tone is given up where the symbol names an altered one on its rung.
_GIVEN_UP = {"b9": 2, "#9": 2, "b13": 9, "#11": 5}


@dataclass(frozen=True, slots=True)
class Naming:
    """``degree`` and ``also``: what players call the note over the chord; ``role``: one of ``ROLES``."""

    degree: Degree
    also: tuple[Degree, ...]
    role: str


def name_over(chord: Chord, note: Pitch) -> Naming:
    """Name a note over a chord.

    The degree follows the note's spelling where that is usual over the chord;
    otherwise it is the chord's own name for that pitch, else the usual one of
    the chord's family. A minor third over a dominant is ``#9`` in either spelling.
    """
    semitones = (note.pitch_class - chord.root.pitch_class) % 12
    steps = (note.letter - chord.root.letter) % 7
    chosen, _, beside = family_of(chord).names[semitones].partition("|")
    usual = chosen.split(",")
    everything = usual + (beside.split(",") if beside else [])
    named = [degree.name for degree in chord.degrees if degree.semitones == semitones]
    spelled = [name for name in (*named, *usual) if Degree(name).steps == steps]
    name = (spelled or named or usual)[0]
    also = tuple(Degree(other) for other in dict.fromkeys((*named, *everything)) if other != name)
    return Naming(Degree(name), also, _role(chord, semitones, bool(named)))


def _role(chord: Chord, semitones: int, named: bool) -> str:
    if named:
        return CHORD_TONE
    family = family_of(chord)
    if any(_GIVEN_UP.get(degree.name) == semitones for degree in chord.degrees):
        return OUTSIDE
    if semitones in family.extensions:
        return EXTENSION
    if semitones in family.alterations:
        return ALTERATION
    return PASSING if semitones in family.passing else OUTSIDE
