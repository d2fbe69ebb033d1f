"""With the band as the page's form: set-ups, what sounds, tempos that were reached."""

from __future__ import annotations

import json
import re
from base64 import b64decode
from dataclasses import replace
from io import BytesIO
from itertools import pairwise
from typing import Any

import mido
import pytest

from engine.browser import call
from engine.lines.moving import keys_of, moved_to
from engine.lines.progression import KEY_ORDERS
from engine.lines.stock import stock
from engine.practice.band import ALONE, MOST_LINES, Band, arranged, read_band, with_chords, write_band
from engine.practice.line_in_link import handed_on, to_link
from engine.practice.own_lines import fold, saved
from engine.practice.own_records import is_record, new_records
from engine.practice.reached import reached, reaching
from engine.practice.records import as_file, read_file
from engine.practice.shown_line import as_state, shown
from engine.sound.arrangement import as_json
from engine.sound.bass import FEELS
from engine.theory.bad_input import BadInput
from engine.theory.wording import USUAL, render, say
from engine.view import band_sound
from engine.view.band import BASS_NAMES, ORDER_NAMES, band_form_html, lines_html, marks_html, setup_html, state_of
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

    def heard(self) -> dict[str, Any]:
        """What sounds, with all parts that follow the first."""
        answer = self.ask("hear", "band")
        sound = answer["sound"]
        while sound["more"]:
            part = self.ask("hear", sound["more"])["sound"]
            assert (part["length"], part["loop"]) == (sound["length"], sound["loop"])
            for name in ("events", "chapters"):
                assert part[name][0][0] > sound[name][-1][0]
                sound[name] += part[name]
            sound["more"] = part["more"]
        return {**answer, "sound": sound}

    def midi(self) -> dict[str, Any]:
        """The file, whatever is done between."""
        answer = self.ask("midi", "")
        while "then" in answer:
            answer = self.ask(*answer["then"])
        return dict(answer["file"])

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
    assert page.heard()["sound"]["events"] == as_json(arranged(Band(over=ALONE)).arrangement)["events"]


def test_a_line_comes_by_link_and_brings_its_own_chords() -> None:
    page = Page(MINE + "&tempo=500&keys=F")
    assert (page.band.lines, page.band.over, page.band.tempo) == ((LINE,), "", 120)
    assert "tempo" in page.opened["notice"]
    assert [str(key) for key in page.band.keys] == ["F"]
    sound = page.heard()["sound"]
    assert any(event[5] is not None for event in sound["events"])


