"""A staff with its clef, and notes on it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from engine.neck.instrument import Instrument
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
_HEAD = (6.2, 4.4)  # half axes of a note head
_TILT = -20
_LOWEST = -4  # staff steps; below that a note would touch its degree
_MIDDLE = 4  # steps from the bottom line to the middle one


@dataclass(frozen=True, slots=True)
class Clef:
    """A clef: its ``glyph``, the staff step of the line that it names, and the note on the ``bottom`` line.

    ``octaves``: how many octaves higher than it sounds a part is written with it, 0 or 1; an 8 below it says so.
    """

    glyph: str
    names: int
    bottom: Pitch
    octaves: int = 0


TREBLE = Clef("clef", 2, Pitch(2, 0, 4))
# As the line pages write for the guitar, and as players of the bass read.
GUITAR_CLEF = Clef("clef", 2, Pitch(2, 0, 4), 1)
BASS_CLEF = Clef("bass-clef", 6, Pitch(4, 0, 2), 1)
# From which middle of the open strings on (a MIDI key number) an instrument is written in which clef.
_CLEFS = ((60, TREBLE), (42, GUITAR_CLEF), (0, BASS_CLEF))
_CLEF_AT = 8  # x
_EIGHT_AT = 15.6  # x of the clef's 8: below the stem of the treble clef
_BELOW_CLEF = {"clef": 23.5, "bass-clef": 12.0}  # from the bottom line to the foot of its 8


def clef_for(instrument: Instrument) -> Clef:
    """The clef in which all notes of an instrument are written, and by it their octave."""
    middle = (instrument.opens[0] + instrument.opens[-1]) / 2
    return next(clef for least, clef in _CLEFS if middle >= least)


@dataclass(frozen=True, slots=True)
class Column:
    """One place on a staff: a note with its role's mark (no note: only the label), and the degree below it."""

    x: float
    label: str
    note: Pitch | None = None
    role: str = ""


def steps_above(note: Pitch, clef: Clef = TREBLE) -> int:
    """Staff steps from the bottom line up to a written note with an octave."""
    bottom = clef.bottom
    return (note.octave or 0) * 7 + note.letter - (bottom.octave or 0) * 7 - bottom.letter


def height_of(note: Pitch, clef: Clef = TREBLE) -> float:
    """The y of a written note."""
    return BOTTOM - steps_above(note, clef) * SPACE / 2


def written(note: Pitch, profile: Profile) -> Pitch:
    """The note as the reader's part has it."""
    return note.up(*PARTS[profile.part])


def placed(first: Pitch, reach: int) -> Pitch:
    """``first`` in the octave in which it and the note ``reach`` steps above it stand nearest the staff's middle."""
    octaves = [first.in_octave(octave) for octave in (3, 4, 5)]
    fitting = [note for note in octaves if steps_above(note) >= _LOWEST]
    return min(fitting, key=lambda note: abs(2 * steps_above(note) + reach - 2 * _MIDDLE))


def staff(
    columns: Sequence[Column], bars: Sequence[float] = (), clef: Clef = TREBLE, degrees_at: float = DEGREES_AT
) -> str:
    """Lines, clef, bar lines, notes and degrees, as the inside of an ``<svg>`` that is ``WIDTH`` wide."""
    lines = "".join(f"M0 {number(TOP + row * SPACE)}H{WIDTH}" for row in range(5))
    lines += "".join(f"M{number(x)} {number(TOP)}V{number(BOTTOM)}" for x in bars)
    parts = [f'<path class="lines" d="{lines}"/>', f'<g class="clef">{_clef(clef)}</g>']
    for column in columns:
        if column.note is not None:
            parts.append(_note(column, column.note, clef))
        parts.append(f'<text class="degree" x="{number(column.x)}" y="{number(degrees_at)}">{column.label}</text>')
    return "".join(parts)


def _clef(clef: Clef) -> str:
    eight = glyph("clef-8", _EIGHT_AT, BOTTOM + _BELOW_CLEF[clef.glyph], SPACE) if clef.octaves else ""
    return glyph(clef.glyph, _CLEF_AT, BOTTOM - clef.names * SPACE / 2, SPACE) + eight


def _note(column: Column, note: Pitch, clef: Clef) -> str:
    steps, y = steps_above(note, clef), height_of(note, clef)
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
