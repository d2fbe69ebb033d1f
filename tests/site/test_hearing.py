"""A tap on what has `data-hear` plays it: nothing of it is loaded before, and the sound stops when it should."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import names
import pytest
from browsing import Served, Visit
from playwright.sync_api import Locator, Page, expect

pytestmark = pytest.mark.browser

WAIT = 30_000
# Six seconds of a line, a chapter at its begin.
SOUND = {
    "v": 1,
    "length": 6,
    "instruments": ["guitar"],
    "events": [[0.5 * number, 0.5, 60 + number, 0.8, 0, number] for number in range(12)],
    "chapters": [[0, {"key": "C"}]],
    "loop": None,
}
FORM = """<form class="desk" id="{name}" data-desk='{{"do": "heard"}}'>
<button type="button" data-hear="line" aria-pressed="false">Hear it</button>
<ol><li data-index="0">C</li><li data-index="1">D flat</li><li data-index="2">D</li></ol></form>"""
# Stands in the place of the engine's answers to what is to be heard, and tells what it was asked.
WORKER = """
import json

def call(text):
    request = json.loads(text)
    if request.get("do") == "hear" or request.get("pressed") == ["hear", "line"]:
        asked = {name: request.get(name) for name in ("do", "place", "what", "plan")}
        sound = json.loads(SOUND) | {"chapters": [[0, {"key": json.dumps(asked)}]]}
        return json.dumps({"sound": sound, "patches": json.loads(PATCHES)})
    return "{}" if request.get("do") == "heard" else browser.call(text)

