"""The licences of everything that the site ships: a page of them, and one text for what has to carry them along.

Names, versions and texts are read from the installed packages. Where a package brings no text (Pyodide does not,
and the C code inside its WebAssembly cannot), it is kept in docs/hooks/licence-texts.
"""

from __future__ import annotations

import fnmatch
import functools
import importlib.metadata
import json
import re
from collections.abc import Iterable
from dataclasses import dataclass
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from mkdocs.config.defaults import MkDocsConfig
    from mkdocs.structure.files import Files

ROOT = Path(__file__).resolve().parents[2]
PACKAGES = ROOT / "node_modules"
TEXTS = ROOT / "docs" / "hooks" / "licence-texts"
PAGE = "licences.md"

# The other packages that @pyscript/core's files were put together from, as its source maps name them; the map is not
# published, so the list stands here and a test compares the two.
INSIDE_PYSCRIPT = (
    "@webreflection/fetch",
    "@webreflection/idb-map",
    "@webreflection/utils",
    "basic-devtools",
    "codedent",
    "coincident",
    "coincident/node_modules/@webreflection/utils",
    "html-escaper",
    "next-resolver",
    "next-resolver/node_modules/@webreflection/utils",
    "plain-tag",
    "polyscript",
    "reflected-ffi",
    "sticky-module",
    "to-json-callback",
    "type-checked-collections",
    "weak-id",
)
# The packages in the band's bundle beside Tone.js; a test compares them with what the bundler says.
INSIDE_BAND = ("standardized-audio-context", "automation-events", "@babel/runtime", "tslib")
BAND_FILES = ("app/band.js",)
PYSCRIPT_FILES = ("runtime/pyscript/*.js",)
# Files that carry the whole runtime in one.
RUNTIME_IN_ONE = ("runtime/disk.js", "runtime/snapshot*", "snapshot*")
INTERPRETER_FILES = ("runtime/pyodide.asm.mjs", "runtime/pyodide.asm.wasm", *RUNTIME_IN_ONE)
LIBRARY_FILES = ("runtime/library.zip", *RUNTIME_IN_ONE)
MIDO_FILES = ("runtime/packs/mido.zip", "runtime/disk.js")  # with a module of Python's library

# What Pyodide's WebAssembly was compiled from beside CPython: name, version where it tells one, licence, text.
COMPILED_IN = (
    ("Emscripten", "5.0.3", "MIT", "emscripten"),
    ("musl", "", "MIT", "musl"),
    ("LLVM compiler-rt, libc++abi and libunwind", "", "Apache-2.0 WITH LLVM-exception", "llvm-exceptions"),
    ("libffi", "", "MIT", "libffi"),
    ("zlib", "1.3.1", "Zlib", "zlib"),
    ("bzip2", "1.0.6", "bzip2-1.0.6", "bzip2"),
    ("XZ Utils (liblzma)", "5.2.2", "public domain", "xz"),
    ("SQLite", "3.39.0", "public domain", "sqlite"),
    ("Expat", "2.7.3", "MIT", "expat"),
    ("libmpdec", "", "BSD-2-Clause", "libmpdec"),
    ("mimalloc", "", "MIT", "mimalloc"),
    ("HACL*", "", "MIT", "hacl"),
)


@dataclass(frozen=True)
class Part:
    """Something that is shipped: what it is called, under which licence, and in which published files it is."""

    name: str
    version: str
    licence: str
    home: str
    text: str
    files: tuple[str, ...]  # patterns of paths as names.plain() gives them


@functools.cache
def parts() -> tuple[Part, ...]:
    """Everything that the site ships, our own first."""
    return (
        Part("Linekeeper", "", "MIT", "", _read(ROOT / "LICENSE"), ()),
        Part("The line book", "", "CC-BY-4.0", "", _read(ROOT / "docs" / "lines" / "LICENSE.txt"), ("lines/*",)),
        _npm("pyodide", INTERPRETER_FILES + LIBRARY_FILES + ("runtime/pyodide.mjs",), stored="mpl-2.0"),
        Part(
            "Python", _python_version(), "PSF-2.0", "https://www.python.org/", _stored("python"),
            INTERPRETER_FILES + LIBRARY_FILES + MIDO_FILES,
        ),
        *(
            Part(name, version, licence, "", _stored(text), INTERPRETER_FILES)
            for name, version, licence, text in COMPILED_IN
        ),
        _npm("@pyscript/core", (*PYSCRIPT_FILES, *LIBRARY_FILES)),  # with its modules in Python
        *dict.fromkeys(_npm(name, PYSCRIPT_FILES) for name in INSIDE_PYSCRIPT),  # two bring the same one along
        _npm("idiomorph", ("app/client.js",)),
        _npm("idb", ("app/client.js",)),
        _npm("@fontsource-variable/bricolage-grotesque", ("app/fonts/display*",)),
        _npm("@vexflow-fonts/bravuratext", ("app/fonts/signs*",)),
        _npm("@vexflow-fonts/bravura", ("app/engraver.js",)),
        _npm("vexflow", ("app/engraver.js",)),
        _npm("tone", BAND_FILES),
        *(_npm(name, BAND_FILES) for name in INSIDE_BAND),
        _pypi("segno", "BSD-3-Clause", ("runtime/packs/segno.zip", "runtime/disk.js")),
        _pypi("mido", "MIT", MIDO_FILES),
    )  # fmt: skip


