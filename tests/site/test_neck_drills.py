"""The drills on the neck: played by touch, by keyboard and without a script; every board fits its window."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise
from typing import Any

import pytest
from browsing import DESK, PHONE, Served, Visit
from playwright.sync_api import Page, expect
from practising import WAIT, expect_counted, go_on, kept, now, open_page, played, without_engine
from tapped import BASS, EIGHT, a_round, tab_question, tap_question

from engine.drills.catalogue import BY_SLUG
from engine.drills.question import Question, Tap
from engine.neck.instrument import GUITAR, Place
from engine.practice.records import records_of
from engine.view.round import round_html

pytestmark = pytest.mark.browser

OpenPage = Callable[..., Visit]
NOTE = "drills/note-on-the-neck.html"
SEQUENCE = "drills/arpeggio-in-place.html"
ARPEGGIO = ("3", "5", "b7", "9")
LEAST = 44  # pixels, of what is tapped
SAID = "() => document.getElementById('said').textContent"
FOCUSED = "() => document.activeElement.ariaLabel"


def put(page: Page, *questions: Question) -> None:
    """Puts a round of these questions into the page."""
    html = round_html(a_round(*questions))
    page.evaluate("html => { document.getElementById('round').outerHTML = html; }", html)


def quiet(visit: OpenPage, served: Served, **options: object) -> Page:
    """A drill's page whose client does nothing: what is seen there the page can without a script."""
    served.replaced["app/client.js"] = ""
    page = visit(**options).page
    page.goto(served.url(NOTE))
    return page


def label(page: Page, place: Place) -> Any:
    """What is tapped at a place in the step that is next."""
    section = page.locator(".round > .now, .round:not(:has(> .now)) > .question:visible").first
    spot = section.locator(f'input[aria-label="string {place.string}, fret {place.fret}"] + label:visible')
    return spot.last


def tap(page: Page, place: Place) -> None:
    """Taps with a finger, where the page has touch: whatever lies on top there is what is hit."""
    box = label(page, place).bounding_box()
    page.touchscreen.tap(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)


def taps_of(question: Question, wrong: bool = False) -> list[tuple[int, Place]]:
    """The taps that answer a question, rightly or with a wrong one at its end: index of the choice, and place."""
    found = []
    for number, step in enumerate(question.steps):
        last = number + 1 == len(question.steps)
        wanted = next(choice for choice in step if choice.right != (wrong and last))
        assert isinstance(wanted.value, Tap)
        found.append((question.choices.index(wanted), wanted.value.place))
    return found


@pytest.mark.parametrize("path", [NOTE, SEQUENCE])
def test_a_round_is_played_by_touch_to_its_end(phone: Visit, served: Served, path: str) -> None:
    page = phone.page
    open_page(page, served.url(path))
    round_ = played(page)
    choices = []
    for number, question in enumerate(round_.questions):
        taps = taps_of(question, wrong=number % 3 == 1)
        for step, (_, place) in enumerate(taps):
            if len(taps) > 1:
                expect(page.locator(".now .doing:visible")).to_contain_text(f"{step + 1} of {len(taps)}: the ")
            assert page.locator(".now a.next:visible").count() == 0
            tap(page, place)
        choices.append(taps[-1][0])
        expect(page.locator(".now a.next")).to_be_visible()
        assert [record["choice"] for record in kept(page)] == choices
        assert page.locator(".now .why:visible").count() == (2 if number % 3 == 1 else 1)
        go_on(page)
    assert now(page) == "result"
    missed = sum(number % 3 == 1 for number in range(len(choices)))
    assert page.locator(".again li:visible").count() == missed
    # Where a script runs, a round is not cleared but followed by the next one.
    assert page.locator("#result button.clear:visible").count() == 0
    expect_counted(page, *choices)
    facts = records_of(played(page, *choices))
    assert [(record["value"], record["right"], record["mistake"]) for record in kept(page)] == [
        (record["value"], record["right"], record["mistake"]) for record in facts
    ]
    # Only the missed ones come again.
    page.locator('[data-how="only missed"]').click(timeout=WAIT)
    expect(page.locator("#q1.now")).to_be_visible(timeout=WAIT)
    assert page.locator(".question").count() == missed


