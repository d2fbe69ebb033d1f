"""Whatever goes wrong, an answer whose verdict was shown is there on the next start.

One profile lives through many short sessions, each ended by a fault that chance picks with a fixed seed. A few dozen
of them in an ordinary run; as many as LINEKEEPER_FAULTS says where it is set.
"""

from __future__ import annotations

import math
import os
import random
import re
import shutil
import signal
import subprocess
import threading
import time
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
import toolchain
from browsing import Served
from playwright.sync_api import Browser, BrowserContext, expect
from practising import DRILL, REFUSED, SPY, WAIT, kept, sentence

pytestmark = pytest.mark.browser

COUNT = int(os.environ.get("LINEKEEPER_FAULTS", "40"))
QUIET = subprocess.DEVNULL
LENGTH = 50  # questions in a round
SEED = 20_240_229
FLAGS = [
    "--headless=new", "--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking",
    "--disable-component-update", "--disable-sync", "--remote-debugging-port=0", "--enable-logging=stderr",
]  # fmt: skip
# Kept for offline use, the runtime would come from the device, whatever happens to the server.
NOT_OFFLINE = "delete Navigator.prototype.serviceWorker;"
# Notes what the browser says of a database that it makes: a browser that takes one for damaged drops it as a whole.
MADE_ANEW = """(() => {
  globalThis.made = [];
  const { open } = IDBFactory.prototype;
  IDBFactory.prototype.open = function (...given) {
    const opening = open.apply(this, given);
    opening.addEventListener("upgradeneeded", ({ oldVersion, dataLoss, dataLossMessage }) =>
      made.push(`from ${oldVersion}, lost: ${dataLoss} ${dataLossMessage}`));
    return opening;
  };
})();"""
# How a record of LevelDB's log begins: checksum, length, type (whole), and some of what it says. Its end never came.
HALF_A_RECORD = b"\x00" * 4 + (300).to_bytes(2, "little") + b"\x01" + b"x" * 40
# Lines of the browser's log that tell of what it stores.
STORES = re.compile(r"indexed.?db|leveldb|sqlite|corrupt|quota", re.IGNORECASE)
# What tells one answer from another, in the page and in its record.
TOLD = ("drill", "options", "seed", "index", "skill", "value")
# Answers the question that is shown; once its verdict can be seen, what the page tells about it.
ANSWER = """async (choice) => {
  const section = document.querySelector(".round > .now");
  const input = section.querySelectorAll(".choices input")[choice];
  input.click();
  const verdict = () => [...section.querySelectorAll(".verdict")].some((one) => one.checkVisibility({ visibilityProperty: true }));
  for (const end = performance.now() + 20_000; !verdict(); await new Promise((go) => setTimeout(go, 5))) {
    if (performance.now() > end) throw new Error(`no verdict in ${section.id}: ${section.outerHTML.slice(0, 200)}`);
  }
  const told = { ...JSON.parse(section.dataset.question), ...JSON.parse(input.dataset.choice) };
  section.querySelector("a.next").click();
  return told;
}"""


class Chromium:
    """A browser that can be killed, and started again on the same profile."""

    def __init__(self, driver: Browser, profile: Path) -> None:
        self.driver = driver
        self.profile = profile
        self.process: subprocess.Popen[bytes] | None = None
        self.log = profile.with_name("log")

    def context(self) -> BrowserContext:
        """The profile's pages, in a browser that is started where none runs."""
        if self.process is None:
            port = self.profile / "DevToolsActivePort"
            port.unlink(missing_ok=True)
            command = [str(toolchain.browser()), *FLAGS, f"--user-data-dir={self.profile}", "about:blank"]
            with self.log.open("ab") as log:
                self.process = subprocess.Popen(command, stdout=QUIET, stderr=log, start_new_session=True)
            end = time.monotonic() + 30
            while not (port.exists() and "\n" in port.read_text()):
                assert time.monotonic() < end, "the browser does not start"
                time.sleep(0.02)
            address = f"http://127.0.0.1:{port.read_text().split()[0]}"
            self.browser = self.driver.browser_type.connect_over_cdp(address)
            self.browser.contexts[0].add_init_script(NOT_OFFLINE + SPY + MADE_ANEW)
        return self.browser.contexts[0]

    def kill(self) -> None:
        """All of its processes at once, without a moment to write anything."""
        if self.process is not None:
            os.killpg(self.process.pid, signal.SIGKILL)
            self.process.wait()
            self.process = None


@pytest.fixture
def killable(chromium: Browser, tmp_path: Path) -> Iterator[Chromium]:
    browser = Chromium(chromium, tmp_path / "profile")
    yield browser
    browser.kill()
    shutil.rmtree(browser.profile, ignore_errors=True)