def texts() -> str:
    """All licences as one plain text, for an edition that is a single file."""
    return "\n\n".join(
        f"{'=' * 78}\n{_title(part)}\n{part.licence}{f' · {part.home}' if part.home else ''}\n{'=' * 78}\n\n{text}"
        for part, text in _each_text_once()
    )


def texts_of(package: str) -> list[importlib.metadata.PackagePath]:
    """The licence's files that an installed Python package brings."""
    return [
        file for file in importlib.metadata.files(package) or []
        if file.name.startswith("LICENSE") and ".dist-info" in file.parts[0]
    ]  # fmt: skip


def covering(path: str) -> list[str]:
    """The names of the parts that a published path (as names.plain() gives it) holds something of."""
    return [part.name for part in parts() if any(fnmatch.fnmatch(path, pattern) for pattern in part.files)]


def on_files(files: Files, *, config: MkDocsConfig) -> Files:
    """MkDocs' event: adds the page."""
    from mkdocs.structure.files import File

    files.append(File.generated(config, PAGE, content=page()))
    return files


def page() -> str:
    """The page's text: a table, then every licence in full."""
    rows = "".join(
        f'<tr><th scope="row">{escape(part.name)}</th><td>{escape(part.version)}</td>'
        f"<td>{escape(part.licence)}</td></tr>"
        for part in parts()
    )
    full = "\n".join(
        f"<details><summary>{escape(_title(part))}</summary>{_source(part)}<pre>{escape(text)}</pre></details>"
        for part, text in _each_text_once()
    )
    return (
        "---\ntitle: Licences\nlead: What Linekeeper is made of, and on which terms.\n---\n\n"
        "Linekeeper itself is under the MIT licence, the lines of its book are under CC BY 4.0. It ships the parts "
        "below, unchanged but for this: the library of Python is compiled and cut down to the modules in use, the "
        "modules of PyScript that are written in Python are compiled, the "
        "typefaces are cut down to the signs in use (the signs of music under names of their own), and scripts are "
        "minified. The source of a part is found at "
        "the address that stands with its licence.\n\n"
        f'<div class="papers"><table><thead><tr><th scope="col">Part</th><th scope="col">Version</th>'
        f'<th scope="col">Licence</th></tr></thead><tbody>{rows}</tbody></table>\n{full}</div>\n'
    )


def _each_text_once() -> Iterable[tuple[Part, str]]:
    """Every part with its text; one that was there before is only named again."""
    seen: dict[str, str] = {}
    for part in parts():
        first = seen.setdefault(part.text, _title(part))
        yield part, part.text if first == _title(part) else f"The same text as that of {first}."


def _source(part: Part) -> str:
    # An address, not a link: nothing on the site leads away from it.
    return f"<p>Source: {escape(part.home)}</p>" if part.home else ""


def _title(part: Part) -> str:
    return f"{part.name} {part.version}".strip()


def _npm(name: str, files: tuple[str, ...], stored: str = "") -> Part:
    folder = PACKAGES / name
    package = json.loads(_read(folder / "package.json"))
    named = re.compile(r"licen[cs]e(\.\w+)?", re.IGNORECASE)
    own = sorted(path for path in folder.iterdir() if named.fullmatch(path.name))
    licence = _spelled(package["license"])
    text = _read(own[0]) if own else _stored(stored or licence.lower()).replace("{author}", _author(package))
    return Part(package["name"], package["version"], licence, _home(package), text, files)


def _pypi(name: str, licence: str, files: tuple[str, ...]) -> Part:
    addresses = dict(line.split(", ", 1) for line in importlib.metadata.metadata(name).get_all("Project-URL") or [])
    home = addresses.get("Homepage") or addresses.get("source", "")
    text = texts_of(name)[0].read_text().strip() + "\n"
    return Part(name, importlib.metadata.version(name), licence, home, text, files)


def _python_version() -> str:
    return str(json.loads(_read(PACKAGES / "pyodide" / "pyodide-lock.json"))["info"]["python"])


def _spelled(licence: str) -> str:
    """A licence's short name as it is usually written; some packages shout it."""
    return {"APACHE-2.0": "Apache-2.0"}.get(licence, licence)


def _author(package: dict[str, Any]) -> str:
    author = package.get("author", "its authors")
    return str(author["name"] if isinstance(author, dict) else author)


def _home(package: dict[str, Any]) -> str:
    repository = package.get("repository", "")
    address = str(repository["url"] if isinstance(repository, dict) else repository)
    found = re.search(r"(?:github\.com[/:]|github:)([\w.-]+/[\w.-]+?)(?:\.git)?$", address)
    return f"https://github.com/{found[1]}" if found else str(package.get("homepage", ""))


def _stored(name: str) -> str:
    return _read(TEXTS / f"{name}.txt")


def _read(path: Path) -> str:
    return path.read_text(encoding="utf-8").strip() + "\n"
