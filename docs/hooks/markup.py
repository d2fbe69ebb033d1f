"""Finds the elements of a page and replaces some of them; everything else stays as it is, sign for sign."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field
from html.parser import HTMLParser
from itertools import accumulate

VOID = {"area", "base", "br", "col", "embed", "hr", "img", "input", "link", "meta", "source", "track", "wbr"}


@dataclass
class Element:
    """One element: its name, its attributes, where it stands, and where its start tag ends."""

    tag: str
    attributes: dict[str, str]
    start: int
    start_end: int
    end: int


def elements(text: str) -> Iterator[Element]:
    """The elements of a page in the order of their start tags; ValueError where one is not closed."""
    parser = _Finder(text)
    parser.feed(text)
    parser.close()
    if parser.open:
        raise ValueError(f"<{parser.open[-1].tag}> is not closed")
    yield from parser.found


class _Finder(HTMLParser):
    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.text = text
        self.lines = [0, *accumulate(len(line) for line in text.split("\n"))]
        self.found: list[Element] = []
        self.open: list[Element] = []

    def _here(self) -> int:
        line, column = self.getpos()
        return self.lines[line - 1] + (line - 1) + column  # a line's end counts too

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        element = self._element(tag, attrs)
        if tag not in VOID:
            self.open.append(element)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self._element(tag, attrs)

    def handle_endtag(self, tag: str) -> None:
        if not self.open or self.open[-1].tag != tag:
            raise ValueError(f"</{tag}> closes nothing")
        self.open.pop().end = self.text.index(">", self._here()) + 1

    def _element(self, tag: str, attrs: list[tuple[str, str | None]]) -> Element:
        start = self._here()
        end = start + len(self.get_starttag_text() or "")
        element = Element(tag, {name: value or "" for name, value in attrs}, start, end, end)
        self.found.append(element)
        return element


@dataclass
class Edits:
    """A text and what shall stand in the place of some of its parts; parts within a replaced one go with it."""

    text: str
    parts: list[tuple[int, int, str]] = field(default_factory=list)

    def replace(self, element: Element, text: str) -> None:
        """The whole element makes way for `text`."""
        self.parts.append((element.start, element.end, text))

    def replace_start(self, element: Element, text: str) -> None:
        """The element's start tag alone makes way for `text`."""
        self.parts.append((element.start, element.start_end, text))

    def made(self) -> str:
        """The text with every part replaced."""
        out = []
        done = 0
        for start, end, text in sorted(self.parts):
            if start >= done:
                out += [self.text[done:start], text]
                done = end
        return "".join([*out, self.text[done:]])
