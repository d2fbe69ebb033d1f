"""What the form of the line book's index asks the engine, and the answers (``engine.browser`` has their shape)."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from engine.practice.book import chosen, from_data
from engine.theory.bad_input import BadInput
from engine.view.book import found_html, how_many_html
from engine.view.markup import escape


def answer(request: Mapping[str, Any]) -> dict[str, Any]:
    """The lines of the book that have all that is wished for."""
    wanted = {name: str(values[0]) for name, values in request["fields"].items() if values}
    try:
        return {"patches": {"found": found_html(chosen(from_data(str(request["book"])), wanted))}}
    except BadInput as bad:  # half typed, perhaps: what was found before stays
        return {"patches": {"how-many": how_many_html(escape(str(bad)))}}
