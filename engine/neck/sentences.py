"""What is said about a way: its shifts, where they go, and what makes them easy."""

from __future__ import annotations

from fractions import Fraction

from engine.lines.line import Line
from engine.neck.fingering import Way
from engine.neck.hand import OPEN
from engine.theory.wording import Text, say

_STAYS = "No shift: the hand stays at {fret}."
_ONLY_OPEN = "Open strings only: the hand has nothing to do."
_ONE = "One shift, {move}."
_TWO = "Two shifts: {first}, then {second}."
_THREE = "Three shifts: {first}, then {second}, then {third}."
_MANY = "{count} shifts, between {low} and {high}."
# What helps a shift, the strongest first.
_ON_REST = "to {fret}, on the rest in {bar}"
_ON_SLIDE = "to {fret}, sliding a half step to {note}"
_ON_OPEN = "to {fret}, while an open string rings in {bar}"
_PLAIN = "to {fret}, for {note}"
_BAR = "bar {number}"
_PICKUP = "the pickup"
_NOTE = "{note} in {bar}"
_NTH_NOTE = "the {nth} {note} in {bar}"
_NTH = ("first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth")
_LATER = "{number}th"
# A way in a few words: where it begins, how often the hand moves.
_POSITION = "{position}th position"
_POSITIONS = {1: "{position}st position", 2: "{position}nd position", 3: "{position}rd position"}
_NO_POSITION = "open strings"
_SHIFTS = ("no shift", "one shift", "two shifts", "three shifts")
_MORE_SHIFTS = "{count} shifts"
_FRET = "the {fret}th fret"
# The ending of an ordinal by its last digit, but for 11, 12 and 13.
_ENDINGS = {1: "the {fret}st fret", 2: "the {fret}nd fret", 3: "the {fret}rd fret"}


def way_text(line: Line, way: Way) -> Text:
    """A way of the line in one sentence, such as: One shift, to the 8th fret, on the rest in bar 2."""
    shifts = [index for index in range(1, len(way.positions)) if way.positions[index] != way.positions[index - 1]]
    if not any(way.fingers):
        return say(_ONLY_OPEN)
    if not shifts:
        return say(_STAYS, fret=fret_text(way.positions[0]))
    if len(shifts) > 3:
        low, high = fret_text(min(way.positions)), fret_text(max(way.positions))
        return say(_MANY, count=len(shifts), low=low, high=high)
    moves = [_move(line, way, index) for index in shifts]
    if len(moves) == 1:
        return say(_ONE, move=moves[0])
    return say(_TWO if len(moves) == 2 else _THREE, **dict(zip(("first", "second", "third"), moves, strict=False)))


def _move(line: Line, way: Way, index: int) -> Text:
    """The shift to a note: where to, and when."""
    before, fret = line.notes[index - 1], fret_text(way.positions[index])
    if line.notes[index].start > before.end:
        return say(_ON_REST, fret=fret, bar=bar_text(line, before.end))
    here, there = way.places[index - 1], way.places[index]
    if here.fret == OPEN:
        return say(_ON_OPEN, fret=fret, bar=bar_text(line, before.start))
    same = here.string == there.string and way.fingers[index - 1] == way.fingers[index]
    slides = same and abs(here.fret - there.fret) == 1
    return say(_ON_SLIDE if slides else _PLAIN, fret=fret, note=note_text(line, index))


def note_text(line: Line, index: int) -> Text:
    """A note and its bar; which one where the bar has several of that name."""
    note = line.notes[index]
    name, bar = note.pitch.in_octave(None), bar_text(line, note.start)
    alike = [
        place
        for place, other in enumerate(line.notes)
        if other.pitch.in_octave(None) == name and bar_text(line, other.start) == bar
    ]
    if len(alike) == 1:
        return say(_NOTE, note=name, bar=bar)
    place = alike.index(index)
    nth = say(_NTH[place]) if place < len(_NTH) else say(_LATER, number=place + 1)
    return say(_NTH_NOTE, nth=nth, note=name, bar=bar)


def fret_text(fret: int) -> Text:
    """A fret as players count it: the 1st, the 2nd, the 11th …"""
    return say(_FRET if fret // 10 == 1 else _ENDINGS.get(fret % 10, _FRET), fret=fret)


def position_text(way: Way) -> Text:
    """The lowest position of a way, as players count it: 5th position."""
    if not any(way.fingers):
        return say(_NO_POSITION)
    return nth_position(min(way.positions))


def nth_position(position: int) -> Text:
    """A position as players count it: 1st, 2nd, 5th, 11th …"""
    return say(_POSITION if position // 10 == 1 else _POSITIONS.get(position % 10, _POSITION), position=position)


def shifts_text(way: Way) -> Text:
    """How many shifts it takes."""
    return say(_SHIFTS[way.shifts] if way.shifts < len(_SHIFTS) else _MORE_SHIFTS, count=way.shifts)


def bar_text(line: Line, beat: Fraction) -> Text:
    """The bar that a beat of the line lies in; bar 1 is the first full one."""
    return say(_BAR, number=int(beat // line.meter.bar) + 1) if beat >= 0 else say(_PICKUP)
