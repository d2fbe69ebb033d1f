"""Adds a snapshot of the started interpreter's memory to the site: later visits start from it (docs/app/snapshot.js).

No two snapshots are alike byte for byte, so this runs after the site has its names, and the build id knows nothing of
it. It has a name of its own instead: the hash of the interpreter and the library that it was made with, and that it
must be restored with.
"""

import hashlib
import subprocess
import tempfile
from pathlib import Path
from typing import Any

import names
import progress
import toolchain
from mkdocs.exceptions import PluginError

ROOT = Path(__file__).resolve().parents[2]
MAKER = ROOT / "docs" / "hooks" / "snapshot.mjs"
PYODIDE = ROOT / "node_modules" / "pyodide"
CACHE = ROOT / ".cache" / "snapshot"
KEPT_SNAPSHOTS = 3

# What it depends on beside the library.
INTERPRETER = ("pyodide.asm.mjs", "pyodide.asm.wasm", "pyodide.mjs")
# The bytes of a start's first memory and of a head; one with more or fewer cannot be restored.
SIZE = 31_457_408


def on_post_build(config: dict[str, Any], **_: object) -> None:
    """MkDocs' event: the site is whole and has its names."""
    library = names.published(Path(config["site_dir"]), "runtime/library.zip")
    try:
        (library.parent / file_name(library)).write_bytes(made(library).read_bytes())
    except toolchain.SetupError as problem:
        raise PluginError(str(problem)) from None


def file_name(library: Path) -> str:
    """The name of the snapshot for a library zip."""
    interpreter = names.digest([PYODIDE / name for name in INTERPRETER], PYODIDE)
    both = hashlib.sha256(f"{interpreter} {names.digest([library], library.parent)}".encode())
    # Not .gz: some hosts would then say that it is compressed on its way, and browsers inflate it too early.
    return f"snapshot-{both.hexdigest()[: names.LENGTH]}.bin"


def made(library: Path, size: int = SIZE) -> Path:
    """The snapshot for a library zip, made anew only when that or the interpreter has changed.

    Raises toolchain.SetupError when it cannot be made, or is not of the size that can be restored.
    """
    kept = CACHE / f"{names.digest([MAKER], MAKER.parent)}-{file_name(library)}"
    if not kept.exists():
        CACHE.mkdir(parents=True, exist_ok=True)
        with tempfile.TemporaryDirectory(dir=CACHE) as workshop:
            new = Path(workshop) / kept.name
            command: list[str | Path] = [toolchain.node(), MAKER, ROOT, library, str(size), new]
            try:
                progress.run("taking a snapshot of the started engine", command)
            except subprocess.CalledProcessError as failure:
                raise toolchain.SetupError(f"the snapshot could not be made:\n{failure.output}") from None
            new.replace(kept)  # whole or not at all, however this run ends
        for old in sorted(CACHE.glob("*.bin"), key=lambda path: path.stat().st_mtime)[:-KEPT_SNAPSHOTS]:
            old.unlink(missing_ok=True)
    return kept
