"""Writing a line as ABC, in one canonical way."""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from math import floor, lcm

from engine.formats.abc_signs import ACCIDENTALS, TUPLETS
from engine.lines.line import Line, Meter
from engine.theory.key import Key
from engine.theory.pitch import LETTERS, Pitch

UNIT = Fraction(1, 2)
BARS_OF_A_LINE = 4
# The tuplets that are written: so many notes in the time of so many (the next lower power of two).
TIMES = {3: 2, 5: 4, 7: 4, 9: 8, 11: 8, 13: 8}
LONGEST_TUPLET = 32
_ACCIDENTALS = {value: sign for sign, value in ACCIDENTALS.items()}
_ESCAPED = re.compile(r"[\\%]")


@dataclass(frozen=True, slots=True)
class Piece:
    """A stretch of a bar with one note or rest (``pitch`` None) under one chord; ``ties`` say what it is joined to."""

    start: Fraction
    length: Fraction
    pitch: Pitch | None
    tied_from: bool
    tied_to: bool
    chord: str


def write_abc(line: Line) -> str:
    """The line as ABC with a final line end; ``read_abc`` gives back an equal line, and writing that the same text.

    A line must be whole for that: its notes in order within ``begin`` and ``end``,
    its first change at beat 0 or before (in the pickup), the others before ``end``.
    An accidental that the bar already gives is left out, unless another octave of
    the letter has a different one: ABC programs differ on whether that one holds.
    """
    head = [("X", str(line.number)), ("T", line.title), ("C", line.composer), ("S", line.source), ("G", line.group)]
    head += [("M", str(line.meter)), ("L", "1/8")]
    head += [("Q", f"1/4={line.tempo}" if line.tempo is not None else "")]
    head += [("N", remark) for remark in line.remarks]
    fields = [f"{letter}:{_escaped(text)}\n" for letter, text in head if text]
    bars = [_bar(pieces, line.key, line.meter) for pieces in _bars(line)]
    # A pickup stands before the first full bar, on its line.
    cuts = [0, *range(BARS_OF_A_LINE + (line.begin < 0), len(bars), BARS_OF_A_LINE), len(bars)]
    rows = [" | ".join(bars[first:last]) for first, last in pairwise(cuts) if first < last]
    return "".join([*fields, f"K:{line.key}\n", " |\n".join(rows), " |]\n"])


def _escaped(text: str) -> str:
    """A text on one line, with its backslashes and per cent signs escaped (section 8.2 of the standard)."""
    return _ESCAPED.sub(lambda sign: "\\" + sign[0], re.sub(r"[\r\n]+", " ", text))


def _bars(line: Line) -> list[list[Piece]]:
    """The pieces of each bar: notes and rests, cut at bar lines and at changes."""
    bar = line.meter.bar
    chords = {change.beat: change.chord.symbol for change in line.changes}
    cuts = {beat for beat in chords if line.begin < beat < line.end}
    cuts |= {bar * count for count in range(floor(line.end / bar) + 1)}
    stretches: list[tuple[Fraction, Fraction, Pitch | None]] = []
    at = line.begin
    for note in line.notes:
        if note.start > at:
            stretches.append((at, note.start, None))
        stretches.append((note.start, note.end, note.pitch))
        at = note.end
    if line.end > at:
        stretches.append((at, line.end, None))
    inside = sorted(cuts)
    bars: dict[int, list[Piece]] = {}
    place = 0
    for start, end, pitch in stretches:
        while place < len(inside) and inside[place] <= start:
            place += 1
        edges = [start]
        while place < len(inside) and inside[place] < end:
            edges.append(inside[place])
            place += 1
        edges.append(end)
        for first, last in pairwise(edges):
            tied_from, tied_to = pitch is not None and first > start, pitch is not None and last < end
            piece = Piece(first, last - first, pitch, tied_from, tied_to, chords.get(first, ""))
            bars.setdefault(floor(first / bar), []).append(piece)
    return list(bars.values())


def _bar(pieces: list[Piece], key: Key, meter: Meter) -> str:
    """The text of a bar without its bar lines, with a space between beats."""
    beat = _beat(meter)
    spelling = _Spelling(key)
    text = ""
    at = 0
    while at < len(pieces):
        group, sign, factor = _group(pieces, at)
        for index, piece in enumerate(group):
            if text and not index and floor(piece.start / beat) != floor(pieces[at - 1].start / beat):
                text += " "
            chord = f'"{piece.chord}"' if piece.chord else ""
            name = spelling.name(piece) if piece.pitch else "z"
            tie = "-" if piece.tied_to else ""
            text += chord + (sign if not index else "") + name + _length(piece.length * factor) + tie
        at += len(group)
    return text


def _beat(meter: Meter) -> Fraction:
    """What is beamed together: a quarter note, or three of the unit in compound meters."""
    compound = meter.unit >= 8 and meter.beats % 3 == 0
    return Fraction(12, meter.unit) if compound else Fraction(1)


def _group(pieces: list[Piece], at: int) -> tuple[list[Piece], str, Fraction]:
    """The next pieces that are written together, a tuplet's sign and how much longer its notes are written.

    A tuplet is the fewest pieces up to the next time that halving a beat gives.
    """
    alone = pieces[at : at + 1], "", Fraction(1)
    if _halved(pieces[at].length):
        return alone
    for last in range(at + 1, min(len(pieces), at + LONGEST_TUPLET) + 1):
        group = pieces[at:last]
        if not _halved(sum((piece.length for piece in group), Fraction(0))):
            continue
        notes = _odd(lcm(*(piece.length.denominator for piece in group)))
        if notes not in TIMES:
            return alone
        time = TIMES[notes]
        sign = f"({notes}" if (TUPLETS.get(notes), len(group)) == (time, notes) else f"({notes}:{time}:{len(group)}"
        return group, sign, Fraction(notes, time)
    return alone


def _halved(length: Fraction) -> bool:
    return _odd(length.denominator) == 1


def _odd(number: int) -> int:
    """The largest odd divisor."""
    return number // (number & -number)


class _Spelling:
    """Which accidentals the notes of a bar need."""

    def __init__(self, key: Key) -> None:
        self.key = key
        self.by_place: dict[tuple[int, int | None], int] = {}
        # Also by the letter alone, as some programs read them.
        self.by_letter: dict[int, int] = {}

    def name(self, piece: Piece) -> str:
        """The note's sign without its length."""
        pitch = piece.pitch or Pitch(0)
        letter, place = pitch.letter, (pitch.letter, pitch.octave)
        own = self.key.on_letter(letter).accidental
        given = {self.by_place.get(place, own), self.by_letter.get(letter, own)}
        sign = ""
        if given != {pitch.accidental} and not piece.tied_from:
            sign = _ACCIDENTALS[pitch.accidental]
            self.by_place[place] = pitch.accidental
        self.by_letter[letter] = pitch.accidental
        octave = pitch.octave or 0
        name = LETTERS[letter].lower() + "'" * (octave - 5) if octave > 4 else LETTERS[letter] + "," * (4 - octave)
        return sign + name


def _length(length: Fraction) -> str:
    """A length in beats as it is written after a note."""
    units = length / UNIT
    above = "" if units.numerator == 1 else str(units.numerator)
    return above if units.denominator == 1 else f"{above}/{units.denominator}"
