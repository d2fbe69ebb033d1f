"""The two pages of own lines as the page sees them: requests of the agreed shape in, patches and records out."""

import json
import random
import re
from fractions import Fraction
from html import unescape
from typing import Any

import pytest

from engine import browser
from engine.formats.abc import read_abc, write_abc
from engine.neck.instrument import GUITAR
from engine.practice.entry import LENGTHS, Entry, line_of, tapped
from engine.practice.line_in_link import from_link, to_link
from engine.practice.own_lines import fold, saved, to_abc
from engine.practice.own_records import is_record
from engine.practice.own_way import OwnWay, keeping
from engine.theory.chord import KINDS
from engine.theory.chord_symbol import parse_chord
from engine.theory.degree import parse_degree
from engine.theory.key import parse_key
from engine.theory.naming import name_over
from engine.theory.pitch import parse_pitch
from engine.view.entry import Board, entry_form_html
from engine.view.own_lines import SHOWN_LINES, page_html
from tests.engine.lines_at_random import line_at_random

AT = 1_790_000_000_000
HOSTILE = "<img src=x onerror='harm()'>"
ABC = f'X:1\nT:{HOSTILE}\nS:{HOSTILE}\nG:still to study\nN:{HOSTILE}\nK:F\n"Gm7"_Bdfa "C7"gec=B|"Fmaj7"A8|]\n'


class Page:
    """A page with one form, as the client keeps it: its state, its link, and the records on the device."""

    def __init__(self, do: str, link: str = "", own: list[Any] | None = None) -> None:
        self.desk: dict[str, Any] = {"do": do}
        self.link = link
        self.own = own or []
        self.patches: dict[str, str] = {}
        self.chance = 0
        self.reply: dict[str, Any] = {}

    def ask(self, name: str | None = None, value: str = "", **fields: str) -> dict[str, Any]:
        self.chance += 1
        request = {
            **self.desk,
            "pressed": [name, value] if name is not None else None,
            "fields": {field: [text] for field, text in fields.items()},
            "link": self.link,
            "at": AT + self.chance,
            "chance": self.chance,
            "own": self.own,
        }
        self.reply = json.loads(browser.call(json.dumps(request)))
        self.desk = self.reply.get("desk", self.desk)
        self.link = self.reply.get("link", self.link)
        self.patches.update(self.reply.get("patches", {}))
        self.own += self.reply.get("keep", [])
        assert all(is_record(record) for record in self.own)
        assert HOSTILE not in json.dumps(self.reply.get("patches", {}), ensure_ascii=False)
        return self.reply

    def shown(self) -> str:
        """What a reader sees of all patches."""
        return " ".join(unescape(re.sub("<[^>]*>", "", html)) for html in self.patches.values())


def entry(*taps: str) -> Page:
    page = Page("entry")
    page.ask("open")
    for tap in taps:
        name, _, value = tap.partition(" ")
        page.ask(name, value)
    return page


def kept(*texts: str) -> list[Any]:
    return [saved(read_abc(text)[0], AT - 100 + number, number) for number, text in enumerate(texts)]


# --- tapping in ----------------------------------------------------------------

KEY = re.compile(
    r'<button type="button" name="note" value="(\d+)" class="(black|white) ?(\S*)">(?:<b>(.*?)</b>)?<span>(.*?)</span>'
)


DEGREE = re.compile(r'class="degree[ a-z]*"[^>]*>(.*?)<')


def keys_of(html: str) -> list[tuple[int, str, str, str, str]]:
    return [(int(midi), *rest) for midi, *rest in KEY.findall(html)]


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("root", ["C", "F#", "Bb", "Db", "E"])
@pytest.mark.parametrize("key", ["C", "Gb", "Em"])
def test_each_key_shows_its_degree_over_each_chord(root: str, kind: str, key: str) -> None:
    """The degree, the note and the mark on every key, as the engine names that note over that chord."""
    symbol = root + ("" if kind == "maj" else kind)
    made = Board(tapped(Entry(parse_key(key)), "chord", symbol))
    found = keys_of(entry_form_html(made))
    assert [midi for midi, *_ in found] == [*range(72, 84), *range(60, 72)]
    for midi, colour, shape, degree, name in found:
        note = parse_pitch(name).in_octave(None)
        assert note.pitch_class == midi % 12
        naming = name_over(parse_chord(symbol), note)
        assert parse_degree(degree) == naming.degree
        assert colour == ("black" if midi % 12 in (1, 3, 6, 8, 10) else "white")
        marks = {"chord tone": "disc", "extension": "ring", "alteration": "half", "passing": "dot", "outside": "dot"}
        assert shape == marks[naming.role]


