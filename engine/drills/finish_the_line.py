"""Finish the line: a note is missing from a stretch of a line; which one?"""

from __future__ import annotations

from random import Random
from typing import TypeAlias

from engine.drills import line_material as material
from engine.drills.choices import arranged
from engine.drills.line_material import Card, Stretch
from engine.drills.mistakes import MISTAKES, wrong_values
from engine.drills.options import Options
from engine.drills.question import Choice, Question, facts
from engine.lines.devices.device import Found
from engine.theory.chord import Chord
from engine.theory.degree import Degree
from engine.theory.naming import name_over
from engine.theory.pitch import Pitch
from engine.theory.wording import Slot, Text, say

SLUG = "finish-the-line"
LEVELS = material.LEVELS
MISTAKES_HERE = ("same number, other sign", "a step above", "a step below", "a third above", "a third too low")

Missing: TypeAlias = tuple[Card, int]
_ONE = say("?")


def cards(options: Options) -> list[Missing]:
    """Every arpeggio of the lines, once for each of its notes that may be missing."""
    return [(card, missing) for card in material.cards(SLUG, options, _fits) for missing in (1, 2, 3)]


def _fits(found: Found) -> bool:
    return found.name.startswith("arpeggio")


def question(card: Missing, chance: Random) -> Question:
    """The question of a card; ``chance`` picks the wrong choices and the order."""
    here, missing = card
    stretch = material.stretch(here)
    chord, note = stretch.chord, stretch.pitches[missing]
    degree = stretch.analysis.notes[stretch.first + missing].degree
    about = facts(chord=chord, note=note, degree=degree, line=_row(stretch), device=here.found.name)
    wrong = [
        _wrong(chord, degree, value, key)
        for value, key in material.plain_first(wrong_values(MISTAKES_HERE, about, chance), chord)
    ]
    shown: tuple[Slot, ...] = tuple(_ONE if place == missing else one for place, one in enumerate(stretch.pitches))
    degrees = tuple(heard.degree for heard in stretch.heard)
    right = Choice(
        note,
        say(
            "{note} is the {degree} of {chord}: {notes:row} is its {device}.",
            note=note, degree=degree, chord=chord, notes=stretch.pitches, device=here.found.name,
        ),
        say("{degree}", degree=degree),
    )  # fmt: skip
    return Question(
        drill=SLUG,
        skill=f"{SLUG}/{chord.kind}/{degree}/{chord.root}",
        prompt=say("{shown:row} is to be {degrees:run}. Which note is missing?", shown=shown, degrees=degrees),
        given=facts(chord=chord),
        about=about,
        choices=arranged(right, wrong, chance),
        row=stretch.row(missing),
    )


def _row(stretch: Stretch) -> str:
    return " ".join(str(heard.pitch) for heard in stretch.heard)


def _wrong(chord: Chord, asked: Degree, note: Pitch, key: str) -> Choice:
    named = name_over(chord, note).degree
    why: Text = say(
        "{note} is the {named} of {chord}, not the {asked}: {slip}.",
        note=note, named=named, chord=chord, asked=asked, slip=MISTAKES[key].says,
    )  # fmt: skip
    return Choice(note, why, say("{named}", named=named), key)
