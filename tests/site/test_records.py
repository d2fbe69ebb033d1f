"""Every answer is a record on the device before its verdict shows; what stands in the way of that is said."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any

import pytest
from browsing import PHONE, Served, Visit
from playwright.sync_api import Page, expect
from practising import (
    DRILL,
    HOLD,
    REFUSED,
    WAIT,
    choose,
    choose_and_go_on,
    expect_counted,
    go_on,
    held_back,
    kept,
    now,
    open_page,
    plan,
    played,
    sentence,
    without_engine,
)

from engine.practice.records import SPEC, records_of

pytestmark = pytest.mark.browser

OpenPage = Callable[..., Visit]

REFUSALS = {
    "absent": "Object.defineProperty(globalThis, 'indexedDB', {value: undefined})",
    "refused": REFUSED,
    "failing": """
      IDBFactory.prototype.open = () => {
        const request = new EventTarget();
        request.error = new DOMException('no', 'UnknownError');
        setTimeout(() => request.dispatchEvent(new Event('error')));
        return request;
      };""",
    "silent": "IDBFactory.prototype.open = () => new EventTarget()",
}
# What a browser does without room: the write is taken, then all of it is undone.
FULL = """
const { put } = IDBObjectStore.prototype;
IDBObjectStore.prototype.put = function (...all) {
  const request = put.apply(this, all);
  if (globalThis.full) this.transaction.abort();
  return request;
};
"""
NO_LOCAL_STORAGE = """
Object.defineProperty(globalThis, "localStorage", {get() { throw new DOMException("no", "SecurityError"); }});
"""
HIDE = """(hidden) => {
  Object.defineProperty(document, "hidden", {value: hidden, configurable: true});
  document.dispatchEvent(new Event("visibilitychange"));
}"""


def verdicts(page: Page) -> Any:
    return page.locator(".verdict:visible")


def test_a_verdict_waits_until_the_answer_is_kept(phone: Visit, served: Served) -> None:
    without_engine(served)
    page = phone.page
    open_page(page, served.url(DRILL))
    page.evaluate(HOLD)
    page.locator("#q1 .choice label").first.click()
    page.wait_for_timeout(700)
    assert verdicts(page).count() == 0
    assert page.locator("#said").text_content() == ""
    page.evaluate("() => release()")
    expect(verdicts(page).first).to_be_visible()
    assert [record["place"] for record in kept(page)] == [0]


def test_a_device_that_does_not_answer_is_said_and_the_answer_comes_later(phone: Visit, served: Served) -> None:
    without_engine(served)
    page = phone.page
    open_page(page, served.url(DRILL))
    page.evaluate(HOLD)
    choose(page)
    expect(page.locator("#notice span")).to_have_text(sentence(page, "not-kept"))
    page.evaluate("() => release()")
    go_on(page)
    choose(page)
    assert [record["place"] for record in kept(page)] == [0, 1]


def test_a_record_has_the_fields_of_its_format(phone: Visit, served: Served) -> None:
    without_engine(served)
    page = phone.page
    began = time.time() * 1000
    open_page(page, served.url(DRILL))
    choices = [number % 4 for number in range(10)]
    choose_and_go_on(page, *choices)
    records = kept(page)
    assert len(records) == 10
    for record in records:
        assert set(record) == {name for name, _, _ in SPEC}
        for name, kinds, _ in SPEC:
            assert type(record[name]) in kinds, name
        assert 0 <= record["ms"] <= time.time() * 1000 - began
        assert began <= record["at"] <= time.time() * 1000
    assert len({record["round"] for record in records}) == 1
    facts = [{**record, "ms": None} for record in records]
    for record, expected in zip(facts, records_of(played(page, *choices)), strict=True):
        assert record == {**expected, "round": record["round"], "at": record["at"]}


def test_time_out_of_view_does_not_count(phone: Visit, served: Served) -> None:
    without_engine(served)
    page = phone.page
    page.clock.install()
    open_page(page, served.url(DRILL))
    page.clock.fast_forward(20_000)
    page.evaluate(HIDE, True)
    page.clock.fast_forward(500_000)
    page.evaluate(HIDE, False)
    page.clock.fast_forward(20_000)
    choose(page)
    assert 40_000 <= kept(page)[0]["ms"] < 200_000


def test_what_is_answered_before_any_script_is_taken_over_in_place(phone: Visit, served: Served) -> None:
    """Client and engine come later; then all is kept, graded and counted, and nothing has moved."""
    page = phone.page
    release = held_back(page, "**/client.js")
    page.goto(served.url(DRILL), wait_until="commit")
    page.locator("#q1 .choice label").nth(1).click()
    page.locator("#q1 a.next").click()
    page.locator("#q2 .choice label").nth(2).click()
    places = page.locator("#q2 .choice").evaluate_all("all => all.map(one => one.getBoundingClientRect().y)")
    assert page.locator(".round > .now").count() == 0
    release()
    page.wait_for_selector(".round > .now", timeout=WAIT)
    expect(page.locator("#q3")).to_be_visible()
    assert page.locator("#q2 input:checked").get_attribute("value") == "2"
    page.locator("#q3 .choice label").nth(3).click()
    expect_counted(page, 1, 2, 3)
    records = kept(page)
    assert [(record["place"], record["choice"]) for record in records] == [(0, 1), (1, 2), (2, 3)]
    assert [record["ms"] is None for record in records] == [True, True, False]
    page.evaluate("() => { document.querySelector('.now').classList.remove('now'); q2.classList.add('now'); }")
    assert places == page.locator("#q2 .choice").evaluate_all("all => all.map(one => one.getBoundingClientRect().y)")


def test_early_answers_go_into_the_round_that_was_broken_off(phone: Visit, served: Served) -> None:
    without_engine(served)
    page = phone.page
    open_page(page, served.url(DRILL))
    choose(page, 1)
    page.evaluate("() => localStorage.clear()")
    release = held_back(page, "**/client.js")
    page.goto(served.url(DRILL), wait_until="commit")
    page.locator("#q1 .choice label").nth(2).click()
    page.locator("#q1 a.next").click()
    page.locator("#q2 .choice label").nth(3).click()
    release()
    expect(page.locator("#q3.now")).to_be_visible(timeout=WAIT)
    expect(page.locator("#q2 input:disabled")).to_have_count(3)
    records = kept(page)
    assert [(record["place"], record["choice"]) for record in records] == [(0, 1), (1, 3)]
    assert len({record["round"] for record in records}) == 1
    assert page.locator("#q1 input:checked").get_attribute("value") == "1", "the first answer counts"


def test_two_tabs_on_one_round_keep_the_answers_of_both(phone: Visit, served: Served) -> None:
    without_engine(served)
    one = phone.page
    open_page(one, served.url(DRILL))
    choose_and_go_on(one, 0)
    two = one.context.new_page()
    open_page(two, served.url(DRILL))
    assert now(two) == "q2"
    choose_and_go_on(one, 1)
    go_on_without_answer = "() => { document.querySelector('.now').classList.remove('now'); q3.classList.add('now'); }"
    two.evaluate(go_on_without_answer)
    choose_and_go_on(two, 2)
    assert [(record["place"], record["choice"]) for record in kept(one)] == [(0, 0), (1, 1), (2, 2)]
    assert len({record["round"] for record in kept(one)}) == 1
    # The same question in both: the first answer counts, and the second tab shows it.
    choose(one, 3)
    choose(two, 1)
    assert [record["choice"] for record in kept(two) if record["place"] == 2] == [2]
    assert one.locator("#q3 input:checked").get_attribute("value") == "2"
    assert two.locator("#q4 input:checked").get_attribute("value") == "1"
    one.reload()
    expect(one.locator("#q5.now")).to_be_visible(timeout=WAIT)


@pytest.mark.parametrize("refusal", REFUSALS)
def test_a_browser_that_keeps_nothing_says_so_and_plays(refusal: str, phone: Visit, served: Served) -> None:
    without_engine(served)
    page = phone.page
    page.add_init_script(REFUSALS[refusal])
    open_page(page, served.url(DRILL))
    expect(page.locator("#notice span")).to_have_text(sentence(page, "not-kept"))
    choose_and_go_on(page, 0, 1)
    assert page.locator("#notice span").text_content() == "", "once is enough"
    assert now(page) == "q3"


def test_what_else_is_to_be_said_does_not_drown_it(phone: Visit, served: Served) -> None:
    phone.watch.expect("")
    served.missing.add("runtime/worker.py")
    page = phone.page
    page.add_init_script(REFUSED)
    open_page(page, served.url(DRILL))
    both = f"{sentence(page, 'not-kept')} {sentence(page, 'cannot-load')}"
    expect(page.locator("#notice span")).to_have_text(both, timeout=WAIT)


def test_a_full_device_is_said_and_the_answer_is_kept_once_there_is_room(phone: Visit, served: Served) -> None:
    without_engine(served)
    page = phone.page
    page.add_init_script(FULL)
    open_page(page, served.url(DRILL))
    page.evaluate("() => { globalThis.full = true; }")
    choose(page)
    expect(page.locator("#notice span")).to_have_text(sentence(page, "not-kept"))
    assert kept(page) == []
    page.evaluate("() => { globalThis.full = false; }")
    go_on(page)
    choose(page)
    assert [record["place"] for record in kept(page)] == [0, 1]


def test_a_store_that_is_taken_away_is_opened_again(phone: Visit, served: Served) -> None:
    without_engine(served)
    page = phone.page
    open_page(page, served.url(DRILL))
    choose_and_go_on(page, 0)
    session = page.context.new_cdp_session(page)
    session.send("Storage.clearDataForOrigin", {"origin": served.origin, "storageTypes": "indexeddb"})
    page.wait_for_timeout(200)
    choose(page)
    assert [record["place"] for record in kept(page)] == [1]
    assert page.locator("#notice").is_hidden()


def test_a_round_is_kept_where_local_storage_is_refused(visit: OpenPage, served: Served) -> None:
    without_engine(served)
    page = visit(viewport=PHONE).page
    page.add_init_script(NO_LOCAL_STORAGE)
    open_page(page, served.url(DRILL))
    choose_and_go_on(page, 0, 1)
    before = plan(page)
    page.reload()
    expect(page.locator("#q3.now")).to_be_visible(timeout=WAIT)
    assert plan(page) == before
