"""Records of a player's own lines, and of how lines are played: what became of one at one time. They are only added.

``{"v": 1, "id", "at", "abc"}`` says that it was kept as this text, ``{"v": 1, "id", "at", "deleted": true}`` that it
was deleted, one with ``tuning`` and ``way`` how a line is played (``own_way``), one with ``key`` and ``tempo`` how fast
(``reached``). The latest record of an id counts;
``at`` is in milliseconds since 1970, and the id of an own line is made by chance.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from typing import Any

VERSION = 1
LONGEST_ABC = 20_000  # signs of one line
LATEST = 2**53 - 1  # the largest whole number that JSON carries without loss
A_DAY = 86_400_000
LONGEST_TUNING = 60
_KEY = re.compile(r"[A-G][b#]?m?")
_ID = re.compile(r"[0-9a-z]{1,32}")

Record = dict[str, Any]


def is_record(found: Any) -> bool:
    """Whether something is a record of an own line, or of how a line is played."""
    return is_line_record(found) or is_way_record(found) or is_reached_record(found)


def is_line_record(found: Any) -> bool:
    """Whether something is a record of an own line."""
    if not _is_named(found):
        return False
    abc = found.get("abc")
    if isinstance(abc, str):
        return 0 < len(abc) <= LONGEST_ABC and set(found) == {"v", "id", "at", "abc"}
    return found.get("deleted") is True and set(found) == {"v", "id", "at", "deleted"}


def is_way_record(found: Any) -> bool:
    """Whether something is a record of how a line is played; what its way says is read with leniency."""
    if not _is_named(found) or set(found) != {"v", "id", "at", "tuning", "way"}:
        return False
    tuning = found["tuning"]
    return isinstance(tuning, str) and len(tuning) <= LONGEST_TUNING and isinstance(found["way"], dict)


def is_reached_record(found: Any) -> bool:
    """Whether something is a record of the tempo that was reached in a key; null takes one back."""
    if not _is_named(found) or set(found) != {"v", "id", "at", "key", "tempo"}:
        return False
    # Nothing of sound is there at the start of a page, and few files have such a record.
    from engine.sound.event import FASTEST, SLOWEST

    key, tempo = found["key"], found["tempo"]
    if not isinstance(key, str) or not _KEY.fullmatch(key):
        return False
    return tempo is None or (isinstance(tempo, int) and not isinstance(tempo, bool) and SLOWEST <= tempo <= FASTEST)


def _is_named(found: Any) -> bool:
    if not isinstance(found, dict) or found.get("v") != VERSION or isinstance(found["v"], bool):
        return False
    name, at = found.get("id"), found.get("at")
    if not isinstance(name, str) or not _ID.fullmatch(name):
        return False
    return isinstance(at, int) and not isinstance(at, bool) and 0 <= at <= LATEST


def new_records(found: Sequence[Any], records: Iterable[Any], at: int) -> list[Record]:
    """The records of a file that are not among ``records``.

    None from tomorrow on: as the latest of its line it would stand against all that the player does to it.
    """
    there = {(record["id"], record["at"]) for record in records if is_record(record)}
    good = [record for record in found if is_record(record) and record["at"] <= at + A_DAY]
    return [record for record in good if (record["id"], record["at"]) not in there]
