"""Note on the neck: a chord, a degree and five frets; where is it?"""

from __future__ import annotations

from random import Random
from typing import NamedTuple

from engine.drills import degrees
from engine.drills.chance import pick
from engine.drills.degrees import LEVELS, TRIADS
from engine.drills.options import Options
from engine.drills.places import (
    BY_HAND,
    BY_LETTER,
    BY_WHAT_IT_IS,
    FRETS_ASKED,
    board_at,
    degree_slot,
    lows_for,
    marked,
    slip,
    sounds,
    taps,
    told,
    where,
)
from engine.drills.question import Board, Mark, Question, Tap, facts
from engine.drills.slips_in_counting import THE_PLACE
from engine.drills.slips_on_the_neck import Asked, named_at, right_places, sounding_places
from engine.neck.instrument import Instrument, Place
from engine.theory.bad_input import BadInput
from engine.theory.chord import Chord
from engine.theory.degree import Degree
from engine.theory.naming import CHORD_TONE
from engine.theory.wording import Text, say

__all__ = ["LEVELS", "MISTAKES_HERE", "SLUG", "cards", "question"]

SLUG = "note-on-the-neck"
# The first that leads to a place stands for it.
MISTAKES_HERE = (*BY_HAND, "counted from the fifth", "counted from the third", *BY_LETTER, *BY_WHAT_IT_IS)
# Up to this level a root is marked from the start, unless it is what is asked.
ROOT_MARKED_TO = 1
_ROOT = Degree("1")


class Card(NamedTuple):
    """A chord, a degree of it, and the frets at which the five that are asked about may begin."""

    chord: Chord
    degree: Degree
    instrument: Instrument
    lows: tuple[int, ...]
    root_marked: bool


def cards(options: Options) -> list[Card]:
    """Every chord with its root and every degree that may be asked over it, where the frets have it.

    BadInput where they have none.
    """
    instrument, lows = options.instrument, lows_for(options)
    found: list[Card] = []
    heard = {low: {midi % 12 for midi in sounds(instrument, low, low + FRETS_ASKED - 1)} for low in lows}
    asked = degrees.cards_for(SLUG, options)
    with_roots = dict.fromkeys(card for chord, degree in asked for card in ((chord, _ROOT), (chord, degree)))
    for chord, degree in with_roots:
        note = degree.over(chord.root).pitch_class
        those = tuple(low for low, there in heard.items() if note in there)
        if those:
            found.append(Card(chord, degree, instrument, those, options.level <= ROOT_MARKED_TO))
    if not found:
        problem = "has nothing to ask: none of its notes lies on these frets"
        raise BadInput(SLUG, 1, problem, "give other frets, other keys or another tuning")
    return found


def _asked(chord: Chord, degree: Degree) -> Asked:
    return Asked(0, chord, degree, degree.over(chord.root))


def question(card: Card, chance: Random) -> Question:
    """The question of a card; ``chance`` picks the frets."""
    chord, degree = card.chord, card.degree
    board = board_at(card.instrument, pick(card.lows, chance))
    asked = _asked(chord, degree)
    if card.root_marked and degree != _ROOT:
        board = board_at(card.instrument, board.low, _anchor(board, chord))
    root = next((str(Tap(mark.place)) for mark in board.marks), None)
    about = facts(chord=chord, degree=degree, note=asked.note, ask=THE_PLACE, marked=root, **told(board))
    there = _strings(board, asked)

    def right(asked: Asked, _: Place) -> Text:
        if degree == _ROOT:
            return say(
                "{note} is the root of {chord}: here it lies {there}.", note=asked.note, chord=chord, there=there
            )
        return say(
            "Above {root}, the {interval} is {note}, the {degree} of {chord}: here it lies {there}.",
            root=chord.root, interval=degree.interval, note=asked.note, degree=degree, chord=chord, there=there,
        )  # fmt: skip

    def wrong(asked: Asked, place: Place, mistake: str) -> Text:
        note, named = named_at(about, asked, sounding_places(board)[place])
        return say(
            "{slip}. Over {chord}, {note} is the {named}; the {asked} is {wanted}.",
            slip=slip(about, asked, place, mistake), chord=chord, note=note, named=degree_slot(named),
            asked=degree_slot(degree), wanted=asked.note,
        )  # fmt: skip

    template = (
        "Find the {degree} of the {chord} triad {where}, in any octave." if chord.kind in TRIADS
        else "Find the {degree} of {chord} {where}, in any octave."
    )  # fmt: skip
    return Question(
        drill=SLUG,
        skill=f"{SLUG}/{chord.kind}/{degree}/{chord.root}",
        prompt=say(template, degree=degree_slot(degree), chord=chord, where=where(board)),
        given=facts(chord=chord, degree=degree),
        about=about,
        choices=taps(about, MISTAKES_HERE, right, wrong),
        board=board,
        asks="tap",
    )


def _anchor(board: Board, chord: Chord) -> tuple[Mark, ...]:
    """The lowest root of the frets: where a beginner counts from."""
    roots = marked(board, _asked(chord, _ROOT), CHORD_TONE)
    return tuple(sorted(roots, key=lambda mark: sounding_places(board)[mark.place])[:1])


def _strings(board: Board, asked: Asked) -> Text:
    """On which strings of the board the note lies: "on strings 2 and 4"."""
    strings = tuple(place.string for place in right_places(board, asked))
    return say("on strings {strings:and}" if len(strings) > 1 else "on string {strings:and}", strings=strings)
