"""The one exception for a line that a format cannot hold."""

from __future__ import annotations

from engine.theory.bad_input import BadInput, shown


class CannotWrite(BadInput):
    """A line cannot be written in a format: ``place`` says what in it, or which part is missing here."""

    def __init__(self, token: str, place: str, problem: str, instead: str) -> None:
        self.place = place
        super().__init__(token, 1, problem, instead)

    def __str__(self) -> str:
        return shown(f"{self.place} {self.problem}; {self.instead}.", 300)
