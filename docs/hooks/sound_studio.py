"""A page with the band alone, in which what would be heard is worked out as samples. For tests and `bench`."""

from __future__ import annotations

import sys
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from queue import SimpleQueue
from threading import Thread
from typing import Any

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

import bundle
import numpy as np
import serving
from playwright.sync_api import Browser, Page
from sound_numbers import RATE, Samples, cents_off

from engine.sound.event import INSTRUMENTS

Row = Sequence[Any]
Data = dict[str, Any]

# What is played on each, as MIDI keys: the guitar's strings up to a high F#, and what the rhythm section uses.
RANGES = {"guitar": range(40, 91), "piano": range(43, 89), "bass": range(28, 56)}
STRUCK = INSTRUMENTS[3:]
TAIL = 1.0  # seconds that are rendered after the end of what is written
_EACH = 1.5  # seconds from one note to the next where each is to be heard by itself
_LOUDNESS = 0.8
_HEARD = 0.05  # seconds of a note that are compared
_ALIKE = 0.3  # the least share of itself with which a note is there

# The sound stays in the page and is sent from there: as text it would take longer than to work it out.
RENDER = """async ({data, seconds, rate}) => {
  const begun = performance.now();
  const [left, right] = await band.render(data, seconds, rate);
  const took = performance.now() - begun;
  globalThis.made = [left, right, left.map((sample, index) => (sample + right[index]) / 2)];
  return took;
}"""
_SEND = (
    "([channel, to]) => fetch(to, {method: 'POST', mode: 'no-cors', body: new Blob([made[channel]])}).then(() => {})"
)

# The player itself, with the clock of a context that renders: time passes as fast as the machine can, and the page's
# timers tick by that clock, now and then late, as on a page that is busy for up to `busy` seconds. Notes when the
# browser was told to begin each sound, and what its clock was by then.
DRIVEN = """async ({data, seconds, busy}) => {
  const kept = {setInterval, setTimeout, requestAnimationFrame, start: AudioBufferSourceNode.prototype.start};
  const ticks = [];
  const begun = [];
  globalThis.setInterval = (tick, pause) => (pause === 50 ? ticks.push(tick) : kept.setInterval(tick, pause));
  globalThis.requestAnimationFrame = () => 0;
  AudioBufferSourceNode.prototype.start = function (when, ...rest) {
    begun.push([when, this.context.currentTime]);
    return kept.start.call(this, when, ...rest);
  };
  try {
    const context = new OfflineAudioContext(2, Math.ceil(seconds * 8000), 8000);
    const player = band.play(context, data);
    let chance = 1;
    for (let time = 0.05; time < seconds; ) {
      void context.suspend(time).then(() => {
        for (const tick of ticks) tick();
        return context.resume();
      });
      chance = (chance * 48271) % 2147483647;
      time += chance % 10 ? 0.05 : 0.05 + (busy * (chance % 997)) / 997;
    }
    await context.startRendering();
    player.stop();
    return {begun, late: player.late()};
  } finally {
    Object.assign(globalThis, {setInterval: kept.setInterval, requestAnimationFrame: kept.requestAnimationFrame});
    AudioBufferSourceNode.prototype.start = kept.start;
  }
}"""


@dataclass(frozen=True)
class Studio:
    """The ``page``, and what takes the samples that it sends to ``address``."""

    page: Page
    address: str
    taken: SimpleQueue[bytes]


class _Taking(BaseHTTPRequestHandler):
    """Takes what is sent."""

    taken: SimpleQueue[bytes]

    def do_POST(self) -> None:
        self.taken.put(self.rfile.read(int(self.headers["Content-Length"])))
        self.send_response(204)
        self.end_headers()

    def log_message(self, *_: object) -> None:
        """Nothing is said of it."""


@contextmanager
def opened(browser: Browser) -> Iterator[Studio]:
    """The page, tapped once, so that it may sound."""
    taken: SimpleQueue[bytes] = SimpleQueue()
    server = ThreadingHTTPServer((serving.ADDRESS, 0), type("Taking", (_Taking,), {"taken": taken}))
    Thread(target=server.serve_forever, daemon=True).start()
    context = browser.new_context()
    try:
        page = context.new_page()
        page.set_content("<button>tap</button>")
        page.add_script_tag(content=bundle.bundle(bundle.APP / "band.js", "band").decode())
        page.click("button")
        yield Studio(page, f"http://{serving.ADDRESS}:{server.server_port}/", taken)
    finally:
        context.close()
        server.shutdown()
        server.server_close()


