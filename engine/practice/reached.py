"""The tempo that a player has reached with the band, key by key of a line.

One more kind of record beside those of own lines (``own_records``): ``{"v": 1, "id", "at", "key", "tempo"}``. The id is
made of the line's music, whatever the key and the octave it stands in; ``tempo`` is in quarter notes a minute, null
where a mark was taken back. The latest record of an id and a key counts.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from functools import lru_cache
from random import Random
from typing import Any

from engine.lines.line import Line
from engine.lines.moving import keys_of
from engine.practice.own_records import VERSION, Record, is_reached_record
from engine.theory.bad_input import BadInput
from engine.theory.key import Key, parse_key
from engine.theory.wording import Text, say


def reached(records: Iterable[Any], line: Line) -> dict[str, int]:
    """The tempo by the key's name, in the order of the cycle of fourths; keys without one are left out."""
    latest = {one["key"]: one["tempo"] for one in _of(records, line)}
    names = [str(key) for key in keys_of(line.key.mode)]
    return {name: latest[name] for name in names if latest.get(name) is not None}


def reaching(records: Iterable[Any], line: Line, key: str, tempo: int | None, at: int) -> Record:
    """The record that keeps a tempo in a key, or takes it back (None); BadInput for a key that is none of the line's.

    It is later than those of the line that are there, whatever the clock says.
    """
    name = str(_usual(parse_key(key), line.key.mode))
    after = max((one["at"] + 1 for one in _of(records, line)), default=0)
    return {"v": VERSION, "id": music_id(line), "at": max(at, after), "key": name, "tempo": tempo}


def reached_text(marks: Mapping[str, int]) -> Text | None:
    """What a line's page tells of them."""
    told = tuple(say("{key} {tempo}", key=parse_key(name).tonic, tempo=tempo) for name, tempo in marks.items())
    return say("Played with the band: {marks}.", marks=told) if told else None


def _usual(key: Key, mode: str) -> Key:
    for one in keys_of(mode):
        if one.tonic.pitch_class == key.tonic.pitch_class and key.mode == mode:
            return one
    raise BadInput(str(key), 1, "is no key of the line", f"name a {mode} key")


def _of(records: Iterable[Any], line: Line) -> list[Record]:
    """The records of a line's tempos, the oldest first."""
    name = music_id(line)
    mine = (one for one in records if is_reached_record(one) and one["id"] == name)
    return sorted(mine, key=lambda one: int(one["at"]))


@lru_cache(maxsize=16)
def music_id(line: Line) -> str:
    """What a line's records are named by: its rhythm and intervals, in whatever key."""
    first = line.notes[0].pitch.midi if line.notes else 0
    notes = " ".join(f"{note.start},{note.length},{note.pitch.midi - first}" for note in line.notes)
    return f"t{int(Random(f'{line.meter} {line.key.mode} {notes}').random() * 2**53):014x}"
