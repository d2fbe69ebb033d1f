"""A staff with a treble clef, and notes on it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from engine.theory.pitch import Pitch
from engine.theory.wording import PARTS, Profile
from engine.view.glyphs import ACCIDENTALS, glyph, width_of
from engine.view.marks import mark
from engine.view.markup import number

WIDTH = 320
SPACE = 9.0  # between two lines
TOP = 20.0  # y of the top line: high notes and the clef need the room above
BOTTOM = TOP + 4 * SPACE
HEIGHT = 94.0  # with the degrees below
DEGREES_AT = HEIGHT - 4  # their base line
NOTES_FROM = 44.0  # right of the clef
_G_LINE = BOTTOM - SPACE
_HEAD = (6.2, 4.4)  # half axes of a note head
_TILT = -20
_E4 = Pitch(2, 0, 4)  # on the bottom line
_LOWEST = -4  # staff steps; below that a note would touch its degree
_MIDDLE = 4  # steps from the bottom line to the middle one


@dataclass(frozen=True, slots=True)
class Column:
    """One place on a staff: a note with its role's mark (no note: only the label), and the degree below it."""

    x: float
    label: str
    note: Pitch | None = None
    role: str = ""


def steps_above(note: Pitch) -> int:
    """Staff steps from the bottom line up to a note with an octave."""
    return (note.octave or 0) * 7 + note.letter - (_E4.octave or 0) * 7 - _E4.letter


def written(note: Pitch, profile: Profile) -> Pitch:
    """The note as the reader's part has it."""
    return note.up(*PARTS[profile.part])


def placed(first: Pitch, reach: int) -> Pitch:
    """``first`` in the octave in which it and the note ``reach`` steps above it stand nearest the staff's middle."""
    octaves = [first.in_octave(octave) for octave in (3, 4, 5)]
    fitting = [note for note in octaves if steps_above(note) >= _LOWEST]
    return min(fitting, key=lambda note: abs(2 * steps_above(note) + reach - 2 * _MIDDLE))


def staff(columns: Sequence[Column], bars: Sequence[float] = ()) -> str:
    """Lines, clef, bar lines, notes and degrees, as the inside of an ``<svg>`` that is ``WIDTH`` wide."""
    lines = "".join(f"M0 {number(TOP + row * SPACE)}H{WIDTH}" for row in range(5))
    lines += "".join(f"M{number(x)} {number(TOP)}V{number(BOTTOM)}" for x in bars)
    parts = [f'<path class="lines" d="{lines}"/>', f'<g class="clef">{glyph("clef", 8, _G_LINE, SPACE)}</g>']
    for column in columns:
        if column.note is not None:
            parts.append(_note(column, column.note))
        parts.append(f'<text class="degree" x="{number(column.x)}" y="{number(DEGREES_AT)}">{column.label}</text>')
    return "".join(parts)


def _note(column: Column, note: Pitch) -> str:
    steps = steps_above(note)
    y = BOTTOM - steps * SPACE / 2
    ledgers = [*range(-2, steps - 1, -2), *range(10, steps + 1, 2)]
    reach = _HEAD[0] + 4
    drawn = "".join(
        f"M{number(column.x - reach)} {number(BOTTOM - step * SPACE / 2)}h{number(2 * reach)}" for step in ledgers
    )
    ledger = f'<path class="lines" d="{drawn}"/>' if drawn else ""
    sign = ""
    if note.accidental:
        name = ACCIDENTALS[note.accidental]
        sign = glyph(name, column.x - _HEAD[0] - 3 - width_of(name, SPACE), y, SPACE)
    return f"{ledger}{sign}{mark(column.role, column.x, y, *_HEAD, turn=_TILT)}"
