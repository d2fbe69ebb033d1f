"""A player's own lines: a fold over their records (``own_records``), and the file that they travel in.

Nothing is lost: a deleted line is brought back by a new record, and a text that cannot be read is still there to be
mended.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from random import Random
from typing import Any

from engine.formats.abc import FileFault, read_abc, write_abc
from engine.lines.line import Line
from engine.practice.own_records import LONGEST_ABC, VERSION, Record, is_line_record, is_reached_record, is_way_record
from engine.practice.said_of_line import is_to_study
from engine.theory.bad_input import BadInput

LONGEST_FILE = 500_000
MOST_LINES = 500  # in one file
_NEW_TUNE = re.compile(r"[ \t]*X:")
_SAID = re.compile("[XCSGNQ]:")
_LINE_END = re.compile(r"\r\n?|\n")


@dataclass(frozen=True, slots=True)
class OwnLine:
    """A line that was kept: its ``abc`` as typed, which is read when it is asked for.

    ``kept`` is when it came, ``at`` when its last record did: milliseconds since 1970.
    """

    id: str
    kept: int
    at: int
    abc: str

    @property
    def line(self) -> Line | None:
        """The line that it is, None where its text cannot be read."""
        return _understood(self.abc)[0]

    @property
    def fault(self) -> str:
        """A sentence on why it cannot be read, or nothing."""
        return _understood(self.abc)[1]

    @property
    def is_to_study(self) -> bool:
        """Whether it has the mark "still to study"."""
        return any(is_to_study(row[2:]) for row in _LINE_END.split(self.abc) if row.startswith("G:"))


@dataclass(frozen=True, slots=True)
class OwnLines:
    """What the records add up to, the newest line first; ``ignored`` counts the records that are none."""

    lines: tuple[OwnLine, ...] = ()
    deleted: tuple[OwnLine, ...] = ()
    ignored: int = 0

    def find(self, name: str) -> OwnLine | None:
        """The line with an id, deleted or not."""
        return next((own for own in (*self.lines, *self.deleted) if own.id == name), None)

    def like(self, line: Line) -> OwnLine | None:
        """The line that has the same music and title."""
        music = music_of(write_abc(line))
        return next((own for own in self.lines if music_of(own.abc) == music), None)


def music_of(abc: str) -> str:
    """Of a canonical text what makes a line: its title and its music, without what is said of it."""
    return "\n".join(row for row in _LINE_END.split(abc.strip()) if not _SAID.match(row))


def fold(records: Iterable[Any]) -> OwnLines:
    """The own lines that records add up to; what is no record is left out and counted.

    Records of how lines are played say nothing.
    """
    given = [record for record in records if not (is_way_record(record) or is_reached_record(record))]
    good = sorted((record for record in given if is_line_record(record)), key=lambda record: int(record["at"]))
    first: dict[str, int] = {}
    text: dict[str, str] = {}
    last: dict[str, Record] = {}
    for record in good:
        name = record["id"]
        first.setdefault(name, record["at"])
        last[name] = record
        if "abc" in record:
            text[name] = record["abc"]
    lines = [OwnLine(name, first[name], last[name]["at"], abc) for name, abc in reversed(text.items())]
    lines.sort(key=lambda own: -own.kept)
    gone = {name for name, record in last.items() if "deleted" in record}
    return OwnLines(
        tuple(own for own in lines if own.id not in gone),
        tuple(own for own in lines if own.id in gone),
        len(given) - len(good),
    )


def saved(line: Line, at: int, chance: int, own: OwnLine | None = None) -> Record:
    """The record that keeps a line: a new one with an id by ``chance``, or in the place of ``own``."""
    return _saved(_canonical(line), at, own.id if own else new_ids(chance, 1)[0], own)


def deleted(own: OwnLine, at: int) -> Record:
    """The record that deletes a line."""
    return {"v": VERSION, "id": own.id, "at": _after(own, at), "deleted": True}


def restored(own: OwnLine, at: int) -> Record:
    """The record that brings a line back as it was."""
    return _saved(own.abc, at, own.id, own)


def _saved(abc: str, at: int, name: str, own: OwnLine | None) -> Record:
    if len(abc) > LONGEST_ABC:
        raise BadInput(abc, 1, "is the start of a line that is too long", f"keep to {LONGEST_ABC:,} signs of ABC")
    return {"v": VERSION, "id": name, "at": _after(own, at), "abc": abc}


def _canonical(line: Line) -> str:
    return write_abc(replace(line, number=1))


def _after(own: OwnLine | None, at: int) -> int:
    """A time later than that of a line's last record, whatever the clock says."""
    return max(at, own.at + 1 if own else 0)


