"""A line as its page shows it: in a key, over a next chord, on a neck; told by the page's form and by its link."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any
from urllib.parse import quote, unquote

from engine.drills.options import VERSION, of_newer
from engine.formats.abc import read_abc, write_abc
from engine.lines.line import Line
from engine.lines.moving import key_for, moved_to, with_last_chord
from engine.lines.next_chords import followed_by, next_chords
from engine.practice.fingered import Fingered, fingered
from engine.practice.hearing import AS_USUAL, BY_NAME, HEARD, Hearing
from engine.practice.line_in_link import quoted
from engine.practice.line_on_neck import (
    FRESH,
    LINKED,
    OnNeck,
    linked_way,
    on_neck_as_json,
    on_neck_link,
    pressed_on_neck,
    read_on_neck,
)
from engine.practice.own_way import ANY_WAY, kept, played
from engine.practice.setting import part_of_link, told, with_texts
from engine.practice.settings import AS_IT_CAME, Settings, read_settings
from engine.theory.bad_input import BadInput
from engine.theory.chord import Chord
from engine.theory.chord_symbol import parse_chord
from engine.theory.key import Key, parse_key
from engine.theory.pitch import signed_semitones
from engine.theory.wording import Text


@dataclass(frozen=True, slots=True)
class Shown:
    """A line as its page shows it.

    ``written`` is the line as it is kept, ``line`` the same in ``line.key``, over
    ``following`` in its last chord's place where that was changed; ``text``
    says what the landing did then. ``neck`` is how it is played, for a player with these ``settings``;
    ``hearing`` is how it is to be heard.
    """

    written: Line
    line: Line
    following: Chord | None = None
    text: Text | None = None
    neck: OnNeck = FRESH
    settings: Settings = AS_IT_CAME
    hearing: Hearing = AS_USUAL

    @property
    def offers(self) -> tuple[Chord, ...]:
        """The chords to choose from as the next one."""
        own = moved_to(self.written, self.line.key)
        return tuple(dict.fromkeys([*next_chords(own), *([self.following] if self.following else [])]))

    @property
    def away(self) -> int:
        """How many frets its key lies above the one that the line is kept in, at most a tritone up or down."""
        return signed_semitones(self.written.key.tonic, self.line.key.tonic)

    @property
    def played(self) -> Line:
        """The line as it is kept, with its notes in the octaves that were chosen."""
        return played(self.written, self.neck.own)

    @property
    def fingered(self) -> Fingered:
        """The line on the player's neck."""
        return fingered(self.line, self.neck.own, self.settings, self.away)


def shown(
    written: Line,
    key: Key | None = None,
    following: Chord | None = None,
    neck: OnNeck = FRESH,
    settings: Settings = AS_IT_CAME,
    hearing: Hearing = AS_USUAL,
) -> Shown:
    """The line in another key of its mode, then with another next chord (a chord of that key), on a neck."""
    own = played(written, neck.own)
    line = moved_to(own, key_for(written, key)) if key else own
    if following is None or (len(line.changes) > 1 and following == line.changes[-1].chord):
        return Shown(written, line, neck=neck, settings=settings, hearing=hearing)
    aimed = followed_by(line, following)
    return Shown(written, aimed.line, following, aimed.text, neck, settings, hearing)


def on_neck(before: Shown, neck: OnNeck) -> Shown:
    """The same, played in another way."""
    if neck.own == before.neck.own:
        return replace(before, neck=neck)
    return shown(before.written, before.line.key, before.following, neck, before.settings, before.hearing)


def with_key(before: Shown, key: Key) -> Shown:
    """The same in another key: a changed next chord goes along."""
    following = before.following
    if following:
        carried = with_last_chord(before.line, following)
        following = moved_to(carried, key_for(carried, key)).changes[-1].chord
    return shown(before.written, key, following, before.neck, before.settings, before.hearing)


def read_state(state: Mapping[str, Any]) -> Shown:
    """What a form's ``data-desk`` says, with the player's settings: abc; all else may be missing or empty.

    BadInput where abc, key or next cannot be read.
    """
    key, following = str(state.get("key") or ""), str(state.get("next") or "")
    line = _line(str(state["abc"]))
    return shown(
        line,
        parse_key(key) if key else None,
        parse_chord(following) if following else None,
        read_on_neck(state.get("neck"), len(line.notes)),
        read_settings(state.get("settings")),
        with_texts(AS_USUAL, HEARD, state.get("hear")),
    )


