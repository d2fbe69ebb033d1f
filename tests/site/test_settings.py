"""The settings in the browser: kept at once, obeyed by every page, in every tab, and where nothing can be kept."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import pytest
from browsing import DESK, PHONE, Served, Visit
from playwright.sync_api import Page, expect
from practising import WAIT, open_page, plan, sentence, without_engine

from engine.practice.settings import AS_IT_CAME, Settings, read_settings
from engine.view.settings import fields_html
from engine.view.settings_desk import to_keep

pytestmark = pytest.mark.browser

OpenPage = Callable[..., Visit]

SETTINGS, DRILL, LINE = "settings.html", "drills/note-on-the-neck.html", "lines/back-gate.html"
NAME = "linekeeper settings"
REFUSED = "Storage.prototype.setItem = () => { throw new DOMException('no', 'QuotaExceededError'); }"
FIELDS = "#settings :is(select, #tuning, #late, label:has(input), button):visible"
HIGHEST_STRING = "svg.neck-picture .names text >> nth=0"


def kept(page: Page) -> Settings:
    text = page.evaluate("(name) => localStorage[name] ?? 'null'", NAME)
    return read_settings(json.loads(text) if text.endswith(("}", "null")) else None)


def until_kept(page: Page, so: Callable[[Settings], bool]) -> Settings:
    """What is kept, once it is as wished."""
    for _ in range(WAIT // 50):
        found = kept(page)
        if so(found):
            return found
        page.wait_for_timeout(50)
    raise AssertionError(f"what is kept is {found}")


def keep(page: Page, settings: Settings) -> None:
    """Has the device keep settings before a page comes."""
    page.add_init_script(f"localStorage.setItem({json.dumps(NAME)}, {json.dumps(json.dumps(to_keep(settings)))})")


def bass(left: bool = False, stretch: int = 5) -> Settings:
    return read_settings({"tuning": "bass", "left": left, "stretch": stretch})


def test_what_is_set_is_kept_at_once_and_shown_again(visit: OpenPage, served: Served) -> None:
    page = visit(viewport=PHONE, has_touch=True, is_mobile=True).page
    page.goto(served.url(SETTINGS))
    page.locator("#instrument").select_option("bass")
    until_kept(page, lambda found: found == bass())
    expect(page.locator(HIGHEST_STRING)).to_have_text("G")
    expect(page.locator("#tuning")).to_have_value("E1, A1, D2, G2")
    expect(page.locator("#frets")).to_have_value("20")
    page.locator('[name="stretch"][value="4"]').check()
    page.locator('[name="left"]').check()
    until_kept(page, lambda found: found == bass(left=True, stretch=4))
    expect(page.locator("#said")).to_have_text("Kept.")
    page.reload()
    expect(page.locator("#instrument")).to_have_value("bass", timeout=WAIT)
    expect(page.locator('[name="stretch"][value="4"]')).to_be_checked()
    page.locator('[name="usual"]').tap()
    until_kept(page, lambda found: found == AS_IT_CAME)
    expect(page.locator("#instrument")).to_have_value("guitar")
    page.locator('[name="back"]').tap()
    until_kept(page, lambda found: found == bass(left=True, stretch=4))


def test_a_tuning_is_read_while_it_is_typed(visit: OpenPage, served: Served) -> None:
    page = visit(viewport=PHONE).page
    page.goto(served.url(SETTINGS))
    field, fault = page.locator("#tuning"), page.locator("#tuning-fault")
    field.fill("d2 a2 d3 g3 a3")
    found = until_kept(page, lambda found: found != AS_IT_CAME)
    assert [str(string) for string in found.instrument.strings] == ["D2", "A2", "D3", "G3", "A3"]
    field.press_sequentially(" a3")
    expect(fault).to_contain_text("column 16", timeout=WAIT)
    expect(fault).to_contain_text("does not lie above A3 before it")
    assert kept(page) == found, "the last good one counts"
    expect(field).to_have_value("d2 a2 d3 g3 a3 a3")
    field.press("Backspace")
    field.press("Backspace")
    field.press_sequentially("d4")
    until_kept(page, lambda found: len(found.instrument.strings) == 6)
    expect(fault).to_have_text("")
    expect(page.locator("#instrument option:checked")).to_have_text("a tuning of my own")


def test_fields_and_buttons_are_large_enough_for_a_thumb(visit: OpenPage, served: Served) -> None:
    page = visit(viewport=PHONE).page
    keep(page, bass())
    page.goto(served.url(SETTINGS))
    expect(page.locator('[name="usual"]')).to_be_visible(timeout=WAIT)
    sizes = "all => all.map(one => { const {width, height} = one.getBoundingClientRect(); return [width, height] })"
    for width, height in page.locator(FIELDS).evaluate_all(sizes):
        assert height >= 48
        assert width >= 48
    assert page.evaluate("document.documentElement.scrollWidth") == PHONE["width"]


def test_a_left_handed_neck_is_turned_before_it_is_painted(visit: OpenPage, served: Served) -> None:
    """The text on it is not; and nothing of that needs the engine."""
    without_engine(served)
    page = visit(viewport=PHONE).page
    page.goto(served.url(SETTINGS))
    nut = "document.querySelector('svg.neck-picture .nut').getBoundingClientRect().x"
    right = page.evaluate(nut)
    left = visit(viewport=PHONE).page
    keep(left, read_settings({"left": True}))
    left.goto(served.url(SETTINGS))
    assert left.evaluate("document.documentElement.classList.contains('left-handed')")
    assert left.evaluate(nut) > PHONE["width"] / 2 > right
    # Upside down or mirrored letters would have a scale of -1 in all.
    turned = "one => new DOMMatrix(getComputedStyle(one).transform).a * new DOMMatrix(getComputedStyle(one.closest('svg')).transform).a"
    assert left.locator(HIGHEST_STRING).evaluate(turned) == 1


def test_another_tab_follows(visit: OpenPage, served: Served) -> None:
    one = visit(viewport=PHONE).page
    one.goto(served.url(SETTINGS))
    other = one.context.new_page()
    other.goto(served.url(SETTINGS))
    one.locator('[name="left"]').check()
    expect(other.locator("html.left-handed")).to_be_attached(timeout=WAIT)
    expect(other.locator('[name="left"]')).to_be_checked(timeout=WAIT)
    other.locator('[name="stretch"][value="3"]').check()
    until_kept(one, lambda found: found == Settings(left_handed=True, stretch=3))
    expect(one.locator('[name="stretch"][value="3"]')).to_be_checked(timeout=WAIT)


def test_where_nothing_can_be_kept_they_count_for_this_visit(visit: OpenPage, served: Served) -> None:
    page = visit(viewport=DESK).page
    page.add_init_script(REFUSED)
    page.goto(served.url(SETTINGS))
    page.locator('[name="left"]').check()
    expect(page.locator("#notice")).to_contain_text(sentence(page, "not-kept"), timeout=WAIT)
    page.locator("#notice button").click()
    page.locator('[name="stretch"][value="3"]').check()
    expect(page.locator('[name="stretch"][value="3"]')).to_be_checked()
    assert kept(page) == AS_IT_CAME
    page.locator('footer a[href$="care.html"]').click()
    page.wait_for_url("**/care.html")
    assert page.evaluate("document.documentElement.classList.contains('left-handed')")
    page.locator('footer a[href$="settings.html"]').click()
    expect(page.locator('[name="left"]')).to_be_checked(timeout=WAIT)
    expect(page.locator('[name="stretch"][value="3"]')).to_be_checked()


@pytest.mark.parametrize("found", ["{", "null", "3", '"bass"', "[]", '{"left": "yes", "stretch": [4], "tuning": "no"}'])
def test_strange_things_in_the_store_break_nothing(visit: OpenPage, served: Served, found: str) -> None:
    page = visit(viewport=PHONE).page
    page.add_init_script(f"localStorage[{json.dumps(NAME)}] ??= {json.dumps(found)}")
    page.goto(served.url(SETTINGS))
    page.locator("#instrument").select_option("bass")
    until_kept(page, lambda found: found.instrument.name == "bass")


def test_they_go_along_with_everything_that_is_asked(visit: OpenPage, served: Served, tmp_path: Any) -> None:
    """To another device in the file of the answers."""
    page = visit(viewport=DESK).page
    keep(page, bass(left=True))
    page.goto(served.url("records.html"))
    with page.expect_download(timeout=WAIT) as download:
        page.locator('[data-answers="save"]').click()
    path = tmp_path / "answers.json"
    download.value.save_as(path)
    assert read_settings(json.loads(path.read_text())["settings"]) == bass(left=True)
    other = visit(viewport=DESK).page
    other.goto(served.url("records.html"))
    other.locator("#answers-file").set_input_files(path)
    expect(other.locator("#answers-said")).to_contain_text("Your settings came along.", timeout=WAIT)
    assert kept(other) == bass(left=True)
    assert other.evaluate("document.documentElement.classList.contains('left-handed')")


# --- rounds that were built for another neck ----------------------------------------


def test_a_round_for_another_neck_is_not_played(visit: OpenPage, served: Served) -> None:
    served.stalled.add("runtime/pyscript/core.js")
    page = visit(viewport=PHONE).page
    keep(page, bass())
    page.goto(served.url(DRILL), wait_until="commit")
    expect(page.locator(".waiting")).to_be_visible(timeout=WAIT)
    expect(page.locator("#round")).to_be_hidden()
    # Whoever does not want to wait may still play what is there.
    page.locator(".waiting button").click(timeout=WAIT)
    expect(page.locator("#round")).to_be_visible()


def test_the_engine_makes_the_round_for_the_neck_that_is_set(visit: OpenPage, served: Served) -> None:
    page = visit(viewport=PHONE).page
    page.goto(served.url(DRILL))
    built = plan(page)
    mine = visit(viewport=PHONE).page
    keep(mine, bass())
    open_page(mine, served.url(DRILL))
    assert plan(mine)["drill"] == built["drill"]
    assert ("tuning=bass" in built["options"], "tuning=bass" in plan(mine)["options"]) == (False, True)
    expect(mine.locator(".waiting")).to_be_hidden()
    expect(mine.locator('.below a.button[href$="settings.html"]')).to_be_visible()


@pytest.mark.parametrize("settings", [AS_IT_CAME, Settings(left_handed=True)], ids=["as it came", "left-handed"])
def test_a_round_that_suits_the_neck_is_there_without_the_engine(
    visit: OpenPage, served: Served, settings: Settings
) -> None:
    without_engine(served)
    page = visit(viewport=PHONE).page
    keep(page, settings)
    open_page(page, served.url(DRILL))
    expect(page.locator("#round")).to_be_visible()


def test_a_line_lies_on_the_neck_that_is_set_and_no_other_is_shown_before(visit: OpenPage, served: Served) -> None:
    page = visit(viewport=PHONE).page
    keep(page, bass())
    served.stalled.add("runtime/pyscript/core.js")
    page.goto(served.url(LINE), wait_until="commit")
    expect(page.locator(".line .on-neck")).to_be_attached(timeout=WAIT)
    expect(page.locator(".line .on-neck")).to_be_hidden()
    expect(page.locator(".line h1")).to_be_visible()
    other = visit(viewport=PHONE).page
    served.stalled.clear()
    keep(other, bass())
    other.goto(served.url(LINE))
    expect(other.locator(".line .on-neck")).to_be_visible(timeout=WAIT)
    expect(other.locator(".on-neck svg.neck-picture").first.locator(".names text")).to_have_text(list("GDAE"))


# --- without scripts ------------------------------------------------------------------


def test_without_scripts_the_page_says_what_counts(visit: OpenPage, served: Served) -> None:
    page = visit(viewport=PHONE, java_script_enabled=False).page
    page.goto(served.url(SETTINGS))
    expect(page.locator("#settings")).to_be_hidden()
    text = (served.site / SETTINGS).read_text(encoding="utf-8")
    assert "<noscript><p>Without scripts nothing can be kept: every page is for a guitar" in text


def test_every_page_leads_there(site: Any) -> None:
    pages = sorted(site.rglob("*.html"))
    assert len(pages) > 40
    for path in pages:
        assert 'settings.html"' in path.read_text(encoding="utf-8"), path
    assert fields_html(AS_IT_CAME) in (site / SETTINGS).read_text(encoding="utf-8")
