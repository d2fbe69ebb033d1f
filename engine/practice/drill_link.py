"""What stands behind ``#`` in a link to a drill: its options, and beside them a line of the player's and a sentence.

``line=`` is the line that a drill about lines asks about, ``words=`` what its teacher says to whoever opens the link.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from urllib.parse import unquote

from engine.drills.options import LONGEST_LINK, Options, read_link, write_link
from engine.lines.line import Line
from engine.practice.line_in_link import LONGEST_LINE, from_link, printed, quoted, to_link
from engine.theory.bad_input import BadInput, shown

LONGEST_WORDS = 200
LONGEST = LONGEST_LINK + LONGEST_LINE
_BESIDE = ("line", "words")


@dataclass(frozen=True, slots=True)
class DrillLink:
    """What a link says: ``options`` with the line in them, ``words``, the options ``set``, and what was ``ignored``."""

    options: Options
    words: str = ""
    set: tuple[str, ...] = ()
    ignored: tuple[str, ...] = ()


def read_drill_link(text: str) -> DrillLink:
    """A link, read leniently: whatever cannot be read is left out and said in a sentence each."""
    if len(text) > LONGEST:
        return DrillLink(Options(), ignored=(f"The link is longer than {LONGEST:,} signs; it was left out.",))
    parts = [part.partition("=") for part in text.removeprefix("#").split("&")]
    beside = {name: value for name, _, value in parts if name in _BESIDE}
    link = read_link("&".join("".join(part) for part in parts if part[0] not in beside))
    ignored = [*link.ignored]
    line: Line | None = None
    words = ""
    try:
        line = from_link(beside["line"]) if "line" in beside else None
    except BadInput as bad:
        ignored.append(_left_out("line", bad))
    try:
        words = read_words(unquote(beside.get("words", "")))
    except BadInput as bad:
        ignored.append(_left_out("sentence", bad))
    return DrillLink(replace(link.options, line=line), words, link.set, tuple(ignored))


def _left_out(what: str, bad: BadInput) -> str:
    return f'The {what} was left out, because "{shown(bad.token)}" {bad.problem}: {bad.instead}.'


def write_drill_link(options: Options, names: Iterable[str] | None = None, words: str = "") -> str:
    """The inverse; ``names`` as in ``write_link``. BadInput where the line is too much to hand on."""
    line = [f"line={to_link(options.line)}"] if options.line else []
    said = [f"words={quoted(words)}"] if words else []
    return "&".join([write_link(options, names), *line, *said])


def read_words(text: str) -> str:
    """The sentence on one line, without what cannot be printed; BadInput where it is no sentence any more."""
    words = " ".join(printed(text).split())
    if len(words) > LONGEST_WORDS:
        raise BadInput(words, 1, f"has {len(words)} signs", f"{LONGEST_WORDS} are the most")
    return words
