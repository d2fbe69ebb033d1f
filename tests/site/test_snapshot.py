"""Later visits start from a snapshot of the started engine; a bad one only costs its head start."""

import base64
import gzip
import math
import shutil
from collections.abc import Callable
from pathlib import Path

import names
import offline
import pytest
import snapshot
import toolchain
from browsing import OPEN_ENGINE, PREFIX, SNAPSHOTS, Served, Visit, start

MOST_BYTES = 20_000_000  # of everything that is kept on the device beside the player's own answers
PUT = """async ([name, file, bytes]) =>
  (await caches.open(name)).put(file, new Response(Uint8Array.from(atob(bytes), (sign) => sign.charCodeAt(0))))"""
ALL_CACHES = "() => caches.keys()"
LATER = "() => new Promise((resolve) => requestIdleCallback(() => setTimeout(resolve, 1000)))"


@pytest.fixture
def file(site: Path) -> Path:
    """The snapshot of the built site."""
    return next(site.glob("runtime-*/snapshot-*.bin"))


def cache_name(file: Path, folder: str = PREFIX) -> str:
    return f"linekeeper snapshot {folder} {file.name}"


def put(visit: Visit, served: Served, file: Path, content: bytes) -> None:
    """Has the browser keep `content` as if it were the snapshot."""
    served.replaced["blank.html"] = served.blank()
    visit.page.goto(served.url("blank.html"))
    address = served.url(f"{file.parent.name}/{file.name}")
    visit.page.evaluate(PUT, [cache_name(file), address, base64.b64encode(content).decode()])


@pytest.mark.browser
def test_a_first_start_keeps_a_snapshot_and_the_next_one_uses_it(phone: Visit, served: Served, file: Path) -> None:
    first = start(phone, served, [{}])
    assert phone.page.evaluate(SNAPSHOTS, 1) == [cache_name(file)]
    again = start(phone, served, [{}])
    assert [first["restored"], again["restored"]] == [False, True]
    assert again["steps"][-1] == 1
    assert again["answers"] == [{}]


@pytest.mark.browser
def test_chance_is_not_frozen_into_the_snapshot(phone: Visit, served: Served, site: Path) -> None:
    worker = names.published(site, "runtime/worker.py").read_text(encoding="utf-8")
    served.replaced["runtime/worker.py"] = f"{worker}\nsync.call = lambda request: str(random.random())\n"
    start(phone, served)
    phone.page.evaluate(SNAPSHOTS, 1)
    drawn = [start(phone, served, [{}]) for _ in range(2)]
    assert [outcome["restored"] for outcome in drawn] == [True, True]
    assert drawn[0]["answers"] != drawn[1]["answers"]


