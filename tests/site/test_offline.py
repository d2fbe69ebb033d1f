"""The site after one visit without any connection, and the taking up of a new version: whole, or not at all."""

import json
import re
from collections.abc import Callable, Iterator
from html import unescape
from pathlib import Path
from typing import Any

import names
import offline
import pytest
import toolchain
from browsing import CHROMIUM_FLAGS, PHONE, SNAPSHOTS, Visit, Watch
from hosting import Host, build_id, next_build
from playwright.sync_api import Browser, BrowserContext, Page, expect

OpenVisit = Callable[..., Visit]
LINE, KEY = "lines/night-lift.html", "C"
LINK = "drills/name-the-degree.html#v=1&count=2&seed=3"
CACHES = """async () => {
  const found = {};
  const own = (await caches.keys()).filter((name) => name.startsWith("linekeeper http"));
  for (const name of own) found[name] = (await (await caches.open(name)).keys()).length;
  return found;
}"""
DROP = """async (path) => {
  let dropped = 0;
  for (const name of await caches.keys()) {
    const cache = await caches.open(name);
    for (const { url } of await cache.keys()) if (url.endsWith(path)) dropped += await cache.delete(url);
  }
  return dropped;
}"""
BUILD = "document.documentElement.dataset.build"
ABOUT = {"about.html": ("Signs", "Signs, all of them")}
ENGINE = {**ABOUT, "runtime/interpreter.mjs": ("Boots Pyodide", "Starts Pyodide")}


@pytest.fixture
def open_visit(chromium: Browser, host: Host) -> Iterator[OpenVisit]:
    """Opens pages that may keep the site; each is checked when the test ends."""
    visits: list[Visit] = []

    def open_page(script: str = "", **options: Any) -> Visit:
        context = chromium.new_context(**{"viewport": PHONE, **options})
        if script:
            context.add_init_script(script)
        visits.append(Visit(context.new_page(), Watch(context, host.served.origin)))
        return visits[-1]

    yield open_page
    for opened in visits:
        opened.page.context.close()
    for opened in visits:
        opened.watch.check()


def lasting(chromium: Browser, place: Path) -> BrowserContext:
    """A browser of its own that keeps its things in `place`, as it does after a restart."""
    return chromium.browser_type.launch_persistent_context(
        place / "profile", executable_path=toolchain.browser(), args=CHROMIUM_FLAGS, viewport=PHONE
    )


def line(page: Page, when: str) -> Any:
    """The line that says one thing about the keeping."""
    return page.locator(f'#keeping [data-when="{when}"]')


def first_visit(visit: Visit, host: Host, path: str = "index.html") -> Page:
    """Opens a page and waits until the whole site is on the device."""
    visit.page.goto(host.served.url(path))
    expect(line(visit.page, "kept")).to_be_visible(timeout=30_000)
    return visit.page


def play(page: Page, host: Host) -> None:
    """Plays a round that only the engine can make: what the link asks for, not what the page brought along."""
    page.goto(host.served.url(LINK))
    expect(page.locator(".question")).to_have_count(2, timeout=30_000)
    for number in (1, 2):
        page.locator(f"#q{number} .choice.right label").click()
        expect(page.locator(f"#q{number} .why.always")).to_be_visible()
        page.locator(f"#q{number} .next").click()
    expect(page.locator("#result")).to_be_visible()


def move_a_line(page: Page, host: Host) -> None:
    """Asks for a line in another key, with its notes drawn: an engine's pack and the engraver must be there for that."""
    page.goto(host.served.url(LINE))
    expect(page.locator("#staff .vf-notehead, #staff [data-index]").first).to_be_visible(timeout=30_000)
    before = page.locator("#staff").inner_html()
    page.locator("#line input[name=key]:not(:checked)").first.check()
    expect(page.locator("#line")).to_have_attribute("data-desk", re.compile('"key":"(?!' + KEY + ")"), timeout=30_000)
    assert page.locator("#staff").inner_html() != before


def pages(site: Path) -> list[str]:
    """All pages of a site."""
    return [path.relative_to(site).as_posix() for path in names.files_of(site) if path.suffix == ".html"]


