"""How long the engine takes to understand a line and to move it to the twelve keys, on this machine's own Python."""

import sys
import time
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from engine.lines.devices.recognise import analyse
from engine.lines.line import Change, Line, Note, merged
from engine.lines.moving import in_all_keys
from engine.lines.stock import stock

LENGTHS = (32, 64, 128, 256, 512)
ROUNDS = 5


def line_of(count: int) -> Line:
    """A line of so many notes: one of the drills' own, again and again."""
    pattern = max(stock(), key=lambda line: len(line.changes))
    notes: list[Note] = []
    changes: list[Change] = []
    while len(notes) < count:
        later = Fraction(len(notes) // len(pattern.notes)) * pattern.end
        notes += [replace(note, start=note.start + later) for note in pattern.notes]
        changes += [replace(change, beat=change.beat + later) for change in pattern.changes]
    notes = notes[:count]
    return replace(pattern, notes=tuple(notes), changes=merged(tuple(changes)), end=notes[-1].end)


def measure() -> dict[int, list[float]]:
    """Milliseconds for a line of each length in all twelve keys, analysed in each."""
    times: dict[int, list[float]] = {}
    for count in LENGTHS:
        line = line_of(count)
        for _ in range(ROUNDS):
            analyse.cache_clear()
            begun = time.perf_counter()
            for moved in in_all_keys(line):
                analyse(moved)
            times.setdefault(count, []).append((time.perf_counter() - begun) * 1000)
    return times
