"""The engine in the browser is the engine of everywhere else: the same modules, the same answers."""

import json
import os
import zipfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import names
import pytest
import runtime
from browsing import SNAPSHOTS, Served, Visit, start

from engine import browser
from engine.drills.catalogue import CATALOGUE
from engine.practice.records import as_file
from engine.practice.rounds import MIXED

A_RECORD = {
    "v": 1, "round": "0a1b2c3d4e5f6071", "place": 0, "of": "mixed", "drill": "name-the-degree", "rev": 1,
    "options": "v=1", "seed": 1, "index": 0, "skill": "name-the-degree/7/3/C", "choice": 1, "value": "3",
    "right": True, "mistake": None, "ms": 1800, "at": 1_790_000_000_000,
}  # fmt: skip
LINKS = ("", "#level=3&count=4", "#keys=F,Bb&chords=7,m7&count=3&seed=11", "#nonsense=1&count=2")
# Behind the worker's own file: one more request, that the engine does not know.
TELLS_ITS_MODULES = """
import json
def files():
    specs = [getattr(module, "__spec__", None) for module in list(sys.modules.values())]
    return [spec.origin for spec in specs if spec and ".zip/" in str(spec.origin)]
sync.call = lambda text: json.dumps(files()) if text == '"files"' else browser.call(text)
"""


def ask(request: Any) -> Any:
    return json.loads(browser.call(json.dumps(request)))


def conversations() -> Iterator[Any]:
    """Requests that make the engine do everything that a page can ask of it."""
    yield {}
    yield {"do": "nothing it knows"}
    for drill in [*(entry.slug for entry in CATALOGUE), MIXED]:
        for seed, link in enumerate(LINKS):
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


    yield {"do": "link", "drill": CATALOGUE[0].slug, "fields": {"keys": ["Bb", "H"], "level": ["2"], "seed": []}}
    yield {"do": "link", "drill": CATALOGUE[1].slug, "fields": {"chords": ["7"], "seed": ["1"]}, "chance": 11}
    yield {"do": "export", "records": [A_RECORD]}
    yield {"do": "import", "text": as_file([A_RECORD, {"not": "one"}])}
    yield {"do": "import", "text": "<html>"}
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
    requests = list(conversations())
    outcome = start(phone, served, requests)
    assert outcome["restored"] == restored
    for request, answer in zip(requests, outcome["answers"], strict=True):
        assert answer == ask(request)


@pytest.mark.browser
def test_every_module_of_the_engine_loads_in_the_browser(phone: Visit, served: Served) -> None:
    modules = browser_modules()
    imports = "".join(f"import {module}\n" for module in modules)
    answer = "sync.call = lambda request: json.dumps(sorted(name for name in sys.modules if name.startswith('engine')))\n"
    served.replaced["runtime/worker.py"] = f"import json, sys\nfrom pyscript import sync\n{imports}{answer}"
    outcome = start(phone, served, [{}])
    assert outcome["answers"][0] == modules


def browser_modules() -> list[str]:
    """The names of all modules of the engine but its command line."""
    names = []
    for path in (runtime.ROOT / "engine").rglob("*.py"):
        parts = path.relative_to(runtime.ROOT).with_suffix("").parts
        names.append(".".join(parts[:-1] if parts[-1] == "__init__" else parts))
    return sorted(name for name in names if not name.startswith(("engine.__main__", "engine.terminal")))


def test_library_carries_every_module_of_the_engine(site: Path) -> None:
    with zipfile.ZipFile(names.published(site, "runtime/library.zip")) as library:
        files = library.namelist()
    for module in browser_modules():
        stem = module.replace(".", "/")
        assert f"{stem}.pyc" in files or f"{stem}/__init__.pyc" in files
    assert [name for name in files if name.startswith(("engine/__main__", "engine/terminal"))] == []
    assert [name for name in files if not name.endswith(".pyc")] == []


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
    answers = start(phone, served, [*conversations(), "files"])["answers"]
    imported = {path.split(".zip/")[1] for path in answers[-1] if "/packs/" not in path}
    assert "json/__init__.pyc" in imported
    if os.environ.get("LINEKEEPER_RECORD"):
        record(imported)
    with zipfile.ZipFile(names.published(site, "runtime/library.zip")) as library:
        assert imported - set(library.namelist()) == set()


def record(imported: set[str]) -> None:
    """Writes the list anew from what was imported."""
    names = {path.removesuffix(".pyc").removesuffix("/__init__").replace("/", ".") for path in imported}
    kept = sorted(name for name in names if name.split(".")[0] not in ("engine", "pyodide", "_pyodide"))
    old = runtime.LIST.read_text(encoding="utf-8").splitlines()
    runtime.LIST.write_text("\n".join([*(line for line in old if line.startswith("#")), *kept, ""]), encoding="utf-8")