sync.call = call
"""
# Notes each context that is made and each note that is given to it; contexts can be made to stand still.
WATCHED = """
globalThis.contexts = [];
globalThis.begun = [];
globalThis.still = new Set();
if (globalThis.AudioContext) {
  globalThis.AudioContext = class extends AudioContext {
    constructor(...options) {
      super(...options);
      contexts.push(this);
      this.inTap = navigator.userActivation.isActive;
    }
    get currentTime() { return still.has(this) ? 7 : super.currentTime; }
    get state() { return still.has(this) ? "interrupted" : super.state; }
    resume() { return still.has(this) ? new Promise(() => {}) : super.resume(); }
  };
  const start = AudioBufferSourceNode.prototype.start;
  AudioBufferSourceNode.prototype.start = function (when, ...rest) {
    const real = performance.now() + 1000 * (when - this.context.currentTime);
    begun.push({real, context: contexts.indexOf(this.context)});
    return start.call(this, when, ...rest);
  };
}
addEventListener("click", () => (globalThis.tapped = performance.now()), true);
"""


def a_page(served: Served) -> None:
    """Puts a page with two forms on the site, and the engine that answers them."""
    about = (served.site / "about.html").read_text(encoding="utf-8")
    start, end = about.index('<div class="text">'), about.index("</article>")
    forms = {name: FORM.format(name=name) for name in ("one", "other")}
    text = f'<div class="text">{"".join(forms.values())}<p id="sounding-key"></p></div></div>'
    served.replaced["heard.html"] = about[:start] + text + about[end:]
    worker = names.published(served.site, "runtime/worker.py").read_text(encoding="utf-8")
    assert "sync.call = browser.call\n" in worker
    # Its answer also has the forms as they were before they were tapped.
    made = WORKER.replace("SOUND", repr(json.dumps(SOUND))).replace("PATCHES", repr(json.dumps(forms)))
    served.replaced["runtime/worker.py"] = worker.replace("sync.call = browser.call\n", made)


def opened(visit: Visit, served: Served, address: str = "heard.html", before: str = "") -> Page:
    a_page(served)
    visit.page.add_init_script(before + WATCHED)
    visit.page.goto(served.url(address))
    return visit.page


def button(page: Page, form: str = "one") -> Locator:
    return page.locator(f"#{form} [data-hear]")


def begin(page: Page, form: str = "one") -> None:
    """Taps, and waits until it sounds."""
    before = page.evaluate("begun.length")
    button(page, form).click()
    page.wait_for_function("(before) => begun.length > before", arg=before, timeout=WAIT)
    expect(button(page, form)).to_have_attribute("aria-pressed", "true")
    expect(button(page, form)).not_to_have_attribute("aria-busy", "true")


def is_silent(page: Page) -> None:
    """Nothing is told to sound any more, and nothing is marked."""
    expect(page.locator("[data-hear][aria-pressed=true], [data-hear][aria-busy], .sounding")).to_have_count(0)
    count = page.evaluate("begun.length")
    page.wait_for_timeout(700)
    assert page.evaluate("begun.length") == count


def test_a_tap_plays_and_the_next_one_stops(desk: Visit, served: Served) -> None:
    asked: list[str] = []
    desk.page.on("request", lambda request: asked.append(names.plain(request.url.removeprefix(served.url()))))
    page = opened(desk, served)
    page.wait_for_load_state("networkidle")
    assert "app/client.js" in asked
    assert "app/band.js" not in asked
    assert page.evaluate("contexts.length") == 0
    begin(page)
    assert asked.count("app/band.js") == 1
    assert page.evaluate("contexts.map((one) => one.inTap)") == [True]
    # The note that sounds is marked in the form that was asked, and nowhere else.
    expect(page.locator('#one [data-index="1"].sounding')).to_have_count(1, timeout=WAIT)
    assert page.locator("#other .sounding").count() == 0
    assert page.locator(".sounding").count() <= 1
    assert json.loads(page.inner_text("#sounding-key"))["do"] == "heard"
    button(page).click()
    is_silent(page)
    # Now that all is there it comes at once.
    count = page.evaluate("begun.length")
    begin(page)
    assert 0 < page.evaluate("(count) => begun[count].real - tapped", count) <= 150
    # Another button takes over.
    begin(page, "other")
    expect(button(page)).to_have_attribute("aria-pressed", "false")
    assert page.evaluate("contexts.length") == 1
    assert asked.count("app/band.js") == 1


def test_a_tap_before_all_is_there_is_taken_back_by_the_next(desk: Visit, served: Served) -> None:
    page = opened(desk, served)
    button(page).click()
    expect(button(page)).to_have_attribute("aria-pressed", "true")
    button(page).click()
    expect(button(page)).to_have_attribute("aria-pressed", "false")
    page.wait_for_function("globalThis.band", timeout=WAIT)
    page.evaluate("new Promise((resolve) => setTimeout(resolve, 4000))")
    assert page.evaluate("begun.length") == 0


@pytest.mark.parametrize(
    "leave",
    [
        "Object.defineProperty(document, 'hidden', {value: 1}); document.dispatchEvent(new Event('visibilitychange'))",
        "dispatchEvent(new Event('pagehide'))",
        "document.querySelector('header.site nav a').click()",
        "still.add(contexts[0]); contexts[0].dispatchEvent(new Event('statechange'))",
    ],
    ids=["hidden", "closed", "another page", "a call"],
)
def test_it_stops_when_the_page_is_left(leave: str, desk: Visit, served: Served) -> None:
    page = opened(desk, served)
    begin(page)
    page.evaluate(leave)
    is_silent(page)


def test_a_context_that_stands_still_is_replaced(desk: Visit, served: Served) -> None:
    page = opened(desk, served)
    begin(page)
    button(page).click()
    page.evaluate("still.add(contexts[0]); null")
    begin(page)
    assert page.evaluate("contexts.length") == 2
    page.evaluate("still.clear()")
    assert page.evaluate("contexts.map((one) => one.state)") == ["closed", "running"]
    assert page.evaluate("begun.at(-1).context") == 1
    assert page.is_hidden("#notice")


def test_where_no_context_ever_runs_the_page_says_so(desk: Visit, served: Served) -> None:
    page = opened(desk, served)
    page.evaluate("still.has = () => true; null")
    button(page).click()
    expect(page.locator("#notice")).to_contain_text("There is no sound to be had", timeout=WAIT)
    expect(button(page)).to_have_attribute("aria-pressed", "false")
    # The next tap has a context of its own.
    page.evaluate("delete still.has")
    begin(page)
    assert page.evaluate("contexts.at(-1).inTap")


def test_a_browser_without_sound_says_so_and_the_rest_works(desk: Visit, served: Served) -> None:
    page = opened(desk, served, before="delete globalThis.AudioContext;")
    button(page).click()
    expect(page.locator("#notice")).to_contain_text("There is no sound to be had", timeout=WAIT)
    expect(button(page)).to_have_attribute("aria-pressed", "false")
    page.click("#notice button")
    page.click("header.site nav a >> nth=0")
    page.wait_for_url("**/*.html")
    assert page.is_hidden("#notice")


def test_without_the_band_the_page_says_so_and_tries_again(desk: Visit, served: Served) -> None:
    desk.watch.expect("404")
    page = opened(desk, served)
    served.missing.add("app/band.js")
    button(page).click()
    expect(page.locator("#notice")).to_contain_text("Nothing new can be loaded just now", timeout=WAIT)
    expect(button(page)).to_have_attribute("aria-pressed", "false")
    served.missing.clear()
    begin(page)


def test_a_question_of_a_round_is_heard(desk: Visit, served: Served) -> None:
    page = opened(desk, served, "drills/name-the-degree.html")
    page.evaluate(
        "document.querySelector('#q2').insertAdjacentHTML('beforeend', "
        "'<button type=button data-hear=both>Hear</button><p id=sounding-key></p>')"
    )
    page.evaluate("document.querySelector('#q2 > [data-hear]').click()")
    page.wait_for_function("document.querySelector('#sounding-key').textContent", timeout=WAIT)
    asked: dict[str, Any] = json.loads(page.locator("#sounding-key").text_content() or "")
    assert [asked[name] for name in ("do", "place", "what")] == ["hear", 1, "both"]
    assert asked["plan"]["drill"] == "name-the-degree"


PHONE_LIKE = "Object.defineProperties(navigator, {platform: {value: 'iPhone'}, maxTouchPoints: {value: 5}});"


def test_a_phone_with_a_silent_switch_is_told_of_it_once(visit: Callable[..., Visit], served: Served) -> None:
    phone = visit()
    page = opened(phone, served, before=PHONE_LIKE)
    begin(page)
    expect(page.locator("#notice")).to_contain_text("silent switch")
    page.reload()
    begin(page)
    assert page.is_hidden("#notice")


def test_a_phone_that_can_be_told_plays_in_spite_of_the_switch(visit: Callable[..., Visit], served: Served) -> None:
    page = opened(visit(), served, before=PHONE_LIKE + "navigator.audioSession = {type: 'auto'};")
    begin(page)
    assert page.evaluate("navigator.audioSession.type") == "playback"
    assert page.is_hidden("#notice")
    button(page).click()
    # Other players may have the speaker back.
    page.wait_for_function("navigator.audioSession.type === 'auto' && contexts[0].state === 'suspended'")
    begin(page)
    assert page.evaluate("navigator.audioSession.type") == "playback"
