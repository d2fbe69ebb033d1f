"""Arpeggio from the third: which four-note arpeggio gives a chord's 3, 5, 7 and 9?"""

from __future__ import annotations

from random import Random
from typing import TypeAlias

from engine.drills.choices import arranged
from engine.drills.material import AWKWARD, chords_for, without_double_accidentals
from engine.drills.mistakes import (
    MISTAKES,
    OTHER_SEVENTH,
    OTHER_THIRD,
    quality_on,
    twin,
    with_other_ninth,
    wrong_values,
)
from engine.drills.options import Options
from engine.drills.question import Choice, Question, Shape, Value, facts
from engine.theory.arpeggio import Arpeggio, arpeggio
from engine.theory.chord import Chord, chord_of
from engine.theory.degree import Degree
from engine.theory.key import Key
from engine.theory.naming import EXTENSION, OUTSIDE, PASSING, name_over
from engine.theory.pitch import Pitch, parse_pitch
from engine.theory.wording import Text, say

SLUG = "arpeggio-from-the-third"

LEVELS = {
    1: ("maj7", "m7", "7"),
    2: ("maj7", "m7", "7", "m7b5", "mMaj7"),
    3: ("maj7", "m7", "7", "m7b5", "mMaj7", "7b9", "7#11", "7b9b13", "maj7#5"),
}
# From which level a dominant is asked in the minor key it leads to as well.
MINOR_KEYS_FROM = 2

# The dominants of C# minor and F# minor; as Ab7 and Db7 they would lead to keys that nobody writes.
ROOT_IN_MINOR = {"Ab": "G#", "Db": "C#"}

MISTAKES_HERE = (
    "other third",
    "other seventh",
    "other ninth",
    "from the fifth",
    "from the seventh",
    "a third below",
)

Card: TypeAlias = tuple[Chord, Key | None]


def cards(options: Options) -> list[Card]:
    """Every chord, a dominant once in each key that decides its ninth."""
    return cards_for(SLUG, options)


def cards_for(slug: str, options: Options) -> list[Card]:
    """The same for any drill on this arpeggio."""
    found: list[Card] = []
    for chord in chords_for(slug, options, LEVELS):
        if chord.kind == "7":
            found.append((chord, _key_a_fifth_below(chord, "major")))
            if options.level >= MINOR_KEYS_FROM:
                twin_root = None if options.keys else ROOT_IN_MINOR.get(str(chord.root))
                in_minor = chord_of(parse_pitch(twin_root), "7") if twin_root else chord
                found.append((in_minor, _key_a_fifth_below(in_minor, "minor")))
        else:
            found.append((chord, None))
    wanted = without_double_accidentals([(chord, arpeggio(chord, 3, key).notes) for chord, key in found])
    return [card for card, keep in zip(found, wanted, strict=True) if keep]


def _key_a_fifth_below(chord: Chord, mode: str) -> Key:
    return Key(chord.root.up(3, 5), mode)


def question(card: Card, chance: Random) -> Question:
    """The question of a card; ``chance`` picks the wrong choices and the order."""
    chord, key = card
    asked = arpeggio(chord, 3, key)
    about = facts(chord=chord, key=key)
    candidates = wrong_values(MISTAKES_HERE, about, chance)
    candidates.sort(key=lambda candidate: _is_awkward(candidate[0]))
    wrong = [_wrong(asked, value, key, mistake) for value, mistake in candidates if isinstance(value, Chord)]
    return Question(
        drill=SLUG,
        skill=f"{SLUG}/{chord.kind}/{asked.degrees[3]}/{chord.root}",
        prompt=say("Which arpeggio from the chord's third gives {degrees:run}?", degrees=asked.degrees),
        given=facts(chord=chord, key=key),
        about=about,
        choices=arranged(_right(asked), wrong, chance),
        shape=_shape(asked),
    )


