"""How long the engine takes to finger a line: on this machine's own Python, and in the interpreter that is shipped."""

import json
import subprocess
import sys
import time
from collections.abc import Callable, Sequence
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from bench_figures import Figure
from bench_lines import line_of

from engine.lines.line import Line
from engine.lines.moving import Span, in_all_keys, placed
from engine.neck.easier import easier
from engine.neck.fingering import layer_of, ways
from engine.neck.instrument import GUITAR, Instrument

ROOT = Path(__file__).resolve().parents[2]
COUNT = 16
AT_MOST = {("one key", COUNT): 30}
IN_BROWSER = 300
LENGTHS = (8, 16, 32, 64, 128)
ROUNDS = 5


def measure(lengths: Sequence[int] = LENGTHS) -> dict[str, dict[int, list[float]]]:
    """Milliseconds for lines of each length: all ways in one key and in twelve, and what would be easier."""
    tasks: dict[str, Callable[[Line], object]] = {
        "one key": ways,
        "twelve keys": lambda line: [ways(on(GUITAR, moved)) for moved in in_all_keys(line)],
        "easier": easier,
    }
    times: dict[str, dict[int, list[float]]] = {task: {} for task in tasks}
    for count in lengths:
        line = on(GUITAR, line_of(count))
        for _ in range(ROUNDS):
            for task, run in tasks.items():
                layer_of.cache_clear()
                begun = time.perf_counter()
                run(line)
                times[task].setdefault(count, []).append((time.perf_counter() - begun) * 1000)
    return times


def figures(node: Path) -> list[Figure]:
    """The lines of the table."""
    times = [
        Figure(f"a line of {count} notes fingered, {task}", tuple(values), at_most=AT_MOST.get((task, count)))
        for task, counts in measure().items()
        for count, values in counts.items()
        if count == COUNT or task == "one key"
    ]
    name = f"a line of {COUNT} notes fingered, twelve keys, by the browser's Python (in Node)"
    return [*times, Figure(name, in_shipped(node), at_most=IN_BROWSER)]


def in_shipped(node: Path) -> tuple[float, ...]:
    """Milliseconds that the shipped interpreter takes for all ways in the twelve keys, nothing known before."""
    command: list[str | Path] = [node, ROOT / "docs" / "hooks" / "bench_ways.mjs", ROOT, str(COUNT)]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True)
    return tuple(map(float, json.loads(done.stdout)))


def on(instrument: Instrument, line: Line) -> Line:
    """The line in the octave in which the instrument has it."""
    return placed(line, Span(instrument.lowest, instrument.highest))
