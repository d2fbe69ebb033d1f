"""Makes the pages of the player's own lines: the list of them with each one's page, and the one to tap a line in."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import generated
from mkdocs.exceptions import PluginError

from engine.view.entry import Board, entry_form_html
from engine.view.own_lines import page_html

if TYPE_CHECKING:
    from mkdocs.config.defaults import MkDocsConfig
    from mkdocs.structure.files import Files
    from mkdocs.structure.pages import Page

# The page's name, its title, what it is about, and its form.
PAGES = {
    "own": ("My lines", "The lines that you keep, on this device.", page_html),
    "new": (
        "Tap a line in",
        "Tap chords and notes; every key says its degree.",
        lambda: entry_form_html(Board(), needs="own"),
    ),
}


def on_files(files: Files, *, config: MkDocsConfig) -> Files:
    """MkDocs' event: adds the pages."""
    for name, (title, lead, _) in PAGES.items():
        if files.get_file_from_path(f"lines/{name}.md"):
            raise PluginError(f"docs/lines/{name}.abc: this site has a page of that name; give the file another one.")
        head = {"title": title, "lead": lead, "template": "desk.html", "desk": name}
        files.append(generated.page(config, f"lines/{name}.md", head))
    return files


def on_page_context(context: dict[str, Any], *, page: Page, **_: object) -> dict[str, Any]:
    """MkDocs' event: the form of a page."""
    name = page.meta.get("desk")
    if name:
        context["desk"] = PAGES[str(name)][2]()
    return context
