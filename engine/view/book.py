"""The line book's index: what to look for, and the lines found; and the neighbours of a line."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence

from engine.lines.devices.recognise import DEVICES
from engine.lines.use import USES
from engine.practice.book import Entry
from engine.theory.degree import DEGREES, Degree
from engine.theory.wording import USUAL, Profile, say
from engine.view.markup import escape, plain, prose, words

SHOWN_DEGREES = 5

# What can be chosen, with its label, and in which order its values stand.
_CHOICES: Mapping[str, tuple[str, Sequence[str], Callable[[Entry], Iterable[str]]]] = {
    "use": ("For", tuple(USES), lambda entry: (entry.use,)),
    "device": ("Device", tuple(DEVICES), lambda entry: entry.devices),
    "first": ("Starts on", tuple(DEGREES), lambda entry: (entry.first,)),
    "landing": ("Lands on", tuple(DEGREES), lambda entry: (entry.landing,)),
}


def index_form_html(book: Sequence[Entry], profile: Profile = USUAL) -> str:
    """The form of the index, and below it all lines; only what some line has can be chosen."""
    fields = "".join(_select(name, book, profile) for name in _CHOICES)
    return (
        '<form class="desk index" id="index" role="search" autocomplete="off"'
        ' data-desk="{&quot;do&quot;:&quot;book&quot;}" data-needs="book">'
        f'<div class="filters">{fields}</div>'
        f'<p class="degrees"><label for="degrees">{words("Degrees in a row", profile)}</label>'
        '<input id="degrees" name="degrees" type="search" data-live maxlength="80" placeholder="b3 5 b7 9"'
        f' autocapitalize="off" spellcheck="false"></p>{found_html(book, profile)}</form>'
    )


def _select(name: str, book: Sequence[Entry], profile: Profile) -> str:
    label, order, values_of = _CHOICES[name]
    there = {value for entry in book for value in values_of(entry)}
    options = "".join(
        f'<option value="{escape(value)}">{_value(name, value, profile)}</option>' for value in order if value in there
    )
    return (
        f'<p><label for="by-{name}">{words(label, profile)}</label><select id="by-{name}" name="{name}">'
        f'<option value="">{words("any", profile)}</option>{options}</select></p>'
    )


def _value(name: str, value: str, profile: Profile) -> str:
    if name == "use":
        return words(USES[value], profile)
    return words(value, profile) if name == "device" else plain(Degree(value), profile)


def found_html(found: Sequence[Entry], profile: Profile = USUAL) -> str:
    """The lines found, by what they are for."""
    count = words("{count} lines" if len(found) != 1 else "{count} line", profile, count=len(found))
    sections = "".join(
        f"<section><h2>{words(USES[use], profile)}</h2>"
        f"{_list([(entry, _teaser(entry, profile)) for entry in found if entry.use == use])}</section>"
        for use in USES
        if any(entry.use == use for entry in found)
    )
    nothing = words("No line of the book has all of that.", profile)
    return f'<div id="found">{how_many_html(count if found else nothing)}{sections}</div>'


def how_many_html(sentence: str) -> str:
    """What is said of the list; ``sentence`` is HTML."""
    return f'<p class="how-many" id="how-many" role="status">{sentence}</p>'


def _teaser(entry: Entry, profile: Profile) -> str:
    degrees = tuple(Degree(name) for name in entry.degrees[:SHOWN_DEGREES])
    return f"{prose(say('{degrees:run} …', degrees=degrees), profile)} {escape(entry.says)}"


def neighbours_html(found: Sequence[tuple[Entry, tuple[str, ...]]], profile: Profile = USUAL) -> str:
    """Lines that share devices with one, each with what they share; nothing where there is none."""
    if not found:
        return ""
    rows = [
        (entry, words("Also: {devices:and}.", profile, devices=tuple(say(name) for name in devices)))
        for entry, devices in found
    ]
    return f"<section><h2>{words('Lines that do the same', profile)}</h2>{_list(rows)}</section>"


def _list(rows: Iterable[tuple[Entry, str]]) -> str:
    items = "".join(
        f'<li><a href="{escape(entry.slug)}.html"><span class="name">{escape(entry.title)}</span>'
        f' <span class="teaser">{teaser}</span></a></li>'
        for entry, teaser in rows
    )
    return f'<ul class="list">{items}</ul>'