def test_without_a_chord_keys_have_names_only() -> None:
    found = keys_of(entry_form_html(Board()))
    assert len(found) == 24
    assert all(not degree and not shape for _, _, shape, degree, _ in found)


def test_a_line_in_ten_taps() -> None:
    page = entry("chord Dm7", *(f"note {midi}" for midi in (65, 69, 72, 76, 74, 72, 71, 69)))
    assert DEGREE.findall(page.patches["entry-line"]) == [
        "♭3",
        "5",
        "♭7",
        "9",
        "1",
        "♭7",
        "13",
        "5",
    ]
    assert "arpeggio from the third" in page.patches["entry-devices"]
    assert from_link(page.link.partition("line=")[2]).notes[3].pitch == parse_pitch("E5")
    reply = page.ask("note", "67")
    assert set(reply["patches"]) <= {"entry-line", "entry-devices", "entry-moves"}, "the keys stay as they are"
    assert reply["said"].startswith("G, 11.")
    reply = page.ask("keep", title=" Mine ", source="A tune, bar 3", remarks="one\ntwo", study="yes")
    (record,) = reply["keep"]
    assert reply["go"] == f"lines/own.html#v=1&id={record['id']}"
    assert (reply["link"], reply["desk"]["entry"]["events"]) == ("", [])
    (own,) = fold([record]).lines
    assert own.line
    assert (own.line.title, own.line.source, own.line.remarks) == ("Mine", "A tune, bar 3", ("one", "two"))
    assert own.is_to_study


def test_a_device_is_said_when_it_becomes_true() -> None:
    page = entry("chord Dm7", "note 65", "note 69", "note 72")
    assert "arpeggio" not in page.reply["said"]
    assert "is the arpeggio from the third of Dm7" in page.ask("note", "76")["said"]
    assert "arpeggio" not in page.ask("length", "1")["said"]


@pytest.mark.parametrize("seed", range(12))
def test_a_walk_on_the_page(seed: int) -> None:
    """Whatever is pressed, the page answers, and what it shows and hands on is the line that the taps are."""
    chance = random.Random(seed)
    page = Page("entry")
    page.ask("open")
    key, meter = "C", "4/4"
    for _ in range(80):
        draw = chance.random()
        names = (
            "note",
            "note",
            "note",
            "note",
            "rest",
            "longer",
            "bar",
            "undo",
            "redo",
            "chord",
            "length",
            "low",
        )
        name = names[int(draw * len(names))]
        if chance.random() < 0.05:
            key, meter = ("Db", "3/4") if key == "C" else ("C", "4/4")
        values = {
            "note": [str(midi) for midi in range(48, 84)], "chord": ["Dm7", "G7alt", "Db7", "F#m7b5", "C"],
            "length": [*LENGTHS], "low": ["36", "48", "60", "72"],
        }.get(name, [""])  # fmt: skip
        before = page.desk
        reply = page.ask(name, values[int(chance.random() * len(values))], key=key, meter=meter)
        if "error" in reply:
            assert page.desk == before
            continue
        state = page.desk["entry"]
        assert (state["key"], state["meter"]) == (key, meter)
        made = line_of(
            Entry(parse_key(key), read_abc(f'M:{meter}\nK:C\n"C"c')[0].meter, tuple(map(tuple, state["events"])))
        )
        shown = DEGREE.findall(page.patches.get("entry-line", ""))
        assert len(shown) == (len(made.notes) if made else 0)
        if made and "line=" in page.link:
            assert (from_link(page.link.partition("line=")[2]).notes) == made.notes


