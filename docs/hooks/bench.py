"""Measures what a player waits for, in a headless Chromium on this machine, and writes it down (`build.py bench`).

Nothing is gated by it: machines differ, and a busy one measures itself. It says where a limit is missed.
"""

from __future__ import annotations

import argparse
import datetime
import gzip
import os
import platform
import statistics
import sys
import tempfile
import time
import zipfile
from collections.abc import Callable
from pathlib import Path

import bench_heard
import bench_line_pages
import bench_lines
import bench_neck
import bench_pages as pages
import bench_sound
import bench_tab
import names
import toolchain
from bench_figures import Figure, markdown_table, missed, percentile, plain_table
from playwright.sync_api import CDPSession, Page, Playwright, sync_playwright

ROOT = Path(__file__).resolve().parents[2]
BOOK = ROOT / "docs" / "lines"
REPORT = ROOT / "docs" / "bench.md"
ROUNDS = 5
LONG = 300  # seconds of real time for which the band is listened to
DRILLS = ("name-the-degree", "choose-the-resolution", "arpeggio-from-the-third")
QUIET, STEADY = 0.3, 3.0  # seconds without a word to the page around a tap, and seconds of the same work
TAPS_SLOWER, JUDGED_SLOWER = 6, 4
MOST_BYTES, MOST_PAGE_BYTES = 5_200, 90  # kB, compressed: of a first visit in all, and of a page itself
CALLS = """async () => {
  const engine = await linekeeper.openEngine({ base: "../" });
  const plan = JSON.parse(document.querySelector(".round").dataset.plan);
  // A player reads a question first; until then the browser is busy compiling.
  await new Promise((resolve) => setTimeout(resolve, 3000));
  const times = [];
  for (let turn = 0; turn < 60; turn += 1) {
    const answers = plan.indexes.slice(0, 1 + (turn % 10)).map((_, index) => ({ index, choice: turn % 4, ms: 1500 }));
    const start = performance.now();
    await engine.call({ do: "grade", plan, answers });
    times.push(performance.now() - start);
  }
  engine.close();
  return times;
}"""

MIDDLE = """async (selector) => {
  const box = document.querySelector(`.round .question.now ${selector}`).getBoundingClientRect();
  await new Promise((resolve) => setTimeout(resolve, 200));
  return [box.x + box.width / 2, box.y + box.height / 2];
}"""

# Settled once so many taps have all that they bring to light; it seldom looks, so as not to be what is slow.
TAPPED = """async (many) => {
  while (globalThis.measured.reasons.length < many) await new Promise((resolve) => setTimeout(resolve, 100));
}"""

# What a first visit fetches, in the order of the table: the part's name and which published files it is.
PARTS: tuple[tuple[str, Callable[[str], bool]], ...] = (
    ("page", lambda path: path.endswith(".html")),
    ("page's styles", lambda path: path.endswith(".css")),
    ("page's client", lambda path: path.startswith("app/") and path.endswith(".js")),
    ("page's typefaces", lambda path: path.endswith(".woff2")),
    ("icons and manifest", lambda path: path.startswith("icons/") or path.endswith(".webmanifest")),
    ("WebAssembly", lambda path: path.endswith(".wasm")),
    ("its glue and loaders", lambda path: path.startswith("runtime/") and path.endswith((".mjs", ".py"))),
    ("PyScript", lambda path: path.startswith("runtime/pyscript/")),
    ("Python's library and engine", lambda path: path.endswith("library.zip")),
)  # fmt: skip


class Times:
    """What was measured so far, by name."""

    def __init__(self) -> None:
        self.of: dict[str, list[float]] = {}

    def add(self, name: str, value: float) -> None:
        """Notes a value and shows it."""
        self.of.setdefault(name, []).append(value)
        print(f"    {name}: {value:.0f} ms", flush=True)

    def figure(self, key: str, name: str, **limits: float) -> Figure:
        """The values of a name as a line of the table."""
        return Figure(name, tuple(self.of.get(key, ())), **limits)  # type: ignore[arg-type]


