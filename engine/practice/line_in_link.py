"""A line as it travels in a link: its ABC, as short as it stays whole, percent-quoted.

ABC is imported where a line is: every page reads links, and few links have one.
"""

from __future__ import annotations

import re
from dataclasses import replace
from functools import lru_cache
from urllib.parse import quote, unquote

from engine.lines.line import Line
from engine.theory.bad_input import BadInput

LONGEST_LINE = 2_000
MOST_NOTES = 256  # a chorus of eighth notes; more would keep a phone busy
# What a link leaves at home: whoever opens it numbers lines anew, and plays at a tempo of their own.
_LEFT_OUT = ("X:", "C:", "Q:")
# The signs that stay as they are: naturals, flats, lengths, low octaves, ties. Inside a link every messenger keeps
# them. A link ends for them at a space, a quote, a bracket or an angle, for some at a bar or a caret; an asterisk may
# make it bold, and a colon with a letter a face.
_SAFE = "=_/,-"
_OUTSIDE_QUOTES = re.compile(r'("[^"]*")|\s+')
_END = "|]"
# They print nothing, but Persian and some pictures are written with them.
_JOINERS = "\u200c\u200d"
_COPY_AGAIN = "copy the whole link again"


# A line's page hands it on in two links, and is shown again and again.
@lru_cache(maxsize=32)
def to_link(line: Line) -> str:
    """The value that stands behind ``line=``; BadInput where the line is too much to hand on.

    ``from_link`` gives the line back, but for number, composer, tempo and signs that print nothing.
    """
    from engine.formats.abc import write_abc

    name = line.title or "the line"
    if len(line.notes) > MOST_NOTES:
        problem = f"has {len(line.notes)} notes, too many to hand on"
        raise BadInput(name, 1, problem, f"take a part of it, {MOST_NOTES} notes are the most")
    fields, rest = write_abc(line).split("\nK:", 1)
    key, music = rest.split("\n", 1)
    kept = [field for field in fields.split("\n") if not field.startswith(_LEFT_OUT)]
    # Spaces and line ends between the notes are for the eye.
    short = _OUTSIDE_QUOTES.sub(lambda found: found[1] or "", music)
    value = quoted(printed("\n".join([*kept, f"K:{key}", short])))
    if len(value) > LONGEST_LINE:
        problem = f"takes {len(value):,} signs, too many to hand on"
        raise BadInput(name, 1, problem, f"take a part of it or fewer words, {LONGEST_LINE:,} signs are the most")
    return value


def from_link(value: str) -> Line:
    """The line of a value as it stands in a link; BadInput where it was cut, is no line, or more than a link takes."""
    from engine.formats.abc import read_abc

    if len(value) > LONGEST_LINE:
        raise BadInput(value, 1, "is too long for a line in a link", f"{LONGEST_LINE:,} signs are the most")
    try:
        text = unquote(value, errors="strict")
    except UnicodeDecodeError:
        raise BadInput(value, 1, "is no text", _COPY_AGAIN) from None
    if text != printed(text):
        raise BadInput(text, 1, "has signs that cannot be printed", _COPY_AGAIN)
    if not text.endswith(_END):
        raise BadInput(text[-12:], max(1, len(text) - 11), "is where the line breaks off", _COPY_AGAIN)
    line, *others = read_abc(text)
    if others:
        raise BadInput(text, 1, f"holds {len(others) + 1} lines", "a link holds one")
    to_link(line)  # the page that opens it hands it on
    return line


def for_others(link: str, line: Line) -> str:
    """A link to a line of one's own as it works on every device: with the line in the place of its id."""
    parts = link.split("&")
    return "&".join(f"line={to_link(handed_on(line))}" if part.startswith("id=") else part for part in parts)


def handed_on(line: Line) -> Line:
    """The line without what its keeper noted for themselves."""
    return replace(line, remarks=(), group="")


def quoted(text: str) -> str:
    """Percent-quoted so that messengers keep all of it: they cut off what ends a sentence, so nothing such ends it."""
    value = quote(text, safe=_SAFE).replace(".", "%2E").replace("~", "%7E")
    return value if not value or value[-1].isalnum() else f"{value[:-1]}%{ord(value[-1]):02X}"


def printed(text: str) -> str:
    """The text without control characters and marks that turn the direction; other white space is a space."""
    return "".join(
        sign if sign.isprintable() or sign in _JOINERS or sign == "\n" else " " * sign.isspace() for sign in text
    )
