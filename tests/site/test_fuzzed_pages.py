"""Links as no one would write them, in a real page: it always shows a round, and nothing in a link ever runs."""

import random

import pytest
from browsing import Served, Visit
from fuzzing import link

LINKS = 200
OPEN = """async (hash) => {
  const { classList } = document.documentElement;
  const arrived = new Promise((resolve) => addEventListener("hashchange", () => setTimeout(resolve), { once: true }));
  location.hash = hash;
  await arrived;
  const blank = [];
  for (let patience = 500; classList.contains("linked") && patience; patience--) {
    if (!document.body.innerText.trim()) blank.push("while it waited");
    await new Promise((resolve) => setTimeout(resolve, 20));
  }
  if (classList.contains("linked")) blank.push("for good");
  const choices = [...document.querySelectorAll(".round .now .choice")].filter((one) => one.checkVisibility());
  if (choices.length < 2) blank.push("without choices");
  const notice = document.querySelector("#notice");
  return { blank, notice: notice.hidden ? "" : notice.querySelector("span").textContent, html: notice.innerHTML };
}"""


@pytest.mark.browser
def test_no_fuzzed_link_leaves_a_page_blank_or_runs(phone: Visit, served: Served) -> None:
    chance = random.Random(20260102)
    # Only what looks like options is a link to a drill; anything else behind # is a place in the page.
    links = [text for text in dict.fromkeys(link(chance) for _ in range(3 * LINKS)) if "=" in text][:LINKS]
    assert len(links) == LINKS
    ran: list[str] = []
    phone.page.on("dialog", lambda dialog: (ran.append(dialog.message), dialog.dismiss()))
    phone.page.goto(served.url("drills/name-the-degree.html"))
    phone.page.wait_for_function("() => performance.getEntriesByName('engine ready').length > 0")
    noticed = 0
    for text in links:
        found = phone.page.evaluate(OPEN, text)
        assert found["blank"] == [], text
        assert phone.page.locator("main script, main [onerror], main [onclick], main [onload]").count() == 0, text
        assert "<script" not in found["html"], text
        assert "<img" not in found["html"], text
        noticed += bool(found["notice"])
    assert ran == []
    assert noticed > LINKS / 3
