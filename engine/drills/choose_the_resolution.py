"""Choose the resolution: a note over a chord, and the chord that follows; where does the note go?

One of two things is asked, and said: the guide tone (3 or 7 of the next
chord) that is nearest by step, or the third of the next chord. A tie or a
held tone is never asked.
"""

from __future__ import annotations

from dataclasses import dataclass
from random import Random

from engine.drills.choices import arranged
from engine.drills.landings import GUIDE_TONES, nearest, step_name, wrong_landing
from engine.drills.material import chords_for, usual_root, without_double_accidentals
from engine.drills.mistakes import wrong_values
from engine.drills.options import Options
from engine.drills.question import Choice, Question, facts
from engine.theory.chord import Chord, chord_of
from engine.theory.degree import Degree
from engine.theory.naming import name_over
from engine.theory.pitch import Pitch
from engine.theory.resolution import Step
from engine.theory.wording import Text, say

SLUG = "choose-the-resolution"
GUIDE_TONE = "guide tone"
THIRD = "third"
ASKS = (GUIDE_TONE, THIRD)

_DOWN_A_FIFTH = (3, 5)
_DOWN_A_HALF_STEP = (-1, -1)
_UP_A_WHOLE_STEP = (1, 2)

_TO_ANY = ("maj7", "m7", "7")


@dataclass(frozen=True, slots=True)
class Move:
    """A chord change: the kind left, how its root moves (letter steps, semitones), the kinds reached, its level."""

    kind: str
    root: tuple[int, int]
    into: tuple[str, ...]
    level: int


MOVES = (
    Move("7", _DOWN_A_FIFTH, ("maj7", "m7"), 1),
    Move("m7", _DOWN_A_FIFTH, ("7",), 1),
    Move("7", _DOWN_A_FIFTH, ("7", "mMaj7"), 2),
    Move("m7b5", _DOWN_A_FIFTH, ("7",), 2),
    Move("7b9", _DOWN_A_FIFTH, _TO_ANY, 3),
    Move("7#9", _DOWN_A_FIFTH, _TO_ANY, 3),
    Move("7#5", _DOWN_A_FIFTH, _TO_ANY, 3),
    Move("7b9b13", _DOWN_A_FIFTH, ("m7", "mMaj7", "maj7"), 3),
    Move("7", _DOWN_A_HALF_STEP, _TO_ANY, 3),
    Move("7", _UP_A_WHOLE_STEP, ("maj7",), 3),
)
LEVELS = {level: tuple(dict.fromkeys(move.kind for move in MOVES if move.level <= level)) for level in (1, 2, 3)}
# Degrees that a line may leave from besides the chord's own tones.
UPPER = {1: (), 2: ("9",), 3: ("9", "13")}

MISTAKES_HERE = {
    GUIDE_TONE: (
        "third of the other quality",
        "seventh of the other quality",
        "root of the next chord",
        "fifth of the next chord",
        "third of the next chord",
        "seventh of the next chord",
        "stayed",
        "other way",
    ),
    THIRD: (
        "third of the other quality",
        "root of the next chord",
        "seventh of the next chord",
        "third of the chord before",
        "stayed",
        "other way",
    ),
}


@dataclass(frozen=True, slots=True)
class Card:
    """One question to come: from ``note`` over ``chord`` into ``following``, asking one of ``ASKS``."""

    chord: Chord
    note: Pitch
    following: Chord
    ask: str


def cards(options: Options) -> list[Card]:
    """Every change with every note that has exactly one right answer."""
    highest = options.level if not options.chords else max(LEVELS)
    found = [
        Card(chord, note, following, ask)
        for chord in chords_for(SLUG, options, LEVELS)
        for following in _followings(chord, highest)
        for note in _notes_over(chord, following, options.level)
        for ask in ASKS
        if landing(note, following, ask) is not None
    ]
    wanted = without_double_accidentals(
        [(card.chord, (card.note, card.following.root, *card.following.notes)) for card in found]
    )
    return [card for card, keep in zip(found, wanted, strict=True) if keep]


def _followings(chord: Chord, highest: int) -> list[Chord]:
    """The chords that the moves lead to; one that nobody writes, only where the chord itself leaves no other."""
    reached = [
        chord_of(chord.root.up(*move.root), kind)
        for move in MOVES
        if move.kind == chord.kind and move.level <= highest
        for kind in move.into
    ]
    return [following for following in reached if usual_root(following.kind or "", following.root)] or reached


def _notes_over(chord: Chord, following: Chord, level: int) -> list[Pitch]:
    """The notes that a line may leave from; into a minor chord no natural 9 or 13, which belong to major."""
    upper = [Degree(name) for name in UPPER[level] if following.has("3") and _fits(chord, name)]
    return [degree.over(chord.root) for degree in (*chord.degrees, *upper)]


def _fits(chord: Chord, name: str) -> bool:
    return not chord.on_rung(Degree(name).rung) and name_over(chord, Degree(name).over(chord.root)).role == "extension"


def landing(note: Pitch, following: Chord, ask: str) -> Step | None:
    """The one right answer, None where there is a tie, a held tone or no step to it.

    For a guide tone: the nearest of 3 and 7, a half or a whole step away. For
    the third: the third, if it is a half or a whole step away.
    """
    step = nearest(note, following, (3,) if ask == THIRD else GUIDE_TONES)
    return step if step and step.semitones else None


def question(card: Card, chance: Random) -> Question:
    """The question of a card; ``chance`` picks the wrong choices and the order."""
    target = landing(card.note, card.following, card.ask)
    if target is None:
        raise ValueError(f"no one landing from {card.note} into {card.following}")
    about = facts(chord=card.chord, note=card.note, next=card.following, ask=card.ask)
    right = Choice(target.note, _why_right(card, target), say("{degree}", degree=target.degree))
    candidates = wrong_values(MISTAKES_HERE[card.ask], about, chance)
    # The third of the other quality is always there: it is what this drill is about.
    candidates.sort(key=lambda candidate: candidate[1] != "third of the other quality")
    wrong = [wrong_landing(about, value, mistake) for value, mistake in candidates if isinstance(value, Pitch)]
    leaves = name_over(card.chord, card.note).degree
    template = (
        "{note} is the {degree} of {chord}. Which guide tone of {next} does it step to?"
        if card.ask == GUIDE_TONE
        else "The line leaves {chord} on {note} and lands on the third of {next}. On which note does it land?"
    )
    return Question(
        drill=SLUG,
        skill=f"{SLUG}/{card.ask}/{card.chord.kind}-{card.following.kind}/{leaves}-{target.degree}/{card.chord.root}",
        prompt=say(template, note=card.note, degree=leaves, chord=card.chord, next=card.following),
        given=facts(chord=card.chord, note=card.note, next=card.following),
        about=about,
        choices=arranged(right, wrong, chance),
    )


def _why_right(card: Card, target: Step) -> Text:
    return say(
        "{note} {step}: {target} is the {degree} of {next}.",
        note=card.note, step=say(step_name(target.semitones)), target=target.note,
        degree=target.degree, next=card.following,
    )  # fmt: skip