def main() -> int:
    """One run: measure, print, write."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("site", type=Path)
    parser.add_argument("--rounds", type=int, default=ROUNDS)
    parser.add_argument("--long", action="store_true")
    options = parser.parse_args()
    begun = time.monotonic()
    times = Times()
    with (
        pages.stock_folder() as stock,
        pages.served(stock) as stock_address,
        pages.served(options.site) as address,
        sync_playwright() as playwright,
    ):
        for turn in range(options.rounds):
            print(f"  round {turn + 1} of {options.rounds}", flush=True)
            measure_starts(playwright, stock_address, address, times)
            measure_judged(playwright, f"{address}drills/{DRILLS[0]}.html", times)
        print("  taps", flush=True)
        even = steadiness()
        taps, reasons = measure_taps(playwright, address)
        calls = measure_calls(playwright, address)
        line_pages = bench_line_pages.figures(playwright, options.site, address)
        print("  sound", flush=True)
        heard = bench_heard.figures(playwright, address, LONG if options.long else bench_heard.SHORT)
        neck = [*bench_neck.figures(toolchain.node()), *bench_tab.figures(playwright, BOOK)]
        version = browser_version(playwright)
    fetched = first_visit(options.site, pages.Handler.asked)
    stock_middle = statistics.median(times.of["stock"])
    figures = [*time_figures(times, taps, reasons, calls), *machine_figures(even), *line_figures(), *line_pages, *neck]
    figures += [*bench_sound.figures(), *heard, *byte_figures(fetched)]
    print(f"\n{plain_table(figures, stock_middle)}\n")
    for sentence in missed(figures, stock_middle) or ["Every limit is kept."]:
        print(sentence)
    command = "python3 build.py bench" + " --long" * options.long
    REPORT.write_text(report(figures, stock_middle, options.rounds, version, len(taps), command), encoding="utf-8")
    print(f"\nwritten to {REPORT.relative_to(ROOT)} after {time.monotonic() - begun:.0f} s")
    return 0


def measure_starts(playwright: Playwright, stock: str, address: str, times: Times) -> None:
    """The stock start, our first visit, and our return with a snapshot and without, one after the other."""
    with tempfile.TemporaryDirectory() as profile, pages.visit(playwright, Path(profile)) as page:
        page.goto(stock, wait_until="commit")
        times.add("stock", pages.mark(page))
    with tempfile.TemporaryDirectory() as place:
        profile_folder = Path(place)
        url = f"{address}drills/{DRILLS[0]}.html"
        with pages.visit(playwright, profile_folder) as page:
            page.add_init_script(pages.WATCHER)
            pages.Handler.asked.clear()
            page.goto(url, wait_until="commit")
            times.add("first", pages.mark(page))
            asked = list(pages.Handler.asked)
            times.add("answerable", pages.measured(page)["answerable"])
            pages.wait_for_snapshot(page)
        for name, restored in (("return", True), ("return without", False)):
            with pages.visit(playwright, profile_folder) as page:
                if not restored:
                    page.goto(f"{address}about.html")
                    pages.drop_snapshots(page)
                    page.goto("about:blank")
                page.goto(url, wait_until="commit")
                times.add(name, pages.mark(page))
                if pages.was_restored(page) != restored:
                    raise SystemExit(f"the visit named {name!r} did not start as it should")
        pages.Handler.asked[:] = asked


def measure_judged(playwright: Playwright, url: str, times: Times) -> None:
    """From the page's first byte over 3G on a slow phone until the first answer's verdict is drawn."""
    with tempfile.TemporaryDirectory() as profile, pages.visit(playwright, Path(profile)) as page:
        page.add_init_script(f"globalThis.answersAtOnce = true;{pages.WATCHER}")
        pages.slow_network(pages.slow_down(page, JUDGED_SLOWER))
        page.goto(url, wait_until="commit")
        value = page.evaluate(
            """async () => {
              while (!globalThis.measured.judged) await new Promise((resolve) => setTimeout(resolve, 20));
              return globalThis.measured.judged - performance.getEntriesByType("navigation")[0].responseStart;
            }"""
        )
        times.add("judged", value)


def measure_taps(playwright: Playwright, address: str) -> tuple[list[float], list[float]]:
    """From each tap until its verdict is drawn, and until its reasons are, over two rounds of every drill.

    The page is slowed down.
    """
    verdicts: list[float] = []
    reasons: list[float] = []
    with tempfile.TemporaryDirectory() as profile, pages.visit(playwright, Path(profile)) as page:
        page.add_init_script(pages.WATCHER)
        for drill in (*DRILLS, *DRILLS):
            page.goto(f"{address}drills/{drill}.html", wait_until="commit")
            pages.mark(page)
            session = pages.slow_down(page, TAPS_SLOWER)
            play(page, session)
            session.detach()
            found = pages.measured(page)
            verdicts += found["taps"]
            reasons += found["reasons"]
            print(f"    {len(verdicts)} taps", flush=True)
    return verdicts, reasons


def play(page: Page, session: CDPSession) -> None:
    """Answers every question of the round in the page."""
    count = page.locator(".round .question").count()
    for number in range(count):
        place = page.evaluate(MIDDLE, f".choice:nth-child({number % 3 + 1}) label")
        # What steers the browser would be measured along: before the tap and after it nothing is asked of the page.
        time.sleep(QUIET)
        pages.finger(session, *place)
        time.sleep(QUIET)
        page.evaluate(TAPPED, number + 1)
        pages.finger(session, *page.evaluate(MIDDLE, "a.next"))
        page.evaluate("() => new Promise((resolve) => setTimeout(resolve, 100))")


def steadiness() -> tuple[float, ...]:
    """Milliseconds of one and the same work, done again and again while nothing else runs: how even the machine is."""
    times = []
    until = time.monotonic() + STEADY
    while time.monotonic() < until:
        start = time.perf_counter()
        sum(number * number for number in range(100_000))
        times.append(1000 * (time.perf_counter() - start))
    return tuple(times)


def measure_calls(playwright: Playwright, address: str) -> list[float]:
    """Milliseconds of the calls that count a round's answers, at the machine's own speed."""
    with tempfile.TemporaryDirectory() as profile, pages.visit(playwright, Path(profile)) as page:
        page.goto(f"{address}drills/{DRILLS[0]}.html")
        pages.mark(page)
        return [float(value) for value in page.evaluate(CALLS)]


def browser_version(playwright: Playwright) -> str:
    """The browser's name and version."""
    browser = playwright.chromium.launch(executable_path=toolchain.browser(), args=pages.FLAGS)
    try:
        return f"headless Chromium {browser.version}"
    finally:
        browser.close()


