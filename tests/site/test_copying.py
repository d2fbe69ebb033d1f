"""Copy the figure in a browser: by touch, by keyboard and without a script, on keys and on the neck."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from browsing import PHONE, Served, Visit
from playwright.sync_api import Page, expect
from practising import WAIT, expect_counted, go_on, kept, now, open_page, played, without_engine

from engine.drills.question import Choice, Keys, Press, Question
from engine.practice.heard import sound_of
from engine.practice.records import records_of
from engine.practice.rounds import plan_round
from engine.theory.wording import render

pytestmark = pytest.mark.browser

OpenPage = Callable[..., Visit]
SLUG = "copy-the-figure"
PAGE = f"drills/{SLUG}.html"
LEAST = 44  # pixels, of what is tapped
FOCUSED = "() => document.activeElement.ariaLabel"
SAID = "() => document.getElementById('said').textContent"
# Notes each sound that is given to the browser.
COUNTED = """
globalThis.begun = 0;
const start = AudioBufferSourceNode.prototype.start;
AudioBufferSourceNode.prototype.start = function (...when) {
  begun += 1;
  return start.apply(this, when);
};
"""


def label(page: Page, choice: Choice) -> Any:
    """What is tapped at a choice's place, in the step that is next."""
    name = render(choice.label)
    return page.locator(".round > .now, .round:not(:has(> .now)) > .question:visible").first.locator(
        f'.step:visible input[aria-label="{name}"] + label:visible'
    ).last  # fmt: skip


def tap(page: Page, choice: Choice) -> None:
    """Taps with a finger: whatever lies on top there is what is hit."""
    box = label(page, choice).bounding_box()
    page.touchscreen.tap(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)


def taps_of(question: Question, wrong: bool = False) -> list[tuple[int, Choice]]:
    """The taps that answer a question, rightly or with a wrong one at the end, each with its index."""
    found = []
    for number, step in enumerate(question.steps):
        last = number + 1 == len(question.steps)
        wanted = next(choice for choice in step if choice.right != (wrong and last))
        found.append((question.choices.index(wanted), wanted))
    return found


@pytest.mark.parametrize("link", ["", "#on=neck&level=2&count=4&seed=5"], ids=["keyboard", "neck"])
def test_a_round_is_played_by_touch_to_its_end(phone: Visit, served: Served, link: str) -> None:
    page = phone.page
    open_page(page, served.url(PAGE) + link)
    if link:
        expect(page.locator(".now .board:not(.keyed)")).to_be_visible(timeout=WAIT)
    round_ = played(page)
    choices = []
    for number, question in enumerate(round_.questions):
        taps = taps_of(question, wrong=number % 3 == 1)
        for step, (_, choice) in enumerate(taps, 2):
            expect(page.locator(".now .doing:visible")).to_have_text(f"Note {step} of {len(taps) + 1}")
            assert page.locator(".now a.next:visible").count() == 0
            tap(page, choice)
        choices.append(taps[-1][0])
        expect(page.locator(".now a.next")).to_be_visible()
        assert [record["choice"] for record in kept(page)] == choices
        assert page.locator(".now .why:visible").count() == (2 if number % 3 == 1 else 1)
        assert page.locator(".now .picture.after").is_visible()
        go_on(page)
    assert now(page) == "result"
    expect_counted(page, *choices)
    facts = records_of(played(page, *choices))
    assert [(record["value"], record["right"], record["mistake"], record["heard"]) for record in kept(page)] == [
        (record["value"], record["right"], record["mistake"], 0) for record in facts
    ]


def test_it_is_heard_as_often_as_one_likes_and_yours_beside_the_right_one(visit: OpenPage, served: Served) -> None:
    page = visit().page
    page.add_init_script(COUNTED)
    page.goto(served.url(PAGE))
    question = plan_round(SLUG).questions[0]

    def hear(button: str) -> int:
        before = page.evaluate("begun")
        page.locator(button).click()
        page.wait_for_function("before => begun > before", arg=before, timeout=WAIT)
        expect(page.locator(button)).to_have_attribute("aria-pressed", "false", timeout=WAIT)
        return int(page.evaluate("begun")) - before

    for _ in range(2):
        assert hear("#q1 .play") == len(sound_of(question, "asked").events)
    taps = taps_of(question, wrong=True)
    for _, choice in taps:
        label(page, choice).click()
    assert hear('#q1 .listen [data-hear="yours"]') == len(sound_of(question, "yours", taps[-1][0]).events)
    assert hear('#q1 .listen [data-hear="right"]') == len(sound_of(question, "right").events)
    assert [record["heard"] for record in kept(page)] == [2]


