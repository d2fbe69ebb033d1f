"""Going about the site keeps the engine and the rounds; keys and listeners find their way wherever one arrives."""

from __future__ import annotations

import pytest
from browsing import Served, Visit
from playwright.sync_api import Page, expect
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
    wait_for_engine,
    without_engine,
)

pytestmark = pytest.mark.browser

OTHER = "drills/choose-the-resolution.html"


def follow_link(page: Page, path: str) -> None:
    """Goes to another page by one of its links."""
    page.locator(f'a[href$="{path.rsplit("/", 1)[-1]}"]:visible').first.click()
    page.wait_for_url(f"**/{path}")


def test_back_forward_and_links_keep_engine_and_rounds(desk: Visit, served: Served) -> None:
    page = desk.page
    page.add_init_script(SPY)
    open_page(page, served.url(DRILL))
    wait_for_engine(page)
    page.evaluate("() => { globalThis.stays = true; }")
    choose_and_go_on(page, 0, 1)
    expect_counted(page, 0, 1)
    follow_link(page, OTHER)
    expect(page.locator("#q1.now")).to_be_visible()
    choose(page, 2)
    expect_counted(page, 2)
    page.go_back()
    expect(page.locator("#q3.now")).to_be_visible()
    expect_counted(page, 0, 1)
    choose(page, 3)
    expect_counted(page, 0, 1, 3)
    page.go_forward()
    expect(page.locator("#q2.now")).to_be_visible()
    assert page.locator("#q1 input:checked").get_attribute("value") == "2"
    assert (engines(page), page.evaluate("() => globalThis.stays")) == (1, True)
    assert {(record["drill"], record["place"], record["choice"]) for record in kept(page)} == {
        ("name-the-degree", 0, 0), ("name-the-degree", 1, 1), ("name-the-degree", 2, 3), ("choose-the-resolution", 0, 2),
    }  # fmt: skip


def test_to_options_and_back_keeps_engine_and_rounds(desk: Visit, served: Served) -> None:
    page = desk.page
    page.add_init_script(SPY)
    open_page(page, served.url(DRILL))
    wait_for_engine(page)
    choose(page, 1)
    own = asked(page)
    page.evaluate("() => { globalThis.stays = true; }")
    page.evaluate("() => { location.hash = '#v=1&keys=Bb&count=4'; }")
    expect(page.locator("#round .question")).to_have_count(4, timeout=WAIT)
    choose_and_go_on(page, 2)
    page.evaluate("() => { location.hash = '#v=1&level=2'; }")
    expect(page.locator("#round .question")).to_have_count(10)
    assert "level=2" in plan(page)["options"]
    page.go_back()
    expect(page.locator("#round .question")).to_have_count(4)
    expect(page.locator("#q2.now")).to_be_visible()
    # From a link to another page and back to the link, then to the page by itself.
    follow_link(page, OTHER)
    expect(page.locator("#q1.now")).to_be_visible()
    page.go_back()
    expect(page.locator("#round .question")).to_have_count(4)
    page.go_back()
    expect(page.locator("#round .question")).to_have_count(10)
    expect(page.locator("#q2.now")).to_be_visible()
    assert asked(page) == own
    assert (engines(page), page.evaluate("() => globalThis.stays")) == (1, True)


def test_a_round_that_comes_too_late_does_not_land_on_another_page(desk: Visit, served: Served) -> None:
    page = desk.page
    page.add_init_script(SPY)
    release = held_back(page, "**/core.js")
    page.goto(served.url(f"{DRILL}#v=1&count=3"))
    expect(page.locator(".waiting .paper")).to_be_visible()
    page.locator("footer a", has_text="Drills").click()
    follow_link(page, OTHER)
    expect(page.locator("#q1.now")).to_be_visible()
    choose(page, 1)
    release()
    expect_counted(page, 1)
    assert plan(page)["drill"] == "choose-the-resolution"
    assert {one["key"].split()[1] for one in kept(page, "rounds")} == {"choose-the-resolution"}