def time_figures(times: Times, taps: list[float], reasons: list[float], calls: list[float]) -> list[Figure]:
    """The lines of the table that are times."""
    slowest_calls = percentile(calls, 0.95)
    return [
        times.figure("stock", "stock PyScript and Pyodide say hello"),
        times.figure("answerable", "first question can be answered", of_stock=0.05),
        times.figure("first", "engine ready, first visit", of_stock=0.55),
        times.figure("return", "engine ready, return visit (from the snapshot)", of_stock=0.35),
        times.figure("return without", "engine ready, return visit without the snapshot"),
        times.figure("judged", f"first byte to answer judged, 3G and a CPU {JUDGED_SLOWER} times slower"),
        Figure(f"tap to verdict, p95, CPU {TAPS_SLOWER} times slower", (percentile(taps, 0.95),), at_most=100),
        Figure(f"tap to the reasons, p95, CPU {TAPS_SLOWER} times slower", (percentile(reasons, 0.95),)),
        Figure(f"engine call, p95, times {TAPS_SLOWER}", (slowest_calls * TAPS_SLOWER,), at_most=100),
    ]


def machine_figures(even: tuple[float, ...]) -> list[Figure]:
    """The lines of the table that tell how even the machine itself was."""
    return [
        Figure("one and the same arithmetic, just before the taps", even),
        Figure("of that, p95", (percentile(even, 0.95),)),
    ]