@pytest.mark.parametrize("left", [False, True], ids=["", "left-handed"])
def test_arrow_keys_go_from_key_to_key(desk: Visit, served: Served, left: bool) -> None:
    without_engine(served)
    page = desk.page
    open_page(page, served.url(PAGE))
    if left:
        # A keyboard has its low notes on the left for everybody.
        page.evaluate("document.documentElement.classList.add('left-handed')")
    question = played(page).questions[0]
    assert isinstance(question.board, Keys)
    names = [render(choice.label) for choice in question.steps[0]]
    page.keyboard.press("ArrowRight")
    assert page.evaluate(FOCUSED) == names[0]
    for key in ("ArrowLeft", "ArrowUp", "ArrowDown", "1", "9"):
        page.keyboard.press(key)
        assert page.evaluate(FOCUSED) == names[0], key
    at = 0
    for _, choice in taps_of(question):
        assert isinstance(choice.value, Press)
        there = choice.value.key - question.board.low
        for _ in range(abs(there - at)):
            page.keyboard.press("ArrowRight" if there > at else "ArrowLeft")
        assert page.evaluate(FOCUSED) == names[there]
        page.keyboard.press("Enter")
        at = there
    expect(page.locator(".now .right :checked")).to_have_count(1)
    assert f"{names[at]}: right, 3 of 3." in page.evaluate(SAID)
    page.keyboard.press("Enter")
    assert now(page) == "q2"
    lows = page.locator("#q2 .step").first.locator(".front label").evaluate_all(
        "all => all.map(one => one.getBoundingClientRect().x)"
    )  # fmt: skip
    assert lows == sorted(lows)


def test_it_is_played_to_its_end_without_a_script(visit: OpenPage, served: Served) -> None:
    page = visit(java_script_enabled=False).page
    page.goto(served.url(PAGE))
    questions = plan_round(SLUG).questions
    first = page.locator("#q1")
    assert first.locator("[data-hear]:visible, .picture:visible, .next:visible").count() == 0
    first.locator("summary").click()
    assert first.locator(".picture:visible .degree").all_text_contents() == [""] * 3
    for number, question in enumerate(questions, 1):
        for _, choice in taps_of(question, wrong=number == 2):
            label(page, choice).click()
        section = page.locator(f"#q{number}")
        assert section.locator(".picture:visible").count() == 1
        assert section.locator(".why:visible").count() == (2 if number == 2 else 1)
        section.locator(".next").click()
    assert page.url.endswith("#result")
    assert page.locator("#result .again li:visible").count() == 1


@pytest.mark.parametrize("width", [320, 360, 768, 1280])
def test_every_key_is_as_wide_as_a_thumb_and_stands_where_it_is_drawn(
    visit: OpenPage, served: Served, width: int
) -> None:
    served.replaced["app/client.js"] = ""
    page = visit(viewport={"width": width, "height": PHONE["height"]}).page
    page.goto(served.url(PAGE))
    step = page.locator("#q1 .step").first
    boxes = "all => all.map(one => one.getBoundingClientRect().toJSON())"
    front, back = (step.locator(f".{row} input").evaluate_all(boxes) for row in ("front", "back"))
    least = LEAST if width >= 360 else 40
    assert min(min(box["width"], box["height"]) for box in (*front, *back)) >= least
    assert len(front) == 8
    board = page.locator("#q1 .board").bounding_box()
    for number, box in enumerate(front):
        assert box["x"] == pytest.approx(board["x"] + number * board["width"] / 8, abs=1)
    assert page.evaluate("() => document.documentElement.scrollWidth") <= width
    # Each black key is drawn within what is tapped, and no two of them share a place.
    drawn = page.locator("#q1 .drawn .black").evaluate_all(boxes)
    for key, box in zip(drawn, back, strict=True):
        assert box["x"] - 1 <= key["x"]
        assert key["x"] + key["width"] <= box["x"] + box["width"] + 1
        assert key["y"] + key["height"] == pytest.approx(box["y"] + box["height"], abs=4)
    for one, other in zip(back, back[1:], strict=False):
        assert other["x"] >= one["x"] + one["width"] - 0.5


def test_a_white_key_is_hit_between_the_black_ones_too(phone: Visit, served: Served) -> None:
    without_engine(served)
    page = phone.page
    open_page(page, served.url(PAGE))
    hit = """() => {
      const key = (name) => document.querySelector(`#q1 .step input[aria-label="${name}"] + label`);
      const named = (x, y) => document.elementFromPoint(x, y).closest("label")?.control.ariaLabel;
      const board = document.querySelector("#q1 .board .drawn").getBoundingClientRect();
      const [e, f] = [key("E4"), key("F4")].map((label) => label.getBoundingClientRect());
      return [named(e.right - 3, board.top + 10), named(f.left + 3, board.top + 10), named(e.x + 3, board.top + 10)];
    }"""
    assert page.evaluate(hit) == ["E4", "F4", "D♯4 or E♭4"]
