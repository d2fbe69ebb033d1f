"""Runs the slow steps of a command: a line says what is going on, and how long it has taken."""

import os
import subprocess
import sys
import time
from collections.abc import Mapping, Sequence
from pathlib import Path


def run(title: str, command: Sequence[str | Path], env: Mapping[str, str] | None = None) -> str:
    """Runs `command` and returns what it printed; shows `title` once a second has passed.

    Raises subprocess.CalledProcessError (its `output` has what was printed) when it fails, and OSError when
    it cannot be started at all.
    """
    start = time.monotonic()
    process = subprocess.Popen(
        command,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        errors="replace",
        env={**os.environ, **(env or {})},
    )
    output = None
    shown = False
    try:
        while output is None:
            try:
                output, _ = process.communicate(timeout=1)
            except subprocess.TimeoutExpired:
                _show(title, time.monotonic() - start, first=not shown)
                shown = True
    except BaseException:
        process.terminate()
        process.wait()
        raise
    finally:
        if shown:
            _end(time.monotonic() - start)
    if process.returncode:
        raise subprocess.CalledProcessError(process.returncode, command, output)
    return output


def _show(title: str, seconds: float, first: bool) -> None:
    if sys.stderr.isatty():
        print(f"\r  {title} … {seconds:.0f} s", end="", file=sys.stderr, flush=True)
    elif first:
        print(f"  {title} …", end="", file=sys.stderr, flush=True)


def _end(seconds: float) -> None:
    print("" if sys.stderr.isatty() else f" {seconds:.0f} s", file=sys.stderr, flush=True)
