"""Makes the pages that come from the engine: a page a drill with its first round, and the examples in texts.

In a page's head, ``round: SLUG`` (and ``count: N``) puts a round of that drill on it. In its text, a tag
between double square brackets is answered by the engine, so that no example is typed by hand: ``TAGS`` has
them all. A chord may be followed by its key, "A7 in D".
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from dataclasses import replace
from itertools import repeat
from pathlib import Path
from typing import TYPE_CHECKING, Any

import book
import generated
import neck_examples

from engine.drills.catalogue import BY_SLUG, CATALOGUE, Entry
from engine.drills.question import Shape
from engine.formats.text import write_text
from engine.lines.devices.recognise import GROUPS
from engine.practice.band import Band, with_chords
from engine.practice.records import ALSO, SPEC
from engine.practice.rounds import plan_round
from engine.theory.arpeggio import Arpeggio, arpeggio
from engine.theory.bad_input import BadInput
from engine.theory.chord_symbol import parse_chord
from engine.theory.degree import Degree
from engine.theory.key import parse_key
from engine.theory.naming import name_over
from engine.theory.pitch import parse_pitch
from engine.theory.resolution import steps_into
from engine.theory.wording import USUAL, Slot, say, show
from engine.view.band import band_form_html
from engine.view.book import index_form_html
from engine.view.engraving import engraving_html
from engine.view.glyphs import definitions
from engine.view.line_page import sentences_html
from engine.view.link_form import link_form_html
from engine.view.markup import escape, plain, prose
from engine.view.picture import Picture, svg
from engine.view.pictures import degree_pictures, landing_pictures
from engine.view.quiet import kind_of, left_out_html, still_works_html
from engine.view.round import round_html
from engine.view.settings import settings_form_html
from engine.view.shape import shape_pictures

if TYPE_CHECKING:
    from mkdocs.config.defaults import MkDocsConfig
    from mkdocs.structure.files import Files
    from mkdocs.structure.pages import Page

DOCS = Path(__file__).resolve().parents[2] / "docs"
HANDBOOK = DOCS / "handbook"
BAND = "band.html"  # the template of the page with the band
SETTINGS = "settings.html"
COUNT = 10
SEED = 1

SECTIONS = (("drills/index.html", "Drills"), ("lines/index.html", "Lines"), ("handbook/index.html", "Handbook"))
MORE_SECTIONS = (
    ("band.html", "With the band"),
    ("about.html", "About"),
    (SETTINGS, "Settings"),
    ("records.html", "Your answers"),
    ("care.html", "Care"),
    ("privacy.html", "Privacy"),
)

_TAG = re.compile(r"(<p>)?\[\[([a-z]+) ([^\]]+)\]\](</p>)?")


def on_files(files: Files, *, config: MkDocsConfig) -> Files:
    """MkDocs' event: adds a page for each drill, and the list of them all."""
    for entry in CATALOGUE:
        files.append(generated.page(config, f"drills/{entry.slug}.md", *_drill_page(entry)))
    head = {"title": "Drills", "lead": "One thing at a time, in a short round."}
    files.append(generated.page(config, "drills/index.md", head, "[[drills all]]\n"))
    return files


def _drill_page(entry: Entry) -> tuple[dict[str, str], str]:
    """The head of a drill's page, and its text."""
    head = {"title": entry.title, "lead": entry.teaser, "template": "drill.html", "round": entry.slug}
    return head, (
        f"<section>\n<h2>The idea</h2>\n[[handbook {entry.handbook}]]\n</section>\n"
        f"<section>\n<h2>Other drills</h2>\n[[drills {entry.slug}]]\n</section>\n"
    )


def on_page_context(context: dict[str, Any], *, page: Page, **_: object) -> dict[str, Any]:
    """MkDocs' event: the round of a page, its examples, and the links that every page has."""
    from mkdocs.utils import get_relative_url

    context["sections"] = list(SECTIONS)
    context["more_sections"] = list(MORE_SECTIONS)
    slug = page.meta.get("round")
    if slug:
        usual = BY_SLUG[str(slug)].count if slug in BY_SLUG else COUNT
        count = int(page.meta.get("count", usual))
        context["round"] = round_html(plan_round(str(slug), "", SEED, count))
        if slug in BY_SLUG:
            context["link_form"] = link_form_html(BY_SLUG[str(slug)])
            if BY_SLUG[str(slug)].by_ear:
                context["hushed"] = still_works_html(get_relative_url(SETTINGS, page.url))
    if page.meta.get("template") == BAND:
        lines = [analysis.line for analysis in book.analyses().values()]
        context["band"] = band_form_html(with_chords(Band()), lines)
    page.content = _answered(page)
    return context


