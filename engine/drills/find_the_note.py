"""Find the note: a chord and a degree; which note is it?"""

from __future__ import annotations

from random import Random

from engine.drills import degrees
from engine.drills.choices import arranged
from engine.drills.degrees import LEVELS, MISTAKES_HERE, TRIADS, Card
from engine.drills.material import AWKWARD
from engine.drills.mistakes import MISTAKES, wrong_values
from engine.drills.options import Options
from engine.drills.question import Choice, Question, facts
from engine.drills.slips_in_counting import THE_NOTE, own_degree
from engine.theory.chord import Chord
from engine.theory.degree import DEGREES, Degree
from engine.theory.naming import CHORD_TONE, name_over
from engine.theory.pitch import Pitch
from engine.theory.wording import say

__all__ = ["LEVELS", "MISTAKES_HERE", "SLUG", "cards", "question"]

SLUG = "find-the-note"


def cards(options: Options) -> list[Card]:
    """Every chord with every degree that may be asked over it."""
    return degrees.cards_for(SLUG, options)


def question(card: Card, chance: Random) -> Question:
    """The question of a card; ``chance`` picks the wrong choices and the order."""
    chord, degree = card
    note = degree.over(chord.root)
    about = facts(chord=chord, degree=degree, note=note, ask=THE_NOTE)
    right = Choice(
        note,
        say(
            "Above {root}, the {interval} is {note}: the {degree} of {chord}.",
            root=chord.root, interval=degree.interval, note=note, degree=degree, chord=chord,
        ),
        say("{degree}", degree=degree),
    )  # fmt: skip
    # The prompt names the root, so nobody takes that.
    candidates = [
        (value, key)
        for value, key in wrong_values(MISTAKES_HERE, about, chance)
        if isinstance(value, Pitch) and value.pitch_class != chord.root.pitch_class
    ]
    # The letter alone must not give it away, so the same letter with another sign is there wherever it is readable.
    candidates.sort(key=lambda candidate: _last(chord, *candidate))
    template = (
        "Which note is the {degree} of the {chord} triad?" if chord.kind in TRIADS
        else "Which note is the {degree} of {chord}?"
    )  # fmt: skip
    return Question(
        drill=SLUG,
        skill=f"{SLUG}/{chord.kind}/{degree}/{chord.root}",
        prompt=say(template, degree=degree, chord=chord),
        given=facts(chord=chord, degree=degree),
        about=about,
        choices=arranged(right, [_wrong(chord, value, key) for value, key in candidates], chance),
    )


def _last(chord: Chord, note: Pitch, key: str) -> int:
    """Which wrong choices come last: awkward ones, then double accidentals and chord tones in a strange spelling."""
    strange = name_over(chord, note).role == CHORD_TONE and own_degree(chord, note).over(chord.root) != note
    if strange or abs(note.accidental) > 1:
        return 3
    if key == "other sign":
        return 0
    return 2 if str(note) in AWKWARD else 1


def _spelled(chord: Chord, note: Pitch) -> Degree:
    """What the note is over the chord, by its letter: beside a dominant's 3, D# is the #9 of C7 and Eb its b3."""
    named = name_over(chord, note).degree
    steps = (note.letter - chord.root.letter) % 7
    alike = [degree for name in DEGREES if (degree := Degree(name)).semitones == named.semitones]
    return named if named.steps == steps else next((degree for degree in alike if degree.steps == steps), named)


def _wrong(chord: Chord, note: Pitch, key: str) -> Choice:
    degree = _spelled(chord, note)
    why = say(
        "{slip}. Over {chord}, {note} is the {degree}.",
        slip=say(MISTAKES[key].says, root=chord.root), chord=chord, note=note, degree=degree,
    )  # fmt: skip
    return Choice(note, why, say("{degree}", degree=degree), key)
