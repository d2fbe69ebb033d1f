"""The facts of a question, read by name: what a mistake is worked out from."""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache

from engine.drills.question import Board, Fact, Keys
from engine.neck.instrument import FRETS, tuned
from engine.theory.chord import Chord
from engine.theory.degree import Degree
from engine.theory.key import Key
from engine.theory.pitch import Pitch, parse_pitch

Facts = Mapping[str, Fact]


def chord_in(about: Facts, name: str = "chord") -> Chord:
    """The chord that is one of the facts; TypeError where it is not there."""
    fact = about.get(name)
    if not isinstance(fact, Chord):
        raise TypeError(f"{name} is no chord")
    return fact


def note_in(about: Facts) -> Pitch:
    """The note that is one of the facts; TypeError where it is not there."""
    fact = about.get("note")
    if not isinstance(fact, Pitch):
        raise TypeError("note is no pitch")
    return fact


def key_in(about: Facts) -> Key | None:
    """The key, where the facts have one."""
    fact = about.get("key")
    return fact if isinstance(fact, Key) else None


def degree_in(about: Facts) -> Degree:
    """The degree that is one of the facts; TypeError where it is not there."""
    fact = about.get("degree")
    if not isinstance(fact, Degree):
        raise TypeError("degree is no degree")
    return fact


def notes_in(about: Facts, name: str = "notes") -> tuple[Pitch, ...]:
    """The notes that are one of the facts, written one after the other; TypeError where they are not there."""
    fact = about.get(name)
    if not isinstance(fact, str):
        raise TypeError(f"{name} are no notes")
    return tuple(parse_pitch(word) for word in fact.split())


def board_in(about: Facts) -> Board:
    """The frets that the facts name ("5 to 9") on a neck of their tuning; TypeError where they are not there."""
    frets, tuning = about.get("frets"), about.get("tuning")
    if not isinstance(frets, str) or not isinstance(tuning, str):
        raise TypeError("frets or tuning is not there")
    return _board(tuning, frets)


def keys_in(about: Facts) -> Keys | None:
    """The keys that the facts name ("D4 to D5"), None where they name none."""
    ends = about.get("keyboard")
    if not isinstance(ends, str):
        return None
    low, high = (parse_pitch(end).midi for end in ends.split(" to "))
    return Keys(low, high)


@lru_cache(maxsize=64)
def _board(tuning: str, frets: str) -> Board:
    low, high = map(int, frets.split(" to "))
    return Board(tuned(tuning, max(high, FRETS[0])), low, high)
