"""Examples on the neck for the handbook's texts, from the engine: places, what a hand reaches, the ways of a line.

Notes stand in a row, eighths, ``z`` is an eighth rest: "G4 A4 z B4"; "on 1" behind them holds all on string 1.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from fractions import Fraction
from itertools import groupby
from typing import TYPE_CHECKING

import book

from engine.lines.line import Change, Line, Meter, Note
from engine.neck.easier import easier
from engine.neck.fingering import Way, ways
from engine.neck.hand import REACH, WIDEST
from engine.neck.instrument import GUITAR, Place
from engine.neck.limits import Limits
from engine.neck.sentences import fret_text, way_text
from engine.theory.chord_symbol import parse_chord
from engine.theory.key import parse_key
from engine.theory.naming import CHORD_TONE, EXTENSION
from engine.theory.pitch import parse_pitch
from engine.theory.wording import Slot, Text, say
from engine.view.markup import escape, plain, prose, words
from engine.view.neck import Dot, neck_svg
from engine.view.tab import tab_svg

if TYPE_CHECKING:
    from mkdocs.structure.pages import Page

_EIGHTH = Fraction(1, 2)
_SHOWN = 12  # frets of the neck in a picture


def _line(text: str) -> tuple[Line, Limits]:
    """Notes in a row, and what they are held to."""
    row, _, string = text.partition(" on ")
    notes: list[Note] = []
    for place, word in enumerate(row.split()):
        if word != "z":
            notes.append(Note(parse_pitch(word), place * _EIGHTH, _EIGHTH))
    end = Fraction(-(-notes[-1].end // 4) * 4)
    line = Line(parse_key("C"), Meter(), tuple(notes), (Change(parse_chord("C"), Fraction(0)),), Fraction(0), end)
    return line, Limits(holds=tuple((index, int(string)) for index in range(len(notes))) if string else ())


# --- in a sentence ----------------------------------------------------------------


def _places(text: str) -> str:
    places = [_place(place) for place in GUITAR.places(parse_pitch(text).midi)]
    return plain(say("{places:and}", places=tuple(places)))


def _place(place: Place) -> Text:
    if place.fret == 0:
        return say("string {string} open", string=place.string)
    return say("string {string} at {fret}", string=place.string, fret=fret_text(place.fret))


def _played(text: str) -> str:
    line, limits = _line(text)
    return plain(way_text(line, ways(line, GUITAR, limits)[0]))


def _stretched(text: str) -> str:
    """The first way of a line of the book, for a hand of so many frets."""
    slug, _, stretch = text.partition(" ")
    line = book.analyses()[slug].line
    return plain(way_text(line, ways(line, GUITAR, Limits(stretch=int(stretch or WIDEST)))[0]))


def _eased(text: str) -> str:
    found = easier(_line(text)[0])
    if not found:
        raise ValueError("nothing is easier there")
    return plain(found[0].text)


def _region(text: str) -> str:
    """How many notes a region of the neck has; ValueError where one between the lowest and the highest is missing."""
    low, high = map(int, text.split())
    there = {midi for midi in range(128) if any(low <= fret <= high for _, fret in GUITAR.places(midi))}
    if there != set(range(GUITAR.lowest + low, GUITAR.opens[0] + high + 1)):
        raise ValueError("that region lacks a note")
    return str(len(there))


TAGS: dict[str, Callable[[str], str]] = {
    "places": _places,
    "played": _played,
    "stretched": _stretched,
    "eased": _eased,
    "region": _region,
}


# --- by itself ----------------------------------------------------------------------


def _figure(dots: Sequence[Dot], name: str, title: Slot, telling: Slot) -> str:
    picture = neck_svg(GUITAR, 0, _SHOWN, dots, name, plain(title), plain(telling))
    return f'<figure class="sketch">{picture}<figcaption>{plain(title)}</figcaption></figure>'


def _everywhere(text: str, _: Page) -> str:
    pitch = parse_pitch(text)
    places = GUITAR.places(pitch.midi)
    dots = [Dot(place, "", CHORD_TONE) for place in places if place.fret <= _SHOWN]
    telling = say("{places:and}", places=tuple(map(_place, places)))
    return _figure(dots, f"everywhere-{text.lower()}", say("{pitch} up to the 12th fret", pitch=pitch), telling)


def _reach(text: str, _: Page) -> str:
    """What a hand reaches from a position, one finger a fret; the reaches stand back."""
    position = int(text)
    below, above = REACH[WIDEST]
    dots = [
        Dot(Place(string, fret), "", *((CHORD_TONE,) if 0 <= fret - position <= 3 else (EXTENSION, True)))
        for string in range(1, len(GUITAR.strings) + 1)
        for fret in range(position - below, position + above + 1)
    ]
    telling = say(
        "One finger a fret from {low} to {high}, and a reach of one fret on either side.",
        low=fret_text(position), high=fret_text(position + 3),
    )  # fmt: skip
    return _figure(dots, f"reach-{position}", say("The hand at {fret}", fret=fret_text(position)), telling)


def _ways(slug: str, page: Page) -> str:
    """Every way of a line of the book: what is said of it, its widest stretch, and its TAB."""
    from mkdocs.utils import get_relative_url

    line = book.analyses()[slug].line
    items = "".join(_item(line, way) for way in ways(line))
    address = escape(get_relative_url(f"lines/{slug}.html", page.url))
    return f'<p><a href="{address}">{escape(line.title)}</a></p><ol class="ways">{items}</ol>'


def _item(line: Line, way: Way) -> str:
    low, high = _widest(way)
    stretch = words("Widest stretch: from {low} to {high}.", low=fret_text(low), high=fret_text(high))
    places = words("{places:and}", places=tuple(map(_place, way.places)))
    tab = tab_svg(way.places, len(GUITAR.strings))
    return f'<li>{prose(way_text(line, way))} {stretch}<br>{tab}<span class="unseen">{places}</span></li>'


def _widest(way: Way) -> tuple[int, int]:
    """The lowest and the highest fret of the widest stretch; of equal ones the first."""
    stays = groupby(zip(way.positions, way.places, strict=True), key=lambda pair: pair[0])
    frets = [[place.fret for _, place in stay if place.fret] for _, stay in stays]
    widest = max(filter(None, frets), key=lambda those: max(those) - min(those))
    return min(widest), max(widest)


LISTS: dict[str, Callable[[str, Page], str]] = {"everywhere": _everywhere, "reach": _reach, "ways": _ways}
