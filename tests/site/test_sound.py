"""What is played: measured as numbers without being heard, and given to the browser at exact times."""

from __future__ import annotations

import gzip
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import bundle
import names
import numpy as np
import pytest
import sound_studio
from playwright.sync_api import Browser
from selenium.webdriver import WebKitGTK
from sound_numbers import RATE, decibels, strength
from sound_studio import (
    RANGES,
    RENDER,
    STRUCK,
    Studio,
    arrangement,
    heard,
    note_by_note,
    of_instrument,
    rendered,
    scale_off,
)

from engine.lines.stock import stock
from engine.sound.arrangement import Roadmap, as_json, with_the_band
from engine.sound.event import INSTRUMENTS

pytestmark = pytest.mark.browser

LIMIT = 130_000  # bytes of the bundle as hosts send it
CEILING = 10 ** (-1 / 20)  # -1 dB of what can be played

# Notes when the browser was told to begin each sound, and how far its clock was by then.
NOTED = """
globalThis.begun = [];
const start = AudioBufferSourceNode.prototype.start;
AudioBufferSourceNode.prototype.start = function (when, ...rest) {
  const {currentTime: clock, baseLatency: latency} = this.context;
  globalThis.begun.push({when, clock, latency, real: performance.now()});
  return start.call(this, when, ...rest);
};
"""
PLAYED = (
    "async ({data, busy, seconds, from}) => {"
    + NOTED
    + """
  const context = new AudioContext();
  await context.resume();
  const pause = (ms) => new Promise((resolve) => setTimeout(resolve, ms));
  while (!context.currentTime) await pause(5);
  const told = [];
  const player = band.play(context, data, {
    from,
    onNote: (index, isOn) => told.push({index, isOn, clock: context.currentTime}),
    onChapter: (chapter) => told.push({chapter, clock: context.currentTime}),
    onEnd: () => told.push({end: true, clock: context.currentTime}),
  });
  const until = performance.now() + seconds * 1000;
  while (performance.now() < until) {
    const free = performance.now() + busy;
    while (performance.now() < free);
    await pause(20);
  }
  player.stop();
  AudioBufferSourceNode.prototype.start = start;
  await context.close();
  return {begun, told, late: player.late()};
}"""
)


def with_everybody(tempo: int, choruses: int = 1) -> dict[str, Any]:
    """A line of the stock with the band, through the keys."""
    return as_json(with_the_band(Roadmap([stock()[0]], tempo=tempo, choruses=choruses, count_in=1, loop=False)))


@pytest.fixture(scope="module")
def studio(chromium: Browser) -> Iterator[Studio]:
    """A page with the band alone."""
    with sound_studio.opened(chromium) as studio:
        yield studio


def a_note(
    studio: Studio, instrument: str, pitch: int | None, loudness: float = 0.8, length: float = 0.8
) -> np.ndarray:
    """One note, which begins after 0.1 s of silence."""
    return rendered(studio, arrangement([[0.1, length, pitch, loudness, instrument, 0]]), 2)


@pytest.mark.parametrize("instrument", RANGES)
def test_every_half_step_is_in_tune(instrument: str, studio: Studio) -> None:
    off = scale_off(studio, instrument)
    assert list(off) == list(RANGES[instrument])
    assert {pitch: cents for pitch, cents in off.items() if abs(cents) > 5} == {}


@pytest.mark.parametrize("instrument", RANGES)
def test_every_pitch_is_there_from_its_first_moment(instrument: str, studio: Studio) -> None:
    pitches = RANGES[instrument]
    for pitch, note in zip(pitches, note_by_note(studio, instrument, pitches), strict=True):
        begin = int(np.argmax(np.abs(note) > 0.001 * np.abs(note).max())) / RATE
        assert 0.1 - 1 / RATE <= begin < 0.102, pitch
        # Half of its strength is there within ten milliseconds: a line's rhythm is heard as it is.
        swell = np.sqrt(np.convolve(note**2, np.ones(88) / 88, "same"))
        assert int(np.argmax(swell > swell.max() / 2)) / RATE < 0.11, pitch


