"""A line's page on the neck: what it shows, what its form asks, what is kept, undone and linked."""

import json
import re
from html import unescape
from typing import Any

import pytest

from engine.browser import call
from engine.formats.abc import read_abc, write_abc
from engine.lines.line import Line
from engine.lines.moving import Span, placed
from engine.lines.stock import stock
from engine.neck.fingering import ways
from engine.neck.instrument import GUITAR, INSTRUMENTS
from engine.practice import fingered as fingered_module
from engine.practice.fingered import fingered, lowest
from engine.practice.line_on_neck import MOST_UNDONE
from engine.practice.own_way import ANY_WAY, OwnWay, keeping, kept
from engine.practice.settings import Settings, settings_as_json
from engine.practice.shown_line import as_state, shown
from engine.theory.key import parse_key
from engine.view.line_neck import window
from engine.view.line_page import line_form_html

LINES = [placed(line, Span(GUITAR.lowest, GUITAR.highest)) for line in stock()]
LINE = LINES[0]
LEAP = read_abc('X:1\nL:1/8\nK:C\n"C" C,D,E,F, G,A,B,C|"C" c\'2 C,D, E,F,G,A,|]\n')[0]


class Page:
    """The form of a line's page, and the device that keeps what it says."""

    def __init__(self, line: Line, **more: Any) -> None:
        self.line, self.more = line, more
        self.state: dict[str, Any] = as_state(shown(line))
        self.html, self.link, self.own, self.at = line_form_html(shown(line)), "", [], 0  # type: ignore[var-annotated]

    def ask(self, pressed: tuple[str, str] | None = None, **fields: str) -> dict[str, Any]:
        self.at += 1
        answer = json.loads(call(json.dumps({
            **self.state, "pressed": pressed, "fields": {name: [value] for name, value in fields.items()},
            "link": self.link, "own": self.own, "at": self.at, "chance": 1, **self.more,
        })))  # fmt: skip
        assert "error" not in answer, answer
        self.link = answer.get("link", self.link)
        self.own += answer.get("keep", [])
        if "line" in answer.get("patches", {}):
            self.html = answer["patches"]["line"]
            found = re.search(r'data-desk="([^"]*)"', self.html)
            assert found
            self.state = json.loads(unescape(found[1]))
        self.state = answer.get("desk", self.state)
        return dict(answer)

    def reopened(self, link: str | None = None) -> "Page":
        """The page on another visit to this device."""
        page = Page(self.line, **self.more)
        page.own, page.at, page.link = self.own, self.at, self.link if link is None else link
        page.ask(("open", ""))
        return page

    @property
    def spec(self) -> dict[str, Any]:
        found = re.search(r'id="staff" data-engraving="([^"]*)"', self.html)
        assert found
        return dict(json.loads(unescape(found[1])))

    @property
    def places(self) -> list[tuple[int, int]]:
        notes = [note for bar in self.spec["bars"] for note in bar["notes"]]
        return [(note["string"], note["fret"]) for note in notes if "string" in note and "back" not in note]

    def chips(self, name: str) -> dict[str, bool]:
        """What can be chosen, and whether it is."""
        found = re.findall(rf'<button type="button" name="{name}" value="([^"]*)" aria-pressed="(\w+)"', self.html)
        return {value: pressed == "true" for value, pressed in found}


@pytest.mark.parametrize("line", LINES, ids=lambda line: f"{line.number}")
def test_the_page_shows_the_best_way_and_the_others_to_choose(line: Line) -> None:
    page = Page(line)
    found = ways(line)
    assert page.places == list(found[0].places)
    assert list(page.chips("way")) == [str(lowest(way)) for way in found]
    assert list(page.chips("way").values()) == [True] + [False] * (len(found) - 1)
    rows = re.findall(r"<td>(\d+)</td><td>(\d+)</td></tr>", page.html)
    assert [(int(string), int(fret)) for string, fret in rows] == page.places
    assert page.html.count('<figure class="neck-figure">') == len({line.place_at(note.start) for note in line.notes})


