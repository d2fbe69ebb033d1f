"""How long the engine takes to arrange a form for the band, on this machine's own Python."""

import sys
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import TypeVar

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from bench_figures import Figure

from engine.lines.progression import PROGRESSIONS
from engine.lines.stock import stock
from engine.sound import bass_lines, stretch, voicing
from engine.sound.arrangement import Arrangement, Roadmap, as_json, with_the_band

T = TypeVar("T")
FORM = PROGRESSIONS["aaba"]
AT_MOST = {"a chorus of 32 bars": 10}
CACHED = (
    bass_lines.ways, bass_lines.tones_of, bass_lines._bodies, stretch.scale_tone, voicing._voiced, voicing._motion,
)  # fmt: skip
ROUNDS = 9


def measure() -> dict[str, list[float]]:
    """Milliseconds for a chorus that comes for the first time and again, for twelve keys, and for the JSON of one."""
    times: dict[str, list[float]] = {}
    for seed in range(ROUNDS):
        for cached in CACHED:
            cached.cache_clear()
        _timed(times, "the very first chorus of 32 bars", partial(_band, 1, seed))
        chorus = _timed(times, "a chorus of 32 bars", partial(_band, 1, seed))
        _timed(times, "32 bars in each of twelve keys", partial(_band, 12, seed))
        _timed(times, "the JSON of a chorus", partial(as_json, chorus))
    return times


def figures() -> list[Figure]:
    """The lines of the table."""
    return [
        Figure(f"{name}, with the band", tuple(values), at_most=AT_MOST.get(name)) for name, values in measure().items()
    ]


def _band(choruses: int, seed: int) -> Arrangement:
    return with_the_band(Roadmap(stock()[:2], FORM, choruses=choruses, seed=seed))


def _timed(times: dict[str, list[float]], name: str, run: Callable[[], T]) -> T:
    begun = time.perf_counter()
    made = run()
    times.setdefault(name, []).append((time.perf_counter() - begun) * 1000)
    return made
