"""Best way: a stretch of a line in four TABs; which of them stays in position?"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from itertools import islice
from random import Random
from typing import NamedTuple

from engine.drills import line_material as material
from engine.drills.chance import pick
from engine.drills.choices import CHOICES, arranged
from engine.drills.mistakes import MISTAKES, wrong_values
from engine.drills.options import Options
from engine.drills.places import FRETS_ASKED, last_low, sounds
from engine.drills.question import Choice, Question, Tab, Value, facts
from engine.drills.slips_in_fingering import held
from engine.drills.stretches import Part, in_eighths, in_octave, parts
from engine.neck.fingering import Way, ways
from engine.neck.hand import REACH, WIDEST
from engine.neck.instrument import Instrument
from engine.neck.limits import Limits
from engine.neck.sentences import fret_text, way_text
from engine.theory.pitch import Pitch
from engine.theory.wording import Text, say

SLUG = "best-way"
LEVELS = material.LEVELS
# The one that always leads somewhere, and teaches least, comes last.
MISTAKES_HERE = ("lowest frets", "along one string", "nearest frets", "begun elsewhere", "one note out")
# Long enough that the hand has to choose.
_LEAST, _MOST = 6, 8
# Wrong ways go up to here, or as far as the right one may.
_HIGHEST_OF_WRONG = 17


class Card(NamedTuple):
    """A stretch, and the frets that the right way is to keep to, where the options name any."""

    part: Part
    limits: Limits


def cards(options: Options) -> list[Card]:
    """Every stretch of the lines that can be played without a shift; BadInput where there is none."""
    last = last_low(options)
    high = last + FRETS_ASKED - 1
    at = options.at
    limits = Limits(high=high) if at is None else Limits(max(1, at), at + FRETS_ASKED - 1)

    def lies(instrument: Instrument, pitches: tuple[Pitch, ...]) -> bool:
        if at is not None:
            return _reached(instrument, pitches, limits.low, at + FRETS_ASKED - 1)
        below, above = REACH[WIDEST]
        reaches = ((max(1, position - below), min(high, position + above)) for position in range(1, high))
        return any(_reached(instrument, pitches, *reach) for reach in reaches)

    return [Card(part, limits) for part in parts(SLUG, options, _LEAST, _MOST, lies)]


def _reached(instrument: Instrument, pitches: Iterable[Pitch], low: int, high: int) -> bool:
    there, opens = sounds(instrument, low, high), sounds(instrument, 0, 0)
    return all(pitch.midi in there or pitch.midi in opens for pitch in pitches)


def question(card: Card, chance: Random) -> Question:
    """The question of a card; ``chance`` picks the octave, the wrong ways and the order."""
    part, stretch = card.part, card.part.stretch
    instrument, chord = part.instrument, stretch.chord
    given = facts(chord=chord, changes=stretch.changes)
    high = min(instrument.frets, max(_HIGHEST_OF_WRONG, card.limits.high or 0))
    drawn = pick(part.octaves, chance)
    # In some octaves a few notes lie in too few ways to choose from.
    for octave in (drawn, *(other for other in part.octaves if other != drawn)):
        notes = in_octave([one.pitch for one in stretch.heard], octave)
        written = " ".join(map(str, notes))
        about = facts(
            **given, notes=written, line=written,
            tuning=",".join(map(str, instrument.strings)), frets=f"0 to {high}",
        )  # fmt: skip
        # More are not looked at: to finger one by its places takes a while.
        shifting = _shifting(_by_turns(wrong_values(MISTAKES_HERE, about, chance)), notes, instrument)
        wrong = list(islice(shifting, CHOICES - 1))
        if len(wrong) == CHOICES - 1:
            break
    line = in_eighths(notes)
    best = ways(line, instrument, card.limits)[0]
    right = Choice(Tab(best.places), way_text(line, best), say("no shift"))
    degrees = "-".join(str(one.degree) for one in stretch.heard)
    return Question(
        drill=SLUG,
        skill=f"{SLUG}/{chord.kind}/{degrees}/{chord.root}",
        prompt=say("{notes:row}: which of these stays in position?", notes=stretch.pitches),
        given=given,
        about=about,
        choices=arranged(right, wrong, chance),
        row=replace(stretch.row(), notes=notes),
    )


def _by_turns(values: Sequence[tuple[Value, str]]) -> list[tuple[Tab, str]]:
    """One way of each mistake before a second one of any."""
    seen: Counter[str] = Counter()
    turns = []
    for value, key in values:
        if isinstance(value, Tab):
            turns.append(((key == MISTAKES_HERE[-1], seen[key]), value, key))
            seen[key] += 1
    return [(value, key) for _, value, key in sorted(turns, key=lambda turn: turn[0])]


def _shifting(values: Iterable[tuple[Tab, str]], notes: Sequence[Pitch], instrument: Instrument) -> Iterator[Choice]:
    """The ways on which the hand has to shift, each once, as choices that count how often."""
    seen: set[Tab] = set()
    for tab, key in values:
        way = held(notes, tab.places, instrument) if tab not in seen else None
        seen.add(tab)
        if way and way.shifts:
            why = say("{slip}: {shifts}.", slip=say(MISTAKES[key].says), shifts=_shifts(notes, way))
            yield Choice(tab, why, _count(way.shifts), key)


_COUNTS = ("no shift", "one shift", "two shifts", "three shifts", "four shifts", "five shifts", "six shifts")


def _count(shifts: int) -> Text:
    return say(_COUNTS[shifts]) if shifts < len(_COUNTS) else say("{shifts} shifts", shifts=shifts)


def _shifts(notes: Sequence[Pitch], way: Way) -> Text:
    """How often the hand shifts on a way, and where to: two shifts, to the 8th fret for E and to the 5th for C."""
    moves = [index for index in range(1, len(notes)) if way.positions[index] != way.positions[index - 1]]
    if len(moves) > 3:
        low, high = fret_text(min(way.positions)), fret_text(max(way.positions))
        return say("{count}, between {low} and {high}", count=_count(way.shifts), low=low, high=high)
    told = tuple(say("to {fret} for {note}", fret=fret_text(way.positions[at]), note=_nth(notes, at)) for at in moves)
    return say("{count}, {moves:and}", count=_count(way.shifts), moves=told)


def _nth(notes: Sequence[Pitch], index: int) -> Text:
    """A note by its name; where several have it, which of them."""
    names = [note.in_octave(None) for note in notes]
    alike = [place for place, name in enumerate(names) if name == names[index]]
    if len(alike) == 1:
        return say("{note}", note=names[index])
    return say(_ORDER[alike.index(index)], note=names[index])


_ORDER = (
    "the first {note}", "the second {note}", "the third {note}", "the fourth {note}", "the fifth {note}",
    "the sixth {note}", "the seventh {note}", "the eighth {note}",
)  # fmt: skip
