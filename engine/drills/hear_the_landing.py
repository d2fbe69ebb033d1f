"""Hear the landing: a short line over a dominant, then the chord it leads to; on which degree of that does it land?"""

from __future__ import annotations

from random import Random
from typing import NamedTuple

from engine.drills.choices import arranged
from engine.drills.material import chords_for, usual_root, without_double_accidentals
from engine.drills.mistakes import MISTAKES, wrong_values
from engine.drills.options import Options
from engine.drills.question import Choice, Heard, Question, Row, Value, facts
from engine.theory.chord import Chord, chord_of
from engine.theory.degree import Degree
from engine.theory.naming import CHORD_TONE, EXTENSION, OUTSIDE, name_over
from engine.theory.pitch import Pitch
from engine.theory.wording import Text, say

SLUG = "hear-the-landing"
LEVELS = {1: ("7",), 2: ("7", "7sus4"), 3: ("7", "7sus4", "7b9", "7#5")}
# What a dominant leads to, a fifth below it, by level.
INTO = {1: ("maj7", "m7"), 2: ("maj7", "m7", "6", "m6"), 3: ("maj7", "m7", "6", "m6", "mMaj7")}
MISTAKES_HERE = ("other third misheard", "a chord tone misheard", "a half step misheard", "a whole step misheard")


class Way(NamedTuple):
    """Degrees over the dominant, each with its octave above the root, and the degree of the next chord they lead to.

    ``into``: the third that this chord must have, empty where either will do; ``over``: a degree that the dominant's
    symbol must name.
    """

    notes: str
    to: str
    into: str = ""
    over: str = ""


# Composed for this drill. 0: in the octave above the dominant's root, 1: the next one. The landing is the nearest one.
WAYS = (
    Way("3.0 5.0 9.1 1.1 b7.0", "3", "3"),
    Way("5.0 1.1 9.1 1.1 b7.0", "3", "3"),
    Way("5.0 3.0 5.0 #5.0", "3", "3"),
    Way("5.0 b7.0 3.1 9.1", "5", "3"),
    Way("5.0 1.1 b7.0 9.1", "5", "3"),
    Way("1.1 9.1 1.1 11.1", "7", "3"),
    Way("5.0 b7.0 1.1 9.1", "7", "3"),
    Way("1.1 9.1 1.1 b7.0 13.0 b13.0", "9", "3"),
    Way("9.1 b7.0 1.1 13.0", "9", "3"),
    Way("1.1 b7.0 1.1 13.0", "9", "3"),
    Way("1.1 3.1 9.1 1.1", "6", "3"),
    Way("3.0 5.0 b9.1 1.1 b7.0", "b3", "b3"),
    Way("5.0 1.1 b9.1 b7.0", "b3", "b3"),
    Way("3.0 1.0 b7.0 b9.1 b7.0", "b3", "b3"),
    Way("5.0 b7.0 3.1 b9.1", "5", "b3"),
    Way("5.0 b7.0 1.1 b9.1", "b7", "b3"),
    Way("b9.1 b7.0 1.1 b13.0", "9", "b3"),
    Way("5.0 b7.0 b9.1 3.1", "1"),
    Way("1.1 b7.0 5.0 3.0", "1"),
    Way("b7.0 5.0 b7.0 7.0", "5"),
    Way("3.0 b7.0 b9.1 7.0", "5"),
    Way("3.0 #5.0 b7.0 1.1 #5.0", "3", "3", "#5"),
    Way("3.0 #5.0 1.1 #5.0 b7.0", "3", "3", "#5"),
    Way("3.1 1.1 #5.0 b7.0", "b3", "b3", "#5"),
)
_LOWEST = 57  # A3


class Card(NamedTuple):
    """A dominant, the chord that follows, and the way from one into the other."""

    chord: Chord
    following: Chord
    way: Way


def cards(options: Options) -> list[Card]:
    """Every dominant with every way into every chord that it leads to."""
    highest = options.level if not options.chords else max(INTO)
    found = [
        Card(chord, following, way)
        for chord in chords_for(SLUG, options, LEVELS)
        for following in _followings(chord, highest)
        for way in WAYS
        if _fits(way, chord, following)
    ]
    shown = [(card.chord, (*_line(card.chord, card.way), *card.following.notes)) for card in found]
    return [card for card, keep in zip(found, without_double_accidentals(shown), strict=True) if keep]


