"""How eighth notes are played: the swing ratio by tempo, and straight beats warped by it.

Source: A. Friberg and A. Sundström, "Swing Ratios and Ensemble Timing in Jazz Performance: Evidence for a Common
Rhythmic Pattern", Music Perception 19 (3), 2002, pp. 333-349. Measured there: the ratio of the long eighth to the short
one falls about linearly with the tempo; ride cymbals reach 3.5 at slow tempos and 1 at fast ones, soloists stay well
below that at slow tempos and meet the cymbal off the beat. The band here has one ratio, so the row lies between both.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

from engine.lines.line import Meter, Note

# Quarter notes a minute, and the ratio there; straight lines between, level outside.
RATIOS = ((100, Fraction(5, 2)), (300, Fraction(1)))
STRAIGHT = Fraction(1)
MOST = Fraction(4)  # what a player may set


def swing_ratio(tempo: int) -> Fraction:
    """How much longer the eighth on the beat is than the one off it: from 1 to 2.5, in hundredths."""
    if tempo <= RATIOS[0][0]:
        return RATIOS[0][1]
    for (slow, most), (fast, least) in pairwise(RATIOS):
        if tempo <= fast:
            exact = most + (least - most) * (tempo - slow) / (fast - slow)
            return Fraction(round(100 * exact), 100)
    return RATIOS[-1][1]


def ratio_for(meter: Meter, tempo: int, swing: Fraction | None = None) -> Fraction:
    """The ratio that the player has set, else the tempo's; where eighths are the beat themselves, none swings."""
    if meter.unit > 4:
        return STRAIGHT
    return swing_ratio(tempo) if swing is None else swing


def swung(beat: Fraction, ratio: Fraction) -> Fraction:
    """When a place that is written at ``beat`` is played: the middle of each beat comes late, its ends stay."""
    if beat.denominator == 1 or ratio == 1:
        return beat
    whole = beat.numerator // beat.denominator
    inside = beat - whole
    middle = ratio / (1 + ratio)
    if 2 * inside == 1:
        return whole + middle
    return whole + (2 * inside * middle if inside < _HALF else middle + (2 * inside - 1) * (1 - middle))


def swung_notes(notes: tuple[Note, ...], ratio: Fraction) -> list[tuple[Fraction, Fraction]]:
    """Start and end of each note as it is played.

    Only a beat that is halved swings: triplets are triplets already, and sixteenths are played as they are written.
    """
    uneven = {place // 1 for note in notes for place in (note.start, note.end) if place.denominator > 2}

    def played(place: Fraction) -> Fraction:
        return place if place // 1 in uneven else swung(place, ratio)

    return [(played(note.start), played(note.end)) for note in notes]


_HALF = Fraction(1, 2)
