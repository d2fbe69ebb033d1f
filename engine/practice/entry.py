"""Tapping a line in: every tap is an event, and the line is a fold over the events so far.

Nothing else is kept, so what was tapped last can be taken back, tap by tap. An event is (kind, value):

``chord``: a symbol. It sounds from the next note on; a second one at the same place takes the first one's.
``length``: beats, such as ``1/2``, of what is tapped from here on. An eighth to begin with.
``note``: a MIDI key, which is spelled by what is around it, or a note with an octave, which stays as it is.
``rest``; ``longer``: the last note or rest lasts so much longer, over a bar line or a change too.
``bar``: what came before is a pickup, and bar 1 starts here.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from fractions import Fraction
from itertools import pairwise
from typing import Any, TypeAlias

from engine.lines.line import Change, Line, Meter, Note, merged
from engine.theory.bad_input import BadInput
from engine.theory.chord import Chord
from engine.theory.chord_symbol import parse_chord
from engine.theory.key import Key, parse_key
from engine.theory.pitch import Pitch, parse_pitch
from engine.theory.spelling import spelled

Event: TypeAlias = tuple[str, str]

# The lengths that can be tapped, in beats, with what players call them.
LENGTHS = {
    "1/4": "sixteenth",
    "1/3": "triplet eighth",
    "1/2": "eighth",
    "1": "quarter",
    "3/2": "dotted quarter",
    "2": "half",
}
USUAL_LENGTH = Fraction(1, 2)
METERS = ("4/4", "3/4", "2/4", "5/4", "6/8", "12/8")
C_MAJOR = Key(Pitch(0))
FOUR_FOUR = Meter()
MOST_EVENTS = 1000
LONGEST = 64  # beats
_LENGTH = re.compile(r"[0-9]{1,3}(?:/[1-9][0-9]{0,2})?")
_METER = re.compile(r"([1-9][0-9]?)/(1|2|4|8|16|32)")


class NotNow(BadInput):
    """A tap that has no meaning where it was made."""

    def __init__(self, problem: str, instead: str) -> None:
        super().__init__("", 1, problem, instead)

    def __str__(self) -> str:
        return f"{self.problem}; {self.instead}."


@dataclass(frozen=True, slots=True)
class Entry:
    """What was tapped: ``events`` in order, and what was taken back (``undone``, the last first)."""

    key: Key = C_MAJOR
    meter: Meter = FOUR_FOUR
    events: tuple[Event, ...] = ()
    undone: tuple[Event, ...] = ()


def tapped(entry: Entry, kind: str, value: str = "") -> Entry:
    """The entry after one more tap; BadInput, in one sentence, where that cannot be."""
    event = kind, _read(kind, value)
    now = played(entry)
    if len(entry.events) >= MOST_EVENTS:
        raise NotNow("The line is as long as it can get here", "keep it, and start another one")
    if kind in ("note", "rest") and now.chord is None:
        raise NotNow("There is no chord yet", "choose the first one, and each key says what it is over it")
    if kind == "longer" and not now.sounds:
        raise NotNow("There is no note to hold", "tap one first")
    if kind == "bar" and not is_pickup(entry):
        raise NotNow("Only less than a bar can be a pickup", "tap its notes, then say so")
    return replace(entry, events=(*entry.events, event), undone=())


def undo(entry: Entry) -> Entry:
    """The entry before its last tap; the same where there was none."""
    if not entry.events:
        return entry
    return replace(entry, events=entry.events[:-1], undone=(entry.events[-1], *entry.undone))


def redo(entry: Entry) -> Entry:
    """What was taken back last, tapped again."""
    if not entry.undone:
        return entry
    return replace(entry, events=(*entry.events, entry.undone[0]), undone=entry.undone[1:])


def _read(kind: str, value: str) -> str:
    """An event's value; BadInput where it is none of its kind."""
    if kind == "note":
        if not value.isascii() or not value.isdigit():
            pitch = parse_pitch(value)
            if pitch.octave is None or not 0 <= pitch.midi <= 127:
                raise BadInput(value, 1, "is in no octave", "write a note such as Bb4")
        elif len(value) > 3 or int(value) > 127:
            raise BadInput(value, 1, "is no key of MIDI", "give a number from 0 to 127")
    elif kind == "chord":
        parse_chord(value)
    elif kind == "length":
        if not _LENGTH.fullmatch(value) or not 0 < Fraction(value) <= LONGEST:
            raise BadInput(value, 1, "is no length", "write beats such as 1/2")
    elif kind not in ("rest", "longer", "bar"):
        raise BadInput(kind, 1, "is nothing to tap", "tap a chord, a length, a note or a rest")
    else:
        return ""
    return value


# --- the fold -------------------------------------------------------------------


@dataclass(slots=True)
class Sound:
    """A note as it was tapped, None for a rest; ``start`` and ``length`` in beats, counted from the first tap."""

    tap: str | None
    start: Fraction
    length: Fraction


@dataclass(slots=True)
class Played:
    """What the events add up to: beats are counted from the first tap; ``pickup`` is where bar 1 was said to start."""

    sounds: list[Sound] = field(default_factory=list)
    changes: list[Change] = field(default_factory=list)
    at: Fraction = Fraction(0)
    length: Fraction = USUAL_LENGTH
    pickup: Fraction = Fraction(0)

    @property
    def chord(self) -> Chord | None:
        """The chord that the next note sounds over."""
        return self.changes[-1].chord if self.changes else None


