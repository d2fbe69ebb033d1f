"""The edition whose interpreter comes from a public host: the right bytes from there, or a plain word and the round."""

import re
import subprocess
import sys
import threading
from collections.abc import Iterator
from dataclasses import dataclass, field
from functools import partial
from html import unescape
from pathlib import Path
from typing import Any

import cdn
import names
import playing
import policy
import pytest
import serving
from browsing import PHONE, POLICY, PREFIX, Handler, Served
from playwright.sync_api import Browser, BrowserContext, Page, Route

ROOT = Path(__file__).resolve().parents[2]
DRILL = "drills/name-the-degree.html"
HOST = "https://cdn.jsdelivr.net"


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The built folder of this edition."""
    out = tmp_path_factory.mktemp("cdn") / "site"
    subprocess.run([sys.executable, "build.py", "build", "--cdn", "--out", out], cwd=ROOT, check=True)
    return out


@pytest.fixture(scope="module")
def server(folder: Path) -> Iterator[Served]:
    """A server for it, with a policy that lets pages ask the host."""
    current: list[Served] = []
    server = serving.open_server(folder, 8250, partial(Handler, served=lambda: current[-1]))  # type: ignore[arg-type]
    origin = f"http://{serving.ADDRESS}:{server.server_port}"
    current.append(Served(origin, folder, policy.asking(POLICY, cdn.BASE)))
    threading.Thread(target=server.serve_forever, daemon=True).start()
    yield current[0]
    server.shutdown()
    server.server_close()


@dataclass
class Host:
    """Stands in for the public host, with the files that npm has installed here."""

    asked: list[str] = field(default_factory=list)
    foreign: list[str] = field(default_factory=list)
    spoilt: str = "nothing"
    is_there: bool = True

    def answer(self, route: Route) -> None:
        """Sends a file; the spoilt one with another last byte."""
        address = route.request.url
        package, _, rest = address.removeprefix(f"{cdn.BASE}/").rpartition("@")
        file = cdn.PACKAGES / package / rest.partition("/")[2]
        self.asked.append(file.name)
        if not self.is_there:
            route.abort()
            return
        content = file.read_bytes()
        if file.name.startswith(self.spoilt):
            content = content[:-1] + bytes([content[-1] ^ 1])
        route.fulfill(
            body=content,
            content_type="application/wasm" if file.suffix == ".wasm" else "application/javascript",
            headers={"access-control-allow-origin": "*"},
        )


@pytest.fixture
def host() -> Host:
    return Host()


@pytest.fixture
def keeping() -> str:
    """Whether pages may keep the site for offline use; "allow" or "block"."""
    return "block"


@pytest.fixture
def context(chromium: Browser, server: Served, host: Host, keeping: Any) -> Iterator[BrowserContext]:
    context = chromium.new_context(viewport=PHONE, service_workers=keeping)
    context.route(f"{HOST}/**", host.answer)
    own = (f"{server.origin}{PREFIX}", f"blob:{server.origin}/", "data:", f"{cdn.BASE}/")
    context.on("request", lambda request: request.url.startswith(own) or host.foreign.append(request.url))
    yield context
    context.close()
    assert host.foreign == []


def open_page(context: BrowserContext, server: Served) -> Page:
    page = context.new_page()
    page.goto(server.url(DRILL))
    return page


@pytest.mark.browser
def test_a_round_is_played_with_the_host_s_interpreter(context: BrowserContext, server: Served, host: Host) -> None:
    page = open_page(context, server)
    playing.check_played(playing.in_playwright(page))
    wait_until_kept(page)
    assert sorted(name.split("-")[0] for name in host.asked) == [
        "Tone.js", "core", "pyodide.asm.mjs", "pyodide.asm.wasm", "pyodide.mjs",
    ]  # fmt: skip


SOUNDS = """
globalThis.begun = 0;
globalThis.opened = [];
const start = AudioBufferSourceNode.prototype.start;
AudioBufferSourceNode.prototype.start = function (...all) {
  begun += 1;
  return start.apply(this, all);
};
const Known = AudioContext;
globalThis.AudioContext = class extends Known {
  constructor(...all) {
    super(...all);
    opened.push(this);
  }
};
"""


def play_band(context: BrowserContext, server: Served) -> Page:
    """The page of the band, tapped once the engine is there."""
    page = context.new_page()
    page.add_init_script(SOUNDS)
    page.goto(server.url("band.html"))
    page.locator("#with-band [data-hear]").click()
    return page


def check_it_sounds(page: Page) -> None:
    page.wait_for_function(
        "() => document.querySelector('#sounding-chorus').textContent.startsWith('Chorus')", timeout=60_000
    )
    assert page.evaluate("begun") > 0
    # No other context is left open beside the one that sounds.
    assert page.evaluate("opened.map(({state}) => state).sort()") in (["closed", "running"], ["running"])


@pytest.mark.browser
def test_the_band_plays_with_the_host_s_tone(context: BrowserContext, server: Served, host: Host) -> None:
    check_it_sounds(play_band(context, server))
    assert host.asked.count("Tone.js") == 1


@pytest.mark.browser
@pytest.mark.parametrize("spoilt", ["Tone.js", "nothing"])
def test_without_the_right_tone_the_band_is_silent_and_says_so_until_it_can_be_had(
    spoilt: str, context: BrowserContext, server: Served, host: Host
) -> None:
    # The engine comes first, so that nothing but the band is missing.
    first = open_page(context, server)
    playing.in_playwright(first)
    wait_until_kept(first)
    first.evaluate(
        """async () => {
          const name = (await caches.keys()).find((name) => name.startsWith("linekeeper cdn "));
          const cache = await caches.open(name);
          for (const {url} of await cache.keys()) if (url.endsWith("Tone.js")) await cache.delete(url);
        }"""
    )
    first.close()
    host.spoilt, host.is_there = spoilt, spoilt != "nothing"
    page = play_band(context, server)
    page.locator("#notice", has_text="cannot be loaded").or_(
        page.locator("#notice", has_text="can be loaded")
    ).wait_for(timeout=60_000)
    assert page.locator("#with-band [data-hear]").get_attribute("aria-pressed") == "false"
    assert page.evaluate("begun") == 0
    host.spoilt, host.is_there = "nothing", True
    page.locator("#with-band [data-hear]").click()
    check_it_sounds(page)


@pytest.mark.browser
def test_after_one_visit_the_host_is_not_needed(context: BrowserContext, server: Served, host: Host) -> None:
    page = open_page(context, server)
    playing.in_playwright(page)
    wait_until_kept(page)
    page.close()
    host.asked.clear()
    host.is_there = False
    playing.in_playwright(open_page(context, server))
    check_it_sounds(play_band(context, server))
    assert host.asked == []


@pytest.mark.browser
@pytest.mark.parametrize("keeping", ["allow"])
def test_after_one_visit_no_connection_is_needed(context: BrowserContext, server: Served, host: Host) -> None:
    page = open_page(context, server)
    page.locator("#keeping [data-when=kept]").wait_for(timeout=60_000)
    wait_until_kept(page)
    host.asked.clear()
    context.set_offline(True)
    page.reload()
    playing.in_playwright(page)
    check_it_sounds(play_band(context, server))
    assert host.asked == []


def wait_until_kept(page: Page) -> None:
    """Returns when the host's five files are in the cache; one that is still being written is listed there, but short."""
    page.evaluate(
        """async (least) => {
          for (const end = performance.now() + 60_000; performance.now() < end; ) {
            const name = (await caches.keys()).find((name) => name.startsWith("linekeeper cdn "));
            const found = name ? await (await caches.open(name)).matchAll() : [];
            const sizes = await Promise.all(found.map(async (one) => (await one.arrayBuffer()).byteLength));
            if (sizes.length === 5 && sizes.every((size) => size > 0) && Math.max(...sizes) >= least) return;
            await new Promise((go) => setTimeout(go, 100));
          }
          throw new Error("the host's files are not kept");
        }""",
        (cdn.PACKAGES / "pyodide" / "pyodide.asm.wasm").stat().st_size,
    )


