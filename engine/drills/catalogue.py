"""The catalogue: a row a drill. Pages, navigation, the command line, tests and links all come from it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from random import Random
from typing import Any, Protocol

from engine.drills import arpeggio_from_the_third, choose_the_resolution, name_the_degree
from engine.drills.chance import chance_for, shuffled
from engine.drills.options import Options
from engine.drills.question import Question
from engine.theory.bad_input import BadInput


class Drill(Protocol):
    """What a drill's module offers.

    ``LEVELS``: the kinds of chord that each level asks about. ``cards``:
    everything it can ask under some options, in the order players meet it.
    ``question``: the question of one card.
    """

    @property
    def SLUG(self) -> str: ...
    @property
    def LEVELS(self) -> Mapping[int, Sequence[str]]: ...

    def cards(self, options: Options, /) -> list[Any]: ...
    def question(self, card: Any, chance: Random, /) -> Question: ...


@dataclass(frozen=True, slots=True)
class Entry:
    """One drill. ``rev`` goes up when its questions change; ``handbook`` is the page that explains its idea."""

    slug: str
    title: str
    teaser: str
    asks: str
    handbook: str
    rev: int
    drill: Drill

    @property
    def kinds(self) -> tuple[str, ...]:
        """Every kind of chord that it may be asked for."""
        return tuple(self.drill.LEVELS[max(self.drill.LEVELS)])


CATALOGUE: tuple[Entry, ...] = (
    Entry(
        "name-the-degree", "Name the degree", "A chord and a note: which degree is it?",
        "choice", "degrees", 1, name_the_degree,
    ),
    Entry(
        "arpeggio-from-the-third", "Arpeggio from the third", "Four notes that give a chord its 3, 5, 7 and 9.",
        "choice", "arpeggio-from-the-third", 1, arpeggio_from_the_third,
    ),
    Entry(
        "choose-the-resolution", "Choose the resolution", "The chord changes: where does the note go?",
        "choice", "resolution", 1, choose_the_resolution,
    ),
)  # fmt: skip
BY_SLUG = {entry.slug: entry for entry in CATALOGUE}


def entry_for(slug: str) -> Entry:
    """The row of a slug; BadInput where there is none."""
    if slug not in BY_SLUG:
        raise BadInput(slug, 1, "is no drill", f"write one of {', '.join(BY_SLUG)}")
    return BY_SLUG[slug]


class Stream:
    """The endless questions of one drill, options and seed, by their index.

    The cards are gone through in a random order and none comes again before
    all have come; question ``index`` is the same however many are asked.
    """

    def __init__(self, slug: str, options: Options) -> None:
        self._drill = entry_for(slug).drill
        self._seed = options.seed
        self._cards = self._drill.cards(options)
        self._decks: dict[int, list[Any]] = {}

    def __getitem__(self, index: int) -> Question:
        deck_number, place = divmod(index, len(self._cards))
        if deck_number not in self._decks:
            self._decks[deck_number] = shuffled(self._cards, chance_for(self._seed, -2 - deck_number))
        return self._drill.question(self._decks[deck_number][place], chance_for(self._seed, index))

    def __iter__(self) -> Iterator[Question]:
        index = 0
        while True:
            yield self[index]
            index += 1
