"""Packs: packages that only some pages need, each a zip of its own that the engine loads when it is first wanted.

They come from the build's own environment, so the versions are those of its lock file. What such a package needs of
Python's library and nothing else does lies in its zip too, out of the way of the first visit.
"""

import fnmatch
import importlib.metadata
import io
import zipfile
from pathlib import Path
from typing import Any

import licences

# For each package the modules that the engine uses, told where it does: segno in engine/view/qr.py, mido in
# engine/formats/midi.py. Their other modules write files and look for instruments, and would pull a quarter of
# Python's library into the browser; so no pack has an __init__.py at its top, and Python takes the rest as it is.
PACKS = {
    "segno": ("segno/encoder.py", "segno/consts.py"),
    "mido": ("mido/messages/*.py", "mido/midifiles/*.py"),
}
# The modules of Python's library that come along.
LIBRARY = {"mido": ("numbers.py",)}
STANDARD_LIBRARY = Path(__file__).resolve().parents[2] / "node_modules" / "pyodide" / "python_stdlib.zip"
# Zip files cannot be older; one fixed date keeps two builds alike.
DATE = (1980, 1, 1, 0, 0, 0)


def on_post_build(config: dict[str, Any], **_: object) -> None:
    """MkDocs calls this when the pages are written."""
    folder = Path(config["site_dir"]) / "runtime" / "packs"
    folder.mkdir(parents=True, exist_ok=True)
    for name in PACKS:
        (folder / f"{name}.zip").write_bytes(pack(name))


def pack(name: str) -> bytes:
    """The wanted modules of an installed package and its licence, as a zip that Python imports from."""
    wanted = {path.as_posix(): path.read_binary() for path in licences.texts_of(name)}
    for path in importlib.metadata.files(name) or []:
        if any(fnmatch.fnmatch(path.as_posix(), pattern) for pattern in PACKS[name]):
            wanted[path.as_posix()] = path.read_binary()
    with zipfile.ZipFile(STANDARD_LIBRARY) as library:
        wanted.update((module, library.read(module)) for module in LIBRARY.get(name, ()))
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED, compresslevel=9) as made:
        for inside, content in sorted(wanted.items()):
            made.writestr(zipfile.ZipInfo(inside, DATE), content, zipfile.ZIP_DEFLATED, 9)
    return out.getvalue()
