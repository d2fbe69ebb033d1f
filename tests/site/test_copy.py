"""What is kept is kept twice: where a browser drops a database, what was in it comes back from the copy."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

import pytest
from browsing import PHONE, Served, Visit
from playwright.sync_api import Page, expect
from practising import (
    DRILL,
    HOLD,
    WAIT,
    choose,
    choose_and_go_on,
    go_on,
    kept,
    now,
    open_page,
    sentence,
    without_engine,
)

pytestmark = pytest.mark.browser

OpenPage = Callable[..., Visit]
STORES = ("answers", "rounds", "lines")
LINE = {"v": 1, "id": "a" * 16, "at": 1_700_000_000_000, "abc": 'X:1\nK:F\n"Gm7"_Bdfa "C7"gec=B|"Fmaj7"A8|]\n'}
BLANK = '<!doctype html><title>blank</title><link rel="icon" href="data:,">'
DROPS = {
    "store": """() => new Promise((resolve, reject) => {
      const dropping = indexedDB.deleteDatabase("linekeeper");
      dropping.onsuccess = () => resolve();
      dropping.onblocked = reject;
    })""",
    "copy": "() => navigator.storageBuckets.delete('linekeeper-copy')",
}
MANY = 1_250
# Many answers of an earlier time, into the store alone.
BEFORE = """async (many) => {
  const opening = indexedDB.open("linekeeper");
  await new Promise((resolve) => { opening.onsuccess = resolve; });
  const change = opening.result.transaction("answers", "readwrite");
  for (let n = 0; n < many; n += 1) change.objectStore("answers").add({ round: `r${n % 125}`, place: n, choice: 0, at: n });
  await new Promise((resolve) => { change.oncomplete = resolve; });
  opening.result.close();
}"""
# Counts the writes, and how many were open at the same time.
NOTES_WRITES = """
globalThis.writes = { count: 0, open: 0, most: 0 };
const { transaction } = IDBDatabase.prototype;
IDBDatabase.prototype.transaction = function (...given) {
  const made = transaction.apply(this, given);
  if (made.mode === "readwrite") {
    writes.count += 1;
    writes.most = Math.max(writes.most, (writes.open += 1));
    for (const end of ["complete", "abort"]) made.addEventListener(end, () => (writes.open -= 1));
  }
  return made;
};"""
NO_BUCKETS = "delete Navigator.prototype.storageBuckets;"
REFUSED_BUCKETS = (
    "StorageBucketManager.prototype.open = async () => { throw new DOMException('no', 'SecurityError'); };"
)
# A bucket that opens, with a database in it that does not.
BROKEN_COPY = """
const { open } = IDBFactory.prototype;
IDBFactory.prototype.open = function (...all) {
  if (this === indexedDB) return open.apply(this, all);
  throw new DOMException('no', 'UnknownError');
};"""


def leave(page: Page, served: Served) -> None:
    """To a page of the same host that has nothing to do with the site's."""
    served.replaced["blank.html"] = BLANK
    page.goto(served.url("blank.html"))


def everything(page: Page, copied: bool = False) -> dict[str, list[dict[str, Any]]]:
    return {store: kept(page, store, copied) for store in STORES}


def expect_copied(page: Page) -> None:
    """In the copy there is what is in the store, now or soon."""
    for _ in range(100):
        if everything(page) == everything(page, copied=True):
            return
        page.wait_for_timeout(50)
    assert everything(page) == everything(page, copied=True)


def read_a_line(page: Page, served: Served) -> None:
    """Reads a file with an own line in it, as the page of the answers does."""
    page.goto(served.url("records.html"))
    file = json.dumps({"format": "linekeeper-records", "v": 1, "records": [], "lines": [LINE]}).encode()
    page.locator("#answers-file").set_input_files({"name": "a.json", "mimeType": "application/json", "buffer": file})
    expect(page.locator("#answers-said")).not_to_be_empty(timeout=WAIT)


@pytest.mark.parametrize("dropped", DROPS)
def test_what_a_browser_drops_comes_back(dropped: str, phone: Visit, served: Served) -> None:
    page = phone.page
    read_a_line(page, served)
    without_engine(served)
    open_page(page, served.url(DRILL))
    choose_and_go_on(page, 1, 0)
    before = everything(page)
    assert (len(before["answers"]), len(before["lines"])) == (2, 1)
    assert before["rounds"]
    assert everything(page, copied=True) == before
    leave(page, served)
    page.evaluate(DROPS[dropped])
    assert everything(page, copied=dropped == "copy") != before, "it is not gone"
    page.evaluate(DROPS[dropped])  # to look made an empty one
    open_page(page, served.url(DRILL))
    assert now(page) == "q3", "the round goes on"
    assert page.locator("#notice").is_hidden()
    assert everything(page) == before
    expect_copied(page)
    choose(page, 2)
    assert [record["choice"] for record in kept(page)] == [1, 0, 2]
    expect_copied(page)


