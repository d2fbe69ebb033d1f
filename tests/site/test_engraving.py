"""Lines drawn as music: nothing touches what it should not, at any width, in any key, from a host and from disk."""

import gzip
import json
import re
from collections.abc import Callable
from pathlib import Path
from typing import Any

import fonts
import names
import pytest
from browsing import DESK, PHONE, Served, Visit
from playwright.sync_api import Browser, Page
from selenium.webdriver import WebKitGTK
from selenium.webdriver.common.by import By
from selenium.webdriver.support.wait import WebDriverWait

from engine.formats.abc import read_abc
from engine.lines.devices.recognise import Analysis, analyse
from engine.lines.line import Line
from engine.lines.moving import Span, in_all_keys, placed
from engine.lines.stock import stock
from engine.neck.fingering import ways
from engine.neck.instrument import GUITAR
from engine.view.engraving import Tab, engraving, engraving_html
from tests.engine.lines_at_random import line_at_random

BOOK = Path(__file__).resolve().parents[2] / "docs" / "lines"
LIMIT = 110_000  # bytes of the engraver as hosts send it
# Not in the stock: a low line with a pickup, ties over bar lines, tuplets, dots, rests, flags, chords inside notes.
HARD = """X:1
M:4/4
L:1/8
K:Db
(3E,F,G, A,2 | "Ebm7" B,4- B,/C/D/E/ (3F_G=G | "Ab7" _c3/2B/ A- "D7alt" A3- A2- | A4 z4 | z8 |
"Dbmaj7#11" F6 "Gbmaj7/Db" A2- | "Fm7b5" A/ z/ z =A2 _A z3/2 G/ F |]
"""
WIDTHS = {"phone": 320, "handout": 660, "desk": 1000}
# Shared by the measuring scripts: boxes of ink, in the picture's own units.
INK = """
const canvas = document.createElement("canvas").getContext("2d");
const shift = (element) => {
  const found = element.closest("[transform]")?.getAttribute("transform").match(/translate\\(0 (.*)\\)/);
  return found ? Number(found[1]) : 0;
};
const ink = (element) => {
  const [x, y, style] = [Number(element.getAttribute("x") ?? 0), Number(element.getAttribute("y") ?? 0), getComputedStyle(element)];
  canvas.font = `${style.fontWeight} ${style.fontSize} ${style.fontFamily}`;
  const size = canvas.measureText(element.textContent);
  const left = x - (style.textAnchor === "middle" ? size.width / 2 : 0);
  return {
    left: left - size.actualBoundingBoxLeft, right: left + size.actualBoundingBoxRight,
    top: y + shift(element) - size.actualBoundingBoxAscent, bottom: y + shift(element) + size.actualBoundingBoxDescent,
    what: element.textContent, x: left,
  };
};
const shape = (element) => {
  const { x, y, width, height } = element.getBBox();
  return { left: x, right: x + width, top: y + shift(element), bottom: y + shift(element) + height, what: element.outerHTML };
};
const all = (root, selector, box) => [...root.querySelectorAll(selector)].map(box);
const meet = (one, other, apart = 0) =>
  one.left < other.right + apart && other.left < one.right + apart && one.top < other.bottom && other.top < one.bottom;
"""
MEASURE = (
    "async ({specs, width}) => {"
    + INK
    + """
  const figure = document.querySelector("figure.engraving");
  const faults = [];
  const glyphs = new Set();
  for (const [index, spec] of specs.entries()) {
    const fault = (text) => faults.push(`${index}: ${text}`);
    const apart = (kind, boxes, room) => boxes.forEach((one, place) => boxes.slice(place + 1).forEach((other) => {
      if (meet(one, other, room)) fault(`${kind} touch: ${one.what} and ${other.what}`);
    }));
    engraver.draw(figure, spec, width);
    const svg = figure.querySelector("svg");
    const notes = spec.bars.flatMap((bar) => bar.notes);
    const drawn = [...svg.querySelectorAll(".vf-note")];
    if (drawn.length !== notes.length) fault(`${drawn.length} of ${notes.length} notes are drawn`);
    drawn.forEach((note, place) => {
      if ((note.dataset.index ?? "none") !== String(notes[place].index ?? "none")) fault(`note ${place} is marked ${note.dataset.index}`);
    });
    const [, , wide, high] = svg.getAttribute("viewBox").split(" ").map(Number);
    const heads = [], marks = [];
    for (const head of svg.querySelectorAll(".vf-notehead")) {
      heads.push(ink(head.querySelector("text")));
      marks.push(...[...head.querySelectorAll("text")].slice(1).map(ink));
    }
    if (heads.length !== notes.length) fault(`${heads.length} heads for ${notes.length} notes and rests`);
    const signs = notes.filter(({ sign }) => sign).length, dots = notes.reduce((sum, { dots = 0 }) => sum + dots, 0);
    if (marks.length !== signs + dots) fault(`${marks.length} marks beside notes for ${signs} signs and ${dots} dots`);
    apart("signs, dots and heads", [...heads, ...marks], 0);
    const bars = all(svg, ".vf-stavebarline rect", shape);
    const figures = all(svg, ".vf-tuplet text", ink);
    for (const one of [...heads, ...marks]) for (const other of figures) if (meet(one, other)) fault(`${one.what} touches ${other.what}`);
    for (const one of [...heads, ...marks]) for (const bar of bars) if (meet(one, bar, 1)) fault(`${one.what} touches a bar line`);

    for (const system of svg.querySelectorAll(".vf-system")) {
      const chords = all(system, ".chord", ink), degrees = all(system, ".degree", ink), circles = all(system, ".bracket", shape);
      apart("chords", chords.map((box) => ({ ...box, top: 0, bottom: 1 })), 3);
      apart("degrees", degrees.map((box) => ({ ...box, top: 0, bottom: 1 })), 2);
      apart("brackets", circles, 1);
      const frets = all(system, ".fret", ink), frames = all(system, ".frame", shape), targets = all(system, ".target", shape);
      apart("frets", frets, 1);
      apart("targets", targets.map((box) => ({ ...box, right: box.right - 0.01 })), 0);
      for (const frame of frames) for (const fret of frets) if (meet(frame, fret) && !meet({ ...frame, left: frame.left + 2.5, right: frame.right - 2.5 }, fret)) fault(`a frame touches ${fret.what}`);
      const signs = all(system, ".tab-sign", ink);
      for (const sign of signs) for (const fret of frets) if (meet(sign, fret)) fault(`${fret.what} touches ${sign.what}`);
      const music = [
        ...all(system, ".vf-notehead text, .vf-flag text, .vf-tuplet text", ink),
        ...all(system, ".vf-note path, .vf-beam path, .vf-stavetie path, .vf-tuplet rect", shape),
      ];
      const lines = all(system, ".vf-stave path", shape);
      for (const box of [...music, ...lines]) {
        for (const chord of chords) if (chord.bottom > box.top && chord.left < box.right && box.left < chord.right) fault(`${chord.what} is not above ${box.what}`);
        for (const degree of degrees) if (degree.top < box.bottom) fault(`${degree.what} is not below ${box.what}`);
        for (const fret of frets) if (fret.top < box.bottom) fault(`${fret.what} is not below ${box.what}`);
      }
      for (const fret of frets) for (const box of [...degrees, ...circles]) if (box.top < fret.bottom) fault(`${box.what} is not below ${fret.what}`);
      for (const box of [...frets, ...frames, ...targets]) if (box.left < -0.5 || box.right > wide + 1.5 || box.top < -0.5 || box.bottom > high + 0.5) fault(`${box.what} is cut off`);
      const ends = all(system, ".vf-stavebarline rect", (bar) => Number(bar.getAttribute("x")));
      const joined = new Set(all(system, ".tab rect:not(.frame, .target)", (bar) => Number(bar.getAttribute("x"))));
      if (spec.strings) for (const x of ends) if (!joined.has(x)) fault(`the bar line at ${x} ends above the TAB`);
      for (const circle of circles) for (const degree of degrees) if (circle.top < degree.bottom) fault(`a bracket is not below ${degree.what}`);
      if (new Set(all(system, ".chord", (chord) => chord.getAttribute("y"))).size > 1) fault("chords stand on several lines");
      if (new Set(all(system, ".degree", (degree) => degree.getAttribute("y"))).size > 1) fault("degrees stand on several lines");
      for (const box of [...music, ...lines, ...chords, ...degrees, ...circles, ...all(system, ".vf-clef text", ink)]) {
        if (box.left < -0.5 || box.right > wide + 1.5 || box.top < -0.5 || box.bottom > high + 0.5) fault(`${box.what} is cut off`);
      }
    }
    apart("systems", all(svg, ".vf-system", (system) => {
      const boxes = [...all(system, ".chord, .degree", ink), ...all(system, ".vf-notehead text", ink), ...all(system, ".bracket", shape)];
      return { left: 0, right: 1, top: Math.min(...boxes.map(({ top }) => top)), bottom: Math.max(...boxes.map(({ bottom }) => bottom)), what: "one" };
    }), 0);

    const centres = heads.filter((_, place) => notes[place].degree).map(({ left, right }) => (left + right) / 2);
    const degrees = [...svg.querySelectorAll(".degree")].map((degree) => Number(degree.getAttribute("x")));
    const frets = [...svg.querySelectorAll(".fret")];
    const played = spec.bars.flatMap((bar) => bar.notes).map((note, place) => ({ ...note, place })).filter(({ fret }) => fret !== undefined);
    if (frets.length !== played.length) fault(`${frets.length} frets for ${played.length} notes`);
    frets.forEach((fret, at) => {
      const { place, fret: number, back, string, index } = played[at];
      if (fret.textContent !== (back ? `(${number})` : String(number))) fault(`${fret.textContent} stands for fret ${number}`);
      const middle = (heads[place].left + heads[place].right) / 2;
      if (Math.abs(fret.getAttribute("x") - middle) * width / wide > 2) fault(`fret ${at} stands beside its note`);
      if (fret.parentElement.dataset.index !== String(index)) fault(`fret ${at} is marked ${fret.parentElement.dataset.index}`);
      const tab = fret.closest(".tab").querySelector(".strings").getBBox();
      const row = tab.y + (string - 1) * tab.height / (spec.strings - 1);
      if (Math.abs(Number(fret.getAttribute("y")) - 5 - row) > 1) fault(`fret ${at} is not on string ${string}`);
    });
    if (degrees.length !== centres.length) fault(`${degrees.length} degrees for ${centres.length} notes`);
    degrees.forEach((x, place) => { if (Math.abs(x - centres[place]) * width / wide > 2) fault(`degree ${place} stands beside its note`); });
    const starts = new Map(spec.bars.flatMap((bar, at) => bar.chords.filter(({ share }) => !share).map(({ text, note }) => [`${at} ${note}`, text])));
    const places = spec.bars.flatMap((bar, at) => bar.notes.map((_, note) => `${at} ${note}`));
    const symbols = [...svg.querySelectorAll(".chord")].map(ink);
    places.forEach((name, place) => {
      if (!starts.has(name) || notes[place].bar) return;
      const near = symbols.some(({ what, x }) => what === starts.get(name) && Math.abs(x - heads[place].x) * width / wide <= 2);
      if (!near) fault(`${starts.get(name)} does not stand above its note`);
    });
    if (svg.querySelectorAll(".chord").length !== spec.bars.flatMap((bar) => bar.chords).length) fault("a chord is missing");
    const numbers = new Set(all(svg, ".bracket", (bracket) => bracket.dataset.number));
    if (numbers.size !== spec.brackets.length) fault(`${numbers.size} of ${spec.brackets.length} brackets are drawn`);
    if (svg.querySelector("[style]") || svg.hasAttribute("style")) fault("there is a style in the picture");
    for (const { textContent } of svg.querySelectorAll("text:not(.chord, .degree, .fret, .tab-sign, .bracket text)")) for (const glyph of textContent) glyphs.add(glyph);
  }
  return {faults, glyphs: [...glyphs].join("")};
}"""
)