@pytest.mark.parametrize("instrument", RANGES)
def test_a_note_begins_and_ends_without_a_click_and_dies_away(instrument: str, studio: Studio) -> None:
    pitches = RANGES[instrument]
    for pitch, note in zip(pitches, note_by_note(studio, instrument, pitches, length=0.3), strict=True):
        steps = np.abs(np.diff(note))
        sounding = steps[int(0.2 * RATE) : int(0.4 * RATE)].max()
        assert steps[int(0.4 * RATE) - 50 : int(0.7 * RATE)].max() <= sounding, pitch
        held, after = note[int(0.3 * RATE) : int(0.4 * RATE)], note[int(0.75 * RATE) : int(0.85 * RATE)]
        assert strength(held) > 20 * strength(after), pitch
        assert abs(note.mean()) < 1e-3, pitch


def test_a_phone_s_speaker_has_something_of_the_lowest_note(studio: Studio) -> None:
    lowest = a_note(studio, "bass", 28).mean(axis=0)[int(0.1 * RATE) : int(0.35 * RATE)]
    assert decibels(strength(lowest, 150) / strength(lowest)) > -7


@pytest.mark.parametrize("instrument", STRUCK)
def test_what_is_struck_is_there_at_once_and_short(instrument: str, studio: Studio) -> None:
    stroke = a_note(studio, instrument, None).mean(axis=0)
    begin = int(np.argmax(np.abs(stroke) > 0.01 * np.abs(stroke).max())) / RATE
    assert 0.1 - 1 / RATE <= begin < 0.102
    assert strength(stroke[int(0.1 * RATE) : int(0.2 * RATE)]) > 1e-3
    assert strength(stroke[int(1.7 * RATE) :]) < 1e-3
    assert abs(stroke.mean()) < 1e-4


def test_half_as_loud_is_twelve_decibels_less(studio: Studio) -> None:
    for instrument, pitch in (("guitar", 67), ("ride", None)):
        loud, soft = (strength(a_note(studio, instrument, pitch, loudness)) for loudness in (0.8, 0.4))
        assert decibels(loud / soft) == pytest.approx(12.04, abs=0.3)


def test_nothing_is_too_loud_even_when_all_play_as_loud_as_they_can(studio: Studio) -> None:
    tutti: list[tuple[int | None, str]] = [(key, "piano") for key in (48, 52, 55, 59, 62, 66)]
    tutti += [(28, "bass"), (45, "guitar"), *((None, name) for name in STRUCK)]
    rows = [[0.1 + 0.2 * turn, 1, key, 1, name, None] for turn in range(8) for key, name in tutti]
    mix = rendered(studio, arrangement(rows), 2)
    assert 0.8 < np.abs(mix).max() <= CEILING
    assert abs(mix.mean()) < 2e-3


def test_with_the_band_the_line_is_in_front_and_nobody_is_missing(studio: Studio) -> None:
    data = with_everybody(140, 2)
    alone = {name: heard(studio, of_instrument(data, name)) for name in INSTRUMENTS}
    # As a phone's speaker gives it.
    parts = {name: strength(samples, 300) for name, samples in alone.items()}
    behind = {name: decibels(parts["guitar"] / part) for name, part in parts.items()}
    assert 7 < behind["piano"] < 13
    assert 4 < behind["bass"] < 10
    assert 12 < behind["ride"] < 20
    assert 18 < behind["hi-hat"] < 28
    assert behind["click"] < 30
    # A worse one, too: the bass is not lost among the chords, and by its overtones it is heard.
    bass, piano = (strength(alone[name], 400) for name in ("bass", "piano"))
    assert decibels(bass / piano) > -3
    # Where the line's brilliance is the cymbals are far behind; above it each is heard beside the other.
    between = {
        name: np.sqrt(strength(samples, 1000) ** 2 - strength(samples, 3000) ** 2) for name, samples in alone.items()
    }
    assert decibels(between["guitar"] / (between["ride"] + between["hi-hat"])) > 8
    assert decibels(strength(alone["hi-hat"], 6000) / strength(alone["ride"], 6000)) > 0
    mix = rendered(studio, data, data["length"])
    assert 0.4 < np.abs(mix).max() <= CEILING
    # What limits is hardly ever at work.
    assert np.mean(np.abs(mix) > 0.6) < 0.001


