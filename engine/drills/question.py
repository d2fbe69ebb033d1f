"""What a question is, whatever drill asks it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TypeAlias

from engine.neck.instrument import Instrument, Place
from engine.theory.chord import Chord
from engine.theory.degree import Degree
from engine.theory.key import Key
from engine.theory.keyboard import key_name, key_names
from engine.theory.pitch import Pitch
from engine.theory.wording import USUAL, Profile, Text, render, say

Fact: TypeAlias = Pitch | Degree | Chord | Key | str | tuple[Chord, ...] | tuple[Pitch, ...]


@dataclass(frozen=True, slots=True)
class Tap:
    """A place of a neck as an answer; ``step``: the step that it is a tap of, from 0."""

    place: Place
    step: int = 0

    def __str__(self) -> str:
        return f"{self.place.string}/{self.place.fret}"


@dataclass(frozen=True, slots=True)
class Press:
    """A key of a keyboard as an answer, by its MIDI number; ``step`` as of a tap."""

    key: int
    step: int = 0

    def __str__(self) -> str:
        return key_name(self.key)


@dataclass(frozen=True, slots=True)
class Tab:
    """Notes as they lie on a neck, one after the other: a choice that is shown as a TAB."""

    places: tuple[Place, ...]

    def __str__(self) -> str:
        return " ".join(f"{string}/{fret}" for string, fret in self.places)


# A word is the name of a device.
Value: TypeAlias = Pitch | Degree | Chord | str | tuple[Degree, ...] | Tap | Press | Tab


@dataclass(frozen=True, slots=True)
class Choice:
    """One possible answer.

    ``why`` says what it really is over the chord, right or wrong, in a
    sentence; ``gloss`` says it in the fewest signs, for the card. ``mistake``
    is the key in the table of mistakes of what a player who picks it has done,
    None for the right one. ``usable``: it would sound well there, but is not
    what is asked.
    """

    value: Value
    why: Text
    gloss: Text
    mistake: str | None = None
    usable: bool = False

    @property
    def right(self) -> bool:
        return self.mistake is None

    @property
    def label(self) -> Text:
        """What the page shows for it; for a place of the neck or a key, says."""
        if isinstance(self.value, Tap):
            string, fret = self.value.place
            return say("string {string}, fret {fret}", string=string, fret=fret)
        if isinstance(self.value, Press):
            return say("{names:or}", names=key_names(self.value.key))
        if isinstance(self.value, Tab):
            return say("string and fret {places}", places=str(self.value))
        return Text("{value:run}", (("value", self.value),))


@dataclass(frozen=True, slots=True)
class Shape:
    """A chord and an arpeggio inside it, to be drawn as one shape.

    ``notes`` and ``degrees`` go up from the root, which is ``omitted`` from
    the arpeggio; ``own`` is the arpeggio's own chord.
    """

    chord: Chord
    own: Chord
    notes: tuple[Pitch, ...]
    degrees: tuple[Degree, ...]
    omitted: int = 1


@dataclass(frozen=True, slots=True)
class Row:
    """Notes of a line to be drawn one after the other, each with its ``degrees`` and ``roles``.

    ``missing``: the index of a note that only the answer shows. ``bars``: the
    indexes of the notes before which the chord changes.
    """

    notes: tuple[Pitch, ...]
    degrees: tuple[Degree, ...]
    roles: tuple[str, ...]
    missing: int | None = None
    bars: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Mark:
    """A place of the neck that is marked from the start, and what is written there; ``role`` as in ``view.marks``."""

    place: Place
    label: Text
    role: str


@dataclass(frozen=True, slots=True)
class Board:
    """The part of a neck on which a question is answered: the frets from ``low`` to ``high``, 0 being the open strings.

    ``marks`` are shown before the answer.
    """

    instrument: Instrument
    low: int
    high: int
    marks: tuple[Mark, ...] = ()

    @property
    def places(self) -> tuple[Place, ...]:
        """Every place of it, string by string from the highest, each from ``low`` up."""
        strings = range(1, len(self.instrument.strings) + 1)
        return tuple(Place(string, fret) for string in strings for fret in range(self.low, self.high + 1))


@dataclass(frozen=True, slots=True)
class KeyMark:
    """The same on a key of a keyboard, which its MIDI number names."""

    key: int
    label: Text
    role: str


@dataclass(frozen=True, slots=True)
class Keys:
    """The part of a keyboard on which a question is answered: the MIDI keys from ``low`` to ``high``, both white.

    ``marks`` are shown before the answer.
    """

    low: int
    high: int
    marks: tuple[KeyMark, ...] = ()

    @property
    def places(self) -> tuple[int, ...]:
        """Every key of it, from the lowest up."""
        return tuple(range(self.low, self.high + 1))


@dataclass(frozen=True, slots=True)
class Heard:
    """What is played of a question that is answered by ear: chords in turn, each held under its notes, with octaves."""

    bars: tuple[tuple[Chord, tuple[Pitch, ...]], ...]


@dataclass(frozen=True, slots=True)
class Question:
    """A question that is answered by one choice.

    One that ``asks`` for a "tap" has a ``board``, and the values of its choices
    are taps, or presses of keys: step by step one for every place of the board, in the
    board's order. Those that are right are what the step accepts; one of any step but
    the last answers nothing yet, so it is no answer that is ever kept.

    One that ``asks`` for a "sound" is ``heard``; its ``row`` shows the same notes to
    who would rather look, and what is ``given`` does not tell the answer. It may have a
    ``board`` too, to answer on: the notes that were heard, but for those that are marked there.

    ``drill``: its slug. ``skill``: what a right answer shows; the same name
    for the same skill, for good. ``given``: what the player is shown besides
    the prompt. ``about``: all facts of it. ``shape`` and ``row``: a picture that
    belongs to it.
    """

    drill: str
    skill: str
    prompt: Text
    given: Mapping[str, Fact]
    about: Mapping[str, Fact]
    choices: tuple[Choice, ...]
    shape: Shape | None = None
    row: Row | None = None
    board: Board | Keys | None = None
    heard: Heard | None = None
    asks: str = field(default="choice")

    @property
    def right(self) -> int:
        """The index of the one right choice; where taps are asked, of the first right one of the last step."""
        last = step_of(self.choices[-1])
        return next(index for index, choice in enumerate(self.choices) if choice.right and step_of(choice) == last)

    @property
    def steps(self) -> tuple[tuple[Choice, ...], ...]:
        """The choices of each step; a question that asks for one choice has one step."""
        count = step_of(self.choices[-1]) + 1
        return tuple(tuple(choice for choice in self.choices if step_of(choice) == step) for step in range(count))


def step_of(choice: Choice) -> int:
    """The step of the question that a choice belongs to, from 0."""
    return choice.value.step if isinstance(choice.value, Tap | Press) else 0


def plain(value: Value) -> str | list[str]:
    """A choice's value in ASCII, as JSON has it; a place of the neck as string and fret, such as 4/7, a key as Bb4."""
    return [str(one) for one in value] if isinstance(value, tuple) else str(value)