def test_each_field_counts_and_goes_into_the_link_and_back() -> None:
    page = Page(MINE)
    for name, values in (
        ("tempo", ["200"]), ("rise", ["4"]), ("over", ["two-five-one"]), ("keys", ["Bb", "Eb"]), ("choruses", ["6"]),
        ("order", ["random"]), ("response", ["on"]), ("count-in", ["2"]), ("swing", ["1.5"]), ("bass", ["two"]),
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
    assert "names a line that is not on this device" in page.ask("add", "own")["patches"]["band-lines"]


def test_what_sounds_is_told_chapter_by_chapter() -> None:
    page = Page(MINE + "&response=on&keys=C,F&choruses=2&rise=10&count-in=1")
    sound = page.heard()["sound"]
    made = arranged(page.band)
    places = [place for _, place in sound["chapters"] if "key" in place]
    assert len(places) == len(made.arrangement.chapters)
    assert all(set(place) == {"key", "next", "chord", "chorus", "turn", "now"} for place in places)
    assert places[0]["chorus"].startswith("Count-in")
    assert [(place["key"], place["next"], place["now"]) for place in places][1::len(places) - 2] == [
        ("C", "then F", "120"), ("F", "then C", "130"),
    ]  # fmt: skip
    turns = {place["turn"] for place in places}
    assert "Your turn" in turns
    assert "Dm7 G7 Cmaj7" in turns


def test_what_is_set_up_is_arranged_ahead_and_again_after_each_change(monkeypatch: pytest.MonkeyPatch) -> None:
    calls: list[Band] = []
    monkeypatch.setattr(band_sound, "arranged", lambda band: (calls.append(band), arranged(band))[1])
    band_sound.sound_of.cache_clear()
    page = Page(MINE)
    changes = (lambda: page.opened, lambda: page.fill("rise", "4"), lambda: page.ask("tempo", "+"))
    for change in changes:
        answer = change()
        calls.clear()
        assert answer["ahead"] == ["ahead", ""]
        assert answer["idle"] > 0
        assert page.ask(*answer["ahead"]) == {}
        heard = page.ask("hear", "band")
        assert calls == [page.band]
        assert heard["sound"]["events"] == as_json(arranged(page.band).part(0))["events"]
        # Nobody changes what is remembered.
        assert page.ask("hear", "band") == heard


def test_a_minor_key_is_told_as_one() -> None:
    places = [place for _, place in Page("v=1&over=minor-blues&choruses=2").heard()["sound"]["chapters"]]
    assert places[0]["key"] in "ABCDEFG"
    assert places[0]["next"].startswith("minor, then ")


def test_a_line_in_another_meter_is_left_out_and_said() -> None:
    reply = Page(MINE + "&over=waltz").heard()
    assert "was left out" in reply["notice"]
    assert {place["turn"] for _, place in reply["sound"]["chapters"]} == {""}


def test_it_is_shared_saved_and_accompanied_otherwise() -> None:
    page = Page(MINE)
    assert page.ask("share", "")["share"]["link"] == write_band(page.band)
    file = page.midi()
    midi = mido.MidiFile(file=BytesIO(b64decode(file["base64"])))
    assert [track.name for track in midi.tracks][1:] == ["Line", "Piano", "Bass", "Drums"]
    before = page.heard()["sound"]["events"]
    page.ask("anew", "")
    assert page.band.seed != 1
    assert page.heard()["sound"]["events"] != before


def test_every_order_has_a_name() -> None:
    html = setup_html(Band(over=ALONE, keys=keys_of("major")[:2]), USUAL)
    assert set(ORDER_NAMES) == set(KEY_ORDERS)
    assert all(f'<option value="{name}"' in html for name in ORDER_NAMES)
    assert set(BASS_NAMES) == set(FEELS)
    # All twelve as they are named go by fourths: that is offered once.
    for order, other in (("given", "fourths"), ("fourths", "given")):
        every = setup_html(Band(over=ALONE, order=order), USUAL)
        assert f'<option value="{order}" selected>cycle of fourths</option>' in every
        assert f'<option value="{other}"' not in every


def test_the_chips_show_the_order_of_play() -> None:
    page = Page(MINE + "&keys=Ab,C")
    chips = re.compile(r'value="(\w+)"( checked)? aria-label="[^"]+"><span>[^<]+(?:<small>(\d+)</small>)?')

    def shown() -> dict[str, str]:
        found = chips.findall(page.html["band-setup"])
        assert len(found) == 12
        assert all(bool(checked) == bool(place) for _, checked, place in found)
        return {key: place for key, _, place in found if place}

    assert shown() == {"Ab": "1", "C": "2"}
    page.fill("keys", "C", "F", "Ab")
    assert [str(key) for key in page.band.keys] == ["Ab", "C", "F"]
    assert "keys=Ab%2CC%2CF" in page.link or "keys=Ab,C,F" in page.link
    assert "They come in this order: A♭, C, F." in page.html["band-setup"]
    page.fill("order", "fourths")
    assert shown() == {"Ab": "1", "C": "2", "F": "3"}
    page.fill("order", "chromatic")
    assert shown() == {"Ab": "1", "C": "2", "F": "3"}
    page.fill("keys", "C", "F")
    assert shown() == {"C": "1", "F": "2"}
    page.fill("keys", "F")
    assert "Every chorus is in F." in page.html["band-setup"]
    page.fill("keys")
    assert shown() == {}
    assert "in this order: C, D♭, D, E♭" in page.html["band-setup"]


def test_a_line_of_this_device_comes_by_its_id_and_is_handed_on_itself() -> None:
    record = saved(replace(LINE, title="Mine"), 1, 1)
    page = Page(f"v=1&id={record['id']}&tempo=99", [record])
    assert page.opened["notice"] is None
    assert (page.band.lines[0].title, page.band.lines[0].notes, page.band.tempo) == ("Mine", LINE.notes, 99)
    # The address can be copied as it stands.
    assert page.link == write_band(page.band)
    assert read_band(page.link).band == page.band
    assert page.ask("share", "")["share"]["link"] == page.link
    other = Page("v=1&id=0&tempo=99", [record])
    assert "names a line that is not on this device" in other.opened["notice"]
    assert other.band == Band(over=ALONE, tempo=99)


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
    assert page.ask("reached", "F")["said"] == "F 120: kept."
    assert page.marks == {"F": 120}
    page.fields["now"] = ["148"]  # what sounded last
    assert page.ask("reached", "Bb")["patches"].keys() == {"band-marks", "band-kept"}
    page.fill("mark-F", "140")
    assert page.marks == {"F": 140, "Bb": 148}
    assert page.fill("mark-Bb", "")["said"] == "B♭: taken back."
    assert page.marks == {"F": 140}
    for marks in ({"F": 140, "Bb": 148}, {"F": 120, "Bb": 148}, {"F": 120}, {}):
        assert 'name="back"' in page.html["band-marks"]
        page.ask("back", "")
        assert page.marks == marks
    assert 'name="back"' not in page.html["band-marks"]
    assert page.ask("back", "") == {}
    assert "&quot;500&quot; is no tempo" in page.fill("mark-C", "500")["patches"]["band-marks"]
    assert page.marks == {}


@pytest.mark.parametrize("more", ["", "&response=on", "&over=blues", f"&line={to_link(OTHER)}", "&choruses=30"])
def test_a_line_can_be_marked_once_it_was_heard_to_its_end(more: str) -> None:
    sound = Page(f"{MINE}&keys=F,Bb,Eb&rise=10&choruses=3{more}").heard()["sound"]
    marks = [(time, place["mark"]) for time, place in sound["chapters"] if "mark" in place]
    ends = [
        one[0] + one[1]
        for one, then in pairwise([*(event for event in sound["events"] if event[5] is not None), None])
        if then is None or then[5] <= one[5]
    ]
    assert len(marks) == len(ends) >= 3
    band = sorted(event[0] for event in sound["events"])
    for (time, _), end in zip(marks, ends, strict=True):
        assert time <= end + 0.001
        # A last note that rings on past the end of a part is taken for heard once the part has nothing else to begin.
        assert time >= min(end, max(start for start in band if start < end) - 1) - 0.001
    assert [mark for _, mark in marks][:2] == ["F 120", "B♭ 130"]


def test_what_can_be_marked_stays_until_the_next_line_is_over() -> None:
    sound = Page(f"{MINE}&keys=F,Bb,Eb&rise=10&choruses=3").heard()["sound"]
    bar = 4 * 60 / 120
    told = [(time, place.get("mark"), place.get("key")) for time, place in sound["chapters"]]
    marks = [(time, mark) for time, mark, _ in told if mark]
    assert [mark for _, mark in marks] == ["F 120", "B♭ 130", "E♭ 140"]
    for (_, mark), (until, _) in pairwise(marks):
        begins = min(time for time, _, key in told if key and key == {"F 120": "B♭", "B♭ 130": "E♭"}[mark])
        assert until - begins > bar


def test_what_was_set_last_is_kept_until_it_is_begun_anew() -> None:
    page = Page()
    assert page.opened["kept"] == ""
    answer = page.fill("tempo", "150")
    assert read_band(answer["kept"]).band == page.band == Band(over=ALONE, tempo=150)
    # A link counts, and is what is there next time.
    other = Page(MINE + "&tempo=99&rise=x")
    assert read_band(other.opened["kept"]) == read_band(MINE + "&tempo=99")
    assert other.ask("restore", "") == {}
    answer = other.ask("afresh", "")
    assert (answer["kept"], answer["link"], other.band) == ("", "", Band(over=ALONE))
    assert 'name="restore"' in other.html["band-afresh"]
    other.ask("restore", "")
    assert (other.band.lines, other.band.tempo) == ((LINE,), 99)
    assert 'name="afresh"' in other.html["band-afresh"]


def test_play_says_which_fields_are_not_used() -> None:
    page = Page()
    page.fill("chords", "Dm7 G7 | Cmaj7")
    assert "not used" not in page.ask("hear", "band")["patches"]["unused"]
    before = page.heard()["sound"]
    page.fill("tempo", "999")
    page.fill("chords", "Dm7 H77")
    answer = page.ask("hear", "band")
    assert "&quot;Dm7 H77&quot; is not used: the chords set before are played." in answer["patches"]["unused"]
    assert "The tempo 999 is not used: 40 to 320 are possible, and 120 is played." in answer["patches"]["unused"]
    assert answer["sound"]["events"][:9] == before["events"][:9]
    assert page.fields["tempo"] == ["120"]
    assert page.fields["chords"] == ["Dm7 H77"], "what cannot be read stays to be mended"
    assert "H77" in page.html["band-setup"], "why it cannot be read stays beside its field"
    assert "not used" not in page.fill("chords", "Dm7 G7")["patches"]["unused"]


def test_what_went_well_is_kept_beside_the_band() -> None:
    page = Page(f"{MINE}&line={to_link(OTHER)}&keys=F,Bb&choruses=2&rise=10")
    assert page.fields["marking"] == [""]
    assert page.ask("well", "") == {}
    places = [place for _, place in page.heard()["sound"]["chapters"]]
    told = list(dict.fromkeys((place["mark"], place["marking"]) for place in places if "mark" in place))
    assert [mark for mark, _ in told] == ["F 120", "B♭ 130"]
    page.fields["marking"] = [told[1][1]]
    answer = page.ask("well", "")
    assert "B♭ 130: kept." in page.html["band-kept"]
    assert answer["said"] == "B♭ 130: kept."
    line = page.band.lines[int(page.fields["of"][0])]
    assert reached(page.own, line) == {"Bb": 130}
    assert page.fields["mark-Bb"] == ["130"]
    page.ask("back", "")
    assert reached(page.own, line) == {}
    assert "kept" not in page.html["band-kept"].replace("band-kept", "").replace('class="kept"', "")
    # Whoever has left the line out by then marks no other.
    page.ask("remove", str(page.band.lines.index(line)))
    page.fields["marking"] = [told[1][1]]
    assert page.ask("well", "") == {}


def test_each_line_has_marks_of_its_own() -> None:
    page = Page(f"{MINE}&line={to_link(OTHER)}")

    def marks() -> tuple[dict[str, int], dict[str, int]]:
        return reached(page.own, LINE), reached(page.own, OTHER)

    page.ask("reached", "F")
    assert page.fill("of", "1")["patches"].keys() == {"band-marks"}
    assert "mark-F" in page.fields
    assert page.fields["mark-F"] == [""]
    page.fill("mark-F", "90")
    page.ask("reached", "C")
    assert marks() == ({"F": 120}, {"C": 120, "F": 90})
    # What else is set leaves it at that line.
    page.fill("tempo", "200")
    assert (page.fields["of"], page.fields["mark-F"]) == (["1"], ["90"])
    page.fill("of", "0")
    assert page.fields["mark-F"] == ["120"]
    # The last change is taken back wherever it was, and shown.
    page.ask("back", "")
    assert page.fields["of"] == ["1"]
    assert marks() == ({"F": 120}, {"F": 90})
    page.ask("back", "")
    page.ask("back", "")
    assert page.fields["of"] == ["0"]
    assert marks() == ({}, {})
    page.ask("reached", "G")
    page.ask("remove", "0")
    assert "of" not in page.state
    assert 'name="of"' not in page.html["band-marks"]
    assert page.fields["mark-G"] == [""]


def test_every_button_that_marks_says_its_key() -> None:
    html = Page(MINE).html["band-marks"]
    for key in keys_of("major"):
        assert f'<span class="unseen"> in {render(say("{key}", key=key))}</span>' in html
    assert Page().html["band-marks"].count("<button") == 0
    assert "With a line chosen" in Page().html["band-marks"]


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
