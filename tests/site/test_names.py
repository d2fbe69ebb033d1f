"""Two builds never mix: what changes has another name; and one source gives one build, byte for byte."""

import subprocess
import sys
from pathlib import Path

import names
import pytest
from browsing import Served, Visit

ROOT = Path(__file__).resolve().parents[2]


def pretend_site(folder: Path, **changed: str) -> Path:
    """A site as it is before it gets its names; a keyword replaces one of its files."""
    contents = {
        "page": '<html data-build="@build@" data-runtime="runtime/"><script src="../app/client.js"></script>',
        "client": "client",
        "face": "face",
        "interpreter": "interpreter",
        "worker": 'sync.build = lambda: "@build@"',
        **changed,
    }
    places = {
        "page": "drills/index.html",
        "client": "app/client.js",
        "face": "app/fonts/face.woff2",
        "interpreter": "runtime/interpreter.mjs",
        "worker": "runtime/worker.py",
    }
    for name, place in places.items():
        (folder / place).parent.mkdir(parents=True, exist_ok=True)
        (folder / place).write_text(contents[name])
    return folder


def settled(folder: Path, **changed: str) -> tuple[str, set[str]]:
    """The build id of such a site, and its paths."""
    site = pretend_site(folder, **changed)
    build = names.settle(site)
    return build, {path.relative_to(site).as_posix() for path in names.files_of(site)}


def test_a_page_names_the_files_of_its_own_build(tmp_path: Path) -> None:
    build, paths = settled(tmp_path)
    page = (tmp_path / "drills/index.html").read_text()
    client, worker = (names.published(tmp_path, path) for path in ("app/client.js", "runtime/worker.py"))
    assert f'data-build="{build}"' in page
    assert f'data-runtime="{worker.parent.name}/"' in page
    assert f'src="../{client.relative_to(tmp_path).as_posix()}"' in page
    assert worker.name == f"worker-{build}.py"
    assert build in worker.read_text()
    assert {names.plain(path) for path in paths} == {
        "app/client.js", "app/fonts/face.woff2", "drills/index.html", "runtime/interpreter.mjs", "runtime/worker.py",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("part", "renamed"),
    [
        ("page", {"runtime/worker.py"}),
        ("client", {"app/client.js", "app/fonts/face.woff2", "runtime/worker.py"}),
        ("face", {"app/client.js", "app/fonts/face.woff2", "runtime/worker.py"}),
        ("interpreter", {"runtime/interpreter.mjs", "runtime/worker.py"}),
        ("worker", {"runtime/interpreter.mjs", "runtime/worker.py"}),
    ],
)
def test_what_may_be_kept_for_ever_gets_another_name_when_it_changes(
    part: str, renamed: set[str], tmp_path: Path
) -> None:
    build, paths = settled(tmp_path / "one")
    other_build, other_paths = settled(tmp_path / "two", **{part: "other @build@"})
    assert build != other_build
    assert {names.plain(path) for path in other_paths - paths} == renamed


def test_two_builds_of_one_source_are_the_same_byte_for_byte(site: Path, tmp_path: Path) -> None:
    again = tmp_path / "again"
    subprocess.run([sys.executable, "build.py", "build", "--out", again], cwd=ROOT, check=True, capture_output=True)
    first, second = (
        {path.relative_to(folder): path.read_bytes() for path in names.files_of(folder)} for folder in (site, again)
    )
    assert first.keys() == second.keys()
    assert [path for path in first if first[path] != second[path]] == []


def test_no_mark_is_left_in_a_built_site(site: Path) -> None:
    marked = [path.name for path in names.files_of(site) if names.MARK.encode() in path.read_bytes()]
    assert marked == []


@pytest.mark.browser
def test_page_and_engine_tell_the_same_build(phone: Visit, served: Served) -> None:
    served.replaced["blank.html"] = served.blank()
    phone.page.goto(served.url("blank.html"))
    told = phone.page.evaluate(
        """async () => {
          await linekeeper.openEngine({ base: "./" });
          const engine = await document.querySelector("script[type=py]").xworker.sync.build();
          return [document.documentElement.dataset.build, engine];
        }"""
    )
    assert told[0] == told[1]
    assert len(told[0]) == names.LENGTH
