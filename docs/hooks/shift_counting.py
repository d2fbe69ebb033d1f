"""How many shifts a fingering takes, counted from its places alone: one count for every fingering that is compared.

Also the two simple ways that the engine's are compared with. None of this uses the
engine's own search.
"""

from __future__ import annotations

import math
from collections.abc import Sequence

from engine.lines.line import Line
from engine.neck.instrument import Instrument, Place

# How far a hand of so many frets' stretch reaches below and above its position.
_REACH = {3: (0, 3), 4: (0, 4), 5: (1, 4)}


def fewest_shifts(places: Sequence[tuple[int, int]], stretch: int = 5) -> int:
    """The fewest changes of position with which a hand can play places, pairs of string and fret.

    A position is the fret under the index finger, p ≥ 1; the hand covers p…p+3 and reaches
    one fret further on either side (with a stretch of 4 above only, with 3 on neither);
    open strings need no hand. The hand stays as long as any one position reaches all that
    it plays there: no other choice can do with less.
    """
    below, above = _REACH[stretch]
    shifts, low, high = 0, 1.0, math.inf
    for fret in (fret for _, fret in places if fret > 0):
        low, high = max(low, fret - above), min(high, fret + below)
        if low > high:
            shifts += 1
            low, high = max(1, fret - above), fret + below
    return shifts


def fewest_of_all(line: Line, instrument: Instrument, stretch: int = 5) -> int:
    """The fewest shifts of every way to place the notes of a short line, each one tried: no search, only counting.

    ValueError where the instrument does not have a note.
    """
    below, above = _REACH[stretch]
    every = [[place.fret for place in instrument.places(note.pitch.midi)] for note in line.notes]

    def after(index: int, low: float, high: float) -> int:
        """The fewest that still come, with a hand that may be anywhere from ``low`` to ``high``."""
        if index == len(every):
            return 0
        counts = []
        for fret in every[index]:
            if fret == 0:
                counts.append(after(index + 1, low, high))
            elif max(low, fret - above) <= min(high, fret + below):
                counts.append(after(index + 1, max(low, fret - above), min(high, fret + below)))
            else:
                counts.append(1 + after(index + 1, max(1, fret - above), fret + below))
        return min(counts)

    return after(0, 1, math.inf)


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
