"""Guide tones: a line of thirds and sevenths runs through a progression; which is its next note?

The line starts on the 3 or the 7 of the first chord and goes on to the
nearest 3 or 7 of each next one, held or by step. A tie or a leap is never
asked, nor is what comes behind one.
"""

from __future__ import annotations

from dataclasses import dataclass
from random import Random

from engine.drills.choices import arranged
from engine.drills.landings import GUIDE_TONES, nearest, step_name, wrong_landing
from engine.drills.material import refuse_others, roots_of_level, usual_root, without_double_accidentals
from engine.drills.mistakes import wrong_values
from engine.drills.options import Options
from engine.drills.question import Choice, Question, facts
from engine.theory.chord import Chord, chord_of
from engine.theory.key import Key
from engine.theory.naming import name_over
from engine.theory.pitch import Pitch
from engine.theory.resolution import Step
from engine.theory.wording import Text, say

SLUG = "guide-tones"

# Roots above the tonic, as letter steps and semitones.
NUMERALS = {
    "I": (0, 0), "bII": (1, 1), "II": (1, 2), "III": (2, 4), "IV": (3, 5),
    "V": (4, 7), "VI": (5, 9), "bVII": (6, 10),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Progression:
    """``name`` is part of a skill's name; ``chords`` as NUMERAL:KIND; ``home``: the tonic's kind; ``level``."""

    name: str
    chords: str
    home: str
    level: int

    @property
    def members(self) -> tuple[tuple[str, str], ...]:
        """Numeral and kind of each chord."""
        return tuple((numeral, kind) for numeral, _, kind in (part.partition(":") for part in self.chords.split()))


PROGRESSIONS = (
    Progression("ii-V-I", "II:m7 V:7 I:maj7", "maj7", 1),
    Progression("minor-ii-V-i", "II:m7b5 V:7 I:m7", "mMaj7", 2),
    Progression("I-vi-ii-V", "I:maj7 VI:m7 II:m7 V:7", "maj7", 2),
    Progression("I-IV", "I:maj7 IV:maj7", "maj7", 2),
    Progression("blues-I-IV-I", "I:7 IV:7 I:7", "7", 2),
    Progression("minor-V-i", "V:7 I:mMaj7", "mMaj7", 2),
    Progression("minor-ii-V7b9-i", "II:m7b5 V:7b9 I:mMaj7", "mMaj7", 3),
    Progression("minor-ii-V7#5-i", "II:m7b5 V:7#5 I:m7", "mMaj7", 3),
    Progression("ii-V7b9-I", "II:m7 V:7b9 I:maj7", "maj7", 3),
    Progression("ii-bII-I", "II:m7 bII:7 I:maj7", "maj7", 3),
    Progression("iv-bVII-I", "IV:m7 bVII:7 I:maj7", "maj7", 3),
    Progression("iii-VI7b9-ii-V", "III:m7 VI:7b9 II:m7 V:7", "maj7", 3),
    Progression("I-VI7-ii-V", "I:maj7 VI:7 II:m7 V:7", "maj7", 3),
    Progression("III7-VI7-II7-V7", "III:7 VI:7 II:7 V:7", "maj7", 3),
)

# The kinds of chord that the line may be asked to leave.
LEVELS = {
    level: tuple(dict.fromkeys(kind for row in PROGRESSIONS if row.level <= level for _, kind in row.members[:-1]))
    for level in (1, 2, 3)
}

MISTAKES_HERE = (
    "third of the other quality",
    "seventh of the other quality",
    "third of the next chord",
    "seventh of the next chord",
    "root of the next chord",
    "fifth of the next chord",
    "stayed",
    "other way",
    "third of the chord before",
    "seventh of the chord before",
    "guide tone of the chord after",
)
_BEFORE = ("third of the chord before", "seventh of the chord before")  # one of them is the note itself
_OTHER_QUALITY = {3: "third of the other quality", 7: "seventh of the other quality"}
_OTHER_GUIDE_TONE = {3: "seventh of the next chord", 7: "third of the next chord"}


@dataclass(frozen=True, slots=True)
class Card:
    """One question to come: ``thread`` is the line so far, a note for each chord before the one that is asked."""

    row: Progression
    key: Key
    chords: tuple[Chord, ...]
    thread: tuple[Pitch, ...]


def cards(options: Options) -> list[Card]:
    """Every progression in every key, from either guide tone, asked at each chord that the line reaches."""
    refuse_others(SLUG, options, LEVELS[max(LEVELS)])
    highest = options.level if not options.chords else max(LEVELS)
    found = [
        card
        for row in PROGRESSIONS
        if row.level <= highest
        for tonic in options.keys or roots_of_level(row.home, options.level)
        for card in _cards_in(row, Key(tonic, "minor" if row.home == "mMaj7" else "major"))
        if not options.chords or card.chords[len(card.thread) - 1].kind in options.chords
    ]
    wanted = without_double_accidentals([(card.chords[0], _shown(card)) for card in found])
    return [card for card, keep in zip(found, wanted, strict=True) if keep]


def _cards_in(row: Progression, key: Key) -> list[Card]:
    chords = tuple(chord_of(_root(key.tonic, numeral, kind), kind) for numeral, kind in row.members)
    found = []
    for rung in GUIDE_TONES:
        thread = [degree.over(chords[0].root) for degree in chords[0].on_rung(rung)]
        for following in chords[1:]:
            step = nearest(thread[-1], following)
            if step is None:
                break
            found.append(Card(row, key, chords, tuple(thread)))
            thread.append(step.note)
    return found


def _root(tonic: Pitch, numeral: str, kind: str) -> Pitch:
    """The root that a numeral stands for; a flat one in the spelling that charts have: B7 before B♭maj7."""
    steps, semitones = NUMERALS[numeral]
    root = tonic.up(steps, semitones)
    if numeral.startswith("b") and not usual_root(kind, root):
        return tonic.up(steps - 1, semitones)
    return root


def _shown(card: Card) -> tuple[Pitch, ...]:
    """Every note that the question shows or may land on."""
    guides = [
        degree.over(chord.root) for chord in card.chords for rung in GUIDE_TONES for degree in chord.on_rung(rung)
    ]
    return (*(chord.root for chord in card.chords), *guides)


def question(card: Card, chance: Random) -> Question:
    """The question of a card; ``chance`` picks the wrong choices and the order."""
    place = len(card.thread)
    chord, following = card.chords[place - 1 : place + 1]
    note = card.thread[-1]
    target = nearest(note, following)
    if target is None:
        raise ValueError(f"no one guide tone of {following} is nearest to {note}")
    leaves = name_over(chord, note).degree
    given = facts(chord=chord, next=following, note=note, progression=card.chords, thread=card.thread)
    about = {**given, **facts(degree=leaves, key=card.key, after=(*card.chords, None)[place + 1])}
    # Its other quality and the other guide tone are always there: they are what this drill is about.
    always = (_OTHER_QUALITY[target.degree.rung], _OTHER_GUIDE_TONE[target.degree.rung])
    candidates = [
        (value, mistake)
        for value, mistake in wrong_values(MISTAKES_HERE, about, chance)
        if isinstance(value, Pitch) and not (value == note and mistake in _BEFORE)
    ]
    candidates.sort(key=lambda candidate: (candidate[1] not in always, abs(candidate[0].accidental) > 1))
    wrong = [wrong_landing(about, value, mistake) for value, mistake in candidates]
    numeral = card.row.members[place][0]
    return Question(
        drill=SLUG,
        skill=f"{SLUG}/{card.row.name}/{numeral}/{leaves}-{target.degree}/{card.key}",
        prompt=say(
            "The guide-tone line is on {note}, the {degree} of {chord}."
            " Which guide tone of {next} is nearest, held or by step?",
            note=note, degree=leaves, chord=chord, next=following,
        ),
        given=given,
        about=about,
        choices=arranged(_right(chord, note, following, target), wrong, chance),
    )  # fmt: skip


def _right(chord: Chord, note: Pitch, following: Chord, target: Step) -> Choice:
    return Choice(target.note, _why_right(chord, note, following, target), say("{degree}", degree=target.degree))


def _why_right(chord: Chord, note: Pitch, following: Chord, target: Step) -> Text:
    """A held note is called held, never a resolution."""
    leaves = name_over(chord, note).degree
    if target.semitones:
        return say(
            "{note} {step} to {target}: from the {from_degree} of {chord} to the {to_degree} of {next}.",
            note=note, step=say(step_name(target.semitones)), target=target.note,
            from_degree=leaves, chord=chord, to_degree=target.degree, next=following,
        )  # fmt: skip
    if target.note == note:
        return say(
            "{note} is held: the {from_degree} of {chord} is the {to_degree} of {next}.",
            note=note, from_degree=leaves, chord=chord, to_degree=target.degree, next=following,
        )  # fmt: skip
    return say(
        "{note} is held and now written {target}: the {from_degree} of {chord} is the {to_degree} of {next}.",
        note=note, target=target.note, from_degree=leaves, chord=chord, to_degree=target.degree, next=following,
    )  # fmt: skip
