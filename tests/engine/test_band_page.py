"""With the band as the page's form: set-ups, what sounds, tempos that were reached."""

from __future__ import annotations

import json
from base64 import b64decode
from dataclasses import replace
from io import BytesIO
from typing import Any

import mido
import pytest

from engine.browser import call
from engine.lines.moving import keys_of, moved_to
from engine.lines.stock import stock
from engine.practice.band import ALONE, MOST_LINES, Band, arranged, read_band, with_chords, write_band
from engine.practice.line_in_link import handed_on, to_link
from engine.practice.own_lines import fold, saved
from engine.practice.own_records import is_record, new_records
from engine.practice.reached import reached, reaching
from engine.practice.records import as_file, read_file
from engine.practice.shown_line import as_state, shown
from engine.sound.arrangement import as_json
from engine.theory.bad_input import BadInput
from engine.theory.wording import USUAL
from engine.view.band import ORDER_NAMES, band_form_html, lines_html, marks_html, setup_html, state_of
from tests.engine.form_fields import fields_of

LINE, OTHER = (handed_on(line) for line in stock()[:2])
MINE = f"v=1&line={to_link(LINE)}"
BOXES = {"keys", "response"}


class Page:
    """The form of the page as a player fills it in, on a device that keeps what it says."""

    def __init__(self, link: str = "", own: list[Any] | None = None) -> None:
        band = with_chords(Band())
        self.state: dict[str, Any] = state_of(band)
        self.link, self.own, self.at = link, own or [], 0
        self.html = {"": band_form_html(band, stock())}
        self.fields = fields_of(self.html[""])
        self.opened = self.ask("open", "")

    def ask(self, *pressed: str) -> dict[str, Any]:
        self.at += 1
        asked = {**self.state, "fields": self.fields, "pressed": pressed or None, "link": self.link, "own": self.own,
                 "at": self.at, "chance": 7}  # fmt: skip
        answer: dict[str, Any] = json.loads(call(json.dumps(asked)))
        assert "error" not in answer, answer
        self.state, self.link = answer.get("desk", self.state), answer.get("link", self.link)
        self.own += answer.get("keep", [])
        self.html |= answer.get("patches", {})
        for name, html in answer.get("patches", {}).items():
            if name == "band-setup":
                self.fields = {one: value for one, value in self.fields.items() if one not in BOXES}
            self.fields |= fields_of(html)
        return answer

    def fill(self, name: str, *values: str) -> dict[str, Any]:
        self.fields.pop(name, None)
        if values:
            self.fields[name] = list(values)
        return self.ask()

    @property
    def band(self) -> Band:
        return read_band(self.state["set"]).band

    @property
    def marks(self) -> dict[str, int]:
        return reached(self.own, LINE)


def test_without_a_line_the_band_plays_alone() -> None:
    page = Page()
    assert page.band == Band(over=ALONE)
    assert page.link == ""
    assert "the band plays alone" in page.html["band-lines"]
    assert "<li>" not in page.html["band-marks"]
    assert page.ask("hear", "band")["sound"]["events"] == as_json(arranged(Band(over=ALONE)).arrangement)["events"]


def test_a_line_comes_by_link_and_brings_its_own_chords() -> None:
    page = Page(MINE + "&tempo=500&keys=F")
    assert (page.band.lines, page.band.over, page.band.tempo) == ((LINE,), "", 120)
    assert "tempo" in page.opened["notice"]
    assert [str(key) for key in page.band.keys] == ["F"]
    sound = page.ask("hear", "band")["sound"]
    assert any(event[5] is not None for event in sound["events"])


def test_each_field_counts_and_goes_into_the_link_and_back() -> None:
    page = Page(MINE)
    for name, values in (
        ("tempo", ["200"]), ("rise", ["4"]), ("over", ["two-five-one"]), ("keys", ["Bb", "Eb"]), ("choruses", ["6"]),
        ("order", ["random"]), ("response", ["on"]), ("count-in", ["2"]), ("swing", ["1.5"]),
    ):  # fmt: skip
        assert page.fill(name, *values)["replay"] is True
    assert read_band(page.link).band == page.band
    other = Page(page.link)
    assert other.band == page.band
    assert {**other.fields, "marked": page.fields["marked"]} == page.fields
    assert (page.band.tempo, page.band.rise, page.band.choruses, page.band.response) == (200, 4, 6, True)
    assert page.fill("response")["replay"] is True
    assert page.band.response is False
    page.fill("keys")
    assert page.band.keys == ()
    page.fill("choruses", "")
    assert page.band.choruses == 0


