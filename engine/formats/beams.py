"""Which notes of a bar share a beam."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby

from engine.formats.bars import Bar
from engine.formats.note_values import Written, beat_of
from engine.lines.line import Meter

# How many beams, or flags, a value has.
LEVELS = {name: level for level, name in enumerate(("eighth", "16th", "32nd", "64th", "128th"), 1)}


def level_of(note: Written) -> int:
    """How many beams or flags a note has; 0 for a rest."""
    return LEVELS.get(note.value or "", 0) if note.part.pitch else 0


def beam_groups(notes: Sequence[Written], bar: Bar, meter: Meter) -> list[range]:
    """The runs of two notes and more under one beam, as ranges of their places in the bar.

    A beam joins the notes of a beat, or of a tuplet in it. Where a bar has twice two beats, as in 4/4, eighth
    notes are joined by half bars: four under a beam, as lines of eighths are read.
    """
    beat, origin = beat_of(meter), (bar.number - 1) * meter.bar
    half = 2 * beat if beat <= 1 and meter.bar % (4 * beat) == 0 else beat
    levels = [level_of(note) for note in notes]
    beats = [(note.part.start - origin) // beat for note in notes]
    halves = [(note.part.start - origin) // half for note in notes]
    mixed = {halves[index] for index, note in enumerate(notes) if levels[index] > 1 or (levels[index] and note.tuplet)}

    def group(index: int) -> object:
        if not levels[index]:
            return None
        place = halves[index]
        return (beats[index], notes[index].tuplet) if place in mixed else place

    runs = [list(run) for key, run in groupby(range(len(notes)), group) if key is not None]
    return [range(run[0], run[-1] + 1) for run in runs if len(run) > 1]
