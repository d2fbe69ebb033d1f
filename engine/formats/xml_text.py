"""XML as text: elements, one to a line."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

_ESCAPED = str.maketrans({"&": "&amp;", "<": "&lt;", ">": "&gt;", '"': "&quot;", "\n": "&#10;", "\r": "&#13;"})


@dataclass(frozen=True, slots=True)
class Element:
    """An element with its attributes; ``children`` are elements, or there is ``text``."""

    name: str
    attributes: dict[str, str]
    children: list[Element]
    text: str = ""


def element(name: str, *content: Element | str | int | Fraction, **attributes: str | int) -> Element:
    """An element from its content: other elements, or one piece of text. ``_`` in an attribute's name is a hyphen."""
    named = {key.replace("_", "-"): str(value) for key, value in attributes.items()}
    children = [child for child in content if isinstance(child, Element)]
    return Element(name, named, children, "".join(str(text) for text in content if not isinstance(text, Element)))


def document(root: Element) -> str:
    """A whole document, indented, with its declaration."""
    return "\n".join(('<?xml version="1.0" encoding="UTF-8"?>', *_lines(root, ""))) + "\n"


def _lines(part: Element, indent: str) -> Iterator[str]:
    start = part.name + "".join(f' {name}="{_escape(value)}"' for name, value in part.attributes.items())
    if part.children:
        yield f"{indent}<{start}>"
        for child in part.children:
            yield from _lines(child, indent + "  ")
        yield f"{indent}</{part.name}>"
    elif part.text:
        yield f"{indent}<{start}>{_escape(part.text)}</{part.name}>"
    else:
        yield f"{indent}<{start}/>"


def _escape(text: str) -> str:
    return "".join(char for char in text if _is_allowed(char)).translate(_ESCAPED)


def _is_allowed(char: str) -> bool:
    """Whether XML 1.0 (section 2.2) allows a character at all: most control characters cannot be written."""
    code = ord(char)
    return char in "\t\n\r" or 0x20 <= code <= 0xD7FF or 0xE000 <= code <= 0xFFFD or code >= 0x10000
