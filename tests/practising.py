"""What the tests of answers do in a page: answer, read what is kept, look after the engine's workers."""

import json
from collections.abc import Callable
from typing import Any

from browsing import Served
from playwright.sync_api import Page, Route, expect

from engine.practice.round import Answer, Round
from engine.practice.rounds import make_round, plan_from_json

DRILL = "drills/name-the-degree.html"
# Notes every worker that the page makes.
SPY = """
globalThis.workers = [];
globalThis.Worker = class extends Worker {
  constructor(...all) {
    super(...all);
    workers.push(this);
  }
};
"""
REFUSED = "IDBFactory.prototype.open = () => { throw new DOMException('no', 'SecurityError'); }"
KEPT = """async ([store, copied]) => {
  // Held on to: Chromium lets a bucket go that nobody refers to.
  globalThis.held = copied ? await navigator.storageBuckets.open("linekeeper-copy") : globalThis;
  const database = await new Promise((resolve, reject) => {
    const opening = held.indexedDB.open("linekeeper");
    opening.onsuccess = () => resolve(opening.result);
    opening.onerror = () => reject(opening.error);
  });
  const all = database.objectStoreNames.contains(store) && database.transaction(store).objectStore(store).getAll();
  const found = all ? await new Promise((resolve) => { all.onsuccess = () => resolve(all.result); }) : [];
  database.close();
  return found;
}"""
# Keeps the answers in the store, or in its copy, to itself until `release()`.
HOLD = """async (copied) => {
  globalThis.held = copied ? await navigator.storageBuckets.open("linekeeper-copy") : globalThis;
  const opening = held.indexedDB.open("linekeeper");
  await new Promise((resolve) => { opening.onsuccess = resolve; });
  const store = opening.result.transaction("answers", "readwrite").objectStore("answers");
  let over = false;
  globalThis.release = () => { over = true; };
  const again = () => {
    if (!over) store.count().onsuccess = again;
  };
  again();
}"""
WAIT = 30_000


def sentence(page: Page, name: str) -> str:
    """One of the sentences that the page brought along."""
    return str(page.locator("#words").get_attribute(f"data-{name}"))


def without_engine(served: Served) -> None:
    """No byte of the engine arrives: nothing but the page can have done what is seen."""
    served.stalled.add("runtime/pyscript/core.js")


def held_back(page: Page, address: str) -> Callable[[], None]:
    """Holds a file back; what is returned lets it go, once the page has asked for it."""
    held: list[Route] = []
    page.route(address, lambda route: held.append(route))

    def release() -> None:
        while not held:
            page.wait_for_timeout(20)
        held.pop().continue_()

    return release


def kept(page: Page, store: str = "answers", copied: bool = False) -> list[dict[str, Any]]:
    """The records on the device, or in their copy, in the order in which they were given."""
    found: list[dict[str, Any]] = page.evaluate(KEPT, [store, copied])
    return sorted(found, key=lambda record: record["at"]) if store == "answers" else found


def open_page(page: Page, url: str) -> None:
    """Goes to a drill and waits for its round."""
    page.goto(url)
    expect(page.locator(".round > .now")).to_be_visible(timeout=WAIT)


def now(page: Page) -> str:
    """The id of the question that is shown."""
    return str(page.locator(".round > .now").get_attribute("id"))


def choose(page: Page, choice: int = 0) -> None:
    """Answers the question that is shown and waits for its verdict."""
    section = page.locator(".round > .now")
    section.locator(".choice label").nth(choice).click()
    expect(section.locator(".verdict:visible").first).to_be_visible()


def go_on(page: Page) -> None:
    page.locator(".round > .now a.next:visible").click()


def choose_and_go_on(page: Page, *choices: int) -> None:
    for choice in choices:
        choose(page, choice)
        go_on(page)


def plan(page: Page) -> dict[str, Any]:
    return dict(json.loads(str(page.locator("#round").get_attribute("data-plan"))))


def asked(page: Page) -> list[str]:
    """The questions of the round in the page, choices and all."""
    return page.locator("#round .question").evaluate_all("all => all.map(one => one.textContent)")


def played(page: Page, *choices: int) -> Round:
    """The round of the page with these answers, from the engine of this side."""
    answers = tuple(Answer(place, choice) for place, choice in enumerate(choices))
    return make_round(plan_from_json(plan(page)), answers)


def expect_counted(page: Page, *choices: int) -> None:
    """The engine has counted these answers."""
    round_ = played(page, *choices)
    right = len(choices) - len(round_.missed)
    told = f"{right} right, {len(round_.missed)} missed, of {len(round_.questions)}"
    expect(page.locator("#progress .unseen")).to_have_text(told, timeout=WAIT)


def engines(page: Page) -> int:
    """How many workers the page has made."""
    return int(page.evaluate("() => workers.length"))


def wait_for_engine(page: Page) -> None:
    page.wait_for_function("() => workers.length && localStorage['linekeeper starts'] === '0'", timeout=WAIT)
