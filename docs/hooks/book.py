"""Makes the line book's pages: one for each line in docs/lines, and what their index tells.

Whoever hosts the site adds a line by putting an .abc file there; one that holds several gives a page for each.
"""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import generated
from mkdocs.exceptions import PluginError

from engine.formats.abc import FileFault, read_abc
from engine.lines.devices.recognise import Analysis, analyse
from engine.practice.book import Entry, as_data, entry_of, neighbours
from engine.practice.fingered import savings
from engine.practice.shown_line import shown
from engine.view.book import neighbours_html
from engine.view.line_page import line_form_html

if TYPE_CHECKING:
    from mkdocs.config.defaults import MkDocsConfig
    from mkdocs.structure.files import Files
    from mkdocs.structure.pages import Page

FOLDER = Path(__file__).resolve().parents[2] / "docs" / "lines"


@cache
def analyses() -> dict[str, Analysis]:
    """Every line of the book by the name of its page; PluginError where a file cannot be read."""
    found = {}
    for path in sorted(FOLDER.glob("*.abc")):
        try:
            lines = read_abc(path.read_text(encoding="utf-8"))
        except FileFault as fault:
            raise PluginError(f"docs/lines/{path.name}: {fault}") from None
        except UnicodeDecodeError:
            raise PluginError(f"docs/lines/{path.name} is not UTF-8 text; save it as that.") from None
        for number, line in enumerate(lines, 1):
            slug = path.stem if len(lines) == 1 else f"{path.stem}-{number}"
            if slug in found:
                raise PluginError(f"docs/lines/{path.name}: a page {slug} is there already; rename the file.")
            found[slug] = analyse(line)
    return found


@cache
def book() -> tuple[Entry, ...]:
    """What the index tells of each line."""
    return tuple(entry_of(slug, analysis) for slug, analysis in analyses().items())


def on_files(files: Files, *, config: MkDocsConfig) -> Files:
    """MkDocs' event: adds a page for each line."""
    for cached in (analyses, book):
        cached.cache_clear()
    for entry in book():
        head = {"title": entry.title or entry.slug, "lead": entry.says, "template": "line.html", "line": entry.slug}
        files.append(generated.page(config, f"lines/{entry.slug}.md", head))
    return files


def on_page_context(context: dict[str, Any], *, page: Page, **_: object) -> dict[str, Any]:
    """MkDocs' event: the line of a page, its neighbours, and the book where a page's form needs it."""
    slug = page.meta.get("line")
    if slug:
        shown_line = shown(analyses()[str(slug)].line)
        context["line"] = line_form_html(shown_line, better=savings(shown_line.fingered, shown_line.settings.stretch))
        own = next(entry for entry in book() if entry.slug == slug)
        context["neighbours"] = neighbours_html(neighbours(book(), own.devices, own.slug))
    if page.meta.get("book"):
        # In a script element only "<" could end it.
        context["book"] = as_data(book()).replace("<", "\\u003c")
    return context
