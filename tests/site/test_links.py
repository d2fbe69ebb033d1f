"""Links to exactly one drill, in a browser: what they open, how they are made, copied, shared and scanned."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import replace
from typing import Any

import pytest
import segno
import toolchain
from browsing import DESK, PHONE, PREFIX, Served, Visit
from playwright.sync_api import Browser, Page, expect
from practising import (
    DRILL,
    SPY,
    WAIT,
    asked,
    choose_and_go_on,
    engines,
    expect_counted,
    kept,
    open_page,
    plan,
    sentence,
    wait_for_engine,
)

from engine.lines.stock import stock
from engine.practice.drill_link import read_drill_link
from engine.practice.line_in_link import quoted, to_link
from engine.practice.rounds import first_plan
from engine.view.qr import QUIET_ZONE

pytestmark = pytest.mark.browser

OpenPage = Callable[..., Visit]
SLUG = "name-the-degree"
PORCH_LIGHT = to_link(replace(stock()[0], title="Porch light"))
SCRIPT = "<img src=x onerror=globalThis.harmed=1><script>globalThis.harmed=1</script>"
GARBAGE = {
    "nothing of ours": "#garbage",
    "percent code that was cut": "#v=1&keys=C,%E2%99",
    "percent sign": "#%",
    "script": f"#{SCRIPT}",
    "script as a value": f"#v=1&keys={SCRIPT}&level={SCRIPT}",
    "coded script": "#keys=%3Cscript%3EglobalThis.harmed=1%3C/script%3E",
    "an address of a script": "#javascript:globalThis.harmed=1",
    "very long": "#keys=" + "C," * 5_000,
    "options of no drill": "#v=1&colour=red&count=3",
    "out of bounds": "#v=1&count=1000000&level=9&seed=-1",
    "half good": "#v=1&keys=C,H&count=2",
    "old version": "#v=0&count=4",
    "new version": "#v=2&count=3",
    "signs": "#v=1&keys=\u202e\ud83c\udfb7,C&count=2",
    "one that no id can have": "#\"]'&=",
    "a line that was cut": f"#v=1&line={PORCH_LIGHT[:-5]}&count=2",
    "a line that is none": "#v=1&line=%3Cscript%3EglobalThis.harmed=1%3C/script%3E|]",
    "a line where none is asked about": f"#v=1&line={PORCH_LIGHT}",
    "too many words": f"#v=1&words={'%3Cb%3E' * 67}",
}


def test_whatever_stands_behind_the_hash_opens_a_round_and_is_told(desk: Visit, served: Served) -> None:
    page = desk.page
    page.add_init_script(SPY)
    open_page(page, served.url(DRILL))
    wait_for_engine(page)
    for name, garbage in GARBAGE.items():
        before = asked(page)
        page.evaluate("text => { location.hash = text; }", garbage)
        # The engine gets what the browser makes of it, and nothing else.
        seen = page.evaluate("() => location.hash")
        expected, link = first_plan(SLUG, seen)
        page.wait_for_function(
            "before => ![...document.querySelectorAll('#round .question')].every((one, at) => one.textContent === before[at])",
            arg=before, timeout=WAIT,
        )  # fmt: skip
        found = plan(page)
        assert (found["options"], len(found["indexes"])) == (expected.options, len(expected.indexes)), name
        assert page.locator("#notice span").text_content() == " ".join(link.ignored), name
        assert page.locator("#notice").is_visible() == bool(link.ignored), name
        assert page.locator(".round > .now .choice:visible").count() == 4, name
    assert engines(page) == 1
    assert page.evaluate("() => globalThis.harmed") is None
    assert page.locator("#notice *").evaluate_all("all => all.map(one => one.localName)") == ["span", "button"]


def test_each_piece_of_garbage_but_one_is_spoken_of() -> None:
    silent = [name for name, garbage in GARBAGE.items() if not first_plan(SLUG, garbage)[1].ignored]
    assert silent == ["old version"]  # there never was one: what it says can be read


@pytest.mark.parametrize("name", ["script", "percent code that was cut"])
def test_a_page_opened_with_garbage_shows_a_round(name: str, phone: Visit, served: Served) -> None:
    page = phone.page
    open_page(page, served.url(f"{DRILL}{GARBAGE[name]}"))
    expect(page.locator("#notice span")).not_to_be_empty(timeout=WAIT)
    choose_and_go_on(page, 1)
    assert page.evaluate("() => globalThis.harmed") is None


def open_form(page: Page, served: Served) -> None:
    open_page(page, served.url(DRILL))
    page.locator(".link summary").click()
    expect(page.locator("#link-text")).not_to_have_value("", timeout=WAIT)


def tick(page: Page, name: str, value: str) -> None:
    before = page.locator("#link-text").input_value()
    page.locator(f'#link-form input[name="{name}"][value="{value}"]').check(force=True)
    expect(page.locator("#link-text")).not_to_have_value(before)


def test_the_form_makes_a_link_that_opens_the_same_drill(visit: OpenPage, served: Served) -> None:
    page = visit(viewport=DESK).page
    open_form(page, served)
    for name, value in [("level", "2"), ("count", "5"), ("keys", "Bb"), ("keys", "F"), ("chords", "7"), ("seed", "1")]:
        tick(page, name, value)
    link = page.locator("#link-text").input_value()
    assert link.startswith(served.url(f"{DRILL}#v=1&"))
    rounds = []
    for _ in range(2):
        other = visit(viewport=PHONE).page
        open_page(other, link)
        expect(other.locator("#round .question")).to_have_count(5, timeout=WAIT)
        assert plan(other)["options"] == first_plan(SLUG, link.split("#")[1])[0].options
        assert other.locator("#notice").is_hidden()
        rounds.append(asked(other))
    assert rounds[0] == rounds[1], "the same questions for everyone"
    # Here, without leaving.
    page.locator("#link-open").click()
    expect(page.locator("#round .question")).to_have_count(5)
    assert asked(page) == rounds[0]


def test_a_link_asks_about_a_line_and_says_the_teachers_words(visit: OpenPage, served: Served) -> None:
    page = visit(viewport=PHONE).page
    open_page(page, served.url(f"drills/spot-the-device.html#count=2&line={PORCH_LIGHT}&words={quoted(SCRIPT)}"))
    expect(page.locator("#q1 .place .title")).to_have_text("Porch light", timeout=WAIT)
    assert page.locator("#notice").is_hidden()
    assert SCRIPT in str(page.locator("#q1 .with-link").text_content())
    choose_and_go_on(page, 0, 0)
    expect(page.locator("#result .with-link")).to_contain_text(SCRIPT)
    # The form makes a link about the same line, anew with every letter.
    page.locator(".link summary").click()
    expect(page.locator("#link-line")).to_contain_text("“Porch light”", timeout=WAIT)
    page.locator("#link-words").press_sequentially("<b>Sing</b> & play.")
    expect(page.locator("#link-text")).to_have_value(re.compile(r"&words=.*play%2E$"))
    link = read_drill_link(page.locator("#link-text").input_value().split("#")[1])
    assert link.words == "<b>Sing</b> & play."
    assert link.options.line
    assert to_link(link.options.line) == PORCH_LIGHT
    page.locator("#link-open").click()
    expect(page.locator("#q1 .with-link")).to_contain_text("<b>Sing</b> & play.")
    expect(page.locator("#round .question")).to_have_count(10)
    assert page.locator("main script, main img, .with-link b").count() == 0
    assert page.evaluate("() => globalThis.harmed") is None


@pytest.mark.parametrize("allowed", [True, False], ids=["allowed", "refused"])
def test_a_link_is_copied_or_marked_for_the_hand(allowed: bool, desk: Visit, served: Served) -> None:
    page = desk.page
    if allowed:
        page.context.grant_permissions(["clipboard-read", "clipboard-write"])
    else:
        page.add_init_script(
            "Clipboard.prototype.writeText = async () => { throw new DOMException('', 'NotAllowedError'); }"
        )
    open_form(page, served)
    assert page.locator('[data-link="share"]').is_hidden() == page.evaluate("() => !navigator.share")
    page.locator('[data-link="copy"]').click()
    expect(page.locator("#link-said")).to_have_text(sentence(page, "copied" if allowed else "copy-by-hand"))
    link = page.locator("#link-text").input_value()
    if allowed:
        assert page.evaluate("() => navigator.clipboard.readText()") == link
    else:
        assert page.evaluate("() => getSelection().toString()") == link


def test_sharing_is_offered_where_the_browser_can_and_only_there(visit: OpenPage, served: Served) -> None:
    able = visit(viewport=PHONE).page
    able.add_init_script("Navigator.prototype.share = async function (what) { globalThis.shared = what; }")
    open_form(able, served)
    able.locator('[data-link="share"]').click()
    assert able.evaluate("() => shared.url") == able.locator("#link-text").input_value()
    unable = visit(viewport=PHONE).page
    unable.add_init_script("delete Navigator.prototype.share")
    open_form(unable, served)
    assert unable.locator('[data-link="share"]').is_hidden()


def test_no_empty_link_is_handed_out(desk: Visit, served: Served) -> None:
    """Without the engine there is none: that is said, nothing is called copied."""
    desk.watch.expect("")
    served.missing.add("runtime/worker.py")
    page = desk.page
    page.context.grant_permissions(["clipboard-read", "clipboard-write"])
    open_page(page, served.url(DRILL))
    expect(page.locator("#notice span")).to_have_text(sentence(page, "cannot-load"), timeout=WAIT)
    page.locator("#notice button").click()
    page.locator(".link summary").click()
    page.locator('[data-link="copy"]').click()
    expect(page.locator("#notice span")).to_have_text(sentence(page, "cannot-load"), timeout=WAIT)
    assert page.locator("#link-said").text_content() == ""


def modules(path: str) -> set[tuple[int, int]]:
    """The dark modules of a drawn QR code: column and row, its margin left out."""
    return {(int(x) - QUIET_ZONE, int(y) - QUIET_ZONE) for x, y in re.findall(r"M(\d+) (\d+)h1v1h-1z", path)}


def expected_modules(text: str) -> set[tuple[int, int]]:
    rows = segno.make(text, error="m", micro=False).matrix
    return {(x, y) for y, row in enumerate(rows) for x, dark in enumerate(row) if dark}


def test_the_picture_to_scan_says_the_link(desk: Visit, served: Served) -> None:
    page = desk.page
    page.clock.install()
    page.add_init_script(SPY)
    open_form(page, served)
    scan = page.locator('[data-link="qr"]')
    scan.click()
    path = page.locator("#link-qr .qr-dark")
    expect(path).to_be_visible(timeout=WAIT)
    link = page.locator("#link-text").input_value()
    assert modules(str(path.get_attribute("d"))) == expected_modules(link)
    # Another link takes the picture away; another engine draws the next one.
    tick(page, "keys", "Ab")
    expect(path).to_have_count(0)
    page.evaluate("() => workers[0].terminate()")
    scan.click()
    page.wait_for_timeout(200)
    page.clock.fast_forward(11_000)
    expect(path).to_be_visible(timeout=WAIT)
    second = page.locator("#link-text").input_value()
    assert second != link
    assert modules(str(path.get_attribute("d"))) == expected_modules(second)


@pytest.fixture
def plain_http(chromium: Browser) -> Iterator[Browser]:
    """A browser that finds this machine under a name that it does not trust."""
    options = {
        "executable_path": toolchain.browser(),
        "args": ["--no-sandbox", "--host-resolver-rules=MAP music.example 127.0.0.1"],
    }
    browser = chromium.browser_type.launch(**options)
    yield browser
    browser.close()


def test_over_plain_http_a_round_plays_and_is_kept(plain_http: Browser, served: Served) -> None:
    context = plain_http.new_context(viewport=PHONE)
    page = context.new_page()
    complaints: list[Any] = []
    page.on("pageerror", lambda error: complaints.append(error))
    site = f"http://music.example:{served.origin.rsplit(':', 1)[1]}{PREFIX}"
    open_page(page, f"{site}{DRILL}#v=1&count=2&keys=F")
    assert page.evaluate("() => [isSecureContext, navigator.clipboard, navigator.serviceWorker, crypto.subtle]") == [
        False, None, None, None,
    ]  # fmt: skip
    choose_and_go_on(page, 0, 1)
    expect_counted(page, 0, 1)
    assert len(kept(page)) == 2
    page.locator(".link summary").click()
    expect(page.locator("#link-text")).not_to_have_value("", timeout=WAIT)
    page.locator('[data-link="copy"]').click()
    expect(page.locator("#link-said")).to_have_text(sentence(page, "copy-by-hand"))
    assert complaints == []
    context.close()
