"""What the page of a player's own lines asks the engine, and the answers (``engine.browser`` has their shape)."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any
from urllib.parse import parse_qsl

from engine.lines.line import Line
from engine.practice.line_in_link import from_link
from engine.practice.own_lines import (
    OwnLine,
    OwnLines,
    deleted,
    fold,
    from_abc,
    read_one,
    restored,
    saved,
    to_abc,
)
from engine.practice.own_records import Record
from engine.practice.said_of_line import with_said
from engine.practice.settings import read_settings
from engine.theory.bad_input import BadInput
from engine.theory.wording import USUAL, Slot, render, say
from engine.view.line_fields import button
from engine.view.markup import escape, words
from engine.view.own_lines import (
    NO_LINE,
    SHOWN_LINES,
    STATE,
    fault_html,
    guest_html,
    line_html,
    list_html,
    mine_html,
    name_of,
)

Fields = Mapping[str, Sequence[str]]
Reply = dict[str, Any]

FILE = "my-lines.abc"
ABC_TYPE = "text/vnd.abc"
_LONGEST_TOLD = 8  # sentences on bad tunes


def answer(request: Mapping[str, Any]) -> Reply:
    """The answer to what was pressed or filled in; BadInput, in one sentence, where it cannot be."""
    name, value = request.get("pressed") or ("", "")
    act = _ACTS.get(str(name), _changed)
    return act(request, fold(request.get("own", [])), str(value))


# --- what is shown -------------------------------------------------------------------


def _opened(request: Mapping[str, Any], own: OwnLines, _: str = "") -> Reply:
    """The page on what its link names: a line of one's own, one that came with it, or else all."""
    link = str(request.get("link", ""))
    asked = dict(parse_qsl(link, keep_blank_values=True))
    if "line" in asked:
        try:
            return _guest(request, own, _raw_line(link), link)
        except BadInput as bad:
            return {**_list(request, own), "link": "", "notice": str(bad)}
    if "id" not in asked:
        return _list(request, own)
    found = own.find(asked["id"])
    if found is None:
        told = words("The line that this link names is not on this device.")
        return {**_list(request, own, told=told), "link": ""}
    if found in own.deleted:
        return {**_list(request, own, told=_gone(found)), "link": ""}
    return _mine(request, found, link)


def _raw_line(link: str) -> str:
    """The line's text as it stands in a link."""
    return next(part.partition("=")[2] for part in link.split("&") if part.startswith("line="))


def _list(
    request: Mapping[str, Any], own: OwnLines, told: str = "", paste: str = "", most: int = 0, is_read: bool = False
) -> Reply:
    fields: Fields = request.get("fields", {})
    most = most or int(request.get("most", SHOWN_LINES))
    page = list_html(own, USUAL, told, paste, bool(fields.get("only")), most, is_read)
    return {"desk": {**STATE, "most": most}, "patches": {"own-line": NO_LINE, "own-page": page}}


def _line_page(request: Mapping[str, Any], line: Line, link: str) -> tuple[str, list[str]]:
    return line_html(line, link, USUAL, request.get("own", ()), read_settings(request.get("settings")))


def _mine(request: Mapping[str, Any], own: OwnLine, link: str) -> Reply:
    page, ignored = _line_page(request, own.line, link) if own.line else (NO_LINE, [])
    return {
        "desk": {**STATE, "of": own.id},
        "patches": {"own-line": page, "own-page": mine_html(own, USUAL)},
        "notice": " ".join(ignored) or None,
    }


def _guest(request: Mapping[str, Any], own: OwnLines, value: str, link: str) -> Reply:
    line = from_link(value)
    page, ignored = _line_page(request, line, link)
    return {
        "desk": {**STATE, "line": value},
        "patches": {"own-line": page, "own-page": guest_html(own.like(line) is not None, USUAL)},
        "notice": " ".join(ignored) or None,
    }


# --- what is done --------------------------------------------------------------------


def _changed(request: Mapping[str, Any], own: OwnLines, _: str) -> Reply:
    """A field was filled in: a file to read, what is said of a line or its text, or what the list shall show."""
    fields: Fields = request.get("fields", {})
    if "of" in request:
        return _edited(request, _known(own, str(request["of"])), fields)
    if fields.get("file"):
        return _read(request, own, str(fields["file"][0]))
    return _list(request, own) if "line" not in request else {}


