"""Questions that are heard: each drill by ear is played through with the audio graph running; so are others."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from browsing import Served, Visit
from playwright.sync_api import Page, expect

from engine.drills.catalogue import CATALOGUE
from engine.practice.heard import sound_of
from engine.practice.rounds import plan_round

pytestmark = pytest.mark.browser

WAIT = 30_000
# What is tapped back is played through in tests/site/test_copying.py.
BY_EAR = [entry.slug for entry in CATALOGUE if entry.asks == "sound" and not entry.keyboard]
# Notes each sound that is given to the browser, and how loud what comes out of the graph has been.
WATCHED = """
globalThis.begun = [];
globalThis.loudest = 0;
const start = AudioBufferSourceNode.prototype.start;
AudioBufferSourceNode.prototype.start = function (when, ...rest) {
  begun.push(when);
  return start.call(this, when, ...rest);
};
const connect = AudioNode.prototype.connect;
AudioNode.prototype.connect = function (to, ...rest) {
  if (to === this.context.destination && !this.watched && this.context instanceof AudioContext) {
    this.watched = true;
    const meter = this.context.createAnalyser();
    const samples = new Float32Array(meter.fftSize);
    connect.call(this, meter);
    setInterval(() => {
      meter.getFloatTimeDomainData(samples);
      for (const sample of samples) globalThis.loudest = Math.max(globalThis.loudest, Math.abs(sample));
    }, 20);
  }
  return connect.call(this, to, ...rest);
};
"""
KEPT = """() => new Promise((done) => {
  const opening = indexedDB.open("linekeeper");
  opening.onsuccess = () => {
    const all = opening.result.transaction("answers").objectStore("answers").getAll();
    all.onsuccess = () => done(all.result);
  };
})"""


def opened(visit: Visit, served: Served, slug: str) -> Page:
    visit.page.add_init_script(WATCHED)
    visit.page.goto(served.url(f"drills/{slug}.html"))
    return visit.page


def hear(page: Page, button: str) -> int:
    """Taps a button, waits until it sounds and is over; how many sounds there were."""
    before = page.evaluate("begun.length")
    page.locator(button).click()
    page.wait_for_function("(before) => begun.length > before", arg=before, timeout=WAIT)
    expect(page.locator(button)).to_have_attribute("aria-pressed", "true")
    expect(page.locator(button)).to_have_attribute("aria-pressed", "false", timeout=WAIT)
    return int(page.evaluate("begun.length")) - before


@pytest.mark.parametrize("slug", BY_EAR)
def test_a_drill_by_ear_is_played_through(slug: str, visit: Callable[..., Visit], served: Served) -> None:
    page = opened(visit(), served, slug)
    questions = plan_round(slug).questions
    # First with the sound, and once again for nothing; then the rest is answered.
    assert hear(page, "#q1 .play") == len(sound_of(questions[0], "asked").events)
    assert page.evaluate("loudest") > 0.02
    hear(page, "#q1 .play")
    assert page.locator("#q1 details.looked").get_attribute("open") is None
    page.locator("#q1 .choice:not(.right) label").first.click()
    wrong = next(number for number, choice in enumerate(questions[0].choices) if not choice.right)
    if slug != "hear-the-device":
        yours = sound_of(questions[0], "yours", wrong)
        assert hear(page, '#q1 .listen [data-hear="yours"]') == len(yours.events)
        assert hear(page, '#q1 .listen [data-hear="right"]') == len(sound_of(questions[0], "right").events)
    page.locator("#q1 .next").click()
    for number in range(2, len(questions) + 1):
        page.locator(f"#q{number} .choice.right label").click()
        page.locator(f"#q{number} .next").click()
    expect(page.locator("#result .count")).to_have_text(str(len(questions) - 1))
    kept = sorted(page.evaluate(KEPT), key=lambda record: record["place"])
    assert [record["heard"] for record in kept] == [2, *[0] * (len(questions) - 1)]


@pytest.mark.parametrize("slug", BY_EAR)
def test_it_can_be_answered_by_looking_without_sound_and_without_a_script(
    slug: str, visit: Callable[..., Visit], served: Served
) -> None:
    page = visit(java_script_enabled=False).page
    page.goto(served.url(f"drills/{slug}.html"))
    first = page.locator("#q1")
    assert first.locator("[data-hear]:visible").count() == 0
    assert first.locator(".picture:visible").count() == 0
    first.locator("summary").click()
    assert first.locator(".picture:visible").count() == 1
    assert first.locator(".picture:visible .degree").all_text_contents() == [""] * len(
        plan_round(slug).questions[0].row.notes  # type: ignore[union-attr]
    )
    first.locator(".choice.right label").click()
    assert first.locator(".picture.after").is_visible()
    assert first.locator(".picture:visible").count() == 1


def _place(page: Page) -> tuple[float, float]:
    """Where the choices begin."""
    box = page.locator("#q1 .choices label, #q1 .board").first.bounding_box()
    return box["x"], box["y"]


@pytest.mark.parametrize("slug", ["name-the-degree", "guide-tones", "note-on-the-neck", "best-way"])
def test_every_other_question_can_be_heard_too(slug: str, visit: Callable[..., Visit], served: Served) -> None:
    page = opened(visit(), served, slug)
    before = _place(page)
    assert hear(page, '#q1 .listen [data-hear="asked"]') > 0
    box = page.locator('#q1 .listen [data-hear="asked"]').bounding_box()
    assert box["width"] >= 48
    assert box["height"] >= 48
    page.locator("#q1 .choice:not(.right) label:visible").first.click()
    if slug == "best-way":
        assert page.locator("#q1 .listen button:visible").count() == 1
        return
    assert hear(page, '#q1 .listen [data-hear="yours"]') > 0
    assert _place(page) == before
    following = page.locator("#q1 .next").bounding_box()
    assert following["y"] + following["height"] <= 740
    page.locator("#q1 .next").click()
    assert page.locator("[data-hear][aria-pressed=true]").count() == 0


def test_what_sounds_stops_with_the_question(visit: Callable[..., Visit], served: Served) -> None:
    page = opened(visit(), served, "name-the-degree")
    page.locator('#q1 [data-hear="asked"]').click()
    page.wait_for_function("begun.length > 0", timeout=WAIT)
    page.locator("#q1 .choice.right label").click()
    page.locator("#q1 .next").click()
    expect(page.locator("[data-hear][aria-pressed=true]")).to_have_count(0, timeout=1_000)