@lru_cache(maxsize=16)
def _line(abc: str) -> Line:
    return read_abc(abc)[0]


@lru_cache(maxsize=16)
def _abc(line: Line) -> str:
    return write_abc(line)


def as_state(page: Shown) -> dict[str, Any]:
    """The inverse of ``read_state``, but for the settings."""
    following = page.following.symbol if page.following else None
    neck = on_neck_as_json(page.neck)
    state = {"do": "line", "abc": _abc(page.written), "key": str(page.line.key), "next": following}
    more = {"neck": neck, "hear": told(page.hearing, AS_USUAL, HEARD)}
    return {**state, **{name: value for name, value in more.items() if value}}


def as_link(page: Shown, before: str = "") -> str:
    """What a link to the page as it is shown says behind #; what it said ``before`` of other things stays."""
    parts = [part for part in before.split("&") if part and part.partition("=")[0] not in ("v", *_OWN)]
    if page.line.key != page.written.key:
        parts.append(f"key={quote(str(page.line.key))}")
    if page.following:
        parts.append(f"next={quote(page.following.symbol)}")
    parts += on_neck_link(page.neck, page.away)
    parts += [f"{name}={quoted(text)}" for name, text in told(page.hearing, AS_USUAL, HEARD).items()]
    return "&".join([f"v={VERSION}", *parts]) if parts else ""


def asked_next(request: Mapping[str, Any], before: Shown | None = None) -> Shown:
    """What a request of the form asks to be shown: its state, with what was chosen, pressed or typed since.

    ``before`` is the page of its state, where that is known already.
    """
    page = before or read_state(request)
    fields = request.get("fields", {})
    pressed, value = request.get("pressed") or ("", "")
    # Key and next chord in the fields may be from before what is underway already.
    neck = pressed_on_neck(page.neck, pressed, str(value), len(page.written.notes), page.away)
    if neck:
        return on_neck(page, neck)
    typed = _value(fields, "other").strip()
    if pressed == "other" and typed:
        return _before(page, typed)
    key, following = _value(fields, "key"), _value(fields, "next")
    if key and key != str(page.line.key):
        return _in_key(page, key)
    return _before(page, following) if following else page


def linked(page: Shown, link: str) -> tuple[Shown, list[str]]:
    """The page as a link wants it, and a sentence for each part of that which cannot be done."""
    asked = {name: unquote(value) for name, _, value in (part.partition("=") for part in link.split("&"))}
    ignored = of_newer(link)
    for name, shown_as in _OWN.items():
        if text := asked.get(name):
            try:
                page = shown_as(page, text)
            except BadInput as bad:
                ignored.append(f"{bad} The link's {name} was left out.")
    return page, ignored


def opened(page: Shown, link: str, records: Iterable[Any]) -> tuple[Shown, list[str]]:
    """A page as its link wants it; where that does not say how the line is played, it is as the records say."""
    told = any(part.partition("=")[0] in LINKED for part in link.split("&"))
    own = ANY_WAY if told else kept(records, page.written, page.settings.instrument)
    if own != page.neck.own:
        page = on_neck(page, replace(page.neck, own=own, undo=(), tapped=None))
    return linked(page, link)


def _in_key(page: Shown, text: str) -> Shown:
    return with_key(page, parse_key(text))


def _before(page: Shown, text: str) -> Shown:
    return shown(page.written, page.line.key, parse_chord(text), page.neck, page.settings, page.hearing)


def _played_as(name: str) -> Callable[[Shown, str], Shown]:
    return lambda page, text: on_neck(page, linked_way(page.neck, name, text, len(page.written.notes), page.away))


def _heard_as(name: str) -> Callable[[Shown, str], Shown]:
    return lambda page, text: replace(page, hearing=part_of_link(page.hearing, BY_NAME, name, text))


# What of a link is about how a line is shown, in the order in which it is done.
_OWN = {
    "key": _in_key, "next": _before,
    **{name: _played_as(name) for name in LINKED},
    **{name: _heard_as(name) for name in BY_NAME},
}  # fmt: skip


def _value(fields: Mapping[str, Any], name: str) -> str:
    values = fields.get(name) or [""]
    return str(values[0])