def test_the_keyboard_goes_over_the_neck(desk: Visit, served: Served) -> None:
    without_engine(served)
    page = desk.page
    open_page(page, served.url(NOTE))
    question = played(page).questions[0]
    assert question.board
    low, high, strings = question.board.low, question.board.high, len(question.board.instrument.strings)
    page.keyboard.press("ArrowDown")
    assert page.evaluate(FOCUSED) == f"string 1, fret {low}"
    for key in ("ArrowUp", "ArrowLeft", "1", "2", "9"):
        page.keyboard.press(key)
        assert page.evaluate(FOCUSED) == f"string 1, fret {low}", key
    for key, there in (("ArrowRight", f"1, fret {low + 1}"), ("ArrowDown", f"2, fret {low + 1}")):
        page.keyboard.press(key)
        assert page.evaluate(FOCUSED) == f"string {there}"
    for _ in range(9):
        page.keyboard.press("ArrowDown")
        page.keyboard.press("ArrowRight")
    assert page.evaluate(FOCUSED) == f"string {strings}, fret {high}"
    assert page.locator(".round input:checked").count() == 0
    _, place = taps_of(question)[-1]
    go_to(page, place)
    page.keyboard.press("Enter")
    expect(page.locator(".now .right :checked")).to_have_count(1)
    assert f"string {place.string}, fret {place.fret}: right." in page.evaluate(SAID)
    page.keyboard.press("ArrowUp")
    page.keyboard.press("Enter")
    assert now(page) == "q2"
    assert len(kept(page)) == 1


def go_to(page: Page, place: Place) -> None:
    """By arrow keys from wherever the focus is on the neck."""
    words = page.evaluate(FOCUSED).replace(",", "").split()
    string, fret = int(words[1]), int(words[3])
    for _ in range(abs(place.string - string)):
        page.keyboard.press("ArrowDown" if place.string > string else "ArrowUp")
    for _ in range(abs(place.fret - fret)):
        page.keyboard.press("ArrowRight" if place.fret > fret else "ArrowLeft")


def test_a_row_of_steps_by_keyboard_is_said_step_by_step(desk: Visit, served: Served) -> None:
    without_engine(served)
    page = desk.page
    open_page(page, served.url(SEQUENCE))
    question = played(page).questions[0]
    page.keyboard.press("ArrowDown")
    taps = taps_of(question)
    for step, (_, place) in enumerate(taps):
        go_to(page, place)
        assert page.evaluate(FOCUSED) == f"string {place.string}, fret {place.fret}"
        page.keyboard.press("Space")
        if step + 1 < len(taps):
            expect(page.locator("#said")).to_contain_text(f"{step + 2} of {len(taps)}: the ")
            assert page.evaluate(FOCUSED) == f"string {place.string}, fret {place.fret}"
            assert page.locator(".now .onward :checked").count() == step + 1
            assert kept(page) == []
    expect(page.locator(".now .choice.right :checked")).to_have_count(1)
    assert [record["right"] for record in kept(page)] == [True]


def test_it_plays_without_scripts(visit: OpenPage, served: Served) -> None:
    page = visit(viewport=PHONE, java_script_enabled=False, has_touch=True, is_mobile=True).page
    page.goto(served.url(SEQUENCE))
    first, second = page.locator("#q1"), page.locator("#q2")
    for hidden in ("b", ".verdict", ".why", ".next"):
        assert first.locator(f"{hidden}:visible").count() == 0, hidden
    count = first.locator(".step").count()
    for step in range(count - 1):
        assert first.locator(".doing:visible").inner_text().startswith(f"{step + 1} of {count}: the ")
        first.locator(".onward :not(:checked) + label:visible").last.click()
        assert first.locator(".onward :checked + label b:visible").count() == step + 1
        assert first.locator(".next:visible").count() == 0
        assert _marks(page) == ""
    first.locator(".choice.wrong label:visible").first.click()
    assert first.locator(".choice.wrong .verdict:visible").all_text_contents() == ["yours"]
    assert first.locator(".why:visible").count() == 2
    # The first answer stays, and nothing leads on from it.
    box = first.locator(".choice.right label").bounding_box()
    page.touchscreen.tap(box["x"] + 20, box["y"] + 20)
    assert first.locator(".choice :checked").count() == 1
    assert first.locator(".right :checked").count() == 0
    first.locator(".next").click()
    for _ in range(count - 1):
        second.locator(".onward :not(:checked) + label:visible").last.click()
    second.locator(".choice.right label:visible").click()
    assert second.locator(".why:visible").count() == 1
    assert _marks(page) == "12"
    second.locator(".next").click()
    page.goto(f"{page.url.split('#')[0]}#result")
    assert page.locator("#result .again li:visible").count() == 1


