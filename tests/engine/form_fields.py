"""What the fields of a form hold, as a browser would send them: read from its HTML."""

from __future__ import annotations

from html.parser import HTMLParser


def fields_of(html: str) -> dict[str, list[str]]:
    """The values by field; a text field without a value is left out, as it keeps what was typed."""
    reader = _Fields()
    reader.feed(html)
    reader.close()
    return reader.fields


class _Fields(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.fields: dict[str, list[str]] = {}
        self.select = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        found = dict(attrs)
        name, value = found.get("name") or "", found.get("value")
        if tag == "select":
            self.select = name
        elif tag == "option" and "selected" in found:
            self._add(self.select, value)
        elif tag == "input" and (found.get("type") not in ("checkbox", "radio") or "checked" in found):
            self._add(name, value)

    def _add(self, name: str, value: str | None) -> None:
        if value is not None:
            self.fields.setdefault(name, []).append(value)