def title(page: Path) -> str:
    """The title of a page, which no other page has."""
    found = re.search("<title>(.*?)</title>", page.read_text(encoding="utf-8"))
    assert found
    return unescape(found[1])


# --- without a connection --------------------------------------------------------------------------------


@pytest.mark.browser
def test_every_page_opens_and_a_round_is_played_without_a_server(open_visit: OpenVisit, host: Host, site: Path) -> None:
    page = first_visit(open_visit(), host)
    host.stop()
    for path in pages(site):
        page.goto(host.served.url(path))
        assert page.title() == title(site / path)
        looks = page.evaluate("[...document.styleSheets].map(sheet => sheet.cssRules.length > 0)")
        assert looks == [True]
    play(page, host)
    move_a_line(page, host)


@pytest.mark.browser
@pytest.mark.parametrize(
    ("address", "opened"),
    [
        ("", "index.html"),
        ("?from=somewhere", "index.html"),
        ("drills/", "drills/index.html"),
        ("drills/#signs", "drills/index.html"),
        ("about.html?from=somewhere#signs", "about.html"),
        ("handbook/degrees", "handbook/degrees.html"),  # some hosts take the ending off
    ],
)
def test_an_address_opens_its_page_whatever_is_added(
    address: str, opened: str, open_visit: OpenVisit, host: Host, site: Path
) -> None:
    page = first_visit(open_visit(), host)
    host.stop()
    page.goto(host.served.url(address))
    assert page.title() == title(site / opened)


@pytest.mark.browser
def test_the_site_opens_without_a_server_after_a_restart_of_the_browser(
    chromium: Browser, host: Host, tmp_path: Path
) -> None:
    context = lasting(chromium, tmp_path)
    watch = Watch(context, host.served.origin)
    first_visit(Visit(context.new_page(), watch), host)
    context.close()
    host.stop()
    context = lasting(chromium, tmp_path)
    again = Watch(context, host.served.origin)
    play(context.new_page(), host)
    context.close()
    watch.check()
    again.check()


@pytest.mark.browser
def test_a_browser_finds_nothing_missing_to_install_it(chromium: Browser, host: Host, tmp_path: Path) -> None:
    context = lasting(chromium, tmp_path)
    page = context.new_page()
    page.goto(host.served.url("about.html"))
    session = context.new_cdp_session(page)
    assert session.send("Page.getInstallabilityErrors")["installabilityErrors"] == []
    found = session.send("Page.getAppManifest")
    assert found["errors"] == []
    assert found["url"] == host.served.url("manifest.webmanifest")
    context.close()


@pytest.mark.browser
def test_the_policy_of_the_host_stays_with_the_kept_pages(open_visit: OpenVisit, host: Host) -> None:
    page = first_visit(open_visit(), host)
    host.stop()
    response = page.goto(host.served.url("about.html"))
    assert response
    assert response.headers["content-security-policy"] == host.served.policy


@pytest.mark.browser
def test_the_first_page_is_not_slowed(open_visit: OpenVisit, host: Host) -> None:
    """Nothing is kept before the engine has started."""
    host.served.stalled.add("runtime/library.zip")
    page = open_visit().page
    page.goto(host.served.url("index.html"))
    expect(page.locator("#loading")).to_be_visible()
    page.wait_for_timeout(1500)
    assert [path for path in host.asked if path.endswith("sw.js")] == []


@pytest.mark.browser
def test_a_page_without_a_round_begins_nothing(open_visit: OpenVisit, host: Host) -> None:
    page = open_visit().page
    page.goto(host.served.url("about.html"))
    page.wait_for_timeout(1500)
    assert page.evaluate(CACHES) == {}


# --- files that the browser has dropped ------------------------------------------------------------------


@pytest.mark.browser
def test_a_dropped_file_is_fetched_again_and_kept(open_visit: OpenVisit, host: Host) -> None:
    page = first_visit(open_visit(), host)
    kept = page.evaluate(CACHES)
    for path in ("about.html", "pyodide.asm.wasm"):
        assert page.evaluate(DROP, path) == 1
    host.asked.clear()
    page.goto(host.served.url("about.html"))
    expect(page.locator("h1")).to_have_text("About")
    # The page has the worker fetch what else is gone.
    for _ in range(100):
        if page.evaluate(CACHES) == kept:
            break
        page.wait_for_timeout(100)
    assert page.evaluate(CACHES) == kept
    assert {names.plain(path.removeprefix("/some/folder/")) for path in host.asked} >= {
        "about.html",
        "runtime/pyodide.asm.wasm",
    }
    host.stop()
    play(page, host)