def test_another_way_is_chosen_kept_linked_and_undone() -> None:
    page = Page(LINE)
    first, other = page.places, ways(LINE)[1]
    answer = page.ask(("way", str(lowest(other))))
    assert page.places == list(other.places)
    assert page.link == f"v=1&way={lowest(other)}"
    assert answer["keep"] == [keeping([], LINE, GUITAR, OwnWay(way=lowest(other)), 1)]
    assert page.reopened().places == page.places
    assert page.reopened("").places == page.places  # it is kept, whatever the address says
    assert Page.reopened(Page(LINE), page.link).places == page.places  # and another device has it from the link
    page.ask(("undo", ""))
    assert (page.places, page.link) == (first, "")
    assert page.reopened("").places == first


def test_a_note_is_tapped_held_elsewhere_and_let_go() -> None:
    page = Page(LINE)
    index = next(index for index, note in enumerate(LINE.notes) if len(GUITAR.places(note.pitch.midi)) > 2)
    best = page.places[index]
    answer = page.ask(("place", str(index)))
    assert f"string {best[0]} fret {best[1]}" in answer["said"]
    assert "keep" not in answer
    strings = [place.string for place in GUITAR.places(LINE.notes[index].pitch.midi)]
    assert list(page.chips("hold")) == [*(f"{index}:{string}" for string in strings), f"{index}:0"]
    assert page.chips("hold")[f"{index}:0"]
    other = next(string for string in strings if string != best[0])
    page.ask(("hold", f"{index}:{other}"))
    assert page.chips("hold")[f"{index}:{other}"]
    assert page.places[index][0] == other
    assert page.places == list(fingered(LINE, OwnWay(held=((index, other),)), Settings()).ways[0].places)
    assert next(note["held"] for bar in page.spec["bars"] for note in bar["notes"] if note.get("index") == index)
    assert page.link == f"v=1&hold={index}:{other}"
    page.ask(("hold", f"{index}:0"))
    assert page.places[index] == best
    page.ask(("undo", ""))
    assert page.places[index][0] == other
    page.ask(("free", ""))
    assert page.places[index] == best
    page.ask(("place", str(index)))
    assert page.chips("hold") == {}


def test_what_would_lie_better_is_done_by_one_press_and_undone() -> None:
    page = Page(LEAP)
    answer = page.ask(("place", "0"))
    better = page.ask(answer["then"])["patches"]["better"]
    said, value = re.findall(r'<span>([^<]*)</span> <button type="button" name="octave" value="([^"]*)"', better)[0]
    assert "shift" in said
    before = fingered(LEAP, ANY_WAY, Settings()).ways[0]
    page.ask(("octave", value))
    assert page.link == f"v=1&octave={value}"
    after = fingered(read_abc(write_abc(LEAP))[0], ANY_WAY, Settings()).ways[0]
    assert after.shifts == before.shifts > 0  # the line itself stays
    assert page.state["abc"] == as_state(shown(LEAP))["abc"]
    assert 'name="undo"' in page.html
    assert "line=" in page.html
    assert page.reopened("").places == page.places
    # The drills' links have the line as it is played now.
    assert re.findall(r"#v=1&amp;line=([^\"]*)", page.html) != re.findall(r"#v=1&amp;line=([^\"]*)", Page(LEAP).html)
    page.ask(("undo", ""))
    assert page.places == list(before.places)


def test_holds_and_the_way_go_along_to_another_key_and_back() -> None:
    page = Page(LINE)
    page.ask(("way", str(lowest(ways(LINE)[1]))))
    index = 2
    string = page.places[index][0]
    page.ask(("hold", f"{index}:{string}"))
    places, way = page.places, next(value for value, is_on in page.chips("way").items() if is_on)
    page.ask(None, key="D" if str(LINE.key) != "D" else "E")
    assert "key=" in page.link
    if "Not held here" not in page.html:
        assert page.places[index][0] == string
    assert page.reopened().places == page.places
    page.ask(None, key=str(LINE.key))
    assert page.places == places
    assert page.chips("way")[way]


