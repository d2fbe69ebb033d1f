"""A few notes as a TAB: the strings as lines, string 1 on top, and on them the frets, from left to right."""

from __future__ import annotations

from collections.abc import Sequence

from engine.neck.instrument import Place
from engine.view.markup import number

_GAP = 10.5  # between two strings
_TOP = 7.5
_NOTE_WIDE = 17.0
_FEWEST = 7  # notes: fewer are not set wider apart


def tab_svg(places: Sequence[Place], strings: int) -> str:
    """The notes at ``places`` on so many ``strings``: a picture for the eye alone, words must stand beside it."""
    wide = _NOTE_WIDE * max(len(places), _FEWEST)
    lines = "".join(f"M0 {number(_y(string))}H{number(wide)}" for string in range(1, strings + 1))
    frets = "".join(
        f'<text x="{number(wide * (column + 0.5) / len(places))}" y="{number(_y(string) + 4.5)}">{fret}</text>'
        for column, (string, fret) in enumerate(places)
    )
    high = number(_y(strings) + _TOP)
    return (
        f'<svg class="tab" viewBox="0 0 {number(wide)} {high}" width="{number(wide)}" height="{high}"'
        f' preserveAspectRatio="xMinYMid" aria-hidden="true" focusable="false">'
        f'<path class="wires" d="{lines}"/>{frets}</svg>'
    )


def _y(string: int) -> float:
    return _TOP + _GAP * (string - 1)