class Player:
    """Plays round after round, and remembers every answer whose verdict it has seen."""

    def __init__(self, browser: Chromium, served: Served) -> None:
        self.browser = browser
        self.served = served
        self.chance = random.Random(SEED)
        self.shown: list[dict[str, Any]] = []
        self.in_round = 0
        self.rounds = 0
        self.dropped: list[str] = []
        # Whether there may be one more, whose verdict nobody has seen.
        self.unseen = False
        self.page = browser.context().new_page()
        self.arrive()

    def url(self) -> str:
        return self.served.url(f"{DRILL}#v=1&level=2&count={LENGTH}&seed={self.rounds}")

    def arrive(self) -> None:
        """The next start: everything shown is kept, and the round goes on where it was."""
        if self.in_round + self.unseen >= LENGTH:
            self.rounds += 1
            self.in_round, self.unseen = 0, False
        if self.browser.process is None or self.page.is_closed():
            self.page = self.browser.context().new_page()
        # From elsewhere: the same address again, or one that only differs behind the hash, would be no start.
        self.page.goto("about:blank")
        self.page.goto(self.url())
        if not self.in_round:
            self._wait_for_round()
            return
        self.page.wait_for_selector(".round > .now", timeout=WAIT)
        assert self.lost() == Counter(), self.told()
        checked = self.page.locator("#round input:checked").count()
        assert checked - self.in_round in ((0, 1) if self.unseen else (0,))
        self.in_round = checked
        self.unseen = False
        self.dropped += [made for made in self.page.evaluate("made") if "total" in made]

    def _wait_for_round(self) -> None:
        """A new link needs the engine, which may have been killed while it started once too often."""
        for _ in range(600):
            if self.page.locator("#round .question").count() == LENGTH:
                return
            if self.page.locator("#notice").is_visible():
                self.page.locator("#notice button").click()
            self.page.wait_for_timeout(50)
        raise AssertionError("the link's round does not open")

    def lost(self) -> Counter[tuple[Any, ...]]:
        """Answers whose verdict was shown and that are not on the device."""
        there = Counter(tuple(record[name] for name in TOLD) for record in kept(self.page))
        return Counter(tuple(told[name] for name in TOLD) for told in self.shown) - there

    def told(self) -> str:
        """What the browser itself says of its store."""
        said = [line for line in self.browser.log.read_text(errors="replace").splitlines() if STORES.search(line)]
        return f"databases made: {self.page.evaluate('made')}; the log's last words: {said[-10:]}"

    def answer(self) -> None:
        if self.in_round == LENGTH:
            self.arrive()
        self.shown.append(self.page.evaluate(ANSWER, self.chance.randrange(4)))
        self.in_round += 1
        assert sentence(self.page, "not-kept") not in str(self.page.locator("#notice span").text_content())

    # --- what may go wrong -----------------------------------------------------------

    def kill_the_browser(self) -> None:
        time.sleep(self.chance.choice((0, 0, 0.01, 0.05, 0.3)))
        self.browser.kill()

    def kill_it_in_the_middle_of_an_answer(self) -> None:
        if self.in_round == LENGTH:
            self.arrive()  # the round is over: there is no question to answer
        self.unseen = True
        self.page.evaluate("() => { document.querySelector('.round > .now .choices input').click(); }")
        time.sleep(self.chance.choice((0, 0.002, 0.01)))
        self.browser.kill()

    def kill_it_amid_a_write(self) -> None:
        """It writes on behind that, and drops the database at the start after the next."""
        self.browser.kill()
        logs = sorted(self.browser.profile.glob("Default/**/*indexeddb.leveldb/*.log"))
        assert len(logs) == 2, "the store and its copy"
        with self.chance.choice(logs).open("ab") as log:
            log.write(HALF_A_RECORD)

    def close_the_tab(self) -> None:
        # Not its last one: that would be the end of the browser, which is another fault.
        self.browser.context().new_page()
        self.page.close()

    def reload(self) -> None:
        self.page.reload()

    def end_the_worker(self) -> None:
        self.page.evaluate("() => { for (const worker of workers) worker.terminate(); }")
        self.answer()

    def cut_off_the_runtime(self) -> None:
        if self.in_round == LENGTH:
            self.answer()  # of the next round, whose link could not be opened without it
        self.page.route("**/runtime-*/**", lambda route: route.abort())
        self.page.reload()
        self.page.wait_for_selector(".round > .now", timeout=WAIT)
        self.answer()
        self.page.unroute("**/runtime-*/**")

    def freeze_the_server(self) -> None:
        self.served.stalled.update({self.chance.choice((DRILL, "app/client.js")), "runtime/pyscript/core.js"})
        self.page.reload(wait_until="commit")
        self.page.wait_for_timeout(50)
        self.served.stalled.clear()
        self.served.released.set()
        self.served.released = threading.Event()

    def refuse_the_storage(self) -> None:
        """For one visit: it says so, and its answers count for that visit only."""
        page = self.browser.context().new_page()
        page.add_init_script(REFUSED)
        page.goto(self.served.url("index.html"))
        expect(page.locator("#notice span")).to_contain_text(sentence(page, "not-kept"), timeout=WAIT)
        page.evaluate(ANSWER, 0)
        page.close()


FAULTS = (
    Player.close_the_tab, Player.reload, Player.end_the_worker, Player.cut_off_the_runtime,
    Player.freeze_the_server, Player.refuse_the_storage,
)  # fmt: skip
KILLS = (Player.kill_the_browser, Player.kill_it_amid_a_write, Player.kill_it_in_the_middle_of_an_answer)


def test_no_fault_loses_an_answer_whose_verdict_was_shown(
    killable: Chromium, served: Served, capsys: pytest.CaptureFixture[str]
) -> None:
    began = time.monotonic()
    player = Player(killable, served)
    order = [kind for kind in KILLS for _ in range(math.ceil(COUNT / 12))]
    kills = len(order)
    order += [FAULTS[number % len(FAULTS)] for number in range(COUNT - kills)]
    player.chance.shuffle(order)
    for fault in order:
        for _ in range(player.chance.randint(1, 2)):
            player.answer()
        fault(player)
        player.arrive()
    lost = player.lost().total()
    shown = len(player.shown)
    with capsys.disabled():
        print(
            f"\n{COUNT} faults, {kills} browser kills, {shown} answers shown, {shown - lost} kept"
            f"; {len(player.dropped)} times the browser had dropped a database ({time.monotonic() - began:.0f} s)"
        )
    assert lost == 0
    assert shown > COUNT
    assert player.dropped, "no fault was one that a browser drops a database for"
    assert kills >= COUNT // 4
