"""Hear the chord kind: a chord, held and then broken from its root; which kind is it?"""

from __future__ import annotations

from random import Random

from engine.drills.choices import arranged
from engine.drills.hear_the_degree import placed
from engine.drills.material import chords_for
from engine.drills.mistakes import MISTAKES, wrong_values
from engine.drills.options import Options
from engine.drills.question import Choice, Heard, Question, Row, facts
from engine.drills.slips_in_hearing import KINDS_HEARD
from engine.theory.chord import Chord
from engine.theory.naming import CHORD_TONE
from engine.theory.pitch import Pitch
from engine.theory.wording import say

SLUG = "hear-the-chord-kind"
LEVELS = {1: KINDS_HEARD[:3], 2: KINDS_HEARD[:8], 3: KINDS_HEARD}
MISTAKES_HERE = ("third misheard", "fifth misheard", "seventh misheard", "colour misheard", "two tones misheard")


def cards(options: Options) -> list[Chord]:
    """Every chord of the level."""
    return list(chords_for(SLUG, options, LEVELS))


def question(chord: Chord, chance: Random) -> Question:
    """The question of a chord; ``chance`` picks the wrong choices and the order."""
    about = facts(chord=chord, note=chord.root)
    right = Choice(
        chord,
        say("{chord} is {degrees:run}: {notes:row}.", chord=chord, degrees=chord.degrees, notes=chord.notes),
        say("{degrees:run}", degrees=chord.degrees),
    )
    candidates = [(value, key) for value, key in wrong_values(MISTAKES_HERE, about, chance) if isinstance(value, Chord)]
    # Kinds that a player meets no later than this one come first, then those that differ in one tone.
    candidates.sort(key=lambda one: (max(_level(one[0]), _level(chord)), one[1] == MISTAKES_HERE[-1]))
    notes = broken(chord)
    return Question(
        drill=SLUG,
        skill=f"{SLUG}/{chord.kind}/{chord.root}",
        prompt=say("A chord is held, then broken from its root up. Which one is it?"),
        given=facts(note=chord.root),
        about=about,
        choices=arranged(right, [_wrong(value, chord, key) for value, key in candidates], chance),
        row=Row(notes, chord.degrees, (CHORD_TONE,) * len(notes)),
        heard=Heard(((chord, notes),)),
        asks="sound",
    )


def broken(chord: Chord) -> tuple[Pitch, ...]:
    """The chord's tones going up from the root, in the octave that lies over the held chord."""
    notes: list[Pitch] = []
    for degree in chord.degrees:
        note = placed(chord, degree)
        while notes and note.midi < notes[-1].midi:
            note = note.in_octave((note.octave or 0) + 1)
        notes.append(note)
    return tuple(notes)


def _level(chord: Chord) -> int:
    return next(level for level, kinds in LEVELS.items() if chord.kind in kinds)


def _wrong(other: Chord, chord: Chord, key: str) -> Choice:
    here = [say("the {degree}", degree=degree) for degree in chord.degrees if degree not in other.degrees]
    missing = [say("no {degree}", degree=degree) for degree in other.degrees if degree not in chord.degrees]
    why = say(
        "{other} would be {degrees:run}: {slip}.",
        other=other, degrees=other.degrees, slip=say(MISTAKES[key].says, tone=[*here, *missing][0]),
    )  # fmt: skip
    return Choice(other, why, say("{degrees:run}", degrees=other.degrees), key)