def _marks(page: Page) -> str:
    """Which questions have their answer, as the marks of progress show it."""
    marks = page.locator(".progress i").all()
    return "".join(str(place) for place, mark in enumerate(marks, 1) if not mark.evaluate(_HAS_A_POINT))


_HAS_A_POINT = "one => getComputedStyle(one, '::before').display !== 'none'"


def test_a_reload_goes_on_at_the_question_that_was_left(phone: Visit, served: Served) -> None:
    """What was answered stays; the taps of a row that was not finished are asked again."""
    without_engine(served)
    page = phone.page
    open_page(page, served.url(SEQUENCE))
    questions = played(page).questions
    for _, place in taps_of(questions[0]):
        tap(page, place)
    go_on(page)
    tap(page, taps_of(questions[1])[0][1])
    expect(page.locator(".now .doing:visible")).to_contain_text("2 of ")
    page.reload()
    expect(page.locator("#q2.now")).to_be_visible(timeout=WAIT)
    expect(page.locator(".now .doing:visible")).to_contain_text("1 of ")
    for _, place in taps_of(questions[1]):
        tap(page, place)
    expect(page.locator("#q2 .right :checked")).to_have_count(1)
    assert [(record["place"], record["right"]) for record in kept(page)] == [(0, True), (1, True)]
    # Who looks back sees the whole row, though only its last tap is kept.
    page.evaluate("() => { document.querySelector('.now').classList.remove('now'); q1.classList.add('now'); }")
    assert page.locator("#q1 .onward b:visible").count() >= len(questions[0].steps) - 1


def test_a_drag_over_the_neck_is_no_tap(phone: Visit, served: Served) -> None:
    without_engine(served)
    page = phone.page
    open_page(page, served.url(NOTE))
    box = page.locator("#q1 .board").bounding_box()
    touch = page.context.new_cdp_session(page)

    def send(kind: str, y: float | None = None) -> None:
        points = [] if y is None else [{"x": box["x"] + 150, "y": y}]
        touch.send("Input.dispatchTouchEvent", {"type": kind, "touchPoints": points})

    start = box["y"] + 200
    send("touchStart", start)
    for way in range(1, 13):
        send("touchMove", start - 12 * way)
    send("touchEnd")
    page.mouse.move(box["x"] + 100, box["y"] + 40)
    page.mouse.down()
    page.mouse.move(box["x"] + 220, box["y"] + 200, steps=5)
    page.mouse.up()
    page.wait_for_timeout(300)
    assert page.locator(".round input:checked").count() == 0
    assert kept(page) == []


BOARDS = {
    "guitar": tap_question(ARPEGGIO),
    "open strings": tap_question(("3",), low=0, high=5, mark=Place(6, 5)),
    "bass": tap_question(("5",), BASS, 12, 16),
    "eight strings": tap_question(ARPEGGIO, EIGHT, 1, 5),
}


def boxes(page: Page, part: str) -> list[dict[str, float]]:
    """Where the parts of the first step stand."""
    found: list[dict[str, float]] = (
        page.locator("#q1 .step")
        .first.locator(part)
        .evaluate_all("all => all.map(one => one.getBoundingClientRect().toJSON())")
    )
    return found


@pytest.mark.parametrize("board", BOARDS)
@pytest.mark.parametrize("width", [320, 360, 768, 1280])
def test_every_board_fits_its_window(visit: OpenPage, served: Served, board: str, width: int) -> None:
    page = quiet(visit, served, viewport={"width": width, "height": 740})
    put(page, BOARDS[board])
    places = [(box["x"], box["y"], box["width"], box["height"]) for box in boxes(page, "input")]
    least = LEAST if width >= 360 else 38
    assert min(min(wide, high) for _, _, wide, high in places) >= least - 0.01
    # A row a string, a column a fret, each narrower than the one before it.
    asked = BOARDS[board].board
    assert asked
    frets = asked.high - asked.low + 1
    rows = [places[start : start + frets] for start in range(0, len(places), frets)]
    assert len(rows) == len(asked.instrument.strings)
    for upper, lower in pairwise(rows):
        assert lower[0][1] >= upper[0][1] + upper[0][3] - 0.6
    fretted = rows[0][asked.low == 0 :]
    for left, right in pairwise(fretted):
        assert right[2] == pytest.approx(left[2] * 2 ** (-1 / 12), abs=0.6)
    assert page.evaluate("() => document.documentElement.scrollWidth") <= width