TAB_ALONE = (
    "async ({specs, width}) => {"
    + INK
    + """
  const figure = document.querySelector("figure.engraving");
  return specs.flatMap((spec) => {
    engraver.draw(figure, spec, width);
    const faults = [];
    const notes = spec.bars.flatMap((bar) => bar.notes).filter(({ fret }) => fret !== undefined);
    const [, , wide, high] = figure.firstChild.getAttribute("viewBox").split(" ").map(Number);
    if (figure.querySelector(".vf-note, .vf-stave, .target")) faults.push("there is a staff, or something to tap");
    const frets = [...figure.querySelectorAll(".fret")];
    if (frets.map((fret) => fret.textContent.replace(/[()]/g, "")).join() !== notes.map(({ fret }) => fret).join()) faults.push("other frets");
    const boxes = all(figure, ".fret, .degree, .chord, .tab-sign", ink);
    boxes.forEach((one, place) => boxes.slice(place + 1).forEach((other) => meet(one, other) && faults.push(`${one.what} touches ${other.what}`)));
    for (const box of boxes) if (box.left < -0.5 || box.right > wide + 1 || box.top < -0.5 || box.bottom > high + 0.5) faults.push(`${box.what} is cut off`);
    if (figure.querySelectorAll(".degree").length !== notes.filter(({ back }) => !back).length) faults.push("a degree is missing");
    return faults;
  });
}"""
)