def arrangement(events: Sequence[Row], length: float = 4, **rest: Any) -> Data:
    """As the engine tells it; rows are start, length, pitch, loudness, instrument's name, index."""
    rows = [[*row[:4], INSTRUMENTS.index(row[4]), row[5]] for row in events]
    usual = {"v": 1, "length": length, "instruments": list(INSTRUMENTS), "chapters": [], "loop": None}
    return usual | {"events": rows} | rest


def rendered(studio: Studio, data: Mapping[str, Any], seconds: float) -> Samples:
    """Left and right."""
    return np.array(_channels(studio, data, seconds, (0, 1)))


def _channels(studio: Studio, data: Mapping[str, Any], seconds: float, channels: Sequence[int]) -> list[Samples]:
    """0 is left, 1 right, 2 what both have together."""
    studio.page.evaluate(RENDER, {"data": data, "seconds": seconds, "rate": RATE})
    found = []
    for channel in channels:
        studio.page.evaluate(_SEND, [channel, studio.address])
        found.append(np.frombuffer(studio.taken.get(timeout=60), dtype=np.float32).astype(float))
    return found


def heard(studio: Studio, data: Mapping[str, Any]) -> Samples:
    """Both channels as one, to the end and a little after it."""
    return _channels(studio, data, data["length"] + TAIL, [2])[0]


def of_instrument(data: Mapping[str, Any], name: str) -> Data:
    """The same with one instrument alone."""
    number = data["instruments"].index(name)
    return {**data, "events": [event for event in data["events"] if event[4] == number]}


def voices(data: Mapping[str, Any]) -> Iterator[tuple[str, Data]]:
    """The same as parts that play one note at a time each, by the names of their instruments."""
    for name in data["instruments"]:
        own = of_instrument(data, name)
        counted: dict[float, int] = {}
        parts: dict[int, list[Row]] = {}
        for event in own["events"]:
            number = counted[event[0]] = counted.get(event[0], -1) + 1
            parts.setdefault(number, []).append(event)
        for events in parts.values():
            yield name, {**own, "events": events}


def note_by_note(studio: Studio, instrument: str, pitches: Sequence[int | None], length: float = 0.8) -> list[Samples]:
    """Each pitch by itself, as it sounds from 0.1 s before its begin, 1.5 s long."""
    rows = [[0.1 + _EACH * turn, length, key, _LOUDNESS, instrument, None] for turn, key in enumerate(pitches)]
    [both] = _channels(studio, arrangement(rows), _EACH * len(pitches) + 0.1, [2])
    size = round(_EACH * RATE)
    return [both[turn * size : (turn + 1) * size] for turn in range(len(pitches))]


def scale_off(studio: Studio, instrument: str) -> dict[int, float]:
    """By pitch, over the range of an instrument: the cents that each half step is off, in the half second it rings."""
    notes = note_by_note(studio, instrument, RANGES[instrument])
    begin, end = int(0.13 * RATE), int(0.63 * RATE)
    return {pitch: cents_off(note[begin:end], pitch) for pitch, note in zip(RANGES[instrument], notes, strict=True)}


def shares(studio: Studio, data: Mapping[str, Any]) -> list[tuple[float, Row]]:
    """Every event with how much of it is in the sound: 1 is as if it sounded alone, 0 is silence or something else.

    Each voice is rendered by itself and its first moments are laid beside those of the same note alone.
    """
    found: list[tuple[float, Row]] = []
    alone: dict[tuple[str, int | None], Samples] = {}
    for name in data["instruments"]:
        pitches = list(dict.fromkeys(event[2] for event in of_instrument(data, name)["events"]))
        if pitches:
            notes = note_by_note(studio, name, pitches)
            alone |= {(name, pitch): note for pitch, note in zip(pitches, notes, strict=True)}
    for name, part in voices(data):
        samples = heard(studio, part)
        for event in part["events"]:
            start, length, pitch, loudness = event[:4]
            size = round(min(_HEARD, length) * RATE)
            own = alone[name, pitch][round(0.1 * RATE) :][:size] * (loudness / _LOUDNESS) ** 2
            there = samples[round(start * RATE) :][:size]
            power = float(own @ own)
            found.append((float(there @ own) / power if power else 0.0, event))
    return found


def silent(found: Sequence[tuple[float, Row]]) -> int:
    """How many events should sound and do not."""
    return sum(share < _ALIKE for share, _ in found)
