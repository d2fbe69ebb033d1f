"""Hear the degree: a held chord and two notes over it; which degree is the last one?"""

from __future__ import annotations

from random import Random
from typing import NamedTuple

from engine.drills import degrees
from engine.drills.chance import pick
from engine.drills.choices import arranged
from engine.drills.degrees import LEVELS
from engine.drills.mistakes import MISTAKES, wrong_values
from engine.drills.options import Options
from engine.drills.question import Choice, Heard, Question, Row, facts
from engine.theory.chord import Chord
from engine.theory.degree import Degree
from engine.theory.naming import name_over
from engine.theory.pitch import Pitch
from engine.theory.wording import Text, say

__all__ = ["LEVELS", "MISTAKES_HERE", "SLUG", "cards", "question"]

SLUG = "hear-the-degree"
MISTAKES_HERE = ("other sign", "a half step misheard", "a whole step misheard", "a chord tone misheard")
# Up to this level the first note is the root, so that the ear has what it counts from.
ROOT_FIRST_TO = 1
LOWEST = 57  # A3: the octave above the root begins here, over the chord and where a voice can sing it
_ROOT = Degree("1")


class Card(NamedTuple):
    """A chord, the degree of the last note over it, and the degrees that the first note may be."""

    chord: Chord
    degree: Degree
    firsts: tuple[Degree, ...]


def cards(options: Options) -> list[Card]:
    """Every chord with its root and every degree that may be asked over it."""
    found = []
    asked = degrees.cards_for(SLUG, options)
    with_roots = dict.fromkeys(card for chord, degree in asked for card in ((chord, _ROOT), (chord, degree)))
    for chord, degree in with_roots:
        fifth = chord.on_rung(5)
        anchors = (_ROOT,) if options.level <= ROOT_FIRST_TO else (_ROOT, *fifth)
        firsts = tuple(anchor for anchor in anchors if anchor.semitones != degree.semitones)
        found.append(Card(chord, degree, firsts or fifth or chord.degrees[1:2]))
    return found


def question(card: Card, chance: Random) -> Question:
    """The question of a card; ``chance`` picks the first note, the wrong choices and the order."""
    chord, degree = card.chord, card.degree
    first = pick(card.firsts, chance)
    low, high = placed(chord, first), placed(chord, degree)
    note = degree.over(chord.root)
    about = facts(chord=chord, note=note, degree=degree, first=first)
    right = Choice(degree, _why_right(chord, degree), say("{note}", note=note))
    # Nobody takes the last note for the first one again.
    candidates = [
        (value, key)
        for value, key in wrong_values(MISTAKES_HERE, about, chance)
        if isinstance(value, Degree) and value.semitones != first.semitones
    ]
    candidates.sort(key=lambda candidate: _is_awkward(chord, candidate[0]))
    wrong = [_wrong(chord, note, degree, value, key) for value, key in candidates]
    begin = "the root" if first == _ROOT else "a tone of the chord"
    roles = tuple(name_over(chord, one).role for one in (first.over(chord.root), note))
    return Question(
        drill=SLUG,
        skill=f"{SLUG}/{chord.kind}/{degree}/{chord.root}",
        prompt=say("{chord} is held; over it {begin}, then one more note. Which degree is the last note?",
                   chord=chord, begin=say(begin)),
        given=facts(chord=chord),
        about=about,
        choices=arranged(right, wrong, chance),
        row=Row((low, high), (first, degree), roles),
        heard=Heard(((chord, (low, high)),)),
        asks="sound",
    )  # fmt: skip


def _why_right(chord: Chord, degree: Degree) -> Text:
    note = degree.over(chord.root)
    if degree == _ROOT:
        return say("{note} is the root of {chord}, what the bass has.", note=note, chord=chord)
    return say(
        "{note} is the {interval} above {root}: the {degree} of {chord}.",
        note=note, interval=degree.interval, root=chord.root, degree=degree, chord=chord,
    )  # fmt: skip


def placed(chord: Chord, degree: Degree) -> Pitch:
    """A degree in the octave above the root that lies over the chord."""
    root = chord.root
    octave = next(octave for octave in (3, 4) if root.in_octave(octave).midi >= LOWEST)
    return root.in_octave(octave).up(degree.steps, degree.semitones)


def _is_awkward(chord: Chord, degree: Degree) -> bool:
    return abs(degree.over(chord.root).accidental) > 1


def _wrong(chord: Chord, asked: Pitch, right: Degree, degree: Degree, key: str) -> Choice:
    note = degree.over(chord.root).readable()
    why = say(
        "{slip}. The {degree} of {chord} is {note}; what sounds is {asked}, the {right}.",
        slip=say(MISTAKES[key].says), degree=degree, chord=chord, note=note, asked=asked, right=right,
    )  # fmt: skip
    return Choice(degree, why, say("{note}", note=note), key)
