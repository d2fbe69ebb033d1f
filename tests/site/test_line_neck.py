"""A line's page on the neck in a browser: notes tapped and held, ways, undo, what is kept and linked, practising."""

import re
from collections.abc import Callable
from urllib.parse import unquote

import pytest
from browsing import DESK, PHONE, Served, Visit
from playwright.sync_api import Page, expect
from practising import WAIT, kept

from engine.neck.fingering import ways
from engine.neck.instrument import GUITAR, INSTRUMENTS
from engine.practice.fingered import fingered, lowest
from engine.practice.own_way import ANY_WAY, OwnWay
from engine.practice.settings import AS_IT_CAME, Settings
from tests.site.test_line_pages import LINE, PAGE, expect_link, pick
from tests.site.test_settings import keep

pytestmark = pytest.mark.browser

OpenPage = Callable[..., Visit]

BEST, OTHER = ways(LINE)[:2]
INDEX = next(index for index, note in enumerate(LINE.notes) if len(GUITAR.places(note.pitch.midi)) > 2)
STRING = next(place.string for place in GUITAR.places(LINE.notes[INDEX].pitch.midi) if place != BEST.places[INDEX])
HELD = fingered(LINE, OwnWay(held=((INDEX, STRING),)), AS_IT_CAME)
# Every number of the TAB: its string by where it stands, its fret; those of notes that only go on are left out.
PLACES = """() => [...document.querySelectorAll("#staff .place-at[data-press]")].map((mark) => {
  const fret = mark.querySelector(".fret");
  const strings = mark.closest(".tab").querySelector(".strings").getBBox();
  const row = (Number(fret.getAttribute("y")) - 5 - strings.y) / (strings.height / 5);
  return [Math.round(row) + 1, Number(fret.textContent)];
})"""
# How far each number stands from the middle of its note's head, in pixels.
BESIDE = """() => [...document.querySelectorAll("#staff .place-at[data-press]")].map((mark) => {
  const box = (element) => element.getBoundingClientRect();
  const middle = ({ left, right }) => (left + right) / 2;
  const head = document.querySelector(`#staff .vf-note[data-index="${mark.dataset.index}"] .vf-notehead text`);
  return Math.abs(middle(box(mark.querySelector(".fret"))) - middle(box(head)));
})"""


def opened(page: Page, served: Served, link: str = "") -> None:
    page.goto(served.url(PAGE) + link)
    page.locator("#staff .tab").first.wait_for(timeout=WAIT)


def expect_places(page: Page, places: object) -> None:
    """The TAB shows these places, sooner or later."""
    wanted = [list(place) for place in places]  # type: ignore[attr-defined]
    page.wait_for_function(
        f"(wanted) => JSON.stringify(({PLACES})()) === wanted", arg=re.sub(" ", "", str(wanted)), timeout=WAIT
    )


def number(index: int = INDEX) -> str:
    return f'#staff [data-press="place {index}"]'


def tap(page: Page, name: str, value: str = "") -> None:
    page.locator(f'#line button[name="{name}"]' + (f'[value="{value}"]' if value else "")).first.tap(timeout=WAIT)


def hold(page: Page) -> None:
    page.locator(f"{number()} .fret").tap()
    tap(page, "hold", f"{INDEX}:{STRING}")
    expect_link(page, f"#v=1&hold={INDEX}:{STRING}")


@pytest.mark.parametrize("size", [{"width": 320, "height": 640}, PHONE, DESK], ids=["320", "360", "desk"])
def test_numbers_stand_below_their_notes_and_nothing_is_wider_than_the_page(
    size: dict[str, int], visit: OpenPage, served: Served
) -> None:
    page = visit(viewport=size).page
    opened(page, served)
    expect_places(page, BEST.places)
    assert max(page.evaluate(BESIDE)) <= 1.5
    assert page.evaluate("document.documentElement.scrollWidth") <= size["width"]
    targets = page.evaluate(
        """() => [...document.querySelectorAll("#staff .target")].map((one) => one.getBoundingClientRect())
          .map(({ width, height }) => [width, height])"""
    )
    assert all(height >= 40 for _, height in targets)
    # As wide as the neighbours allow: an eighth note on a narrow phone has half of the way to each.
    assert all(width >= 16 for width, _ in targets)