def line_figures() -> list[Figure]:
    """The lines of the table about lines of music: the engine by itself, no browser."""
    return [
        Figure(f"a line of {count} notes read in twelve keys", tuple(times), at_most=50 if count == 32 else None)
        for count, times in bench_lines.measure().items()
    ]


def first_visit(site: Path, asked: list[str]) -> dict[str, Path]:
    """What a first visit fetched, by its path in the source."""
    every = {path.name: path for path in names.files_of(site)}
    # What the service worker fetches comes after the start, and is what the browser has already.
    asked = asked[: asked.index("sw.js")] if "sw.js" in asked else asked
    return {
        names.plain(every[name].relative_to(site).as_posix()): every[name]
        for name in asked
        if name in every and not name.startswith("snapshot-")
    }


def byte_figures(fetched: dict[str, Path]) -> list[Figure]:
    """The lines of the table that are kilobytes, compressed as a host does."""
    sizes = {path: _compressed(file) for path, file in fetched.items()}
    lines: list[Figure] = []
    counted: set[str] = set()
    for name, belongs in PARTS:
        own = {path for path in sizes if belongs(path)} - counted
        counted |= own
        most = MOST_PAGE_BYTES if name == "page" else None
        lines.append(Figure(f"first visit: {name}", (sum(sizes[path] for path in own) / 1000,), "kB", at_most=most))
    rest = sum(size for path, size in sizes.items() if path not in counted)
    engine = next((_engine_share(file) for path, file in fetched.items() if path.endswith("library.zip")), 0)
    page = sum(line.middle for line in lines if "page" in line.name)
    return [
        *lines,
        Figure("first visit: of that, the engine's share", (engine / 1000,), "kB"),
        *([Figure("first visit: the rest", (rest / 1000,), "kB")] if rest else []),
        Figure("first visit: page, styles, client and typefaces", (page,), "kB"),
        Figure("first visit in all", (sum(sizes.values()) / 1000,), "kB", at_most=MOST_BYTES),
    ]


def _compressed(file: Path) -> int:
    content = file.read_bytes()
    return min(len(content), len(gzip.compress(content, 6)))


def _engine_share(library: Path) -> int:
    with zipfile.ZipFile(library) as archive:
        return sum(entry.compress_size for entry in archive.infolist() if entry.filename.startswith("engine/"))


def report(figures: list[Figure], stock: float, rounds: int, version: str, taps: int, command: str) -> str:
    """The page of the site."""
    sentences = missed(figures, stock) or ["Every limit is kept."]
    return (
        "---\ntitle: Measurements\nlead: How long a player waits, and how much a first visit fetches.\n---\n\n"
        f"Measured on {datetime.date.today():%Y-%m-%d} by `{command}`: medians of {rounds}, taken in "
        f"turns, {version}, {machine()}. Every visit has a browser started anew; a first one has an empty profile. "
        f"The server stands on the same machine and compresses; only the line that says 3G has a slow network "
        f"({pages.DOWN / 1e6:.1f} Mbit/s down, {pages.UP / 1e3:.0f} kbit/s up, {pages.LATENCY} ms). Taps: {taps}; a "
        f"finger stays on the glass for {1000 * pages.ON_GLASS:.0f} ms, and the time runs from its leaving. "
        "A slowed-down CPU slows the page but not its workers, so the engine's calls stand beside it, multiplied. What "
        "the machine itself takes away counts as often, so one and the same arithmetic tells how even it was. "
        "What is heard is rendered as samples by the page's own player and measured in them; a tap to sound lasts "
        "until the first note is due, and finds the device's sound asleep.\n\n"
        f"{markdown_table(figures, stock)}\n\n" + "\n".join(f"- {sentence}" for sentence in sentences) + "\n"
    )


def machine() -> str:
    """What this machine is, in a few words."""
    model = ""
    cpuinfo = Path("/proc/cpuinfo")
    if cpuinfo.exists():
        lines = cpuinfo.read_text(encoding="utf-8").splitlines()
        model = next((line.split(":", 1)[1].strip() for line in lines if line.startswith("model name")), "")
    return f"{platform.system()} with {os.cpu_count()} cores ({model or platform.machine()})"


if __name__ == "__main__":
    sys.exit(main())