def _followings(chord: Chord, highest: int) -> list[Chord]:
    """The chords a fifth below; one that nobody writes, only where there is no other."""
    reached = [chord_of(chord.root.up(3, 5), kind) for kind in INTO[highest]]
    return [one for one in reached if usual_root(one.kind or "", one.root)] or reached


def _fits(way: Way, chord: Chord, following: Chord) -> bool:
    names = [note.split(".")[0] for note in way.notes.split()]
    spoilt = set(chord.spoilt)
    if chord.has("#5"):
        spoilt |= {"13", "b13"}
    if not chord.has("3"):
        spoilt |= {"3"}
    there = following.has(way.to) or way.to == "9"
    led = (not way.into or following.has(way.into)) and (not way.over or chord.has(way.over))
    return there and led and not spoilt & set(names)


def question(card: Card, chance: Random) -> Question:
    """The question of a card; ``chance`` picks the wrong choices and the order."""
    chord, following, way = card
    degrees = tuple(Degree(note.split(".")[0]) for note in way.notes.split())
    notes = _line(chord, way)
    degree = Degree(way.to)
    note = degree.over(following.root)
    landing = note.nearest_to(notes[-1])
    line = " ".join(map(str, (*notes, landing)))
    about = facts(chord=chord, next=following, note=note, degree=degree, line=line)
    candidates = wrong_values(MISTAKES_HERE, about, chance)
    # The third of the other quality is always there, because it tells major from minor; then comes where lines do end.
    candidates.sort(key=lambda one: (one[1] != MISTAKES_HERE[0], _rarely(following, one[0])))
    wrong = [_wrong(following, note, degree, value, key) for value, key in candidates if isinstance(value, Degree)]
    roles = [*(name_over(chord, one).role for one in notes), name_over(following, note).role]
    return Question(
        drill=SLUG,
        skill=f"{SLUG}/{chord.kind}-{following.kind}/{degree}/{chord.root}",
        prompt=say(
            "The line goes to a chord a fifth below, major or minor. On which degree of that does it end?",
        ),
        given=facts(chord=chord),
        about=about,
        choices=arranged(_right(following, note, degree), wrong, chance),
        row=Row((*notes, landing), (*degrees, degree), tuple(roles), bars=(len(notes),)),
        heard=Heard(((chord, notes), (following, (landing,)))),
        asks="sound",
    )  # fmt: skip


def _line(chord: Chord, way: Way) -> tuple[Pitch, ...]:
    """The notes of a way, in the octave that lies over the held chord."""
    parts = [part.split(".") for part in way.notes.split()]
    steps = [(Degree(name).steps + 7 * int(up), Degree(name).semitones + 12 * int(up)) for name, up in parts]
    lowest = min(semitones for _, semitones in steps)
    octave = next(octave for octave in (3, 4, 5) if chord.root.in_octave(octave).midi + lowest >= _LOWEST)
    return tuple(chord.root.in_octave(octave).up(*step) for step in steps)


def _rarely(chord: Chord, value: Value) -> int:
    """How seldom lines end on a degree of a chord."""
    role = name_over(chord, value.over(chord.root)).role if isinstance(value, Degree) else OUTSIDE
    return (CHORD_TONE, EXTENSION).index(role) if role in (CHORD_TONE, EXTENSION) else 2


def _quality(chord: Chord) -> Text:
    return say("major" if chord.has("3") else "minor")


def _right(following: Chord, note: Pitch, degree: Degree) -> Choice:
    why = say(
        "The chord is {next}, {quality}, and the line ends on {note}, its {degree}.",
        next=following, quality=_quality(following), note=note, degree=degree,
    )  # fmt: skip
    return Choice(degree, why, say("{note}", note=note))


def _wrong(following: Chord, asked: Pitch, right: Degree, degree: Degree, key: str) -> Choice:
    note = degree.over(following.root).readable()
    why = say(
        "{slip}. The {degree} of {next} would be {note}; the line ends on {asked}, the {right}.",
        slip=say(MISTAKES[key].says), degree=degree, next=following, note=note, asked=asked, right=right,
    )  # fmt: skip
    return Choice(degree, why, say("{note}", note=note), key)
