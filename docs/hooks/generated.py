"""Pages that no file in docs/ holds: their head as MkDocs reads it, and their text."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from mkdocs.config.defaults import MkDocsConfig
    from mkdocs.structure.files import File


def page(config: MkDocsConfig, path: str, head: Mapping[str, str], text: str = "") -> File:
    """The file of such a page; ``path`` is its place in docs/, ``head`` what stands between its dashes."""
    from mkdocs.structure.files import File

    rows = "\n".join(f"{name}: {json.dumps(value, ensure_ascii=False)}" for name, value in head.items())
    return File.generated(config, path, content=f"---\n{rows}\n---\n\n{text}")
