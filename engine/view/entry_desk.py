"""What the form in which a line is tapped in asks the engine, and the answers (``engine.browser`` has their shape).

The line so far stands in the page's link too, so that a page that was thrown away by the phone opens on it again.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any
from urllib.parse import parse_qsl

from engine.lines.line import Line
from engine.practice.entry import (
    Entry,
    NotNow,
    entry_from_json,
    entry_of,
    line_of,
    read_meter,
    redo,
    tapped,
    undo,
)
from engine.practice.line_in_link import from_link, to_link
from engine.practice.own_lines import OwnLine, fold, saved
from engine.practice.own_records import VERSION
from engine.practice.said_of_line import with_said
from engine.theory.bad_input import BadInput
from engine.theory.key import parse_key
from engine.theory.naming import name_over
from engine.theory.wording import Text, render, say
from engine.view.entry import HIGHEST, LOWEST, USUAL_LOW, Board, changed_parts, entry_form_html, state_of

Fields = Mapping[str, Sequence[str]]

TAPS = ("chord", "length", "note", "rest", "longer", "bar")
_SOUNDS = ("note", "rest")


def answer(request: Mapping[str, Any]) -> dict[str, Any]:
    """The answer to what was pressed or filled in; BadInput, in one sentence, where it cannot be."""
    fields: Fields = request.get("fields", {})
    name, value = request.get("pressed") or ("", "")
    if name == "open":
        return _opened(request)
    before = _board(request)
    board = _filled_in(before, fields)
    if name == "keep":
        return _kept(request, board, fields)
    if board.typed and request.get("pressed") and not name:  # Enter, and what is typed is no chord that a button has
        name, value = "chord", board.typed
    board = _pressed(board, str(name), str(value))
    return {
        "desk": state_of(board),
        "patches": changed_parts(before, board),
        "link": _draft(request, board, fields),
        "said": _said(before, board, str(name)),
    }


def _opened(request: Mapping[str, Any]) -> dict[str, Any]:
    """The page on what its link names: a draft, an own line, or both; without either as it is."""
    notice = None
    try:
        board = _linked(request)
    except BadInput as bad:
        board, notice = Board(), str(bad)
    if not board.about:
        board = _filled_in(board, request.get("fields", {}))
    board = replace(board, low=_low(board.entry))
    return {"desk": state_of(board), "patches": {"entry": entry_form_html(board)}, "notice": notice}


def _linked(request: Mapping[str, Any]) -> Board:
    link = str(request.get("link", ""))
    asked = dict(parse_qsl(link, keep_blank_values=True))
    own = fold(request.get("own", [])).find(asked["id"]) if "id" in asked else None
    if "line" in asked:
        line = from_link(_value(link, "line"))
    elif "id" not in asked:
        return Board()
    elif own and own.line:
        line = own.line
    else:
        raise NotNow("The line that this link names is not on this device", "tap another one in")
    return Board(entry_of(line), own=own, about=line)


def _value(link: str, name: str) -> str:
    """What stands behind a name in a link, as it stands there."""
    return next(part.partition("=")[2] for part in link.split("&") if part.partition("=")[0] == name)


def _low(entry: Entry) -> int:
    """The octave for the keyboard that has most of a line's notes within reach."""
    line = line_of(entry)
    if line is None:
        return USUAL_LOW
    reached = {low: sum(low <= note.pitch.midi < low + 24 for note in line.notes) for low in range(LOWEST, HIGHEST, 12)}
    return max(reached, key=lambda low: (reached[low], -abs(low - USUAL_LOW)))


def _board(request: Mapping[str, Any]) -> Board:
    """The state of the form; BadInput where something in it cannot be."""
    if "entry" not in request:
        return Board()
    low = int(request.get("low", USUAL_LOW))
    if low % 12 or not LOWEST <= low <= HIGHEST:
        raise BadInput(str(low), 1, "is no octave of the keyboard", "open the page again")
    typed, taken = (str(request.get(name, "")) for name in ("typed", "taken"))
    return Board(entry_from_json(request["entry"]), low, typed, taken, _own(request.get("of")))


def _own(found: Any) -> OwnLine | None:
    """The own line that is tapped on, as the form keeps it."""
    if not found:
        return None
    name, at, abc = found
    (own,) = fold([{"v": VERSION, "id": name, "at": at, "abc": abc}]).lines
    return own


def _filled_in(board: Board, fields: Fields) -> Board:
    """The board with the key, the meter and the chord that stand in its fields now."""
    key = parse_key(_first(fields, "key") or str(board.entry.key))
    meter = read_meter(_first(fields, "meter") or str(board.entry.meter))
    typed = _first(fields, "typed").strip()
    taken = typed == board.taken
    return replace(
        board,
        entry=replace(board.entry, key=key, meter=meter),
        typed="" if taken else typed,
        taken=board.taken if taken else "",
    )


def _first(fields: Fields, name: str) -> str:
    return str(next(iter(fields.get(name, ())), ""))


def _pressed(board: Board, name: str, value: str) -> Board:
    """The board after a button; a chord that stands typed there is taken before the next note."""
    if name == "low":
        low = int(value)
        return replace(board, low=low) if LOWEST <= low <= HIGHEST and low % 12 == 0 else board
    if name == "undo":
        return replace(board, entry=undo(board.entry))
    if name == "redo":
        return replace(board, entry=redo(board.entry))
    entry = board.entry
    if board.typed and name in _SOUNDS:
        board = replace(board, entry=tapped(entry, "chord", board.typed), typed="", taken=board.typed)
    elif name == "chord":
        board = replace(board, typed="", taken=board.typed)
    return replace(board, entry=tapped(board.entry, name, value)) if name in TAPS else board


def _kept(request: Mapping[str, Any], board: Board, fields: Fields) -> dict[str, Any]:
    line = line_of(board.entry)
    if line is None:
        raise NotNow("There is no note yet", "tap some, then keep the line")
    own = board.own
    if own and own.line:
        line = replace(line, composer=own.line.composer, tempo=own.line.tempo, group=own.line.group)
    record = saved(with_said(line, fields), int(request["at"]), int(request["chance"]), own)
    return {
        "keep": [record],
        "desk": state_of(Board()),
        "link": "",
        "go": f"lines/own.html#v=1&id={record['id']}",
    }


def _draft(request: Mapping[str, Any], board: Board, fields: Fields) -> str:
    """The link that opens the page on the line so far, where there is one that a link can hold."""
    line = line_of(board.entry)
    parts = ["v=1", *([f"id={board.own.id}"] if board.own else [])]
    if line:
        try:
            parts.append(f"line={to_link(with_said(line, fields))}")
        except BadInput:
            return str(request.get("link", ""))
    return "&".join(parts) if len(parts) > 1 else ""


def _said(before: Board, after: Board, name: str) -> str:
    """What a listener hears: the note and its degree, and each device that is new."""
    line = after.analysis.line if after.analysis else None
    texts: list[Text] = []
    if name == "note" and line:
        texts.append(_note(line))
    known = [found.text for found in before.analysis.devices] if before.analysis else []
    texts += [found.text for found in after.analysis.devices if found.text not in known] if after.analysis else []
    return " ".join(render(text) for text in texts)


def _note(line: Line) -> Text:
    last = line.notes[-1]
    degree = name_over(line.chord_of(last), last.pitch).degree
    return say("{note}, {degree}.", note=last.pitch.in_octave(None), degree=degree)
