"""The hand on the neck: where it can be, what it reaches there, and what every motion costs.

A **position** is the fret under the index finger, p. The hand covers p…p+3, one finger a
fret, and reaches one fret further on either side; a hand whose comfortable stretch is
smaller does not. An open string needs no finger; the hand stays where it is.

Costs are whole numbers without a unit. They only choose between ways with equally many
shifts, so what counts is how they stand to each other:

- a finger on its own fret costs nothing, a reach as much as three changes of string in
  eighths of a usual tempo;
- a change to the next string is the smallest motion, a string skipped doubles it;
- the same finger on another string has to roll (same fret) or to jump (another one);
- a shift costs by its distance; a rest, a half-step slide or an open string before it
  gives the hand time or a guide;
- all motion costs more where notes follow each other fast;
- both ends of the neck cost more than its middle: wide frets and a stretched arm at the
  nut, narrow frets and the body in the way above the twelfth;
- an open string among fretted notes sounds unlike them from the third position on, and
  cannot be moved to another key: there it costs more than a reach.

That the best fingering is the cheapest path through all the ways to play each note is
from S. I. Sayegh, "Fingering for String Instruments with the Optimum Path Paradigm",
Computer Music Journal 13 (3), 1989, pp. 76–84. That players prefer what keeps their
joints in the middle of their range was measured by H. Heijink and R. G. J. Meulenbroek,
"On the Complexity of Classical Guitar Playing", Journal of Motor Behavior 34 (4), 2002,
pp. 339–351. One finger a fret, with a reach by the first and by the fourth, is how
position playing is taught. The numbers are this project's own: they were set until the
first way of the lines in the line book was one that a player would choose.
"""

from __future__ import annotations

from functools import cache
from typing import NamedTuple

# How far below and above its position a hand reaches, by its stretch: the widest distance in frets.
REACH = {3: (0, 3), 4: (0, 4), 5: (1, 4)}
WIDEST = 5
# How many frets a position covers, a finger each.
COVERED = 4
OPEN = 0


class Touch(NamedTuple):
    """One way to play a note: string and fret, the finger (1 to 4, 0 for an open string), what it costs by itself."""

    string: int
    fret: int
    finger: int
    cost: int


# By how far a fret lies above the position: the fingers that can take it, and what that costs. The first is the usual
# one; a neighbour steps in where it would have to play two strings in a row.
FINGERS = {
    -1: ((1, 6),),
    0: ((1, 0), (2, 3)),
    1: ((2, 0), (1, 3), (3, 3)),
    2: ((3, 0), (4, 2), (2, 3)),
    3: ((4, 0), (3, 3)),
    4: ((4, 6),),
}
_REACHES = (-1, 4)
# A reach among the wide frets near the nut costs this much more, by position; none from the sixth on.
WIDE_REACH = (0, 4, 3, 2, 1, 1)
# What every fretted note costs by position, from 1 on; the last one holds for all that follow.
HEIGHT = (0, 1, 1, 0, 0, 0, 0, 0, 0, 0, 1, 1, 2, 2, 3, 3, 4, 4, 5)
# What an open string costs by the position of the hand, likewise: it stands out among notes from higher up.
OPEN_STRING = (0, 0, 3, 7, 9, 11, 12)
# By how many strings lie between two notes: none, the next string, one skipped …
CROSSING = (0, 1, 2, 4, 6, 8, 10, 12)
# One finger for two notes in a row: rolled across strings on one fret (by finger), jumping to another string and fret,
# or sliding along its string, a fret. Two fingers that would have to cross. Two on one fret against the slant of the
# hand, which has the higher finger on the higher string.
ROLL = (0, 1, 2, 2, 3)
JUMP, SLIDE, TANGLE, SLANT = 5, 2, 8, 1
# A shift: what it costs in any case, and for every fret.
SHIFT, SHIFT_FRET = 6, 2
# It costs only one part in so many after a rest, along a half-step slide, after an open string.
AFTER_REST, ON_SLIDE, AFTER_OPEN = 3, 3, 2
# Seconds from one note's start to the next one's, and how many times motion counts from there up.
PACES = ((0.45, 1), (0.2, 2), (0.12, 3))
FASTEST = 4
USUAL_TEMPO = 120


def reached_from(fret: int, frets: int, stretch: int = WIDEST) -> range:
    """The positions from which a hand of that stretch (a key of ``REACH``) reaches a fret, on a neck of so many."""
    below, above = REACH[stretch]
    return range(max(1, fret - above), min(frets, fret + below) + 1)


def touches(string: int, fret: int, position: int) -> tuple[Touch, ...]:
    """The ways to play a place from a position, which must reach it."""
    if fret == OPEN:
        return (Touch(string, fret, 0, _at(OPEN_STRING, position)),)
    offset = fret - position
    cost = _at(HEIGHT, position)
    if offset in _REACHES and position < len(WIDE_REACH):
        cost += WIDE_REACH[position]
    return tuple(Touch(string, fret, finger, cost + own) for finger, own in FINGERS[offset])


def _at(table: tuple[int, ...], place: int) -> int:
    return table[min(place, len(table) - 1)]


def pace(seconds: float) -> int:
    """How much motion counts between two notes whose starts are so far apart."""
    return next((factor for least, factor in PACES if seconds >= least), FASTEST)


@cache
def motion(pace: int, strings: int, frets: int, first: int, second: int) -> int:
    """What it costs to go on within a position: by so many strings and frets (signed), from one finger to another."""
    cost = CROSSING[abs(strings)]
    if first and second:
        if first == second:
            cost += JUMP if strings and frets else ROLL[first] if strings else SLIDE * abs(frets)
        elif (second - first) * frets < 0 or (not strings and not frets):
            cost += TANGLE
        elif not frets and (second - first) * strings > 0:
            cost += SLANT
    return pace * cost


@cache
def shift(pace: int, frets: int, after_rest: bool, after_open: bool, on_slide: bool, strings: int) -> int:
    """What it costs to move the hand by so many frets and go on so many strings away (signed)."""
    ease = max(AFTER_REST * after_rest, AFTER_OPEN * after_open, ON_SLIDE * on_slide, 1)
    return pace * (SHIFT + SHIFT_FRET * abs(frets)) // ease + pace * CROSSING[abs(strings)]