def test_a_hold_that_another_key_has_not_is_left_out_there_in_one_sentence() -> None:
    page = Page(LINE)
    index = max(range(len(LINE.notes)), key=lambda place: LINE.notes[place].pitch.midi)
    string = min(place.string for place in GUITAR.places(LINE.notes[index].pitch.midi))
    deepest = max(place.string for place in GUITAR.places(LINE.notes[index].pitch.midi))
    page.ask(("hold", f"{index}:{deepest}"))
    told = 0
    for key in ("F", "Bb", "Eb", "Ab", "Db", "Gb", "B", "E", "A", "D", "G"):
        page.ask(None, key=key)
        there = shown(LINE, parse_key(key)).line.notes[index].pitch.midi
        can = deepest in {place.string for place in GUITAR.places(there)}
        assert ("Not held here" in page.html) != can
        told += not can
        assert f"hold={index}:{deepest}" in page.link
    assert told
    assert string < deepest


def test_no_more_than_twenty_are_undone() -> None:
    page = Page(LINE)
    some, other = (str(lowest(way)) for way in ways(LINE)[:2])
    for turn in range(MOST_UNDONE + 5):
        page.ask(("way", (some, other)[turn % 2]))
    assert len(page.state["neck"]["undo"]) == MOST_UNDONE
    for _ in range(MOST_UNDONE + 5):
        page.ask(("undo", ""))
    assert "undo" not in page.state["neck"]


def test_the_link_counts_before_what_is_kept() -> None:
    page = Page(LINE)
    some, other = (lowest(way) for way in ways(LINE)[:2])
    page.ask(("way", str(other)))
    assert page.reopened(f"v=1&way={some}").chips("way")[str(some)]
    answer = page.reopened("v=1&key=D")
    assert answer.state["neck"]["own"] == {"way": other}


@pytest.mark.parametrize("part", ["hold=99:1", "hold=x", "way=x", "octave=1:x"])
def test_a_part_of_a_link_that_cannot_be_done_is_told(part: str) -> None:
    page = Page(LINE)
    page.link = f"v=1&{part}"
    answer = page.ask(("open", ""))
    assert f"The link's {part.partition('=')[0]} was left out." in answer["notice"]
    assert page.places == list(ways(LINE)[0].places)


@pytest.mark.parametrize("name", INSTRUMENTS)
def test_the_page_is_made_anew_for_the_players_instrument(name: str) -> None:
    settings = Settings(INSTRUMENTS[name], stretch=4)
    page = Page(LINE, settings=settings_as_json(settings)).reopened()
    found = fingered(LINE, ANY_WAY, settings)
    assert page.spec.get("strings") == (len(settings.instrument.strings) if found.chosen else None)
    if found.chosen is None:
        assert "outside the" in page.html
        (value,) = set(re.findall(r'name="octave" value="([^"]*)"', page.html))
        page.ask(("octave", value))
    sounds = [settings.instrument.opens[string - 1] + fret for string, fret in page.places]
    (away,) = {sound - note.pitch.midi for sound, note in zip(sounds, LINE.notes, strict=True)}
    assert away % 12 == 0


def test_what_is_kept_for_one_tuning_does_not_count_for_another() -> None:
    page = Page(LINE)
    page.ask(("hold", f"0:{page.places[0][0]}"))
    other = Page(LINE, settings=settings_as_json(Settings(INSTRUMENTS["guitar in drop D"])))
    other.own, other.at = page.own, page.at
    other.ask(("open", ""))
    assert "neck" not in other.state
    other.ask(("way", next(iter(other.chips("way")))))
    assert kept(other.own, LINE, GUITAR) != kept(other.own, LINE, INSTRUMENTS["guitar in drop D"])


def test_nothing_is_made_anew_where_nothing_is_kept() -> None:
    page = Page(LINE)
    assert "patches" not in page.ask(("open", ""))


