"""Which part of the engine may import which, as the design lists it; and that the engine needs nothing else."""

import ast
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

ENGINE = Path(__file__).resolve().parents[1] / "engine"

MAY_IMPORT = {
    "theory": set(),
    "lines": {"theory"},
    "formats": {"theory", "lines"},
    "neck": {"theory", "lines"},
    "sound": {"theory", "lines"},
    "drills": {"theory", "lines", "neck", "sound"},
    "practice": {"theory", "lines", "formats", "neck", "sound", "drills"},
    "view": {"theory", "lines", "formats", "neck", "sound", "drills", "practice"},
    "browser": {"theory", "lines", "formats", "neck", "sound", "drills", "practice", "view"},
    "terminal": {"theory", "lines", "formats", "neck", "sound", "drills", "practice", "view", "browser"},
    "__main__": {"theory", "lines", "formats", "neck", "sound", "drills", "practice", "view", "browser", "terminal"},
    "__init__": set(),
}
# These exist in a browser only: the engine is the same code everywhere.
BROWSER_ONLY = {"js", "pyscript", "pyodide", "pyodide_js", "polyscript"}
MODULES = sorted(ENGINE.rglob("*.py"))


def part(path: Path) -> str:
    """The part of the engine that a file belongs to: a folder's name, or the file's own at the top."""
    first = path.relative_to(ENGINE).parts[0]
    return first.removesuffix(".py")


def imports(path: Path, tree: ast.AST) -> Iterator[str]:
    """The full names that a piece of the file's code imports."""
    package = ["engine", *path.relative_to(ENGINE).parts[:-1]]
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            base = package[: len(package) - node.level + 1] if node.level else []
            stem = [*base, *(node.module.split(".") if node.module else [])]
            if stem == ["engine"]:
                yield from (f"engine.{alias.name}" for alias in node.names)
            else:
                yield ".".join(stem)


def at_start(tree: ast.Module) -> ast.Module:
    """The module without the bodies of its functions: what runs when it is imported."""

    class WithoutFunctions(ast.NodeTransformer):
        def visit_FunctionDef(self, node: ast.FunctionDef) -> None: ...
        def visit_AsyncFunctionDef(self, node: ast.AsyncFunctionDef) -> None: ...

    stripped: ast.Module = WithoutFunctions().visit(tree)
    return stripped


def read(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"))


def test_there_is_an_engine() -> None:
    assert {part(path) for path in MODULES} >= {"theory", "drills", "practice", "view"}
    assert {part(path) for path in MODULES} <= set(MAY_IMPORT)


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(ENGINE)))
def test_a_part_imports_only_what_it_may(path: Path) -> None:
    own = part(path)
    used = {name.split(".")[1] for name in imports(path, read(path)) if name.startswith("engine.")}
    assert used - {own} <= MAY_IMPORT[own]


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(ENGINE)))
def test_engine_knows_no_browser(path: Path) -> None:
    used = {name.split(".")[0] for name in imports(path, read(path))}
    assert used.isdisjoint(BROWSER_ONLY)


@pytest.mark.parametrize("path", MODULES, ids=lambda path: str(path.relative_to(ENGINE)))
def test_engine_starts_on_the_standard_library_alone(path: Path) -> None:
    used = {name.split(".")[0] for name in imports(path, at_start(read(path)))}
    assert used <= {*sys.stdlib_module_names, "engine"}