BELOW_NECK = """() => {
    const bottom = (place) => document.querySelector(`#q1 ${place}`).getBoundingClientRect().bottom;
    const bar = document.querySelector("#q1 .way-on").getBoundingClientRect();
    return { numbers: bottom(".board .fret"), bar: bar.top, end: bar.bottom };
}"""
WHYS = """() => [...document.querySelectorAll("#q1 .why")].filter((why) => why.checkVisibility())
    .map((why) => why.getBoundingClientRect().bottom)"""


@pytest.mark.parametrize("board", BOARDS)
@pytest.mark.parametrize("viewport", [{"width": 320, "height": 568}, PHONE], ids=["small", "phone"])
def test_nothing_lies_over_the_neck_or_over_what_a_tap_was(
    visit: OpenPage, served: Served, board: str, viewport: dict[str, int]
) -> None:
    page = quiet(visit, served, viewport=viewport)
    put(page, BOARDS[board])
    before = page.evaluate(BELOW_NECK)
    assert before["numbers"] <= before["bar"]
    if board != "eight strings":
        assert before["end"] <= viewport["height"] + 0.5
    page.locator("#q1 .step").first.locator(".wrong label").last.click()
    expect(page.locator("#q1 .why:visible").first).to_be_visible()
    assert max(page.evaluate(WHYS)) <= page.evaluate(BELOW_NECK)["bar"]


def test_on_a_small_phone_an_answer_brings_its_reasons_and_the_way_on_into_view(
    visit: OpenPage, served: Served
) -> None:
    page = visit(viewport={"width": 320, "height": 568}).page
    open_page(page, served.url(SEQUENCE))
    page.locator(".now .step").first.locator(".wrong label").last.click()
    expect(page.locator(".now .why:visible").first).to_be_visible()
    page.wait_for_function(
        "() => document.querySelector('.now .way-on').getBoundingClientRect().bottom <= innerHeight + 1"
    )


def test_a_board_is_one_stop_of_the_tab_key(desk: Visit, served: Served) -> None:
    page = desk.page
    open_page(page, served.url(NOTE))
    stops = "() => [...document.querySelectorAll('.now .board input')].filter((one) => one.tabIndex === 0).map((one) => one.ariaLabel)"
    first = page.evaluate(stops)
    assert len(first) == 1
    page.locator(".now .board input").first.focus()
    page.keyboard.press("ArrowDown")
    assert page.evaluate(stops) == [page.evaluate(FOCUSED)] != first


@pytest.mark.parametrize("width", [360, 768, 1280])
@pytest.mark.parametrize("board", BOARDS)
def test_strings_are_drawn_in_their_rows_and_frets_between_the_places(
    visit: OpenPage, served: Served, board: str, width: int
) -> None:
    page = quiet(visit, served, viewport={"width": width, "height": 1000})
    put(page, BOARDS[board])
    strings = page.evaluate(
        """() => [...document.querySelectorAll("#q1 .drawn .strings path")].map((string) => {
          const {top, bottom} = string.getBoundingClientRect();
          return (top + bottom) / 2;
        })"""
    )
    rows = sorted({(box["top"] + box["bottom"]) / 2 for box in boxes(page, "input")})
    assert strings == pytest.approx(rows, abs=1)
    drawn = page.evaluate(
        """() => {
          const svg = document.querySelector("#q1 .drawn");
          const {x, width} = svg.getBoundingClientRect();
          const wires = svg.querySelector(".wires").getAttribute("d").match(/M[\\d.]+/g);
          return wires.map((wire) => x + (Number(wire.slice(1)) * width) / svg.viewBox.baseVal.width);
        }"""
    )
    edges = [edge for box in boxes(page, ".r1 input") for edge in (box["left"], box["right"])]
    for wire in drawn:
        assert min(abs(wire - edge) for edge in edges) < 1