@pytest.mark.browser
@pytest.mark.parametrize("lost", ["the site's", "the browser's"])
def test_of_the_two_copies_of_the_interpreter_one_will_do(
    lost: str, chromium: Browser, host: Host, tmp_path: Path
) -> None:
    """A return visit takes the browser's own, with the code that was compiled for it; else the one that is kept."""
    context = lasting(chromium, tmp_path)
    watch = Watch(context, host.served.origin)
    # Only where the browser has none it logs that.
    watch.expect("ERR_CACHE_MISS" if lost == "the browser's" else "ERR_CONNECTION_REFUSED")
    page = first_visit(Visit(context.new_page(), watch), host, "drills/name-the-degree.html")
    page.evaluate(SNAPSHOTS, 1)
    host.stop()
    if lost == "the site's":
        assert page.evaluate(DROP, "/pyodide.asm.wasm") == 1
    else:
        context.new_cdp_session(page).send("Network.clearBrowserCache")
    page.reload()
    page.wait_for_function("() => performance.getEntriesByName('engine ready').length", timeout=30_000)
    assert page.evaluate("() => performance.getEntriesByName('engine ready')[0].detail"), "no snapshot was used"
    context.close()
    watch.check()


@pytest.mark.browser
def test_a_dropped_file_that_cannot_be_had_is_said(open_visit: OpenVisit, host: Host) -> None:
    visit = open_visit()
    visit.watch.expect("")  # the browser logs what cannot be loaded
    page = first_visit(visit, host)
    host.stop()
    assert page.evaluate(DROP, "/library.zip") == 1
    page.goto(host.served.url("drills/name-the-degree.html"))
    expect(page.locator("#notice")).to_contain_text("can be loaded just now", timeout=30_000)
    page.locator("#q1 .choice.right label").click()
    expect(page.locator("#q1 .why.always")).to_be_visible()
    assert page.evaluate(DROP, "/about.html") == 1
    with pytest.raises(Exception, match="ERR_FAILED"):
        page.goto(host.served.url("about.html"))


@pytest.mark.browser
def test_a_file_of_another_build_does_not_take_a_dropped_ones_place(
    open_visit: OpenVisit, host: Host, tmp_path: Path
) -> None:
    visit = open_visit()
    page = first_visit(visit, host)
    kept = page.evaluate(CACHES)
    assert page.evaluate(DROP, "/care.html") == 1
    host.serve(next_build(host.site, tmp_path / "next", {"care.html": ("Hands", "Both hands")}))
    page.goto(host.served.url("care.html"))
    # A page of the new build is whole in itself, so it is shown; but the old version does not keep it.
    expect(page.locator("h2").first).to_have_text("Both hands")
    old = next(iter(kept))
    assert page.evaluate(CACHES)[old] == kept[old] - 1


# --- a new version ---------------------------------------------------------------------------------------


@pytest.mark.browser
def test_a_new_version_is_taken_up_whole_when_the_player_wants_it(
    open_visit: OpenVisit, host: Host, site: Path, tmp_path: Path
) -> None:
    visit = open_visit()
    page = first_visit(visit, host)
    host.serve(next_build(site, tmp_path / "next", ENGINE))
    page.goto(host.served.url("about.html"))
    expect(line(page, "update")).to_be_visible(timeout=30_000)
    assert page.evaluate(BUILD) == build_id(site)
    expect(page.locator("#signs")).to_have_text("Signs")
    # What has not changed is not fetched, though its folder has another name.
    assert [path for path in host.asked if path.endswith((".wasm", "core.js", ".woff2"))] == []

    loads: list[str] = []
    page.on("load", lambda loaded: loads.append(loaded.url))
    line(page, "update").get_by_role("button").click()
    expect(page.locator("#signs")).to_have_text("Signs, all of them")
    page.wait_for_timeout(1000)
    assert len(loads) == 1
    assert page.evaluate(BUILD) == build_id(host.site) != build_id(site)
    assert [name.split()[2] for name in page.evaluate(CACHES)] == [build_id(host.site)]
    expect(line(page, "update")).to_be_hidden()

    # A snapshot of the new engine, which only makes a start quicker, is looked for in vain.
    visit.watch.expect("ERR_CONNECTION_REFUSED")
    host.stop()
    play(page, host)
    told = page.evaluate("() => document.querySelector('script[type=py]').xworker.sync.build()")
    assert told == build_id(host.site)


