"""The stage of the browser tests: the site behind a server that can misbehave, and pages that are watched."""

import re
import threading
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import unquote, urlsplit

import names
import policy
import serving
from playwright.sync_api import BrowserContext, ConsoleMessage, Page

# The site must work in any folder of any host.
PREFIX = "/some/folder/"
PHONE = {"width": 360, "height": 740}
DESK = {"width": 1280, "height": 800}
# The policy that hosts are told to send: what it forbids shows up as an error on the console.
POLICY = policy.POLICY
CHROMIUM_FLAGS = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync",
]  # fmt: skip
BLANK = (
    '<!doctype html>{html}<head><title>blank</title><link rel="icon" href="data:,">'
    '<script defer src="{client}"></script></head><body>'
)
OPEN_ENGINE = """async ({options, requests}) => {
  const steps = [];
  const start = performance.now();
  try {
    const engine = await linekeeper.openEngine({base: "./", onProgress: (step) => steps.push(step), ...options});
    const answers = [];
    for (const request of requests) {
      if (request?.do === "qr") await engine.pack("segno");
      const ask = () => engine.call(request).catch((error) => error.message);
      let answer = await ask();
      if (answer.pack) {
        await engine.pack(answer.pack);
        answer = await ask();
      }
      answers.push(answer);
    }
    engine.close();
    return {steps, answers, restored: engine.restored};
  } catch (error) {
    return {steps, error: error.message, kind: error.constructor.name, waited: performance.now() - start};
  }
}"""

# The names of the caches that hold a snapshot; there must come to be `count` of them.
SNAPSHOTS = """async (count) => {
  for (let patience = 200; patience; patience--) {
    const found = [];
    for (const name of await caches.keys()) {
      if (name.startsWith("linekeeper snapshot") && (await (await caches.open(name)).keys()).length) found.push(name);
    }
    if (found.length === count) return found;
    await new Promise((resolve) => setTimeout(resolve, 100));
  }
  throw new Error(`there never were ${count} snapshots`);
}"""


@dataclass
class Served:
    """The site behind a server, and what a test may do to it.

    Paths are relative to the site's root and as in the source, without the hashes of a build.
    """

    origin: str
    site: Path
    policy: str = POLICY
    replaced: dict[str, str | bytes] = field(default_factory=dict)
    types: dict[str, str] = field(default_factory=dict)
    missing: set[str] = field(default_factory=set)
    cut_off: set[str] = field(default_factory=set)
    stalled: set[str] = field(default_factory=set)
    released: threading.Event = field(default_factory=threading.Event)

    def url(self, path: str = "") -> str:
        """The address of a file of the site."""
        return f"{self.origin}{PREFIX}{path}"

    def blank(self) -> str:
        """An empty page that belongs to the site's build."""
        index = (self.site / "index.html").read_text(encoding="utf-8")
        client = names.published(self.site, "app/client.js").relative_to(self.site).as_posix()
        found = re.search("<html[^>]*>", index)
        assert found
        return BLANK.format(html=found[0], client=client)


class Handler(serving.Handler):
    """Serves the site under a sub-path and a policy, with the faults that a test has asked for."""

    def __init__(self, *args: object, served: Callable[[], Served], **kwargs: object) -> None:
        self.served = served
        super().__init__(*args, **kwargs)  # type: ignore[arg-type]

    def do_GET(self) -> None:
        served = self.served()
        whole_path = unquote(urlsplit(self.path).path)
        published = whole_path.removeprefix(PREFIX)
        path = names.plain(published)
        if published == whole_path or path in served.missing:
            self.send_error(404)
        elif path in served.replaced:
            content = served.replaced[path]
            media_type = served.types.get(path) or self.guess_type(path)
            self._send(content.encode() if isinstance(content, str) else content, media_type)
        elif path in served.cut_off or path in served.stalled:
            self._send_half(Path(self.translate_path(f"/{published}")), stall=path in served.stalled)
        else:
            self.path = f"/{published}"
            super().do_GET()

    def end_headers(self) -> None:
        self.send_header("Content-Security-Policy", self.served().policy)
        super().end_headers()

    def _send(self, content: bytes, media_type: str) -> None:
        self.send_response(200)
        self.send_header("Content-Type", media_type)
        self.send_header("Content-Length", str(len(content)))
        self.end_headers()
        self.wfile.write(content)

    def _send_half(self, file: Path, stall: bool) -> None:
        content = file.read_bytes()
        self.send_response(200)
        self.send_header("Content-Type", self.guess_type(str(file)))
        self.send_header("Content-Length", str(len(content)))
        self.end_headers()
        self.wfile.write(content[: len(content) // 2])
        self.wfile.flush()
        if stall:
            self.served().released.wait()
        self.close_connection = True


class Watch:
    """Notes what a page must not do: load from elsewhere, or complain on the console."""

    def __init__(self, context: BrowserContext, origin: str) -> None:
        self.origin = origin
        self.foreign: list[str] = []
        self.complaints: list[str] = []
        self.expected: list[str] = []
        context.on("request", lambda request: self._request(request.url))
        context.on("console", self._console)
        context.on("weberror", lambda error: self.complaints.append(str(error.error)))

    def expect(self, text: str) -> None:
        """Complaints with this text are what the test is about."""
        self.expected.append(text)

    def check(self) -> None:
        """Fails the test when there was anything else."""
        assert not self.foreign, f"requests to elsewhere: {self.foreign}"
        surprises = [text for text in self.complaints if not any(part in text for part in self.expected)]
        assert not surprises, f"the browser complained: {surprises}"

    def _request(self, url: str) -> None:
        if not url.startswith((f"{self.origin}/", f"blob:{self.origin}/", "data:")):
            self.foreign.append(url)

    def _console(self, message: ConsoleMessage) -> None:
        if message.type == "error":
            self.complaints.append(message.text)


@dataclass
class Visit:
    """A page in a browser profile of its own, and the watch over it."""

    page: Page
    watch: Watch


def start(visit: Visit, served: Served, requests: list[Any] | None = None, **options: Any) -> dict[str, Any]:
    """Opens the engine in an empty page and returns what came of it."""
    served.replaced["blank.html"] = served.blank()
    visit.page.goto(served.url("blank.html"))
    outcome: dict[str, Any] = visit.page.evaluate(OPEN_ENGINE, {"options": options, "requests": requests or []})
    return outcome
