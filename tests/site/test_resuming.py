"""A round goes on where it was, whatever broke it off; and the next visit opens on fresh questions at once."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
import toolchain
from browsing import PHONE, Served, Visit
from playwright.sync_api import Browser, Page, expect
from practising import (
    DRILL,
    SPY,
    WAIT,
    asked,
    choose,
    choose_and_go_on,
    engines,
    expect_counted,
    held_back,
    kept,
    now,
    open_page,
    plan,
    sentence,
    wait_for_engine,
    without_engine,
)

pytestmark = pytest.mark.browser

OpenPage = Callable[..., Visit]
LINK = f"{DRILL}#v=1&keys=Bb&count=4"

# What is kept of rounds, as another build would have left it; as the round of another page, where one is named.
FROM_ANOTHER_BUILD = """async ({ changed, page }) => {
  const database = await new Promise((resolve) => {
    indexedDB.open("linekeeper").onsuccess = ({ target }) => resolve(target.result);
  });
  const change = database.transaction(["rounds", "answers"], "readwrite");
  const [rounds, answers] = ["rounds", "answers"].map((name) => change.objectStore(name));
  rounds.getAll().onsuccess = ({ target }) => {
    for (const round of target.result) {
      const key = page ? `shown ${page}` : round.key;
      rounds.put({ ...round, key, build: "other", html: '<form class="round" id="round" data-plan="{}">other</form>' });
    }
  };
  answers.getAll().onsuccess = ({ target }) => {
    for (const answer of target.result) answers.put({ ...answer, ...changed });
  };
  await new Promise((resolve) => { change.oncomplete = resolve; });
  database.close();
}"""


def wait_for_next(page: Page) -> None:
    """Until the round after this one is on the device."""
    for _ in range(200):
        if any(round_["key"].startswith("next") for round_ in kept(page, "rounds")):
            return
        page.wait_for_timeout(100)
    raise AssertionError("no next round was kept")


@pytest.fixture
def broken_off(phone: Visit, served: Served) -> Page:
    """A round that a link asked for, with one answer given, its engine gone for good."""
    open_page(phone.page, served.url(LINK))
    choose(phone.page, 1)
    expect_counted(phone.page, 1)
    without_engine(served)
    return phone.page


def test_a_round_goes_on_after_a_reload_and_in_another_tab(broken_off: Page, served: Served) -> None:
    before = asked(broken_off)
    assert len(before) == 4
    broken_off.reload()
    expect(broken_off.locator("#q2.now")).to_be_visible(timeout=WAIT)
    assert asked(broken_off) == before
    choose(broken_off, 2)
    context = broken_off.context
    broken_off.close()
    again = context.new_page()
    open_page(again, served.url(LINK))
    assert (now(again), asked(again)) == ("q3", before)
    assert [(record["place"], record["choice"]) for record in kept(again)] == [(0, 1), (1, 2)]
    # The page by itself, and with other options, knows nothing of it.
    open_page(again, served.url(DRILL))
    assert now(again) == "q1"


def test_rounds_go_on_after_the_browser_was_closed(chromium: Browser, served: Served, tmp_path: Path) -> None:
    for visited in (1, 2):
        context = chromium.browser_type.launch_persistent_context(
            tmp_path, executable_path=toolchain.browser(), args=["--no-sandbox"], viewport=PHONE
        )
        page = context.pages[0]
        if visited == 1:
            open_page(page, served.url(LINK))
            choose_and_go_on(page, 1, 2)
            expect_counted(page, 1, 2)
            linked = asked(page)
            without_engine(served)
            open_page(page, served.url(DRILL))
            choose_and_go_on(page, 3)
        else:
            open_page(page, served.url(LINK))
            assert (now(page), asked(page)) == ("q3", linked)
            open_page(page, served.url(DRILL))
            assert now(page) == "q2"
            assert page.locator("#q1 input:checked").get_attribute("value") == "3"
        context.close()


def test_a_dead_worker_is_replaced_once_and_all_is_counted(phone: Visit, served: Served) -> None:
    page = phone.page
    page.clock.install()
    page.add_init_script(SPY)
    open_page(page, served.url(DRILL))
    choose_and_go_on(page, 0)
    expect_counted(page, 0)
    page.evaluate("() => workers[0].terminate()")
    choose_and_go_on(page, 1, 2)
    assert len(kept(page)) == 3
    page.clock.fast_forward(11_000)
    expect_counted(page, 0, 1, 2)
    choose(page, 3)
    expect_counted(page, 0, 1, 2, 3)
    assert engines(page) == 2


def test_the_next_visit_opens_on_fresh_questions_without_the_engine(phone: Visit, served: Served) -> None:
    page = phone.page
    open_page(page, served.url("index.html"))
    first = asked(page)
    choose(page)
    wait_for_next(page)
    # However a round ends: here right after its last verdict, without a moment for the engine.
    without_engine(served)
    page.reload()
    expect(page.locator("#q2.now")).to_be_visible(timeout=WAIT)
    choose_and_go_on(page, 1, 2, 3)
    choose(page)
    assert now(page) == "q5"
    context = page.context
    page.close()
    for _ in range(2):  # fresh ones that nobody answered stay
        page = context.new_page()
        release = held_back(page, "**/client.js")
        page.goto(served.url("index.html"), wait_until="commit")
        page.wait_for_selector("#round", state="attached")
        expect(page.locator("#round")).to_be_hidden()  # the questions of before do not flash up
        release()
        expect(page.locator("#q1.now")).to_be_visible(timeout=WAIT)
        assert plan(page)["indexes"] == [5, 6, 7, 8, 9]
        assert not set(asked(page)) & set(first)
        page.close()
    page = context.new_page()
    open_page(page, served.url("index.html"))
    choose(page)
    page.reload()
    expect(page.locator("#q2.now")).to_be_visible(timeout=WAIT)
    assert plan(page)["indexes"] == [5, 6, 7, 8, 9]


def test_a_link_that_says_which_questions_opens_on_those_again(phone: Visit, served: Served) -> None:
    page = phone.page
    link = served.url(f"{DRILL}#v=1&count=2&seed=7")
    open_page(page, link)
    before = asked(page)
    choose_and_go_on(page, 0, 1)
    wait_for_next(page)
    page.goto("about:blank")
    open_page(page, link)
    assert (now(page), asked(page)) == ("q1", before)


def test_another_builds_page_is_not_used_but_the_answers_are(broken_off: Page, served: Served) -> None:
    before = asked(broken_off)
    broken_off.evaluate(FROM_ANOTHER_BUILD, {"changed": {}})
    served.stalled.clear()
    broken_off.reload()
    expect(broken_off.locator("#q2.now")).to_be_visible(timeout=WAIT)
    assert asked(broken_off) == before
    assert broken_off.locator("#q1 input:checked").get_attribute("value") == "1"
    assert len(kept(broken_off)) == 1
    # Where this build asks something else there, the answers are kept, but the round begins anew.
    broken_off.evaluate(FROM_ANOTHER_BUILD, {"changed": {"skill": "something/else"}})
    broken_off.reload()
    expect(broken_off.locator("#q1.now")).to_be_visible(timeout=WAIT)
    assert broken_off.locator("#round input:checked").count() == 0
    assert [record["skill"] for record in kept(broken_off)] == ["something/else"]


def test_cleared_answers_make_a_round_of_its_own(phone: Visit, served: Served) -> None:
    page = phone.page
    page.add_init_script(SPY)
    open_page(page, served.url(DRILL))
    wait_for_engine(page)
    choose_and_go_on(page, 0, 1)
    expect_counted(page, 0, 1)
    page.evaluate("() => document.getElementById('round').reset()")
    expect(page.locator("#q1.now")).to_be_visible()
    expect(page.locator("#progress .unseen")).to_have_text("10 questions")
    choose(page, 2)
    expect_counted(page, 2)
    assert [(record["place"], record["choice"]) for record in kept(page)] == [(0, 0), (1, 1), (0, 2)]
    assert len({record["round"] for record in kept(page)}) == 2


def test_a_round_that_waits_for_the_engine_shows_that(broken_off: Page, phone: Visit, served: Served) -> None:
    """A page that cannot show its round yet is not blank, and without the engine it falls back on its own round."""
    phone.watch.expect("")
    broken_off.evaluate(FROM_ANOTHER_BUILD, {"changed": {}, "page": "name-the-degree"})
    served.stalled.clear()
    release = held_back(broken_off, "**/core.js")
    broken_off.goto(served.url("about.html"))
    broken_off.goto(served.url(DRILL))
    expect(broken_off.locator(".waiting .paper")).to_be_visible()
    served.missing.add("runtime/library.zip")
    release()
    expect(broken_off.locator("#notice span")).to_have_text(sentence(broken_off, "cannot-load"), timeout=WAIT)
    expect(broken_off.locator("#q1.now")).to_be_visible()
    choose(broken_off)


def test_the_picture_follows_the_verdict_and_is_there_again_after_a_reload(phone: Visit, served: Served) -> None:
    page = phone.page
    open_page(page, served.url(DRILL))
    without_engine(served)
    first = page.locator("#q1")
    expect(first.locator(".picture.before")).to_be_visible()
    expect(first.locator(".picture.after")).to_be_hidden()
    choose(page)
    expect(first.locator(".picture.after")).to_be_visible()
    expect(first.locator(".picture.before")).to_be_hidden()
    page.reload()
    expect(page.locator("#q2.now")).to_be_visible()
    page.evaluate("() => { location.hash = 'q1'; }")
    for picture, display in (("before", "none"), ("after", "block")):
        style = first.locator(f".picture.{picture}").evaluate("(picture) => getComputedStyle(picture).display")
        assert style == display
    # What is cleared can be asked anew.
    page.evaluate("() => document.getElementById('round').reset()")
    expect(first.locator(".picture.before")).to_be_visible()
    expect(first.locator(".picture.after")).to_be_hidden()
    expect(first.locator(".verdict:visible")).to_have_count(0)
    expect(first.locator(".told")).to_have_count(0)


# What of the first question's answer is seen in each frame from here on: its verdict, its reasons.
FRAMES = """() => {
  const seen = (part) => document.querySelector(`#q1 ${part}`).checkVisibility({ visibilityProperty: true });
  globalThis.frames = [];
  const look = () => (frames.push([seen(".right .verdict"), seen(".always")]), requestAnimationFrame(look));
  requestAnimationFrame(look);
}"""


def test_the_verdict_is_there_a_frame_ahead_of_its_reasons(phone: Visit, served: Served) -> None:
    page = phone.page
    open_page(page, served.url(DRILL))
    page.evaluate(FRAMES)
    choose(page)
    expect(page.locator("#q1 .always")).to_be_visible()
    frames = page.evaluate("frames.map(String)")
    order = [frame for number, frame in enumerate(frames) if number == 0 or frames[number - 1] != frame]
    assert order == ["false,false", "true,false", "true,true"]
