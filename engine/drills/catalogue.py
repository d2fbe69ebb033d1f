"""The catalogue: a row a drill. Pages, navigation, the command line, tests and links all come from it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from importlib import import_module
from random import Random
from typing import Any, Protocol, cast

from engine.drills.chance import chance_for, shuffled
from engine.drills.options import NECK, ON_EITHER, ON_THE_NECK, Options
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
    """One drill. ``rev`` goes up when its questions change; ``handbook`` is the page that explains its idea.

    ``takes_line``: whether it may ask about a player's own line. ``neck``: whether it is about an instrument's neck
    and reads the options on that. ``keyboard``: whether it is answered on a keyboard, unless the option ``on`` says
    that it is the neck. ``mixed``: whether the mixed round asks it too. ``count``: how many
    questions its page asks.
    """

    slug: str
    title: str
    teaser: str
    asks: str
    handbook: str
    rev: int
    module: str
    takes_line: bool = False
    neck: bool = False
    keyboard: bool = False
    mixed: bool = True
    count: int = 10

    @property
    def drill(self) -> Drill:
        """The drill's module, loaded when it is first wanted: a page needs its own only, and starts the sooner."""
        return cast(Drill, import_module(f"engine.drills.{self.module}"))

    def reads(self, option: str, options: Options) -> bool:
        """Whether it reads an option by this name: those on the neck and on what is tapped are for some drills only."""
        if option in ON_THE_NECK:
            return self.is_on_neck(options)
        return self.keyboard or option not in ON_EITHER

    def is_on_neck(self, options: Options) -> bool:
        """Whether it asks about an instrument's neck under these options."""
        return self.neck and (not self.keyboard or options.on == NECK)

    @property
    def kinds(self) -> tuple[str, ...]:
        """Every kind of chord that it may be asked for."""
        return tuple(self.drill.LEVELS[max(self.drill.LEVELS)])

    @property
    def by_ear(self) -> bool:
        """Whether it is answered by ear: then no mixed round begins with it, and who wants it quiet is spared it."""
        return self.asks == "sound"


CATALOGUE: tuple[Entry, ...] = (
    Entry(
        "name-the-degree", "Name the degree", "A chord and a note: which degree is it?",
        "choice", "degrees", 1, "name_the_degree",
    ),
    Entry(
        "arpeggio-from-the-third", "Arpeggio from the third", "Four notes that give a chord its 3, 5, 7 and 9.",
        "choice", "arpeggio-from-the-third", 1, "arpeggio_from_the_third",
    ),
    Entry(
        "choose-the-resolution", "Choose the resolution", "The chord changes: where does the note go?",
        "choice", "resolution", 1, "choose_the_resolution",
    ),
    Entry(
        "find-the-note", "Find the note", "A chord and a degree: which note is it?",
        "choice", "degrees", 1, "find_the_note",
    ),
    Entry(
        "guide-tones", "Guide tones", "Thirds and sevenths through the changes: which note comes next?",
        "choice", "guide-tones", 1, "guide_tones",
    ),
    Entry(
        "finish-the-line", "Finish the line", "A note of the line is missing: which one?",
        "choice", "lines", 1, "finish_the_line", takes_line=True,
    ),
    Entry(
        "degrees-of-the-line", "Degrees of the line", "Four notes over a chord: which degrees are they?",
        "choice", "lines", 1, "degrees_of_the_line", takes_line=True,
    ),
    Entry(
        "move-the-line", "Move the line", "The same line in a new key, note by note.",
        "choice", "lines", 1, "move_the_line", takes_line=True,
    ),
    Entry(
        "spot-the-device", "Spot the device", "A stretch of a line: what does it do?",
        "choice", "lines", 1, "spot_the_device", takes_line=True,
    ),
    Entry(
        "note-on-the-neck", "Note on the neck", "A chord, a degree and five frets: where is it?",
        "tap", "degrees", 3, "note_on_the_neck", neck=True, mixed=False,
    ),
    Entry(
        "arpeggio-in-place", "Arpeggio in place", "The 3, 5, 7 and 9 of a chord, going up within five frets.",
        "tap", "arpeggio-from-the-third", 3, "arpeggio_in_place", neck=True, mixed=False, count=5,
    ),
    Entry(
        "line-in-place", "Line in place", "A few notes of a line: where do they lie within five frets?",
        "tap", "positions", 2, "line_in_place", takes_line=True, neck=True, mixed=False, count=5,
    ),
    Entry(
        "best-way", "Best way", "A stretch of a line in four TABs: which one stays in position?",
        "choice", "positions", 1, "best_way", takes_line=True, neck=True, mixed=False,
    ),
    Entry(
        "hear-the-degree", "Hear the degree", "A chord is held, a note sounds over it: which degree is it?",
        "sound", "hearing", 1, "hear_the_degree", mixed=False,
    ),
    Entry(
        "hear-the-landing", "Hear the landing", "A line leaves a dominant: on which degree does it end?",
        "sound", "hearing", 1, "hear_the_landing", mixed=False,
    ),
    Entry(
        "hear-the-chord-kind", "Hear the chord kind", "A chord, held and broken: which kind is it?",
        "sound", "hearing", 1, "hear_the_chord_kind", mixed=False,
    ),
    Entry(
        "hear-the-device", "Hear the device", "A stretch of a line as it sounds: what does it do?",
        "sound", "hearing", 1, "hear_the_device", takes_line=True, mixed=False,
    ),
    Entry(
        "copy-the-figure", "Copy the figure", "A few notes over a held chord: tap them back, one by one.",
        "sound", "hearing", 1, "copy_the_figure", neck=True, keyboard=True, mixed=False,
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
        self.cards = self._drill.cards(options)
        self._decks: dict[int, list[Any]] = {}

    def __getitem__(self, index: int) -> Question:
        deck_number, place = divmod(index, len(self.cards))
        if deck_number not in self._decks:
            self._decks[deck_number] = shuffled(self.cards, chance_for(self._seed, -2 - deck_number))
        return self._drill.question(self._decks[deck_number][place], chance_for(self._seed, index))

    def __iter__(self) -> Iterator[Question]:
        index = 0
        while True:
            yield self[index]
            index += 1
