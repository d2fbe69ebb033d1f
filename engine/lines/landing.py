"""Where a line lands: the note that it resolves to when its last chord comes."""

from __future__ import annotations

from dataclasses import dataclass

from engine.lines.line import Line
from engine.theory.degree import Degree
from engine.theory.naming import CHORD_TONE, name_over


@dataclass(frozen=True, slots=True)
class Landing:
    """The note at ``index`` is the ``degree`` of the last chord.

    ``semitones`` is the signed step that led to it, 0 for a common tone, repeated
    or held over the change; None where no note comes before it.
    """

    index: int
    degree: Degree
    semitones: int | None


def landing_of(line: Line) -> Landing | None:
    """The first note that sounds over, or is held into, the last chord.

    None where the line ends before that chord, or has one chord only.
    """
    if len(line.changes) < 2:
        return None
    last = line.changes[-1]
    for index, note in enumerate(line.notes):
        if note.end > last.beat:
            degree = name_over(last.chord, note.pitch).degree
            before = line.chord_of(note)
            held = note.start < last.beat and name_over(before, note.pitch).role == CHORD_TONE
            step = 0 if held else note.pitch.midi - line.notes[index - 1].pitch.midi if index else None
            return Landing(index, degree, step)
    return None
