"""What a question is, whatever drill asks it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TypeAlias

from engine.theory.chord import Chord
from engine.theory.degree import Degree
from engine.theory.key import Key
from engine.theory.pitch import Pitch
from engine.theory.wording import USUAL, Profile, Text, render

Fact: TypeAlias = Pitch | Degree | Chord | Key | str | tuple[Chord, ...] | tuple[Pitch, ...]
# A word is the name of a device.
Value: TypeAlias = Pitch | Degree | Chord | str | tuple[Degree, ...]


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
        """What the page shows for it."""
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
class Question:
    """A question that is answered by one choice.

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
    asks: str = field(default="choice")

    @property
    def right(self) -> int:
        """The index of the one right choice."""
        return next(index for index, choice in enumerate(self.choices) if choice.right)


def plain(value: Value) -> str | list[str]:
    """A choice's value in ASCII, as JSON has it."""
    return [str(one) for one in value] if isinstance(value, tuple) else str(value)


def fact_as_json(fact: Fact) -> str | list[str]:
    """A fact in ASCII, as JSON has it: several chords or notes as a list."""
    return [str(one) for one in fact] if isinstance(fact, tuple) else str(fact)


def as_json(question: Question, profile: Profile = USUAL) -> dict[str, object]:
    """A question as the command line prints it; every key is stable."""
    return {
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


def facts(**known: Fact | None) -> dict[str, Fact]:
    """The facts of a question by name; those that do not apply (None) are left out."""
    return {name: fact for name, fact in known.items() if fact is not None}