@pytest.mark.browser
@pytest.mark.parametrize("fault", ["missing", "cut off", "another content"])
@pytest.mark.parametrize("path", ["about.html", "runtime/interpreter.mjs"])
def test_half_a_new_version_is_none(
    fault: str, path: str, open_visit: OpenVisit, host: Host, site: Path, tmp_path: Path
) -> None:
    visit = open_visit()
    page = first_visit(visit, host)
    kept = page.evaluate(CACHES)
    visit.watch.expect("Failed to load resource")
    host.serve(next_build(site, tmp_path / "next", ENGINE))
    if fault == "missing":
        host.served.missing.add(path)
    elif fault == "cut off":
        host.served.cut_off.add(path)
    else:
        host.served.replaced[path] = "something else"
    page.evaluate(
        """async () => {
          const registration = await navigator.serviceWorker.getRegistration();
          const installing = new Promise((resolve) => registration.addEventListener("updatefound", () => {
            const { installing } = registration;
            installing.addEventListener("statechange", () => resolve(installing.state));
          }));
          await registration.update().catch(() => {});
          window.became = await installing;
        }"""
    )
    assert page.evaluate("window.became") == "redundant"
    assert page.evaluate(CACHES) == kept
    expect(line(page, "update")).to_be_hidden()
    page.goto(host.served.url("about.html"))
    assert page.evaluate(BUILD) == build_id(site)
    host.stop()
    play(page, host)


@pytest.mark.browser
def test_a_new_version_is_never_forced_under_a_running_round(
    open_visit: OpenVisit, host: Host, site: Path, tmp_path: Path
) -> None:
    page = first_visit(open_visit(), host, "drills/name-the-degree.html")
    page.locator("#q1 .choice.right label").click()
    page.locator("#q1 .next").click()
    page.evaluate("window.here = true")
    other = page.context.new_page()
    other.goto(host.served.url("care.html"))
    host.serve(next_build(site, tmp_path / "next", ENGINE))
    other.reload()
    for one in (page, other):
        expect(line(one, "update")).to_be_visible(timeout=30_000)
    line(other, "update").get_by_role("button").click()
    expect(other.locator("html")).to_have_attribute("data-build", build_id(host.site))

    page.bring_to_front()
    # The round goes on with its own engine to its end; only then, and only when asked, comes the new version.
    assert page.evaluate("window.here")
    expect(line(page, "update")).to_be_visible()
    for number in range(2, 11):
        page.locator(f"#q{number} .choice.right label").click()
        page.locator(f"#q{number} .next").click()
    expect(page.locator("#result")).to_be_visible()
    assert page.evaluate(f"window.here && {BUILD}") == build_id(site)
    line(page, "update").get_by_role("button").click()
    expect(page.locator("html")).to_have_attribute("data-build", build_id(host.site))


# --- devices that have little ----------------------------------------------------------------------------


@pytest.mark.browser
def test_a_full_device_is_said_and_the_round_goes_on(open_visit: OpenVisit, host: Host) -> None:
    visit = open_visit()
    page = visit.page
    page.context.new_cdp_session(page).send(
        "Storage.overrideQuotaForOrigin", {"origin": host.served.origin, "quotaSize": 2_000_000}
    )
    page.goto(host.served.url("drills/name-the-degree.html"))
    expect(line(page, "full")).to_be_visible(timeout=30_000)
    assert page.evaluate(CACHES) == {}
    page.locator("#q1 .choice.right label").click()
    expect(page.locator("#q1 .why.always")).to_be_visible()