def page_with(site: Path, content: str) -> str:
    """A page of the site with something else on it."""
    page = (site / "about.html").read_text(encoding="utf-8")
    main = f'<main id="main" tabindex="-1"><div class="paper">{content}</div></main>'
    return re.sub("<main.*</main>", lambda _: main, page, flags=re.DOTALL)


def on_disk(site: Path, folder: Path) -> str:
    """The address of such a page that lies in another folder than the site's."""
    page = folder / "drawn.html"
    addresses = re.compile(r'(?<==")(app-|icons/|manifest)')
    text = addresses.sub(lambda found: f"{site.as_uri()}/{found[1]}", page_with(site, figure()))
    page.write_text(text, encoding="utf-8")
    return page.as_uri()


def book() -> list[Line]:
    return [line for path in sorted(BOOK.glob("*.abc")) for line in read_abc(path.read_text(encoding="utf-8"))]


def own_lines() -> list[Line]:
    return [*stock(), *read_abc(HARD)]


def opened(visit: Visit, served: Served, content: str) -> Page:
    served.replaced["drawn.html"] = page_with(served.site, content)
    visit.page.goto(served.url("drawn.html"))
    return visit.page


def drawn(page: Page, count: int = 1) -> None:
    page.wait_for_function("(count) => document.querySelectorAll('figure.engraving svg').length === count", arg=count)


