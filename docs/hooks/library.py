"""Makes the library zip that the browser's interpreter loads. It runs inside Node's Pyodide (see library.mjs).

The zip carries the engine and the part of Python's library that is needed to run it, everything compiled:
loading source would make a start twice as long. What of the engine a round does without makes a pack of its own.
"""

import ast
import dataclasses
import importlib
import importlib.util
import io
import marshal
import sys
import zipfile
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path
from types import MappingProxyType

ENGINE = Path("/project/engine")
# Pyodide's own packages go in whole: its JavaScript half imports their modules by name. What these import
# in turn is in the list.
WHOLE = ("pyodide", "_pyodide")
# PyScript's worker writes these modules into its folder as source. Compiled they are imported sooner; they are found
# here because that folder is not looked into (docs/app/interpreter.mjs).
PYSCRIPT = Path("/project/node_modules/@pyscript/core/src/stdlib/pyscript")
# The command line is for terminals; left out, it does not pull argparse into the browser.
NOT_FOR_BROWSER = ("engine/__main__.py", "engine/terminal/")
# Zip files carry a date per file; a fixed one keeps two builds alike.
SOME_DAY = (2020, 1, 1, 0, 0, 0)
# PEP 552: the lowest bit says that the hash, not the time, names the source; the next one, that it be checked.
HASH_NAMED_UNCHECKED = 0b01
# Where dataclasses compiles the methods of a class, each time that a program starts: a third of the time that the
# engine took to load went there. What the engine's classes need comes with it, compiled.
WRITES, LOOKS_UP = "exec(txt, self.globals, ns)", "exec(_COMPILED.get(txt, txt), self.globals, ns)"
# What else has such classes and is loaded at each start: Python's library imports it with what writes tracebacks.
WITH_CLASSES = ("_colorize.py",)
# What a start and the rounds of most drills load: this module and the drills of the mixed round, and what they import
# while they load.
FIRST = "engine/browser.py"

Sources = dict[str, bytes]


def make(listed: str) -> list[bytes]:
    """The library zip, and the pack of those of the engine's modules that are no part of it.

    `listed` names modules of Python's library to keep, one a line (`#` starts a comment), beside those that
    the engine imports and whatever these import in turn. A line `*` keeps everything. Raises ValueError for
    a listed module that does not exist.
    """
    with zipfile.ZipFile(f"/lib/python{sys.version_info.major}{sys.version_info.minor}.zip") as full:
        library = {name: full.read(name) for name in full.namelist() if name.endswith(".py")}
    engine = _engine_sources()
    names = [line.split("#")[0].strip() for line in listed.splitlines()]
    kept = library if "*" in names else _needed(library, engine, [name for name in names if name])
    first = _first(engine)
    rest = {name: source for name, source in engine.items() if name not in first}
    kept["dataclasses.py"] = _with_methods(kept["dataclasses.py"], [*first, *WITH_CLASSES])
    pyscript = {f"pyscript/{path.name}": path.read_bytes() for path in PYSCRIPT.glob("*.py")}
    return [_zipped({**kept, **pyscript, **first}), _zipped(rest)]


def _engine_sources() -> Sources:
    sources = {}
    for path in ENGINE.rglob("*.py"):
        name = f"engine/{path.relative_to(ENGINE).as_posix()}"
        if not name.startswith(NOT_FOR_BROWSER):
            sources[name] = path.read_bytes()
    return sources


def _first(engine: Sources) -> Sources:
    """The engine's modules that a round needs, and the packages themselves: they are where others are looked for."""
    packages = [name for name in engine if name.endswith("/__init__.py")]
    return _loaded([FIRST, *_drills_of_the_mixed_round(), *packages], engine)


