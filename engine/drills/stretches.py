"""Stretches of lines on a neck: so many notes from where a device begins, in an octave and on frets that hold them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from fractions import Fraction
from typing import NamedTuple

from engine.drills import line_material as material
from engine.drills.line_material import Card, Stretch
from engine.drills.options import Options
from engine.lines.line import Change, Line, Meter, Note
from engine.neck.instrument import Instrument
from engine.theory.bad_input import BadInput
from engine.theory.chord import Chord
from engine.theory.key import Key
from engine.theory.pitch import Pitch

# By how many octaves a line may be moved onto an instrument, the nearest first; of two the lower.
OCTAVES = sorted(range(-4, 5), key=lambda octaves: (abs(octaves), octaves))
# A line of the stock is asked in so many octaves, a player's own where it is.
_OCTAVES_OF_STOCK = 2
# Every note is an eighth where a stretch is fingered by itself.
_EIGHTH = Fraction(1, 2)


class Part(NamedTuple):
    """A stretch of a line (``card``: the line, and which chord its first note is moved onto) on an instrument.

    ``octaves``: by how many it may be moved there.
    """

    card: Card
    instrument: Instrument
    octaves: tuple[int, ...]

    @property
    def stretch(self) -> Stretch:
        """The notes in their key, as the line has their octave."""
        return material.stretch(self.card)


def parts(
    slug: str, options: Options, least: int, most: int, lies: Callable[[Instrument, tuple[Pitch, ...]], bool]
) -> list[Part]:
    """Every stretch of ``least`` to ``most`` notes from where a device begins, in the octaves in which it ``lies``.

    BadInput where there is none.
    """
    found: dict[object, Part] = {}
    count = 1 if options.line else _OCTAVES_OF_STOCK
    for card in material.cards(slug, options, lambda _: True):
        last = min(card.found.first + most, len(card.line.notes)) - 1
        if last - card.found.first + 1 < least:
            continue
        device = replace(card.found, name="", last=last)
        key = (material.shape_of(card.line, device), card.root)
        if key in found:
            continue
        there = replace(card, found=device)
        pitches = tuple(heard.pitch for heard in material.stretch(there).heard)
        octaves = [octaves for octaves in OCTAVES if lies(options.instrument, in_octave(pitches, octaves))]
        if octaves:
            found[key] = Part(there, options.instrument, tuple(octaves[:count]))
    if not found:
        problem = "has nothing to ask: no stretch of the lines lies on these frets"
        raise BadInput(slug, 1, problem, "give other frets, other chords, another line or another tuning")
    return list(found.values())


def in_octave(pitches: Sequence[Pitch], octaves: int) -> tuple[Pitch, ...]:
    """The notes so many octaves higher (negative: lower)."""
    return tuple(pitch.in_octave((pitch.octave or 0) + octaves) for pitch in pitches)


def in_eighths(pitches: Sequence[Pitch]) -> Line:
    """The notes as a line of eighths, for the fingering alone: its chord and key say nothing."""
    notes = tuple(Note(pitch, place * _EIGHTH, _EIGHTH) for place, pitch in enumerate(pitches))
    return Line(Key(_C, "major"), Meter(), notes, (Change(Chord(_C, ()), Fraction(0)),), Fraction(0), notes[-1].end)


_C = Pitch(0)
