"""What a player has chosen for a line on the neck: the way, notes held on a string, notes moved by octaves.

It is kept with the line, for every tuning by itself, as one more kind of record (``own_records``):
``{"v": 1, "id", "at", "tuning", "way"}``. The id is made of the line's music, so a line of the book has one like a
line of one's own; ``way`` is what ``as_json`` makes. The latest record of an id and a tuning counts.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from random import Random
from typing import Any, TypeGuard

from engine.formats.abc import write_abc
from engine.lines.line import Line
from engine.lines.moving import by_octaves, note_by_octaves
from engine.neck.instrument import STRINGS, Instrument
from engine.practice.own_records import VERSION, Record, is_way_record
from engine.theory.bad_input import BadInput

Pairs = tuple[tuple[int, int], ...]

_FURTHEST = 3  # octaves
_HIGHEST = 60  # positions: a way moved to another key may lie off the neck
_STRINGS = range(1, STRINGS[-1] + 1)
_PAIR = re.compile(r"(\d{1,4}):(-?\d{1,2})")
_WHOLE = re.compile(r"-?\d{1,2}")
_SAID = re.compile("[XTCSGNQ]:")


@dataclass(frozen=True, slots=True)
class OwnWay:
    """``way`` is the lowest position wanted, in the key that the line is kept in, None for the best way.

    ``held``: (index, string) of each held note in the order given. ``octave`` moves the whole line, ``moved`` single
    notes besides: (index, octaves). A position may be off the neck: in another key it is counted from there.
    """

    way: int | None = None
    held: Pairs = ()
    octave: int = 0
    moved: Pairs = ()


ANY_WAY = OwnWay()


def held_on(own: OwnWay, index: int, string: int | None) -> OwnWay:
    """The note held on a string, or wherever it lies best (None)."""
    others = tuple(hold for hold in own.held if hold[0] != index)
    return replace(own, held=(*others, (index, string)) if string else others)


def moved_by(own: OwnWay, octaves: Mapping[int | None, int]) -> OwnWay:
    """Notes moved by octaves (None: the whole line). The way is the best one then, and what is moved is not held."""
    total = dict(own.moved)
    for index, count in octaves.items():
        if index is not None:
            total[index] = max(-_FURTHEST, min(_FURTHEST, total.get(index, 0) + count))
    octave = max(-_FURTHEST, min(_FURTHEST, own.octave + octaves.get(None, 0)))
    held = () if octaves.get(None) else tuple(hold for hold in own.held if hold[0] not in octaves)
    moved = tuple(sorted((index, count) for index, count in total.items() if count))
    return OwnWay(None, held, octave, moved)


@lru_cache(maxsize=16)
def played(line: Line, own: OwnWay) -> Line:
    """The line with its notes in the octaves that were chosen."""
    line = by_octaves(line, own.octave) if own.octave else line
    for index, octaves in own.moved:
        if index < len(line.notes):
            line = note_by_octaves(line, index, octaves)
    return line


# --- as JSON, in a link ------------------------------------------------------------------


def as_json(own: OwnWay) -> dict[str, Any]:
    """What is kept of it: what is as usual is left out."""
    every = {"way": own.way, "held": list(map(list, own.held)), "octave": own.octave, "moved": [*map(list, own.moved)]}
    return {name: value for name, value in every.items() if value not in (None, [], 0)}


def from_json(found: Any, notes: int) -> OwnWay:
    """The inverse of ``as_json`` for a line of so many notes; what cannot be read is as usual."""
    if not isinstance(found, Mapping):
        return ANY_WAY
    way, octave = found.get("way"), found.get("octave")
    return OwnWay(
        way if _is_within(way, range(-_HIGHEST, _HIGHEST)) else None,
        _pairs(found.get("held"), notes, _STRINGS),
        octave if _is_within(octave, _OCTAVES) else 0,
        _pairs(found.get("moved"), notes, _OCTAVES),
    )


_OCTAVES = range(-_FURTHEST, _FURTHEST + 1)


def _pairs(found: Any, notes: int, seconds: range) -> Pairs:
    pairs = [tuple(pair) for pair in found if isinstance(pair, list)] if isinstance(found, list) else []
    good = {
        pair[0]: pair
        for pair in pairs
        if len(pair) == 2 and _is_within(pair[0], range(notes)) and _is_within(pair[1], seconds)
    }
    return tuple(good.values())


def _is_within(found: Any, those: range) -> TypeGuard[int]:
    return isinstance(found, int) and not isinstance(found, bool) and found in those


def link_parts(own: OwnWay, away: int) -> list[str]:
    """What a link says of it; ``away`` is how many frets the shown key lies above the one that the line is kept in."""
    parts = [] if own.way is None else [f"way={own.way + away}"]
    if own.held:
        parts.append("hold=" + ",".join(f"{index}:{string}" for index, string in own.held))
    if own.octave or own.moved:
        whole = [str(own.octave)] if own.octave else []
        parts.append("octave=" + ",".join([*whole, *(f"{index}:{count}" for index, count in own.moved)]))
    return parts


def with_way(own: OwnWay, text: str, away: int) -> OwnWay:
    """The way that a link or a button names, by its lowest position in the shown key; empty for the best."""
    if not text:
        return replace(own, way=None)
    if not _WHOLE.fullmatch(text) or not 0 < int(text) + _HIGHEST < 2 * _HIGHEST:
        raise BadInput(text, 1, "is no position on a neck", "write the lowest position of the way, such as 5")
    return replace(own, way=int(text) - away)


def with_holds(own: OwnWay, text: str, notes: int) -> OwnWay:
    """The holds that a link names (``3:2,5:4``: note 3, counted from 0, on string 2); of a note, the last one."""
    for part in filter(None, text.split(",")):
        found = _PAIR.fullmatch(part)
        if not found or int(found[1]) >= notes or int(found[2]) not in _STRINGS:
            example = f"write a note from 0 to {notes - 1} and its string: 0:2"
            raise BadInput(part, text.index(part) + 1, "holds no note of the line on a string", example)
        own = held_on(own, int(found[1]), int(found[2]))
    return own


def read_octaves(text: str, notes: int) -> dict[int | None, int]:
    """What ``-1,3:1`` moves by how many octaves: the whole line down by one, note 3 (counted from 0) up by one."""
    moves: dict[int | None, int] = {}
    for part in filter(None, text.split(",")):
        found = _PAIR.fullmatch(part)
        if not (_WHOLE.fullmatch(part) or (found and int(found[1]) < notes)):
            example = f"write a note from 0 to {notes - 1} and how many octaves: 0:-1"
            raise BadInput(part, text.index(part) + 1, "moves no note of the line by octaves", example)
        moves[int(found[1]) if found else None] = int(found[2] if found else part)
    return moves


# --- as records -------------------------------------------------------------------------


def kept(records: Iterable[Any], line: Line, instrument: Instrument) -> OwnWay:
    """What the records say was chosen last for a line on an instrument."""
    tuning = _tuning(instrument)
    mine = [one for one in _of(records, line) if one["tuning"] == tuning]
    return from_json(mine[-1]["way"] if mine else None, len(line.notes))


def keeping(records: Iterable[Any], line: Line, instrument: Instrument, own: OwnWay, at: int) -> Record:
    """The record that keeps it, later than those of the line that are there, whatever the clock says."""
    after = max((one["at"] + 1 for one in _of(records, line)), default=0)
    return {"v": VERSION, "id": _name(line), "at": max(at, after), "tuning": _tuning(instrument), "way": as_json(own)}


def _of(records: Iterable[Any], line: Line) -> list[Record]:
    """The records of a line's ways, the oldest first."""
    name = _name(line)
    return sorted((one for one in records if is_way_record(one) and one["id"] == name), key=lambda one: int(one["at"]))


def _tuning(instrument: Instrument) -> str:
    return ",".join(map(str, instrument.strings))


@lru_cache(maxsize=16)
def _name(line: Line) -> str:
    """An id by the line's music alone, whatever is said of it."""
    music = "\n".join(row for row in write_abc(line).splitlines() if not _SAID.match(row))
    return f"w{int(Random(music).random() * 2**53):014x}"
