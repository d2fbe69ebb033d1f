"""The index of the line book: what it tells of a line, what is found in it, and a line's neighbours."""

import json
from collections.abc import Mapping
from dataclasses import replace
from html import unescape
from itertools import product
from re import findall

import pytest

from engine.browser import call
from engine.lines.devices.recognise import DEVICES, analyse
from engine.lines.landing import landing_of
from engine.lines.stock import stock
from engine.lines.use import USES
from engine.practice.book import (
    MOST_NEIGHBOURS,
    Entry,
    as_data,
    chosen,
    entry_of,
    from_data,
    neighbours,
    read_degrees,
)
from engine.theory.bad_input import BadInput
from engine.theory.degree import DEGREES, Degree
from engine.view.book import found_html, how_many_html, index_form_html, neighbours_html
from engine.view.markup import escape

LINES = {f"line-{line.number}": replace(line, title=f"Line {line.number}", remarks=("Good.",)) for line in stock()}
BOOK = tuple(entry_of(slug, analyse(line)) for slug, line in LINES.items())


def slugs(wanted: Mapping[str, str]) -> list[str]:
    return [entry.slug for entry in chosen(BOOK, wanted)]


def test_an_entry_tells_what_the_analysis_says() -> None:
    for entry in BOOK:
        line = LINES[entry.slug]
        analysis = analyse(line)
        landing = landing_of(line)
        assert entry.degrees == tuple(heard.degree.name for heard in analysis.notes)
        assert set(entry.devices) == {found.name for found in analysis.devices}
        assert entry.landing == (landing.degree.name if landing else "")
        assert (entry.title, entry.key, entry.says) == (line.title, str(line.key), "Good.")


def test_the_book_travels_as_text() -> None:
    assert from_data(as_data(BOOK)) == BOOK


@pytest.mark.parametrize("name", ["use", "device", "first", "landing"])
def test_what_is_chosen_has_what_is_wished_for_and_nothing_else_has(name: str) -> None:
    values = {"use": USES, "device": DEVICES, "first": DEGREES, "landing": DEGREES}[name]
    having = {"use": lambda entry: [entry.use], "device": lambda entry: entry.devices}.get(
        name, lambda entry: [entry.degrees[0] if name == "first" else entry.landing]
    )
    seen = 0
    for value in values:
        found = slugs({name: value})
        assert found == [entry.slug for entry in BOOK if value in having(entry)]
        seen += len(found)
    assert seen


def test_several_wishes_all_count() -> None:
    for device, landing in product(DEVICES, ("1", "3", "5", "b3")):
        both = slugs({"device": device, "landing": landing, "use": "", "degrees": " "})
        assert both == [slug for slug in slugs({"device": device}) if slug in slugs({"landing": landing})]
    assert slugs({}) == [entry.slug for entry in BOOK]


def test_degrees_in_a_row_are_found_wherever_they_stand() -> None:
    for entry in BOOK:
        for at in range(len(entry.degrees) - 3):
            assert entry.slug in slugs({"degrees": " ".join(entry.degrees[at : at + 4])})
    for run in product(("3", "b7", "9", "5"), repeat=3):
        joined = " ".join(str(Degree(name).semitones % 12) for name in run)
        expected = [
            entry.slug
            for entry in BOOK
            if f" {joined} " in f" {' '.join(str(Degree(name).semitones % 12) for name in entry.degrees)} "
        ]
        assert slugs({"degrees": " ".join(run)}) == expected


@pytest.mark.parametrize(
    ("typed", "read"),
    [
        ("3 5 b7 9", "3 5 b7 9"), ("3,5,♭7,9", "3 5 b7 9"), (" 3–5–b7–2 ", "3 5 b7 9"), ("♯4 b2", "#11 b9"), ("", ""),
        ("#2-3", "#9 3"),
    ],
)  # fmt: skip
def test_degrees_as_players_type_them(typed: str, read: str) -> None:
    assert [degree.name for degree in read_degrees(typed)] == read.split()


@pytest.mark.parametrize(("typed", "token", "column"), [("3 x 5", "x", 3), ("3 5 8", "8", 5), ("<b>", "<b>", 1)])
def test_what_is_no_degree_is_named_with_its_place(typed: str, token: str, column: int) -> None:
    with pytest.raises(BadInput, match="is no degree; write degrees such as 3 5 b7 9") as bad:
        read_degrees(typed)
    assert (bad.value.token, bad.value.column) == (token, column)


def test_neighbours_share_a_device_and_the_rarest_comes_first() -> None:
    for entry in BOOK:
        found = neighbours(BOOK, entry.devices, entry.slug)
        assert len(found) <= MOST_NEIGHBOURS
        assert entry not in [other for other, _ in found]
        for other, shared in found:
            assert shared
            assert set(shared) == set(entry.devices) & set(other.devices)
    common = Entry("a", "A", "C", "other", ("scale run",), ("1",), "", "")
    rare = replace(common, slug="b", devices=("enclosure",))
    book = (common, rare, *(replace(common, slug=str(number)) for number in range(9)))
    assert [other.slug for other, _ in neighbours(book, ("scale run", "enclosure"))][:2] == ["b", "a"]
    assert neighbours(book, ("late landing",)) == ()


# --- the page ---------------------------------------------------------------------


def test_every_line_is_listed_with_its_page() -> None:
    html = index_form_html(BOOK)
    assert sorted(findall(r'href="([^"]+)\.html"', html)) == sorted(LINES)
    for entry in BOOK:
        assert f'<span class="name">{entry.title}</span>' in html


def test_only_what_some_line_has_can_be_chosen() -> None:
    html = index_form_html(BOOK)
    for value in findall(r'<option value="([^"]+)">', html):
        assert any(slugs({name: unescape(value)}) for name in ("use", "device", "first", "landing"))


def test_the_form_asks_the_engine() -> None:
    wishes = {"device": ["arpeggio from the third"], "use": [""], "degrees": ["3 5 b7 b9"]}
    reply = json.loads(call(json.dumps({"do": "book", "book": as_data(BOOK), "fields": wishes})))
    found = chosen(BOOK, {name: values[0] for name, values in wishes.items()})
    assert found
    assert reply == {"patches": {"found": found_html(found)}}


def test_nothing_found_is_said() -> None:
    assert "No line of the book" in found_html(())
    assert "1 line<" in found_html(BOOK[:1])
    assert neighbours_html(()) == ""


def test_what_is_no_degree_leaves_the_list_alone() -> None:
    reply = json.loads(call(json.dumps({"do": "book", "book": as_data(BOOK), "fields": {"degrees": ["x"]}})))
    sentence = escape('column 1: "x" is no degree; write degrees such as 3 5 b7 9.')
    assert reply == {"patches": {"how-many": how_many_html(sentence)}}


def test_titles_are_text() -> None:
    hostile = (replace(BOOK[0], title="<i>", says="<script>"),)
    for html in (found_html(hostile), neighbours_html([(hostile[0], ("enclosure",))])):
        assert "<i>" not in html
        assert "<script>" not in html
