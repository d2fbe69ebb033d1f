"""How long the engine takes to finger a line, on this machine's own Python; and shifts beside two simple ways."""

import sys
import time
from collections.abc import Callable, Iterable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from bench_figures import Figure
from bench_lines import line_of
from shift_counting import fewest_shifts, lowest_frets, nearest_frets

from engine.formats.abc import read_abc
from engine.lines.line import Line
from engine.lines.moving import Span, in_all_keys, placed
from engine.neck.easier import easier
from engine.neck.fingering import layer_of, ways
from engine.neck.instrument import GUITAR, Instrument

COUNT = 16
AT_MOST = {("one key", COUNT): 30}
LENGTHS = (8, 16, 32, 64, 128)
ROUNDS = 5


def measure() -> dict[str, dict[int, list[float]]]:
    """Milliseconds for lines of each length: all ways in one key and in twelve, and what would be easier."""
    tasks: dict[str, Callable[[Line], object]] = {
        "one key": ways,
        "twelve keys": lambda line: [ways(_on(GUITAR, moved)) for moved in in_all_keys(line)],
        "easier": easier,
    }
    times: dict[str, dict[int, list[float]]] = {task: {} for task in tasks}
    for count in LENGTHS:
        line = _on(GUITAR, line_of(count))
        for _ in range(ROUNDS):
            for task, run in tasks.items():
                layer_of.cache_clear()
                begun = time.perf_counter()
                run(line)
                times[task].setdefault(count, []).append((time.perf_counter() - begun) * 1000)
    return times


def shifts(lines: Iterable[Line], instrument: Instrument = GUITAR) -> dict[str, int]:
    """The shifts over lines in the twelve keys: of the engine's first ways and of two simple ones, counted alike."""
    counted = {"engine": 0, "lowest frets": 0, "nearest frets": 0}
    for line in lines:
        for moved in in_all_keys(line):
            there = _on(instrument, moved)
            counted["engine"] += fewest_shifts(ways(there, instrument)[0].places)
            counted["lowest frets"] += fewest_shifts(lowest_frets(there, instrument))
            counted["nearest frets"] += fewest_shifts(nearest_frets(there, instrument))
    return counted


def figures(book: Path) -> list[Figure]:
    """The lines of the table: times, and the shifts over the lines in a folder."""
    times = [
        Figure(f"a line of {count} notes fingered, {task}", tuple(values), at_most=AT_MOST.get((task, count)))
        for task, counts in measure().items()
        for count, values in counts.items()
        if count == COUNT or task == "one key"
    ]
    lines = [line for path in sorted(book.glob("*.abc")) for line in read_abc(path.read_text(encoding="utf-8"))]
    counted = shifts(lines)
    return [*times, *(Figure(f"shifts over the book in twelve keys, {way}", (n,), "") for way, n in counted.items())]


def _on(instrument: Instrument, line: Line) -> Line:
    """The line in the octave in which the instrument has it."""
    return placed(line, Span(instrument.lowest, instrument.highest))