def _answered(page: Page) -> str:
    """The page's text with its tags answered."""
    numbers = iter(range(1, 1000))
    drawn = False

    def answer(found: re.Match[str]) -> str:
        nonlocal drawn
        before, name, argument, after = (part or "" for part in found.groups())
        try:
            if name in LISTS:
                return LISTS[name](argument, page)
            if name in PICTURES:
                drawn = True
                return _plate(*PICTURES[name](argument), f"picture-{next(numbers)}")
            return before + TAGS[name](argument) + after
        except (BadInput, KeyError, OSError, ValueError) as bad:
            raise SystemExit(f"{page.file.src_uri}: [[{name} {argument}]]: {bad}") from bad

    text = _TAG.sub(answer, page.content or "")
    return definitions() + text if drawn else text


# --- examples ------------------------------------------------------------------


def _arpeggio(text: str) -> Arpeggio:
    chord, _, key = text.partition(" in ")
    return arpeggio(parse_chord(chord), 3, parse_key(key) if key else None)


def _own(text: str) -> str:
    found = _arpeggio(text)
    if found.own is None:
        raise ValueError("that arpeggio is no chord in thirds")
    return plain(found.own)


def _degree(text: str) -> str:
    chord, note = text.split()
    return plain(name_over(parse_chord(chord), parse_pitch(note)).degree)


def _step(text: str) -> str:
    """Where a guide tone goes: the nearest 3 or 7 of the chord that follows, and which of them it is."""
    _, note, following, tone = _landing(text)
    degree = name_over(following, tone).degree
    template = "{note} goes to {tone}, the {degree} of {next}"
    return prose(say(template, note=note, tone=tone, degree=degree, next=following))


def _landing(text: str) -> Any:
    """A chord, a note over it, the next chord, and the nearest guide tone of that."""
    chord, note, following = parse_chord(text.split()[0]), parse_pitch(text.split()[1]), parse_chord(text.split()[2])
    guides = [step for step in steps_into(note, following) if step.degree.rung in (3, 7)]
    return chord, note, following, guides[0].note


def _joined(values: tuple[Slot, ...], joint: str) -> str:
    return prose(show(values, USUAL, joint))


# What stands in a sentence: its name in the brackets, and what it makes of the rest.
TAGS: dict[str, Callable[[str], str]] = {
    "note": lambda text: plain(parse_pitch(text)),
    "chord": lambda text: plain(parse_chord(text)),
    "tones": lambda text: _joined(parse_chord(text).notes, "row"),
    "symbols": lambda text: _joined(parse_chord(text).degrees, "run"),
    "degree": _degree,
    "arpeggio": lambda text: _joined(_arpeggio(text).notes, "row"),
    "degrees": lambda text: _joined(_arpeggio(text).degrees, "run"),
    "own": _own,
    "step": _step,
    **neck_examples.TAGS,
}


def _shape_plate(text: str) -> tuple[str, str, Picture]:
    found = _arpeggio(text)
    if found.own is None:
        raise ValueError("that arpeggio is no chord in thirds")
    chord, _, key = text.partition(" in ")
    shape = Shape(found.chord, found.own, (found.chord.root, *found.notes), (Degree("1"), *found.degrees))
    beside = f"in {show(parse_key(key))}" if key else ""
    return plain(parse_chord(chord)), escape(beside), shape_pictures(shape)[1]


def _degree_plate(text: str) -> tuple[str, str, Picture]:
    chord, note = parse_chord(text.split()[0]), parse_pitch(text.split()[1])
    return plain(chord), plain(note), degree_pictures(chord, note, name_over(chord, note).degree)[1]


def _landing_plate(text: str) -> tuple[str, str, Picture]:
    chord, note, following, tone = _landing(text)
    return f"{plain(chord)} → {plain(following)}", "", landing_pictures(chord, note, following, tone)[1]


# What stands by itself, as a picture with a line above it.
PICTURES: dict[str, Callable[[str], tuple[str, str, Picture]]] = {
    "shape": _shape_plate,
    "counting": _degree_plate,
    "landing": _landing_plate,
}


