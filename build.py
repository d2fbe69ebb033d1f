#!/usr/bin/env python3
"""Linekeeper's command line for its builders: serve, build, one-file, test, bench. It sets up what it needs."""

import sys

if sys.version_info < (3, 11):  # noqa: UP036  (this is where an older one is told)
    sys.exit("Linekeeper needs Python 3.11 or newer; this is Python " + sys.version.split()[0])

import argparse
import contextlib
import os
import shutil
import subprocess
import tempfile
import time
from collections.abc import Callable, Mapping, Sequence
from functools import partial
from pathlib import Path
from typing import IO

ROOT = Path(__file__).resolve().parent
sys.path.insert(0, str(ROOT / "docs" / "hooks"))

import cdn  # noqa: E402  (build-time modules live beside MkDocs' hooks)
import editions  # noqa: E402
import serving  # noqa: E402
import toolchain  # noqa: E402

from engine.drills.options import OPTIONS  # noqa: E402
from engine.terminal.line_verbs import only_line  # noqa: E402
from engine.theory.bad_input import BadInput  # noqa: E402

SITE = ROOT / "site"
# Every built site has it, so a folder that has it may be replaced by the next build.
MARK = "runtime*/interpreter.mjs"
# Those that need a browser often wait for it: two halves, which run side by side.
HALVES = {"browser": ["-m", "browser"], "rest": ["-m", "not browser", "-o", "cache_dir=.cache/pytest"]}


