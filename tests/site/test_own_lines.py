"""A player's own lines in the browser: tapped in, kept, changed, deleted and brought back, handed on and backed up."""

from __future__ import annotations

import json
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from browsing import DESK, PHONE, Served, Visit
from playwright.sync_api import Locator, Page, expect
from practising import REFUSED, WAIT, kept, sentence

from engine.formats.abc import read_abc
from engine.practice.line_in_link import to_link
from engine.practice.own_lines import OwnLine, fold
from engine.practice.records import read_file

pytestmark = pytest.mark.browser

OpenPage = Callable[..., Visit]

NEW, OWN = "lines/new.html", "lines/own.html"
THUMB = {"viewport": PHONE, "has_touch": True, "is_mobile": True, "device_scale_factor": 2}
NOTES = (65, 69, 72, 76, 74, 72, 71, 69)
ABC = 'X:1\nT:Down & <b>away</b>\nS:My own, bar 5\nN:slowly\nK:F\n"Gm7"_Bdfa "C7"gec=B|"Fmaj7"A8|]\n'


def button(page: Page, name: str, value: str = "") -> Locator:
    return page.locator(f'form.desk button[name="{name}"]' + (f'[value="{value}"]' if value else ""))


def tap(page: Page, name: str, value: str = "") -> None:
    button(page, name, value).tap()


def tap_a_line(page: Page, served: Served) -> int:
    """Eight notes, a change and the landing; how many taps that takes."""
    page.goto(served.url(NEW))
    taps = [("chord", "Dm7"), *[("note", str(midi)) for midi in NOTES], ("chord", "G7"), ("note", "71")]
    for name, value in taps:
        tap(page, name, value)
    expect(page.locator("svg.bar")).to_have_count(2, timeout=WAIT)
    return len(taps)


def lines_on(page: Page) -> list[str]:
    """The titles of the own lines on the device, the newest first."""
    return [own.line.title if own.line else own.abc for own in fold(kept(page, "lines")).lines]


def keep(page: Page) -> None:
    tap(page, "keep")
    page.wait_for_url("**/own.html#v=1&id=*", timeout=WAIT)
    expect(page.locator("#own-page h2").first).to_be_visible(timeout=WAIT)


def open_own(page: Page, served: Served) -> None:
    page.goto(served.url(OWN))
    expect(page.locator("#own-page .told, #own-page .list, #own-page details").first).to_be_attached(timeout=WAIT)


def fill(page: Page, name: str, text: str) -> None:
    field = page.locator(f'#own [name="{name}"]')
    field.fill(text)
    field.blur()


