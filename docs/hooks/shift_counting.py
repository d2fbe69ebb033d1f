"""How many shifts a fingering takes, counted from its places alone: one count for every fingering that is compared.

Also the two simple ways that the engine's are compared with. None of this uses the
engine's own search.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from engine.lines.line import Line
from engine.neck.instrument import Instrument, Place


def fewest_shifts(places: Sequence[tuple[int, int]]) -> int:
    """The fewest changes of position with which a hand can play places, pairs of string and fret.

    A position is the fret under the index finger, p ≥ 1; the hand covers p…p+3 and reaches
    one fret further on either side; open strings need no hand. The hand stays as long as
    any one position reaches all that it plays there: no other choice can do with less.
    """
    shifts, low, high = 0, 1.0, math.inf
    for fret in (fret for _, fret in places if fret > 0):
        low, high = max(low, fret - 4), min(high, fret + 1)
        if low > high:
            shifts += 1
            low, high = max(1, fret - 4), fret + 1
    return shifts


def lowest_frets(line: Line, instrument: Instrument) -> tuple[Place, ...]:
    """Every note at its lowest fret. ValueError where the instrument does not have one."""
    return tuple(min(instrument.places(note.pitch.midi), key=lambda place: place.fret) for note in line.notes)


def nearest_frets(line: Line, instrument: Instrument) -> tuple[Place, ...]:
    """The first note at its lowest fret, every other at the one nearest to the last fretted note before it.

    An open string is as near as can be; of two equally near the nearer string, then the higher one.
    """
    taken: list[Place] = []
    hand = min(instrument.places(line.notes[0].pitch.midi), key=lambda place: place.fret)
    for note in line.notes:
        places = instrument.places(note.pitch.midi)
        taken.append(min(places, key=lambda place: _distance(hand, place)))
        hand = taken[-1] if taken[-1].fret else hand
    return tuple(taken)


def _distance(hand: Place, place: Place) -> tuple[int, int]:
    return abs(place.fret - hand.fret) * (place.fret > 0), abs(place.string - hand.string)
