"""What the form of a line's page asks the engine, and the answers (``engine.browser`` has their shape)."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from engine.formats.cannot_write import CannotWrite
from engine.lines.devices.recognise import analyse
from engine.lines.line import Line
from engine.lines.moving import keys_of
from engine.practice.fingered import may_save, savings
from engine.practice.hearing import AS_USUAL, HEARD, Hearing, heard, stepped, tempo_of
from engine.practice.line_file import line_file
from engine.practice.line_in_link import for_others
from engine.practice.line_on_neck import ON_NECK, with_low
from engine.practice.own_way import keeping
from engine.practice.reached import reached
from engine.practice.setting import TEMPO, with_fields
from engine.practice.settings import AS_IT_CAME
from engine.practice.shown_line import (
    Shown,
    as_link,
    as_state,
    asked_next,
    on_neck,
    opened,
    read_state,
    with_key,
)
from engine.sound.event import as_json
from engine.theory.bad_input import BadInput
from engine.theory.wording import USUAL, render
from engine.view.hearing import hearing_html, unused_html, unused_tempo
from engine.view.line_neck import better_html, tapped_text
from engine.view.line_page import line_form_html, told_html
from engine.view.line_practice import REGION_WISE, practise_ways_html, practised_html, practised_text
from engine.view.markup import escape


def answer(request: Mapping[str, Any]) -> dict[str, Any]:
    """The page in the key, over the next chord and in the way that are asked for; or a file of the line, or a link."""
    name, value = request.get("pressed") or ("", "")
    act = _ACTS.get(name)
    return act(request, str(value)) if act else _shown(request, name)


def _open(request: Mapping[str, Any], _: str) -> dict[str, Any]:
    """The page as its link and what is kept make it; nothing where that is what it shows."""
    link = str(request.get("link", ""))
    before = read_state(request)
    page, ignored = opened(before, link, request.get("own", ()))
    notice = " ".join(ignored) or None
    own = request.get("own", ())
    if page == before and page.settings == AS_IT_CAME and not link and not reached(own, page.line):
        return {"notice": notice, "ahead": _FIRST_AHEAD}
    return {**_page(page, own), "notice": notice}


def _page(page: Shown, own: Sequence[Any]) -> dict[str, Any]:
    """The page's form; what would lie better is asked for when it is there."""
    found = page.fingered
    if not may_save(found):
        return {"patches": {"line": line_form_html(page, records=own)}, "ahead": _FIRST_AHEAD}
    return {"patches": {"line": line_form_html(page, better=None, records=own)}, "then": ["better", ""]}


def _shown(request: Mapping[str, Any], name: str) -> dict[str, Any]:
    before = read_state(request)
    fields = request.get("fields", {})
    if name == "other" and not (fields.get("other") or [""])[0].strip():
        name = ""  # Enter in any field presses the first button: here that is the one beside an empty field
    try:
        page = asked_next(request, before)
    except BadInput as bad:
        return {"patches": {"told": told_html(escape(str(bad)))}}
    low = (fields.get("from") or [""])[0]
    if not name:
        hearing, faults = _heard_as(before, fields)
        if page == before and (hearing != before.hearing or (faults and low in ("", str(page.neck.low)))):
            return _hearing(request, replace(before, hearing=hearing), faults)
        page = replace(page, hearing=hearing)
    if not name and page == before and low not in ("", str(page.neck.low)):
        return _practise(request, REGION_WISE)
    link = as_link(page, str(request.get("link", "")))
    said = page.text
    if name in ON_NECK:  # the sentence on the way says itself where it changes
        said = tapped_text(page.fingered, page.neck) if name in ("place", "hold") else None
    reply = {
        **_page(page, request.get("own", ())),
        "link": link,
        "said": render(said) if said else "",
        "replay": page.line != before.line,
    }
    if page.neck.own != before.neck.own:
        made = keeping(
            request.get("own", ()), page.written, page.settings.instrument, page.neck.own, int(request["at"])
        )
        reply["keep"] = [made]
    return reply