def _edited(request: Mapping[str, Any], own: OwnLine, fields: Fields) -> Reply:
    text = "\n".join(str(fields.get("abc", [own.abc])[0]).splitlines())
    line = with_said(own.line, fields) if own.line else None
    fault = ""
    if text.strip() != own.abc.strip():
        try:
            line = read_one(text)
        except BadInput as bad:
            fault = str(bad)
    told = {"patches": {"own-fault": fault_html(fault)}}
    if line is None:
        return told
    record = saved(line, int(request["at"]), int(request["chance"]), own)
    if record["abc"] == own.abc:
        return told
    (kept,) = fold([record]).lines
    page = told if fault else _mine(request, kept, str(request.get("link", "")))
    return {**page, "keep": [record], "said": _say("Kept.")}


def _paste(request: Mapping[str, Any], own: OwnLines, _: str) -> Reply:
    return _read(request, own, str(next(iter(request.get("fields", {}).get("paste", ())), "")), pasted=True)


def _read(request: Mapping[str, Any], own: OwnLines, text: str, pasted: bool = False) -> Reply:
    """Lines from a text: what is new is kept; what could not be read is told, and stays where it was pasted."""
    taken = from_abc(text, own, int(request["at"]), int(request["chance"]))
    sentences = [_counted(len(taken.records), "{count} line was kept.", "{count} lines were kept.")]
    sentences += [_counted(taken.known, "{count} was there already.", "{count} were there already.")]
    more = len(taken.faults) - _LONGEST_TOLD
    sentences += taken.faults[:_LONGEST_TOLD]
    sentences += [_counted(more, "{count} more cannot be read.", "{count} more cannot be read.")]
    told = "".join(f"<p>{escape(sentence)}</p>" for sentence in sentences if sentence)
    now = fold([*request.get("own", []), *taken.records])
    reply = _list(request, now, told, text if pasted and taken.faults else "", is_read=True)
    return {**reply, "keep": list(taken.records), "said": " ".join(filter(None, sentences[:2]))}


def _counted(count: int, one: str, many: str) -> str:
    return _say(one if count == 1 else many, count=count) if count > 0 else ""


def _delete(request: Mapping[str, Any], own: OwnLines, _: str) -> Reply:
    found = _known(own, str(request["of"]))
    record = deleted(found, int(request["at"]))
    return {**_list(request, _with(request, record), _gone(found)), "keep": [record], "link": ""}


def _restore(request: Mapping[str, Any], own: OwnLines, value: str) -> Reply:
    record = restored(_known(own, value), int(request["at"]))
    return {**_list(request, _with(request, record)), "keep": [record], "said": _say("It is back.")}


def _take(request: Mapping[str, Any], own: OwnLines, _: str) -> Reply:
    """Keeps the line that came with the link, unless it is there already, and opens it."""
    line = from_link(str(request["line"]))
    there = own.like(line)
    record = None if there else saved(line, int(request["at"]), int(request["chance"]))
    found = there or fold([record]).lines[0]
    return {
        **_mine(request, found, ""),
        "keep": [record] if record else [],
        "link": f"v=1&id={found.id}",
        "said": _say("Kept."),
    }


def _save(_: Mapping[str, Any], own: OwnLines, __: str) -> Reply:
    return {"file": {"name": FILE, "type": ABC_TYPE, "text": to_abc(own.lines)}}


def _more(request: Mapping[str, Any], own: OwnLines, _: str) -> Reply:
    return _list(request, own, most=int(request.get("most", SHOWN_LINES)) + SHOWN_LINES)


_ACTS = {
    "open": _opened, "paste": _paste, "delete": _delete, "restore": _restore, "take": _take, "save": _save,
    "more": _more,
}  # fmt: skip


def _known(own: OwnLines, name: str) -> OwnLine:
    found = own.find(name)
    if found is None:
        raise BadInput(name, 1, "is no line of this device", "open the list of your lines again")
    return found


def _with(request: Mapping[str, Any], record: Record) -> OwnLines:
    return fold([*request.get("own", []), record])


def _gone(own: OwnLine) -> str:
    """That a line was deleted, with a button that brings it back."""
    return f"<p>{words('“{name}” was deleted.', name=name_of(own))} {button('restore', words('Undo'), own.id)}</p>"


def _say(template: str, **slots: Slot) -> str:
    return render(say(template, **slots))
