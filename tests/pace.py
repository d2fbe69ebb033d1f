"""How long work takes, in the machine's own pace: a busy or slow machine is no fault of the engine."""

import gc
import re
import time
from collections.abc import Callable
from typing import TypeVar

T = TypeVar("T")

_STEP = re.compile(r"[a-z](\d*)")
_STEPS = 100_000

# Within this the largest file that is taken is read or refused: three seconds on a usual desk.
SOON = 100


def paced(work: Callable[[], T]) -> tuple[T, float]:
    """What the work gives, and its processor time, where 1 is what the same core takes for 100,000 matches.

    The pace is taken before and after, and the slower one counts: a core may change its speed in between. What the
    tests before have left in memory is kept from the garbage collector, which would walk through it again and again.
    """
    gc.freeze()
    try:
        before = _pace()
        start = time.thread_time()
        given = work()
        took = time.thread_time() - start
        return given, took / max(before, _pace())
    finally:
        gc.unfreeze()


def _pace() -> float:
    start = time.thread_time()
    for step in range(_STEPS):
        found = _STEP.match("c4 d4 e4 f4", step % 4 * 3)
        assert found is not None
    return time.thread_time() - start
