"""Name the degree: a chord and a note; which degree of the chord is it?"""

from __future__ import annotations

from random import Random

from engine.drills import degrees
from engine.drills.choices import arranged
from engine.drills.degrees import LEVELS, MISTAKES_HERE, TRIADS, Card
from engine.drills.mistakes import MISTAKES, wrong_values
from engine.drills.options import Options
from engine.drills.question import Choice, Question, Value, facts
from engine.theory.chord import Chord
from engine.theory.degree import Degree
from engine.theory.pitch import Pitch
from engine.theory.wording import say

__all__ = ["LEVELS", "MISTAKES_HERE", "SLUG", "cards", "question"]

SLUG = "name-the-degree"


def cards(options: Options) -> list[Card]:
    """Every chord with every degree that may be asked over it."""
    return degrees.cards_for(SLUG, options)


def question(card: Card, chance: Random) -> Question:
    """The question of a card; ``chance`` picks the wrong choices and the order."""
    chord, degree = card
    note = degree.over(chord.root)
    about = facts(chord=chord, note=note, degree=degree)
    right = Choice(
        degree,
        say(
            "Above {root}, {note} is the {interval}: the {degree} of {chord}.",
            root=chord.root, note=note, interval=degree.interval, degree=degree, chord=chord,
        ),
        say("{note}", note=note),
    )  # fmt: skip
    candidates = wrong_values(MISTAKES_HERE, about, chance)
    # Notes that nobody likes to read come last.
    candidates.sort(key=lambda candidate: _is_awkward(chord, candidate[0]))
    wrong = [_wrong(chord, note, value, key) for value, key in candidates if isinstance(value, Degree)]
    # A major triad's symbol looks like the name of a note.
    template = (
        "Which degree of the {chord} triad is {note}?" if chord.kind in TRIADS else "Which degree of {chord} is {note}?"
    )
    return Question(
        drill=SLUG,
        skill=f"{SLUG}/{chord.kind}/{degree}/{chord.root}",
        prompt=say(template, chord=chord, note=note),
        given=facts(chord=chord, note=note),
        about=about,
        choices=arranged(right, wrong, chance),
    )


def _is_awkward(chord: Chord, value: Value) -> bool:
    return isinstance(value, Degree) and abs(value.over(chord.root).accidental) > 1


def _wrong(chord: Chord, asked: Pitch, degree: Degree, key: str) -> Choice:
    note = degree.over(chord.root)
    why = say(
        "{slip}. The {degree} above {root} is {note}, not {asked}.",
        slip=say(MISTAKES[key].says, root=chord.root), degree=degree, root=chord.root, note=note, asked=asked,
    )  # fmt: skip
    return Choice(degree, why, say("{note}", note=note), key)
