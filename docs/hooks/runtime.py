"""Puts what the engine needs beside the pages into the built site: PyScript, Pyodide, the library."""

import hashlib
import json
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import progress
import snapshot
import toolchain
from mkdocs.exceptions import PluginError

from engine import browser

ROOT = Path(__file__).resolve().parents[2]
HOOKS = ROOT / "docs" / "hooks"
APP = ROOT / "docs" / "app"
PYODIDE = ROOT / "node_modules" / "pyodide"
PYSCRIPT = ROOT / "node_modules" / "@pyscript" / "core" / "dist"
CACHE = ROOT / ".cache" / "library"

LIST = HOOKS / "library-modules.txt"
# PyScript's optional parts (editor, terminal, games) are switched off and stay out of the site.
PYSCRIPT_PARTS = ("core.js", "core-*.js", "error-*.js")
KEPT_LIBRARIES = 5
LIBRARY = "library.zip"
# The pack of what of the engine is loaded when it is first wanted.
MORE = f"{browser.MORE}.zip"


def on_post_build(config: dict[str, Any], **_: object) -> None:
    """MkDocs calls this when the pages are written."""
    site = Path(config["site_dir"])
    try:
        publish(site / "runtime")
    except toolchain.SetupError as problem:
        raise PluginError(str(problem)) from None


def publish(folder: Path, modules: Path = LIST) -> None:
    """Writes everything that the browser needs to run the engine into `folder`.

    `modules` lists what to keep of Python's library (see library.py).
    """
    (folder / "packs").mkdir(parents=True)
    made = library(modules)
    shutil.copyfile(made / LIBRARY, folder / LIBRARY)
    shutil.copyfile(made / MORE, folder / "packs" / MORE)
    for name in ("pyodide.mjs", "pyodide.asm.mjs", "pyodide.asm.wasm"):
        shutil.copyfile(PYODIDE / name, folder / name)
    (folder / "pyscript").mkdir()
    for pattern in PYSCRIPT_PARTS:
        for path in PYSCRIPT.glob(pattern):
            shutil.copyfile(path, folder / "pyscript" / path.name)
    shutil.copyfile(APP / "worker.py", folder / "worker.py")
    (folder / "interpreter.mjs").write_text(_interpreter(folder), encoding="utf-8")


def _interpreter(folder: Path) -> str:
    """Our interpreter module, with the names and sizes of the files that it loads filled in.

    This is the one place that knows under which names these files are published.
    """
    package = json.loads((PYODIDE / "package.json").read_text(encoding="utf-8"))
    files = {
        "loader": "pyodide.mjs",
        "glue": "pyodide.asm.mjs",
        "wasm": _sized(folder / "pyodide.asm.wasm"),
        "library": _sized(folder / LIBRARY),
        "snapshot": {"name": snapshot.file_name(folder / LIBRARY), "size": snapshot.SIZE},
        "info": json.loads((PYODIDE / "pyodide-lock.json").read_text(encoding="utf-8"))["info"],
    }
    template = (APP / "interpreter.mjs").read_text(encoding="utf-8")
    return template.replace("{{version}}", package["version"]).replace("{{files}}", json.dumps(files))


def _sized(path: Path) -> dict[str, str | int]:
    return {"name": path.name, "size": path.stat().st_size}


def library(modules: Path = LIST) -> Path:
    """A folder with the library zip and the pack beside it, made anew only when something that goes in has changed.

    Raises toolchain.SetupError when Node cannot make it.
    """
    made = CACHE / _fingerprint(modules)
    if not made.exists():
        CACHE.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(dir=CACHE) as workshop:
            new = Path(workshop) / "new"
            new.mkdir()
            command = [toolchain.node(), HOOKS / "library.mjs", ROOT, modules, new / LIBRARY, new / MORE]
            try:
                progress.run("compiling the engine for the browser", command)
            except subprocess.CalledProcessError as failure:
                raise toolchain.SetupError(f"the engine could not be compiled:\n{failure.output}") from None
            new.replace(made)  # whole or not at all, however this run ends
        earlier = sorted((path.parent for path in CACHE.glob(f"*/{LIBRARY}")), key=lambda path: path.stat().st_mtime)
        for old in earlier[:-KEPT_LIBRARIES]:
            shutil.rmtree(old, ignore_errors=True)
    return made


def _fingerprint(modules: Path) -> str:
    digest = hashlib.sha256()
    for path in _ingredients(modules):
        digest.update(path.relative_to(ROOT).as_posix().encode() if path.is_relative_to(ROOT) else b"list")
        digest.update(hashlib.sha256(path.read_bytes()).digest())
    return digest.hexdigest()[:24]


def _ingredients(modules: Path) -> Iterator[Path]:
    yield modules
    yield PYODIDE / "package.json"
    yield PYODIDE / "python_stdlib.zip"
    yield HOOKS / "library.mjs"
    yield HOOKS / "library.py"
    yield from sorted((ROOT / "engine").rglob("*.py"))
    yield from sorted((PYSCRIPT.parent / "src" / "stdlib" / "pyscript").glob("*.py"))
