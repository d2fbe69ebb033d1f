"""A line as its page shows it: in a key, over a next chord, told by the form and by the link."""

import json
import re
from dataclasses import replace
from html import unescape
from itertools import product
from typing import Any

import pytest

from engine.browser import call
from engine.drills.catalogue import CATALOGUE
from engine.drills.options import read_link
from engine.formats.abc import read_abc, write_abc
from engine.lines.devices.recognise import analyse
from engine.lines.landing import landing_of
from engine.lines.line import Line
from engine.lines.moving import keys_of
from engine.lines.next_chords import followed_by, next_chords
from engine.lines.reading import read_line
from engine.lines.stock import stock
from engine.practice.band import read_band
from engine.practice.line_in_link import from_link, to_link
from engine.practice.rounds import first_plan
from engine.practice.shown_line import Shown, as_link, as_state, asked_next, linked, read_state, shown, with_key
from engine.theory.arpeggio import arpeggio
from engine.theory.chord_symbol import parse_chord
from engine.theory.key import parse_key
from engine.theory.wording import render, show
from engine.view.line_page import line_form_html
from tests.engine.lines_at_random import line_at_random

LINES = stock()
MAJOR = next(line for line in LINES if (landing := landing_of(line)) and landing.degree.name == "3")
ONE_CHORD = next(line for line in LINES if len(line.changes) == 1 and line.changes[0].chord.kind == "7")


def ask(page: Shown, **wishes: Any) -> dict[str, Any]:
    """What the engine answers to the form of a page."""
    found = json.loads(call(json.dumps({**as_state(page), "fields": {}, "pressed": None, "link": "", **wishes})))
    assert isinstance(found, dict)
    return found


def state_in(html: str) -> dict[str, Any]:
    """The state that a form carries."""
    found = re.search(r'data-desk="([^"]*)"', html)
    assert found
    return dict(json.loads(unescape(found[1])))


def degrees(line: Line) -> list[int]:
    """By sound: a ♭13 that would take a double flat is written as a ♯5."""
    return [heard.above for heard in read_line(line)]


@pytest.mark.parametrize("line", LINES, ids=lambda line: f"{line.number}")
def test_in_every_key_it_is_the_same_line(line: Line) -> None:
    for key in keys_of(line.key.mode):
        page = shown(line, key)
        assert (page.line.key, page.written) == (key, line)
        assert degrees(page.line) == degrees(line)
        assert read_state(as_state(page)) == page


@pytest.mark.parametrize("line", LINES, ids=lambda line: f"{line.number}")
def test_a_changed_next_chord_goes_along_to_other_keys(line: Line) -> None:
    for chord, key in product(next_chords(line), keys_of(line.key.mode)[1:6]):
        page = shown(line, following=chord)
        moved = with_key(page, key)
        assert degrees(moved.line) == degrees(page.line)
        assert moved.line.changes[-1].chord.suffix == chord.suffix
        assert with_key(moved, line.key).line.changes[-1].chord.root.pitch_class == chord.root.pitch_class


@pytest.mark.parametrize("line", LINES, ids=lambda line: f"{line.number}")
def test_the_first_chord_on_offer_is_the_lines_own_and_none_comes_twice(line: Line) -> None:
    offers = next_chords(line)
    assert len(offers) == len({chord.symbol for chord in offers}) >= 6
    if len(line.changes) > 1:
        assert offers[0] == line.changes[-1].chord
        assert shown(line, following=offers[0]) == shown(line)


@pytest.mark.parametrize(
    ("chords", "expected"),
    [
        ("Dm7 G7 Cmaj7", "Cmaj7 Cm7 C7 Em7 Am7 Abmaj7"),
        ("Abm7 Db7 Gbmaj7", "Gbmaj7 Gbm7 Gb7 Bbm7 Ebm7 Dmaj7"),
        ("Dm7b5 G7b9 Cm6", "Cm6 Cmaj7 Cm7 C7 Em7 Am7 Abmaj7"),
        ("G7", "Cmaj7 Cm7 C7 Em7 Am7 Abmaj7"),
        ("Cmaj7", "Cmaj7 Cm7 C7 Em7 Am7 Abmaj7"),
        ("Gm7 Gb7 Fmaj7", "Fmaj7 Fm7 F7 Am7 Dm7 Dbmaj7"),
        ("Dm7 G7 Am7", "Am7 Cmaj7 Cm7 C7 Em7 Abmaj7"),
        ("F7 Bb7", "Bb7 Bbmaj7 Bbm7 Dm7 Gm7 Gbmaj7"),
        ("Cmaj7 F7", "F7 Fmaj7 Fm7 Am7 Dm7 Dbmaj7"),
    ],
)
def test_the_chords_on_offer_are_those_that_a_dominant_leads_to(chords: str, expected: str) -> None:
    symbols = chords.split()
    music = " | ".join(f'"{symbol}"c8' for symbol in symbols)
    assert [chord.symbol for chord in next_chords(read_abc(f"X:1\nL:1/8\nK:C\n{music} |]\n")[0])] == expected.split()