def test_a_tapped_note_is_held_on_another_string_undone_and_let_go(phone: Visit, served: Served) -> None:
    page = phone.page
    opened(page, served)
    page.locator(f"{number()} .fret").tap()
    chips = page.locator("#tapped button[name=hold]")
    expect(chips).to_have_count(len(GUITAR.places(LINE.notes[INDEX].pitch.midi)) + 1, timeout=WAIT)
    expect(page.locator(f"#tapped button[value='{INDEX}:0']")).to_have_attribute("aria-pressed", "true")
    expect(page.locator("#tapped")).to_be_in_viewport()
    assert all(chip.bounding_box()["height"] >= 48 for chip in chips.all())  # type: ignore[index]
    tap(page, "hold", f"{INDEX}:{STRING}")
    assert HELD.chosen is not None
    expect_places(page, HELD.chosen.places)
    assert HELD.chosen.places[INDEX].string == STRING
    expect(page.locator(f"{number()}.held .frame")).to_have_count(1)
    expect(page.locator(f"#tapped button[value='{INDEX}:{STRING}']")).to_contain_text("held")
    tap(page, "undo")
    expect_places(page, BEST.places)
    hold_again = page.locator(f"#tapped button[value='{INDEX}:{STRING}']")
    hold_again.tap()
    expect_places(page, HELD.chosen.places)
    tap(page, "free")
    expect_places(page, BEST.places)
    page.locator("#tapped [data-press]").tap()
    expect(page.locator("#tapped button")).to_have_count(0, timeout=WAIT)
    page.wait_for_function(
        "(press) => document.activeElement.dataset.press === press", arg=f"place {INDEX}", timeout=WAIT
    )


def test_taps_before_the_engine_is_there_all_count_on_the_neck(phone: Visit, served: Served) -> None:
    page = phone.page
    opened(page, served)
    page.locator(f"{number()} .fret").tap()
    tap(page, "way", str(lowest(OTHER)))
    expect_link(page, f"#v=1&way={lowest(OTHER)}")
    expect(page.locator("#tapped button[name=hold]").first).to_be_visible(timeout=WAIT)
    expect_places(page, OTHER.places)


def test_what_is_held_is_kept_goes_to_another_key_and_into_links(phone: Visit, visit: OpenPage, served: Served) -> None:
    page = phone.page
    opened(page, served)
    hold(page)
    assert HELD.chosen is not None
    page.reload()
    expect_places(page, HELD.chosen.places)
    link = unquote(page.evaluate("location.href"))
    # Whoever comes back without the link finds it too.
    page.goto(served.url("about.html"))
    page.goto(served.url(PAGE))
    expect_places(page, HELD.chosen.places)
    assert [record["way"] for record in kept(page, "lines")] == [{"held": [[INDEX, STRING]]}]
    # In another key the note stays on its string.
    key = "D" if str(LINE.key) != "D" else "Eb"
    pick(page, "key", key)
    page.wait_for_function("() => location.hash.includes('key=')", timeout=WAIT)
    expect(page.locator(f"{number()}.held")).to_have_count(1)
    assert page.evaluate(PLACES)[INDEX][0] == STRING
    # Another device has it from the link alone.
    other = visit(viewport=PHONE).page
    other.goto(link)
    expect_places(other, HELD.chosen.places)


