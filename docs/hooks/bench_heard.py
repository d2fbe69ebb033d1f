"""What is heard, measured in a headless Chromium: pitch, time, level, and how soon a tap sounds."""

from __future__ import annotations

import sys
import tempfile
from collections.abc import Sequence
from itertools import takewhile
from pathlib import Path
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

import bench_pages as pages
import numpy as np
import sound_studio
import toolchain
from bench_figures import Figure
from playwright.sync_api import Page, Playwright
from sound_numbers import Compared, compared, decibels, drift, onsets
from sound_studio import RANGES, Studio, heard, of_instrument, rendered, scale_off, shares, silent

from engine.lines.progression import PROGRESSIONS
from engine.lines.stock import stock
from engine.practice.band import Band, write_band
from engine.sound.arrangement import Roadmap, as_json, with_the_band

LINE = stock()[0]
LINE_PAGE = "lines/four-windows.html"
MOST_CENTS, MOST_OFF, MOST_PEAK, MOST_CONSTANT = 5, 5, -1, -60
MOST_BYTES, MOST_WAIT, MOST_ARRANGED, MOST_DRIFT = 130, 150, 30, 1
KEYS, TURNS, SLOWEST, RISE = 12, 10, 80, 2
MINUTES = 5
FAST = 240
SHORT = 20  # seconds of real time
BUSY = 0.9  # seconds
# Longer than the device's sound is kept awake after the last tap: that is what a tap finds.
PAUSE = 2_500
TAPS = 5

# When a tap came, and when the first sound of it is due, by the page's clock.
WATCHER = """(() => {
  const heard = (globalThis.heard = { tap: 0, due: 0, begun: [], data: null });
  addEventListener("click", (event) => {
    if (event.target.closest?.("[data-hear]")) Object.assign(heard, { tap: event.timeStamp, due: 0, begun: [] });
  }, true);
  const { start } = AudioBufferSourceNode.prototype;
  AudioBufferSourceNode.prototype.start = function (when, ...rest) {
    const { currentTime } = this.context;
    heard.due ||= performance.now() + 1000 * (when - currentTime);
    heard.begun.push([when, currentTime]);
    return start.call(this, when, ...rest);
  };
  let made;
  Object.defineProperty(globalThis, "band", {
    configurable: true,
    get: () => made,
    set: (band) => {
      made = { ...band, play: (context, data, wishes) => ((heard.data = data), band.play(context, data, wishes)) };
    },
  });
})()"""
# From the first request after the page's engine has started: nothing was arranged in it before.
ARRANGED = """async (requests) => {
  const engine = await linekeeper.openEngine({ base: "./" });
  const ask = async (request) => {
    const start = performance.now();
    const answer = await engine.call({ do: "band", fields: {}, link: "", ...request });
    return [performance.now() - start, answer];
  };
  const [, first] = await ask({ pressed: null, set: "" });
  if (first.pack) await engine.pack(first.pack);
  await ask({ pressed: ["open", ""], set: "" });
  const times = [];
  for (const set of requests) {
    const [time, { sound }] = await ask({ pressed: ["hear", "band"], set });
    if (!sound?.events.length) throw new Error("nothing was arranged");
    times.push(time);
  }
  engine.close();
  return times;
}"""
# Keeps an engine's worker at work all the time, and the page's own thread for most of it, for so many seconds.
BUSY_ENGINE = """async ([set, seconds]) => {
  const engine = await linekeeper.openEngine({ base: "./" });
  const until = performance.now() + seconds * 1000;
  let calls = 0;
  const work = async () => {
    for (let seed = 1; performance.now() < until; seed += 1) {
      const request = { do: "band", fields: {}, link: "", set: `${set}&seed=${seed}` };
      const answer = await engine.call({ ...request, pressed: ["hear", "band"] });
      if (answer.pack) await engine.pack(answer.pack);
      calls += 1;
    }
  };
  const hold = async () => {
    while (performance.now() < until) {
      for (const free = performance.now() + 80; performance.now() < free; );
      await new Promise((resolve) => setTimeout(resolve, 20));
    }
  };
  await Promise.all([work(), hold()]);
  engine.close();
  return calls;
}"""