def _plate(large: str, beside: str, picture: Picture, name: str) -> str:
    small = f' <span class="beside">{beside}</span>' if beside else ""
    return f'<figure class="plate"><figcaption>{large}{small}</figcaption>{svg(picture, name, "always")}</figure>'


# --- lists ---------------------------------------------------------------------


def _drills(left_out: str, page: Page) -> str:
    return _drill_list([entry for entry in CATALOGUE if entry.slug != left_out], page)


def _handbook(only: str, page: Page) -> str:
    """The handbook's pages in the drills' order, those on the families of devices, or the one that is named."""
    lists: dict[str, Iterable[str]] = {"all": dict.fromkeys(entry.handbook for entry in CATALOGUE), "devices": GROUPS}
    slugs = lists.get(only, (only,))
    return _list([(f"handbook/{slug}.html", *_head(HANDBOOK / f"{slug}.md")) for slug in slugs], page)


def _drills_for(handbook: str, page: Page) -> str:
    """The drills whose idea a page of the handbook explains."""
    return _drill_list([entry for entry in CATALOGUE if entry.handbook == handbook], page)


def _drill_list(entries: list[Entry], page: Page) -> str:
    """These drills; who wants it quiet sees those by ear left out, and that they are."""
    from mkdocs.utils import get_relative_url

    rows = [(f"drills/{entry.slug}.html", entry.title, entry.teaser) for entry in entries]
    left_out = left_out_html(get_relative_url(SETTINGS, page.url)) if any(entry.by_ear for entry in entries) else ""
    return _list(rows, page, [kind_of(entry) for entry in entries]) + left_out


def _head(path: Path) -> tuple[str, str]:
    """Title and lead from the head of a text."""
    head = dict(line.split(": ", 1) for line in path.read_text(encoding="utf-8").split("---")[1].strip().splitlines())
    return head["title"], head["lead"]


def _list(rows: list[tuple[str, str, str]], page: Page, kinds: Iterable[str] = repeat("")) -> str:
    """``kinds``: an attribute for each row."""
    from mkdocs.utils import get_relative_url

    items = "".join(
        f'<li{kind}><a href="{escape(get_relative_url(address, page.url))}"><span class="name">{escape(name)}</span>'
        f' <span class="teaser">{escape(teaser)}</span></a></li>'
        for (address, name, teaser), kind in zip(rows, kinds, strict=False)
    )
    return f'<ul class="list">{items}</ul>'


def _records(_: str, __: Page) -> str:
    """The fields of a record, as the engine reads and writes them."""
    row = '<tr><th scope="row"><code>{}</code></th><td>{}</td></tr>'
    rows = "".join(row.format(name, escape(says)) for name, _, says in (*SPEC, *ALSO))
    return f"<table><tbody>{rows}</tbody></table>"


def _devices(family: str, _: Page) -> str:
    """What a line may do: each device of a family with its condition, as the engine recognises it."""
    row = '<tr><th scope="row">{}</th><td>{}</td></tr>'
    rows = "".join(row.format(escape(device.name), escape(device.condition)) for device in GROUPS[family].devices)
    return f'<div class="papers terms"><table><tbody>{rows}</tbody></table></div>'


def _settings(_: str, __: Page) -> str:
    """The form of the settings."""
    return settings_form_html()


def _book(_: str, __: Page) -> str:
    """The line book's index."""
    return index_form_html(book.book())


def _book_line(slug: str, page: Page) -> str:
    """A line of the book with what it does of the devices that the page is about."""
    from mkdocs.utils import get_relative_url

    analysis = book.analyses()[slug]
    family = {device.name for device in GROUPS[Path(page.file.src_uri).stem].devices}
    told = tuple(found for found in analysis.devices if found.name in family)
    if not told:
        raise ValueError("that line has no device of this family")
    title = f'<a href="{escape(get_relative_url(f"lines/{slug}.html", page.url))}">{escape(analysis.line.title)}</a>'
    return (
        f'<figure class="plate music"><figcaption>{title}</figcaption>'
        f"{engraving_html(replace(analysis, devices=told), f'staff-{slug}')}"
        f"<noscript><pre>{escape(write_text(analysis.line))}</pre></noscript></figure>{sentences_html(told)}"
    )


LISTS: dict[str, Callable[[str, Page], str]] = {
    "book": _book,
    "bookline": _book_line,
    "devices": _devices,
    "drills": _drills,
    "drillsfor": _drills_for,
    "handbook": _handbook,
    "records": _records,
    "settings": _settings,
    **neck_examples.LISTS,
}