def with_tab(analysis: Analysis, held: bool = False) -> dict[str, Any]:
    """A line's staff and TAB, in an octave in which a guitar has it; ``held``: with every third note held."""
    line = placed(analysis.line, Span(GUITAR.lowest, GUITAR.highest))
    places = ways(line)[0].places
    tab = Tab(
        6, places, frozenset(range(0, len(places), 3)) if held else frozenset(), asks=True, tapped=1 if held else None
    )
    return engraving(analyse(line), tab=tab)


def figure(line: Line | None = None, name: str = "line") -> str:
    return engraving_html(analyse(line or stock()[0]), name)


@pytest.mark.browser
@pytest.mark.parametrize("where", WIDTHS)
def test_nothing_touches_in_any_key(where: str, desk: Visit, served: Served) -> None:
    page = opened(desk, served, figure())
    drawn(page)
    # The book in a third of the keys, other ones for each line: it may be long.
    every = [(line, slice(None)) for line in own_lines()] + [
        (line, slice(n % 3, None, 3)) for n, line in enumerate(book())
    ]
    analyses = [analyse(moved) for line, keys in every for moved in list(in_all_keys(line))[keys]]
    specs = [engraving(analysis) for analysis in analyses]
    specs += [engraving(analysis, answers=False) for analysis in analyses[::7]]
    specs += [engraving(analyse(line_at_random(seed))) for seed in range(40)]
    specs += [with_tab(analysis, held=number % 2 == 0) for number, analysis in enumerate(analyses[::3])]
    if where != "phone":
        specs = specs[::5]  # there is more room
    outcome = page.evaluate(MEASURE, {"specs": specs, "width": WIDTHS[where]})
    assert outcome["faults"] == []
    assert set(outcome["glyphs"]) <= set(fonts.MUSIC_TEXT)
    assert len(specs) > 40


@pytest.mark.browser
@pytest.mark.parametrize("viewport", [PHONE, DESK], ids=["phone", "desk"])
def test_a_line_is_drawn_on_arrival_at_the_width_there_is(
    viewport: dict[str, int], visit: Callable[..., Visit], served: Served
) -> None:
    page = opened(visit(viewport=viewport), served, figure() + figure(stock()[1], "other"))
    drawn(page, 2)
    wide = page.evaluate(
        "[...document.querySelectorAll('figure.engraving')].map((one) => [one.clientWidth, one.querySelector('svg').clientWidth])"
    )
    assert all(figure == picture for figure, picture in wide)
    assert page.evaluate("document.documentElement.scrollWidth") <= viewport["width"]
    page.set_viewport_size({"width": 700, "height": 700})
    page.wait_for_function(
        "(before) => document.querySelector('figure.engraving svg').clientWidth !== before", arg=wide[0][1]
    )
    assert page.evaluate(
        "(([one]) => one.clientWidth === one.firstChild.clientWidth)(document.querySelectorAll('figure.engraving'))"
    )