def main(arguments: Sequence[str]) -> int:
    """Runs one command and returns its exit code."""
    parser = argparse.ArgumentParser(prog="build.py", description=__doc__)
    commands = parser.add_subparsers(dest="command", required=True)
    serve_parser = commands.add_parser("serve", help="build the site and show it on this machine")
    serve_parser.add_argument("--port", type=int, default=8000, help="the port to start looking at (8000)")
    build_parser = commands.add_parser("build", help="build the site as a folder for any host")
    build_parser.add_argument("--out", type=Path, default=SITE, help="the folder to write (site)")
    help_text = "take PyScript, Pyodide and Tone.js from a public host, this one or " + cdn.BASE
    build_parser.add_argument("--cdn", nargs="?", const=cdn.BASE, default="", metavar="URL", help=help_text)
    help_text = "write one drill, or one line, as a single file to hand over"
    file_parser = commands.add_parser("one-file", help=help_text, allow_abbrev=False)
    help_text = "the drill (python3 -m engine drill --list names them), or a file mine.abc for the page of its line"
    file_parser.add_argument("slug", metavar="SLUG", help=help_text)
    for option in OPTIONS:
        file_parser.add_argument(f"--{option.name}", metavar=option.example, help=option.meaning)
    file_parser.add_argument("--line", metavar="mine.abc", help="the line that a drill about lines asks about")
    file_parser.add_argument("--words", metavar="TEXT", default="", help="a sentence for whoever opens it")
    file_parser.add_argument("--out", type=Path, metavar="FILE.html", help="the file to write (SLUG.html, mine.html)")
    test_parser = commands.add_parser("test", help="run every check; what follows -- goes to pytest")
    test_parser.add_argument("--no-browser", action="store_true", help="leave out the tests that need a browser")
    test_parser.add_argument("--no-webkit", action="store_true", help="leave out the few tests that need WebKitGTK")
    test_parser.add_argument("pytest", nargs="*", help="arguments for pytest, after --")
    bench_parser = commands.add_parser("bench", help="measure starts, sizes, taps and sound, and write docs/bench.md")
    bench_parser.add_argument("--quick", action="store_true", help="one round instead of five")
    bench_parser.add_argument("--long", action="store_true", help="listen to the band for five minutes of real time")
    options = parser.parse_args(arguments)
    try:
        if options.command == "serve":
            return serve(options.port)
        if options.command == "build":
            return build(options.out, options.cdn)
        if options.command == "one-file":
            typed = {option.name: getattr(options, option.name) for option in OPTIONS}
            given = {name: text for name, text in typed.items() if text is not None}
            if options.slug.endswith(".abc"):
                page = partial(editions.one_line_file, line=only_line(options.slug))
                return one_file(page, options.out or Path(f"{Path(options.slug).stem}.html"))
            round_ = editions.asked_round(options.slug, given, options.line, options.words)
            edition = partial(editions.one_file, round_=round_)
            return one_file(edition, options.out or Path(f"{options.slug}.html"))
        if options.command == "bench":
            return bench(options.quick, options.long)
        return test(options.no_browser, options.no_webkit, options.pytest)
    except BadInput as bad:
        print(f"build.py: {bad}", file=sys.stderr)
        return 2
    except toolchain.SetupError as problem:
        print(f"build.py: {problem}", file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        print("\nstopped", file=sys.stderr)
        return 130


def build(out: Path, host: str = "") -> int:
    """Builds the site into `out`; an earlier build there stays until the new one is whole.

    With a `host` the interpreter comes from there (docs/hooks/cdn.py).
    """
    start = time.monotonic()
    if host:
        try:
            host = cdn.base_address(host)
        except ValueError as problem:
            raise toolchain.SetupError(str(problem)) from None
    out = out.resolve()
    if out.exists() and (not out.is_dir() or (any(out.iterdir()) and not any(out.glob(MARK)))):
        raise toolchain.SetupError(f"{out} holds something else than a built site: name a new or an empty folder")
    new = out.with_name(f".{out.name}-{os.getpid()}")
    new.parent.mkdir(parents=True, exist_ok=True)
    try:
        code = _make_site(new, host)
        if code:
            return code
        if out.exists():
            shutil.rmtree(out)
        new.rename(out)
    finally:
        shutil.rmtree(new, ignore_errors=True)
    print(f"built {_short(out)} in {time.monotonic() - start:.1f} s")
    return 0


def one_file(edition: Callable[[Path], str], out: Path) -> int:
    """Writes what `edition` makes of a freshly built site as one file; an earlier one stays until it is whole."""
    start = time.monotonic()
    out = out.resolve()
    if out.is_dir() or not out.parent.is_dir():
        raise toolchain.SetupError(f"{out} cannot be written: name a file in a folder that is there")
    with tempfile.TemporaryDirectory(prefix="linekeeper-") as workshop:
        site = Path(workshop) / "site"
        code = _make_site(site)
        if code:
            return code
        text = edition(site)
    new = out.with_name(f".{out.name}-{os.getpid()}")
    try:
        new.write_text(text, encoding="utf-8")
        new.replace(out)
    finally:
        new.unlink(missing_ok=True)
    print(f"wrote {_short(out)}, {len(text.encode()) / 1e6:.1f} MB, in {time.monotonic() - start:.1f} s")
    return 0


def _make_site(folder: Path, host: str = "") -> int:
    """Sets up what the build needs and has MkDocs write the site; its exit code."""
    toolchain.python_packages("build")
    toolchain.npm_packages()
    mkdocs: list[str | Path] = [toolchain.python(), "-m", "mkdocs", "build", "--strict", "--quiet"]
    # Named always, so that what stands in this machine's environment does not decide.
    environment = {**os.environ, "LINEKEEPER_CDN": host}
    return subprocess.run([*mkdocs, "--site-dir", folder], cwd=ROOT, env=environment).returncode


def serve(port: int) -> int:
    """Builds the site and serves it until Ctrl-C."""
    code = build(SITE)
    if code:
        return code
    try:
        server = serving.open_server(SITE, port)
    except (OSError, OverflowError) as problem:
        raise toolchain.SetupError(f"the site cannot be served: {problem}") from None
    with server:
        taken = server.server_port
        if taken != port:
            print(f"port {port} is taken, so this is the next free one")
        print(f"Linekeeper is at http://{serving.ADDRESS}:{taken}/ (Ctrl-C ends it)", flush=True)
        try:
            server.serve_forever()
        except KeyboardInterrupt:
            print()
    return 0


def test(no_browser: bool, no_webkit: bool, pytest_arguments: Sequence[str]) -> int:
    """Runs every check, also after one has failed, and says how long each took."""
    toolchain.python_packages("build")
    toolchain.python_packages("test")
    toolchain.npm_packages(with_tests=True)
    if not no_browser:
        toolchain.install_browser()
        if not no_webkit:
            toolchain.install_webkit()
    typescript = ROOT / "node_modules" / "typescript" / "bin" / "tsc"
    browser_choice = ["--no-browser"] * no_browser + ["--no-webkit"] * no_webkit
    checks: dict[str, list[str | Path]] = {
        "ruff": [toolchain.script("ruff"), "check", "."],
        "mypy": [toolchain.script("mypy")],
        "tsc": [toolchain.node(), typescript, "-p", "docs/app/tsconfig.json"],
    }
    results = {name: _timed(name, command) for name, command in checks.items()}
    pytest: list[str | Path] = [toolchain.python(), "-m", "pytest", *browser_choice, *pytest_arguments]
    if pytest_arguments or no_browser:
        results["pytest"] = _timed("pytest", pytest)
    else:
        with tempfile.TemporaryDirectory(prefix="linekeeper-") as place:
            site = Path(place) / "site"
            results["build"] = _timed("build", [toolchain.python(), ROOT / "build.py", "build", "--out", site])
            # Behind a space it would be taken for what is to be tested.
            built: list[str | Path] = [] if results["build"][0] else [f"--site={site}"]
            results |= _side_by_side({half: [*pytest, *built, *chosen, "tests"] for half, chosen in HALVES.items()})
    print()
    for name, (code, seconds) in results.items():
        print(f"{name:8}{'passed' if code == 0 else 'FAILED'} {seconds:7.1f} s")
    return int(any(code for code, _ in results.values()))


def bench(quick: bool, long: bool) -> int:
    """Builds the site, measures it in a browser and writes docs/bench.md; a limit that is missed is no failure."""
    toolchain.python_packages("build")
    toolchain.python_packages("test")
    toolchain.npm_packages(with_tests=True)
    toolchain.install_browser()
    with tempfile.TemporaryDirectory() as place:
        site = Path(place) / "site"
        command: list[str | Path] = [toolchain.python(), ROOT / "docs" / "hooks" / "bench.py", site]
        command += [*(["--rounds", "1"] if quick else []), *(["--long"] if long else [])]
        return build(site) or subprocess.run(command, cwd=ROOT).returncode


def _timed(name: str, command: Sequence[str | Path]) -> tuple[int, float]:
    print(f"— {name}", flush=True)
    start = time.monotonic()
    code = subprocess.run(command, cwd=ROOT).returncode
    return code, time.monotonic() - start


def _side_by_side(halves: Mapping[str, Sequence[str | Path]]) -> dict[str, tuple[int, float]]:
    """Runs commands at the same time and shows what each has printed, the first one at once, the others afterwards."""
    (first, command), *others = halves.items()
    results: dict[str, tuple[int, float]] = {}
    start = time.monotonic()
    with contextlib.ExitStack() as stack:
        running: dict[str, tuple[subprocess.Popen[bytes], IO[bytes]]] = {}
        for name, other in others:
            kept: IO[bytes] = stack.enter_context(tempfile.TemporaryFile())
            process = subprocess.Popen(other, cwd=ROOT, stdout=kept, stderr=subprocess.STDOUT)
            stack.callback(process.kill)
            running[name] = process, kept
        results[first] = _timed(first, command)
        for name, (process, kept) in running.items():
            code = process.wait()
            results[name] = code, time.monotonic() - start
            kept.seek(0)
            print(f"— {name}\n{kept.read().decode(errors='replace')}", flush=True)
    return results


def _short(path: Path) -> Path:
    return path.relative_to(ROOT) if path.is_relative_to(ROOT) else path


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
