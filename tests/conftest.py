"""What the tests share: one built site, one server for it, one Chromium, and pages that watch what they load."""

import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path

import pytest
import serving
import toolchain
import webkit as webkit_browser
from browsing import CHROMIUM_FLAGS, DESK, PHONE, Handler, Served, Visit, Watch
from hosting import Host
from playwright.sync_api import Browser, sync_playwright
from selenium.webdriver import WebKitGTK

ROOT = Path(__file__).resolve().parents[1]


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--no-browser", action="store_true", help="leave out the tests that need a browser")
    parser.addoption("--no-webkit", action="store_true", help="leave out the tests that need WebKitGTK")
    parser.addoption("--site", type=Path, help="the folder of the site as it is now, which else is built first")


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    left_out = []
    if config.getoption("--no-browser"):
        left_out += [item for item in items if item.get_closest_marker("browser")]
    if config.getoption("--no-webkit"):
        left_out += [item for item in items if "webkit" in getattr(item, "fixturenames", ())]
    if left_out:
        config.hook.pytest_deselected(items=left_out)
        items[:] = [item for item in items if item not in left_out]


@pytest.fixture(scope="session")
def site(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder of a freshly built site."""
    given: Path | None = request.config.getoption("--site")
    if given:
        return given
    folder = tmp_path_factory.mktemp("built") / "site"
    command = [sys.executable, "build.py", "build", "--out", folder]
    built = subprocess.run(command, cwd=ROOT, capture_output=True, text=True)
    assert built.returncode == 0, f"the site does not build:\n{built.stdout}{built.stderr}"
    return folder


@pytest.fixture(scope="session")
def _server(site: Path) -> Iterator[list[Served]]:
    current: list[Served] = []
    # The handler asks for the current test's wishes with every request.
    handler = partial(Handler, served=lambda: current[-1])
    server = serving.open_server(site, 8200, handler)  # type: ignore[arg-type]
    current.append(Served(f"http://{serving.ADDRESS}:{server.server_port}", site))
    threading.Thread(target=server.serve_forever, daemon=True).start()
    yield current
    server.shutdown()
    server.server_close()


@pytest.fixture
def served(_server: list[Served]) -> Iterator[Served]:
    """The site's server, without faults to begin with."""
    _server.append(Served(_server[0].origin, _server[0].site))
    yield _server[-1]
    _server.pop().released.set()


@pytest.fixture
def host(site: Path) -> Iterator[Host]:
    """A host of the site for one test alone, which may stop it or give it another build."""
    host = Host(site)
    yield host
    host.served.released.set()
    if host.is_up:
        host.stop()


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    """The one browser of the session; a machine without one fails here."""
    found = toolchain.browser()
    if not found:
        pytest.fail("there is no Chromium for this test: install one, or leave such tests out with --no-browser")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=found, args=CHROMIUM_FLAGS)
        yield browser
        browser.close()


@pytest.fixture
def visit(chromium: Browser, served: Served) -> Iterator[Callable[..., Visit]]:
    """Opens pages: `visit(viewport=PHONE, **options)`; each is checked when the test ends."""
    visits: list[Visit] = []

    def open_page(**options: object) -> Visit:
        # Nothing is kept for offline use here: each test would fetch the whole site.
        context = chromium.new_context(**{"viewport": PHONE, "service_workers": "block", **options})
        visits.append(Visit(context.new_page(), Watch(context, served.origin)))
        return visits[-1]

    yield open_page
    for opened in visits:
        opened.page.context.close()
    for opened in visits:
        opened.watch.check()


@pytest.fixture
def phone(visit: Callable[..., Visit]) -> Visit:
    """A page on a narrow phone."""
    return visit(viewport=PHONE, has_touch=True, is_mobile=True, device_scale_factor=2)


@pytest.fixture
def desk(visit: Callable[..., Visit]) -> Visit:
    """A page in a desktop window."""
    return visit(viewport=DESK)


@pytest.fixture
def webkit() -> Iterator[WebKitGTK]:
    """A window of WebKitGTK; a machine without it fails here."""
    if not webkit_browser.is_here():
        pytest.fail(webkit_browser.MISSING)
    with webkit_browser.opened() as browser:
        yield browser
