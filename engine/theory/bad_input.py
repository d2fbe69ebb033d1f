"""The one exception for input that cannot be read."""

from __future__ import annotations


class BadInput(ValueError):
    """Something typed by a person cannot be read.

    ``token`` is the bad part as typed, ``column`` where it starts (counted
    from 1 within what was given), ``problem`` what is wrong with it and
    ``instead`` what would be right. ``str()`` gives all of it in one sentence.
    """

    def __init__(self, token: str, column: int, problem: str, instead: str) -> None:
        self.token = token
        self.column = column
        self.problem = problem
        self.instead = instead
        super().__init__(str(self))

    def __str__(self) -> str:
        return _printable(f'column {self.column}: "{shown(self.token)}" {self.problem}; {self.instead}.')

    def moved(self, columns: int) -> BadInput:
        """The same fault, seen from a longer text in which this one starts later."""
        return BadInput(self.token, self.column + columns, self.problem, self.instead)


def shown(token: str, longest: int = 24) -> str:
    """``token`` on one line and no longer than a person wants to read."""
    clean = _printable(token)
    return clean if len(clean) <= longest else clean[: longest - 1] + "…"


def _printable(text: str) -> str:
    """A right-to-left mark or a control character would garble the sentence around it, so it is shown as ``?``."""
    return "".join(char if char.isprintable() else "?" for char in text)
