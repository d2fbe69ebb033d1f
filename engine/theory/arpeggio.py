"""Arpeggios of four notes, stacked in thirds, from any tone of a chord's seventh chord."""

from __future__ import annotations

from dataclasses import dataclass

from engine.theory.bad_input import BadInput
from engine.theory.chord import KINDS, Chord, chord_of
from engine.theory.degree import Degree
from engine.theory.family import family_of
from engine.theory.key import Key
from engine.theory.pitch import Pitch

STARTS = (1, 3, 5, 7)
RUNGS = (1, 3, 5, 7, 9, 11, 13)
# The seventh chords that stack major and minor thirds only; three major ones would repeat the root.
_IN_THIRDS = ("maj7", "m7", "7", "m7b5", "dim7", "mMaj7", "maj7#5")
_TONES = {3: "third", 5: "fifth", 7: "seventh"}
_NATURAL_OF_RUNG = {9: ("9", "b9"), 11: ("11", "#11"), 13: ("13", "b13")}


@dataclass(frozen=True, slots=True)
class Arpeggio:
    """Four notes over ``chord`` from its tone ``start`` up.

    ``degrees`` are counted over ``chord``; ``own`` is the chord that the four
    notes make by themselves, None where they are no chord in thirds.
    """

    chord: Chord
    start: int
    degrees: tuple[Degree, ...]
    notes: tuple[Pitch, ...]
    own: Chord | None


def arpeggio(chord: Chord, start: int = 3, key: Key | None = None) -> Arpeggio:
    """The arpeggio in thirds from the chord's root, third, fifth or seventh (``start`` 1, 3, 5 or 7).

    Tones above the seventh: the symbol's own alterations first, then the
    scale of ``key``, then the scale that the chord's family most often means.
    BadInput for a chord without a third, fifth and seventh to stack.
    """
    stack = _stack(chord, key)
    first = RUNGS.index(start)
    degrees = tuple(stack[place % len(stack)] for place in range(first, first + 4))
    notes = tuple(degree.over(chord.root) for degree in degrees)
    return Arpeggio(chord, start, degrees, notes, chord_in_thirds(notes))


def chord_in_thirds(notes: tuple[Pitch, ...]) -> Chord | None:
    """The seventh chord in thirds that four notes make from the first up, None where they make none.

    Compared by sound, since the tones of a diminished seventh keep the
    spelling of the chord they come from; a root with two accidentals is
    written with the fewest.
    """
    root = notes[0].readable()
    for kind in _IN_THIRDS:
        chord = chord_of(root, kind)
        if all(own.pitch_class == note.pitch_class for own, note in zip(chord.notes, notes, strict=True)):
            return chord
    return None


def _stack(chord: Chord, key: Key | None) -> tuple[Degree, ...]:
    family = family_of(chord)
    if family.name == "diminished seventh":
        return chord.degrees[:4]
    missing = [name for rung, name in _TONES.items() if not chord.on_rung(rung)]
    if missing:
        raise BadInput(chord.symbol, 1, f"has no {' and no '.join(missing)}, so no 3–5–7–9", _INSTEAD)
    base = [chord.on_rung(rung)[0] for rung in (1, *_TONES)]
    usual = dict(zip((9, 11, 13), family.upper, strict=True))
    upper = [_upper(chord, rung, usual[rung], key) for rung in (9, 11, 13)]
    return (*base, *upper)


_INSTEAD = "give a chord with a third, a fifth and a seventh, for example " + ", ".join(
    "C" + kind for kind in list(KINDS)[4:8]
)


def _upper(chord: Chord, rung: int, usual: str, key: Key | None) -> Degree:
    """One tone above the seventh: the symbol's, else the key's, else the family's."""
    own = chord.on_rung(rung)
    if own:
        return own[0]
    if key is not None:
        degree = Degree(usual)
        on_letter = key.on_letter((chord.root.letter + degree.steps) % 7)
        for name in _NATURAL_OF_RUNG[rung]:
            if Degree(name).over(chord.root).pitch_class == on_letter.pitch_class:
                return Degree(name)
    return Degree(usual)
