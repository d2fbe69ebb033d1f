"""The engine in the browser is the engine of everywhere else: the same modules, the same answers."""

import json
import os
import zipfile
from base64 import b64decode
from collections.abc import Iterator, Sequence
from functools import cache
from itertools import cycle, islice
from pathlib import Path
from typing import Any

import names
import packs
import pytest
import runtime
from browsing import SNAPSHOTS, Served, Visit, start

from engine import browser
from engine.drills.catalogue import CATALOGUE
from engine.formats.abc import write_abc
from engine.formats.midi import write_midi
from engine.lines.stock import stock
from engine.practice.line_file import FORMATS
from engine.practice.line_in_link import to_link
from engine.practice.records import as_file
from engine.practice.rounds import MIXED, first_plan, plan_as_json

A_RECORD = {
    "v": 1, "round": "0a1b2c3d4e5f6071", "place": 0, "of": "mixed", "drill": "name-the-degree", "rev": 1,
    "options": "v=1", "seed": 1, "index": 0, "skill": "name-the-degree/7/3/C", "choice": 1, "value": "3",
    "right": True, "mistake": None, "ms": 1800, "at": 1_790_000_000_000,
}  # fmt: skip
A_LINE = {"v": 1, "id": "0a1b2c", "at": 1_790_000_000_000, "abc": write_abc(stock()[0])}
LINE = to_link(stock()[0])
LINKS = (
    "", "#level=3&count=4&on=neck", "#keys=F,Bb&chords=7,m7&count=3&seed=11", "#nonsense=1&count=2",
    f"#line={LINE}&level=2&words=Slowly&count=3", f"#line={LINE[:-3]}&count=2",
)  # fmt: skip
A_FEW = LINKS[2], LINKS[4]
# How many of the links a drill is opened with: the next drill begins where it ends, so that each link is met by many.
EACH = 3
# Behind the worker's own file: what it answers to everything, once it has the pack of the engine's own modules.
LOADS_ALL = """
import importlib, json, sys
def loaded(_):
    if "more.zip" not in str(sys.path):
        return '{{"pack": "more"}}'
    for module in {modules}:
        importlib.import_module(module)
    return json.dumps(sorted(name for name in sys.modules if name.startswith("engine")))
sync.call = loaded
"""
# Behind the worker's own file: one more request, that the engine does not know.
TELLS_ITS_MODULES = """
import json, sys
def files():
    specs = [getattr(module, "__spec__", None) for module in list(sys.modules.values())]
    return [spec.origin for spec in specs if spec and ".zip/" in str(spec.origin)]
sync.call = lambda text: json.dumps(files()) if text == '"files"' else browser.call(text)
"""


@cache
def _answer(request: str) -> str:
    return browser.call(request)


def ask(request: Any) -> Any:
    return json.loads(_answer(json.dumps(request)))


def of_own_lines() -> Iterator[Any]:
    """A line tapped in and kept, the list, a line's page, a link, a paste, and what goes wrong there."""
    every = {"at": A_LINE["at"] + 1, "chance": 7, "fields": {}, "link": "", "own": [A_LINE]}
    state = {"do": "entry"}
    for tap in ("open", "chord Dm7", "note 65", "note 69", "length 1/3", "note 72", "rest", "longer", "undo", "keep"):
        request = {**every, **state, "pressed": tap.partition(" ")[::2]}
        yield request
        state = ask(request).get("desk", state)
    for link in ("", f"v=1&id={A_LINE['id']}", f"v=1&line={LINE}", "v=1&line=cut", "v=1&id=no"):
        request = {**every, "do": "own lines", "pressed": ["open", ""], "link": link}
        yield request
        yield {**every, **ask(request)["desk"], "pressed": ["delete" if "id" in link else "take", ""], "link": link}
    text = f"{A_LINE['abc']}\nX:2\nK:C\nh|]\n"
    yield {**every, "do": "own lines", "pressed": ["paste", ""], "fields": {"paste": [text]}}
    yield {**every, "do": "own lines", "pressed": ["save", ""]}


