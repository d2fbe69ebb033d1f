"""The handbook's pages on the families of devices: each shows lines of the book that do what it is about."""

from __future__ import annotations

import re
from types import SimpleNamespace
from typing import Any

import pages
import pytest

from engine.lines.devices.recognise import GROUPS

SECTIONS = ["What counts", "When players use it", "How to practise it", "What goes wrong", "Try it"]


def answered(name: str, text: str) -> str:
    """The text of the handbook's page of that name, its tags answered."""
    page: Any = SimpleNamespace(
        meta={}, content=text, url=f"handbook/{name}.html", file=SimpleNamespace(src_uri=f"handbook/{name}.md")
    )
    pages.on_page_context({}, page=page)
    return str(page.content)


def source(name: str) -> str:
    return (pages.HANDBOOK / f"{name}.md").read_text(encoding="utf-8").split("---", 2)[2]


@pytest.mark.parametrize("family", GROUPS)
def test_a_familys_page_has_its_devices_and_lines_of_the_book(family: str) -> None:
    text = source(family)
    assert [line.removeprefix("## ") for line in text.splitlines() if line.startswith("## ")] == SECTIONS
    html = answered(family, text)
    assert not re.search(r"\[\[[a-z]+ ", html)
    assert all(f'<th scope="row">{device.name}</th>' in html for device in GROUPS[family].devices)
    assert 'href="../lines/' in html


@pytest.mark.parametrize("name", ["index", "lines"])
def test_all_families_are_linked(name: str) -> None:
    html = answered(name, source(name))
    assert all(f'href="{family}.html"' in html for family in GROUPS)


def test_a_line_stands_with_the_sentences_of_the_family_alone() -> None:
    html = answered("runs", "[[bookline copper-wire]]")
    assert html.startswith('<figure class="plate music">')
    assert '<a href="../lines/copper-wire.html">Copper Wire</a>' in html
    assert "only passes off the beat" in html
    assert "is the arpeggio from" not in html


@pytest.mark.parametrize("slug", ["no-such-line", "sunday-bread"])
def test_a_line_that_is_not_there_or_has_no_such_device_stops_the_build(slug: str) -> None:
    with pytest.raises(SystemExit, match=slug):
        answered("runs", f"[[bookline {slug}]]")


# --- on the neck --------------------------------------------------------------------


def test_positions_has_its_examples_from_the_engine() -> None:
    html = answered("positions", source("positions"))
    assert not re.search(r"\[\[[a-z]+ ", html)
    assert (html.count('class="neck-picture"'), html.count('class="tab"')) == (
        2,
        html.count("Widest stretch: from the "),
    )
    assert html.count('class="tab"') > 1
    assert "string 1 open, string 2 at the 5th fret" in html
    for told in ("on the rest in bar 1", "while an open string rings", "sliding a half step to", "one shift saved"):
        assert told in html, "what the text tells of is what the engine does"


def test_a_smaller_stretch_costs_the_shift_that_the_text_tells_of() -> None:
    assert answered("positions", "[[stretched attic-window 5]]").startswith("No shift")
    assert answered("positions", "[[stretched attic-window 3]]").startswith("One shift")


@pytest.mark.parametrize(("frets", "notes"), [("5 9", 29), ("1 5", 29), ("5 10", 30)])
def test_a_region_has_every_note(frets: str, notes: int) -> None:
    assert answered("positions", f"[[region {frets}]]") == str(notes)


@pytest.mark.parametrize("tag", ["region 5 7", "ways no-such-line", "played E2 E9", "eased C4 D4", "reach x"])
def test_an_example_that_is_none_stops_the_build(tag: str) -> None:
    with pytest.raises(SystemExit, match=tag):
        answered("positions", f"[[{tag}]]")