def test_chords_are_typed_and_taken_back() -> None:
    page = Page()
    page.fill("chords", "Dm7 G7 | Cmaj7")
    assert page.band.over == "Dm7 G7 | Cmaj7"
    assert page.fields["over"] == ["typed"]
    page.fill("over", "turnaround")
    assert (page.band.over, page.fields["chords"]) == ("turnaround", [""])
    page.fill("chords", "Am7 | D7")
    page.fill("chords", "")
    assert page.band.over == ALONE


def test_a_chord_that_is_none_is_told_with_its_bar_and_stays_typed() -> None:
    page = Page()
    answer = page.fill("chords", "Dm7 G7 | Hm7 C7")
    html = answer["patches"]["band-setup"]
    assert "&quot;Hm7&quot; in bar 2" in html
    assert "chords" not in fields_of(html)
    assert answer["replay"] is False
    assert page.band == Band(over=ALONE)


@pytest.mark.parametrize("text", ["39", "321", "x"])
def test_a_tempo_that_none_can_play_is_told(text: str) -> None:
    page = Page()
    html = page.fill("tempo", text)["patches"]["band-setup"]
    assert f"&quot;{text}&quot; is no tempo: write a whole number from 40 to 320." in html
    assert page.band.tempo == 120


def test_lines_are_added_from_the_book_and_of_ones_own_up_to_a_number() -> None:
    page = Page(own=[saved(OTHER, 1, 1)])
    page.fields["from-book"] = [to_link(LINE)]
    assert page.ask("add", "book")["replay"] is True
    assert page.band == Band(lines=(LINE,))
    page.fields["from-own"] = [page.own[0]["id"]]
    page.ask("add", "own")
    assert [to_link(line) for line in page.band.lines] == [to_link(LINE), to_link(OTHER)]
    page.ask("remove", "0")
    assert [to_link(line) for line in page.band.lines] == [to_link(OTHER)]
    for _ in range(MOST_LINES):
        answer = page.ask("add", "book")
    assert len(page.band.lines) == MOST_LINES
    assert "is one too many" in answer["patches"]["band-lines"]
    page.fields["from-own"] = ["gone"]
    assert "is no line of this device" in page.ask("add", "own")["patches"]["band-lines"]


def test_what_sounds_is_told_chapter_by_chapter() -> None:
    page = Page(MINE + "&response=on&keys=C,F&choruses=2&rise=10&count-in=1")
    sound = page.ask("hear", "band")["sound"]
    made = arranged(page.band)
    assert len(sound["chapters"]) == len(made.arrangement.chapters)
    places = [place for _, place in sound["chapters"]]
    assert {frozenset(place) for place in places} == {frozenset({"key", "next", "chord", "chorus", "turn", "now"})}
    assert places[0]["chorus"].startswith("Count-in")
    assert [(place["key"], place["next"], place["now"]) for place in places][1::len(places) - 2] == [
        ("C", "then F", "120"), ("F", "then C", "130"),
    ]  # fmt: skip
    turns = {place["turn"] for place in places}
    assert "Your turn" in turns
    assert LINE.title in turns


def test_a_minor_key_is_told_as_one() -> None:
    places = [place for _, place in Page("v=1&over=minor-blues&choruses=2").ask("hear", "band")["sound"]["chapters"]]
    assert places[0]["key"] in "ABCDEFG"
    assert places[0]["next"].startswith("minor, then ")


def test_a_line_in_another_meter_is_left_out_and_said() -> None:
    reply = Page(MINE + "&over=waltz").ask("hear", "band")
    assert "was left out" in reply["notice"]
    assert {place["turn"] for _, place in reply["sound"]["chapters"]} == {""}


