"""Writes the runtime once more as one classic script, for pages that are opened from disk: they can fetch nothing.

Only such a page loads it; over http it is never asked for.
"""

import base64
import gzip
import json
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[2]
WORKER = ROOT / "docs" / "app" / "worker-disk.js"
LOCK = ROOT / "node_modules" / "pyodide" / "pyodide-lock.json"
NAME = "disk.js"
FILES = ("pyodide.mjs", "pyodide.asm.mjs", "pyodide.asm.wasm", "library.zip", "packs/*.zip")


def on_post_build(config: dict[str, Any], **_: object) -> None:
    """MkDocs' event: everything else of the runtime is written."""
    if config["extra"]["cdn"]:
        return  # that edition brings no interpreter along
    folder = Path(config["site_dir"]) / "runtime"
    (folder / NAME).write_text(script(folder), encoding="ascii")


def script(folder: Path) -> str:
    """The files of a runtime folder and the worker that starts them, kept by a script for docs/app/port-disk.js.

    It may also stand inside a page: nothing in it ends a script element.
    """
    paths = [path for pattern in FILES for path in sorted(folder.glob(pattern))]
    carried = {
        "worker": WORKER.read_text(encoding="utf-8"),
        "info": json.loads(LOCK.read_text(encoding="utf-8"))["info"],
        "files": {path.relative_to(folder).as_posix(): _packed(path) for path in paths},
    }
    return "globalThis.carriedRuntime = " + json.dumps(carried).replace("<", "\\u003c") + ";\n"


def _packed(path: Path) -> str:
    # Without the time of its making, two builds are alike.
    return base64.b64encode(gzip.compress(path.read_bytes(), 9, mtime=0)).decode("ascii")
