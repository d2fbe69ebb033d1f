"""The one-file edition: exactly one drill, or one line, as a single HTML file with everything inside that it needs.

It is made from the page in a built site: what that page loads is put into it, and what leads to other
pages is taken out.
"""

from __future__ import annotations

import base64
import re
from collections.abc import Mapping
from dataclasses import replace
from html import escape
from pathlib import Path
from urllib.parse import unquote

import disk
import names
from markup import Edits, Element, elements

from engine.drills.catalogue import Stream, entry_for
from engine.lines.line import Line
from engine.practice.drill_link import read_words, write_drill_link
from engine.practice.round import Round
from engine.practice.rounds import LONGEST_ROUND, first_plan, make_round
from engine.practice.shown_line import shown
from engine.terminal.drill_verbs import one_line, options_of
from engine.theory.bad_input import BadInput
from engine.view.line_page import line_form_html
from engine.view.round import round_html

MOST_BYTES = 9_000_000
# What the file itself holds may run; nothing can be asked for elsewhere.
POLICY = (
    "default-src 'none'; script-src 'unsafe-inline' 'wasm-unsafe-eval' data: blob:; worker-src blob:; "
    "connect-src data: blob:; style-src 'unsafe-inline'; img-src data: blob:; font-src data:"
)
MEDIA_TYPES = {".svg": "image/svg+xml", ".png": "image/png", ".woff2": "font/woff2"}
# Nothing leads from the file to other pages.
LOOK = """
.about-file pre { overflow-wrap: anywhere; white-space: pre-wrap; }
.line .drill, .line .to-band, .line [name="share"] { display: none !important; }
"""
_URL = re.compile(r'url\("?([^")]+)"?\)')


def asked_round(slug: str, typed: Mapping[str, str], line: str | None = None, words: str = "") -> Round:
    """The first round of a drill with options as typed for each name; BadInput where one cannot be done.

    ``line``: the path of a file with the line that it is to be about. ``words``: a sentence for whoever opens it.
    """
    options = options_of(slug, typed)
    if line is not None:
        options = replace(options, line=one_line(slug, line))
    if options.count > LONGEST_ROUND:
        problem, instead = "is more than a round has", f"write a whole number from 1 to {LONGEST_ROUND}"
        raise BadInput(typed["count"], 1, problem, instead)
    Stream(slug, options)  # a plan leaves out what the drill cannot ask; here that is a fault
    link = write_drill_link(options, typed, read_words(words))
    plan, _ = first_plan(slug, link, options.count, options.seed)
    return make_round(plan)


def one_file(site: Path, round_: Round) -> str:
    """The page of the round's drill in a built site, as a file that stands alone."""
    plan = round_.plan
    parts = {"round": round_html(round_), "below": _below(site, _about_drill(site, round_))}
    return standing_alone(site, f"drills/{plan.drill}.html", f"{plan.drill} {plan.options}", parts)


def one_line_file(site: Path, line: Line) -> str:
    """The page of a line as a file that stands alone, made from that of any line of the book."""
    title = escape(line.title or "A line")
    about = (
        f"<p>This is the page of one line of Linekeeper, {title}, with everything that it needs inside: open it in a "
        "browser, keep it, print it, hand it on. It asks for nothing on the network, and nothing leaves the device. "
        f"It was made by build {_build(site)}.</p>"
    )
    parts = {
        "line": line_form_html(shown(line)),
        "below": _below(site, about),
        "title": f"<title>{title} · Linekeeper</title>",
        "description": "",
    }
    page = next(name for name in sorted((site / "lines").glob("*.html")) if 'id="line"' in name.read_text("utf-8"))
    return standing_alone(site, f"lines/{page.name}", title, parts)


