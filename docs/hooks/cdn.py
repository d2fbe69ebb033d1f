"""`build --cdn`: the site takes PyScript, Pyodide and Tone.js from a public host instead of bringing them along.

The places of the first two in the runtime's folder are taken by small modules that fetch the files from there, each
with the hash of the file that npm has installed here (docs/app/cdn.mjs). The band's bundle has Tone.js by the same
module when it is first wanted. The library with the engine, the packs and the pages stay ours.
"""

import base64
import hashlib
import json
import re
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

ROOT = Path(__file__).resolve().parents[2]
PACKAGES = ROOT / "node_modules"
LOADER = ROOT / "docs" / "app" / "cdn.mjs"

# The host that is asked unless another is named: BASE/PACKAGE@VERSION/PATH.
BASE = "https://cdn.jsdelivr.net/npm"
SCRIPT, WASM = "text/javascript", "application/wasm"
# Where a file is in the runtime's folder, what it is, and where it is in which package.
FILES = (
    ("pyodide.mjs", SCRIPT, "pyodide", "pyodide.mjs"),
    ("pyodide.asm.mjs", SCRIPT, "pyodide", "pyodide.asm.mjs"),
    ("pyodide.asm.wasm", WASM, "pyodide", "pyodide.asm.wasm"),
    ("pyscript/core-*.js", SCRIPT, "@pyscript/core", "dist/core-*.js"),
)
# What no file of the runtime's folder stands for: its name, what it is, and where it is in which package.
SCRIPTS = (("Tone.js", SCRIPT, "tone", "build/Tone.js"),)
# In the bundles, a module, and the one that takes its place.
EXCHANGED = (ROOT / "docs" / "app" / "tone.js", ROOT / "docs" / "app" / "tone-elsewhere.js")
# PyScript loads its part that shows errors in the page even where that is switched off; this one does nothing.
QUIET = "export const notify = () => {};\nexport const notOnDOM = () => {};\n"
# Runs the named module of the host in the place of the file.
SHIM = 'import {{ load }} from "{up}cdn.mjs";\nconst module = await load("{name}");\n{exports}\n'


def base_address(typed: str) -> str:
    """The host's address as typed, without a slash at its end; ValueError where it is none that a page may ask."""
    parts = urlsplit(typed)
    local = parts.scheme == "http" and parts.hostname in ("127.0.0.1", "localhost")
    if not (parts.scheme == "https" or local) or not re.fullmatch(r"https?://[\w.:-]+(/[\w.@/-]*)?", typed, re.ASCII):
        raise ValueError(f"{typed!r} is no address of a host: write for example --cdn {BASE}")
    return typed.rstrip("/")


def on_post_build(config: dict[str, Any], **_: object) -> None:
    """MkDocs' event: the runtime is written whole; with a host named, what it has is taken out again."""
    base = config["extra"]["cdn"]
    if base:
        take_out(Path(config["site_dir"]) / "runtime", base)


def take_out(folder: Path, base: str) -> None:
    """Puts in the place of the host's files what fetches them from there."""
    table: dict[str, dict[str, Any]] = {}
    for place, media_type, package, path in FILES:
        (file,) = folder.glob(place)
        table[file.relative_to(folder).as_posix()] = _row(base, media_type, package, path)
    for name, media_type, package, path in SCRIPTS:
        table[name] = {**_row(base, media_type, package, path), "later": True}
    core = next(name for name in table if "core-" in name)
    _shim(folder, "pyscript/core.js", core, f"export const hooks = module.{_alias(folder / 'pyscript', 'hooks')};")
    _shim(folder, "pyodide.mjs", "pyodide.mjs", "export const { loadPyodide } = module;")
    _shim(folder, "pyodide.asm.mjs", "pyodide.asm.mjs", "export default module.default;")
    (folder / core).unlink()
    (folder / "pyodide.asm.wasm").unlink()
    for part in (folder / "pyscript").glob("error-*.js"):
        part.write_text(QUIET, encoding="utf-8")
    text = json.dumps(table)
    loader = LOADER.read_text(encoding="utf-8").replace("{{cdn}}", text)
    stamp = hashlib.sha256(text.encode()).hexdigest()[:12]
    (folder / "cdn.mjs").write_text(loader.replace("{{table}}", stamp), encoding="utf-8")
    interpreter = folder / "interpreter.mjs"
    head = 'import { answerRequests } from "./cdn.mjs";\nanswerRequests();\n'
    interpreter.write_text(head + interpreter.read_text(encoding="utf-8"), encoding="utf-8")


def _row(base: str, media_type: str, package: str, path: str) -> dict[str, str]:
    """Where a file is, its hash and what it is."""
    (source,) = (PACKAGES / package).glob(path)
    version = json.loads((PACKAGES / package / "package.json").read_text(encoding="utf-8"))["version"]
    address = f"{base}/{package}@{version}/{source.relative_to(PACKAGES / package).as_posix()}"
    return {"address": address, "integrity": integrity(source.read_bytes()), "type": media_type}


def integrity(content: bytes) -> str:
    """The hash of a file as browsers compare it."""
    return "sha384-" + base64.b64encode(hashlib.sha384(content).digest()).decode("ascii")


def _shim(folder: Path, place: str, name: str, exports: str) -> None:
    text = SHIM.format(up="../" if "/" in place else "./", name=name, exports=exports)
    (folder / place).write_text(text, encoding="utf-8")


def _alias(folder: Path, name: str) -> str:
    """Under which short name PyScript's large file exports what its small one calls `name`."""
    found = re.search(rf"(\w+) as {name}\b", (folder / "core.js").read_text(encoding="utf-8"))
    if not found:
        raise ValueError(f"PyScript's core.js exports no {name}")
    return found[1]