def until_kept(page: Page, so: Callable[[OwnLine], bool]) -> OwnLine:
    """The newest own line, once it is as wished."""
    for _ in range(WAIT // 50):
        (own, *_) = fold(kept(page, "lines")).lines
        if so(own):
            return own
        page.wait_for_timeout(50)
    raise AssertionError(f"what was kept is {own}")


def test_a_line_is_tapped_in_and_each_tap_shows_what_it_is(visit: OpenPage, served: Served) -> None:
    page = visit(**THUMB).page
    start = time.monotonic()
    taps = tap_a_line(page, served)
    assert taps <= 12
    # A thumb takes less than a second a tap; what the page needs comes on top of that.
    assert time.monotonic() - start < 25
    first, second = page.locator("svg.bar").nth(1), page.locator("svg.bar").first
    assert first.locator(".degree").all_text_contents() == ["♭3", "5", "♭7", "9", "1", "♭7", "13", "5"]
    assert second.locator(".degree").all_text_contents() == ["3"]
    expect(page.locator("#entry-line .says")).to_contain_text("The line lands on B")
    expect(page.locator("#said")).to_contain_text("B, 3.")
    # The keys say what they are over the chord that sounds now.
    assert button(page, "note", "71").inner_text().split() == ["3", "B"]
    assert button(page, "note", "68").inner_text().split() == ["♭9", "A♭"]
    tap(page, "undo")
    expect(second.locator(".degree")).to_have_count(8)
    tap(page, "redo")
    expect(second.locator(".degree")).to_have_text(["3"])


def test_what_is_under_the_thumb_is_large_and_stays_where_it_is(visit: OpenPage, served: Served) -> None:
    page = visit(**THUMB).page
    page.goto(served.url(NEW))
    places = "all => all.map(one => { const {x, y, width, height} = one.getBoundingClientRect(); return [x, y, width, height] })"
    keys = page.locator("#entry-keys button")
    before = keys.evaluate_all(places)
    assert len(before) == 24
    assert all(width >= 40 and height >= 40 for _, _, width, height in before)
    buttons = page.locator("form.entry button:not(.unseen)").evaluate_all(places)
    assert all(width >= 40 and height >= 48 for _, _, width, height in buttons)
    tap_a_line(page, served)
    assert keys.evaluate_all(places) == before
    assert page.evaluate("document.documentElement.scrollWidth") == PHONE["width"]


def test_a_line_that_was_not_kept_survives_the_page(visit: OpenPage, served: Served) -> None:
    page = visit(**THUMB).page
    tap_a_line(page, served)
    page.reload()
    expect(page.locator("svg.bar")).to_have_count(2, timeout=WAIT)
    tap(page, "note", "72")
    expect(page.locator("svg.bar").first.locator(".degree")).to_have_text(["3", "11"])
    keep(page)
    (own,) = fold(kept(page, "lines")).lines
    assert own.line
    assert [note.pitch.midi for note in own.line.notes] == [*NOTES, 71, 72]
    page.go_back()
    expect(page.locator("#entry-keys")).to_be_visible(timeout=WAIT)
    expect(page.locator("svg.bar")).to_have_count(0)


def test_chords_can_be_typed_and_a_bad_one_is_said(visit: OpenPage, served: Served) -> None:
    page = visit(**THUMB).page
    page.goto(served.url(NEW))
    field = page.locator("#chord")
    field.fill("Bb")
    expect(button(page, "chord", "Bbm7")).to_be_visible(timeout=WAIT)
    tap(page, "chord", "Bbm7")
    expect(page.locator(".now .chord")).to_have_text("B♭m7")
    # One that stands typed there is taken with the next note, and one by Enter.
    field.fill("Eb7")
    tap(page, "note", "67")
    expect(page.locator(".now .chord")).to_have_text("E♭7")
    field.fill("Abmaj7")
    expect(page.locator("#entry-chords [type=submit]")).to_have_text("A♭maj7")
    field.press("Enter")
    expect(page.locator(".now .chord")).to_have_text("A♭maj7")
    tap(page, "note", "68")
    field.fill("foo")
    field.press("Enter")
    expect(page.locator("#notice span")).to_contain_text('"foo" does not start with')
    field.fill("H7")
    tap(page, "note", "60")
    expect(page.locator("#notice span")).to_contain_text('"H7" does not start with a root')
    expect(field).to_have_value("H7")
    expect(page.locator("svg.bar .degree")).to_have_text(["3", "1"])


def test_a_life_of_a_line(visit: OpenPage, served: Served) -> None:
    """Kept, found again after a reload, changed, deleted, brought back, also after a reload."""
    page = visit(**THUMB).page
    tap_a_line(page, served)
    keep(page)
    page.reload()
    expect(page.locator("#own-line h1")).to_be_visible(timeout=WAIT)
    assert lines_on(page) == [""]
    fill(page, "title", "Mine <i>now</i>")
    expect(page.locator("#own-line h1")).to_have_text("Mine <i>now</i>", timeout=WAIT)
    page.locator('#own [name="study"]').tap()
    own = until_kept(page, lambda own: own.is_to_study)
    assert own.line
    assert own.line.title == "Mine <i>now</i>"

    page.locator("#own summary", has_text="Change its notes").tap()
    text = page.locator('#own [name="abc"]').input_value()
    fill(page, "abc", text.replace('"Dm7"', '"H7"'))
    expect(page.locator("#own-fault")).to_contain_text('"H7" does not start with a root', timeout=WAIT)
    assert '"H7"' in page.locator('#own [name="abc"]').input_value()
    assert fold(kept(page, "lines")).lines[0].abc == own.abc, "a text that cannot be read is not kept"
    fill(page, "abc", text.replace('"Dm7"', '"Dm9"'))
    expect(page.locator("#own-fault")).to_be_empty(timeout=WAIT)
    until_kept(page, lambda own: '"Dm9"' in own.abc)

    tap(page, "delete")
    expect(page.locator("#own .told")).to_contain_text("“Mine <i>now</i>” was deleted.", timeout=WAIT)
    assert lines_on(page) == []
    page.locator("#own .told button").tap()
    expect(page.locator("#own .list .name")).to_have_text("Mine <i>now</i>")
    page.locator("#own .list a").tap()
    expect(page.locator("#own-line h1")).to_have_text("Mine <i>now</i>", timeout=WAIT)
    tap(page, "delete")
    expect(page.locator("#own .told")).to_be_visible(timeout=WAIT)
    page.reload()
    page.locator("#own .deleted summary").tap(timeout=WAIT)
    page.locator("#own .deleted button").tap()
    expect(page.locator("#own .list .name")).to_have_text("Mine <i>now</i>", timeout=WAIT)
    assert lines_on(page) == ["Mine <i>now</i>"]

    # Tapped on, it stays the same line.
    page.locator("#own .list a").tap()
    page.locator("#own summary", has_text="Change its notes").tap(timeout=WAIT)
    page.locator("#own a", has_text="Tap on").tap()
    expect(page.locator("svg.bar")).to_have_count(2, timeout=WAIT)
    tap(page, "note", "67")
    expect(page.locator("svg.bar").first.locator(".degree")).to_have_count(2)
    keep(page)
    (own,) = fold(kept(page, "lines")).lines
    assert own.line
    assert (own.line.title, len(own.line.notes), own.is_to_study) == ("Mine <i>now</i>", 10, True)


def test_lines_are_pasted_filtered_and_go_to_a_file_and_back(visit: OpenPage, served: Served, tmp_path: Path) -> None:
    page = visit(**THUMB).page
    open_own(page, served)
    expect(page.locator("#own-page")).to_contain_text("There is none yet.")
    bad = 'X:2\nT:Bad\nK:C\n"C"h8|]\n'
    page.locator("#own summary", has_text="Paste ABC").tap()
    page.locator("#own textarea[name='paste']").fill(ABC + "\n" + bad)
    tap(page, "paste")
    told = page.locator("#own .told")
    expect(told).to_contain_text("1 line was kept.", timeout=WAIT)
    expect(told).to_contain_text('line 11, column 4: "h" is no sign of music')
    assert "T:Bad" in page.locator("#own textarea[name='paste']").input_value(), "what was typed stays"
    page.locator("#own textarea[name='paste']").fill(ABC + '\nX:3\nT:Up\nG:still to study\nK:C\n"C"CEGc|]\n')
    tap(page, "paste")
    expect(told).to_contain_text("1 was there already.")
    expect(page.locator("#own textarea[name='paste']")).to_have_value("")
    assert page.locator("#own .list .name").all_text_contents() == ["Up", "Down & <b>away</b>"]
    page.locator('#own [name="only"]').tap()
    expect(page.locator("#own .list .name")).to_have_text(["Up"])
    expect(page.locator("#own .list .mark")).to_have_text(["still to study"])

    with page.expect_download(timeout=WAIT) as download:
        tap(page, "save")
    file = tmp_path / download.value.suggested_filename
    download.value.save_as(file)
    assert file.suffix == ".abc"
    assert [line.title for line in read_abc(file.read_text(encoding="utf-8"))] == ["Up", "Down & <b>away</b>"]

    other = visit(**THUMB).page
    open_own(other, served)
    for words in ("2 lines were kept.", "2 were there already."):
        other.locator('#own [name="file"]').set_input_files(file)
        expect(other.locator("#own .told")).to_contain_text(words, timeout=WAIT)
    assert lines_on(other) == ["Up", "Down & <b>away</b>"]


def test_a_link_brings_a_line_to_somebody_else(visit: OpenPage, served: Served) -> None:
    page = visit(**THUMB).page
    link = f"v=1&line={to_link(read_abc(ABC)[0])}"
    page.goto(served.url(f"{OWN}#{link}"))
    expect(page.locator("#own-line h1")).to_have_text("Down & <b>away</b>", timeout=WAIT)
    assert lines_on(page) == []
    tap(page, "take")
    expect(page.locator('#own [name="source"]')).to_have_value("My own, bar 5", timeout=WAIT)
    assert lines_on(page) == ["Down & <b>away</b>"]
    assert "id=" in page.url
    # The same link again finds it there.
    page.goto(served.url("about.html"))
    page.goto(served.url(f"{OWN}#{link}"))
    expect(page.locator("#own-page")).to_contain_text("among your lines already", timeout=WAIT)
    tap(page, "take")
    expect(page.locator('#own [name="source"]')).to_be_visible(timeout=WAIT)
    assert len(kept(page, "lines")) == 1
    # What is shared from there works on another device.
    page.evaluate("() => { navigator.share = async (shared) => { globalThis.shared = shared; }; }")
    page.locator('button[name="share"]').first.tap()
    page.wait_for_function("() => globalThis.shared", timeout=WAIT)
    shared = page.evaluate("() => shared.url")
    assert "id=" not in shared
    other = visit(viewport=DESK).page
    other.goto(shared)
    expect(other.locator("#own-line h1")).to_have_text("Down & <b>away</b>", timeout=WAIT)


@pytest.mark.parametrize(
    ("link", "words"),
    [
        ("v=1&line=M%3A4%2F4%0AL%3A1%2F8%0AK", "copy the whole link again"),
        ("v=1&line=%3Cscript%3EglobalThis.harmed%3D1%3C/script%3E", "copy the whole link again"),
        (f"v=1&line={'c' * 5000}", "too long"),
        ("v=1&id=nothere", "not on this device"),
        ("v=1&id=%3Cimg src=x onerror=globalThis.harmed=1%3E", "not on this device"),
    ],
)
def test_a_cut_or_hostile_link_gets_one_sentence(visit: OpenPage, served: Served, link: str, words: str) -> None:
    page = visit(**THUMB).page
    for address in (OWN, NEW):
        page.goto(served.url("about.html"))
        page.goto(served.url(f"{address}#{link}"))
        expect(page.locator("#notice span, #own .told").filter(has_text=words)).to_be_visible(timeout=WAIT)
        assert page.evaluate("() => globalThis.harmed") is None
    expect(page.locator("#entry-keys")).to_be_visible()


def test_one_file_is_the_whole_backup(visit: OpenPage, served: Served, tmp_path: Path) -> None:
    page = visit(**THUMB).page
    tap_a_line(page, served)
    keep(page)
    page.goto(served.url("records.html"))
    with page.expect_download(timeout=WAIT) as download:
        page.locator('[data-answers="save"]').tap()
    file = tmp_path / download.value.suggested_filename
    download.value.save_as(file)
    before = kept(page, "lines")
    assert read_file(file.read_text(encoding="utf-8")).lines == before
    page.locator('[data-answers="forget"]').tap()
    expect(page.locator("#answers-said")).not_to_be_empty()
    assert kept(page, "lines") == before, "forgetting the answers forgets no line"
    other = visit(**THUMB).page
    other.goto(served.url("records.html"))
    for words in ("1 of your own lines came along.", sentence(other, "answers-read").format(count=0)):
        other.locator("#answers-file").set_input_files(file)
        expect(other.locator("#answers-said")).to_contain_text(words, timeout=WAIT)
    assert kept(other, "lines") == before


OLD_STORE = """() => new Promise((done) => {
  const opening = indexedDB.open("linekeeper", 1);
  opening.onupgradeneeded = () => {
    opening.result.createObjectStore("answers", {keyPath: ["round", "place"]}).add({round: "r", place: 0, at: 1});
    opening.result.createObjectStore("rounds", {keyPath: "key"}).add({key: "k", round: "r"});
  };
  opening.onsuccess = () => { opening.result.close(); done(); };
})"""


def test_a_store_from_before_there_were_lines_keeps_all_it_had(visit: OpenPage, served: Served) -> None:
    page = visit(**THUMB).page
    served.replaced["blank.html"] = '<!doctype html><title>blank</title><link rel="icon" href="data:,">'
    page.goto(served.url("blank.html"))
    page.evaluate(OLD_STORE)
    open_own(page, served)
    expect(page.locator("#own-page")).to_contain_text("There is none yet.", timeout=WAIT)
    assert [record["place"] for record in kept(page)] == [0]
    assert [record["key"] for record in kept(page, "rounds")] == ["k"]
    tap_a_line(page, served)
    keep(page)
    assert len(kept(page, "lines")) == 1


def test_a_browser_that_keeps_nothing_says_so_and_holds_the_line_for_this_visit(
    visit: OpenPage, served: Served
) -> None:
    opened = visit(**THUMB)
    opened.watch.expect("no")  # PyScript looks for a store of its own when it starts, on every page
    page = opened.page
    page.add_init_script(REFUSED)
    tap_a_line(page, served)
    expect(page.locator("#notice span")).to_have_text(sentence(page, "not-kept"))
    page.locator("#notice button").tap()
    keep(page)
    expect(page.locator("#notice")).to_be_hidden()
    page.locator("#own a", has_text="All my lines").tap()
    expect(page.locator("#own .list li")).to_have_count(1, timeout=WAIT)


def test_a_record_is_there_before_it_is_shown_and_none_is_changed(visit: OpenPage, served: Served) -> None:
    page = visit(**THUMB).page
    open_own(page, served)
    page.locator("#own summary", has_text="Paste ABC").tap()
    page.locator("#own textarea[name='paste']").fill(ABC)
    spy: Any = """() => {
      const { put } = IDBObjectStore.prototype;
      globalThis.shownAt = [];
      IDBObjectStore.prototype.put = function (...all) {
        shownAt.push(document.querySelectorAll("#own .list li").length);
        return put.apply(this, all);
      };
    }"""
    page.evaluate(spy)
    tap(page, "paste")
    expect(page.locator("#own .list li")).to_have_count(1, timeout=WAIT)
    assert page.evaluate("() => shownAt") == [0, 0], "in the store and in its copy"
    (record,) = kept(page, "lines")
    file = json.dumps({"format": "linekeeper-records", "v": 1, "records": [], "lines": [{**record, "abc": "X:1"}]})
    page.goto(served.url("records.html"))
    page.locator("#answers-file").set_input_files(
        {"name": "a.json", "mimeType": "application/json", "buffer": file.encode()}
    )
    expect(page.locator("#answers-said")).not_to_be_empty(timeout=WAIT)
    assert kept(page, "lines") == [record]