def of_settings() -> Iterator[Any]:
    """The form opened, changed, all as it came and back; what is none; taps; a file; a round on a bass, one in quiet."""
    mine = {
        "v": 1,
        "tuning": "bass",
        "frets": 21,
        "left": True,
        "stretch": 4,
        "quiet": True,
        "late": 120,
        "built": False,
    }
    every = {"do": "settings", "settings": mine, "pressed": None, "fields": {}}
    for name in ("open", "usual", "back"):
        yield {**every, "pressed": [name, ""], "before": mine}
    taps = [0.18 + number / 1.5 for number in range(16)]
    for pressed in (("hear", "clicks"), ("tapped", json.dumps(taps)), ("tapped", "[1, 2]"), ("take", "180")):
        yield {**every, "pressed": pressed}
    shown = json.dumps(mine)
    for fields in (
        {"instrument": ["guitar"]},
        {"tuning": ["E1, A1, X"]},
        {"stretch": ["3"], "frets": ["24"], "late": ["soon"]},
    ):
        yield {**every, "fields": {"shown": [shown], "instrument": ["bass"], "tuning": ["E1, A1, D2, G2"], **fields}}
    exported = {"do": "export", "records": [], "own": [], "settings": mine}
    yield exported
    yield {"do": "import", "text": ask(exported)["text"], "own": [], "at": 0}
    yield {"do": "open", "drill": "note-on-the-neck", "link": "", "count": 5, "seed": 3, "settings": mine}
    plan = plan_as_json(first_plan(MIXED, "", 5)[0])
    yield {"do": "follow", "plan": plan, "answers": [], "how": "once more", "settings": mine}


def conversations(some: Sequence[str] = LINKS, each: int = EACH) -> Iterator[Any]:
    """Requests that make the engine do everything that a page can ask of it, each drill under some of the links."""
    links = cycle(enumerate(some))
    yield {}
    yield {"do": "nothing it knows"}
    for drill in [*(entry.slug for entry in CATALOGUE), MIXED]:
        for seed, link in islice(links, each):
            opening = {"do": "open", "drill": drill, "link": link, "count": 5, "seed": seed}
            yield opening
            plan = ask(opening)["plan"]
            answers = [
                {"index": index, "choice": index % 3, "ms": None if index == 1 else 1500 * index}
                for index in range(len(plan["indexes"]))
            ]
            yield {"do": "grade", "plan": plan, "answers": answers[:1]}
            yield {"do": "grade", "plan": plan, "answers": answers}
            yield {"do": "show", "plan": plan, "answers": answers[:2]}
            for how in browser.FOLLOWING:
                yield {"do": "follow", "plan": plan, "answers": answers, "how": how}
            for what in ("asked", "yours", "right"):
                yield {"do": "hear", "plan": plan, "answers": answers, "place": seed % len(answers), "what": what}
    for drill, link in (("name-the-degree", ""), ("move-the-line", f"line={LINE}")):
        plan = plan_as_json(first_plan(drill, link)[0])
        for fields in (
            {"keys": ["Bb", "H"], "level": ["2"], "seed": []},
            {"chords": ["7"], "seed": ["1"], "words": ["♭"]},
        ):
            yield {"do": "link", "drill": drill, "fields": fields, "chance": 11, "plan": plan}
    for to in FORMATS:
        yield {"do": "line file", "abc": write_abc(stock()[0]), "key": "Eb", "to": to}
    yield {"do": "line file", "abc": "X:1\nT:no line", "key": None, "to": "midi"}
    yield {"do": "export", "records": [A_RECORD], "own": [A_LINE]}
    yield {"do": "import", "text": as_file([A_RECORD, {"not": "one"}], [A_LINE]), "own": [], "at": A_LINE["at"]}
    yield {"do": "import", "text": "<html>"}
    yield from of_own_lines()
    yield from of_settings()
    yield {"do": "qr", "text": "https://music.example/drills/name-the-degree.html#keys=Bb"}
    yield {"do": "qr", "text": "x" * 3000}


def test_the_conversations_use_everything_that_the_page_may_call() -> None:
    used = {request.get("do") for request in conversations()}
    assert used >= set(browser.VERBS)


@pytest.mark.browser
@pytest.mark.parametrize("restored", [False, True], ids=["first start", "start from a snapshot"])
def test_the_browser_gives_the_same_answers(restored: bool, phone: Visit, served: Served) -> None:
    if restored:
        start(phone, served)
        phone.page.evaluate(SNAPSHOTS, 1)
    # Where the modules come from differs, not what they are: a link with a line and one without show that.
    requests = list(conversations(A_FEW, len(A_FEW)) if restored else conversations())
    outcome = start(phone, served, requests)
    assert outcome["restored"] == restored
    for request, answer in zip(requests, outcome["answers"], strict=True):
        assert answer == ask(request)


