"""The command line that builds the site: what it sets up, what it refuses, what it says."""

import importlib.util
import json
import os
import signal
import subprocess
import sys
import urllib.request
from collections.abc import Sequence
from pathlib import Path

import progress
import pytest
import serving
import toolchain

import build

ROOT = Path(__file__).resolve().parents[1]


@pytest.fixture
def runs(monkeypatch: pytest.MonkeyPatch) -> list[list[str]]:
    """The commands that would have been run; none of them is."""
    commands: list[list[str]] = []

    def run(_title: str, command: Sequence[str | Path]) -> str:
        commands.append([str(part) for part in command])
        return ""

    monkeypatch.setattr(progress, "run", run)
    return commands


@pytest.fixture
def workshop(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A project folder of its own, with lock files and nothing set up."""
    for name, place in (("ROOT", "."), ("VENV", ".venv"), ("CACHE", ".cache"), ("NODE_MODULES", "node_modules")):
        monkeypatch.setattr(toolchain, name, tmp_path / place)
    monkeypatch.setattr(toolchain, "LOCK", tmp_path / "package-lock.json")
    monkeypatch.setattr(toolchain, "SCRIPTS", tmp_path / ".venv" / "bin")
    (tmp_path / "requirements-build.txt").write_text("one\n")
    (tmp_path / "package-lock.json").write_text("{}\n")
    (tmp_path / "node_modules").mkdir()
    return tmp_path


def pretend_virtual_environment(workshop: Path) -> None:
    (workshop / ".venv" / "bin").mkdir(parents=True)
    (workshop / ".venv" / "bin" / f"python{toolchain.SUFFIX}").touch()
    (workshop / ".venv" / "made").touch()


def failing(command: Sequence[str | Path]) -> subprocess.CalledProcessError:
    return subprocess.CalledProcessError(1, list(command), output="a long story\nof the installer\n")


def test_python_packages_are_installed_once_for_each_lock_file(workshop: Path, runs: list[list[str]]) -> None:
    pretend_virtual_environment(workshop)
    for _ in range(2):
        toolchain.python_packages("build")
    assert len(runs) == 1
    assert "--require-hashes" in runs[0]
    (workshop / "requirements-build.txt").write_text("two\n")
    toolchain.python_packages("build")
    assert len(runs) == 2


def test_a_failed_download_is_one_plain_sentence_and_is_tried_again(
    workshop: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    pretend_virtual_environment(workshop)
    tries: list[str] = []

    def run(title: str, command: Sequence[str | Path]) -> str:
        tries.append(title)
        raise failing(command)

    monkeypatch.setattr(progress, "run", run)
    for _ in range(2):
        with pytest.raises(toolchain.SetupError) as problem:
            toolchain.python_packages("build")
    assert len(tries) == 2
    message = str(problem.value)
    assert "\n" not in message
    assert message.startswith("the Python packages of requirements-build.txt could not be installed: see that this")
    assert "a long story" in (workshop / ".cache" / "setup.log").read_text()


def test_an_interrupted_virtual_environment_is_made_again(workshop: Path, runs: list[list[str]]) -> None:
    pretend_virtual_environment(workshop)
    (workshop / ".venv" / "made").unlink()
    leftover = workshop / ".venv" / "leftover"
    leftover.touch()
    with pytest.raises(FileNotFoundError):  # nothing was really made, so the mark has no place
        toolchain.python_packages("build")
    assert runs[0][1:3] == ["-m", "venv"]
    assert not leftover.exists()


def test_missing_ensurepip_names_the_package_to_install(workshop: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    real = importlib.util.find_spec
    monkeypatch.setattr(importlib.util, "find_spec", lambda name: None if name == "ensurepip" else real(name))
    with pytest.raises(toolchain.SetupError, match="apt install python3-venv"):
        toolchain.python_packages("build")
    assert not (workshop / ".venv").exists()


def machine_with(folder: Path, monkeypatch: pytest.MonkeyPatch, **programs: str) -> None:
    """A PATH on which stand nothing but programs that print the given text."""
    for name, text in programs.items():
        (folder / name).write_text(f"#!/bin/sh\necho {text}\n")
        (folder / name).chmod(0o755)
    monkeypatch.setenv("PATH", str(folder))


@pytest.mark.skipif(os.name == "nt", reason="the stand-ins are shell scripts")
@pytest.mark.parametrize(
    ("programs", "is_used"),
    [
        ({"node": "v20.0.0", "npm": "10"}, True),
        ({"node": "v24.1.2", "npm": "11"}, True),
        ({"node": "v18.20.0", "npm": "10"}, False),
        ({"node": "v20.0.0"}, False),
        ({}, False),
    ],
)
def test_a_new_enough_node_of_the_machine_is_used(
    programs: dict[str, str], is_used: bool, workshop: Path, runs: list[list[str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    pretend_virtual_environment(workshop)
    (workshop / "requirements-node.txt").write_text("node\n")
    machine_with(workshop, monkeypatch, **programs)
    if is_used:
        assert toolchain.node() == workshop / "node"
        assert not runs
    else:
        with pytest.raises(toolchain.SetupError, match="Node 20 or newer"):  # the stand-in installs nothing
            toolchain.node()
        assert str(workshop / "requirements-node.txt") in runs[0]


@pytest.mark.skipif(os.name == "nt", reason="the stand-ins are shell scripts")
def test_test_tools_are_left_out_until_they_are_asked_for(
    workshop: Path, runs: list[list[str]], monkeypatch: pytest.MonkeyPatch
) -> None:
    machine_with(workshop, monkeypatch, node="v20.0.0", npm="10")
    toolchain.npm_packages()
    toolchain.npm_packages()
    toolchain.npm_packages(with_tests=True)
    toolchain.npm_packages()
    installs = [run for run in runs if "ci" in run]
    assert ["--omit=dev" in run for run in installs] == [True, False]


def test_the_named_browser_wins(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    own = tmp_path / "my-browser"
    own.touch()
    monkeypatch.setenv("LINEKEEPER_BROWSER", str(own))
    assert toolchain.browser() == own
    own.unlink()
    with pytest.raises(toolchain.SetupError, match="LINEKEEPER_BROWSER names no file"):
        toolchain.install_browser()


def test_without_a_browser_one_sentence_names_the_ways_out(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("LINEKEEPER_BROWSER", raising=False)
    monkeypatch.setenv("PATH", str(tmp_path))
    monkeypatch.setattr(toolchain, "PLACES", ())
    with pytest.raises(toolchain.SetupError, match=r"sudo apt install chromium.*--no-browser"):
        toolchain.install_browser()


@pytest.mark.skipif(os.name == "nt", reason="the stand-in is a shell script")
def test_root_with_apt_gets_chromium(tmp_path: Path, runs: list[list[str]], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("LINEKEEPER_BROWSER", raising=False)
    monkeypatch.setattr(toolchain, "PLACES", ())
    monkeypatch.setattr(os, "geteuid", lambda: 0)
    machine_with(tmp_path, monkeypatch, **{"apt-get": "apt"})
    toolchain.install_browser()
    assert [run[1] for run in runs] == ["update", "install"]
    assert runs[1][-1] == "chromium"


def test_without_webkit_one_sentence_names_the_ways_out(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("PATH", str(tmp_path))
    with pytest.raises(toolchain.SetupError, match=r"sudo apt install webkit2gtk-driver xvfb.*--no-webkit"):
        toolchain.install_webkit()


@pytest.mark.skipif(os.name == "nt", reason="the stand-in is a shell script")
def test_root_with_apt_gets_webkit(tmp_path: Path, runs: list[list[str]], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(os, "geteuid", lambda: 0)
    machine_with(tmp_path, monkeypatch, **{"apt-get": "apt", "Xvfb": "a screen"})
    toolchain.install_webkit()
    assert runs[1][-2:] == ["webkit2gtk-driver", "xvfb"]


def test_a_taken_port_gives_way_to_the_next(tmp_path: Path) -> None:
    with serving.open_server(tmp_path, 8300) as first, serving.open_server(tmp_path, first.server_port) as second:
        assert first.server_port < second.server_port <= first.server_port + 19


@pytest.mark.parametrize(
    ("name", "media_type"),
    [("a.mjs", "text/javascript"), ("a.wasm", "application/wasm"), ("a.html", "text/html"), ("a.woff2", "font/woff2")],
)
def test_files_have_the_media_types_that_browsers_insist_on(name: str, media_type: str) -> None:
    handler = serving.Handler.__new__(serving.Handler)
    assert handler.guess_type(name).split(";")[0] == media_type


@pytest.mark.skipif(os.name == "nt", reason="Ctrl-C is sent as a POSIX signal")
def test_serve_says_where_the_site_is_and_ends_cleanly(tmp_path: Path) -> None:
    with serving.open_server(tmp_path, 8350) as taken:
        command = [sys.executable, "build.py", "serve", "--port", str(taken.server_port)]
        pipes = {"stdout": subprocess.PIPE, "stderr": subprocess.STDOUT}

        def hear_ctrl_c() -> None:
            # What a shell starts in the background ignores it, and hands that on to its children.
            signal.signal(signal.SIGINT, signal.SIG_DFL)

        with subprocess.Popen(command, cwd=ROOT, text=True, preexec_fn=hear_ctrl_c, **pipes) as process:
            assert process.stdout
            said = ""
            while "http://" not in said and (line := process.stdout.readline()):
                said += line
            assert f"port {taken.server_port} is taken" in said
            address = said.split(" at ")[1].split()[0]
            with urllib.request.urlopen(address) as page:
                assert page.status == 200
                assert page.headers["Content-Type"].startswith("text/html")
            process.send_signal(signal.SIGINT)
            said += process.communicate(timeout=30)[0]
    assert process.returncode == 0
    assert "Traceback" not in said


def test_a_build_never_clears_a_folder_of_something_else(tmp_path: Path) -> None:
    keep = tmp_path / "my tunes.txt"
    keep.write_text("precious")
    command = [sys.executable, "build.py", "build", "--out", tmp_path]
    refused = subprocess.run(command, cwd=ROOT, capture_output=True, text=True)
    assert refused.returncode == 1
    assert "holds something else than a built site" in refused.stderr
    assert "Traceback" not in refused.stderr
    assert keep.read_text() == "precious"


@pytest.mark.parametrize("failing_check", ["ruff", "mypy", "tsc", "pytest", None])
def test_the_exit_code_tells_whether_every_check_passed(
    failing_check: str | None, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    for name in ("python_packages", "npm_packages"):
        monkeypatch.setattr(toolchain, name, lambda *_, **__: None)
    checks: list[str] = []

    def run(name: str, _command: list[str | Path]) -> tuple[int, float]:
        checks.append(name)
        return int(name == failing_check), 0.1

    monkeypatch.setattr(build, "_timed", run)
    assert build.main(["test", "--no-browser"]) == (1 if failing_check else 0)
    assert checks == ["ruff", "mypy", "tsc", "pytest"]
    assert ("FAILED" in capsys.readouterr().out) == bool(failing_check)


@pytest.mark.parametrize("failing", [*build.HALVES, ""])
def test_the_two_halves_of_the_tests_are_both_heard(failing: str, capfd: pytest.CaptureFixture[str]) -> None:
    says = "import sys; print('this is the', sys.argv[1]); sys.exit(sys.argv[1] == sys.argv[2])"
    commands = {name: [sys.executable, "-c", says, name, failing] for name in build.HALVES}
    results = build._side_by_side(commands)
    assert {name: code for name, (code, _) in results.items()} == {name: int(name == failing) for name in commands}
    assert [line for line in capfd.readouterr().out.splitlines() if line] == [
        "— browser", "this is the browser", "— rest", "this is the rest",
    ]  # fmt: skip


@pytest.mark.parametrize("failing", ["build", "rest", ""])
def test_every_test_is_in_one_half(failing: str, monkeypatch: pytest.MonkeyPatch) -> None:
    for name in ("python_packages", "npm_packages", "install_browser", "install_webkit"):
        monkeypatch.setattr(toolchain, name, lambda *_, **__: None)
    monkeypatch.setattr(build, "_timed", lambda name, _: (int(name == failing), 0.0))
    halves: dict[str, list[object]] = {}

    def run(given: dict[str, list[object]]) -> dict[str, tuple[int, float]]:
        halves.update(given)
        return {name: (int(name == failing), 0.0) for name in given}

    monkeypatch.setattr(build, "_side_by_side", run)
    assert build.main(["test"]) == int(failing != "")
    # Both are about the one site that was built, or build it themselves and tell why that fails.
    built = [any(str(part).startswith("--site=") for part in command) for command in halves.values()]
    assert built == [failing != "build"] * 2
    assert all(command[-1] == "tests" for command in halves.values())
    marks = [command[command.index("-m", command.index("pytest")) + 1] for command in halves.values()]
    assert marks == ["browser", "not browser"]


def test_arguments_after_two_dashes_go_to_pytest(monkeypatch: pytest.MonkeyPatch) -> None:
    given: list[object] = []
    monkeypatch.setattr(build, "test", lambda *options: given.append(options) or 0)
    build.main(["test", "--no-browser", "--", "-k", "chord", "-x"])
    assert given == [(True, False, ["-k", "chord", "-x"])]


PYTHON_LOCKS = sorted(ROOT.glob("requirements-*.txt"))


@pytest.mark.parametrize("path", [*PYTHON_LOCKS, ROOT / "package-lock.json"], ids=lambda path: path.name)
def test_lock_files_name_no_place_to_download_from(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    for trace in ("--index-url", "--extra-index-url", "--find-links", '"resolved"', "file:"):
        assert trace not in text
    if path.suffix == ".txt":
        assert "://" not in text


@pytest.mark.parametrize("path", PYTHON_LOCKS, ids=lambda path: path.name)
def test_every_python_package_is_pinned_and_hashed(path: Path) -> None:
    entries = [entry for entry in path.read_text(encoding="utf-8").replace("\\\n", "").splitlines() if entry.strip()]
    packages = [entry for entry in entries if not entry.lstrip().startswith("#")]
    assert packages
    assert all("==" in entry and "--hash=sha256:" in entry for entry in packages)


def test_every_npm_package_is_pinned_and_hashed() -> None:
    package = json.loads((ROOT / "package.json").read_text(encoding="utf-8"))
    wanted = package["dependencies"] | package["devDependencies"]
    assert all(version[0].isdigit() for version in wanted.values())
    locked = json.loads((ROOT / "package-lock.json").read_text(encoding="utf-8"))["packages"]
    for name, version in wanted.items():
        assert locked[f"node_modules/{name}"]["version"] == version
    assert all("integrity" in entry for place, entry in locked.items() if place)


def test_no_package_registry_is_named_in_the_project() -> None:
    hosts = ("registry." + "npmjs.org", "registry." + "yarnpkg.com", "pypi" + ".org", "python" + "hosted.org")
    if not (ROOT / ".git").exists():
        pytest.skip("only a checkout knows which files belong to the project")
    # A checkout may belong to someone else than the one who runs the tests; reading its list of files is harmless.
    git = ["git", "-c", "safe.directory=*", "ls-files", "-z"]
    listed = subprocess.run(git, cwd=ROOT, capture_output=True, text=True, check=True).stdout
    paths = [ROOT / name for name in listed.split("\0") if name]
    assert paths
    for path in paths:
        if path.exists():
            content = path.read_bytes()
            assert [host for host in hosts if host.encode() in content] == [], path
