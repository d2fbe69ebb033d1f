"""Where a file cannot be read: its line and column, what is wrong there, and what would be right."""

from __future__ import annotations

from dataclasses import dataclass

from engine.theory.bad_input import BadInput


class FileFault(BadInput):
    """A ``BadInput`` that also knows the ``line`` of the file, counted from 1 like the ``column``."""

    def __init__(self, token: str, line: int, column: int, problem: str, instead: str) -> None:
        self.line = line
        super().__init__(token, column, problem, instead)

    def __str__(self) -> str:
        return f"line {self.line}, {super().__str__()}"

    def moved(self, columns: int) -> FileFault:
        """The same fault, further right in its line."""
        return FileFault(self.token, self.line, self.column + columns, self.problem, self.instead)


@dataclass(frozen=True, slots=True)
class Token:
    """A piece of a file as typed, and where it starts (``line`` and ``column`` from 1)."""

    text: str
    line: int
    column: int

    def fault(self, problem: str, instead: str) -> FileFault:
        """The fault of this piece."""
        return FileFault(self.text, self.line, self.column, problem, instead)

    def cut(self, start: int, end: int | None = None) -> Token:
        """A part of it, ``start`` and ``end`` counted from 0 as in a slice."""
        return Token(self.text[start:end], self.line, self.column + start)

    def stripped(self) -> Token:
        """It without the white space around it."""
        left = len(self.text) - len(self.text.lstrip())
        return Token(self.text.strip(), self.line, self.column + left)