@pytest.mark.browser
@pytest.mark.parametrize("name", ["pyodide.mjs", "pyodide.asm.mjs", "pyodide.asm.wasm", "core-"])
def test_a_wrong_byte_is_refused_and_the_round_goes_on(
    name: str, context: BrowserContext, server: Served, host: Host
) -> None:
    host.spoilt = name
    check_round_goes_on(open_page(context, server))


@pytest.mark.browser
def test_without_the_host_the_round_goes_on(context: BrowserContext, server: Served, host: Host) -> None:
    host.is_there = False
    check_round_goes_on(open_page(context, server))


def check_round_goes_on(page: Page) -> None:
    notice = page.locator("#notice")
    notice.wait_for(timeout=30_000)
    assert notice.locator("span").inner_text().count(".") == 1
    assert "works as it is" in notice.inner_text()
    page.locator(".question.now .choices label").first.click()
    page.locator(".question.now .verdict").locator("visible=true").first.wait_for()


def test_nothing_of_the_host_is_in_the_folder(folder: Path) -> None:
    paths = {names.plain(path.relative_to(folder).as_posix()) for path in names.files_of(folder)}
    assert "runtime/library.zip" in paths
    assert {path for path in paths if path.endswith((".wasm", "disk.js")) or "core-" in path} == set()
    assert sum(path.stat().st_size for path in names.files_of(folder)) < 12_000_000