SAVES_DATA = "Object.defineProperty(navigator, 'connection', {value: {saveData: true}});"


@pytest.mark.browser
def test_who_saves_data_is_asked_first(open_visit: OpenVisit, host: Host, site: Path) -> None:
    page = open_visit(SAVES_DATA).page
    page.goto(host.served.url("index.html"))
    button = line(page, "offer").get_by_role("button")
    expect(button).to_be_visible(timeout=30_000)
    total = sum(offline.kept_size(site / path) for path in listed(site))
    assert f"({round(total / 1_000_000)} MB)" in button.inner_text()
    assert page.evaluate(CACHES) == {}
    assert not [path for path in host.asked if path.endswith("sw.js")]
    button.click()
    expect(line(page, "kept")).to_be_visible(timeout=30_000)
    host.stop()
    play(page, host)


@pytest.mark.browser
def test_a_broken_connection_is_said_to_who_has_asked(open_visit: OpenVisit, host: Host) -> None:
    visit = open_visit(SAVES_DATA)
    visit.watch.expect("Failed to load resource")
    page = visit.page
    page.goto(host.served.url("index.html"))
    expect(line(page, "offer")).to_be_visible(timeout=30_000)
    host.served.missing.add("care.html")
    line(page, "offer").get_by_role("button").click()
    expect(line(page, "failed")).to_be_visible(timeout=30_000)
    host.served.missing.clear()
    line(page, "failed").get_by_role("button").click()
    expect(line(page, "kept")).to_be_visible(timeout=30_000)


@pytest.mark.browser
def test_a_browser_that_keeps_nothing_plays_all_the_same(open_visit: OpenVisit, host: Host) -> None:
    """So it is on a connection that is not safe."""
    page = open_visit("delete Navigator.prototype.serviceWorker;").page
    page.goto(host.served.url(LINK))
    expect(page.locator(".question")).to_have_count(2, timeout=30_000)
    assert page.locator("#keeping p:visible").count() == 0


# --- what is kept ----------------------------------------------------------------------------------------


def listed(site: Path) -> dict[str, dict[str, Any]]:
    """The files that the service worker of a built site keeps."""
    text = (site / offline.WORKER).read_text(encoding="utf-8")
    found = re.search(r"JSON\.parse\('(.*)'\)", text)
    assert found
    entries: dict[str, dict[str, Any]] = json.loads(found[1])
    return entries


def test_all_that_is_kept_is_small_enough_for_a_phone(site: Path) -> None:
    # A snapshot is kept beside it, in a cache of its own.
    snapshots = sum(path.stat().st_size for path in site.glob("runtime-*/snapshot*"))
    assert sum(offline.kept_size(site / path) for path in listed(site)) + snapshots <= offline.MOST_BYTES


def test_everything_is_kept_but_what_is_for_hosts_and_for_disk(site: Path) -> None:
    everything = {path.relative_to(site).as_posix() for path in names.files_of(site)}
    left_out = {names.plain(path) for path in everything - set(listed(site))}
    assert {path for path in left_out if not path.startswith("runtime/snapshot")} == {
        "sw.js", "_headers", ".htaccess", "runtime/disk.js",
    }  # fmt: skip
    assert set(listed(site)) <= everything
    for path, entry in listed(site).items():
        assert (site / path).stat().st_size == entry["size"], path


def test_page_cache_and_engine_carry_one_build(site: Path) -> None:
    build = build_id(site)
    assert f'data-build="{build}"' in (site / "index.html").read_text(encoding="utf-8")
    assert f"{build} " in (site / offline.WORKER).read_text(encoding="utf-8")
    assert f'"{build}"' in names.published(site, "runtime/worker.py").read_text(encoding="utf-8")
    assert build in (site / "about.html").read_text(encoding="utf-8").split("<main")[1]


def test_sizes_are_told(site: Path) -> None:
    total = sum(offline.kept_size(site / path) for path in listed(site))
    for page in ("about.html", "privacy.html"):
        text = (site / page).read_text(encoding="utf-8").split("<main")[1].split("</main>")[0]
        assert f"{round(total / 1_000_000)} MB" in text