def test_a_minute_with_the_band_is_worked_out_in_a_few_seconds(studio: Studio) -> None:
    data = with_everybody(240, 24)
    assert data["length"] > 60
    made = studio.page.evaluate(RENDER, {"data": data, "seconds": 60, "rate": RATE})
    assert made < 10_000


def test_it_sounds_alike_in_webkit(webkit: WebKitGTK, studio: Studio, tmp_path: Path) -> None:
    band = bundle.bundle(bundle.APP / "band.js", "band").decode()
    page = tmp_path / "band.html"
    page.write_text(f'<!doctype html><meta charset="utf-8"><script>{band}</script>', encoding="utf-8")
    webkit.get(page.as_uri())
    script = """
const [data, done] = arguments;
const level = (side) => Math.sqrt(side.reduce((sum, sample) => sum + sample * sample, 0) / side.length);
band.render(data, 4, 44100).then((sides) => done(sides.map(level)), (error) => done(String(error)));
"""
    data = with_everybody(200)
    here = [float(np.sqrt(np.mean(side**2))) for side in rendered(studio, data, 4)]
    assert webkit.execute_async_script(script, data) == pytest.approx(here, rel=0.01)


def test_a_loop_comes_again_at_the_very_moment(studio: Studio) -> None:
    # The first beat is an introduction; what stands behind the loop's end is never heard.
    notes = enumerate([(0, 60), (0.5, 64), (0.75, 67), (1, 72)])
    rows = [[begin, 0.1, pitch, 0.8, "guitar", index] for index, (begin, pitch) in notes]
    data = arrangement(rows, 1, loop=[0.5, 1], chapters=[[0.5, {"chorus": 1}]])
    played = studio.page.evaluate(PLAYED, {"data": data, "busy": 0, "seconds": 2.2, "from": 0})
    times = [one["when"] for one in played["begun"]]
    expected = [0, *(0.5 + 0.25 * turn for turn in range(8))]
    assert [time - times[0] for time in times[:9]] == pytest.approx(expected, abs=1e-9)
    chapters = [one["clock"] - times[0] for one in played["told"] if "chapter" in one]
    assert chapters[:3] == pytest.approx([0.5, 1, 1.5], abs=0.2)
    assert all(one.get("index") != 3 and "end" not in one for one in played["told"])


def test_notes_are_told_as_they_are_heard_and_the_end_too(studio: Studio) -> None:
    notes = enumerate([(0, 0.25, 60), (0.25, 0.25, 60), (0.5, 0.4, 62)])
    rows = [[begin, length, pitch, 0.8, "guitar", index] for index, (begin, length, pitch) in notes]
    played = studio.page.evaluate(PLAYED, {"data": arrangement(rows, 1), "busy": 0, "seconds": 2.2, "from": 0.2})
    told = [(one.get("index"), one.get("isOn")) for one in played["told"]]
    # The first note was left out.
    assert told == [(1, True), (1, False), (2, True), (2, False), (None, None)]
    zero = played["begun"][0]["when"] - 0.25
    assert [one["clock"] - zero for one in played["told"][:4]] == pytest.approx([0.25, 0.5, 0.5, 0.9], abs=0.25)


@pytest.mark.parametrize("busy", [0, 80, 300])
def test_a_busy_page_makes_no_note_late(busy: int, studio: Studio) -> None:
    data = with_everybody(240, 12)
    played = studio.page.evaluate(PLAYED, {"data": data, "busy": busy, "seconds": 5, "from": 0})
    begun = played["begun"]
    assert len(begun) > 80
    assert played["late"] == 0
    starts = [event[0] for event in data["events"]]
    zero = begun[0]["when"] - starts[0]
    assert max(abs(one["when"] - zero - start) for one, start in zip(begun, starts, strict=False)) < 1e-9
    assert all(one["when"] > one["clock"] for one in begun)


def test_the_bundle_is_small_and_makes_no_worker(site: Path, studio: Studio) -> None:
    assert len(gzip.compress(names.published(site, "app/band.js").read_bytes(), 9)) <= LIMIT
    studio.page.evaluate(RENDER, {"data": arrangement([]), "seconds": 0.1, "rate": RATE})
    assert studio.page.workers == []