def test_the_band_s_bundle_has_no_tone_inside(folder: Path, site: Path) -> None:
    sizes = [names.published(built, "app/band.js").stat().st_size for built in (folder, site)]
    assert sizes[0] < 15_000 < 100_000 < sizes[1]
    assert b"cdn.mjs" not in names.published(site, "app/band.js").read_bytes()


def test_the_host_is_named_in_this_edition_only(folder: Path, site: Path) -> None:
    for address in (f"{cdn.BASE}/pyodide@", f"{cdn.BASE}/@pyscript/core@", f"{cdn.BASE}/tone@"):
        holding = [[path.name for path in names.files_of(built) if address.encode() in path.read_bytes()]
                   for built in (folder, site)]  # fmt: skip
        assert holding == [["cdn.mjs"], []]


def test_pages_and_host_may_ask_it_and_no_other(folder: Path, site: Path) -> None:
    for built, allowed in ((folder, True), (site, False)):
        for path in [*built.rglob("*.html"), built / policy.HEADERS, built / policy.HTACCESS]:
            found = re.findall(r"connect-src ([^;\"\n]*)", unescape(path.read_text(encoding="utf-8")))
            assert [sources.split()[-1] for sources in found] == [HOST] * allowed


def test_every_hash_is_that_of_the_installed_file(folder: Path) -> None:
    text = names.published(folder, "runtime/cdn.mjs").read_text(encoding="utf-8")
    assert "{{" not in text
    for _, _, package, path in cdn.FILES + cdn.SCRIPTS:
        (file,) = (cdn.PACKAGES / package).glob(path)
        assert cdn.integrity(file.read_bytes()) in text


def test_a_host_can_be_named(tmp_path: Path) -> None:
    out = tmp_path / "site"
    command = [sys.executable, "build.py", "build", "--cdn", "https://files.example.org/npm/", "--out", out]
    subprocess.run(command, cwd=ROOT, check=True, capture_output=True)
    text = names.published(out, "runtime/cdn.mjs").read_text(encoding="utf-8")
    assert "https://files.example.org/npm/pyodide@" in text
    assert HOST not in text


@pytest.mark.parametrize(
    "typed",
    ["", "example.org", "http://example.org", "ftp://example.org", "https://", "https://a b", 'https://a/"', "https://a/?x",
     "https://a/#x", "https://a/'+alert(1)+'", "https://u:p@a/"],
)  # fmt: skip
def test_what_is_no_host_is_refused(typed: str) -> None:
    with pytest.raises(ValueError, match="is no address of a host"):
        cdn.base_address(typed)


@pytest.mark.parametrize(
    ("typed", "read"),
    [
        ("https://a.example/npm/", "https://a.example/npm"),
        ("http://127.0.0.1:8000", "http://127.0.0.1:8000"),
        (cdn.BASE, cdn.BASE),
    ],
)
def test_a_host_is_read(typed: str, read: str) -> None:
    assert cdn.base_address(typed) == read
