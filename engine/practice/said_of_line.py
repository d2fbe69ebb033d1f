"""What a player says of a line beside its music: title, source, a note to self, and whether it is still to study."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

from engine.lines.line import Line

STILL_TO_STUDY = "still to study"
LONGEST = 200  # signs of a title or a source
LONGEST_NOTE = 2000


def with_said(line: Line, fields: Mapping[str, Sequence[str]]) -> Line:
    """The line with what was filled in: ``title``, ``source``, ``remarks`` (one a row) and ``study``."""
    title, source = (_on_one_row(fields, name)[:LONGEST] for name in ("title", "source"))
    rows = (" ".join(row.split()) for row in "\n".join(fields.get("remarks", ()))[:LONGEST_NOTE].splitlines())
    said = replace(line, title=title, source=source, remarks=tuple(row for row in rows if row))
    return marked(said, bool(fields.get("study")))


def _on_one_row(fields: Mapping[str, Sequence[str]], name: str) -> str:
    return " ".join(" ".join(fields.get(name, ())).split())


def is_to_study(group: str) -> bool:
    """Whether the groups of a line have the mark "still to study"."""
    return STILL_TO_STUDY in _groups(group)


def marked(line: Line, to_study: bool) -> Line:
    """The line with or without that mark; its other groups stay."""
    groups = [name for name in _groups(line.group) if name != STILL_TO_STUDY]
    return replace(line, group=", ".join([*groups, *([STILL_TO_STUDY] if to_study else [])]))


def _groups(text: str) -> list[str]:
    return [name.strip() for name in text.split(",") if name.strip()]
