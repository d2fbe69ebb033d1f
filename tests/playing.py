"""Plays a round in any browser: scripts that do what a player does, for Playwright and WebDriver alike."""

import json
from typing import Any

from engine.practice.round import Answer
from engine.practice.rounds import make_round, once_more, plan_as_json, plan_from_json

# Answers every question with its first choice and asks for the next round.
PLAY = """
const wait = async (what, found) => {
  for (const end = performance.now() + 50_000; !found(); await new Promise((go) => setTimeout(go, 50))) {
    if (performance.now() > end) throw new Error(`waited in vain for ${what}`);
  }
};
const form = () => document.getElementById("round");
const plan = () => JSON.parse(form().dataset.plan);
const asked = () => [...form().querySelectorAll(".question")].map((section) => section.textContent.trim());
const { classList } = document.documentElement;
await wait("the round of this visit", () => !classList.contains("kept") && !classList.contains("linked"));
const first = {plan: plan(), asked: asked()};
for (const section of form().querySelectorAll(".question")) {
  section.querySelector(".choices input").click();
  section.querySelector("a.next").click();
}
const onward = () => form().querySelector('[data-how="once more"]');
await wait("the way to the next round", () => onward()?.checkVisibility());
onward().click();
await wait("the next round", () => form().dataset.plan !== JSON.stringify(first.plan));
return {first, second: {plan: plan(), asked: asked()}};
"""


def in_playwright(page: Any) -> dict[str, Any]:
    """Plays the round of a page; its rounds by name, each with its plan and the text of its questions."""
    played: dict[str, Any] = page.evaluate(f"async () => {{ {PLAY} }}")
    return played


def in_webdriver(browser: Any) -> dict[str, Any]:
    """The same in a window of WebKitGTK."""
    return dict(run_in_webdriver(browser, PLAY))


def run_in_webdriver(browser: Any, body: str) -> Any:
    """What the body of an asynchronous function returns in the page."""
    kept = browser.execute_async_script(
        f"const done = arguments[0]; (async () => {{ {body} }})().then("
        "(value) => done(JSON.stringify({value})), (error) => done(JSON.stringify({error: String(error)})));"
    )
    outcome = json.loads(kept)
    assert "error" not in outcome, outcome["error"]
    return outcome["value"]


def check_played(played: dict[str, Any]) -> None:
    """The second round is the one that the engine makes of the first, question for question."""
    plan = plan_from_json(played["first"]["plan"])
    answers = tuple(Answer(index, 0, None) for index in range(len(plan.indexes)))
    following = once_more(make_round(plan, answers))
    assert played["second"]["plan"] == plan_as_json(following)
    assert len(played["second"]["asked"]) == len(following.indexes)
    assert played["second"]["asked"] != played["first"]["asked"]