def test_undo_redo_and_octaves() -> None:
    page = entry("chord C", "note 60", "note 62", "undo", "low 48")
    assert [midi for midi, *_ in keys_of(page.patches["entry-keys"])][-12] == 48
    assert page.ask("redo")["desk"]["entry"]["events"][-1] == ["note", "62"]
    assert page.ask("low", "5")["desk"]["low"] == 48
    assert page.ask("low", "-12")["desk"]["low"] == 48


def test_a_typed_chord_is_taken_with_the_next_note_or_by_enter() -> None:
    page = entry("chord C")
    page.ask(None, typed="Bb")
    assert 'value="Bbm7"' in page.patches["entry-chords"]
    assert page.desk["entry"]["events"] == [["chord", "C"]], "half of a symbol is no chord yet"
    page.ask("note", "62", typed="Bb7")
    assert page.desk["entry"]["events"][-2:] == [["chord", "Bb7"], ["note", "62"]]
    # The field may still have it while it has the focus.
    page.ask("note", "65", typed="Bb7")
    assert page.desk["entry"]["events"][-1] == ["note", "65"]
    page.ask(None, typed="Ebmaj7")
    assert '<button type="submit" name="chord" value="Ebmaj7">' in page.patches["entry-chords"]
    page.ask("chord", "Ebmaj7", typed="Ebmaj7")
    assert page.desk["entry"]["events"][-1] == ["chord", "Ebmaj7"]
    reply = page.ask("note", "60", typed="H")
    assert '"H" does not start with a root' in reply["error"]
    assert page.desk["entry"]["events"][-1] == ["chord", "Ebmaj7"]


def test_the_page_opens_on_what_its_link_names() -> None:
    line = read_abc(ABC)[0]
    page = Page("entry", f"v=1&line={to_link(line)}")
    page.ask("open")
    assert "still to study" not in page.reply
    assert from_link(page.ask("length", "1", key="F", title=HOSTILE)["link"].partition("line=")[2]).notes == line.notes
    records = kept(ABC)
    own = Page("entry", f"v=1&id={records[0]['id']}", [*records])
    own.ask("open")
    assert own.desk["of"][0] == records[0]["id"]
    own.own = []  # from here on the form has what it needs
    own.ask("note", "60", key="F")
    assert own.link.startswith(f"v=1&id={records[0]['id']}&line=")
    reply = own.ask("keep", key="F", title="Other", study="yes")
    assert reply["keep"][0]["id"] == records[0]["id"]
    assert reply["keep"][0]["at"] > records[0]["at"]


@pytest.mark.parametrize(
    ("link", "words"),
    [
        ("v=1&id=nothere", "not on this device"),
        ("v=1&line=", "copy the whole link again"),
        ("v=1&line=%ff", "is no text"),
        ("v=1&line=M%3A4%2F4%0AK%3AC%0A%22C%22c8%7C", "copy the whole link again"),
        (f"v=1&line={'c' * 4000}", "too long"),
        ("v=1&line=K:C%0A%22H7%22c8|]", "does not start with a root"),
        (f"v=1&id={HOSTILE}", "not on this device"),
    ],
)
def test_a_cut_or_hostile_link_gets_one_sentence(link: str, words: str) -> None:
    new = Page("entry", link)
    reply = new.ask("open")
    assert words in reply["notice"]
    assert len(reply["notice"]) < 250
    assert keys_of(new.patches["entry"])
    own = Page("own lines", link)
    reply = own.ask("open")
    assert words in (reply.get("notice") or own.shown())
    assert "My lines" in own.shown()


@pytest.mark.parametrize(
    "state",
    [
        {"entry": None}, {"entry": {}}, {"entry": {"key": "C", "meter": "4/4", "events": 5, "undone": []}},
        {"entry": {"key": HOSTILE, "meter": "4/4", "events": [], "undone": []}},
        {"entry": {"key": "C", "meter": "4/4", "events": [], "undone": []}, "low": 61},
        {"entry": {"key": "C", "meter": "4/4", "events": [], "undone": []}, "of": ["a"]},
        {"entry": {"key": "C", "meter": "4/4", "events": [], "undone": []}, "of": ["<", 1, "x"]},
    ],
)  # fmt: skip
def test_a_state_that_cannot_be_gets_one_sentence(state: dict[str, Any]) -> None:
    page = Page("entry")
    page.desk = {"do": "entry", **state}
    assert len(page.ask("rest")["error"]) < 250