@pytest.mark.browser
def test_a_pack_comes_only_when_it_is_wanted(phone: Visit, served: Served) -> None:
    """Files need one, MIDI a second; and MIDI has the same bytes as on this side."""
    request = {"do": "line file", "abc": write_abc(stock()[0]), "key": None, "to": "midi"}
    fetched: list[str] = []
    phone.page.on("request", lambda sent: fetched.append(sent.url))
    opening = {"do": "open", "drill": MIXED, "link": "", "count": 20, "seed": 1}
    answers = start(phone, served, [opening, {**request, "to": "musicxml"}, request])["answers"]
    assert b64decode(answers[2]["file"]["base64"]) == write_midi(stock()[0])
    order = [url.rpartition("/")[2] for url in fetched if "packs/" in url or url.endswith("library.zip")]
    assert order == ["library.zip", "more.zip", "mido.zip"]


@pytest.mark.browser
def test_every_module_of_the_engine_loads_in_the_browser(phone: Visit, served: Served) -> None:
    modules = browser_modules()
    worker = (runtime.APP / "worker.py").read_text(encoding="utf-8")
    served.replaced["runtime/worker.py"] = worker + LOADS_ALL.format(modules=modules)
    outcome = start(phone, served, [{}])
    assert outcome["answers"][0] == modules


def browser_modules() -> list[str]:
    """The names of all modules of the engine but its command line."""
    names = []
    for path in (runtime.ROOT / "engine").rglob("*.py"):
        parts = path.relative_to(runtime.ROOT).with_suffix("").parts
        names.append(".".join(parts[:-1] if parts[-1] == "__init__" else parts))
    return sorted(name for name in names if not name.startswith(("engine.__main__", "engine.terminal")))


def test_library_and_pack_carry_every_module_of_the_engine_once(site: Path) -> None:
    with zipfile.ZipFile(names.published(site, "runtime/library.zip")) as library:
        files = library.namelist()
    with zipfile.ZipFile(names.published(site, f"runtime/packs/{runtime.MORE}")) as pack:
        files += pack.namelist()
    stems = [module.replace(".", "/") for module in browser_modules()]
    own = sorted(
        name.removesuffix("/__init__.pyc").removesuffix(".pyc") for name in files if name.startswith("engine/")
    )
    assert own == sorted(stems)
    assert [name for name in files if not name.endswith(".pyc")] == []


def test_a_start_does_without_what_only_lines_need(site: Path) -> None:
    with zipfile.ZipFile(names.published(site, f"runtime/packs/{runtime.MORE}")) as pack:
        files = pack.namelist()
    assert {"engine/view/line_desk.pyc", "engine/formats/musicxml.pyc", "engine/practice/entry.pyc"} <= set(files)


@pytest.mark.browser
def test_the_library_list_has_all_that_the_worker_imports(
    phone: Visit, served: Served, site: Path, tmp_path: Path
) -> None:
    """With the whole library at hand the worker must not import more than the shipped one has."""
    phone.watch.expect("404")  # this library has no snapshot
    everything = tmp_path / "everything.txt"
    everything.write_text("*\n")
    runtime.publish(tmp_path / "runtime", everything)
    for name in ("interpreter.mjs", "library.zip"):
        served.replaced[f"runtime/{name}"] = (tmp_path / "runtime" / name).read_bytes()
    worker = (runtime.APP / "worker.py").read_text(encoding="utf-8")
    served.replaced["runtime/worker.py"] = worker + TELLS_ITS_MODULES
    answers = start(phone, served, [*conversations(A_FEW, len(A_FEW)), "files"])["answers"]
    imported = {path.split(".zip/")[1] for path in answers[-1] if "/packs/" not in path}
    imported -= {f"{module}c" for modules in packs.LIBRARY.values() for module in modules}
    assert "json/__init__.pyc" in imported
    if os.environ.get("LINEKEEPER_RECORD"):
        record(imported)
    with zipfile.ZipFile(names.published(site, "runtime/library.zip")) as library:
        assert imported - set(library.namelist()) == set()


def record(imported: set[str]) -> None:
    """Writes the list anew from what was imported."""
    names = {path.removesuffix(".pyc").removesuffix("/__init__").replace("/", ".") for path in imported}
    kept = sorted(name for name in names if name.split(".")[0] not in ("engine", "pyodide", "_pyodide", "pyscript"))
    old = runtime.LIST.read_text(encoding="utf-8").splitlines()
    runtime.LIST.write_text("\n".join([*(line for line in old if line.startswith("#")), *kept, ""]), encoding="utf-8")