@pytest.mark.parametrize(("how", "said"), [("shape", "The same strings"), ("frets", "Each key within frets 7 to 11")])
def test_twelve_keys_to_practise(how: str, said: str) -> None:
    page = Page(LINE)
    answer = page.ask(("practise", how), **{"from": "7"})
    html = answer["patches"]["practised"]
    assert said in html
    items = html.split("<li>")[1:]
    assert len(items) == 12
    assert items[0].startswith(f"<b>In {LINE.key}</b>")
    specs = [json.loads(unescape(found)) for found in re.findall(r'data-engraving="([^"]*)"', html)]
    assert specs
    for spec in specs:
        assert spec["tab_only"]
        assert spec["strings"] == 6
        assert not any("name" in note for bar in spec["bars"] for note in bar["notes"])
    assert page.state["neck"]["low"] == 7
    # Another fret in the list shows the keys there at once; nothing else does.
    assert "frets 3 to 7" in page.ask(None, **{"from": "3"})["patches"]["practised"]
    assert "practised" not in page.ask(None, **{"from": "3"})["patches"]


def test_labels_are_degrees_or_names() -> None:
    page = Page(LINE)
    assert page.chips("labels") == {"degrees": True, "notes": False}
    degrees = re.findall(r"neck-picture.*?</svg>", page.html)
    page.ask(("labels", "notes"))
    assert page.chips("labels") == {"degrees": False, "notes": True}
    assert re.findall(r"neck-picture.*?</svg>", page.html) != degrees
    assert page.own == []


@pytest.mark.parametrize(
    ("frets", "shown_frets"),
    [((5, 6), (5, 9)), ((5, 11), (5, 11)), ((0, 3), (0, 4)), ((21, 22), (18, 22)), ((0, 9), (0, 9))],
)
def test_a_picture_shows_five_frets_at_least(frets: tuple[int, int], shown_frets: tuple[int, int]) -> None:
    assert window([GUITAR.places(40 + fret)[-1] for fret in frets], GUITAR) == shown_frets


def test_the_other_keys_are_worked_out_ahead_one_at_a_time() -> None:
    page = Page(LINE)
    fingered_module._ways.cache_clear()
    ahead, turns = page.ask(("open", ""))["ahead"], 0
    while ahead:
        answer = page.ask(ahead)
        assert set(answer) <= {"ahead"}
        ahead, turns = answer.get("ahead"), turns + 1
    assert turns == 13
    before = fingered_module._ways.cache_info().misses
    for key in ("Eb", "B", "G"):
        page.ask(None, key=key)
    assert fingered_module._ways.cache_info().misses == before


def test_what_cannot_be_undone_or_let_go_cannot_be_pressed() -> None:
    page = Page(LINE)
    state = re.compile(r'name="(undo|free)" value=""( disabled)?')
    assert state.findall(page.html) == [("undo", " disabled"), ("free", " disabled")]
    page.ask(("hold", f"0:{page.places[0][0]}"))
    assert state.findall(page.html) == [("undo", ""), ("free", "")]
    page.ask(("free", ""))
    assert state.findall(page.html) == [("undo", ""), ("free", " disabled")]


@pytest.mark.parametrize("how", ["shape", "frets"])
def test_the_chosen_way_to_practise_looks_chosen(how: str) -> None:
    page = Page(LINE)
    assert page.chips("practise") == {"shape": False, "frets": False}
    ways_to = page.ask(("practise", how))["patches"]["practise-ways"]
    pressed = re.findall(r'name="practise" value="(\w+)" aria-pressed="true"', ways_to)
    assert pressed == [how]


def test_at_the_staff_stands_which_way_the_tab_is_or_why_there_is_none() -> None:
    position = lowest(ways(LINE)[0])
    found = re.search(r'<p class="tab-told">The TAB: (\d+)\w\w position, ', Page(LINE).html)
    assert found
    assert int(found[1]) == position
    bass = Page(LINE, settings=settings_as_json(Settings(INSTRUMENTS["bass"])))
    bass.ask(("open", ""))
    assert "outside the bass" in bass.html.partition('class="no-tab"')[2].partition("</div>")[0]
    assert 'name="octave"' in bass.html.partition('class="no-tab"')[2].partition("</div>")[0]