def test_behind_a_single_chord_the_next_one_follows_in_a_bar_of_its_own() -> None:
    aimed = followed_by(ONE_CHORD, parse_chord("Fmaj7"))
    assert [change.chord.symbol for change in aimed.line.changes] == [ONE_CHORD.changes[0].chord.symbol, "Fmaj7"]
    assert aimed.line.end == ONE_CHORD.end + ONE_CHORD.meter.bar
    assert aimed.line.notes == ONE_CHORD.notes
    assert aimed.proposal
    assert aimed.proposal.degree.rung in (3, 7)


def test_a_key_is_chosen() -> None:
    reply = ask(shown(MAJOR), fields={"key": ["Eb"], "next": [MAJOR.changes[-1].chord.symbol]})
    assert reply["link"] == "v=1&key=Eb"
    state = state_in(reply["patches"]["line"])
    assert (state["key"], state["next"]) == ("Eb", None)
    assert reply["patches"]["line"] == line_form_html(shown(MAJOR, parse_key("Eb")))


def test_a_next_chord_is_chosen_and_the_sentence_says_what_followed() -> None:
    other = next_chords(MAJOR)[1]
    reply = ask(shown(MAJOR), fields={"key": [str(MAJOR.key)], "next": [other.symbol]})
    aimed = followed_by(MAJOR, other)
    assert reply["said"] == render(aimed.text)
    assert aimed.line.notes != MAJOR.notes
    assert render(aimed.text).replace("'", "’") in unescape(re.sub(r"<[^>]+>", "", reply["patches"]["line"]))
    assert degrees(read_state(state_in(reply["patches"]["line"])).line) == degrees(aimed.line)


def test_over_another_chord_what_is_said_of_the_line_is_said_to_be_of_what_is_written() -> None:
    abc = 'X:1\nM:4/4\nL:1/8\nN:It comes down to the minor third.\nK:Cm\n"Dm7b5"F4D4|"G7b9"B4A4|"Cm7"E8|]\n'
    line = read_abc(abc)[0]
    own = line_form_html(shown(line))
    assert "As it is written:" not in own
    assert "minor, in" in own
    changed = line_form_html(shown(line, following=parse_chord("Cmaj7")))
    assert "As it is written: It comes down to the minor third." in changed
    assert "minor, in" not in changed


def test_a_chord_is_typed() -> None:
    wishes = {"fields": {"other": [" E7#9 "], "key": ["C"], "next": ["Cmaj7"]}, "pressed": ["other", ""]}
    assert state_in(ask(shown(MAJOR), **wishes)["patches"]["line"])["next"] == "E7#9"


@pytest.mark.parametrize("typed", ["H7", "C7#", "<script>", "é" * 300])
def test_what_is_no_chord_is_said_and_changes_nothing(typed: str) -> None:
    reply = ask(shown(MAJOR), fields={"other": [typed]}, pressed=["other", ""])
    assert list(reply) == ["patches"]
    (sentence,) = reply["patches"].values()
    assert sentence.startswith('<p class="told" id="told" role="status">column ')
    assert "<script>" not in sentence


def test_nothing_typed_changes_nothing() -> None:
    reply = ask(shown(MAJOR), fields={"other": ["  "]}, pressed=["other", ""])
    assert reply["patches"]["line"] == line_form_html(shown(MAJOR))


def test_a_link_opens_the_page_as_it_was() -> None:
    for line, number in product(LINES, (0, 1, 4)):
        key = keys_of(line.key.mode)[7]
        offers = next_chords(shown(line, key).line)
        page = shown(line, key, offers[number % len(offers)])
        opened, ignored = linked(shown(line), as_link(page))
        assert (opened, ignored) == (page, [])


def test_what_a_link_says_of_other_things_stays() -> None:
    page = shown(MAJOR, parse_key("F"))
    assert as_link(page, "v=1&id=abc&key=G&next=G7") == "v=1&id=abc&key=F"
    assert as_link(shown(MAJOR), "v=1&key=G") == ""
    assert as_link(shown(MAJOR), "v=1&id=abc&key=G") == "v=1&id=abc"


@pytest.mark.parametrize("link", ["key=H", "next=%3Cscript%3E", "key=&next=", "&&==&", "key=%FF", "next=" + "9" * 5000])
def test_a_hostile_link_shows_the_line_and_says_what_was_left_out(link: str) -> None:
    reply = ask(shown(MAJOR), pressed=["open", ""], link=link)
    assert reply["patches"]["line"] == line_form_html(shown(MAJOR))
    assert bool(reply["notice"]) == ("=H" in link or "script" in link or "%FF" in link or "9999" in link)


@pytest.mark.parametrize(("version", "told"), [("1", []), ("0", []), ("", []), ("x", []), ("2", ["newer version"])])
def test_a_link_of_a_newer_version_is_said_to_be_one(version: str, told: list[str]) -> None:
    said = [
        linked(shown(stock()[0]), f"v={version}&key=F")[1],
        list(read_link(f"#v={version}&keys=F").ignored),
        list(read_band(f"v={version}&tempo=120").ignored),
    ]
    for sentences in said:
        assert len(sentences) == len(told)
        assert all(words in sentence for words, sentence in zip(told, sentences, strict=True))