@pytest.mark.parametrize("board", BOARDS)
def test_left_handed_the_neck_is_turned_round(visit: OpenPage, served: Served, board: str) -> None:
    page = quiet(visit, served, viewport=PHONE)
    put(page, BOARDS[board])
    before = _row(page)
    page.evaluate("() => document.documentElement.classList.add('left-handed')")
    after = _row(page)
    width = PHONE["width"]
    assert before == sorted(before)
    assert [round(width - x) for x in after] == pytest.approx([round(x) for x in before], abs=1)
    # What is written is not turned round.
    page.locator("#q1 .wrong label:visible").nth(3).click()
    for part in ("label:visible b", ".why:visible", ".string"):
        turned = page.locator(f"#q1 {part}").first.evaluate("one => getComputedStyle(one).transform")
        assert turned == "none"
    assert page.locator("#q1 .why:visible").first.evaluate("one => getComputedStyle(one).direction") == "ltr"
    assert page.evaluate("() => document.documentElement.scrollWidth") <= width


def _row(page: Page) -> list[float]:
    return [(box["left"] + box["right"]) / 2 for box in boxes(page, ".r1 input")]


def test_left_handed_the_arrow_keys_go_where_they_point(desk: Visit, served: Served) -> None:
    without_engine(served)
    page = desk.page
    open_page(page, served.url(NOTE))
    page.evaluate("() => document.documentElement.classList.add('left-handed')")
    page.keyboard.press("ArrowDown")
    before = page.evaluate("() => document.activeElement.getBoundingClientRect().x")
    page.keyboard.press("ArrowRight")
    assert page.evaluate("() => document.activeElement.getBoundingClientRect().x") == before
    page.keyboard.press("ArrowLeft")
    assert page.evaluate("() => document.activeElement.getBoundingClientRect().x") < before


def test_verdicts_on_the_neck_differ_without_colour(visit: OpenPage, served: Served) -> None:
    page = quiet(visit, served, viewport=PHONE)
    put(page, BOARDS["guitar"])
    page.locator("#q1 .onward label:visible").first.click()
    page.locator("#q1 .wrong label:visible").first.click()
    style = "all => all.map(one => getComputedStyle(one).borderTopStyle)"
    assert set(page.locator("#q1 .right label, #q1 .onward label").evaluate_all(style)) == {"solid"}
    assert page.locator("#q1 .wrong:has(:checked) label").evaluate_all(style) == ["dashed"]
    texts = page.locator("#q1 .verdict:visible").all_text_contents()
    assert sorted(set(texts)) == ["right, 1 of 4", "right, 2 of 4", "right, 3 of 4", "right, 4 of 4", "yours"]


@pytest.mark.parametrize("viewport", [PHONE, DESK], ids=["phone", "desk"])
@pytest.mark.parametrize("instrument", [BASS, GUITAR, EIGHT], ids=["bass", "guitar", "eight strings"])
def test_tabs_can_be_read(visit: OpenPage, served: Served, viewport: dict[str, int], instrument: Any) -> None:
    page = quiet(visit, served, viewport=viewport)
    for notes in (4, 8, 12):
        put(page, tab_question(notes, instrument, 11))
        sizes = page.locator("#q1 .tab text").evaluate_all(
            "all => all.map(one => parseFloat(getComputedStyle(one).fontSize) * one.getScreenCTM().a)"
        )
        assert len(sizes) == 4 * notes
        assert min(sizes) > 10.5
        inside = page.locator("#q1 .tab").evaluate_all(
            """all => all.map(one => {
              const [tab, card] = [one, one.closest("label")].map(part => part.getBoundingClientRect());
              const [above, below] = [tab.top - card.top, card.bottom - tab.bottom];
              return Math.min(tab.left - card.left, card.right - tab.right, above, below);
            })"""
        )
        assert min(inside) > 4
        assert page.evaluate("() => document.documentElement.scrollWidth") <= viewport["width"]


def test_each_drill_on_the_neck_has_its_usual_round(visit: OpenPage, served: Served) -> None:
    page = quiet(visit, served, viewport=PHONE)
    for slug, entry in BY_SLUG.items():
        if entry.neck:
            page.goto(served.url(f"drills/{slug}.html"))
            assert page.locator(".question").count() == entry.count
            assert page.locator(f'#link-form [name="count"][value="{entry.count}"]').is_checked()
