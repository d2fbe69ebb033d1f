"""Quiet: no drills by ear in lists and mixed rounds; and a first visit fetches nothing for them either way."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from browsing import PHONE, Served, Visit
from playwright.sync_api import Page, expect
from practising import WAIT, choose, choose_and_go_on, go_on, kept, open_page, plan, without_engine

from engine.drills.catalogue import BY_SLUG, CATALOGUE
from engine.practice.mixed import MIXED, MIXED_BY_EAR
from engine.practice.settings import AS_IT_CAME, Settings
from engine.view.settings_desk import to_keep

pytestmark = pytest.mark.browser

OpenPage = Callable[..., Visit]

HOME, EAR = "index.html", "drills/hear-the-degree.html"
BY_EAR = [entry.slug for entry in CATALOGUE if entry.by_ear]
NAME = "linekeeper settings"
# The classes of the page at the moment in which there is anything to paint.
AT_FIRST = """new MutationObserver((_, me) => {
  if (!document.body) return;
  globalThis.atFirst = document.documentElement.className;
  me.disconnect();
}).observe(document, {childList: true, subtree: true});"""


def keep(page: Page, settings: Settings) -> None:
    """Has the device keep settings, at the first page that comes."""
    page.add_init_script(f"localStorage[{json.dumps(NAME)}] ??= {json.dumps(json.dumps(to_keep(settings)))};{AT_FIRST}")


def opened(visit: OpenPage, settings: Settings = AS_IT_CAME) -> Page:
    page = visit(viewport=PHONE).page
    keep(page, settings)
    return page


def packs(page: Page) -> list[str]:
    """The packs that the page fetches from now on."""
    found: list[str] = []
    page.on("request", lambda sent: "packs/" in sent.url and found.append(sent.url.rpartition("/")[2]))
    return found


def listed(page: Page) -> set[str]:
    """The drills that the page shows a link to."""
    links = page.locator(".list a:visible")
    addresses = [urlsplit(str(links.nth(place).get_attribute("href"))).path for place in range(links.count())]
    return {Path(address).stem for address in addresses} & set(BY_SLUG)


def play_all_but_one(page: Page) -> None:
    choose_and_go_on(page, 0, 0, 0, 0)
    # The engine has counted them, so it is there.
    expect(page.locator("#progress .unseen")).to_contain_text("right,", timeout=WAIT)


def follow(page: Page, drill: str) -> None:
    """Answers the last question, and goes on to the next round once that is one of this drill."""
    choose(page)
    last = plan(page)["indexes"][-1]
    until(page, lambda: is_next(page, drill, last))
    next_round(page, drill)


def next_round(page: Page, drill: str) -> None:
    go_on(page)
    page.locator('#result [data-how="once more"]').click()
    expect(page.locator("#q1.now")).to_be_visible(timeout=WAIT)
    assert plan(page)["drill"] == drill


def until(page: Page, so: Callable[[], bool]) -> None:
    for _ in range(WAIT // 50):
        if so():
            return
        page.wait_for_timeout(50)
    raise AssertionError("it never came to be")


def is_next(page: Page, drill: str, last: int) -> bool:
    """Whether a round of a drill is kept for the next time, with questions behind the ``last`` one."""
    rounds = [one for one in kept(page, "rounds") if one["key"].startswith("next")]
    return any(one["plan"]["drill"] == drill and one["plan"]["indexes"][0] > last for one in rounds)


def heard(page: Page) -> int:
    return page.locator("#round .question.heard").count()


def test_a_first_visit_fetches_nothing_more_and_the_rounds_after_it_are_by_ear_too(
    visit: OpenPage, served: Served
) -> None:
    page = opened(visit)
    fetched = packs(page)
    open_page(page, served.url(HOME))
    assert (plan(page)["drill"], heard(page)) == (MIXED, 0)
    play_all_but_one(page)
    page.wait_for_timeout(1_500)
    # Not even by the round that is made with the first answer, for whoever leaves at once after the last.
    until(page, lambda: is_next(page, MIXED, 4))
    assert fetched == []
    follow(page, MIXED_BY_EAR)
    assert fetched == ["more.zip"]
    assert heard(page) == 1
    # A round that is broken off goes on, and what follows it is of the same kind.
    choose(page)
    html = page.locator("#round .question").evaluate_all("all => all.map(one => one.dataset.question)")
    page.reload()
    expect(page.locator("#q1 .choice :checked")).to_have_count(1, timeout=WAIT)
    assert page.locator("#round .question").evaluate_all("all => all.map(one => one.dataset.question)") == html


def test_with_quiet_on_no_round_is_by_ear_and_nothing_is_fetched_for_one(visit: OpenPage, served: Served) -> None:
    page = opened(visit, Settings(quiet=True))
    fetched = packs(page)
    open_page(page, served.url(HOME))
    for _ in range(2):
        play_all_but_one(page)
        follow(page, MIXED)
        assert heard(page) == 0
    assert fetched == []


def test_rounds_by_ear_wait_while_quiet_is_on(visit: OpenPage, served: Served) -> None:
    """One that was broken off, and the one that was made for the next visit."""
    page = opened(visit)
    open_page(page, served.url(HOME))
    play_all_but_one(page)
    follow(page, MIXED_BY_EAR)
    choose(page)
    assert heard(page)
    page.evaluate(f"localStorage[{json.dumps(NAME)}] = {json.dumps(json.dumps(to_keep(Settings(quiet=True))))}")
    page.reload()
    expect(page.locator("#round")).to_be_visible(timeout=WAIT)
    assert (heard(page), page.locator(".choice :checked").count(), plan(page)["drill"]) == (0, 0, MIXED)
    page.evaluate(f"localStorage[{json.dumps(NAME)}] = 'null'")
    page.reload()
    expect(page.locator("#q1 .choice :checked")).to_have_count(1, timeout=WAIT)
    assert heard(page)


def test_where_the_pack_cannot_be_had_the_next_round_does_without(visit: OpenPage, served: Served) -> None:
    opening = visit(viewport=PHONE)
    opening.watch.expect("404")
    page = opening.page
    served.missing.add("runtime/packs/more.zip")
    open_page(page, served.url(HOME))
    play_all_but_one(page)
    tried = packs(page)
    choose(page)
    until(page, lambda: bool(tried))
    page.wait_for_timeout(1_000)
    next_round(page, MIXED)
    assert heard(page) == 0
    assert page.is_hidden("#notice")


@pytest.mark.parametrize("path", [HOME, "drills/index.html", "handbook/hearing.html", "drills/name-the-degree.html"])
def test_lists_leave_them_out_before_anything_is_painted(path: str, visit: OpenPage, served: Served) -> None:
    without_engine(served)
    loud = opened(visit)
    loud.goto(served.url(path))
    assert set(BY_EAR) <= listed(loud)
    assert loud.locator(".hushed:visible").count() == 0
    page = opened(visit, Settings(quiet=True))
    page.goto(served.url(path))
    assert "quiet" in page.evaluate("atFirst").split()
    assert listed(page) == listed(loud) - set(BY_EAR)
    line = page.locator(".hushed:visible")
    assert line.count() == 1
    expect(line).to_contain_text("Quiet is on")
    line.locator("a").click()
    page.wait_for_url("**/settings.html")


def test_a_lines_page_leaves_them_out_too(visit: OpenPage, served: Served) -> None:
    page = opened(visit, Settings(quiet=True))
    page.goto(served.url("lines/attic-window.html"))
    found = listed(page)
    assert "spot-the-device" in found
    assert not found & set(BY_EAR)
    assert page.locator('.list a[href*="hear-the-device"]').count() == 1
    expect(page.locator(".hushed:visible")).to_have_count(1)


@pytest.mark.parametrize("slug", BY_EAR)
def test_its_own_page_works_and_says_that_quiet_is_on(slug: str, visit: OpenPage, served: Served) -> None:
    page = opened(visit, Settings(quiet=True))
    open_page(page, served.url(f"drills/{slug}.html"))
    line = page.locator("main > .hushed")
    expect(line).to_have_text("Quiet is on; here it still works. Settings")
    # One line, which nothing lies over, and which covers nothing.
    box, asked = line.bounding_box(), page.locator("#q1 .asked").bounding_box()
    assert box
    assert asked
    assert box["height"] < 30
    assert box["y"] + box["height"] <= asked["y"]
    link = line.locator("a")
    link.click(trial=True)
    expect(page.locator("#q1 .play")).to_be_visible()
    choose(page)
    assert page.evaluate("document.documentElement.scrollWidth") == PHONE["width"]
    link.focus()
    page.keyboard.press("Enter")
    page.wait_for_url("**/settings.html")


def test_the_switch_takes_itself_back_and_other_tabs_follow(visit: OpenPage, served: Served) -> None:
    page = visit(viewport=PHONE).page
    page.goto(served.url("settings.html"))
    other = page.context.new_page()
    other.goto(served.url("drills/index.html"))
    switch = page.locator('[name="quiet"]')
    switch.focus()
    page.keyboard.press("Space")
    expect(page.locator("#said")).to_have_text("Kept.", timeout=WAIT)
    expect(other.locator(".needs-ear:visible")).to_have_count(0)
    page.keyboard.press("Space")
    expect(other.locator(".needs-ear:visible")).to_have_count(len(BY_EAR))
    assert page.evaluate("(name) => localStorage[name] ?? null", NAME) is None


def test_without_scripts_lists_are_whole(visit: OpenPage, served: Served) -> None:
    page = visit(viewport=PHONE, java_script_enabled=False).page
    page.goto(served.url(HOME))
    assert set(BY_EAR) <= listed(page)
    assert page.locator("p.needs-ear:visible, .hushed:visible").count() == 0
