"""How long the engine takes in the browser to show a line's page in another key, over another chord, in another way.

And what the page asks for beside that: what would lie better, and twelve keys to practise.
"""

from __future__ import annotations

import tempfile
from pathlib import Path

import bench_pages as pages
from bench_figures import Figure, percentile
from playwright.sync_api import Playwright

AT_MOST = 50
AT_MOST_KEYS = 300
TURNS = 36
# Each turn asks what the page's form would; what the answer says stands there then.
CHOICES = """async ([name, turns]) => {
  // Nobody taps before the last answer is drawn; an engine's answer that comes while the page draws waits for that.
  const drawn = () => new Promise((resolve) => requestAnimationFrame(() => setTimeout(resolve)));
  const engine = await linekeeper.openEngine({ base: "../" });
  const times = [];
  // What the page asks as soon as the engine is there, before anybody taps.
  const state = JSON.parse(document.getElementById("line").dataset.desk);
  await engine.call({ ...state, fields: {}, pressed: null, link: "" });
  // And what it has worked out ahead within a second or two.
  const ahead = (pressed) => engine.call({ ...state, fields: {}, pressed, link: "" });
  for (let next = { ahead: ["ahead", "0"] }; next.ahead; ) next = await ahead(next.ahead);
  for (let turn = 0; turn < turns; turn += 1) {
    const form = document.getElementById("line");
    const choices = [...form.querySelectorAll(`input[name=${name}]:not(:checked)`)];
    choices[turn % choices.length].checked = true;
    const fields = Object.fromEntries([...new FormData(form)].map(([field, value]) => [field, [value]]));
    const request = { ...JSON.parse(form.dataset.desk), fields, pressed: null, link: "" };
    const start = performance.now();
    const { patches } = await engine.call(request);
    times.push(performance.now() - start);
    form.outerHTML = patches.line;
    await drawn();
  }
  engine.close();
  return times;
}"""
# Each turn presses one of the page's buttons; where that asks for what would lie better, this is asked too.
PRESSES = """async ([name, turns]) => {
  const drawn = () => new Promise((resolve) => requestAnimationFrame(() => setTimeout(resolve)));
  const engine = await linekeeper.openEngine({ base: "../" });
  const times = [];
  const state = () => JSON.parse(document.getElementById("line").dataset.desk);
  await engine.call({ ...state(), fields: {}, pressed: null, link: "" });
  for (let turn = 0; turn < turns; turn += 1) {
    const form = document.getElementById("line");
    const buttons = [...form.querySelectorAll(`[name=${name}]:not([aria-pressed=true])`)];
    const pressed = name === "better" ? ["better", ""] : [name, buttons[turn % buttons.length].value];
    // Another key for each turn: what was found out once is remembered.
    const keys = form.querySelectorAll("input[name=key]:not(:checked)");
    const key = [keys[turn % keys.length].value];
    const moved = await engine.call({ ...state(), fields: { key }, pressed: null, link: "" });
    form.outerHTML = moved.patches.line;
    await drawn();
    const start = performance.now();
    await engine.call({ ...state(), fields: {}, pressed, link: "", own: [], at: 1 });
    times.push(performance.now() - start);
  }
  engine.close();
  return times;
}"""
PRESSED = {
    "way": ("shown in another way", AT_MOST),
    "better": ("looked through for what would lie better", None),
    "practise": ("in twelve keys to practise", AT_MOST_KEYS),
}
NAMES = {"key": "in another key", "next": "over another next chord"}


def figures(playwright: Playwright, site: Path, address: str) -> list[Figure]:
    """What the slowest but a twentieth of the calls take, for the line of the book that has most notes."""
    rows = {path.name: path.read_text(encoding="utf-8").count("<tr>") - 1 for path in (site / "lines").glob("*.html")}
    name_of_page, notes = max(rows.items(), key=lambda item: item[1])
    found = []
    with tempfile.TemporaryDirectory() as profile, pages.visit(playwright, Path(profile)) as page:
        page.goto(f"{address}lines/{name_of_page}")
        pages.mark(page)
        for name, what in NAMES.items():
            times = page.evaluate(CHOICES, [name, TURNS])
            title = f"a line of {notes} notes shown {what}, p95"
            found.append(Figure(title, (percentile(times, 0.95),), at_most=AT_MOST))
        for name, (what, at_most) in PRESSED.items():
            times = page.evaluate(PRESSES, [name, TURNS])
            found.append(Figure(f"a line of {notes} notes {what}, p95", (percentile(times, 0.95),), at_most=at_most))
    return found
