"""Arpeggio in place: the 3, 5, 7 and 9 of a chord, going up within five frets."""

from __future__ import annotations

from functools import partial
from random import Random
from typing import NamedTuple

from engine.drills.arpeggio_from_the_third import LEVELS, cards_for, explained
from engine.drills.chance import pick
from engine.drills.options import Options
from engine.drills.places import (
    BY_HAND,
    BY_LETTER,
    BY_WHAT_IT_IS,
    OUT_OF_ORDER,
    board_at,
    holds,
    lows_for,
    marked,
    right_here,
    taps,
    told,
    where,
    wrong_in_order,
)
from engine.drills.question import Question, facts
from engine.drills.slips_in_counting import THE_PLACE
from engine.drills.slips_on_the_neck import Asked, right_places
from engine.neck.instrument import Instrument, Place
from engine.theory.arpeggio import Arpeggio, arpeggio
from engine.theory.bad_input import BadInput
from engine.theory.chord import Chord
from engine.theory.degree import Degree
from engine.theory.key import Key
from engine.theory.pitch import Pitch
from engine.theory.wording import Text, say

__all__ = ["LEVELS", "MISTAKES_HERE", "SLUG", "cards", "question"]

SLUG = "arpeggio-in-place"
# The first that leads to a place stands for it.
MISTAKES_HERE = ("another octave", "the root left out", *OUT_OF_ORDER, *BY_HAND, *BY_LETTER, *BY_WHAT_IT_IS)
# What the root is marked as: the picture of the shape calls it so too.
LEFT_OUT = "root, left out"


class Spot(NamedTuple):
    """Where the arpeggio lies: the lowest fret asked about, the third's octave, whether another one fits there too."""

    low: int
    octave: int
    one_of_several: bool


class Card(NamedTuple):
    """A chord, the key that decides its ninth, and the spots where its arpeggio lies."""

    chord: Chord
    key: Key | None
    instrument: Instrument
    spots: tuple[Spot, ...]


def cards(options: Options) -> list[Card]:
    """Every chord with its arpeggio, where five frets hold the whole of it; BadInput where none do."""
    instrument, lows = options.instrument, lows_for(options)
    found = [
        Card(chord, key, instrument, spots)
        for chord, key in cards_for(SLUG, options)
        if (spots := _spots(arpeggio(chord, 3, key), instrument, lows))
    ]
    if not found:
        problem = "has nothing to ask: these frets hold no whole arpeggio"
        raise BadInput(SLUG, 1, problem, "give other frets, other keys or another tuning")
    return found


def _spots(asked: Arpeggio, instrument: Instrument, lows: tuple[int, ...]) -> tuple[Spot, ...]:
    spots = []
    everywhere = {octave: _up(asked, octave) for octave in range(10)}
    for low in lows:
        octaves = [octave for octave, notes in everywhere.items() if holds(instrument, low, notes)]
        spots += [Spot(low, octave, len(octaves) > 1) for octave in octaves]
    return tuple(spots)


def _up(asked: Arpeggio, octave: int) -> list[Pitch]:
    """The notes going up, the first in this octave."""
    notes = [asked.notes[0].in_octave(octave)]
    for note in asked.notes[1:]:
        there = (note.in_octave(other) for other in range(octave - 1, octave + 4))
        notes.append(next(pitch for pitch in there if pitch.midi > notes[-1].midi))
    return notes


def question(card: Card, chance: Random) -> Question:
    """The question of a card; ``chance`` picks where on the neck."""
    chord, spot = card.chord, pick(card.spots, chance)
    asked = arpeggio(chord, 3, card.key)
    notes = _up(asked, spot.octave)
    bare = board_at(card.instrument, spot.low)
    root = notes[0].up(-asked.degrees[0].steps, -asked.degrees[0].semitones)
    board = board_at(card.instrument, spot.low, marked(bare, Asked(0, chord, Degree("1"), root), LEFT_OUT))
    about = facts(
        chord=chord, key=card.key, ask=THE_PLACE, degrees=" ".join(map(str, asked.degrees)),
        notes=" ".join(map(str, notes)), **told(board),
    )  # fmt: skip

    def right(step: Asked, place: Place) -> Text:
        if step.step == len(notes) - 1 and asked.own:
            return explained(asked, asked.own)
        return right_here(step, place)

    first = max(place.string for place in right_places(board, Asked(0, chord, asked.degrees[0], notes[0])))
    template = (
        "Tap {degrees:run} of {chord}, going up from string {first}, {where}." if spot.one_of_several
        else "Tap {degrees:run} of {chord}, going up, {where}."
    )  # fmt: skip
    start = {"first": first} if spot.one_of_several else {}
    return Question(
        drill=SLUG,
        skill=f"{SLUG}/{chord.kind}/{asked.degrees[3]}/{chord.root}",
        prompt=say(template, degrees=asked.degrees, chord=chord, where=where(board), **start),
        given=facts(chord=chord, key=card.key),
        about=about,
        choices=taps(about, MISTAKES_HERE, right, partial(wrong_in_order, about)),
        board=board,
        asks="tap",
    )
