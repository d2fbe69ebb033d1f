"""Degrees of the line: a stretch of a line over its chord; which degrees is it?"""

from __future__ import annotations

from random import Random
from typing import TypeAlias

from engine.drills import line_material as material
from engine.drills.choices import arranged
from engine.drills.line_material import Card
from engine.drills.mistakes import MISTAKES, wrong_values
from engine.drills.options import Options
from engine.drills.question import Choice, Question, Value, facts
from engine.lines.devices.device import Found
from engine.theory.chord import Chord, chord_of
from engine.theory.degree import Degree
from engine.theory.pitch import Pitch
from engine.theory.wording import say

SLUG = "degrees-of-the-line"
LEVELS = material.LEVELS
MISTAKES_HERE = ("counted from the next chord", "counted from the key", "first note as root", "one sign off")

# So many notes are asked at once.
_LONGEST = 4
Part: TypeAlias = tuple[Card, int]


def cards(options: Options) -> list[Part]:
    """Every arpeggio, and every run in parts of four notes over one chord."""
    found: dict[object, Part] = {}
    for card in material.cards(SLUG, options, _fits):
        degrees, _, chords, _ = material.shape_of(card.line, card.found)
        for start in range(0, card.found.count - _LONGEST + 1, _LONGEST):
            found.setdefault((degrees[start : start + _LONGEST], chords[0], card.root), (card, start))
    return list(found.values())


def _fits(found: Found) -> bool:
    return found.name.startswith("arpeggio") or found.name in ("half-whole run", "altered run", "harmonic minor run")


def question(card: Part, chance: Random) -> Question:
    """The question of a card; ``chance`` picks the wrong choices and the order."""
    here, start = card
    whole = material.stretch(here)
    stretch = material.Stretch(whole.analysis, whole.first + start, whole.first + start + _LONGEST - 1)
    heard = stretch.heard
    chord, key = stretch.chord, stretch.analysis.line.key
    changes = stretch.analysis.line.changes
    place = heard[0].place
    following = changes[place + 1].chord if place + 1 < len(changes) else None
    tonic = chord_of(key.tonic, "maj7" if key.mode == "major" else "mMaj7")
    degrees = tuple(one.degree for one in heard)
    notes = " ".join(str(note) for note in stretch.pitches)
    about = facts(chord=chord, notes=notes, line=notes, key=key, next=following, tonic=tonic)
    right = Choice(
        degrees,
        say("Over {chord}, {notes:row} are {degrees:and}.", chord=chord, notes=stretch.pitches, degrees=degrees),
        say("{notes:row}", notes=stretch.pitches),
    )
    wrong = [
        _wrong(chord, stretch.pitches, value, mistake, following)
        for value, mistake in sorted(
            wrong_values(MISTAKES_HERE, about, chance), key=lambda one: _awkwardness(chord, one[0])
        )
        if isinstance(value, tuple)
    ]
    return Question(
        drill=SLUG,
        skill=f"{SLUG}/{chord.kind}/{'-'.join(map(str, degrees))}/{chord.root}",
        prompt=say("{notes:row}: which degrees of {chord}?", notes=stretch.pitches, chord=chord),
        given=facts(chord=chord),
        about=about,
        choices=arranged(right, wrong, chance),
        row=stretch.row(),
    )


def _awkwardness(chord: Chord, value: Value) -> int:
    """1 where a note takes two signs, 2 where a degree does; such choices come last."""
    degrees = value if isinstance(value, tuple) else ()
    doubles = any(abs(degree.over(chord.root).accidental) > 1 for degree in degrees)
    return 2 if any("bb" in degree.name for degree in degrees) else int(doubles)


def _wrong(
    chord: Chord, asked: tuple[Pitch, ...], degrees: tuple[Degree, ...], key: str, following: Chord | None
) -> Choice:
    notes = tuple(degree.over(chord.root) for degree in degrees)
    why = say(
        "{degrees:run} of {chord} is {notes:row}, not {asked:row}: {slip}.",
        degrees=degrees, chord=chord, notes=notes, asked=asked,
        slip=say(MISTAKES[key].says, next=following or chord),
    )  # fmt: skip
    return Choice(degrees, why, say("{notes:row}", notes=notes), key)