def test_a_way_is_chosen_and_the_pictures_and_the_table_follow(phone: Visit, served: Served) -> None:
    page = phone.page
    opened(page, served)
    dots = page.locator(".necks .dot").count()
    assert 0 < dots <= len(LINE.notes)
    before = page.locator(".necks").inner_html()
    tap(page, "way", str(lowest(OTHER)))
    expect_places(page, OTHER.places)
    assert page.locator(".necks").inner_html() != before
    cells = page.locator(".notes td:nth-last-child(-n + 2)").all_inner_texts()
    assert [int(text) for text in cells] == [number for place in OTHER.places for number in place]
    expect(page.locator(f".ways button[value='{lowest(OTHER)}']")).to_have_attribute("aria-pressed", "true")
    tap(page, "labels", "notes")
    expect(page.locator(".labels button[value=notes]")).to_have_attribute("aria-pressed", "true", timeout=WAIT)
    tap(page, "undo")
    expect_places(page, BEST.places)


def test_the_tab_is_reached_and_used_by_keys(desk: Visit, served: Served) -> None:
    page = desk.page
    opened(page, served)
    stops = page.locator("#staff [data-press][tabindex='0']")
    expect(stops).to_have_count(1)
    stops.focus()
    assert page.evaluate("document.activeElement.ariaLabel").endswith(
        f"string {BEST.places[0].string} fret {BEST.places[0].fret}"
    )
    for _ in range(INDEX):
        page.keyboard.press("ArrowRight")
    page.keyboard.press("Enter")
    expect(page.locator("#tapped button[name=hold]").first).to_be_visible(timeout=WAIT)
    # The focus is still there, though all was drawn anew; the places come next.
    page.wait_for_function(
        "(press) => document.activeElement.dataset.press === press", arg=f"place {INDEX}", timeout=WAIT
    )
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.name") == "hold"
    page.locator(f"#tapped button[value='{INDEX}:{STRING}']").focus()
    page.keyboard.press("Space")
    expect_link(page, f"#v=1&hold={INDEX}:{STRING}")
    assert page.evaluate("document.activeElement.value") == f"{INDEX}:{STRING}"


def test_twelve_keys_are_shown_to_practise(phone: Visit, served: Served) -> None:
    page = phone.page
    opened(page, served)
    assert page.locator(".in-keys li").count() == 0
    expect(page.locator(".practise .caution")).to_contain_text("pain")
    tap(page, "practise", "shape")
    expect(page.locator(".in-keys li")).to_have_count(12, timeout=WAIT)
    figures = page.locator(".in-keys figure").count()
    expect(page.locator(".in-keys figure > svg")).to_have_count(figures, timeout=WAIT)
    assert figures
    tap(page, "practise", "frets")
    expect(page.locator("#practised h3")).to_contain_text("frets 5 to 9", timeout=WAIT)
    page.select_option("#from", "7")
    expect(page.locator("#practised h3")).to_contain_text("frets 7 to 11", timeout=WAIT)
    expect(page.locator(".in-keys li")).to_have_count(12)
    assert page.evaluate("document.documentElement.scrollWidth") <= PHONE["width"]


def test_a_line_outside_the_neck_says_so_and_is_brought_back_by_one_tap(phone: Visit, served: Served) -> None:
    page = phone.page
    page.goto(served.url(PAGE) + "#v=1&octave=-3")
    expect(page.locator(".way-told")).to_contain_text("outside the guitar", timeout=WAIT)
    expect(page.locator("#staff .tab")).to_have_count(0)
    tap(page, "octave")
    page.locator("#staff .tab").first.wait_for(timeout=WAIT)
    tap(page, "undo")
    expect(page.locator(".way-told")).to_contain_text("outside the guitar", timeout=WAIT)


def test_the_page_is_for_the_players_own_instrument(phone: Visit, served: Served) -> None:
    page = phone.page
    seven = Settings(INSTRUMENTS["seven-string guitar"], stretch=4)
    keep(page, seven)
    opened(page, served)
    page.wait_for_function(
        "() => JSON.parse(document.getElementById('staff').dataset.engraving).strings === 7", timeout=WAIT
    )
    way = fingered(LINE, ANY_WAY, seven).chosen
    assert way is not None
    cells = page.locator(".notes td:nth-last-child(-n + 2)").all_inner_texts()
    assert [int(text) for text in cells] == [number for place in way.places for number in place]
    expect(page.locator(".necks svg").first.locator(".names text")).to_have_count(7)
