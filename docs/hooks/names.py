"""The names that tell two builds apart: folders that carry the hash of what is in them, and one id for it all.

A host may let browsers keep the files of such a folder for ever, because another content has another name;
and a page names the folders of its own build, so page and engine of two builds never meet. The same source
gives the same names. What is not the same in every build (a memory snapshot) is added after `settle`, under
a name of its own.
"""

import hashlib
import re
from collections.abc import Iterable
from pathlib import Path

FOLDERS = ("app", "runtime")
# Where the id is not known yet, its mark stands.
MARK = "@build@"
# The engine tells the build it belongs to: this file is named by the build, not by what is in it.
WORKER = "worker.py"
LENGTH = 12

_HASH = rf"[0-9a-f]{{{LENGTH}}}"
_ADDRESS = re.compile(rf'(?<==")((?:\.\./)*)({"|".join(FOLDERS)})/')
_HASHED_FOLDER = re.compile(rf"^({'|'.join(FOLDERS)})-{_HASH}/")
_HASHED_WORKER = re.compile(rf"^runtime/worker-{_HASH}\.py$")


def settle(site: Path) -> str:
    """Gives the folders and the worker's file of a built site their final names, and fills in the id.

    Returns the build id: the hash of everything that the site holds now.
    """
    final = {name: f"{name}-{digest(files_of(site / name), site / name)}" for name in FOLDERS}
    for name, hashed in final.items():
        (site / name).rename(site / hashed)
    pages = sorted(site.rglob("*.html"))
    for page in pages:
        text = page.read_text(encoding="utf-8")
        page.write_text(_ADDRESS.sub(lambda found: f"{found[1]}{final[found[2]]}/", text), encoding="utf-8")
    build = digest(files_of(site), site)
    worker = site / final["runtime"] / WORKER
    for path in (*pages, worker):
        path.write_text(path.read_text(encoding="utf-8").replace(MARK, build), encoding="utf-8")
    worker.rename(worker.with_stem(f"{worker.stem}-{build}"))
    return build


def folders(site: Path) -> list[Path]:
    """The folders of a built site whose names carry a hash."""
    return sorted(path for path in site.iterdir() if _HASHED_FOLDER.match(f"{path.name}/"))


def plain(path: str) -> str:
    """A published path as it is in the source: the opposite of what `settle` does."""
    return _HASHED_WORKER.sub(f"runtime/{WORKER}", _HASHED_FOLDER.sub(r"\1/", path))


def published(site: Path, path: str) -> Path:
    """Where a file of the source is in a built site. Raises KeyError when it is not there."""
    return {plain(file.relative_to(site).as_posix()): file for file in files_of(site)}[path]


def files_of(folder: Path) -> list[Path]:
    """All files below a folder, in an order that every machine agrees on."""
    return sorted((path for path in folder.rglob("*") if path.is_file()), key=lambda path: path.as_posix())


def digest(paths: Iterable[Path], root: Path) -> str:
    """A short hash of files and of their places below `root`."""
    whole = hashlib.sha256()
    for path in paths:
        whole.update(path.relative_to(root).as_posix().encode() + b"\0")
        whole.update(hashlib.sha256(path.read_bytes()).digest())
    return whole.hexdigest()[:LENGTH]