def test_one_bad_part_of_a_link_does_not_cost_the_other() -> None:
    page, ignored = linked(shown(MAJOR), "key=Q&next=Cm7")
    assert page == shown(MAJOR, following=parse_chord("Cm7"))
    assert len(ignored) == 1


def test_to_share_it_is_to_hand_on_the_link() -> None:
    page = shown(replace(MAJOR, title="Of mine"), parse_key("F"))
    reply = ask(page, fields={"key": ["F"]}, pressed=["share", "line"], link="v=1&key=F")
    assert reply == {"share": {"title": "Of mine", "link": "v=1&key=F"}}


@pytest.mark.parametrize(
    ("bar", "chord", "said"),
    [
        ("B2 A2 G2 E2", "Cm7", "E behind it lies outside Cm7: leave it out, or step to a tone of the chord."),
        ("E2 A2 B2 E2", "Ebm7", "A and B behind it lie outside"),
        ("E2 D2 C2 z2", "Cm7", ""),
        ("E2 D2 EF G2", "Fmaj7", ""),
    ],
)
def test_what_the_new_chord_leaves_outside_is_said(bar: str, chord: str, said: str) -> None:
    line = read_abc(f'X:1\nL:1/8\nK:C\n"G7"B2 A2 G2 F2 | "Cmaj7"{bar} |]\n')[0]
    text = render(followed_by(line, parse_chord(chord)).text)
    assert said in text
    assert ("behind it" in text) == bool(said)


def test_only_drills_that_find_something_in_the_line_are_offered() -> None:
    for line in LINES:
        html = line_form_html(shown(line))
        for entry in CATALOGUE:
            offered = f"drills/{entry.slug}.html" in html
            asked = [] if not entry.takes_line else first_plan(entry.slug, f"line={to_link(line)}")[1].ignored
            assert offered == (entry.takes_line and not asked)


def test_what_a_keeper_noted_stays_with_them() -> None:
    line = replace(MAJOR, remarks=("For me alone",), group="still to study", source="a tune")
    html = line_form_html(shown(line))
    (link, *_) = re.findall(r'drills/[a-z-]+\.html#v=1&amp;line=([^"]+)"', html)
    assert from_link(link) == replace(line, remarks=(), group="", number=1)
    shared = ask(shown(line), pressed=["share", "line"], link="v=1&id=abc")["share"]["link"]
    assert from_link(shared.partition("line=")[2]) == replace(line, remarks=(), group="", number=1)


# --- the page ---------------------------------------------------------------------


def text_of(html: str) -> str:
    return re.sub(r"\s+", " ", unescape(re.sub(r"<[^>]+>", " ", html)))


@pytest.mark.parametrize("line", LINES, ids=lambda line: f"{line.number}")
def test_the_page_has_every_note_and_every_sentence(line: Line) -> None:
    for key in keys_of(line.key.mode):
        page = shown(line, key)
        html = line_form_html(page)
        analysis = analyse(page.line)
        rows = re.findall(r"<tr>((?:<td>.*?</td>)+)</tr>", html)
        cells = [[unescape(cell) for cell in re.findall(r"<td>(.*?)</td>", row)] for row in rows]
        assert [(row[2], row[4]) for row in cells] == [
            (show(heard.pitch.in_octave(None)), show(heard.degree)) for heard in analysis.notes
        ]
        for found in analysis.devices:
            assert render(found.text).replace("'", "’") in text_of(re.sub(r'<span class="run">|</span>', "", html))


def test_the_shape_inside_its_chord_is_what_the_theory_says() -> None:
    drawn = 0
    for line in LINES:
        html = line_form_html(shown(line))
        for own, chord in re.findall(r'<figcaption>([^<]*) <span class="beside">inside (.*?)</span>', html):
            drawn += 1
            chords = {show(change.chord): change.chord for change in line.changes}
            from_the_third = arpeggio(chords[chord])
            usual = show(from_the_third.own) if from_the_third.own else None
            # Where the line takes the flat nine over a dominant, the arpeggio is a diminished seventh.
            assert own == usual or own == f"{show(from_the_third.notes[0])}dim7"
    assert drawn > 5


def test_title_source_and_remarks_are_text() -> None:
    html = line_form_html(shown(replace(MAJOR, title="<b>Mine</b>", source="<i>a tune</i>", remarks=('"&<i>',))))
    assert "Taken from &lt;i&gt;a tune&lt;/i&gt;" in html
    assert "<b>Mine" not in html
    assert "<i>" not in html
    assert "&lt;b&gt;Mine&lt;/b&gt;" in html


def test_every_line_has_a_page() -> None:
    for line in map(line_at_random, range(120)):
        read = read_abc(write_abc(line))[0]
        page = shown(read)
        assert line_form_html(page)
        for chord in page.offers[:3]:
            assert asked_next({**as_state(page), "fields": {"next": [chord.symbol]}}).line.changes
