"""How bench.py measures: the server, the browser, and what is done in the pages."""

import contextlib
import gzip
import os
import tempfile
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import serving
import toolchain
from playwright.sync_api import BrowserContext, CDPSession, Page, Playwright, ViewportSize

PHONE = ViewportSize(width=360, height=740)
FLAGS = ["--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking", "--disable-sync"]
PATIENCE = 120_000
# Seconds between a quick finger's touching the glass and its leaving it; with that the browser makes a click of it.
ON_GLASS = 0.06

# 3G as phones have it in a hall's cellar: bits a second and milliseconds.
DOWN, UP, LATENCY = 1_600_000, 750_000, 300

# What a host compresses on its way.
COMPRESSED = (".css", ".html", ".js", ".json", ".mjs", ".py", ".svg", ".txt", ".wasm")
# Files of so many bytes are compressed before anything is measured.
LARGE = 1_000_000


class Handler(serving.Handler):
    """Serves as a usual host does: compressed where that helps, and not again what the browser has already."""

    asked: list[str] = []  # noqa: RUF012  (one run, one list)
    missing: set[str] = set()  # noqa: RUF012
    packed: dict[tuple[str, int], bytes] = {}  # noqa: RUF012

    def do_GET(self) -> None:
        path = Path(self.translate_path(self.path))
        self.asked.append(path.name)
        if path.is_dir():
            path = path / "index.html"
        if not path.is_file() or path.name in self.missing:
            self.send_error(404)
            return
        tag = f'"{path.stat().st_mtime_ns:x}-{path.stat().st_size:x}"'
        if self.headers.get("If-None-Match") == tag:
            self.send_response(304)
            self.send_header("ETag", tag)
            self.end_headers()
            return
        content = path.read_bytes()
        self.send_response(200)
        if path.suffix in COMPRESSED:
            content = self.compressed(path, content)
            self.send_header("Content-Encoding", "gzip")
        self.send_header("Content-Type", self.guess_type(str(path)))
        self.send_header("Content-Length", str(len(content)))
        self.send_header("ETag", tag)
        self.end_headers()
        self.wfile.write(content)

    @classmethod
    def compressed(cls, path: Path, content: bytes) -> bytes:
        """What is sent: compressed once, as hosts do. At each request it would be half a second for the interpreter."""
        file = (str(path), path.stat().st_mtime_ns)
        if file not in cls.packed:
            cls.packed[file] = gzip.compress(content, 6)
        return cls.packed[file]


# The stock start: the page that PyScript's own guide shows, with a worker as ours, all from the unmodified packages.
STOCK_PAGE = """<!doctype html><meta charset="utf-8"><title>hello</title>
<link rel="icon" href="data:,"><link rel="stylesheet" href="pyscript/core.css">
<script type="module" src="pyscript/core.js"></script>
<script type="py" worker name="hello" config='{"interpreter": "pyodide/pyodide.mjs"}'>
from pyscript import sync
sync.hello = lambda: "hello world"
</script>
<script type="module">
  const script = document.querySelector("script[type=py]");
  while (!script.xworker) await new Promise((resolve) => setTimeout(resolve, 10));
  const { sync } = await script.xworker.ready;
  await sync.hello();
  performance.mark("engine ready");
</script>
"""

# Runs before a page's own scripts: notes when a choice can be clicked, and how long each tap's verdict and
# the reasons for it take.
WATCHER = """(() => {
  const measured = (globalThis.measured = { answerable: null, taps: [], reasons: [], judged: null });
  // Called before a frame is painted; what is posted is the first to run after that, ahead of what the page does next.
  const painted = (then) => void scheduler.postTask(() => then(performance.now()), { priority: "user-blocking" });
  const choice = () => document.querySelector(".round .now .choice, .round .question .choice");
  const look = () => {
    const place = choice();
    const box = place?.getBoundingClientRect();
    const hit = box?.height && document.elementFromPoint(box.x + box.width / 2, box.y + box.height / 2);
    if (!hit || !place.contains(hit)) return requestAnimationFrame(look);
    measured.answerable = performance.now();
    if (!globalThis.answersAtOnce) return;
    place.querySelector("input").click();
    // The page may show the verdict before its client is there.
    requestAnimationFrame(() => drawn(place.querySelector(".verdict"), (end) => (measured.judged = end)));
  };
  requestAnimationFrame(look);
  const drawn = (part, then) => part.checkVisibility({ visibilityProperty: true })
    ? painted(then)
    : requestAnimationFrame(() => drawn(part, then));
  // What is done here between a tap and its verdict is measured along: a tap is only noted, and nothing written.
  const tapped = new Map();
  let open = null;
  addEventListener("click", (event) => {
    // A label's click is followed by one that it passes on to its input: the first one is the finger's.
    const place = event.isTrusted && event.target.closest?.(".choice");
    if (place && !tapped.has(place)) tapped.set((open = place), event.timeStamp);
  }, true);
  // With the verdict the client marks its cards, or closes the other choices. Looking for it in every frame would make
  // frames that nobody else wants, and what is measured would wait for them.
  const marking = new MutationObserver(() => {
    const place = open;
    open = null;
    if (!place) return;
    const reason = place.closest(".question").querySelector(".always");
    requestAnimationFrame(() => drawn(place.querySelector(".verdict"), (end) => {
      measured.taps.push(end - tapped.get(place));
      drawn(reason, (later) => measured.reasons.push(later - tapped.get(place)));
    }));
  });
  marking.observe(document, { attributeFilter: ["class", "disabled"], subtree: true });
})()"""


