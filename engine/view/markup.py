"""Small pieces of HTML text: escaping, attributes, and sentences that keep their music together."""

from __future__ import annotations

import json
import re
from functools import lru_cache
from typing import Any

from engine.theory.wording import USUAL, Profile, Slot, say, show

_ENTITIES = str.maketrans({"&": "&amp;", "<": "&lt;", ">": "&gt;", '"': "&quot;", "'": "&#39;"})
# Degrees joined by dashes are read as one thing, so they stay on one line.
_RUN = re.compile(r"[^\s–]+(?:–[^\s–]+)+")


def escape(text: str) -> str:
    """Plain text as it may stand in HTML and SVG, between tags and in quoted attributes."""
    return text.translate(_ENTITIES)


def plain(value: Slot, profile: Profile = USUAL) -> str:
    """A note, degree, chord or sentence as the profile writes it, with a printer's apostrophe, escaped."""
    return escape(show(value, profile).replace("'", "’"))


def prose(value: Slot, profile: Profile = USUAL) -> str:
    """The same, with every run of degrees (3–5–♭7–9) kept on one line."""
    return _RUN.sub(lambda run: f'<span class="run">{run[0]}</span>', plain(value, profile))


def words(template: str, profile: Profile = USUAL, **slots: Slot) -> str:
    """One of the page's own sentences, escaped; it is translated like those of the drills."""
    return plain(say(template, **slots), profile) if slots or profile is not USUAL else _label(template)


# A page has its labels again and again, and has them each time that it is shown.
@lru_cache(maxsize=512)
def _label(template: str) -> str:
    return plain(say(template))


def number(value: float) -> str:
    """A coordinate with at most one decimal, so that the same picture is always the same text."""
    text = f"{value:.1f}".removesuffix(".0")
    return "0" if text == "-0" else text


def as_data(value: Any) -> str:
    """JSON for a data attribute, as short as it gets, escaped."""
    return escape(json.dumps(value, ensure_ascii=False, separators=(",", ":")))


def on_off(shown: str, profile: Profile = USUAL, said: str = "") -> str:
    """What stands on a button that plays and stops; ``shown`` is HTML, ``said`` what is read aloud instead of it."""
    on = f'<span aria-hidden="true">{shown}</span><span class="unseen">{said}</span>' if said else shown
    return f'<span class="on">{on}</span><span class="off">{words("Stop", profile)}</span>'


def section(name: str, title: str, body: str, profile: Profile = USUAL) -> str:
    """A section of a page under its heading; ``body`` is HTML."""
    return f'<section class="{name}"><h2>{words(title, profile)}</h2>{body}</section>'
