"""Line in place: a few notes of a line, played on from the first within five frets."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from random import Random
from typing import NamedTuple

from engine.drills import line_material as material
from engine.drills.chance import pick
from engine.drills.options import Options
from engine.drills.places import (
    BY_HAND,
    BY_LETTER,
    BY_WHAT_IT_IS,
    FRETS_ASKED,
    HIGHEST,
    OUT_OF_ORDER,
    board_at,
    holds,
    last_low,
    marked,
    right_here,
    taps,
    told,
    where,
    wrong_in_order,
)
from engine.drills.question import Question, facts
from engine.drills.slips_in_counting import THE_PLACE
from engine.drills.slips_on_the_neck import Asked
from engine.drills.stretches import Part, in_eighths, in_octave, parts
from engine.neck.fingering import Way, ways
from engine.neck.hand import OPEN
from engine.neck.instrument import Instrument
from engine.neck.limits import Limits
from engine.theory.pitch import Pitch
from engine.theory.wording import say

SLUG = "line-in-place"
LEVELS = material.LEVELS
# The first that leads to a place stands for it.
MISTAKES_HERE = ("another octave", *OUT_OF_ORDER, *BY_HAND, *BY_LETTER, *BY_WHAT_IT_IS)
# The first note is marked, so that the octave is plain; the others are asked.
_LEAST, _MOST = 4, 5


class Card(NamedTuple):
    """A stretch, and the fret at which the five asked about begin, where the options have one."""

    part: Part
    at: int | None


def cards(options: Options) -> list[Card]:
    """Every stretch of the lines that five frets hold; BadInput where none do."""
    last = last_low(options)
    lows = range(last + 1) if options.at is None else (options.at,)

    def lies(instrument: Instrument, pitches: tuple[Pitch, ...]) -> bool:
        return any(holds(instrument, low, pitches) for low in lows)

    return [Card(part, options.at) for part in parts(SLUG, options, _LEAST, _MOST, lies)]


def _low(instrument: Instrument, pitches: tuple[Pitch, ...]) -> int:
    """Where the five frets begin that the best way without a shift needs; if none does, the first that hold it."""
    limits = Limits(high=min(HIGHEST, instrument.frets))
    found = (
        low for way in ways(in_eighths(pitches), instrument, limits) if (low := _low_of(way, instrument)) is not None
    )
    held = (low for low in range(instrument.frets) if holds(instrument, low, pitches))
    return next(found, None) or next(held)


def _low_of(way: Way, instrument: Instrument) -> int | None:
    """Where five frets begin that hold a way, None where it shifts or needs more of them."""
    frets = [place.fret for place in way.places]
    fretted = [fret for fret in frets if fret != OPEN]
    if way.shifts or not fretted:
        return None
    low = 0 if OPEN in frets else max(min(way.positions[0], min(fretted)), max(fretted) - FRETS_ASKED + 1)
    low = min(low, min(HIGHEST, instrument.frets) - FRETS_ASKED + 1)
    return low if all(low <= fret < low + FRETS_ASKED for fret in frets) else None


def question(card: Card, chance: Random) -> Question:
    """The question of a card; ``chance`` picks the octave."""
    part, stretch = card.part, card.part.stretch
    chord, heard = stretch.chord, stretch.heard
    notes = in_octave([one.pitch for one in heard], pick(part.octaves, chance))
    low = _low(part.instrument, notes) if card.at is None else card.at
    first = Asked(0, chord, heard[0].degree, notes[0])
    marks = marked(board_at(part.instrument, low), first, heard[0].naming.role)
    board = board_at(part.instrument, low, marks)
    degrees = tuple(one.degree for one in heard)
    given = facts(chord=chord, changes=stretch.changes)
    about = facts(
        **given, ask=THE_PLACE, degree=degrees[0], first=notes[0], notes=" ".join(map(str, notes[1:])),
        degrees=" ".join(map(str, degrees[1:])), chords=tuple(one.chord for one in heard[1:]),
        line=" ".join(map(str, stretch.pitches)), **told(board),
    )  # fmt: skip

    return Question(
        drill=SLUG,
        skill=f"{SLUG}/{chord.kind}/{'-'.join(map(str, degrees))}/{chord.root}",
        prompt=say(
            "{notes:row} starts on the marked {first}: tap the others in order, {where}.",
            notes=stretch.pitches, first=stretch.pitches[0], where=where(board),
        ),
        given=given,
        about=about,
        choices=taps(about, MISTAKES_HERE, right_here, partial(wrong_in_order, about)),
        row=replace(stretch.row(), notes=notes),
        board=board,
        asks="tap",
    )  # fmt: skip