def test_a_line_without_a_note_is_not_kept() -> None:
    assert "There is no note yet" in entry("chord C").ask("keep")["error"]


# --- the list and one line ---------------------------------------------------------


def test_an_empty_list_says_what_to_do() -> None:
    page = Page("own lines")
    page.ask("open")
    assert "There is none yet. Tap in a line" in page.shown()
    assert 'href="new.html"' in page.patches["own-page"]
    assert 'id="own-page"' in page_html()


def test_the_list_tells_what_a_line_is() -> None:
    page = Page("own lines", own=kept(ABC, 'X:1\nT:Plain\nK:C\n"C"CEGc|]\n'))
    page.ask("open")
    shown = page.shown()
    assert HOSTILE.replace("'", "’") in shown
    assert "♭3–5–♭7–9–5 …" in shown
    assert shown.index("Plain") < shown.index("♭3–5–♭7–9–5"), "the newest first"
    page.ask(None, only="yes")
    assert "Plain" not in page.shown()
    assert "still to study" in page.patches["own-page"]


def test_a_long_list_is_shown_in_parts() -> None:
    page = Page("own lines", own=[saved(line_at_random(seed), AT - 10 * seed, seed) for seed in range(SHOWN_LINES + 5)])
    page.ask("open")
    assert page.patches["own-page"].count("<li><a") == SHOWN_LINES
    page.ask("more")
    assert page.patches["own-page"].count("<li><a") == SHOWN_LINES + 5
    assert 'name="more"' not in page.patches["own-page"]
    page.ask(None)
    assert page.patches["own-page"].count("<li><a") == SHOWN_LINES + 5


def test_a_life_of_a_line() -> None:
    page = Page("own lines", own=kept(ABC))
    name = page.own[0]["id"]
    page.link = f"v=1&id={name}"
    page.ask("open")
    text = fold(page.own).lines[0].abc
    said = {"title": HOSTILE, "source": HOSTILE, "remarks": HOSTILE, "study": "yes", "abc": text}
    assert "keep" not in page.ask(None, **said), "nothing was changed"
    page.ask(None, **{**said, "title": "New"})
    assert fold(page.own).lines[0].line.title == "New"  # type: ignore[union-attr]
    text = fold(page.own).lines[0].abc
    del said["study"]
    page.ask(None, **{**said, "title": "New", "abc": text})
    assert not fold(page.own).lines[0].is_to_study
    text = fold(page.own).lines[0].abc
    # What is wrong with the text is said below it; what is said beside it is kept all the same.
    reply = page.ask(None, **{**said, "title": "Newer", "abc": text.replace('"C7"', '"H7"')})
    assert list(reply["patches"]) == ["own-fault"]
    assert '"H7" does not start with a root' in page.shown()
    assert fold(page.own).lines[0].line.title == "Newer"  # type: ignore[union-attr]
    text = fold(page.own).lines[0].abc
    page.ask(None, **{**said, "abc": text.replace('"C7"', '"C13"').replace("\n", "\r\n")})
    assert '"C13"' in fold(page.own).lines[0].abc
    assert "C13" in page.shown()

    page.ask("delete")
    assert (fold(page.own).lines, page.link) == ((), "")
    assert "“Newer” was deleted." in page.shown()
    page.ask("restore", name)
    assert [own.id for own in fold(page.own).lines] == [name]
    page.link = f"v=1&id={name}"
    page.ask("open")
    page.ask("delete")
    page.link = f"v=1&id={name}"
    page.ask("open")
    assert (page.link, "“Newer” was deleted." in page.shown()) == ("", True)
    assert len(page.own) == 1 + 4 + 3, "records are only ever added"


