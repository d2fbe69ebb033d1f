"""The built folder opened from disk: pages link to each other, and the engine runs."""

import re
from collections.abc import Callable, Iterator
from html import unescape
from pathlib import Path
from typing import Any
from urllib.parse import unquote, urlsplit

import disk
import names
import playing
import pytest
from browsing import PHONE, Served, Visit, start
from playwright.sync_api import Browser, Page
from selenium.webdriver import WebKitGTK

DRILL = "drills/name-the-degree.html"
OPEN_ENGINE = """async ({options, requests}) => {
  const steps = [];
  const onProgress = (step) => steps.push(step);
  try {
    const engine = await linekeeper.openEngine({base: document.documentElement.dataset.base, onProgress, ...options});
    const answers = [];
    for (const request of requests) answers.push(await engine.call(request).catch((error) => error.message));
    engine.close();
    return {steps, answers};
  } catch (error) {
    return {steps, error: error.message};
  }
}"""
ECHO = """
self.onmessage = ({data}) => {
  if (data.request !== '{"silent":true}') self.postMessage({id: data.id, answer: data.request ?? ""});
};
"""

OpenPage = Callable[..., Page]


@pytest.fixture
def open_from_disk(chromium: Browser, site: Path) -> Iterator[OpenPage]:
    """Opens pages of the site from disk, with a script that runs before theirs; each may only load what is there."""
    opened: list[tuple[Page, list[str], list[str]]] = []

    def open_page(path: str, before: str = "") -> Page:
        page = chromium.new_context(viewport=PHONE).new_page()
        requests: list[str] = []
        faults: list[str] = []
        page.on("request", lambda request: requests.append(request.url))
        page.on("pageerror", lambda error: faults.append(str(error)))
        page.on("console", lambda message: message.type == "error" and faults.append(message.text))
        if before:
            page.add_init_script(before)
        page.goto(site.as_uri() + f"/{path}")
        opened.append((page, requests, faults))
        return page

    yield open_page
    for page, requests, faults in opened:
        page.context.close()
        assert [url for url in requests if not url.startswith((f"{site.as_uri()}/", "data:", "blob:null/"))] == []
        assert faults == []


def test_every_address_in_the_site_leads_to_one_of_its_files(site: Path) -> None:
    checked = 0
    for page in site.rglob("*.html"):
        for tag, found in re.findall(r'<([a-z]+)[^>]* (?:href|src)="([^"]*)"', page.read_text(encoding="utf-8")):
            address = urlsplit(unescape(found))
            # A reader may follow a link to somewhere else; nothing may be loaded from there.
            if address.scheme == "data" or (tag == "a" and address.scheme == "https") or not address.path:
                continue
            assert not address.scheme, f"{page.name}: {found} leads elsewhere"
            target = (page.parent / unquote(address.path)).resolve()
            assert target.is_file(), f"{page.name}: {found} leads nowhere"
            assert target.is_relative_to(site.resolve())
            checked += 1
    assert checked > 100


@pytest.mark.browser
def test_a_round_is_played_and_the_next_one_comes_from_the_engine(open_from_disk: OpenPage) -> None:
    playing.check_played(playing.in_playwright(open_from_disk(DRILL)))


@pytest.mark.browser
def test_a_round_is_played_in_webkit(webkit: WebKitGTK, site: Path) -> None:
    webkit.get(f"{site.as_uri()}/{DRILL}")
    playing.check_played(playing.in_webdriver(webkit))


@pytest.mark.browser
def test_a_link_to_one_drill_is_opened(open_from_disk: OpenPage) -> None:
    page = open_from_disk(f"{DRILL}#keys=F&chords=m7&count=3&seed=5")
    page.locator("#round[data-plan*='m7']").wait_for(timeout=30_000)
    assert page.locator("#round .question").count() == 3


@pytest.mark.browser
def test_a_reader_gets_from_page_to_page(open_from_disk: OpenPage) -> None:
    page = open_from_disk("index.html")
    page.locator("nav a:text('Drills')").locator("visible=true").first.click()
    page.locator(".list a").first.click()
    page.locator("#round .question").first.wait_for()
    assert "/drills/" in page.url


@pytest.mark.browser
def test_progress_is_told_step_by_step(open_from_disk: OpenPage) -> None:
    outcome = open_from_disk("about.html").evaluate(OPEN_ENGINE, {"options": {}, "requests": [{}]})
    steps = outcome["steps"]
    assert outcome["answers"] == [{}]
    assert (steps[0], steps[-1]) == (0, 1)
    assert steps == sorted(set(steps))
    assert len(steps) > 5


def carrying(worker: str) -> str:
    """A script that puts another worker in the place of the engine's."""
    return f"globalThis.carriedRuntime = {{worker: {worker!r}, info: {{}}, files: {{}}}};"


def ask(page: Page, *requests: Any, **options: Any) -> Any:
    return page.evaluate(OPEN_ENGINE, {"options": options, "requests": list(requests)})


@pytest.mark.browser
def test_requests_and_answers_arrive_unchanged(open_from_disk: OpenPage) -> None:
    requests = [{"text": "E♭ 𝄫 é", "list": [1, 2.5, None, True]}, {"nested": {"a": []}}]
    assert ask(open_from_disk("about.html", carrying(ECHO)), *requests)["answers"] == requests


@pytest.mark.browser
def test_a_call_without_an_answer_is_rejected(open_from_disk: OpenPage) -> None:
    page = open_from_disk("about.html", carrying(ECHO))
    assert ask(page, {"silent": True}, {"n": 1}, callLimit=500)["answers"] == [
        "the engine did not answer in time",
        {"n": 1},
    ]


@pytest.mark.browser
@pytest.mark.parametrize(
    ("worker", "message"),
    [
        ("self.onmessage = () => {};", "the engine fell silent while it was loading"),
        ("(", "the engine's worker failed: Uncaught SyntaxError: Unexpected end of input"),
        (
            "self.onmessage = ({data}) => self.postMessage({id: data.id, failed: 'out of tune'});",
            "the engine's worker failed: out of tune",
        ),
    ],
)
def test_a_start_that_fails_says_so(worker: str, message: str, open_from_disk: OpenPage) -> None:
    page = open_from_disk("about.html", carrying(worker))
    assert ask(page, silenceLimit=1500)["error"] == message


@pytest.mark.browser
@pytest.mark.parametrize("missing", ["WebAssembly", "Worker", "DecompressionStream"])
def test_where_the_engine_cannot_run_the_page_says_so_and_can_be_played(missing: str, open_from_disk: OpenPage) -> None:
    page = open_from_disk(DRILL, f"delete globalThis.{missing};")
    notice = page.locator("#notice")
    notice.wait_for()
    assert "works as it is" in notice.inner_text()
    section = page.locator(".question.now")
    section.locator(".choices label").first.click()
    section.locator(".verdict").locator("visible=true").first.wait_for()
    section.locator("a.next").click()
    assert page.locator(".question.now").get_attribute("id") == "q2"


@pytest.mark.browser
def test_over_http_it_is_never_asked_for(phone: Visit, served: Served) -> None:
    requests: list[str] = []
    phone.page.context.on("request", lambda request: requests.append(request.url))
    start(phone, served)
    assert any("library.zip" in url for url in requests)
    assert [url for url in requests if disk.NAME in url] == []


def test_the_script_is_small_enough_and_the_same_in_every_build(site: Path) -> None:
    path = names.published(site, f"runtime/{disk.NAME}")
    assert path.stat().st_size < 7_500_000
    text = path.read_text(encoding="ascii")
    assert "<" not in text
    assert disk.script(path.parent) == text
