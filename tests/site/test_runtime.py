"""The engine starts in a real browser, answers, shows true progress, and fails plainly."""

import itertools
import json
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path

import names
import pytest
import runtime
from browsing import OPEN_ENGINE, Served, Visit, start

# A stand-in for the worker's file, for tests of the way to the engine rather than of the engine.
ECHO = "import json\nfrom pyscript import sync\nsync.call = lambda request: json.dumps({'echo': json.loads(request)})\n"
SLEEPS = (
    "import time\nfrom pyscript import sync\nsync.call = lambda request: time.sleep(5 * (request != '{}')) or '{}'\n"
)
# Loads the engine anew and notes for which classes dataclasses has to compile methods.
NOTES = """
import builtins, dataclasses, json, sys
from pyscript import sync
for name in [name for name in sys.modules if name.split(".")[0] == "engine"]:
    del sys.modules[name]
run, compiled = [], []
def noting(code, *spaces):
    (compiled if isinstance(code, str) else run).append(str(code)[:80])
    builtins.exec(code, *spaces)
dataclasses.exec = noting
from engine import browser
answer = json.loads(browser.call('{"do": "open", "drill": "name-the-degree"}'))
sync.call = lambda request: json.dumps({"run": len(run), "compiled": compiled, "plan": answer["plan"]})
"""

NEEDED = [
    "runtime/interpreter.mjs",
    "runtime/library.zip",
    "runtime/pyodide.asm.mjs",
    "runtime/pyodide.asm.wasm",
    "runtime/pyodide.mjs",
    "runtime/pyscript/core.js",
    "runtime/worker.py",
]


@pytest.mark.browser
@pytest.mark.parametrize("screen", ["phone", "desk"])
def test_engine_answers_through_the_port(screen: str, served: Served, request: pytest.FixtureRequest) -> None:
    outcome = start(request.getfixturevalue(screen), served, [{}])
    assert "error" not in outcome
    assert isinstance(outcome["answers"][0], dict)


@pytest.mark.browser
def test_requests_and_answers_arrive_unchanged(phone: Visit, served: Served) -> None:
    served.replaced["runtime/worker.py"] = ECHO
    requests = [{"text": "E♭ 𝄫 é", "list": [1, 2.5, None, True]}, {"nested": {"a": {"b": []}}}]
    assert start(phone, served, requests)["answers"] == [{"echo": request} for request in requests]


@pytest.mark.browser
def test_the_methods_of_the_engines_classes_come_compiled(phone: Visit, served: Served) -> None:
    served.replaced["runtime/worker.py"] = NOTES
    (found,) = start(phone, served, [{}])["answers"]
    assert found["plan"]["drill"] == "name-the-degree"
    assert found["compiled"] == []
    assert found["run"] > 30


@pytest.mark.browser
def test_progress_follows_the_downloads_and_ends_at_one(phone: Visit, served: Served) -> None:
    steps = start(phone, served)["steps"]
    assert steps[0] == 0
    assert steps[-1] == 1
    assert all(earlier < later for earlier, later in itertools.pairwise(steps))
    downloads = [step for step in steps if 0 < step < 0.9]
    assert len(downloads) >= 5
    assert 0.9 in [round(step, 6) for step in steps], "every byte of the downloads was counted"


@pytest.mark.browser
@pytest.mark.parametrize("path", NEEDED)
def test_a_missing_file_fails_the_start(path: str, phone: Visit, served: Served) -> None:
    phone.watch.expect("")  # PyScript logs what reaches it, beside telling the page
    served.missing.add(path)
    outcome = start(phone, served)
    assert outcome["kind"] == "Error"
    assert Path(path).stem in outcome["error"]
    assert outcome["waited"] < 20_000
    assert outcome["steps"][-1] < 1


@pytest.mark.browser
@pytest.mark.parametrize("path", ["runtime/library.zip", "runtime/pyodide.asm.wasm"])
def test_a_broken_download_is_named(path: str, phone: Visit, served: Served) -> None:
    phone.watch.expect("")
    served.cut_off.add(path)
    outcome = start(phone, served)
    assert outcome["error"] == f"{Path(path).name} could not be loaded: the connection broke"


@pytest.mark.browser
def test_a_host_that_does_not_know_webassembly_will_do(phone: Visit, served: Served, site: Path) -> None:
    path = "runtime/pyodide.asm.wasm"
    served.replaced[path] = names.published(site, path).read_bytes()
    served.types[path] = "application/octet-stream"
    assert start(phone, served)["steps"][-1] == 1


@pytest.mark.browser
def test_an_interpreter_that_cannot_be_compiled_fails_the_start(phone: Visit, served: Served, site: Path) -> None:
    phone.watch.expect("")
    path = "runtime/pyodide.asm.wasm"
    served.replaced[path] = names.published(site, path).read_bytes()[::-1]
    outcome = start(phone, served)
    assert "CompileError" in outcome["error"]
    assert outcome["waited"] < 20_000


@pytest.mark.browser
def test_a_library_of_another_version_is_refused(phone: Visit, served: Served) -> None:
    phone.watch.expect("")
    served.replaced["runtime/library.zip"] = "not this one"
    assert "its size is not that of this version" in start(phone, served)["error"]


@pytest.mark.browser
def test_silence_fails_the_start(phone: Visit, served: Served) -> None:
    phone.watch.expect("")
    served.stalled.add("runtime/pyodide.asm.wasm")
    outcome = start(phone, served, silenceLimit=3000)
    assert outcome["error"] == "the engine fell silent while it was loading"
    assert 3000 <= outcome["waited"] < 15_000


