"""A line's page: how the line is heard, what the form makes of tempo, swing, count-in, band and loop."""

from __future__ import annotations

import json
from dataclasses import replace
from fractions import Fraction
from html import unescape
from typing import Any

import pytest

from engine.browser import call
from engine.lines.stock import stock
from engine.practice.hearing import AS_USUAL, Hearing, stepped
from engine.practice.own_way import OwnWay
from engine.practice.shown_line import as_link, as_state, linked, read_state, shown
from engine.sound.arrangement import as_json, of_line
from engine.theory.key import parse_key
from engine.view.line_page import line_form_html
from tests.engine.form_fields import fields_of

LINE = stock()[0]
ALL = Hearing(152, Fraction("1.7"), 2, False, True)


class Page:
    """The form of a line's page as a player fills it in."""

    def __init__(self) -> None:
        self.html, self.link = line_form_html(shown(LINE)), ""
        self.state: dict[str, Any] = as_state(shown(LINE))
        self.fields = fields_of(self.html)

    def ask(self, *pressed: str) -> dict[str, Any]:
        asked = {**self.state, "fields": self.fields, "pressed": pressed or None, "link": self.link, "at": 1}
        answer: dict[str, Any] = json.loads(call(json.dumps(asked)))
        assert "error" not in answer
        self.state = answer.get("desk", self.state)
        self.link = answer.get("link", self.link)
        for html in answer.get("patches", {}).values():
            if "data-desk=" in html:
                self.state = json.loads(unescape(html.split('data-desk="')[1].split('"')[0]))
            new = fields_of(html)
            for name in {"band", "loop"} - set(new) if new else ():
                self.fields.pop(name, None)
            self.fields |= new
        return answer

    def fill(self, name: str, *values: str) -> dict[str, Any]:
        self.fields.pop(name, None)
        if values:
            self.fields[name] = list(values)
        return self.ask()

    @property
    def hearing(self) -> Hearing:
        return read_state(self.state).hearing


def test_what_is_heard_is_the_line_as_it_is_shown() -> None:
    page = Page()
    own = of_line(LINE, band=True)
    assert page.ask("hear", "line")["sound"] == as_json(own)
    page.fields |= {"key": ["Eb"]}
    page.ask()
    page.ask("octave", "-1")
    line = read_state(page.state).line
    assert line == shown(LINE, parse_key("Eb"), neck=replace(shown(LINE).neck, own=OwnWay(octave=-1))).line
    sound = page.ask("hear", "line")["sound"]
    assert sound == as_json(of_line(line, band=True))
    guitar = [event for event in sound["events"] if event[5] is not None]
    assert [event[2] for event in guitar] == [note.pitch.midi for note in line.notes]


def test_each_field_counts_and_nothing_else_of_the_page_is_made_anew() -> None:
    page = Page()
    for name, values in (("tempo", ["152"]), ("swing", ["1.67"]), ("count-in", ["2"]), ("band", []), ("loop", ["on"])):
        answer = page.fill(name, *values)
        assert list(answer["patches"]) == ["hearing", "unused"]
        assert answer["replay"] is True
        assert name in answer["link"]
    assert page.hearing == replace(ALL, swing=Fraction("1.67"))
    sound = page.ask("hear", "line")["sound"]
    assert sound == as_json(of_line(LINE, 152, Fraction("1.67"), False, True, 2))
    assert sound["loop"]
    assert page.fill("tempo", "120")["desk"]["hear"]["tempo"] == "120"


@pytest.mark.parametrize("text", ["39", "321", "fast", "", "-1", "120.5"])
def test_a_tempo_that_none_can_play_is_told_in_one_sentence_and_stays_typed(text: str) -> None:
    page = Page()
    page.fill("tempo", "200")
    answer = page.fill("tempo", text)
    html = answer["patches"]["hearing"]
    if not text:
        assert page.hearing.tempo is None
        return
    assert f"&quot;{text}&quot; is no tempo: write a whole number from 40 to 320." in html
    assert not answer["replay"]
    assert "tempo" not in fields_of(html)
    assert page.hearing.tempo == 200
    # What else is chosen then goes on.
    page.fields |= {"key": ["Eb"]}
    assert "line" in page.ask()["patches"]
    assert (str(read_state(page.state).line.key), page.hearing.tempo) == ("Eb", 200)


@pytest.mark.parametrize("text", ["400", "fast"])
def test_enter_after_a_wrong_tempo_tells_it_too_and_play_says_what_is_played(text: str) -> None:
    page = Page()
    page.fields["tempo"] = [text]
    # The browser presses the form's first button, the one beside the empty field for a chord.
    assert f"&quot;{text}&quot; is no tempo" in page.ask("other", "")["patches"]["hearing"]
    patches = page.ask("hear", "line")["patches"]
    told = f"The tempo {text} is not used: 40 to 320 are possible, and 120 is played."
    assert told in patches["unused"]
    assert fields_of(patches["hearing"])["tempo"] == ["120"]
    assert told not in page.ask("hear", "line")["patches"]["unused"]


def test_steps_stay_within_what_can_be_played() -> None:
    page = Page()
    page.ask("tempo", "+")
    assert page.hearing.tempo == 124
    # Fields from before that are not what was chosen.
    page.ask("tempo", "-")
    page.ask("tempo", "-")
    assert page.hearing.tempo == 116
    assert (stepped(318, "+"), stepped(42, "-")) == (320, 40)


def test_fields_from_before_what_is_underway_change_nothing() -> None:
    page = Page()
    before = dict(page.fields)
    page.ask("tempo", "+")
    page.fields = {**before, "loop": ["on"]}
    page.ask()
    assert page.hearing == Hearing(tempo=124, loop=True)


@pytest.mark.parametrize("hearing", [AS_USUAL, ALL, Hearing(tempo=40), Hearing(swing=Fraction(1))])
def test_it_is_the_same_in_the_state_and_in_a_link(hearing: Hearing) -> None:
    page = replace(shown(LINE), hearing=hearing)
    assert read_state(json.loads(json.dumps(as_state(page)))).hearing == hearing
    again, ignored = linked(shown(LINE), as_link(page))
    assert (again, ignored) == (page, [])


def test_what_a_link_says_and_cannot_be_is_told() -> None:
    page, ignored = linked(shown(LINE), "v=1&tempo=500&band=loud&swing=9&loop=on")
    assert page.hearing == Hearing(loop=True)
    assert len(ignored) == 3
    assert all("was left out" in sentence for sentence in ignored)


def test_what_is_changed_stays_in_another_key_and_over_another_chord() -> None:
    page = Page()
    page.fill("tempo", "90")
    page.fields |= {"key": ["Eb"]}
    assert page.ask()["replay"] is True
    assert page.hearing.tempo == 90
    assert "tempo=90" in page.link
    assert page.ask("labels", "notes")["replay"] is False


def test_every_note_of_the_line_is_marked_on_the_neck() -> None:
    html = line_form_html(shown(LINE))
    necks = html.split('class="necks"')[1].split('class="picture neck-legend"')[0]
    marked = [index for part in necks.split('data-index="')[1:] for index in part.split('"')[0].split()]
    assert sorted(map(int, marked)) == list(range(len(LINE.notes)))
