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
        # What was tapped, what would have been right, and the whole figure.
        assert page.locator(".now .why:visible").count() == (3 if number % 3 == 1 else 2)
        assert page.locator(".now .whole:visible").count() == 1
        assert page.locator(".now .doing:visible").count() == 0
        expect(page.locator(".now .picture.after")).to_be_visible()
        go_on(page)
    assert now(page) == "result"
    expect_counted(page, *choices)
    facts = records_of(played(page, *choices))
    assert [(record["value"], record["right"], record["mistake"], record["heard"]) for record in kept(page)] == [
        (record["value"], record["right"], record["mistake"], 0) for record in facts
    ]


def test_a_later_note_that_is_tapped_too_soon_is_marked_as_the_player_s(phone: Visit, served: Served) -> None:
    without_engine(served)
    page = phone.page
    open_page(page, served.url(PAGE))
    first, *_, last = played(page).questions[0].steps
    (right,) = [choice for choice in last if choice.right]
    (soon,) = [choice for choice in first if str(choice.value) == str(right.value)]
    tap(page, soon)
    expect(page.locator(".now a.next")).to_be_visible()
    on_top = """name => {
      const box = document.querySelector(`.now input[aria-label="${name}"]:checked + label`).getBoundingClientRect();
      // What is seen is asked for, though nothing is tapped any more.
      for (const label of document.querySelectorAll(".now .board label")) label.style.pointerEvents = "auto";
      return document.elementFromPoint(box.x + box.width / 2, box.y + box.height / 2).closest("label").innerText;
    }"""
    said = page.evaluate(on_top, render(soon.label))
    assert "yours" in said
    assert "3 of 3" in said


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
        assert section.locator(".why:visible").count() == (3 if number == 2 else 2)
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
    front, back = (
        step.locator(f".{row} {part}").evaluate_all(boxes) for row, part in (("front", "input"), ("back", "label"))
    )
    least = LEAST if width >= 360 else 40
    assert min(min(box["width"], box["height"]) for box in front) >= least
    assert min(box["height"] for box in back) >= least
    assert len(front) == 8
    board = page.locator("#q1 .board").bounding_box()
    for number, box in enumerate(front):
        assert box["x"] == pytest.approx(board["x"] + number * board["width"] / 8, abs=1)
    assert page.evaluate("() => document.documentElement.scrollWidth") <= width
    # Each black key's box is as it is drawn.
    drawn = page.locator("#q1 .drawn .black").evaluate_all(boxes)
    for key, box in zip(drawn, back, strict=True):
        slack = 1 + width / 400
        assert box["x"] == pytest.approx(key["x"], abs=slack)
        assert box["x"] + box["width"] == pytest.approx(key["x"] + key["width"], abs=slack)
        assert key["y"] + key["height"] == pytest.approx(box["y"] + box["height"], abs=5)


# What is hit where each key is drawn, as [its name, the name of what is hit, whether that is beside the black keys]:
# black ones from edge to edge; white ones in their lower part, and above it wherever they show 4 px from a black key.
DRAWN = """() => {
  const board = document.querySelector("#q1 .board");
  const all = board.querySelector(".drawn .white").getBoundingClientRect();
  const black = [...board.querySelectorAll(".drawn .black")].map((key) => key.getBoundingClientRect());
  const named = (row) =>
    [...board.querySelectorAll(".step:first-of-type")[0].querySelectorAll(row + " input")].map((box) => box.ariaLabel);
  const points = [];
  named(".back").forEach((name, place) => {
    const { left, right, top, bottom, width } = black[place];
    for (const x of [left + 1, left + width / 2, right - 1]) {
      for (const y of [top + 6, (top + bottom) / 2, bottom - 3]) points.push([name, x, y]);
    }
  });
  const wide = all.width / 8;
  named(".front").forEach((name, place) => {
    const left = all.left + place * wide;
    for (let x = left + 2; x < left + wide - 1; x += 2) {
      for (const y of [all.top + 8, all.top + 60, all.top + 100, all.bottom - 60, all.bottom - 8]) {
        const beside = black.some((key) => x > key.left - 4 && x < key.right + 4 && y < key.bottom + 4);
        if (!beside) points.push([name, x, y]);
      }
    }
  });
  const hit = (x, y) => document.elementFromPoint(x, y)?.closest("label")?.control.ariaLabel;
  return points.map(([name, x, y]) => [name, hit(x, y), y < all.top + 110]);
}"""


def test_what_is_drawn_as_a_key_is_that_key(phone: Visit, served: Served) -> None:
    served.replaced["app/client.js"] = ""
    page = phone.page
    page.goto(served.url(PAGE))
    for number in range(1, 11):
        page.evaluate(f"location.hash = 'q{number}'")
        page.locator(f"#q{number} .board").scroll_into_view_if_needed()
        found = page.evaluate(DRAWN.replace("#q1", f"#q{number}"))
        assert [point for point in found if point[0] != point[1]] == []
        above = {name for name, _, high in found if high}
        # Every one of the thirteen keys shows beside the black ones too, and is hit there.
        assert len({name for name, *_ in found}) == len(above) == 13