def _with_methods(source: bytes, modules: Iterable[str]) -> bytes:
    """The source of ``dataclasses`` with the methods that it would write for these modules, compiled, by their text.

    A text that is not there is compiled as usual. Raises ValueError where dataclasses is not what it was.
    """
    texts: list[str] = []

    def noting(text: str, space: dict[str, object], names: dict[str, object]) -> None:
        texts.append(text)
        exec(text, space, names)

    dataclasses.exec = noting  # type: ignore[attr-defined]
    names = [module.removesuffix(".py").removesuffix("/__init__").replace("/", ".") for module in sorted(modules)]
    # What is loaded already would write nothing.
    for name in [name for name in sys.modules if name in names or name.split(".")[0] == ENGINE.name]:
        del sys.modules[name]
    try:
        for name in names:
            importlib.import_module(name)
    finally:
        del dataclasses.exec  # type: ignore[attr-defined]
    if source.count(WRITES.encode()) != 1:
        raise ValueError(f"dataclasses does not say {WRITES} once any more: see where it compiles methods now")
    # Of two texts alike one is enough. A code object says where it is from; nobody would look there.
    ready = {text: compile(text, "dataclasses.py", "exec", dont_inherit=True, optimize=2) for text in texts}
    table = f"\n\nimport marshal\n_COMPILED = marshal.loads({marshal.dumps(ready)!r})\ndel marshal\n"
    return source.replace(WRITES.encode(), LOOKS_UP.encode()) + table.encode()


def _drills_of_the_mixed_round() -> list[str]:
    sys.dont_write_bytecode = True
    sys.path.insert(0, str(ENGINE.parent))
    catalogue = importlib.import_module("engine.drills.catalogue").CATALOGUE
    return [f"engine/drills/{entry.module}.py" for entry in catalogue if entry.mixed]


def _needed(library: Sources, engine: Sources, listed: Iterable[str]) -> Sources:
    kept = {file: source for file, source in library.items() if file.split("/")[0] in WHOLE}
    for module in listed:
        files = _files(module, library)
        if not files:
            raise ValueError(f"{module} is no module of this Python's library")
        kept.update((file, library[file]) for file in files)
    wanted = [module for name, source in engine.items() for module in _imports(name, source, inside_functions=True)]
    return _loaded([file for module in wanted for file in _files(module, library)], library, kept)


def _loaded(names: Iterable[str], sources: Sources, kept: Mapping[str, bytes] = MappingProxyType({})) -> Sources:
    """These files and all that importing them loads, beside those that are ``kept`` as they are."""
    waiting, found = list(names), dict(kept)
    while waiting:
        name = waiting.pop()
        if name not in found:
            found[name] = sources[name]
            for module in _imports(name, sources[name], inside_functions=False):
                waiting += _files(module, sources)
    return found


def _files(module: str, library: Sources) -> list[str]:
    """The files that importing `module` loads: its own and those of the packages around it."""
    parts = module.split(".")
    found = []
    for end in range(1, len(parts) + 1):
        stem = "/".join(parts[:end])
        found += [name for name in (f"{stem}.py", f"{stem}/__init__.py") if name in library]
    return found


def _imports(name: str, source: bytes, inside_functions: bool) -> Iterator[str]:
    """The names that a module imports while it loads, and on request those that its functions import later."""
    parts = name.removesuffix(".py").split("/")
    package = parts[:-1]  # of a/__init__.py as of a/b.py, the package is a
    for node in _statements(ast.parse(source).body, inside_functions):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            base = package[: len(package) - node.level + 1] if node.level else []
            stem = ".".join([*base, *([node.module] if node.module else [])])
            yield stem
            yield from (f"{stem}.{alias.name}" for alias in node.names)


def _statements(body: Iterable[ast.AST], inside_functions: bool) -> Iterator[ast.AST]:
    for node in body:
        if isinstance(node, ast.If) and "TYPE_CHECKING" in ast.unparse(node.test):
            yield from _statements(node.orelse, inside_functions)
        elif inside_functions or not isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef)):
            yield node
            yield from _statements(ast.iter_child_nodes(node), inside_functions)


def _zipped(sources: Sources) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        for name in sorted(sources):
            entry = zipfile.ZipInfo(f"{name}c", SOME_DAY)
            entry.compress_type = zipfile.ZIP_DEFLATED
            archive.writestr(entry, _compiled(name, sources[name]), compresslevel=9)
    return out.getvalue()


def _compiled(name: str, source: bytes) -> bytes:
    code = compile(source, name, "exec", dont_inherit=True, optimize=2)
    head = importlib.util.MAGIC_NUMBER + HASH_NAMED_UNCHECKED.to_bytes(4, "little")
    return head + importlib.util.source_hash(source) + marshal.dumps(code)
