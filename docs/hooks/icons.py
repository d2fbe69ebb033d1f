"""Makes what a device needs to have the site as an app: its manifest, and icons drawn from docs/icons/linekeeper.svg.

The pictures come out of WebAssembly, so that every machine makes the same bytes.
"""

from __future__ import annotations

import json
import re
import subprocess
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING, Any

import progress
import toolchain
from mkdocs.exceptions import PluginError

from engine.drills.catalogue import CATALOGUE

if TYPE_CHECKING:
    from mkdocs.config.defaults import MkDocsConfig
    from mkdocs.structure.files import Files

ROOT = Path(__file__).resolve().parents[2]
DRAWING = ROOT / "docs" / "icons" / "linekeeper.svg"
SCRIPT = ROOT / "docs" / "hooks" / "icons.mjs"
MANIFEST = "manifest.webmanifest"
# Systems cut a maskable icon to a shape of their own; a circle of 80 % of its width is safe from that.
MASKABLE_SCALE = 0.8
SHORTCUTS = 4  # phones show no more


def on_files(files: Files, *, config: MkDocsConfig) -> Files:
    """MkDocs' event: adds the icons and the manifest to the site."""
    from mkdocs.structure.files import File

    drawing = DRAWING.read_text(encoding="utf-8")
    try:
        made: dict[str, str | bytes] = {f"icons/{name}.png": png for name, png in pictures(drawing).items()}
    except toolchain.SetupError as problem:
        raise PluginError(str(problem)) from None
    made[MANIFEST] = json.dumps(manifest(config, ground(drawing)), ensure_ascii=False, indent=1) + "\n"
    for name, content in made.items():
        files.append(File.generated(config, name, content=content))
    return files


def pictures(drawing: str) -> dict[str, bytes]:
    """The icons as PNG, by name. Raises toolchain.SetupError when Node cannot draw them."""
    drawings = {
        "icon-192": drawn(drawing, 192),
        "icon-512": drawn(drawing, 512),
        "maskable-512": drawn(drawing, 512, MASKABLE_SCALE, bleeds=True),
        "touch-180": drawn(drawing, 180, bleeds=True),
    }
    with tempfile.TemporaryDirectory() as folder:
        for name, text in drawings.items():
            (Path(folder) / f"{name}.svg").write_text(text, encoding="utf-8")
        try:
            progress.run("drawing the icons", [toolchain.node(), SCRIPT, ROOT, folder])
        except subprocess.CalledProcessError as failure:
            raise toolchain.SetupError(f"the icons could not be drawn:\n{failure.output}") from None
        return {name: (Path(folder) / f"{name}.png").read_bytes() for name in drawings}


def drawn(drawing: str, size: int, scale: float = 1, bleeds: bool = False) -> str:
    """The drawing at another size, on request smaller within its ground, which then fills the corners too."""
    found = re.fullmatch(r'\s*<svg [^>]*viewBox="0 0 (\d+) \1"[^>]*>(.*)</svg>\s*', drawing, re.DOTALL)
    if not found:
        raise ValueError(f"{DRAWING.name} is not one square drawing")
    side, inside = int(found[1]), found[2]
    backdrop = f'<rect width="{side}" height="{side}" fill="{ground(drawing)}"/>' if bleeds else ""
    margin = side * (1 - scale) / 2
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{size}" height="{size}" viewBox="0 0 {side} {side}">'
        f'{backdrop}<g transform="translate({margin:g} {margin:g}) scale({scale:g})">{inside}</g></svg>'
    )


def ground(drawing: str) -> str:
    """The colour that the drawing lies on: that of its first shape."""
    found = re.search(r'<rect [^>]*fill="(#[0-9a-f]{6})"', drawing)
    if not found:
        raise ValueError(f"{DRAWING.name} has no ground with a colour")
    return found[1]


def manifest(config: MkDocsConfig, colour: str) -> dict[str, Any]:
    """What a system wants to know of the app; every address is relative, so that any folder will do."""

    def icon(name: str, **more: str) -> dict[str, str]:
        size = name.rsplit("-", 1)[1]
        return {"src": f"icons/{name}.png", "sizes": f"{size}x{size}", "type": "image/png", **more}

    return {
        "name": config.site_name,
        "short_name": config.site_name,
        "description": config.site_description,
        "lang": "en",
        "start_url": "index.html",
        "scope": "./",
        "display": "standalone",
        "theme_color": colour,
        "background_color": colour,
        "icons": [icon("icon-192"), icon("icon-512"), icon("maskable-512", purpose="maskable")],
        "shortcuts": [
            {"name": entry.title, "description": entry.teaser, "url": f"drills/{entry.slug}.html"}
            for entry in CATALOGUE[:SHORTCUTS]
        ],
    }
