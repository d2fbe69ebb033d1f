"""The one-file edition: exactly one drill as a single HTML file, with everything inside that the page needs.

It is made from the drill's page in a built site: what that page loads is put into it, and what leads to other
pages is taken out.
"""

from __future__ import annotations

import base64
import re
from collections.abc import Mapping
from html import escape
from pathlib import Path
from urllib.parse import unquote

import disk
import names
from markup import Edits, Element, elements

from engine.drills.catalogue import Stream, entry_for
from engine.drills.options import read_options, write_link
from engine.practice.round import Plan, Round
from engine.practice.rounds import LONGEST_ROUND, first_plan, make_round
from engine.theory.bad_input import BadInput
from engine.view.round import round_html

MOST_BYTES = 9_000_000
# What the file itself holds may run; nothing can be asked for elsewhere.
POLICY = (
    "default-src 'none'; script-src 'unsafe-inline' 'wasm-unsafe-eval' data: blob:; worker-src blob:; "
    "connect-src data: blob:; style-src 'unsafe-inline'; img-src data: blob:; font-src data:"
)
MEDIA_TYPES = {".svg": "image/svg+xml", ".png": "image/png", ".woff2": "font/woff2"}
LOOK = ".about-file pre { overflow-wrap: anywhere; white-space: pre-wrap; }"
_URL = re.compile(r'url\("?([^")]+)"?\)')


def asked_round(slug: str, typed: Mapping[str, str]) -> Round:
    """The first round of a drill with options as typed for each name; BadInput where one cannot be done."""
    entry_for(slug)
    options = read_options(typed)
    if options.count > LONGEST_ROUND:
        problem, instead = "is more than a round has", f"write a whole number from 1 to {LONGEST_ROUND}"
        raise BadInput(typed["count"], 1, problem, instead)
    Stream(slug, options)  # a plan leaves out what the drill cannot ask; here that is a fault
    plan, _ = first_plan(slug, write_link(options, typed), options.count, options.seed)
    return make_round(plan)


def one_file(site: Path, round_: Round) -> str:
    """The page of the round's drill in a built site, as a file that stands alone."""
    page = site / "drills" / f"{round_.plan.drill}.html"
    text = page.read_text(encoding="utf-8")
    runtime = names.published(site, f"runtime/{disk.NAME}").read_text(encoding="ascii")
    found = list(elements(text))
    build = next(element.attributes["data-build"] for element in found if element.tag == "html")
    edits = Edits(text)
    scripts = 0
    for element in found:
        href = element.attributes.get("href", "")
        if element.tag == "html":
            edits.replace_start(element, _root(round_.plan, build))
        elif element.tag == "link":
            edits.replace(element, _linked(element, page))
        elif element.tag == "meta" and element.attributes.get("http-equiv"):
            edits.replace(element, "")
        elif element.tag == "script" and "src" in element.attributes:
            # The page's head has the one that runs before it is painted; the client needs the runtime before it.
            before = f"<script>{runtime}</script>\n" if scripts else ""
            edits.replace(element, f"{before}<script>{_beside(page, element.attributes['src'])}</script>")
            scripts += 1
        elif element.tag == "nav":
            edits.replace(element, "")
        elif element.tag == "a" and not href.startswith("#"):
            edits.replace_start(element, "<a>")
        elif element.attributes.get("id") == "round":
            edits.replace(element, round_html(round_))
        elif element.attributes.get("class") == "below":
            edits.replace(element, _about(site, round_, build))
    made = edits.made()
    head = f'<meta http-equiv="Content-Security-Policy" content="{escape(POLICY)}">\n<style>{LOOK}</style>'
    return made.replace('<meta charset="utf-8">', f'<meta charset="utf-8">\n{head}', 1)


def _root(plan: Plan, build: str) -> str:
    what = f"Linekeeper, one-file edition of build {build}: {plan.drill} {plan.options}"
    return f'<!-- {what} -->\n<html lang="en" data-base="./" data-build="{build}">'


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


def _beside(page: Path, address: str) -> str:
    return (page.parent / unquote(address)).read_text(encoding="utf-8")


def _data_url(path: Path) -> str:
    content = base64.b64encode(path.read_bytes()).decode("ascii")
    return f"data:{MEDIA_TYPES[path.suffix]};base64,{content}"


def _about(site: Path, round_: Round, build: str) -> str:
    """What the file is, and the licences of what it carries."""
    plan, title = round_.plan, entry_for(round_.plan.drill).title
    return (
        '<div class="below"><details class="about-file"><summary>About this file</summary>'
        f"<p>This is one drill of Linekeeper, {escape(title)}, with everything that it needs inside: open it in a "
        "browser, keep it, hand it on. It asks for nothing on the network, and nothing leaves the device. "
        f"Its options are {escape(plan.options)}, and its first {len(plan.indexes)} questions come from seed "
        f"{plan.seed}; it was made by build {build}.</p><h2>Licences</h2>{_licences(site)}</details></div>"
    )


def _licences(site: Path) -> str:
    text = (site / "licences.html").read_text(encoding="utf-8")
    papers = next(element for element in elements(text) if element.attributes.get("class") == "papers")
    return text[papers.start : papers.end]