def new_ids(chance: int, count: int) -> list[str]:
    """So many new names for lines, from one random number."""
    draw = Random(chance).random
    return [f"{int(draw() * 2**53):014x}" for _ in range(count)]


# --- reading and writing files -----------------------------------------------------


def read_one(text: str) -> Line:
    """The one line of an ABC text; BadInput where there is none, or another beside it."""
    if len(text) > LONGEST_ABC:
        raise BadInput(text, 1, "is the start of a text that is too long", f"keep to {LONGEST_ABC:,} signs for a line")
    lines = read_abc(text)
    if len(lines) > 1:
        raise BadInput(
            f"X:{lines[1].number}", 1, "starts another line", "keep one line here, and paste the others anew"
        )
    return lines[0]


@lru_cache(maxsize=1000)
def _understood(abc: str) -> tuple[Line | None, str]:
    try:
        return read_one(abc), ""
    except BadInput as bad:
        return None, str(bad)


@dataclass(frozen=True, slots=True)
class Taken:
    """What of a file was new: its ``records``; how many lines were ``known`` already; a sentence on each bad one."""

    records: tuple[Record, ...]
    known: int
    faults: tuple[str, ...]


def from_abc(text: str, existing: OwnLines, at: int, chance: int) -> Taken:
    """The lines of an ABC text that are not among the own ones, as records; what cannot be read stops no other."""
    if len(text) > LONGEST_FILE:
        fault = BadInput(text, 1, "is the start of a file that is too large", f"give {LONGEST_FILE:,} signs at most")
        return Taken((), 0, (str(fault),))
    there = {music_of(own.abc) for own in existing.lines}
    found: list[str] = []
    known, faults = 0, []
    tunes = _tunes(text)
    if len(tunes) > MOST_LINES:
        problem = f"comes after the first {MOST_LINES} lines of the file and was left out"
        start = tunes[MOST_LINES].start
        faults.append(str(FileFault("X:", start + 1, 1, problem, "put the others into a file of their own")))
    for tune in tunes[:MOST_LINES]:
        try:
            abc = _canonical(tune.read())
        except BadInput as bad:
            faults.append(str(bad))
            continue
        known += music_of(abc) in there
        if music_of(abc) not in there:
            found.append(abc)
        there.add(music_of(abc))
    # The first of the file is the newest, so that the list has the file's order.
    records = [
        _saved(abc, at + len(found) - place, name, None)
        for place, (abc, name) in enumerate(zip(found, new_ids(chance, len(found)), strict=True))
    ]
    return Taken(tuple(records), known, tuple(faults))


@dataclass(frozen=True, slots=True)
class _Tune:
    """The rows of a tune of a file from the row ``start`` on (from 0); ``head`` is what precedes the first tune."""

    head: list[str]
    rows: list[str]
    start: int

    def read(self) -> Line:
        """Its line; FileFault, with its place in the whole file, where it cannot be read."""
        try:
            return read_one("\n".join([*self.head, *self.rows]))
        except FileFault as bad:
            after = bad.line - len(self.head)
            raise FileFault(
                bad.token, self.start + after if after > 0 else bad.line, bad.column, bad.problem, bad.instead
            ) from bad
        except BadInput as bad:
            raise FileFault(bad.token, self.start + 1, 1, bad.problem, bad.instead) from bad


def _tunes(text: str) -> list[_Tune]:
    rows = _LINE_END.split(text.removeprefix("\ufeff"))
    starts = [place for place, row in enumerate(rows) if _NEW_TUNE.match(row)] or [0]
    ends = [*starts[1:], len(rows)]
    return [_Tune(rows[: starts[0]], rows[start:end], start) for start, end in zip(starts, ends, strict=True)]


def to_abc(lines: Sequence[OwnLine]) -> str:
    """One file of all lines, numbered in their order; a text that cannot be read goes along as it is."""
    return "\n".join(_numbered(own.abc, number) for number, own in enumerate(lines, 1))


def _numbered(abc: str, number: int) -> str:
    rows = [row for row in _LINE_END.split(abc) if row.strip() and not _NEW_TUNE.match(row)]
    return "\n".join([f"X:{number}", *rows, ""])