@pytest.mark.browser
def test_a_blocked_worker_fails_the_start(phone: Visit, served: Served) -> None:
    phone.watch.expect("Content Security Policy")
    served.policy = served.policy.replace("worker-src 'self' blob:", "worker-src 'none'")
    outcome = start(phone, served, silenceLimit=20_000)
    assert outcome["error"].startswith("the engine's worker")
    assert outcome["waited"] < 15_000


@pytest.mark.browser
@pytest.mark.parametrize(
    ("missing", "message"),
    [("WebAssembly", "this browser has no WebAssembly"), ("Worker", "this browser has no workers")],
)
def test_a_browser_without_the_means_is_told(missing: str, message: str, phone: Visit, served: Served) -> None:
    phone.page.add_init_script(f"delete globalThis.{missing}")
    assert start(phone, served)["error"] == message


@pytest.mark.browser
def test_an_engine_that_cannot_be_imported_fails_the_start(phone: Visit, served: Served, site: Path) -> None:
    phone.watch.expect("")
    interpreter = names.published(site, "runtime/interpreter.mjs").read_text(encoding="utf-8")
    served.replaced["runtime/interpreter.mjs"] = interpreter.replace('"engine.browser"', '"engine.no_such_part"')
    outcome = start(phone, served)
    assert outcome["kind"] == "Error"
    assert "engine.no_such_part" in outcome["error"]
    assert outcome["waited"] < 20_000


@pytest.mark.browser
def test_a_worker_file_that_fails_fails_the_start(phone: Visit, served: Served) -> None:
    phone.watch.expect("")
    served.replaced["runtime/worker.py"] = "raise RuntimeError('out of order')\n"
    outcome = start(phone, served)
    assert outcome["kind"] == "Error"
    assert outcome["error"].startswith("the engine's first answer failed")
    assert outcome["waited"] < 20_000


@pytest.mark.browser
def test_a_call_without_an_answer_is_rejected(phone: Visit, served: Served) -> None:
    served.replaced["runtime/worker.py"] = SLEEPS
    outcome = start(phone, served, [{"slow": True}], callLimit=1000)
    assert outcome["answers"] == ["the engine did not answer in time"]


@pytest.mark.browser
def test_a_closed_engine_can_be_opened_again(phone: Visit, served: Served) -> None:
    served.replaced["runtime/worker.py"] = ECHO
    first = start(phone, served, [{"n": 1}])
    again = phone.page.evaluate(OPEN_ENGINE, {"options": {}, "requests": [{"n": 2}]})
    assert [first["answers"], again["answers"]] == [[{"echo": {"n": 1}}], [{"echo": {"n": 2}}]]


def test_library_is_the_same_byte_for_byte_when_built_again(tmp_path: Path) -> None:
    project = tmp_path / "project"
    shutil.copytree(runtime.ROOT / "engine", project / "engine")
    (project / "docs" / "hooks").mkdir(parents=True)
    shutil.copy(runtime.HOOKS / "library.py", project / "docs" / "hooks")
    (project / "node_modules").symlink_to(runtime.ROOT / "node_modules")
    made = []
    for name in ("one.zip", "two.zip"):
        made.append(tmp_path / name)
        command = [runtime.toolchain.node(), runtime.HOOKS / "library.mjs", project, runtime.LIST, made[-1]]
        subprocess.run(command, check=True)
    assert made[0].read_bytes() == made[1].read_bytes()


def test_an_unchanged_library_is_not_built_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(runtime, "CACHE", tmp_path)
    runs: list[str] = []
    monkeypatch.setattr(runtime.progress, "run", fake_node(runs))
    first = runtime.library()
    assert runtime.library() == first
    assert len(runs) == 1


def test_a_change_builds_the_library_anew(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(runtime, "CACHE", tmp_path / "cache")
    runs: list[str] = []
    monkeypatch.setattr(runtime.progress, "run", fake_node(runs))
    modules = tmp_path / "modules.txt"
    for text in ("json\n", "json\nre\n", "json\n"):
        modules.write_text(text)
        runtime.library(modules)
    assert len(runs) == 2


def fake_node(runs: list[str]) -> Callable[[str, list[str | Path]], str]:
    """Stands in for the slow step: notes its title and writes the zip that Node would have made."""

    def run(title: str, command: list[str | Path]) -> str:
        runs.append(title)
        Path(command[-1]).write_bytes(b"zip")
        return ""

    return run


def test_an_unknown_module_in_the_list_is_an_error(tmp_path: Path) -> None:
    modules = tmp_path / "modules.txt"
    modules.write_text("no_such_module\n")
    command = [runtime.toolchain.node(), runtime.HOOKS / "library.mjs", runtime.ROOT, modules, tmp_path / "library.zip"]
    made = subprocess.run(command, capture_output=True, text=True)
    assert made.returncode != 0
    assert "no_such_module is no module" in made.stderr
    assert not (tmp_path / "library.zip").exists()


def test_interpreter_knows_the_sizes_of_its_files(site: Path) -> None:
    text = names.published(site, "runtime/interpreter.mjs").read_text(encoding="utf-8")
    assert "{{version}}" not in text
    assert "{{files}}" not in text
    written = next(line for line in text.splitlines() if line.startswith("const files"))
    files = json.loads(written.split("'", 1)[1].rsplit("'", 1)[0])
    for role in ("wasm", "library"):
        assert files[role]["size"] == names.published(site, f"runtime/{files[role]['name']}").stat().st_size
