"""The one-file edition: one drill in one HTML file that needs nothing beside it."""

import json
import re
import subprocess
import sys
from collections.abc import Callable
from html import unescape
from pathlib import Path

import editions
import playing
import pytest
from browsing import PHONE
from markup import Edits, elements
from playwright.sync_api import Browser, Page, expect
from selenium.webdriver import WebKitGTK
from selenium.webdriver.support.ui import WebDriverWait

from engine.drills.catalogue import CATALOGUE
from engine.drills.options import OPTIONS
from engine.formats.abc import read_abc
from engine.practice.rounds import LONGEST_ROUND, make_round, plan_as_json, plan_from_json
from engine.theory.bad_input import BadInput
from engine.view.round import round_html

ROOT = Path(__file__).resolve().parents[2]
PORCH_LIGHT = 'X:1\nT:Porch light\nM:4/4\nL:1/8\nK:C\n"Dm7"FA ce dc BA | "G7"Bd fa gf ^F^D | "Cmaj7"E8 |]\n'
SAID = "Sing <b>each</b> degree."
TYPED = {"keys": "F,Bb", "chords": "7", "level": "2", "count": "3", "seed": "4"}


def make(*arguments: str) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "build.py", "one-file", *arguments]
    return subprocess.run(command, cwd=ROOT, capture_output=True, text=True)


@pytest.fixture(scope="module")
def file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A file made by the command, alone in a folder with spaces in its name."""
    folder = tmp_path_factory.mktemp("to hand") / "for my student"
    folder.mkdir()
    path = folder / "ninths & all.html"
    options = [part for name, value in TYPED.items() for part in (f"--{name}", value)]
    made = make("name-the-degree", *options, "--out", str(path))
    assert made.returncode == 0, made.stderr
    assert path.name in made.stdout
    return path


def test_it_is_one_file_of_a_size_to_send(file: Path) -> None:
    assert [path.name for path in file.parent.iterdir()] == [file.name]
    assert 4_000_000 < file.stat().st_size < editions.MOST_BYTES


def test_its_round_is_the_one_that_was_asked_for(file: Path) -> None:
    text = file.read_text(encoding="utf-8")
    found = re.search('data-plan="([^"]*)"', text)
    assert found
    plan = json.loads(unescape(found[1]))
    assert plan == plan_as_json(editions.asked_round("name-the-degree", TYPED).plan)
    assert (plan["options"], plan["seed"], plan["indexes"]) == ("v=1&keys=F,Bb&chords=7&level=2", 4, [0, 1, 2])
    assert round_html(make_round(plan_from_json(plan))) in text


def test_only_a_file_that_can_be_heard_carries_the_band(file: Path, site: Path) -> None:
    text = file.read_text(encoding="utf-8")
    assert text.index("var band=") < text.index("var linekeeper=")
    silent = {"round": '<form id="round"></form>'}
    assert "var band=" not in editions.standing_alone(site, "drills/name-the-degree.html", "silent", silent)


def test_it_says_what_it_is_and_carries_its_licences(file: Path, site: Path) -> None:
    text = file.read_text(encoding="utf-8")
    build = re.search('data-build="([0-9a-f]+)"', (site / "index.html").read_text(encoding="utf-8"))
    assert build
    assert f"Linekeeper, one-file edition of build {build[1]}: name-the-degree v=1&keys=F,Bb" in text[:300]
    for licence in (
        "Mozilla Public License",
        "PYTHON SOFTWARE FOUNDATION LICENSE",
        "SIL OPEN FONT LICENSE",
        "MIT License",
    ):
        assert licence in text


def test_it_refers_to_nothing_outside(file: Path) -> None:
    text = file.read_text(encoding="utf-8")
    seen = set()
    for element in elements(text):
        seen.add(element.tag)
        source = element.attributes.get("src", element.attributes.get("href", "#"))
        assert source.startswith(("#", "data:")) or (element.tag == "a" and source.startswith("https://"))
    assert {"html", "style", "script", "form", "a"} <= seen
    sheets = re.findall("<style>(.*?)</style>", text, re.DOTALL)
    assert sum("data:font/woff2;base64," in sheet for sheet in sheets) == 1
    assert [sheet for sheet in sheets if re.search(r"url\((?!\"?data:)|@import", sheet)] == []


def watched(chromium: Browser) -> tuple[Page, list[str], list[str]]:
    """A page of its own, with what it asks for and what it complains of."""
    page = chromium.new_context(viewport=PHONE).new_page()
    requests: list[str] = []
    complaints: list[str] = []
    page.on("request", lambda request: requests.append(request.url))
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.on("console", lambda message: message.type == "error" and complaints.append(message.text))
    return page, requests, complaints


@pytest.mark.browser
def test_it_plays_on_from_the_engine(file: Path, chromium: Browser) -> None:
    page, requests, complaints = watched(chromium)
    page.goto(file.as_uri())
    playing.check_played(playing.in_playwright(page))
    width = page.evaluate("[...document.querySelectorAll('details')].forEach((part) => part.open = true) ?? innerWidth")
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    page.context.close()
    assert [url for url in requests if not url.startswith(("blob:null/", "data:"))] == [file.as_uri()]
    assert complaints == []


@pytest.mark.browser
def test_it_may_not_ask_for_anything_elsewhere(file: Path, chromium: Browser) -> None:
    page = chromium.new_context().new_page()
    page.goto(file.as_uri())
    outcome = page.evaluate("fetch('https://example.org/').then(() => 'answered', (error) => error.constructor.name)")
    blocked = page.evaluate(
        """() => new Promise((resolve) => {
          document.addEventListener("securitypolicyviolation", (event) => resolve(event.effectiveDirective));
          fetch("https://example.org/").catch(() => {});
        })"""
    )
    page.context.close()
    assert (outcome, blocked) == ("TypeError", "connect-src")


@pytest.mark.browser
def test_it_plays_in_webkit(file: Path, webkit: WebKitGTK) -> None:
    webkit.get(file.as_uri())
    playing.check_played(playing.in_webdriver(webkit))


@pytest.mark.browser
def test_it_takes_a_line_and_a_sentence_along(tmp_path: Path, chromium: Browser) -> None:
    (tmp_path / "mine.abc").write_text(PORCH_LIGHT, encoding="utf-8")
    path = tmp_path / "porch.html"
    made = make(
        "degrees-of-the-line", "--line", str(tmp_path / "mine.abc"), "--words", SAID, "--count", "2", "--out", str(path)
    )  # fmt: skip
    assert made.returncode == 0, made.stderr
    page = chromium.new_context(viewport=PHONE).new_page()
    page.goto(path.as_uri())
    assert page.locator("#q1 .title").text_content() == "Porch light"
    assert SAID in str(page.locator("#q1 .with-link").text_content())
    played = playing.in_playwright(page)
    playing.check_played(played)
    assert make_round(plan_from_json(played["second"]["plan"])).line == read_abc(PORCH_LIGHT)[0]
    assert "asks about the line “Porch light”" in str(page.locator(".about-file").text_content())
    page.context.close()


@pytest.fixture(scope="module")
def line_file(site: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The page of a line, alone in a folder with a space in its name."""
    folder = tmp_path_factory.mktemp("line") / "to keep"
    folder.mkdir()
    path = folder / "porch light.html"
    path.write_text(editions.one_line_file(site, read_abc(PORCH_LIGHT)[0]), encoding="utf-8")
    return path


