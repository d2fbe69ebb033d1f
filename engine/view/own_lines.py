"""A player's own lines: the list of them, and what can be done with one."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import Any

from engine.lines.line import Line
from engine.lines.reading import read_line
from engine.practice.fingered import savings
from engine.practice.own_lines import LONGEST_FILE, OwnLine, OwnLines
from engine.practice.own_records import LONGEST_ABC
from engine.practice.settings import AS_IT_CAME, Settings
from engine.practice.shown_line import opened, shown
from engine.theory.wording import USUAL, Profile, Slot, say
from engine.view.line_fields import area_field, button, check, said_fields_html, use_html
from engine.view.line_page import line_form_html
from engine.view.markup import as_data, escape, plain, prose, words

SHOWN_DEGREES = 5
SHOWN_CHORDS = 4
SHOWN_LINES = 60
STATE = {"do": "own lines"}


def page_html(profile: Profile = USUAL) -> str:
    """The page before the lines that are kept on the device are known."""
    waiting = f"<p>{words('Your lines are being looked up on this device.', profile)}</p>"
    return (
        f'<div id="own-line"></div><form class="desk own" id="own" data-desk="{as_data(STATE)}" data-needs="own"'
        f' autocomplete="off">{_leaf(_tap_in(profile) + waiting, profile)}</form>'
    )


# --- the list ----------------------------------------------------------------------


def list_html(
    own: OwnLines, profile: Profile, told: str = "", paste: str = "", only: bool = False, most: int = SHOWN_LINES,
    is_read: bool = False,
) -> str:  # fmt: skip
    """The list: ``paste`` is a text that could not be read in whole.

    ``told`` is HTML that stands above the list, or where texts are read if it is about one (``is_read``).
    ``only``: those that are still to study; ``most``: so many at once.
    """
    notice = f'<div class="told" role="status">{told}</div>' if told else ""
    wanted = [one for one in own.lines if one.is_to_study or not only]
    parts = (
        _tap_in(profile),
        "" if is_read else notice,
        _lines(own, wanted[:most], only, profile),
        f'<p class="buttons">{button("more", words("Show more", profile))}</p>' if len(wanted) > most else "",
        notice if is_read else "",
        _in_and_out(len(own.lines), paste, profile),
        _deleted(own.deleted, profile),
    )
    return _leaf("".join(parts), profile)


def _leaf(body: str, profile: Profile) -> str:
    lead = words("Kept on this device, and nowhere else.", profile)
    return (
        f'<div class="leaf" id="own-page"><div class="sleeve"><div><h1>{words("My lines", profile)}</h1>'
        f'<p class="lead">{lead}</p></div></div><div class="paper"><div class="text">{body}</div></div></div>'
    )


def _tap_in(profile: Profile) -> str:
    return f'<p class="buttons"><a class="button first" href="new.html">{words("Tap a line in", profile)}</a></p>'


def _lines(own: OwnLines, lines: Sequence[OwnLine], only: bool, profile: Profile) -> str:
    if not own.lines:
        empty = words(
            "There is none yet. Tap in a line that you want to keep: its degrees stand on the keys while you do. "
            "Or paste one below.",
            profile,
        )
        return f"<p>{empty}</p>"
    study = words("Only what is still to study", profile)
    nothing = "" if lines else f"<p>{words('None is marked as still to study.', profile)}</p>"
    items = "".join(_item(one, profile) for one in lines)
    return f'{check("only", study, only)}{nothing}<ul class="list">{items}</ul>'


def _item(own: OwnLine, profile: Profile) -> str:
    mark = f' <span class="mark">{words("still to study", profile)}</span>' if own.is_to_study else ""
    teaser = _teaser(own.line, profile) if own.line else escape(own.fault)
    return (
        f'<li><a href="#v=1&amp;id={own.id}"><span class="name">{plain(name_of(own), profile)}</span>{mark}'
        f' <span class="teaser">{teaser}</span></a></li>'
    )


def name_of(own: OwnLine) -> Slot:
    """The line's title, or its chords."""
    line = own.line
    if line is None:
        return say("A line that cannot be read")
    chords = tuple(change.chord for change in line.changes[:SHOWN_CHORDS])
    more = " …" if len(line.changes) > SHOWN_CHORDS else ""
    return line.title or say("{chords:row}{more}", chords=chords, more=more)