def played(entry: Entry) -> Played:
    """The fold over an entry's events."""
    now = Played()
    for kind, value in entry.events:
        if kind == "chord":
            if now.changes and now.changes[-1].beat == now.at:
                now.changes.pop()
            now.changes.append(Change(parse_chord(value), now.at))
        elif kind == "length":
            now.length = Fraction(value)
        elif kind == "bar":
            now.pickup = now.at
        else:
            if kind == "longer" and now.sounds:
                now.sounds[-1].length += now.length
            elif kind != "longer":
                now.sounds.append(Sound(value if kind == "note" else None, now.at, now.length))
            now.at += now.length
    return now


def begin_of(entry: Entry, now: Played) -> Fraction:
    """The beat of the first tap: 0, or negative where it starts a pickup (less than a bar, with more behind it)."""
    return -now.pickup if 0 < now.pickup < min(entry.meter.bar, now.at) else Fraction(0)


def is_pickup(entry: Entry) -> bool:
    """Whether what was tapped so far may be a pickup."""
    now = played(entry)
    return not now.pickup and 0 < now.at < entry.meter.bar


def line_of(entry: Entry, number: int = 1) -> Line | None:
    """The line that was tapped, None as long as it has no note.

    A note that was tapped is spelled anew with every tap after it.
    """
    now = played(entry)
    first = next(iter(now.changes), None)
    if first is None or not any(sound.tap for sound in now.sounds):
        return None
    begin = begin_of(entry, now)
    changes = [Change(change.chord, change.beat + begin) for change in now.changes if change.beat < now.at]
    # The first chord holds from the beginning.
    changes[:1] = [Change(first.chord, min(first.beat + begin, Fraction(0)))]
    line = Line(entry.key, entry.meter, (), merged(tuple(changes)), begin, now.at + begin, number=number)
    sounds = [sound for sound in now.sounds if sound.tap]
    notes = [
        Note(_pitch(sound, following, line, sound.start + begin), sound.start + begin, sound.length)
        for sound, following in zip(sounds, [*sounds[1:], None], strict=True)
    ]
    return replace(line, notes=tuple(notes))


def _pitch(sound: Sound, following: Sound | None, line: Line, beat: Fraction) -> Pitch:
    if not (sound.tap or "").isdigit():
        return parse_pitch(sound.tap or "")
    midi, way = _midi(sound), 0
    if following and following.start == sound.start + sound.length:
        step = _midi(following) - midi
        # A half step up takes a sharp; down, a whole step takes a flat too.
        way = 1 if step == 1 else -1 if step in (-1, -2) else 0
    return spelled(midi, line.chord_at(beat), line.key, way)


def _midi(sound: Sound) -> int:
    tap = sound.tap or ""
    return int(tap) if tap.isdigit() else parse_pitch(tap).midi


# --- a line that is there already ------------------------------------------------


def entry_of(line: Line) -> Entry:
    """The taps that give a line, so that it can be tapped on; its notes keep their spelling.

    BadInput where they would be too many.
    """
    events = tuple(_without_repeats(_events(line)))
    if len(events) > MOST_EVENTS:
        raise NotNow("The line is too long to be tapped on", "change its ABC text instead")
    return Entry(line.key, line.meter, events)


def _events(line: Line) -> Iterator[Event]:
    chords = {change.beat: change.chord.symbol for change in line.changes}
    marks = {*chords, *([Fraction(0)] if line.begin < 0 else [])}
    ends = [line.begin, *(note.end for note in line.notes)]
    stretches: list[tuple[Fraction, Fraction, str]] = []
    for end, note in zip(ends, line.notes, strict=False):
        stretches += [(end, note.start, ""), (note.start, note.end, str(note.pitch))]
    stretches.append((ends[-1], line.end, ""))
    for start, end, pitch in stretches:
        edges = [start, *sorted(mark for mark in marks if start < mark < end), end]
        for first, last in pairwise(edges):
            if first == last:
                continue
            if first == 0 and line.begin < 0:
                yield "bar", ""
            if first in chords:
                yield "chord", chords[first]
            yield "length", str(last - first)
            yield ("longer", "") if first > start else ("note", pitch) if pitch else ("rest", "")


def _without_repeats(events: Iterator[Event]) -> Iterator[Event]:
    """The events without the lengths that are in force already."""
    length = str(USUAL_LENGTH)
    for event in events:
        if event != ("length", length):
            yield event
        if event[0] == "length":
            length = event[1]


# --- as plain data -----------------------------------------------------------------


def entry_as_json(entry: Entry) -> dict[str, Any]:
    """An entry as the page keeps it."""
    events, undone = [list(event) for event in entry.events], [list(event) for event in entry.undone]
    return {"key": str(entry.key), "meter": str(entry.meter), "events": events, "undone": undone}


def entry_from_json(found: Any) -> Entry:
    """The inverse of ``entry_as_json``; BadInput where something in it cannot be."""
    try:
        meter = read_meter(str(found["meter"]))
        events, undone = (
            tuple((str(kind), _read(str(kind), str(value))) for kind, value in found[name])
            for name in ("events", "undone")
        )
    except (KeyError, TypeError, ValueError) as fault:
        raise NotNow(f"What was tapped so far cannot be read ({fault})", "start the line anew") from fault
    if max(len(events), len(undone)) > MOST_EVENTS:
        raise NotNow("What was tapped so far is too long", "start the line anew")
    return Entry(parse_key(str(found["key"])), meter, events, undone)


def read_meter(text: str) -> Meter:
    """A meter such as ``4/4``; BadInput where it is none."""
    found = _METER.fullmatch(text)
    if not found:
        raise BadInput(text, 1, "is no meter", "write a meter such as 4/4")
    return Meter(int(found[1]), int(found[2]))
