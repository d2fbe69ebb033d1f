"""Records of a player's own lines: what became of one line at one time. They are only ever added.

``{"v": 1, "id", "at", "abc"}`` says that it was kept as this text, ``{"v": 1, "id", "at", "deleted": true}`` that it
was deleted. The latest record of an id counts; ``at`` is in milliseconds since 1970, and an id is made by chance.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from typing import Any

VERSION = 1
LONGEST_ABC = 20_000  # signs of one line
LATEST = 2**53 - 1  # the largest whole number that JSON carries without loss
A_DAY = 86_400_000
_ID = re.compile(r"[0-9a-z]{1,32}")

Record = dict[str, Any]


def is_record(found: Any) -> bool:
    """Whether something is a record of an own line."""
    if not isinstance(found, dict) or found.get("v") != VERSION or isinstance(found["v"], bool):
        return False
    name, at, abc = found.get("id"), found.get("at"), found.get("abc")
    if not isinstance(name, str) or not _ID.fullmatch(name):
        return False
    if not isinstance(at, int) or isinstance(at, bool) or not 0 <= at <= LATEST:
        return False
    if isinstance(abc, str):
        return 0 < len(abc) <= LONGEST_ABC and set(found) == {"v", "id", "at", "abc"}
    return found.get("deleted") is True and set(found) == {"v", "id", "at", "deleted"}


def new_records(found: Sequence[Any], records: Iterable[Any], at: int) -> list[Record]:
    """The records of a file that are not among ``records``.

    None from tomorrow on: as the latest of its line it would stand against all that the player does to it.
    """
    there = {(record["id"], record["at"]) for record in records if is_record(record)}
    good = [record for record in found if is_record(record) and record["at"] <= at + A_DAY]
    return [record for record in good if (record["id"], record["at"]) not in there]