BAD: dict[str, Callable[[bytes], bytes]] = {
    "not compressed": lambda _: b"not a snapshot",
    "cut off": lambda whole: whole[: len(whole) // 2],
    "nothing": lambda _: b"",
    "too short": lambda _: gzip.compress(bytes(1000)),
    "too long": lambda _: gzip.compress(bytes(snapshot.SIZE + 1), 1),
    "no snapshot": lambda _: gzip.compress(bytes(snapshot.SIZE), 1),
    "a damaged head": lambda whole: gzip.compress(bytes(64) + gzip.decompress(whole)[64:], 1),
}


@pytest.mark.browser
@pytest.mark.parametrize("bad", BAD.values(), ids=BAD.keys())
def test_a_bad_snapshot_is_dropped_and_the_start_is_as_usual(
    bad: Callable[[bytes], bytes], phone: Visit, served: Served, file: Path
) -> None:
    phone.watch.expect("404")
    served.missing.add(f"runtime/{file.name}")  # so that no good one takes its place
    put(phone, served, file, bad(file.read_bytes()))
    outcome = start(phone, served, [{}])
    assert (outcome["restored"], outcome["answers"]) == (False, [{}])
    phone.page.evaluate(SNAPSHOTS, 0)


@pytest.mark.browser
def test_a_snapshot_that_fails_after_it_was_restored_is_not_used_twice(
    phone: Visit, served: Served, file: Path, site: Path
) -> None:
    phone.watch.expect("")
    start(phone, served)
    phone.page.evaluate(SNAPSHOTS, 1)
    served.missing.add(f"runtime/{file.name}")
    worker = names.published(site, "runtime/worker.py").read_text(encoding="utf-8")
    served.replaced["runtime/worker.py"] = "raise RuntimeError('out of order')"
    assert "error" in start(phone, served)
    phone.page.evaluate(SNAPSHOTS, 0)
    served.replaced["runtime/worker.py"] = worker
    assert start(phone, served)["restored"] is False


@pytest.mark.browser
def test_a_careful_start_does_without(phone: Visit, served: Served) -> None:
    start(phone, served)
    phone.page.evaluate(SNAPSHOTS, 1)
    assert start(phone, served, careful=True)["restored"] is False


@pytest.mark.browser
def test_snapshots_of_other_builds_are_dropped_and_those_of_other_sites_stay(
    phone: Visit, served: Served, file: Path
) -> None:
    old, foreign = cache_name(Path("snapshot-0123456789ab.bin")), cache_name(file, "/another/")
    served.replaced["blank.html"] = served.blank()
    phone.page.goto(served.url("blank.html"))
    for name in (old, foreign):
        phone.page.evaluate(PUT, [name, served.url("old.bin"), ""])
    assert start(phone, served)["restored"] is False
    phone.page.wait_for_timeout(500)
    phone.page.evaluate(SNAPSHOTS, 2)
    assert set(phone.page.evaluate(ALL_CACHES)) >= {cache_name(file), foreign}
    assert old not in phone.page.evaluate(ALL_CACHES)


@pytest.mark.browser
@pytest.mark.parametrize("saves", [True, False])
def test_it_is_not_fetched_where_data_is_dear(saves: bool, phone: Visit, served: Served) -> None:
    value = f"{{ value: {{ saveData: {str(saves).lower()} }} }}"
    phone.page.add_init_script(f"Object.defineProperty(navigator, 'connection', {value})")
    requested: list[str] = []
    phone.page.context.on("request", lambda request: requested.append(request.url))
    start(phone, served)
    phone.page.evaluate(LATER)
    assert any("/snapshot-" in url for url in requested) != saves


@pytest.mark.browser
def test_a_page_without_a_cache_starts_as_usual(phone: Visit, served: Served) -> None:
    phone.page.add_init_script("delete globalThis.caches")
    served.replaced["blank.html"] = served.blank()
    phone.page.goto(served.url("blank.html"))
    assert phone.page.evaluate("() => 'caches' in globalThis") is False
    assert phone.page.evaluate(OPEN_ENGINE, {"options": {}, "requests": [{}]})["answers"] == [{}]


def test_a_snapshot_of_another_size_stops_the_build(
    file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(snapshot, "CACHE", tmp_path)
    with pytest.raises(toolchain.SetupError, match=f"the snapshot has {snapshot.SIZE} bytes, not 1000"):
        snapshot.made(file.parent / "library.zip", size=1000)
    assert list(tmp_path.rglob("*.bin")) == []


def test_an_unchanged_runtime_has_its_snapshot_already(file: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(*_: object) -> str:
        raise AssertionError("it was made again")

    monkeypatch.setattr(snapshot.progress, "run", fail)
    assert snapshot.made(file.parent / "library.zip").read_bytes() == file.read_bytes()


def test_another_library_or_interpreter_has_another_snapshot(
    file: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    shutil.copy(file.parent / "library.zip", tmp_path)
    for name in snapshot.INTERPRETER:
        shutil.copy(snapshot.PYODIDE / name, tmp_path)
    monkeypatch.setattr(snapshot, "PYODIDE", tmp_path)
    assert snapshot.file_name(tmp_path / "library.zip") == file.name
    seen = {file.name}
    for name in ("library.zip", *snapshot.INTERPRETER):
        (tmp_path / name).write_bytes(b"other")
        seen.add(snapshot.file_name(tmp_path / "library.zip"))
    assert len(seen) == 2 + len(snapshot.INTERPRETER)


def test_the_snapshot_tells_nothing_of_where_it_was_made(file: Path) -> None:
    memory = gzip.decompress(file.read_bytes())
    assert len(memory) == snapshot.SIZE
    for place in (toolchain.ROOT, snapshot.CACHE, file.parent):
        assert str(place).encode() not in memory


def test_all_that_a_device_may_keep_is_small(site: Path, file: Path) -> None:
    """The snapshot beside the whole site but what is for pages from disk: no precache can hold more than that."""
    sizes = {path: offline.kept_size(path) for path in names.files_of(site) if path.name != "disk.js"}
    assert math.isclose(sizes[file], 4_500_000, rel_tol=0.15)
    assert sum(sizes.values()) <= MOST_BYTES