IN_D_FLAT = """() => {
  document.querySelector("#line input[name=key][value=Db]").click();
  return true;
}"""
NOTES = "() => [...document.querySelectorAll('.every-note td:nth-child(3)')].map((cell) => cell.textContent).join(' ')"


@pytest.mark.browser
def test_the_page_of_a_line_stands_alone(line_file: Path, chromium: Browser) -> None:
    assert line_file.stat().st_size < editions.MOST_BYTES
    page, requests, complaints = watched(chromium)
    page.goto(line_file.as_uri())
    assert page.title() == "Porch light · Linekeeper"
    expect(page.locator("#staff [data-index]").first).to_be_visible()
    assert page.evaluate(NOTES).startswith("F A C E")
    page.evaluate(IN_D_FLAT)
    page.wait_for_function("() => location.hash === '#v=1&key=Db'", timeout=60_000)
    assert page.evaluate(NOTES).startswith("G♭ B♭ D♭ F")
    with page.expect_download() as download:
        page.locator("[name=file][value=midi]").click()
    assert download.value.path().read_bytes().startswith(b"MThd")
    assert page.locator(".drill:visible, [name=share]:visible").count() == 0
    page.context.close()
    assert [url for url in requests if not url.startswith(("blob:", "data:"))] == [line_file.as_uri()]
    assert complaints == []


@pytest.mark.browser
def test_the_page_of_a_line_stands_alone_in_webkit(line_file: Path, webkit: WebKitGTK) -> None:
    webkit.get(line_file.as_uri())
    webkit.execute_script(f"return ({IN_D_FLAT})()")
    WebDriverWait(webkit, 60).until(lambda browser: browser.execute_script(f"return ({NOTES})()").startswith("G♭"))
    assert webkit.execute_script("return document.querySelectorAll('#staff [data-index]').length") > 10


