"""Where a note can go when the chord changes."""

from __future__ import annotations

from dataclasses import dataclass

from engine.theory.chord import Chord
from engine.theory.degree import Degree
from engine.theory.pitch import Pitch, signed_semitones


@dataclass(frozen=True, slots=True)
class Step:
    """A chord tone of the next chord, and how far it is: ``semitones`` signed, 0 is a held tone."""

    note: Pitch
    degree: Degree
    semitones: int


def steps_into(note: Pitch, following: Chord) -> tuple[Step, ...]:
    """Every tone of the chord that follows, in the octave nearest to ``note``, nearest first.

    Of two that are equally near the one below stands first, as sevenths fall.
    Notes carry an octave only if ``note`` has one.
    """
    steps = []
    for degree in following.degrees:
        tone = degree.over(following.root)
        there = tone if note.octave is None else tone.nearest_to(note)
        steps.append(Step(there, degree, signed_semitones(note, tone)))
    return tuple(sorted(steps, key=lambda step: (abs(step.semitones), step.semitones)))