def fact_as_json(fact: Fact) -> str | list[str]:
    """A fact in ASCII, as JSON has it: several chords or notes as a list."""
    return [str(one) for one in fact] if isinstance(fact, tuple) else str(fact)


def as_json(question: Question, profile: Profile = USUAL) -> dict[str, object]:
    """A question as the command line prints it; every key is stable.

    What is ``heard`` is a list of chords with their notes. Where there is a board to tap there are ``steps`` too; the
    choices then explain every tap.
    """
    found: dict[str, object] = {
        "drill": question.drill,
        "skill": question.skill,
        "asks": question.asks,
        "prompt": render(question.prompt, profile),
        "given": {name: fact_as_json(fact) for name, fact in question.given.items()},
        "about": {name: fact_as_json(fact) for name, fact in question.about.items()},
        "choices": [
            {
                "label": render(choice.label, profile),
                "value": plain(choice.value),
                "right": choice.right,
                "why": render(choice.why, profile),
                "mistake": choice.mistake,
                "usable": choice.usable,
            }
            for choice in question.choices
        ],
    }
    if question.heard:
        found["heard"] = [
            {"chord": str(chord), "notes": [str(note) for note in notes]} for chord, notes in question.heard.bars
        ]
    return found | {"steps": [_step(step, profile) for step in question.steps]} if question.board else found


def _step(choices: Sequence[Choice], profile: Profile) -> dict[str, object]:
    accepted = [choice for choice in choices if choice.right]
    return {"accepts": [plain(choice.value) for choice in accepted], "why": render(accepted[0].why, profile)}


def facts(**known: Fact | None) -> dict[str, Fact]:
    """The facts of a question by name; those that do not apply (None) are left out."""
    return {name: fact for name, fact in known.items() if fact is not None}
