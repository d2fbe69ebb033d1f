"""Publishes client, engraver and band as classic scripts and the styles as one sheet: docs/app holds their sources."""

from __future__ import annotations

import base64
import subprocess
from pathlib import Path
from typing import TYPE_CHECKING

import cdn
import fonts
import toolchain
from mkdocs.exceptions import PluginError

if TYPE_CHECKING:
    from mkdocs.config.defaults import MkDocsConfig
    from mkdocs.structure.files import Files

ROOT = Path(__file__).resolve().parents[2]
APP = ROOT / "docs" / "app"
ENTRY = APP / "entry.js"
BUNDLER = ROOT / "docs" / "hooks" / "bundle.mjs"
ENGRAVER = APP / "engraver.js"
# What is published, the source that its bundle starts from, and the global that it makes.
BUNDLES = {
    "app/client.js": (ENTRY, "linekeeper"),
    "app/engraver.js": (ENGRAVER, "engraver"),
    "app/band.js": (APP / "band.js", "band"),
    "app/style.css": (APP / "style.css", ""),
}
# Where the engraver wants its typeface: inside, because from disk only that is sure to load.
MUSIC = b"@music@"


def on_files(files: Files, *, config: MkDocsConfig) -> Files:
    """MkDocs' event: puts each bundle in the place of its source."""
    from mkdocs.structure.files import File

    for name, (entry, exported) in BUNDLES.items():
        source = files.get_file_from_path(name)
        if source:
            files.remove(source)
        other = cdn.EXCHANGED if config["extra"]["cdn"] else ()
        files.append(File.generated(config, name, content=bundle(entry, exported, other)))
    return files


def bundle(entry: Path = ENTRY, exported: str = "linekeeper", exchanged: tuple[Path, ...] = ()) -> bytes:
    """The bundle of a module or a style sheet and of all that it imports; PluginError when it has a fault.

    What a module exports is the global ``exported``. ``exchanged``: a file, and the one that takes its place.
    """
    command: list[str | Path] = [toolchain.node(), BUNDLER, entry, exported, *exchanged]
    done = subprocess.run(command, stdin=subprocess.DEVNULL, capture_output=True, cwd=ROOT)
    if done.returncode:
        raise PluginError(f"{entry.name} could not be bundled:\n{done.stderr.decode(errors='replace')}")
    return done.stdout.replace(MUSIC, base64.b64encode(fonts.music_face())) if entry == ENGRAVER else done.stdout