def test_only_the_last_of_two_quick_steps_arrives(desk: Visit, served: Served) -> None:
    without_engine(served)
    page = desk.page
    open_page(page, served.url("index.html"))
    release = held_back(page, f"**/{DRILL}")
    follow = "name => document.querySelector(`main a[href$='${name}']`).click()"
    page.evaluate(follow, "name-the-degree.html")
    page.evaluate(follow, "choose-the-resolution.html")
    page.wait_for_url(f"**/{OTHER}")
    release()
    page.wait_for_timeout(300)
    assert page.url.endswith(OTHER)
    assert plan(page)["drill"] == "choose-the-resolution"


@pytest.mark.parametrize("arrive", ["directly", "in place"])
def test_a_round_is_played_by_keys(arrive: str, desk: Visit, served: Served) -> None:
    without_engine(served)
    page = desk.page
    if arrive == "directly":
        open_page(page, served.url(DRILL))
    else:
        open_page(page, served.url("index.html"))
        follow_link(page, DRILL)
        expect(page.locator("#q1.now")).to_be_visible()
    focused = "() => document.activeElement.id"
    said = page.locator("#said")

    # A digit answers, without a tab to get there; the verdict is said.
    page.keyboard.press("2")
    expect(page.locator("#q1-2")).to_be_checked()
    expect(said).not_to_be_empty()
    spoken = page.locator("#q1 .verdict:visible, #q1 .why:visible").all_text_contents()
    assert said.text_content() == " ".join(text.rstrip(".") + "." for text in spoken)
    assert len(spoken) >= 2
    page.keyboard.press("3")
    assert page.locator("#q1-2").is_checked(), "the first answer stays"
    # Enter goes on; the question is where the focus is, and nothing old is said.
    page.keyboard.press("Enter")
    assert (now(page), page.evaluate(focused), said.text_content()) == ("q2", "q2", "")

    # Arrows go from choice to choice and answer nothing.
    page.keyboard.press("Tab")
    assert page.evaluate(focused) == "q2-1"
    for key, place in [("ArrowDown", 2), ("ArrowRight", 3), ("ArrowUp", 2), ("ArrowLeft", 1), ("ArrowUp", 4)]:
        page.keyboard.press(key)
        assert page.evaluate(focused) == f"q2-{place}"
    assert page.locator("#q2 input:checked").count() == 0
    page.keyboard.press("Space")
    expect(page.locator("#q2-4")).to_be_checked()
    expect(said).not_to_be_empty()
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    page.keyboard.press("ArrowDown")
    page.keyboard.press("Enter")
    expect(page.locator("#q3-2")).to_be_checked()
    assert [record["choice"] for record in kept(page)] == [1, 3, 1]


def test_keys_outside_the_question_do_what_they_do_elsewhere(desk: Visit, served: Served) -> None:
    without_engine(served)
    page = desk.page
    open_page(page, served.url(DRILL))
    page.locator("footer a").first.focus()
    page.keyboard.press("1")
    page.locator("#q1 input").first.focus()
    page.keyboard.press("Control+1")
    page.keyboard.press("7")
    page.wait_for_timeout(200)
    assert page.locator("#round input:checked").count() == 0
    assert kept(page) == []


@pytest.mark.parametrize("moves", [False, True], ids=["stays", "moves on"])
def test_the_focus_goes_to_what_was_tapped_unless_the_player_has_moved_it(
    moves: bool, phone: Visit, served: Served
) -> None:
    without_engine(served)
    page = phone.page
    open_page(page, served.url(DRILL))
    # At once, so that the answer is still on its way to the device.
    page.evaluate(
        """(moves) => {
          document.querySelector("#q1 .choice:nth-child(2) label").click();
          if (moves) document.querySelector("header a").focus();
        }""",
        moves,
    )
    expect(page.locator("#q1.pictured")).to_be_visible()
    page.wait_for_timeout(700)
    assert page.evaluate("() => document.activeElement.matches('header a')") == moves
    assert page.evaluate("() => document.activeElement.id === 'q1-2'") != moves