def figures(playwright: Playwright, address: str, seconds: float = SHORT) -> list[Figure]:
    """The lines of the table; ``seconds`` of real time are listened to while the engine is busy."""
    browser = playwright.chromium.launch(executable_path=toolchain.browser(), args=pages.FLAGS)
    try:
        with sound_studio.opened(browser) as studio:
            found = [*_tuning(studio), *_times(studio), *_chorus(studio), *_five_minutes(studio)]
        page = browser.new_context(service_workers="block", has_touch=True, viewport=pages.PHONE).new_page()
        page.set_default_timeout(pages.PATIENCE)
        found += _fetched(page, address)
    finally:
        browser.close()
    with tempfile.TemporaryDirectory() as profile, pages.visit(playwright, Path(profile)) as page:
        page.add_init_script(WATCHER)
        found += [*_waits(page, address), *_real_time(page, address, seconds)]
    # In a browser started anew, whose interpreter has compiled nothing yet.
    with tempfile.TemporaryDirectory() as profile, pages.visit(playwright, Path(profile)) as page:
        found += _arranged(page, address)
    return found


# --- worked out --------------------------------------------------------------------------------


def _tuning(studio: Studio) -> list[Figure]:
    worst = max(abs(cents) for instrument in RANGES for cents in scale_off(studio, instrument).values())
    count = sum(map(len, RANGES.values()))
    return [Figure(f"worst pitch of {count} half steps on {len(RANGES)} instruments", (worst,), "cents", MOST_CENTS)]


def _times(studio: Studio) -> list[Figure]:
    """Every onset of the line, and of all, ten times through the keys with the tempo rising, beside the data."""
    choruses = TURNS * KEYS
    data = as_json(with_the_band(Roadmap([LINE], tempo=SLOWEST, rise=RISE, choruses=choruses, count_in=1, loop=False)))
    what = f"{choruses} choruses, {TURNS} times twelve keys, {SLOWEST} to {SLOWEST + RISE * (choruses - 1)}"
    made = []
    for name, part in (("the line", of_instrument(data, "guitar")), ("the band", data)):
        found = compared(onsets(heard(studio, part)), [event[0] for event in part["events"]])
        made += [
            Figure(f"{what}: worst onset of {name}", (_worst(found),), "ms", MOST_OFF),
            Figure(f"the same: median of the {len(found.off)} onsets of {name}", (found.median,), "ms"),
        ]
    return made


def _worst(found: Compared) -> float:
    """Milliseconds; an onset without a counterpart is off by any number of them."""
    return float("inf") if found.missing or found.extra else found.worst


def _chorus(studio: Studio) -> list[Figure]:
    data = as_json(with_the_band(Roadmap([LINE], PROGRESSIONS["aaba"], tempo=200, choruses=1, count_in=1, loop=False)))
    sides = rendered(studio, data, data["length"] + sound_studio.TAIL)
    events = shares(studio, data)
    return [
        Figure("a chorus of 32 bars with the band: peak", (decibels(float(np.abs(sides).max())),), "dBFS", MOST_PEAK),
        Figure(
            "a chorus of 32 bars with the band: what is constant (DC)",
            (decibels(float(np.abs(sides.mean(axis=1)).max())),), "dBFS", MOST_CONSTANT,
        ),
        Figure(f"of its {len(events)} events, those that are silent", (silent(events),), "", 0),
    ]  # fmt: skip


def _five_minutes(studio: Studio) -> list[Figure]:
    data = as_json(with_the_band(Roadmap([LINE], tempo=FAST, choruses=12, count_in=1)))
    seconds = 60 * MINUTES
    made = studio.page.evaluate(sound_studio.DRIVEN, {"data": data, "seconds": seconds, "busy": BUSY})
    name = f"{MINUTES} minutes at {FAST} by the clock of a render, the page busy for up to {BUSY} s: drift"
    return _drifted(name, data, made["begun"], seconds - 1)


