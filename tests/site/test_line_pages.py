"""The line book in a browser: a line in another key, over another chord; found by its degrees; printed as a handout."""

import re
from collections.abc import Callable
from pathlib import Path

import pytest
from browsing import DESK, PHONE, Served, Visit
from playwright.sync_api import Browser, Page, expect
from practising import WAIT
from selenium.webdriver import WebKitGTK
from selenium.webdriver.common.by import By
from selenium.webdriver.support.ui import WebDriverWait

from engine.formats.abc import read_abc
from engine.lines.landing import landing_of
from engine.lines.line import Line
from engine.practice.shown_line import shown
from engine.theory.key import parse_key
from engine.theory.wording import show

pytestmark = pytest.mark.browser

OpenPage = Callable[..., Visit]

ROOT = Path(__file__).resolve().parents[2]
BOOK = {path.stem: read_abc(path.read_text(encoding="utf-8"))[0] for path in (ROOT / "docs" / "lines").glob("*.abc")}


def lands_on_a_third(line: Line) -> bool:
    landing = landing_of(line)
    return bool(landing and landing.degree.name == "3" and line.changes[-1].chord.kind == "maj7")


SLUG = next(slug for slug, line in sorted(BOOK.items()) if lands_on_a_third(line))
LINE = BOOK[SLUG]
PAGE = f"lines/{SLUG}.html"
OTHER_KEY = "Ab" if str(LINE.key) != "Ab" else "E"
# The same root, minor: the landing goes down a half step.
MINOR = LINE.changes[-1].chord.symbol.replace("maj7", "m7")


def notes_in(page: Page) -> list[str]:
    return page.locator(".notes td:nth-child(3)").all_inner_texts()


def names(line: Line) -> list[str]:
    return [show(note.pitch.in_octave(None)) for note in line.notes]


def pick(page: Page, name: str, value: str) -> None:
    page.locator(f"#line input[name={name}][value='{value}']").tap(timeout=WAIT)


def expect_link(page: Page, link: str) -> None:
    page.wait_for_function("(link) => location.hash === link", arg=link, timeout=WAIT)


def test_a_line_goes_to_another_key_and_over_another_chord(phone: Visit, served: Served) -> None:
    page = phone.page
    page.goto(served.url(PAGE))
    assert notes_in(page) == names(LINE)
    pick(page, "next", MINOR)
    expect(page.locator("#told")).to_contain_text("Over", timeout=WAIT)
    over_minor = shown(LINE, following=next(c for c in shown(LINE).offers if c.symbol == MINOR))
    assert notes_in(page) == names(over_minor.line) != names(LINE)
    pick(page, "key", OTHER_KEY)
    expect_link(page, f"#v=1&key={OTHER_KEY}&next={OTHER_KEY}m7")
    expect(page.locator(f"#line input[name=next][value={OTHER_KEY}m7]")).to_be_checked()
    found = notes_in(page)
    assert found != names(over_minor.line)
    page.reload()
    expect(page.locator(f"#line input[name=key][value={OTHER_KEY}]")).to_be_checked(timeout=WAIT)
    assert notes_in(page) == found


def test_taps_before_the_engine_is_there_all_count(phone: Visit, served: Served) -> None:
    page = phone.page
    page.goto(served.url(PAGE))
    keys = [key for key in ("Eb", "G", OTHER_KEY) if key != str(LINE.key)]
    for key in keys:
        pick(page, "key", key)
    expect_link(page, f"#v=1&key={keys[-1]}")
    assert notes_in(page) == names(shown(LINE, parse_key(keys[-1])).line)


def test_what_is_no_chord_stays_typed_and_is_said_beside_it(phone: Visit, served: Served) -> None:
    page = phone.page
    page.goto(served.url(PAGE))
    page.fill("#other", "Hm7")
    page.locator("#line button[name=other]").tap()
    expect(page.locator("#told")).to_contain_text('"Hm7"', timeout=WAIT)
    assert page.input_value("#other") == "Hm7"
    assert notes_in(page) == names(LINE)
    page.fill("#other", MINOR)
    page.press("#other", "Enter")
    expect(page.locator("#told")).to_contain_text("Over", timeout=WAIT)


def test_without_an_engine_the_line_stands_there_and_it_is_said(phone: Visit, served: Served) -> None:
    phone.watch.expect("404")
    served.missing.add("runtime/pyscript/core.js")
    page = phone.page
    page.goto(served.url(PAGE))
    expect(page.locator("#notice")).to_be_visible(timeout=WAIT)
    assert notes_in(page) == names(LINE)


