"""A line as it is being tapped in: a row for each bar, each note's degree where it starts, and how long it is.

Engraving comes when the line is kept; here what counts is that each tap shows at once what it is.
"""

from __future__ import annotations

from fractions import Fraction

from engine.formats.bars import Bar, bars_of, parts_of
from engine.lines.devices.recognise import Analysis
from engine.lines.line import Line
from engine.lines.reading import Heard
from engine.theory.wording import Profile
from engine.view.markup import number, plain, words

WIDE, HIGH = 328.0, 54.0
_LEFT, _RIGHT = 6.0, 2.0
_CHORD_AT, _DEGREE_AT, _NOTE_AT, _LENGTH_AT = 11.0, 31.0, 43.0, 50.0
_SHORT = Fraction(1, 3)  # beats: notes up to this length leave room for small signs only
_GAP = 3.0

# A note sign's head, open or full, its stem, flags and what stands beside it, on a square of 24.
_HEADS = {"2": "open"}
_FLAGS = {"1/2": 1, "1/3": 1, "1/4": 2}
_DOT = '<circle cx="18.5" cy="17" r="1.7"/>'
_THREE = '<path d="M18 15.4c.6-1 3-.9 3 .7 0 1-1 1.4-1.7 1.4.9 0 2.1.4 2.1 1.6 0 1.9-3.1 1.9-3.7.6"/>'
_BESIDE = {"3/2": _DOT, "1/3": _THREE}


def note_sign(length: str) -> str:
    """The sign of a length of ``LENGTHS``, as SVG."""
    head = (
        f'<ellipse class="{_HEADS.get(length, "full")}" cx="10" cy="18" rx="4" ry="3" transform="rotate(-20 10 18)"/>'
    )
    flags = "".join(f'<path d="M13.7 {3 + 4.5 * flag}c.6 3.4 5 3.6 3.6 8"/>' for flag in range(_FLAGS.get(length, 0)))
    stem = '<path d="M13.7 17V3"/>'
    return (
        '<svg class="note-sign" viewBox="0 0 26 24" aria-hidden="true" focusable="false">'
        f"{head}{stem}{flags}{_BESIDE.get(length, '')}</svg>"
    )


def bars_html(analysis: Analysis, profile: Profile) -> str:
    """A picture for each bar, the last first, so that a short place can keep to what was tapped last."""
    return "".join(_bar(analysis, bar, profile) for bar in reversed(bars_of(analysis.line)))


def _bar(analysis: Analysis, bar: Bar, profile: Profile) -> str:
    line = analysis.line
    inside = [heard for heard in analysis.notes if bar.start <= heard.note.start < bar.end]
    changes = [
        f'<text class="chord" x="{_x(line, bar, change.beat)}" y="{number(_CHORD_AT)}">'
        f"{plain(change.chord, profile)}</text>"
        for change in line.changes
        if bar.start <= change.beat < bar.end
    ]
    notes = [_note(line, bar, heard, profile) for heard in inside]
    lengths = "".join(
        f"M{_x(line, bar, part.start)} {number(_LENGTH_AT)}H{_x(line, bar, part.end, 0 if part.tied_on else _GAP)}"
        for part in parts_of(line, bar)
        if part.pitch
    )
    told = ", ".join(
        f"{plain(heard.pitch.in_octave(None), profile)} {plain(heard.degree, profile)}" for heard in inside
    )
    label = f"{words('bar {bar}', profile, bar=bar.number)}: {told}"
    return (
        f'<svg class="bar" viewBox="0 0 {number(WIDE)} {number(HIGH)}" role="img" aria-label="{label}"'
        f' focusable="false">'
        f'<path class="lines" d="M1 16V{number(HIGH)}"/><path class="length" d="{lengths}"/>'
        f"{''.join(changes)}{''.join(notes)}</svg>"
    )


def _note(line: Line, bar: Bar, heard: Heard, profile: Profile) -> str:
    x = _x(line, bar, heard.note.start)
    small = " small" if heard.note.length <= _SHORT else ""
    return (
        f'<text class="degree{small}" x="{x}" y="{number(_DEGREE_AT)}">{plain(heard.degree, profile)}</text>'
        f'<text class="name{small}" x="{x}" y="{number(_NOTE_AT)}">{plain(heard.pitch.in_octave(None), profile)}</text>'
    )


def _x(line: Line, bar: Bar, beat: Fraction, less: float = 0) -> str:
    """Where a beat of a bar lies; a pickup stands at the right."""
    first = (bar.number - 1) * line.meter.bar
    return number(_LEFT + float((beat - first) / line.meter.bar) * (WIDE - _LEFT - _RIGHT) - less)