@pytest.mark.browser
def test_a_tab_alone_has_its_numbers_and_nothing_touches(desk: Visit, served: Served) -> None:
    page = opened(desk, served, figure())
    drawn(page)
    specs = []
    for line in in_all_keys(placed(stock()[0], Span(GUITAR.lowest, GUITAR.highest - 6))):
        specs.append(engraving(analyse(line), tab=Tab(6, ways(line)[0].places), staff=False))
    outcome = page.evaluate(TAB_ALONE, {"specs": specs, "width": WIDTHS["phone"]})
    assert outcome == []


@pytest.mark.browser
def test_what_changes_is_drawn_anew_and_the_rest_is_left_alone(desk: Visit, served: Served) -> None:
    page = opened(desk, served, figure())
    drawn(page)
    changed = json.dumps(engraving(analyse(stock()[3])))
    heads = page.evaluate(
        """async (changed) => {
          const figure = document.querySelector("figure.engraving");
          const counted = () => figure.querySelectorAll("[data-index]").length;
          const [before, first] = [counted(), figure.firstChild];
          await linekeeper.engrave();
          const kept = figure.firstChild === first;
          figure.dataset.engraving = changed;
          await linekeeper.engrave();
          return [before, kept, counted()];
        }""",
        changed,
    )
    assert heads == [len(stock()[0].notes), True, len(stock()[3].notes)]


@pytest.mark.browser
def test_on_paper_a_line_has_the_paper_s_width(phone: Visit, served: Served) -> None:
    page = opened(phone, served, figure())
    drawn(page)
    width = "Number(document.querySelector('figure.engraving svg').getAttribute('width'))"
    screen = page.evaluate(width)
    assert page.evaluate(f"dispatchEvent(new Event('beforeprint')), {width}") == WIDTHS["handout"]
    assert page.evaluate(f"dispatchEvent(new Event('afterprint')), {width}") == screen


@pytest.mark.browser
def test_only_a_page_with_a_line_loads_the_engraver(desk: Visit, served: Served) -> None:
    asked: list[str] = []
    desk.page.on("request", lambda request: asked.append(names.plain(request.url.removeprefix(served.url()))))
    desk.page.goto(served.url("about.html"))
    desk.page.wait_for_load_state("networkidle")
    assert "app/client.js" in asked
    assert "app/engraver.js" not in asked
    drawn(opened(desk, served, figure()))
    assert asked.count("app/engraver.js") == 1


@pytest.mark.browser
def test_without_the_engraver_the_page_says_so_and_tries_again(desk: Visit, served: Served) -> None:
    desk.watch.expect("404")
    served.missing.add("app/engraver.js")
    page = opened(desk, served, figure())
    page.wait_for_selector("#notice:not([hidden])")
    assert "The notes cannot be drawn just now" in page.inner_text("#notice")
    served.missing.clear()
    page.evaluate("linekeeper.engrave()")
    drawn(page)


@pytest.mark.browser
def test_a_line_is_drawn_in_a_page_from_disk(chromium: Browser, site: Path, tmp_path: Path) -> None:
    page = chromium.new_context(viewport=PHONE).new_page()
    complaints: list[str] = []
    page.on("console", lambda message: complaints.append(message.text) if message.type == "error" else None)
    page.goto(on_disk(site, tmp_path))
    drawn(page)
    outcome: dict[str, Any] = page.evaluate(MEASURE, {"specs": [engraving(analyse(stock()[0]))], "width": 320})
    page.context.close()
    assert outcome["faults"] == []
    assert complaints == []


@pytest.mark.browser
def test_a_line_is_drawn_in_webkit(webkit: WebKitGTK, site: Path, tmp_path: Path) -> None:
    webkit.get(on_disk(site, tmp_path))
    WebDriverWait(webkit, 20).until(lambda browser: browser.find_elements(By.CSS_SELECTOR, "figure.engraving svg"))
    script = f"({MEASURE})(arguments[0]).then(arguments[1], (error) => arguments[1]({{faults: [String(error)]}}))"
    specs = [with_tab(analyse(line)) for line in own_lines()]
    outcome = webkit.execute_async_script(script, {"specs": specs, "width": WIDTHS["phone"]})
    assert outcome["faults"] == []


def test_the_engraver_is_small(site: Path) -> None:
    assert len(gzip.compress(names.published(site, "app/engraver.js").read_bytes(), 9)) <= LIMIT
