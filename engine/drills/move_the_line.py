"""Move the line: the same line in a new key, note by note."""

from __future__ import annotations

from random import Random
from typing import TypeAlias

from engine.drills import line_material as material
from engine.drills.choices import arranged
from engine.drills.line_material import Card
from engine.drills.mistakes import MISTAKES, wrong_values
from engine.drills.options import Options
from engine.drills.question import Choice, Question, facts
from engine.lines.devices.device import Found
from engine.lines.devices.recognise import analyse
from engine.theory.chord import Chord
from engine.theory.degree import Degree
from engine.theory.naming import name_over
from engine.theory.pitch import Pitch
from engine.theory.wording import say

SLUG = "move-the-line"
LEVELS = material.LEVELS
MISTAKES_HERE = ("not moved", "old sign", "same number, other sign", "a half step off", "a step above", "a step below",
                 "a third above", "a third too low")  # fmt: skip

Place: TypeAlias = tuple[Card, int]
_LONGEST = 5


def cards(options: Options) -> list[Place]:
    """Every arpeggio and run of the lines, once for each of its notes after the first."""
    return [
        (moving, place)
        for card in material.cards(SLUG, options, _fits)
        for moving in _really_moving(card, options)
        for place in range(1, min(card.found.count, _LONGEST))
    ]


def _really_moving(card: Card, options: Options) -> list[Card]:
    """The card, so that the line moves: what stands on its root already comes from a fourth above.

    A player's own line goes up a fourth instead, the next key round the cycle, if it is to go nowhere else.
    """
    old = card.line.chord_of(card.line.notes[card.found.first]).root
    if old.pitch_class != card.root.pitch_class:
        return [card]
    if options.line and not options.keys and not options.chords:
        return [Card(card.line, card.found, _fourth_up(card.root))] if options.level == 1 else []
    return [Card(material.moved(card.line, old, _fourth_up(old)), card.found, card.root)]


def _fits(found: Found) -> bool:
    return found.name.startswith("arpeggio") or found.name.endswith("run")


def _fourth_up(root: Pitch) -> Pitch:
    return root.up(3, 5).readable()


def question(card: Place, chance: Random) -> Question:
    """The question of a card; ``chance`` picks the wrong choices and the order."""
    here, place = card
    new = material.stretch(here)
    old = material.Stretch(analyse(here.line), new.first, new.last)
    shown = slice(0, _LONGEST)
    heard = new.analysis.notes[new.first + place]
    chord, degree, note = heard.chord, heard.degree, new.pitches[place]
    about = facts(
        chord=chord, note=note, degree=degree, old=old.pitches[place], key=new.analysis.line.key,
        line=" ".join(str(one) for one in old.pitches[shown]),
    )  # fmt: skip
    right = Choice(
        note,
        say(
            "{old} was the {degree} of {before}; the {degree} of {chord} is {note}.",
            old=old.pitches[place], degree=degree,
            before=old.analysis.notes[new.first + place].chord, chord=chord, note=note,
        ),
        say("{degree} of {chord}", degree=degree, chord=chord),
    )  # fmt: skip
    wrong = [
        _wrong(chord, degree, value, key)
        for value, key in material.plain_first(wrong_values(MISTAKES_HERE, about, chance), chord)
    ]
    prompt = say(
        "{line:row} over {before} moves to {chord}. After {begun:row}, which note comes next?",
        line=old.pitches[shown], before=old.chord, chord=new.chord, begun=new.pitches[:place],
    )  # fmt: skip
    return Question(
        drill=SLUG,
        skill=f"{SLUG}/{chord.kind}/{degree}/{chord.root}",
        prompt=prompt,
        given=facts(chord=new.chord),
        about=about,
        choices=arranged(right, wrong, chance),
        row=material.Stretch(new.analysis, new.first, new.first + place).row(place),
    )


def _wrong(chord: Chord, asked: Degree, note: Pitch, key: str) -> Choice:
    named = name_over(chord, note).degree
    why = say(
        "{note} is the {named} of {chord}, and the line has its {asked} there: {slip}.",
        note=note, named=named, chord=chord, asked=asked, slip=MISTAKES[key].says,
    )  # fmt: skip
    return Choice(note, why, say("{named} of {chord}", named=named, chord=chord), key)
