"""Sound that comes late: tapping along with clicks tells by how much, and what is lit waits for it."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from statistics import median
from typing import Any

import bundle
import names
import pytest
from browsing import PHONE, Served, Visit
from playwright.sync_api import Page, expect
from practising import WAIT

from engine.practice.settings import AS_IT_CAME, Settings, read_settings
from engine.view.settings_desk import to_keep

pytestmark = pytest.mark.browser

OpenPage = Callable[..., Visit]

SETTINGS, LINE = "settings.html", "lines/back-gate.html"
NAME = "linekeeper settings"
CLICKS = '[data-hear="clicks"]'
TAP = '[data-taps="clicks"]'
# Notes when each sound is heard, on the page's clock, as far as the browser knows; `tap` is done then.
WATCHED = """
globalThis.heard = [];
globalThis.tap = () => {};
const start = AudioBufferSourceNode.prototype.start;
AudioBufferSourceNode.prototype.start = function (when, ...rest) {
  const {currentTime, outputLatency, baseLatency} = this.context;
  const ahead = 1000 * (when - currentTime + (outputLatency || baseLatency || 0));
  heard.push(performance.now() + ahead);
  tap(ahead, heard.length - 1);
  return start.call(this, when, ...rest);
};
"""
# Taps so many milliseconds after each of some clicks, with each of some of them so much later or sooner.
TAPS = """([late, apart, first, last]) => {
  const place = document.querySelector('[data-taps="clicks"]');
  const tapped = () => place.dispatchEvent(new PointerEvent("pointerdown", {bubbles: true}));
  tap = (ahead, number) => {
    if (first <= number && number <= last) setTimeout(tapped, ahead + late + (number % 2 ? apart : -apart));
  };
}"""
# When the first note is lit after the first sound that is not a click: a line without a band and without a count-in.
LIT = """async () => {
  const lit = await new Promise((resolve) => {
    const look = () => (document.querySelector(".sounding") ? resolve(performance.now()) : requestAnimationFrame(look));
    look();
  });
  return lit - heard[0];
}"""
PLAYED = """async ({data, late}) => {
  const context = new AudioContext();
  await context.resume();
  while (!context.currentTime) await new Promise((resolve) => setTimeout(resolve, 5));
  const told = [];
  const begun = performance.now();
  const player = await new Promise((resolve) => {
    const tell = (what) => told.push([what, player.second(performance.now())]);
    const player = band.play(context, data, {
      late,
      onNote: (index, isOn) => tell(`${index} ${isOn}`),
      onChapter: () => tell("chapter"),
      onEnd: () => (tell("end"), resolve(player)),
    });
  });
  await context.close();
  return told;
}"""


def opened(visit: OpenPage, served: Served, settings: Settings = AS_IT_CAME, path: str = SETTINGS) -> Page:
    page = visit(viewport=PHONE).page
    kept = json.dumps(json.dumps(to_keep(settings)))
    page.add_init_script(f"localStorage[{json.dumps(NAME)}] ??= {kept};{WATCHED}")
    page.goto(served.url(path))
    return page


def kept(page: Page) -> Settings:
    return read_settings(json.loads(page.evaluate("(name) => localStorage[name] ?? 'null'", NAME)))


def tap_along(page: Page, late: int, apart: int = 0, first: int = 4, last: int = 15) -> str:
    """What the page tells after taps so late after the clicks."""
    page.evaluate(TAPS, [late, apart, first, last])
    page.locator(CLICKS).click()
    expect(page.locator(TAP)).to_be_focused(timeout=WAIT)
    said = page.locator("#late-test p").first
    expect(said).to_be_visible(timeout=WAIT)
    return said.inner_text()


def test_tapping_along_finds_the_delay_sets_it_and_takes_it_back(visit: OpenPage, served: Served) -> None:
    page = opened(visit, served)
    asked: list[str] = []
    page.on("request", lambda request: asked.append(names.plain(request.url.removeprefix(served.url()))))
    page.wait_for_load_state("networkidle")
    assert not [path for path in asked if "band" in path], "nothing that sounds is there before the tap"
    expect(page.locator(TAP)).to_be_hidden()
    expect(page.locator(".lateness .care")).to_contain_text("Keep the volume")
    said = re.fullmatch(
        r"Your taps came (\d+) ms after the clicks, two of three within \d+ ms of that\.", tap_along(page, 180)
    )
    assert said
    assert abs(int(said[1]) - 180) <= 25
    assert "app/band.js" in asked
    assert page.evaluate("heard.length") == 16
    expect(page.locator(TAP)).to_be_hidden()
    expect(page.locator(CLICKS)).to_be_focused()
    assert kept(page) == AS_IT_CAME, "it is only offered"
    take = page.locator('[name="take"]')
    late = int(str(take.get_attribute("value")))
    assert abs(late - 180) <= 25
    take.click()
    expect(page.locator("#late")).to_have_value(str(late), timeout=WAIT)
    assert kept(page) == Settings(late=late)
    page.locator('#late-test [name="back"]').click()
    expect(page.locator("#late")).to_have_value("0", timeout=WAIT)
    assert kept(page) == AS_IT_CAME


@pytest.mark.parametrize(
    ("how", "told"),
    [((100, 150, 4, 15), "too uneven"), ((100, 0, 4, 8), "only")],
    ids=["wide", "few"],
)
def test_taps_that_tell_nothing_change_nothing(
    how: tuple[int, int, int, int], told: str, visit: OpenPage, served: Served
) -> None:
    page = opened(visit, served, Settings(late=90))
    said = tap_along(page, *how)
    assert re.fullmatch(rf"[^.:]*{told}[^.:]*: try again, [^.]*\.", said, re.IGNORECASE)
    assert page.locator("#late-test button").count() == 0
    assert kept(page) == Settings(late=90)


def test_the_space_bar_taps_and_a_stop_tells_nothing(visit: OpenPage, served: Served) -> None:
    page = opened(visit, served)
    page.locator(CLICKS).focus()
    page.keyboard.press("Enter")
    expect(page.locator(TAP)).to_be_focused(timeout=WAIT)
    page.wait_for_function("heard.length > 4", timeout=WAIT)
    for _ in range(6):
        page.keyboard.press(" ")
        page.wait_for_timeout(300)
    # It taps, and neither scrolls the page nor stops what plays.
    expect(page.locator(CLICKS)).to_have_attribute("aria-pressed", "true")
    page.locator(CLICKS).click()
    expect(page.locator(CLICKS)).to_have_attribute("aria-pressed", "false")
    page.wait_for_timeout(1_000)
    expect(page.locator("#late-test")).to_be_empty()
    assert kept(page) == AS_IT_CAME


def test_a_number_is_typed_and_what_is_none_is_told(visit: OpenPage, served: Served) -> None:
    page = opened(visit, served)
    field = page.locator("#late")
    field.fill("220")
    field.press("Enter")
    expect(page.locator("#said")).to_have_text("Kept.", timeout=WAIT)
    assert kept(page) == Settings(late=220)
    field.fill("a while")
    field.press("Tab")
    fault = page.locator("#late-fault")
    expect(fault).to_contain_text("write a whole number from 0 to 500. Until then 220 counts.", timeout=WAIT)
    assert kept(page) == Settings(late=220)
    expect(field).to_have_value("a while")
    assert page.evaluate("document.documentElement.scrollWidth") == PHONE["width"]


def lit_after(page: Page) -> float:
    """Milliseconds from the first sound to the first note that is lit, the middle of three times."""
    found = []
    for box in ("band", "loop"):
        page.locator(f'.hear [name="{box}"]').uncheck()
    for _ in range(3):
        page.evaluate("heard.length = 0; null")
        page.locator('[data-hear="line"]').click()
        found.append(page.evaluate(LIT))
        page.locator('[data-hear="line"]').click()
        expect(page.locator(".sounding")).to_have_count(0)
    return median(found)


def test_the_lit_note_waits_for_the_sound(visit: OpenPage, served: Served) -> None:
    usual = lit_after(opened(visit, served, path=LINE))
    late = lit_after(opened(visit, served, Settings(late=300), LINE))
    assert usual < 200
    assert 230 <= late - usual <= 370


def test_chapters_wait_too_and_all_is_told_before_the_end(chromium: Any) -> None:
    page = chromium.new_context().new_page()
    page.set_content("<button>tap</button>")
    page.add_script_tag(content=bundle.bundle(bundle.APP / "band.js", "band").decode())
    page.click("button")
    events = [[0.2 * number, 0.2, 60, 0.5, 0, number] for number in range(5)]
    data = {"v": 1, "length": 1, "instruments": ["guitar"], "events": events, "chapters": [[0.4, {}]], "loop": None}
    for late in (0, 0.5):
        told = dict(page.evaluate(PLAYED, {"data": data, "late": late}))
        wanted = {f"{number} {on}": 0.2 * (number + (on == "false")) for number in range(5) for on in ("true", "false")}
        for what, second in {**wanted, "chapter": 0.4}.items():
            assert late - 0.001 <= told[what] - second <= late + 0.1, what
        assert told["end"] >= told["4 false"]
    page.context.close()
