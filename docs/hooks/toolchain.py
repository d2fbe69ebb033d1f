"""What a command needs beside Python, set up on demand: Python packages, Node, npm packages, a browser.

Everything that is set up carries a stamp with the hash of its lock file. A fresh stamp costs nothing and needs
no network; a stamp is written last, so an interrupted run is simply done again.
"""

import contextlib
import hashlib
import importlib.util
import os
import re
import shutil
import subprocess
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path

import progress

ROOT = Path(__file__).resolve().parents[2]
VENV = ROOT / ".venv"
CACHE = ROOT / ".cache"
NODE_MODULES = ROOT / "node_modules"
LOCK = ROOT / "package-lock.json"

# The oldest release line that the npm packages ask for; Pyodide in Node would be content with 18.
OLDEST_NODE = 20
SCRIPTS = VENV / ("Scripts" if os.name == "nt" else "bin")
SUFFIX = ".exe" if os.name == "nt" else ""


class SetupError(Exception):
    """Something that a command needs cannot be set up; the message says what, and what to do."""


def python_packages(group: str) -> None:
    """Installs the packages of `requirements-GROUP.txt` into .venv.

    Raises SetupError when Python cannot make a virtual environment or a download fails.
    """
    requirements = ROOT / f"requirements-{group}.txt"
    stamp = VENV / f"installed-{group}"
    with _one_at_a_time():
        _virtual_environment()
        if _is_fresh(stamp, requirements):
            return
        command: list[str | Path] = [
            python(), "-m", "pip", "install", "--disable-pip-version-check", "--no-input",
            "--require-hashes", "-r", requirements,
        ]  # fmt: skip
        _install(f"installing the Python packages ({group})", command, f"the Python packages of {requirements.name}")
        _write_stamp(stamp, requirements)


def npm_packages(with_tests: bool = False) -> None:
    """Installs what package-lock.json names into node_modules; the test tools only `with_tests`.

    Raises SetupError when there is no Node and none can be installed, or a download fails.
    """
    everything, shipped = NODE_MODULES / ".installed-all", NODE_MODULES / ".installed-shipped"
    with _one_at_a_time():
        if _is_fresh(everything, LOCK) or (not with_tests and _is_fresh(shipped, LOCK)):
            return
    if not (_system_node() or _packaged_node()):
        python_packages("node")
    with _one_at_a_time():
        # What npm has downloaded before it need not ask for again; and one retry is enough to tell that it is offline.
        patience = ["--prefer-offline", "--fetch-retries=1", "--fetch-retry-mintimeout=1000"]
        command = [*_npm(), "ci", "--ignore-scripts", "--no-audit", "--no-fund", *patience]
        if not with_tests:
            command.append("--omit=dev")
        _install("installing the npm packages", command, "the npm packages of package-lock.json")
        _write_stamp(everything if with_tests else shipped, LOCK)


def python() -> Path:
    """The Python of the virtual environment."""
    return SCRIPTS / f"python{SUFFIX}"


def script(name: str) -> Path:
    """A command that a Python package brought into the virtual environment."""
    return SCRIPTS / f"{name}{SUFFIX}"


def node() -> Path:
    """Node: the machine's own where it is new enough, else the packaged one, installed when it is missing."""
    found = _system_node() or _packaged_node()
    if not found:
        python_packages("node")
        found = _packaged_node()
    if not found:
        raise SetupError(f"Node {OLDEST_NODE} or newer is needed and could not be installed")
    return found


def _npm() -> list[str | Path]:
    own = shutil.which("npm")
    return [own] if own and _system_node() else [script("npm")]


def _system_node() -> Path | None:
    found = shutil.which("node")
    # Some systems package npm by itself; Node without it is of no use here.
    if not found or not shutil.which("npm"):
        return None
    try:
        version = subprocess.run([found, "--version"], capture_output=True, text=True, check=True).stdout
    except (OSError, subprocess.CalledProcessError):
        return None
    major = re.match(r"v(\d+)\.", version)
    return Path(found) if major and int(major[1]) >= OLDEST_NODE else None


def _packaged_node() -> Path | None:
    return script("node") if script("node").exists() and script("npm").exists() else None


def _virtual_environment() -> None:
    made = VENV / "made"
    if made.exists() and python().exists():
        return
    if not importlib.util.find_spec("ensurepip"):
        raise SetupError(
            "this Python cannot make a virtual environment, because its module ensurepip is missing: "
            "install it (on Debian and Ubuntu: apt install python3-venv) and run the command again"
        )
    # Removed by hand: clearing in place would keep a broken link to a Python that is gone.
    shutil.rmtree(VENV, ignore_errors=True)
    base = getattr(sys, "_base_executable", sys.executable)
    _install("making a virtual environment", [base, "-m", "venv", VENV], "the virtual environment")
    made.touch()