@contextlib.contextmanager
def served(folder: Path) -> Iterator[str]:
    """Serves a folder while the block runs; gives its address."""
    for place, _, names in os.walk(folder, followlinks=True):
        for path in (Path(place, name) for name in names):
            if path.suffix in COMPRESSED and path.stat().st_size >= LARGE:
                Handler.compressed(path, path.read_bytes())
    server = serving.open_server(folder, 8400, Handler)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    try:
        yield f"http://{serving.ADDRESS}:{server.server_port}/"
    finally:
        server.shutdown()
        server.server_close()


@contextlib.contextmanager
def stock_folder() -> Iterator[Path]:
    """A folder with the stock page and the packages as they are installed."""
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        (folder / "pyscript").symlink_to(toolchain.NODE_MODULES / "@pyscript" / "core" / "dist")
        (folder / "pyodide").symlink_to(toolchain.NODE_MODULES / "pyodide")
        (folder / "index.html").write_text(STOCK_PAGE, encoding="utf-8")
        yield folder


@contextlib.contextmanager
def visit(playwright: Playwright, profile: Path, touch: bool = True) -> Iterator[Page]:
    """A page in a newly started browser that keeps its things in `profile`."""
    context: BrowserContext = playwright.chromium.launch_persistent_context(
        profile, executable_path=toolchain.browser(), args=FLAGS, viewport=PHONE, has_touch=touch, is_mobile=touch
    )
    try:
        page = context.pages[0]
        page.set_default_timeout(PATIENCE)
        page.wait_for_timeout(1000)  # the browser itself has started by then
        yield page
    finally:
        context.close()


def mark(page: Page) -> float:
    """Milliseconds from the start of the navigation until the engine was ready."""
    entry: dict[str, float] = page.evaluate(
        """async () => {
          for (;;) {
            const [entry] = performance.getEntriesByName("engine ready");
            if (entry) return { at: entry.startTime };
            await new Promise((resolve) => setTimeout(resolve, 20));
          }
        }"""
    )
    return entry["at"]


def was_restored(page: Page) -> bool:
    """Whether the engine of this page started from a snapshot."""
    return bool(page.evaluate("() => performance.getEntriesByName('engine ready')[0].detail"))


def wait_for_snapshot(page: Page) -> None:
    """Returns when the snapshot is on the device, and nothing else is being kept any more."""
    page.evaluate(
        """async () => {
          const kept = async () => {
            let all = 0, snapshots = 0;
            for (const name of await caches.keys()) {
              const { length } = await (await caches.open(name)).keys();
              all += length;
              if (name.startsWith("linekeeper snapshot")) snapshots += length;
            }
            return snapshots ? all : 0;
          };
          for (let before = -1; ; ) {
            const now = await kept();
            if (now && now === before) return;
            before = now;
            await new Promise((resolve) => setTimeout(resolve, 1000));
          }
        }"""
    )


def drop_snapshots(page: Page) -> None:
    """Takes the snapshot away again."""
    page.evaluate(
        """async () => {
          for (const name of await caches.keys()) {
            if (name.startsWith("linekeeper snapshot")) await caches.delete(name);
          }
        }"""
    )


def measured(page: Page) -> dict[str, Any]:
    """What WATCHER has noted."""
    found: dict[str, Any] = page.evaluate("() => globalThis.measured")
    return found


def slow_down(page: Page, times: float) -> CDPSession:
    """Slows the page's own thread; its workers are not touched by it."""
    session = page.context.new_cdp_session(page)
    session.send("Emulation.setCPUThrottlingRate", {"rate": times})
    return session


def finger(session: CDPSession, x: float, y: float) -> None:
    """A bare finger that touches the glass for as long as a quick one does; the page does not know who steers it.

    A locator's tap would have the page look for what it hits, and leave listeners there that are slow too.
    """
    session.send("Input.dispatchTouchEvent", {"type": "touchStart", "touchPoints": [{"x": x, "y": y}]})
    time.sleep(ON_GLASS)
    session.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})


def slow_network(session: CDPSession) -> None:
    """3G."""
    session.send("Network.enable")
    conditions = {"offline": False, "latency": LATENCY, "downloadThroughput": DOWN / 8, "uploadThroughput": UP / 8}
    session.send("Network.emulateNetworkConditions", conditions)
