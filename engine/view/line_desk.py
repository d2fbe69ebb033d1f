"""What the form of a line's page asks the engine, and the answers (``engine.browser`` has their shape)."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from engine.formats.cannot_write import CannotWrite
from engine.lines.line import Line
from engine.practice.line_file import line_file
from engine.practice.line_in_link import for_others
from engine.practice.shown_line import as_link, asked_next, linked, read_state
from engine.theory.bad_input import BadInput
from engine.theory.wording import render
from engine.view.line_page import line_form_html, told_html
from engine.view.markup import escape


def answer(request: Mapping[str, Any]) -> dict[str, Any]:
    """The page in the key and over the next chord that are asked for; or a file of the line, or a link to it."""
    link = str(request.get("link", ""))
    name, value = request.get("pressed") or ("", "")
    if name == "open":
        page, ignored = linked(read_state(request), link)
        return {"patches": {"line": line_form_html(page)}, "notice": " ".join(ignored) or None}
    try:
        page = asked_next(request)
    except BadInput as bad:
        return {"patches": {"told": told_html(escape(str(bad)))}}
    if name == "file":
        return file_of(page.line, value)
    if name == "share":
        return {"share": {"title": page.line.title, "link": for_others(as_link(page, link), page.written)}}
    said = render(page.text) if page.text else ""
    return {"patches": {"line": line_form_html(page)}, "link": as_link(page, link), "said": said}


def file_of(line: Line, to: str) -> dict[str, Any]:
    """The line as a ``file``, or the name of the ``pack`` that writing it needs."""
    try:
        return {"file": line_file(line, to)}
    except CannotWrite as bad:
        if isinstance(bad.__cause__, ImportError):
            return {"pack": bad.token}
        raise
