"""A line as its page shows it: in a key, over a next chord; told by the page's form and by its link."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Any
from urllib.parse import quote, unquote

from engine.formats.abc import read_abc, write_abc
from engine.lines.line import Line
from engine.lines.moving import key_for, moved_to, with_last_chord
from engine.lines.next_chords import followed_by, next_chords
from engine.theory.bad_input import BadInput
from engine.theory.chord import Chord
from engine.theory.chord_symbol import parse_chord
from engine.theory.key import Key, parse_key
from engine.theory.wording import Text


@dataclass(frozen=True, slots=True)
class Shown:
    """A line as its page shows it.

    ``written`` is the line as it is kept, ``line`` the same in ``line.key``, over
    ``following`` in its last chord's place where that was changed; ``text``
    says what the landing did then.
    """

    written: Line
    line: Line
    following: Chord | None = None
    text: Text | None = None

    @property
    def offers(self) -> tuple[Chord, ...]:
        """The chords to choose from as the next one."""
        own = moved_to(self.written, self.line.key)
        return tuple(dict.fromkeys([*next_chords(own), *([self.following] if self.following else [])]))


def shown(written: Line, key: Key | None = None, following: Chord | None = None) -> Shown:
    """The line in another key of its mode, then with another next chord (a chord of that key)."""
    line = moved_to(written, key_for(written, key)) if key else written
    if following is None or (len(line.changes) > 1 and following == line.changes[-1].chord):
        return Shown(written, line)
    aimed = followed_by(line, following)
    return Shown(written, aimed.line, following, aimed.text)


def with_key(before: Shown, key: Key) -> Shown:
    """The same in another key: a changed next chord goes along."""
    if before.following is None:
        return shown(before.written, key)
    carried = with_last_chord(before.line, before.following)
    return shown(before.written, key, moved_to(carried, key_for(carried, key)).changes[-1].chord)


def read_state(state: Mapping[str, Any]) -> Shown:
    """What a form's ``data-desk`` says: abc, key and next, the last two or empty; BadInput where one cannot be read."""
    key, following = str(state.get("key") or ""), str(state.get("next") or "")
    return shown(
        _line(str(state["abc"])), parse_key(key) if key else None, parse_chord(following) if following else None
    )


@lru_cache(maxsize=16)
def _line(abc: str) -> Line:
    return read_abc(abc)[0]


@lru_cache(maxsize=16)
def _abc(line: Line) -> str:
    return write_abc(line)


def as_state(page: Shown) -> dict[str, Any]:
    """The inverse of ``read_state``."""
    following = page.following.symbol if page.following else None
    return {"do": "line", "abc": _abc(page.written), "key": str(page.line.key), "next": following}


def as_link(page: Shown, before: str = "") -> str:
    """What a link to the page as it is shown says behind #; what it said ``before`` of other things stays."""
    parts = [part for part in before.split("&") if part and part.partition("=")[0] not in ("v", *_OWN)]
    if page.line.key != page.written.key:
        parts.append(f"key={quote(str(page.line.key))}")
    if page.following:
        parts.append(f"next={quote(page.following.symbol)}")
    return "&".join(["v=1", *parts]) if parts else ""


def asked_next(request: Mapping[str, Any]) -> Shown:
    """What a request of the form asks to be shown: its state, with what was chosen or typed since."""
    page = read_state(request)
    fields = request.get("fields", {})
    pressed, typed = (request.get("pressed") or ("", ""))[0], _value(fields, "other").strip()
    if pressed == "other" and typed:
        return _before(page, typed)
    key, following = _value(fields, "key"), _value(fields, "next")
    if key and key != str(page.line.key):
        return _in_key(page, key)
    return _before(page, following) if following else page


def linked(page: Shown, link: str) -> tuple[Shown, list[str]]:
    """The page as a link wants it, and a sentence for each part of that which cannot be done."""
    asked = {name: unquote(value) for name, _, value in (part.partition("=") for part in link.split("&"))}
    ignored = []
    for name, shown_as in _OWN.items():
        if text := asked.get(name):
            try:
                page = shown_as(page, text)
            except BadInput as bad:
                ignored.append(f"{bad} The link's {name} was left out.")
    return page, ignored


def _in_key(page: Shown, text: str) -> Shown:
    return with_key(page, parse_key(text))


def _before(page: Shown, text: str) -> Shown:
    return shown(page.written, page.line.key, parse_chord(text))


# What of a link is about how a line is shown, in the order in which it is done.
_OWN = {"key": _in_key, "next": _before}


def _value(fields: Mapping[str, Any], name: str) -> str:
    values = fields.get(name) or [""]
    return str(values[0])