def test_a_text_that_cannot_be_read_can_be_mended() -> None:
    page = Page("own lines", own=[{"v": 1, "id": "bad", "at": 1, "abc": f'X:1\nT:{HOSTILE}\nK:C\n"H"c8|]'}])
    page.ask("open")
    assert "A line that cannot be read" in page.shown()
    page.link = "v=1&id=bad"
    page.ask("open")
    assert "does not start with a root" in page.shown()
    assert "keep" not in page.ask(None, abc='X:1\nT:x\nK:C\n"H"c8|]')
    page.ask(None, abc='X:1\nT:x\nK:C\n"C"c8|]')
    assert fold(page.own).lines[0].line


def test_lines_are_pasted_and_read_from_a_file() -> None:
    page = Page("own lines")
    page.ask("open")
    page.ask("paste", paste=ABC + '\nX:2\nT:Bad\nK:C\n"C"h|]\n')
    assert "1 line was kept." in page.shown()
    assert 'line 12, column 4: "h" is no sign of music' in page.shown()
    assert "T:Bad" in page.patches["own-page"]
    assert " open>" in page.patches["own-page"]
    # It is told where it was pasted: behind a long list the top of the page is out of sight.
    assert page.patches["own-page"].index('class="list"') < page.patches["own-page"].index('class="told"')
    page.ask(None, file=ABC)
    assert "1 was there already." in page.shown()
    assert "kept" not in page.reply["said"]
    text = page.ask("save")["file"]
    assert text == {"name": "my-lines.abc", "type": "text/vnd.abc", "text": to_abc(fold(page.own).lines)}
    many = "\n".join(f'X:{number}\nK:C\n"C"h|]\n' for number in range(12))
    page.ask("paste", paste=many)
    assert page.shown().count("is no sign of music") == 8
    assert "4 more cannot be read." in page.shown()


def test_a_line_that_came_with_a_link_is_kept_once() -> None:
    link = f"v=1&line={to_link(read_abc(ABC)[0])}"
    page = Page("own lines", link)
    page.ask("open")
    assert page.own == []
    assert "Keep it in my lines" in page.shown()
    page.ask("take")
    assert len(page.own) == 1
    name = page.own[0]["id"]
    assert page.link == f"v=1&id={name}"
    again = Page("own lines", link, page.own)
    again.ask("open")
    assert "among your lines already" in again.shown()
    again.ask("take")
    assert (len(again.own), again.link) == (1, f"v=1&id={name}")


def test_what_is_shared_names_no_id() -> None:
    line = read_abc(ABC)[0]
    request = {"do": "line", "abc": write_abc(line), "key": "F", "next": None, "pressed": ["share", "line"]}
    reply = json.loads(browser.call(json.dumps({**request, "fields": {"key": ["Bb"]}, "link": "v=1&id=abc"})))
    assert "id=" not in reply["share"]["link"]
    page = Page("own lines", reply["share"]["link"])
    page.ask("open")
    assert "B♭" in page.shown()
    assert from_link(page.desk["line"]).notes == line.notes


def test_the_beats_of_a_bar_stand_where_they_are() -> None:
    page = entry("chord C", "length 1", "note 60", "length 1/2", "note 62")
    places = [float(x) for x in re.findall(r'class="degree[^"]*" x="([\d.]+)"', page.patches["entry-line"])]
    assert Fraction(places[1] - places[0]).limit_denominator(10) == 80


def test_a_line_too_wide_to_reach_is_still_within_the_keyboard_octaves() -> None:
    for seed in range(30):
        page = Page("entry", f"v=1&line={to_link(line_at_random(seed))}")
        page.ask("open")
        assert page.desk["low"] % 12 == 0
        assert 24 <= page.desk["low"] <= 96


def test_a_line_of_ones_own_is_shown_as_it_is_played() -> None:
    line, *_ = read_abc(ABC)
    record = keeping([], line, GUITAR, OwnWay(held=((1, 3),)), AT)
    page = Page("own lines", own=[saved(line, AT, 1), record])
    page.ask("open")
    page.link = f"v=1&id={page.own[0]['id']}"
    page.ask("open")
    figure = re.search('id="staff" data-engraving="([^"]*)"', page.patches["own-line"])
    assert figure
    notes = [note for bar in json.loads(unescape(figure[1]))["bars"] for note in bar["notes"]]
    assert [(note["index"], note["string"]) for note in notes if "held" in note] == [(1, 3)]
    assert len(fold(page.own).lines) == 1
