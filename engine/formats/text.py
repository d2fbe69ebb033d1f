"""Lines as plain text for people: the chords bar by bar, and every note with its degree."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction

from engine.formats.bars import Bar, bar_number, bars_of
from engine.lines.line import Change, Line, Meter
from engine.theory.naming import name_over
from engine.theory.wording import USUAL, Profile, Text, render, say, show

# A fraction of a beat as one sign, where there is one.
_FRACTIONS = {
    "1/2": "½", "1/3": "⅓", "2/3": "⅔", "1/4": "¼", "3/4": "¾", "1/5": "⅕", "2/5": "⅖", "3/5": "⅗", "4/5": "⅘",
    "1/6": "⅙", "5/6": "⅚", "1/8": "⅛", "3/8": "⅜", "5/8": "⅝", "7/8": "⅞",
}  # fmt: skip
_UNITS = {1: "whole notes", 2: "half notes", 4: "quarter notes", 8: "eighth notes", 16: "sixteenth notes"}
_BETWEEN = "   "


def write_text(line: Line, profile: Profile = USUAL) -> str:
    """The line as aligned text, its notes and chords shown as the profile says.

    Bar 1 is the first full one, a pickup is bar 0. Beats are those of the time
    signature, counted from 1; lengths are in the same beats.
    """
    head = [render(text, profile) for text in _head(line)]
    bars = [_row("Bar", "Chords", profile=profile)]
    bars += [(str(bar.number), _chords(line, bar, profile)) for bar in bars_of(line)]
    notes = [_row("Bar", "Beat", "Note", "Length", "Chord", "Degree", profile=profile)]
    notes += _notes(line, profile)
    return "\n".join([*head, "", *_aligned(bars), "", *_aligned(notes)]) + "\n"


def _head(line: Line) -> Iterator[Text]:
    if line.title:
        yield say("{title}", title=_on_one_line(line.title))
    if line.composer:
        yield say("by {composer}", composer=_on_one_line(line.composer))
    unit = say(_UNITS.get(line.meter.unit, "1/{unit} notes"), unit=line.meter.unit)
    yield say("Key {key}, {meter}, beats are {unit}", key=line.key, meter=str(line.meter), unit=unit)
    if line.tempo is not None:
        yield say("{tempo} quarter notes a minute", tempo=line.tempo)


def _on_one_line(text: str) -> str:
    return " ".join(text.split())


def _row(*names: str, profile: Profile) -> tuple[str, ...]:
    return tuple(render(say(name), profile) for name in names)


def _chords(line: Line, bar: Bar, profile: Profile) -> str:
    """The chord that a bar starts with, held or new, and those that it changes to."""
    within = [change for change in line.changes if bar.start < change.beat < bar.end]
    first = show(line.chord_at(bar.start), profile)
    if within and bar.number < 1 and within[0].chord == line.chord_at(bar.start):
        within = within[1:]
    return _BETWEEN.join([first, *(_later(change, line.meter, profile) for change in within)])


def _later(change: Change, meter: Meter, profile: Profile) -> str:
    beat = number_text(beat_in_bar(meter, change.beat))
    return render(say("{chord} on {beat}", chord=change.chord, beat=beat), profile)


def _notes(line: Line, profile: Profile) -> Iterator[tuple[str, ...]]:
    for note in line.notes:
        chord = line.chord_of(note)
        yield (
            str(bar_number(line.meter, note.start)),
            number_text(beat_in_bar(line.meter, note.start)),
            show(note.pitch, profile),
            number_text(note.length * line.meter.unit / 4),
            show(chord, profile),
            show(name_over(chord, note.pitch).degree, profile),
        )


def beat_in_bar(meter: Meter, beat: Fraction) -> Fraction:
    """Where in its bar a beat of the line lies, in beats of the time signature, counted from 1."""
    return beat % meter.bar * meter.unit / 4 + 1


def number_text(number: Fraction) -> str:
    """A number as people write it: ``2½``, ``⅓``, ``1 3/16``."""
    whole, part = divmod(number, 1)
    if not part:
        return str(whole)
    sign = _FRACTIONS.get(str(part))
    return f"{whole or ''}{sign}" if sign else f"{whole} {part}" if whole else str(part)


def _aligned(rows: Sequence[tuple[str, ...]]) -> list[str]:
    widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
    return [_BETWEEN.join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip() for row in rows]