def _teaser(line: Line, profile: Profile) -> str:
    first = replace(line, notes=line.notes[:SHOWN_DEGREES])
    degrees = tuple(heard.degree for heard in read_line(first))
    more = " …" if len(line.notes) > SHOWN_DEGREES else ""
    told = prose(say("{degrees:run}{more}", degrees=degrees, more=more), profile)
    use = use_html(line, line.key, profile)
    return " · ".join(part for part in (told, use, escape(line.source)) if part)


def _in_and_out(count: int, paste: str, profile: Profile) -> str:
    # Another id for another number of lines: what was pasted stands there until it is taken.
    text = area_field("paste", words("ABC text: one line or many", profile), paste, 6, LONGEST_FILE, str(count))
    read = words("Read an .abc file", profile)
    save = button("save", words("Save all as .abc", profile)) if count else ""
    return (
        f'<details class="paste"{" open" if paste else ""}><summary>{words("Paste ABC", profile)}</summary>{text}'
        f'<p class="buttons">{button("paste", words("Keep what is pasted", profile))}</p></details>'
        f'<p class="buttons"><label class="button">{read}'
        f'<input name="file" type="file" accept=".abc,text/vnd.abc,text/plain"></label>{save}</p>'
    )


def _deleted(lines: Sequence[OwnLine], profile: Profile) -> str:
    if not lines:
        return ""
    back = words("Put it back", profile)
    items = "".join(
        f"<li><span>{plain(name_of(one), profile)}</span> {button('restore', back, one.id)}</li>" for one in lines
    )
    title = words("Deleted lines ({count})", profile, count=len(lines))
    return f'<details class="deleted"><summary>{title}</summary><ul>{items}</ul></details>'


# --- one line ------------------------------------------------------------------------


def line_html(
    line: Line, link: str, profile: Profile, kept: Iterable[Any] = (), settings: Settings = AS_IT_CAME
) -> tuple[str, list[str]]:
    """The line's page, as it is in the book; a sentence for what of the link cannot be done.

    ``kept``: the records that say how it is played.
    """
    kept = list(kept)
    page, ignored = opened(shown(line, settings=settings), link, kept)
    better = savings(page.fingered, settings.stretch)
    return f'<div id="own-line">{line_form_html(page, profile, better, kept)}</div>', ignored


NO_LINE = '<div id="own-line"></div>'


def mine_html(own: OwnLine, profile: Profile) -> str:
    """What belongs to a line because it is the player's own."""
    tap_on = f'<a class="button" href="new.html#v=1&amp;id={own.id}">{words("Tap on", profile)}</a>' if own.line else ""
    fields = said_fields_html(own.line, profile, own.id) if own.line else ""
    text = area_field("abc", words("ABC text", profile), own.abc, 8, LONGEST_ABC, own.id)
    return (
        f'<div class="below" id="own-page"><section><h2>{words("This line is yours", profile)}</h2>{fields}</section>'
        f"<section><details{'' if own.line else ' open'}><summary>{words('Change its notes', profile)}</summary>{text}"
        f'{fault_html(own.fault)}<p class="buttons">{tap_on}</p></details>'
        f'<p class="buttons">{button("delete", words("Delete", profile))}'
        f'<a class="button" href="#">{words("All my lines", profile)}</a></p></section></div>'
    )


def fault_html(sentence: str) -> str:
    """Why a text cannot be read, below it."""
    return f'<p class="fault" id="own-fault" role="status">{escape(sentence)}</p>'


def guest_html(is_known: bool, profile: Profile) -> str:
    """What belongs to a line that came in a link."""
    said = "It is among your lines already." if is_known else "It came with the link. Keep it, and it is yours too."
    label = "Open mine" if is_known else "Keep it in my lines"
    return (
        f'<div class="below" id="own-page"><section><h2>{words("A line for you", profile)}</h2>'
        f'<p>{words(said, profile)}</p><p class="buttons">{button("take", words(label, profile), kind="first")}'
        f'<a class="button" href="#">{words("All my lines", profile)}</a></p></section></div>'
    )