def test_it_is_shared_saved_and_accompanied_otherwise() -> None:
    page = Page(MINE)
    assert page.ask("share", "")["share"]["link"] == write_band(page.band)
    file = page.ask("midi", "")["file"]
    midi = mido.MidiFile(file=BytesIO(b64decode(file["base64"])))
    assert [track.name for track in midi.tracks][1:] == ["Line", "Piano", "Bass", "Drums"]
    before = page.ask("hear", "band")["sound"]["events"]
    page.ask("anew", "")
    assert page.band.seed != 1
    assert page.ask("hear", "band")["sound"]["events"] != before


def test_every_order_has_a_name() -> None:
    html = setup_html(Band(over=ALONE), USUAL)
    assert all(f'value="{name}"' in html for name in ORDER_NAMES)


def test_what_comes_with_the_page_is_what_is_answered() -> None:
    page = Page()
    own = page.html[""]
    band = with_chords(Band())
    for html in (lines_html(band, (), USUAL), setup_html(band, USUAL)):
        assert html in own
    assert page.html["band-marks"] == marks_html(band, (), USUAL)


# --- tempos reached --------------------------------------------------------------------------


def test_a_tempo_is_reached_in_a_key_typed_and_taken_back() -> None:
    page = Page(MINE)
    page.ask("reached", "F")
    assert page.marks == {"F": 120}
    page.fields["now"] = ["148"]  # what sounded last
    assert page.ask("reached", "Bb")["patches"].keys() == {"band-marks"}
    page.fill("mark-F", "140")
    assert page.marks == {"F": 140, "Bb": 148}
    page.fill("mark-Bb", "")
    assert page.marks == {"F": 140}
    for marks in ({"F": 140, "Bb": 148}, {"F": 120, "Bb": 148}, {"F": 120}, {}):
        page.ask("back", "")
        assert page.marks == marks
    assert page.ask("back", "") == {}
    assert "&quot;500&quot; is no tempo" in page.fill("mark-C", "500")["patches"]["band-marks"]
    assert page.marks == {}


@pytest.mark.parametrize("key", ["F", "Eb"])
def test_the_lines_page_tells_it_in_whatever_key_it_is_shown(key: str) -> None:
    own = [reaching([], LINE, "F", 140, 5)]
    own.append(reaching(own, LINE, "Bb", 120, 3))  # the clock was set back
    request = {**as_state(shown(LINE)), "fields": {"key": [key]}, "pressed": None, "link": "", "own": own, "at": 9}
    html = json.loads(call(json.dumps(request)))["patches"]["line"]
    assert "Played with the band: F 140, B♭ 120." in html
    assert 'href="../band.html#v=1&amp;line=' in html
    opened = {**as_state(shown(LINE)), "fields": {}, "pressed": ["open", ""], "link": "", "own": own, "at": 9}
    assert "Played with the band" in json.loads(call(json.dumps(opened)))["patches"]["line"]


def test_a_line_is_known_by_its_music_in_every_key() -> None:
    own = [reaching([], LINE, "F", 140, 5)]
    for key in keys_of(LINE.key.mode):
        assert reached(own, moved_to(LINE, key)) == {"F": 140}
    assert reached(own, OTHER) == {}
    assert reached(own, replace(LINE, notes=LINE.notes[:-1])) == {}
    with pytest.raises(BadInput):
        reaching([], LINE, "Dm" if LINE.key.mode == "major" else "D", 140, 5)


def test_records_travel_with_those_of_lines_and_are_no_lines() -> None:
    record = reaching([], LINE, "F", 140, 5)
    back = reaching([record], LINE, "F", None, 5)
    assert back["at"] == 6
    for order in ([record, back], [back, record]):
        assert reached(order, LINE) == {}
    assert fold([record, back]) == fold([])
    assert read_file(as_file([], [record, back])).lines == [record, back]
    assert new_records([record], [back], 5) == [record]
    for wrong in ({"tempo": 39}, {"tempo": True}, {"tempo": "140"}, {"key": "H"}, {"key": 3}, {"more": 1}, {"id": "A"}):
        assert not is_record(record | wrong)