def standing_alone(site: Path, address: str, what: str, parts: Mapping[str, str]) -> str:
    """A page of a built site with all that it loads inside and no way to other pages.

    ``what`` names it in its first line. ``parts``: by an element's id, name, class or tag, what stands in its place.
    """
    page = site / address
    text = page.read_text(encoding="utf-8")
    runtime = names.published(site, f"runtime/{disk.NAME}").read_text(encoding="ascii")
    # The page's head has a script that runs before it is painted; the client needs these before it.
    before = ["", f"<script>{runtime}</script>\n"]
    for sign, name in (('class="engraving"', "engraver"), ("data-hear=", "band")):
        if any(sign in part for part in parts.values()):
            script = names.published(site, f"app/{name}.js").read_text(encoding="utf-8")
            before[1] += f"<script>{script}</script>\n"
    edits = Edits(text)
    scripts = iter(before)
    for element in list(elements(text)):
        href = element.attributes.get("href", "")
        named = [element.attributes.get(name, "") for name in ("id", "name", "class")]
        part = next((parts[name] for name in (*named, element.tag) if name in parts), None)
        if part is not None:
            edits.replace(element, part)
        elif element.tag == "html":
            edits.replace_start(element, _root(what, _build(site)))
        elif element.tag == "link":
            edits.replace(element, _linked(element, page))
        elif element.tag == "meta" and element.attributes.get("http-equiv"):
            edits.replace(element, "")
        elif element.tag == "script" and "src" in element.attributes:
            edits.replace(element, f"{next(scripts)}<script>{_beside(page, element.attributes['src'])}</script>")
        elif element.tag == "nav":
            edits.replace(element, "")
        elif element.tag == "a" and not href.startswith("#"):
            edits.replace_start(element, "<a>")
    made = edits.made()
    head = f'<meta http-equiv="Content-Security-Policy" content="{escape(POLICY)}">\n<style>{LOOK}</style>'
    return made.replace('<meta charset="utf-8">', f'<meta charset="utf-8">\n{head}', 1)


def _root(what: str, build: str) -> str:
    told = f"Linekeeper, one-file edition of build {build}: {what}"
    return f'<!-- {told} -->\n<html lang="en" data-base="./" data-build="{build}">'


def _linked(element: Element, page: Path) -> str:
    """A style sheet as text, an icon as a data URL; a file that stands alone has no use for other links."""
    kind, href = element.attributes.get("rel"), element.attributes["href"]
    if kind == "stylesheet":
        sheet = (page.parent / unquote(href)).resolve()
        text = _URL.sub(lambda found: f'url("{_data_url(sheet.parent / found[1])}")', _beside(page, href))
        return f"<style>{text}</style>"
    if kind == "icon" and href.endswith(".svg"):
        return f'<link rel="icon" href="{_data_url(page.parent / unquote(href))}">'
    return ""


def _build(site: Path) -> str:
    """The id of the build that a site is of."""
    index = (site / "index.html").read_text(encoding="utf-8")
    return next(element.attributes["data-build"] for element in elements(index) if element.tag == "html")


def _beside(page: Path, address: str) -> str:
    return (page.parent / unquote(address)).read_text(encoding="utf-8")


def _data_url(path: Path) -> str:
    content = base64.b64encode(path.read_bytes()).decode("ascii")
    return f"data:{MEDIA_TYPES[path.suffix]};base64,{content}"


def _about_drill(site: Path, round_: Round) -> str:
    plan, title = round_.plan, entry_for(round_.plan.drill).title
    about = f"It asks about the line “{escape(round_.line.title)}”. " if round_.line and round_.line.title else ""
    options = plan.options.split("&line=")[0]
    return (
        f"<p>This is one drill of Linekeeper, {escape(title)}, with everything that it needs inside: open it in a "
        "browser, keep it, hand it on. It asks for nothing on the network, and nothing leaves the device. "
        f"{about}Its options are {escape(options)}, and its first {len(plan.indexes)} questions come from seed "
        f"{plan.seed}; it was made by build {_build(site)}.</p>"
    )


def _below(site: Path, about: str) -> str:
    """What the file is, and the licences of what it carries."""
    return (
        f'<div class="below"><details class="about-file"><summary>About this file</summary>{about}'
        f"<h2>Licences</h2>{_licences(site)}</details></div>"
    )


def _licences(site: Path) -> str:
    text = (site / "licences.html").read_text(encoding="utf-8")
    papers = next(element for element in elements(text) if element.attributes.get("class") == "papers")
    return text[papers.start : papers.end]
