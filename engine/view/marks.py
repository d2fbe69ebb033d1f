"""Marks: what a note is over its chord, told by shape first, on staff and keys alike."""

from __future__ import annotations

from collections.abc import Iterable

from engine.theory.naming import ALTERATION, CHORD_TONE, EXTENSION, OUTSIDE, PASSING
from engine.theory.wording import USUAL, Profile
from engine.view.markup import number, words

LEFT_OUT = "root, left out"
NOTE = "note"  # its role is what is asked, so the mark says nothing of it

# The shape of each role, in the order of the legend.
SHAPES = {
    LEFT_OUT: "left-out",
    CHORD_TONE: "disc",
    EXTENSION: "ring",
    ALTERATION: "half",
    PASSING: "dot",
    OUTSIDE: "dot",
    NOTE: "disc",
}
_DOT = 0.5  # a passing note's mark, as a share of a full one


def mark(role: str, x: float, y: float, wide: float, high: float, turn: int = 0) -> str:
    """The mark of a role around x, y with these half axes, turned by so many degrees."""
    shape = SHAPES[role]
    if shape == "dot":
        wide, high = wide * _DOT, high * _DOT
    body = f'<ellipse rx="{number(wide)}" ry="{number(high)}"/>'
    if shape == "half":
        arc = f"M0 {number(-high)}A{number(wide)} {number(high)} 0 0 0 0 {number(high)}Z"
        body += f'<path d="{arc}"/>'
    turned = f" rotate({turn})" if turn else ""
    return f'<g class="mark {shape}" transform="translate({number(x)} {number(y)}){turned}">{body}</g>'


def legend(roles: Iterable[str], y: float, width: float, profile: Profile = USUAL) -> str:
    """One line that says what the marks in a picture mean, those that occur in it."""
    present = set(roles)
    shown = [role for role in SHAPES if role in present and role != NOTE]
    entries = ""
    x = 5.0
    for role in shown:
        name = words(role, profile)
        entries += mark(role, x, y - 4, 4.2, 4.2) + f'<text x="{number(x + 9)}" y="{number(y)}">{name}</text>'
        x += width / len(shown)
    return f'<g class="legend">{entries}</g>'
