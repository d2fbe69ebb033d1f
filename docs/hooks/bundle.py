"""Publishes the client as one classic script: the modules in docs/app are its sources."""

from __future__ import annotations

import subprocess
from pathlib import Path
from typing import TYPE_CHECKING

import toolchain
from mkdocs.exceptions import PluginError

if TYPE_CHECKING:
    from mkdocs.config.defaults import MkDocsConfig
    from mkdocs.structure.files import Files

ROOT = Path(__file__).resolve().parents[2]
ENTRY = ROOT / "docs" / "app" / "entry.js"
BUNDLER = ROOT / "docs" / "hooks" / "bundle.mjs"
NAME = "app/client.js"


def on_files(files: Files, *, config: MkDocsConfig) -> Files:
    """MkDocs' event: puts the script in the place of its source."""
    from mkdocs.structure.files import File

    source = files.get_file_from_path(NAME)
    if source:
        files.remove(source)
    files.append(File.generated(config, NAME, content=script()))
    return files


def script(entry: Path = ENTRY) -> bytes:
    """The bundle of a module and of all that it imports; PluginError when it has a fault."""
    command = [toolchain.node(), BUNDLER, entry]
    done = subprocess.run(command, stdin=subprocess.DEVNULL, capture_output=True, cwd=ROOT)
    if done.returncode:
        raise PluginError(f"the client could not be bundled:\n{done.stderr.decode(errors='replace')}")
    return done.stdout