def _is_awkward(value: Value) -> bool:
    if not isinstance(value, Chord):
        return False
    return str(value.root) in AWKWARD or any(abs(note.accidental) > 1 for note in value.notes)


def _shape(asked: Arpeggio) -> Shape | None:
    if asked.own is None:
        return None
    return Shape(asked.chord, asked.own, (asked.chord.root, *asked.notes), (Degree("1"), *asked.degrees))


def _right(asked: Arpeggio) -> Choice:
    if asked.own is None:
        raise ValueError(f"the arpeggio from the third of {asked.chord} is no chord in thirds")
    return Choice(asked.own, explained(asked, asked.own), say("{degrees:run}", degrees=asked.degrees))


def explained(asked: Arpeggio, own: Chord) -> Text:
    """What the arpeggio, ``own`` by itself, does over its chord."""
    return say(
        "Over {chord}, {own} puts the {ninth} in the root's place: {notes:row} are {degrees:and}.",
        chord=asked.chord, own=own, ninth=asked.degrees[3], notes=asked.notes, degrees=asked.degrees,
    )  # fmt: skip


def _wrong(asked: Arpeggio, own: Chord, key: Key | None, mistake: str) -> Choice:
    chord = asked.chord
    start = {"from the fifth": 5, "from the seventh": 7}.get(mistake)
    fits = None if start else _chord_that_fits(asked, key, mistake)
    if start:
        degrees = arpeggio(chord, start, key).degrees
    elif fits:
        degrees = arpeggio(fits, 3).degrees
    else:
        degrees = tuple(name_over(chord, note).degree for note in own.notes)
    verdict = _verdict(chord, own, key) if MISTAKES[mistake].usable else None
    template = "{own} ({notes:row}) over {chord} is {degrees:run}: {verdict}{slip}."
    if fits:
        template = (
            "{own} ({notes:row}) is {degrees:run} of {fits}: {verdict}{slip}."
            if verdict
            else "{own} ({notes:row}) is {degrees:run} of {fits}, not of {chord}: {verdict}{slip}."
        )
    why = say(
        template,
        own=own, notes=own.notes, chord=chord, fits=fits or chord, degrees=degrees,
        verdict=verdict or say(""), slip=_slip(mistake, fits),
    )  # fmt: skip
    gloss = say("{degrees:run}", degrees=degrees)
    if fits:
        gloss = say("{degrees:run}: fits {fits}", degrees=degrees, fits=fits)
    return Choice(own, why, gloss, mistake, usable=verdict is not None)


def _slip(mistake: str, fits: Chord | None) -> Text:
    """What was done, with the quality of the tone that makes the arpeggio fit another chord."""
    rung = {"other third": 3, "other seventh": 7, "other ninth": 9}.get(mistake)
    if fits is None or rung is None:
        return say(MISTAKES[mistake].says)
    return say(MISTAKES[mistake].says, quality=quality_on(fits, rung))


def _verdict(chord: Chord, own: Chord, key: Key | None) -> Text | None:
    """That an arpeggio sounds well over the chord, None where a tone is foreign to the chord or to the key."""
    named = [(note, name_over(chord, note)) for note in own.notes]
    if any(name.role == OUTSIDE or (name.role == EXTENSION and not _in_key(note, key)) for note, name in named):
        return None
    passing = tuple(name.degree for _, name in named if name.role == PASSING)
    if passing:
        return say("usable with its {passing:and} in passing, not asked; ", passing=passing)
    return say("usable, not asked; ")


def _in_key(note: Pitch, key: Key | None) -> bool:
    return key is None or note.pitch_class in [tone.pitch_class for tone in key.scale]


def _chord_that_fits(asked: Arpeggio, key: Key | None, mistake: str) -> Chord | None:
    """The chord of the same root whose third the wrong arpeggio starts from."""
    if mistake == "other ninth":
        return with_other_ninth(asked.chord, key)
    return twin(asked.chord, {"other third": OTHER_THIRD, "other seventh": OTHER_SEVENTH}.get(mistake, {}))