def test_years_of_answers_come_back_while_the_player_goes_on(phone: Visit, served: Served) -> None:
    without_engine(served)
    page = phone.page
    open_page(page, served.url(DRILL))
    choose_and_go_on(page, 1)
    page.evaluate(BEFORE, MANY)
    page.reload()
    expect_copied(page)
    assert len(kept(page, copied=True)) == MANY + 1
    leave(page, served)
    page.evaluate(DROPS["store"])
    open_page(page, served.url(DRILL))
    assert now(page) == "q2"
    choose(page, 0)
    assert page.locator("#notice").is_hidden()
    page.goto(served.url("records.html"))
    expect(page.locator("#answers-count")).to_have_text(
        sentence(page, "answers-kept").format(count=MANY + 2), timeout=WAIT
    )
    assert len(kept(page)) == MANY + 2

    # Forgotten while it still comes: none of it comes back.
    leave(page, served)
    page.evaluate(DROPS["copy"])
    page.goto(served.url("records.html"))
    page.locator('[data-answers="forget"]').click()
    expect(page.locator("#answers-said")).to_have_text(sentence(page, "answers-forgotten").format(count=MANY + 2))
    page.reload()
    page.wait_for_timeout(500)
    assert (kept(page), kept(page, copied=True)) == ([], [])


def test_what_was_forgotten_does_not_come_back_and_what_was_taken_back_does(phone: Visit, served: Served) -> None:
    page = phone.page
    without_engine(served)
    open_page(page, served.url(DRILL))
    choose_and_go_on(page, 1, 0)
    before = everything(page)
    for act in ("forget", "undo", "forget"):
        if act == "forget":  # what was forgotten can be taken back until the page is left
            page.goto(served.url("records.html"))
        page.locator(f'[data-answers="{act}"]').click()
        expect(page.locator("#answers-count")).to_have_text(
            sentence(page, "answers-kept").format(count=2 if act == "undo" else 0)
        )
        expect_copied(page)
        assert (kept(page) == before["answers"]) == (act == "undo")
    leave(page, served)
    page.evaluate(DROPS["store"])
    open_page(page, served.url(DRILL))
    assert now(page) == "q1"
    assert everything(page) == {store: [] for store in STORES}


def test_a_copy_that_does_not_answer_holds_an_answer_up_once_and_gets_it_later(phone: Visit, served: Served) -> None:
    without_engine(served)
    page = phone.page
    open_page(page, served.url(DRILL))
    choose_and_go_on(page, 0)
    page.evaluate(HOLD, True)
    page.locator("#q2 .choice label").first.click()
    page.wait_for_timeout(500)
    assert page.locator("#q2 .verdict:visible").count() == 0, "it is shown before it is in the copy"
    expect(page.locator("#q2 .verdict:visible").first).to_be_visible()
    go_on(page)
    choose(page, 1)
    assert page.locator("#notice").is_hidden(), "it is kept"
    page.evaluate("() => release()")
    assert len(kept(page)) == 3
    page.reload()
    expect(page.locator("#q4.now")).to_be_visible(timeout=WAIT)
    expect_copied(page)


def test_a_copy_is_written_though_nothing_in_the_page_refers_to_its_bucket(phone: Visit, served: Served) -> None:
    without_engine(served)
    page = phone.page
    open_page(page, served.url(DRILL))
    choose_and_go_on(page, 0)
    session = page.context.new_cdp_session(page)
    for place in range(1, 4):
        session.send("HeapProfiler.collectGarbage")
        page.wait_for_timeout(100)
        choose_and_go_on(page, 0)
        assert len(kept(page)) == place + 1
        assert kept(page, copied=True) == kept(page)


def test_the_two_are_never_written_at_once(visit: OpenPage, served: Served) -> None:
    """Whatever is kept, and brought over meanwhile: a kill leaves half a write in one of them at most."""
    page = visit(viewport=PHONE).page
    page.add_init_script(NOTES_WRITES)
    open_page(page, served.url(DRILL))
    choose_and_go_on(page, 1)
    page.evaluate(BEFORE, MANY)
    page.reload()
    questions = page.locator("#round .question").count()
    page.evaluate("() => { for (const one of document.querySelectorAll('[value=\"0\"]:enabled')) one.click(); }")
    expect(page.locator("#round input:checked")).to_have_count(questions, timeout=WAIT)
    expect_copied(page)
    most, writes = page.evaluate("[writes.most, writes.count]")
    assert (most, writes > MANY / 100) == (1, True)


@pytest.mark.parametrize("without", [NO_BUCKETS, REFUSED_BUCKETS, BROKEN_COPY], ids=["none", "refused", "broken"])
def test_without_a_copy_all_is_kept_as_ever(without: str, visit: OpenPage, served: Served) -> None:
    without_engine(served)
    page = visit(viewport=PHONE).page
    page.add_init_script(without)
    open_page(page, served.url(DRILL))
    choose_and_go_on(page, 0, 1)
    page.reload()
    expect(page.locator("#q3.now")).to_be_visible(timeout=WAIT)
    assert [record["choice"] for record in kept(page)] == [0, 1]
    assert page.locator("#notice").is_hidden()


def test_nothing_is_forgotten_by_half(visit: OpenPage, served: Served) -> None:
    """What the copy still had would come back; where it cannot be reached, that is said, and nothing is forgotten."""
    without_engine(served)
    page = visit(viewport=PHONE).page
    open_page(page, served.url(DRILL))
    choose_and_go_on(page, 0, 1)
    page.add_init_script(BROKEN_COPY)
    page.goto(served.url("records.html"))
    page.locator('[data-answers="forget"]').click()
    expect(page.locator("#notice span")).to_have_text(sentence(page, "not-forgotten"))
    assert len(kept(page)) == 2