def test_a_line_is_handed_over_by_its_file(tmp_path: Path) -> None:
    made = make(str(tmp_path / "not-here.abc"), "--out", str(tmp_path / "line.html"))
    assert (made.returncode, made.stdout) == (2, "")
    assert "cannot be read" in made.stderr
    assert len(made.stderr.splitlines()) == 1


@pytest.mark.parametrize("slug", [entry.slug for entry in CATALOGUE])
def test_every_drill_can_be_handed_over(slug: str, site: Path) -> None:
    round_ = editions.asked_round(slug, {"count": "2"})
    text = editions.one_file(site, round_)
    assert round_html(round_) in text
    assert len(list(elements(text))) > 100


REFUSED = {
    "no drill": (["no-such-drill"], '"no-such-drill" is no drill; write one of name-the-degree'),
    "a path": (["../index"], '"../index" is no drill'),
    "a script": (["name-the-degree", "--keys", "<script>alert(1)</script>"], '" is no root; write for example C,F,Bb'),
    "a broken list": (["name-the-degree", "--keys", "C,,F"], 'column 3: "" is no root; write for example C,F,Bb'),
    "a kind that it does not ask": (["choose-the-resolution", "--chords", "maj7"], '"maj7" is not asked by'),
    "no questions": (["name-the-degree", "--count", "0"], '"0" is no count'),
    "too many": (["name-the-degree", "--count", str(LONGEST_ROUND + 1)], "is more than a round has"),
    "a level": (["name-the-degree", "--level", "9"], '"9" is no level'),
    "no file": (["finish-the-line", "--line", "not-here.abc"], '"not-here.abc" cannot be read'),
    "a file that is no line": (["finish-the-line", "--line", "LICENSE"], "line 1, column"),
    "a drill without lines": (["name-the-degree", "--line", "mine.abc"], '"--line" does not go with name-the-degree'),
    "too many words": (["name-the-degree", "--words", "W" * 201], "has 201 signs; 200 are the most"),
    "a quote": (["name-the-degree", "--seed", '1" onload="alert(1)'], "is no seed"),
}


@pytest.mark.parametrize(("arguments", "sentence"), REFUSED.values(), ids=REFUSED.keys())
def test_what_cannot_be_done_is_refused_before_anything_is_written(
    arguments: list[str], sentence: str, tmp_path: Path
) -> None:
    made = make(*arguments, "--out", str(tmp_path / "drill.html"))
    assert made.returncode == 2
    assert sentence in made.stderr
    assert len(made.stderr.splitlines()) == 1
    assert made.stdout == ""
    assert list(tmp_path.iterdir()) == []


def test_a_fault_is_told_as_at_the_terminal() -> None:
    for option in OPTIONS:
        terminal = [sys.executable, "-m", "engine", "drill", "name-the-degree", f"--{option.name}", "?"]
        told = subprocess.run(terminal, cwd=ROOT, capture_output=True, text=True).stderr
        with pytest.raises(BadInput) as fault:
            editions.asked_round("name-the-degree", {option.name: "?"})
        assert told.strip() == str(fault.value)


def test_a_folder_that_is_not_there_is_named(tmp_path: Path) -> None:
    made = make("name-the-degree", "--out", str(tmp_path / "nowhere" / "drill.html"))
    assert made.returncode == 1
    assert "name a file in a folder that is there" in made.stderr


@pytest.mark.parametrize(
    ("change", "expected"),
    [
        (lambda edits, found: edits.replace(found["b"], "X"), '<p title="a>b">\n1X3</p>\n<br>é'),
        (lambda edits, found: edits.replace_start(found["p"], "<p>"), "<p>\n1<b>2 &amp; <i>♭</i></b>3</p>\n<br>é"),
        (lambda edits, found: edits.replace(found["br"], ""), '<p title="a>b">\n1<b>2 &amp; <i>♭</i></b>3</p>\né'),
    ],
)
def test_elements_are_replaced_and_the_rest_stays(
    change: Callable[[Edits, dict[str, object]], None], expected: str
) -> None:
    text = '<p title="a>b">\n1<b>2 &amp; <i>♭</i></b>3</p>\n<br>é'
    edits = Edits(text)
    found = {element.tag: element for element in elements(text)}
    change(edits, found)
    if "X" in expected:
        edits.replace(found["i"], "never seen")
    assert edits.made() == expected


@pytest.mark.parametrize("text", ["<p>", "<p></b></p>", "</p>"])
def test_a_page_whose_elements_do_not_match_is_an_error(text: str) -> None:
    with pytest.raises(ValueError, match="clos"):
        list(elements(text))