def test_without_scripts_it_is_a_table_and_nothing_that_does_not_work(visit: OpenPage, served: Served) -> None:
    page = visit(java_script_enabled=False).page
    page.goto(served.url(PAGE))
    assert notes_in(page) == names(LINE)
    assert page.locator("#line :is(input, button):visible").count() == 0
    page.goto(served.url("lines/index.html"))
    assert page.locator("#found .list a").count() == len(BOOK)
    assert page.locator("#index :is(select, input):visible").count() == 0


def test_lines_are_found_by_device_and_by_their_degrees(phone: Visit, served: Served) -> None:
    page = phone.page
    page.goto(served.url("lines/index.html"))
    everything = page.locator("#found .list a").count()
    assert everything == len(BOOK)
    page.locator("#degrees").press_sequentially("3 5 b7")
    page.wait_for_function(
        "(all) => document.querySelectorAll('#found .list a').length < all", arg=everything, timeout=WAIT
    )
    some = page.locator("#found .list a").count()
    assert some
    page.locator("#degrees").press_sequentially(" x")
    expect(page.locator("#how-many")).to_contain_text('"x" is no degree', timeout=WAIT)
    assert page.locator("#found .list a").count() == some
    assert page.input_value("#degrees") == "3 5 b7 x"
    page.fill("#degrees", "")
    page.select_option("#by-device", "arpeggio from the third")
    expect(page.locator("#how-many")).to_contain_text("line", timeout=WAIT)
    page.locator("#found .list a").first.tap()
    expect(page.locator(".devices b", has_text="arpeggio from the third").first).to_be_visible(timeout=WAIT)


def test_a_line_is_drilled(phone: Visit, served: Served) -> None:
    page = phone.page
    page.goto(served.url(PAGE))
    page.locator(".drill .list a").nth(1).tap()
    expect(page.locator(".round > .now")).to_be_visible(timeout=WAIT)
    assert page.locator("#round").get_attribute("data-plan").count("line=") == 1  # type: ignore[union-attr]


@pytest.mark.parametrize("bare", [False, True], ids=["with-answers", "without"])
def test_a_handout_is_one_page(chromium: Browser, served: Served, bare: bool) -> None:
    context = chromium.new_context(viewport=DESK, service_workers="block")
    page = context.new_page()
    longest = max(BOOK, key=lambda slug: len(BOOK[slug].notes))
    page.goto(served.url(f"lines/{longest}.html"))
    page.locator(".engraving svg").first.wait_for(timeout=WAIT)
    # The box is the page's own: what the engine answers leaves it ticked.
    page.wait_for_function("() => performance.getEntriesByName('engine ready').length", timeout=WAIT)
    if bare:
        page.locator("[name=bare]").check()
    page.locator("#line input[name=key]:not(:checked)").first.check()
    page.wait_for_function("() => location.hash.includes('key=')", timeout=WAIT)
    page.emulate_media(media="print")
    visible = page.locator(".every-note").is_visible(), page.locator(".task").is_visible()
    assert visible == (not bare, bare)
    # Staff and TAB are drawn for the paper; what is to be tapped there stays on the screen.
    assert page.locator("#staff .tab").count() == page.locator("#staff .vf-system").count() > 0
    assert not page.locator(":is(.on-neck, .practise, .picks, .note-places):visible").count()
    printed = page.pdf(format="A4", margin=dict.fromkeys(("top", "right", "bottom", "left"), "15mm"))
    assert len(re.findall(rb"/Type\s*/Page\b", printed)) == 1
    context.close()


def test_the_pages_work_from_disk(chromium: Browser, site: Path) -> None:
    context = chromium.new_context(viewport=PHONE, has_touch=True)
    page = context.new_page()
    page.goto(f"{site.as_uri()}/{PAGE}")
    pick(page, "key", OTHER_KEY)
    expect_link(page, f"#v=1&key={OTHER_KEY}")
    page.goto(f"{site.as_uri()}/lines/index.html")
    page.fill("#degrees", "3 5 b7")
    page.wait_for_function(
        "(all) => document.querySelectorAll('#found .list a').length < all", arg=len(BOOK), timeout=WAIT
    )
    context.close()


def test_the_pages_work_from_disk_in_webkit(webkit: WebKitGTK, site: Path) -> None:
    webkit.get(f"{site.as_uri()}/{PAGE}")
    webkit.execute_script(f"document.querySelector('#line input[name=key][value={OTHER_KEY}]').click()")
    WebDriverWait(webkit, 60).until(lambda browser: browser.current_url.endswith(f"#v=1&key={OTHER_KEY}"))
    assert webkit.find_elements(By.CSS_SELECTOR, ".engraving svg")


def test_no_name_of_the_book_is_taken_twice(site: Path) -> None:
    assert {path.stem for path in (site / "lines").glob("*.html")} >= {*BOOK, "index"}