def _install(title: str, command: Sequence[str | Path], what: str) -> None:
    try:
        progress.run(title, command)
    except subprocess.CalledProcessError as failure:
        log = CACHE / "setup.log"
        log.write_text(failure.output, encoding="utf-8")
        raise SetupError(
            f"{what} could not be installed: see that this machine is online, then run the command again "
            f"(what was printed is in {log.relative_to(ROOT)})"
        ) from None
    except OSError as failure:
        raise SetupError(f"{what} could not be installed: {failure}") from None


def _is_fresh(stamp: Path, lock: Path) -> bool:
    return stamp.exists() and stamp.read_text(encoding="utf-8") == _hash(lock)


def _write_stamp(stamp: Path, lock: Path) -> None:
    stamp.write_text(_hash(lock), encoding="utf-8")


def _hash(path: Path) -> str:
    return hashlib.sha256(path.read_bytes()).hexdigest()


@contextlib.contextmanager
def _one_at_a_time() -> Iterator[None]:
    """Two commands at once in one folder would install over each other: the second waits for the first."""
    CACHE.mkdir(exist_ok=True)
    with open(CACHE / "setup.lock", "w", encoding="utf-8") as file:
        if sys.platform != "win32":
            import fcntl

            fcntl.flock(file, fcntl.LOCK_EX)
        yield


NAMES = (
    "chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome", "microsoft-edge", "msedge",
)  # fmt: skip
PLACES = (
    "/snap/bin/chromium",
    "/Applications/Chromium.app/Contents/MacOS/Chromium",
    "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome",
    "/Applications/Microsoft Edge.app/Contents/MacOS/Microsoft Edge",
    "C:/Program Files/Google/Chrome/Application/chrome.exe",
    "C:/Program Files (x86)/Google/Chrome/Application/chrome.exe",
    "C:/Program Files (x86)/Microsoft/Edge/Application/msedge.exe",
)
BROWSER_VARIABLE = "LINEKEEPER_BROWSER"
# What drives WebKitGTK, and the screen in memory that it is shown on.
WEBKIT_PROGRAMS = ("WebKitWebDriver", "Xvfb")
WEBKIT_PACKAGES = ("webkit2gtk-driver", "xvfb")


def browser() -> Path | None:
    """The browser for the tests: the one that LINEKEEPER_BROWSER names, else a Chromium of this machine."""
    named = os.environ.get(BROWSER_VARIABLE)
    if named:
        return Path(named) if Path(named).exists() else None
    for name in NAMES:
        found = shutil.which(name)
        if found:
            return Path(found)
    return next((Path(place) for place in PLACES if Path(place).exists()), None)


def install_browser() -> None:
    """Sees to it that there is a browser; installs Chromium where that needs no question (as root, with apt).

    Raises SetupError where it does.
    """
    if browser():
        return
    if os.environ.get(BROWSER_VARIABLE):
        raise SetupError(f"{BROWSER_VARIABLE} names no file: {os.environ[BROWSER_VARIABLE]}")
    apt = shutil.which("apt-get")
    if not apt or os.name == "nt" or os.geteuid() != 0:
        raise SetupError(
            "the browser tests need Chromium: install it (on Debian: sudo apt install chromium), name a browser "
            f"in {BROWSER_VARIABLE}, or leave these tests out with --no-browser"
        )
    _system_packages(apt, "Chromium", "chromium")


def install_webkit() -> None:
    """Sees to it that there are WebKitGTK and a screen for it; installs them where that needs no question.

    Raises SetupError where it does.
    """
    if all(map(shutil.which, WEBKIT_PROGRAMS)):
        return
    packages = " ".join(WEBKIT_PACKAGES)
    apt = shutil.which("apt-get")
    if not apt or os.name == "nt" or os.geteuid() != 0:
        raise SetupError(
            f"a few tests need WebKitGTK, the nearest kin of Safari that runs here: install it (on Debian: sudo apt "
            f"install {packages}), or leave these tests out with --no-webkit"
        )
    _system_packages(apt, "WebKitGTK", *WEBKIT_PACKAGES)


def _system_packages(apt: str, what: str, *packages: str) -> None:
    with _one_at_a_time():
        os.environ["DEBIAN_FRONTEND"] = "noninteractive"
        _install("reading the list of system packages", [apt, "update"], what)
        _install(f"installing {what}", [apt, "install", "-y", "--no-install-recommends", *packages], what)
