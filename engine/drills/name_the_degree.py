"""Name the degree: a chord and a note; which degree of the chord is it?"""

from __future__ import annotations

from random import Random
from typing import TypeAlias

from engine.drills.choices import arranged
from engine.drills.material import chords_for, without_double_accidentals
from engine.drills.mistakes import MISTAKES, wrong_values
from engine.drills.options import Options
from engine.drills.question import Choice, Question, Value, facts
from engine.theory.chord import Chord
from engine.theory.degree import Degree
from engine.theory.naming import name_over
from engine.theory.pitch import Pitch
from engine.theory.wording import say

SLUG = "name-the-degree"

_SEVENTHS = ("maj7", "m7", "7")
_ALL_SEVENTHS = (*_SEVENTHS, "m7b5", "mMaj7", "dim7", "6", "m6")
TRIADS = ("maj", "m", "dim", "aug")
_ALTERED = ("7b9", "7#9", "7#11", "7b13", "7b9b13", "7#5", "maj7#5", "maj7#11", "7sus4")
LEVELS = {
    1: _SEVENTHS,
    2: _ALL_SEVENTHS,
    3: (*_ALL_SEVENTHS, *_ALTERED, *TRIADS),
}
# Degrees that are asked besides the chord's own, where they fit over it.
UPPER = {1: (), 2: ("9", "11", "13"), 3: ("9", "11", "13", "b9", "#9", "#11", "b13")}

MISTAKES_HERE = (
    "other sign",
    "a letter too far",
    "a letter short",
    "counted down",
    "counted from the third",
    "counted from the fifth",
)

Card: TypeAlias = tuple[Chord, Degree]


def cards(options: Options) -> list[Card]:
    """Every chord with every degree that may be asked over it."""
    found = []
    for chord in chords_for(SLUG, options, LEVELS):
        own = [degree for degree in chord.degrees if degree.name != "1"]
        upper = [Degree(name) for name in UPPER[options.level] if _fits(chord, Degree(name))]
        found += [(chord, degree) for degree in dict.fromkeys([*own, *upper])]
    wanted = without_double_accidentals([(chord, (degree.over(chord.root),)) for chord, degree in found])
    return [card for card, keep in zip(found, wanted, strict=True) if keep]


def _fits(chord: Chord, degree: Degree) -> bool:
    """Whether players use the degree over the chord, under that name; a triad is asked for its own tones alone."""
    if chord.kind in TRIADS:
        return False
    named = name_over(chord, degree.over(chord.root))
    return named.role in ("extension", "alteration") and named.degree == degree


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
