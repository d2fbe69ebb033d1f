"""Publishes the client as one classic script and the styles as one sheet: docs/app holds their sources."""

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
APP = ROOT / "docs" / "app"
ENTRY = APP / "entry.js"
BUNDLER = ROOT / "docs" / "hooks" / "bundle.mjs"
# What is published, and the source that its bundle starts from.
BUNDLES = {"app/client.js": ENTRY, "app/style.css": APP / "style.css"}


def on_files(files: Files, *, config: MkDocsConfig) -> Files:
    """MkDocs' event: puts each bundle in the place of its source."""
    from mkdocs.structure.files import File

    for name, entry in BUNDLES.items():
        source = files.get_file_from_path(name)
        if source:
            files.remove(source)
        files.append(File.generated(config, name, content=bundle(entry)))
    return files


def bundle(entry: Path = ENTRY) -> bytes:
    """The bundle of a module or a style sheet and of all that it imports; PluginError when it has a fault."""
    command = [toolchain.node(), BUNDLER, entry]
    done = subprocess.run(command, stdin=subprocess.DEVNULL, capture_output=True, cwd=ROOT)
    if done.returncode:
        raise PluginError(f"{entry.name} could not be bundled:\n{done.stderr.decode(errors='replace')}")
    return done.stdout