def _drifted(name: str, data: dict[str, Any], begun: Sequence[Sequence[float]], until: float) -> list[Figure]:
    """How far what was scheduled is from the data, in a loop for so many seconds, and how much came too late."""
    starts = laps(data, until)
    off = 1000 * drift([when for when, _ in begun], starts)
    late = sum(when <= clock for when, clock in begun)
    return [
        Figure(name, (off,), "ms", MOST_DRIFT),
        Figure(f"of its {len(begun)} notes, those that came late", (late,), "", 0),
    ]


def laps(data: dict[str, Any], until: float) -> list[float]:
    """When each event should begin, in a loop for so many seconds."""
    begin, end = data["loop"]
    first = [event[0] for event in data["events"] if event[0] < end]
    again = [start for start in first if start >= begin]
    turns = (start + lap * (end - begin) for lap in range(1, 10_000) for start in again)
    return [*takewhile(lambda start: start < until, first), *takewhile(lambda start: start < until, turns)]


# --- in the pages ------------------------------------------------------------------------------


def _fetched(page: Page, address: str) -> list[Figure]:
    """What the first tap on a line's page fetches, as it comes over the line."""
    page.add_init_script(WATCHER)
    page.goto(f"{address}{LINE_PAGE}")
    pages.mark(page)
    page.wait_for_timeout(1_000)  # what the page asks of its engine by itself is there by then
    asked: list[int] = []
    page.on("requestfinished", lambda request: asked.append(request.sizes()["responseBodySize"]))
    _tap(page)
    page.wait_for_timeout(500)
    return [Figure("fetched by the first tap to hear a line", (sum(asked) / 1000,), "kB", MOST_BYTES)]


def _tap(page: Page) -> float:
    """Milliseconds from a tap until the first sound is due."""
    page.locator("[data-hear]:visible").first.tap()
    page.wait_for_function("heard.due && performance.now() > heard.due")
    wait: float = page.evaluate("heard.due - heard.tap")
    return wait


def _waits(page: Page, address: str) -> list[Figure]:
    every = {
        "a question": "drills/name-the-degree.html",
        "a line": LINE_PAGE,
        "the band": "band.html",
    }
    found = []
    for name, where in every.items():
        page.goto(f"{address}{where}")
        pages.mark(page)
        page.wait_for_timeout(PAUSE)
        waits = []
        for _ in range(TAPS + 1):
            waits.append(_tap(page))
            page.locator("[data-hear][aria-pressed=true]").tap()
            page.wait_for_timeout(PAUSE)
        found.append(Figure(f"tap to the first sound of {name}, the very first one", (waits[0],)))
        found.append(Figure(f"tap to the first sound of {name}", tuple(waits[1:]), at_most=MOST_WAIT))
    return found


def _arranged(page: Page, address: str) -> list[Figure]:
    page.goto(f"{address}about.html")
    requests = [write_band(Band(over="aaba", choruses=1, seed=seed)) for seed in range(1, 12)]
    first, *again = page.evaluate(ARRANGED, requests)
    return [
        Figure("32 bars with the band, asked of the page's engine for the very first time", (first,)),
        Figure("32 bars with the band, asked of the page's engine", tuple(again), at_most=MOST_ARRANGED),
    ]


def _real_time(page: Page, address: str, seconds: float) -> list[Figure]:
    link = write_band(Band((LINE,), over="blues", tempo=FAST))
    page.goto(f"{address}band.html#{link}")
    pages.mark(page)
    page.wait_for_timeout(PAUSE)
    _tap(page)
    calls = page.evaluate(BUSY_ENGINE, [link, seconds])
    begun, data = page.evaluate("[heard.begun, heard.data]")
    until = begun[-1][0] - begun[0][0] - 1
    name = f"{seconds:.0f} s of real time at {FAST}, the engine busy with {calls} forms: drift"
    return _drifted(name, data, begun, until)
