"""A start that took the page down is not tried for ever; and whatever file is gone, the round in the page goes on."""

from __future__ import annotations

from typing import Any

import pytest
from browsing import Served, Visit
from playwright.sync_api import BrowserContext, Error, Page, expect
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

LINK = f"{DRILL}#v=1&count=3"
STARTED = "() => localStorage['linekeeper starts'] === '{}'"


def crash_while_starting(context: BrowserContext, served: Served, path: str, count: int) -> None:
    """The page dies in the middle of its engine's start."""
    page = context.new_page()
    open_page(page, served.url(path))
    page.wait_for_function(STARTED.format(count), timeout=WAIT)
    with pytest.raises(Error):
        page.goto("chrome://crash", timeout=5_000)
    page.close()


def notice(page: Page) -> Any:
    return page.locator("#notice span")


@pytest.mark.parametrize("path", [DRILL, LINK], ids=["page", "link"])
def test_two_starts_that_broke_off_are_enough(path: str, phone: Visit, served: Served) -> None:
    without_engine(served)
    context = phone.page.context
    context.add_init_script(SPY)
    crash_while_starting(context, served, DRILL, 1)
    crash_while_starting(context, served, DRILL, 2)
    served.stalled.clear()
    page = phone.page
    wanted: list[str] = []
    page.on("request", lambda request: wanted.append(request.url) if "/runtime" in request.url else None)
    open_page(page, served.url(path))
    expect(notice(page)).to_have_text(sentence(page, "broken-off"))
    prebuilt = asked(page)
    choose_and_go_on(page, 0, 1)
    page.wait_for_timeout(500)
    assert (engines(page), wanted) == (0, []), "it was started by itself"
    assert len(kept(page)) == 2

    page.evaluate("() => document.querySelector('[data-how=\"once more\"]').click()")
    expect(notice(page)).to_have_text(sentence(page, "broken-off"))
    page.locator("#notice button").click()
    if path == DRILL:
        expect_counted(page, 0, 1)
        assert (now(page), asked(page)) == ("q3", prebuilt)
    else:
        expect(page.locator("#round .question")).to_have_count(3, timeout=WAIT)
        assert now(page) == "q1"
    assert engines(page) == 1
    page.reload()
    wait_for_engine(page)
    assert page.locator("#notice").is_hidden()


def test_leaving_in_the_middle_of_a_start_is_no_crash(phone: Visit, served: Served) -> None:
    without_engine(served)
    page = phone.page
    for _ in range(3):
        open_page(page, served.url(DRILL))
        page.wait_for_function(STARTED.format(1), timeout=WAIT)
        assert page.locator("#notice").is_hidden()


@pytest.mark.parametrize(
    "path", ["interpreter.mjs", "library.zip", "pyodide.asm.wasm", "pyscript/core.js", "worker.py"]
)
def test_whatever_is_gone_is_said_and_the_round_in_the_page_goes_on(path: str, phone: Visit, served: Served) -> None:
    phone.watch.expect("")
    served.missing.add(f"runtime/{path}")
    page = phone.page
    open_page(page, served.url(DRILL))
    expect(notice(page)).to_have_text(sentence(page, "cannot-load"), timeout=WAIT)
    assert page.locator("#loading").is_hidden()
    choose_and_go_on(page, 0, 1)
    assert len(kept(page)) == 2
    # Once it is back, it is used: nothing remembers that it was gone.
    served.missing.clear()
    page.reload()
    expect_counted(page, 0, 1)


def test_a_link_without_an_engine_falls_back_on_the_page_and_is_asked_for_again(phone: Visit, served: Served) -> None:
    phone.watch.expect("")
    served.missing.add("runtime/worker.py")
    page = phone.page
    open_page(page, served.url(LINK))
    expect(notice(page)).to_have_text(sentence(page, "cannot-load"), timeout=WAIT)
    assert len(plan(page)["indexes"]) == 10
    choose(page)
    # What was answered belongs to the page's own round: the link still opens what it asks for.
    served.missing.clear()
    page.reload()
    expect(page.locator("#round .question")).to_have_count(3, timeout=WAIT)


@pytest.mark.parametrize("path", [DRILL, LINK, f"{DRILL}#v=1&seed=%zz"])
def test_without_its_client_the_page_still_shows_its_round(path: str, phone: Visit, served: Served) -> None:
    phone.watch.expect("404")
    served.missing.add("app/client.js")
    page = phone.page
    page.add_init_script("try { localStorage[`linekeeper kept ${location.pathname}`] = '1' } catch {}")
    page.goto(served.url(path))
    page.locator("#q1 .choice label").first.click(timeout=3_000)
    expect(page.locator("#q1 .verdict:visible").first).to_be_visible()


def test_a_client_that_never_comes_does_not_leave_the_page_blank(phone: Visit, served: Served) -> None:
    page = phone.page
    page.clock.install()
    page.add_init_script("try { localStorage[`linekeeper kept ${location.pathname}`] = '1' } catch {}")
    release = held_back(page, "**/client.js")
    page.goto(served.url(DRILL), wait_until="commit")
    page.wait_for_selector("#round", state="attached")
    expect(page.locator("#round")).to_be_hidden()
    page.clock.fast_forward(11_000)
    expect(page.locator("#q1")).to_be_visible()
    release()