def _heard_as(page: Shown, fields: Mapping[str, Any]) -> tuple[Hearing, dict[str, str]]:
    """How it is to be heard by the fields; a sentence by the name of each that cannot be read."""
    shown = json.loads(str((fields.get("heard") or ["null"])[0]))
    return with_fields(page.hearing, AS_USUAL, HEARD, fields, shown)


def _hearing(request: Mapping[str, Any], page: Shown, faults: Mapping[str, str]) -> dict[str, Any]:
    """The fields on how it is heard, and nothing else of the page."""
    patches = {"hearing": hearing_html(page.line, page.hearing, USUAL, faults), "unused": unused_html()}
    is_new = page.hearing != read_state(request).hearing
    link = as_link(page, str(request.get("link", "")))
    return {"desk": as_state(page), "patches": patches, "link": link, "replay": is_new}


def _tempo(request: Mapping[str, Any], step: str) -> dict[str, Any]:
    page = read_state(request)
    tempo = stepped(tempo_of(page.hearing, page.line), step)
    return _hearing(request, replace(page, hearing=replace(page.hearing, tempo=tempo)), {})


def _hear(request: Mapping[str, Any], _: str) -> dict[str, Any]:
    """What sounds; where a field says what cannot be, it shows what is used instead, and a sentence tells of it."""
    page = read_state(request)
    fields = request.get("fields", {})
    faults = _heard_as(page, fields)[1]
    told = [unused_tempo(fields, tempo_of(page.hearing, page.line))] if TEMPO.name in faults else []
    patches = {"unused": unused_html(told)}
    if faults:
        patches["hearing"] = hearing_html(page.line, page.hearing, USUAL)
    return {"sound": as_json(heard(page.hearing, page.line)), "patches": patches}


def _better(request: Mapping[str, Any], _: str) -> dict[str, Any]:
    page = read_state(request)
    better = savings(page.fingered, page.settings.stretch)
    return {"patches": {"better": better_html(better, USUAL, bool(page.neck.own.held))}, "ahead": _FIRST_AHEAD}


_FIRST_AHEAD = ["ahead", "0"]


def _ahead(request: Mapping[str, Any], value: str) -> dict[str, Any]:
    """Works out the line in one of the twelve keys, to have it at hand when that key is tapped; then comes the next."""
    page, number = read_state(request), int(value)
    keys = keys_of(page.written.key.mode)
    if number >= len(keys):
        return {}
    there = with_key(page, keys[number])
    analyse(there.line)
    _ = there.fingered  # it is remembered
    return {"ahead": ["ahead", str(number + 1)]}


def _practise(request: Mapping[str, Any], how: str) -> dict[str, Any]:
    """The line in twelve keys; the fret chosen is kept in the form's state."""
    page = read_state(request)
    low = (request.get("fields", {}).get("from") or [str(page.neck.low)])[0]
    page = on_neck(page, with_low(page.neck, str(low), page.settings.instrument.frets))
    html = practised_html(page.fingered, how, page.neck.low, page.settings, USUAL)
    ways = practise_ways_html(page.fingered, page.neck.low, how, USUAL)
    said = render(practised_text(how, page.neck.low, page.settings))
    return {"desk": as_state(page), "patches": {"practised": html, "practise-ways": ways}, "said": said}


def _file(request: Mapping[str, Any], kind: str) -> dict[str, Any]:
    return file_of(read_state(request).line, kind)


def _share(request: Mapping[str, Any], _: str) -> dict[str, Any]:
    page = read_state(request)
    link = as_link(page, str(request.get("link", "")))
    return {"share": {"title": page.line.title, "link": for_others(link, page.written)}}


_ACTS = {
    "open": _open, "better": _better, "practise": _practise, "file": _file, "share": _share,
    "tempo": _tempo, "hear": _hear, "ahead": _ahead,
}  # fmt: skip


def file_of(line: Line, to: str) -> dict[str, Any]:
    """The line as a ``file``, or the name of the ``pack`` that writing it needs."""
    try:
        return {"file": line_file(line, to)}
    except CannotWrite as bad:
        if isinstance(bad.__cause__, ImportError):
            return {"pack": bad.token}
        raise
