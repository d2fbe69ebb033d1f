"""Lines heard on their pages and with the band: what is tapped comes to the player, and what sounds is shown."""

from __future__ import annotations

from collections.abc import Callable
from itertools import pairwise
from pathlib import Path
from typing import Any

import editions
import pytest
from browsing import PHONE, Served, Visit
from playwright.sync_api import Browser, Page, expect

from engine.formats.abc import read_abc
from engine.lines.line import Line
from engine.practice.line_in_link import to_link
from tests.site.test_line_pages import BOOK

pytestmark = pytest.mark.browser

OpenPage = Callable[..., Visit]

WAIT = 30_000
SLUG = "four-windows"
LINE: Line = BOOK[SLUG]
PAGE = f"lines/{SLUG}.html"
# Notes each arrangement that is played, and each note that is given to the browser.
WATCHED = """
globalThis.begun = 0;
globalThis.lit = [];
const start = AudioBufferSourceNode.prototype.start;
AudioBufferSourceNode.prototype.start = function (...all) {
  begun += 1;
  return start.apply(this, all);
};
new MutationObserver((changes) => {
  for (const { target } of changes) if (target.classList.contains("sounding")) lit.push([target.dataset.index, target.closest("svg")?.getAttribute("class") ?? ""]);
}).observe(document, { subtree: true, attributeFilter: ["class"] });
let made;
globalThis.played = [];
Object.defineProperty(globalThis, "band", {
  configurable: true,
  get: () => made,
  set: (band) => {
    made = { ...band, play: (context, data, wishes) => (played.push(data), band.play(context, data, wishes)) };
  },
});
"""
HIDE = "Object.defineProperty(document, 'hidden', {value: 1}); document.dispatchEvent(new Event('visibilitychange'))"


def opened(visit: Visit, served: Served, address: str) -> Page:
    visit.page.add_init_script(WATCHED)
    visit.page.goto(served.url(address))
    return visit.page


def plays(page: Page, count: int) -> dict[str, Any]:
    """The arrangement that is played as the so-manieth, once it sounds."""
    page.wait_for_function("(count) => played.length >= count && begun", arg=count, timeout=WAIT)
    assert page.evaluate("played.length") == count
    return dict(page.evaluate("played.at(-1)"))


def guitar(data: dict[str, Any]) -> list[int]:
    return [event[2] for event in data["events"] if event[5] is not None]


def test_a_line_is_heard_and_its_notes_light_up_on_staff_and_neck(phone: Visit, served: Served) -> None:
    page = opened(phone, served, PAGE)
    page.locator("#line [data-hear]").tap()
    data = plays(page, 1)
    assert guitar(data) == [note.pitch.midi for note in LINE.notes]
    expect(page.locator("#line [data-hear]")).to_contain_text("Stop")
    page.wait_for_function("new Set(lit.map(([index]) => index)).size > 3", timeout=WAIT)
    places = {name.split(" ")[0] for index, name in page.evaluate("lit") if index == "1"}
    assert "neck-picture" in places
    assert len(places) > 1
    page.locator("#line [data-hear]").tap()
    expect(page.locator(".sounding")).to_have_count(0)


def test_a_change_while_it_sounds_is_heard_at_once(phone: Visit, served: Served) -> None:
    page = opened(phone, served, PAGE)
    page.locator("#line input[name=loop]").check()
    page.locator("#line [data-hear]").tap()
    first = plays(page, 1)
    assert first["loop"]
    page.locator("#line .tempo button[value='+']").tap()
    second = plays(page, 2)
    assert page.input_value("#tempo") == "124"
    assert second["length"] == pytest.approx(first["length"] * 120 / 124, rel=0.01)
    page.locator("#line input[name=key][value=G]").tap()
    assert guitar(plays(page, 3)) != guitar(first)
    expect(page.locator("#line [data-hear]")).to_have_attribute("aria-pressed", "true")
    page.evaluate(HIDE)
    expect(page.locator("#line [data-hear]")).to_have_attribute("aria-pressed", "false")


def test_a_tempo_is_typed_told_and_goes_into_the_link(phone: Visit, visit: OpenPage, served: Served) -> None:
    page = opened(phone, served, PAGE)
    page.fill("#tempo", "500")
    page.press("#tempo", "Tab")
    expect(page.locator("#tempo-fault")).to_contain_text("from 40 to 320", timeout=WAIT)
    assert page.input_value("#tempo") == "500"
    page.fill("#tempo", "84")
    page.press("#tempo", "Enter")
    page.wait_for_function("location.hash.includes('tempo=84')", timeout=WAIT)
    expect(page.locator("#tempo-fault")).to_be_empty()
    other = visit().page
    other.goto(page.url)
    expect(other.locator("#tempo")).to_have_value("84", timeout=WAIT)


def test_own_lines_are_heard_too(phone: Visit, served: Served) -> None:
    page = opened(phone, served, "lines/own.html")
    page.wait_for_selector("#own-page summary", timeout=WAIT)
    page.locator("summary", has_text="Paste ABC").tap()
    abc = 'X:1\nT:Mine\nL:1/8\nK:C\n"Dm7" DFAc "G7" BGFD|"Cmaj7" E8|]\n'
    page.fill("[name=paste]", abc)
    page.locator("button[name=paste]").tap()
    page.locator("a", has_text="Mine").tap(timeout=WAIT)
    page.locator("#line [data-hear]").tap(timeout=WAIT)
    assert guitar(plays(page, 1)) == [note.pitch.midi for note in read_abc(abc)[0].notes]


def heard_alone(chromium: Browser, address: str) -> tuple[Page, list[str]]:
    """A page that is a file, once it sounds, and what it complains of."""
    page = chromium.new_context(viewport=PHONE).new_page()
    complaints: list[str] = []
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.add_init_script(WATCHED)
    page.goto(address)
    page.locator("[data-hear]").first.click()
    expect(page.locator("[data-hear][aria-pressed=true]:not([aria-busy])")).to_have_count(1, timeout=2 * WAIT)
    # The policy of a file lets no test wait by a predicate.
    page.wait_for_timeout(1_000)
    assert page.evaluate("begun") > 0
    return page, complaints


def test_from_disk_and_as_one_file_it_is_heard_too(chromium: Browser, site: Path, tmp_path: Path) -> None:
    (tmp_path / "line.html").write_text(editions.one_line_file(site, LINE), encoding="utf-8")
    for file in (site / PAGE, site / "band.html", tmp_path / "line.html"):
        page, complaints = heard_alone(chromium, file.as_uri())
        assert complaints == []
        if file.name == "line.html":
            assert page.locator("#line .to-band:visible").count() == 0
        page.context.close()


# --- the page of the band ----------------------------------------------------------------------

LINKED = f"band.html#v=1&tempo=320&response=on&choruses=2&line={to_link(LINE)}"
AWAKE = """
globalThis.locks = [];
Object.defineProperty(navigator, "wakeLock", {value: {request: async (kind) => {
  locks.push(kind);
  return { release: async () => locks.pop() };
}}});
"""


# Notes the parts that follow the first, and whether that sounded by then; they fail to come where `failing` says so.
PARTS = """
globalThis.parts = [];
globalThis.failing = false;
const seen = Object.getOwnPropertyDescriptor(globalThis, "band");
const play = (band) => ({
  ...band,
  play: (...all) => {
    const player = band.play(...all);
    return { ...player, add: (part) => {
      globalThis.soundedBefore ??= begun > 0;
      const given = failing ? undefined : part;
      parts.push(given ?? null);
      player.add(given);
    } };
  },
});
Object.defineProperty(globalThis, "band", { configurable: true, get: () => seen.get() && play(seen.get()), set: seen.set });
"""


def play_band(page: Page) -> None:
    page.locator("#with-band [data-hear]").tap()
    page.wait_for_function("document.querySelector('#sounding-chorus').textContent.startsWith('Chorus')", timeout=WAIT)


def test_the_band_goes_through_the_keys_and_says_what_sounds(phone: Visit, served: Served) -> None:
    phone.page.add_init_script(AWAKE)
    page = opened(phone, served, LINKED)
    expect(page.locator("#band-lines li")).to_contain_text(LINE.title, timeout=WAIT)
    play_band(page)
    expect(page.locator("#sounding-key")).to_have_text("D")
    expect(page.locator("#sounding-next")).to_have_text("then G")
    expect(page.locator("#sounding-chord")).not_to_be_empty()
    expect(page.locator("#sounding-turn")).to_have_text(LINE.title)
    expect(page.locator("#sounding-turn")).to_have_text("Your turn", timeout=WAIT)
    expect(page.locator("#sounding-key")).to_have_text("G", timeout=WAIT)
    # The display is in view with the button, and the screen stays on.
    assert page.evaluate("locks") == ["screen"]
    for place in ("#sounding-key", "#with-band [data-hear]"):
        expect(page.locator(place)).to_be_in_viewport()
    page.locator("#with-band [data-hear]").tap()
    page.wait_for_function("locks.length === 0")
    expect(page.locator("#notice")).to_be_hidden()


def test_a_page_that_is_hidden_falls_silent_and_says_so(phone: Visit, served: Served) -> None:
    phone.page.add_init_script(AWAKE)
    page = opened(phone, served, "band.html")
    play_band(page)
    page.evaluate(HIDE)
    expect(page.locator("#with-band [data-hear]")).to_have_attribute("aria-pressed", "false")
    page.wait_for_function("locks.length === 0")
    expect(page.locator("#notice")).to_contain_text("not in view any more")
    page.evaluate("delete document.hidden")
    play_band(page)
    expect(page.locator("#notice")).to_be_hidden()


def test_what_follows_comes_while_the_first_part_sounds(phone: Visit, served: Served) -> None:
    page = opened(phone, served, f"band.html#v=1&over=aaba&tempo=320&count-in=0&line={to_link(LINE)}")
    page.evaluate(PARTS)
    play_band(page)
    page.wait_for_function("parts.length && !parts.at(-1).more", timeout=WAIT)
    first, parts = page.evaluate("played[0]"), page.evaluate("parts")
    assert len(parts) == 11
    # The first one sounded before the second was there.
    assert page.evaluate("soundedBefore")
    assert all(one["events"][-1][0] < two["events"][0][0] for one, two in pairwise([first, *parts]))
    assert first["events"][-1][0] < first["length"] / 11 < parts[-1]["events"][-1][0] <= first["length"]
    page.locator("#with-band [data-hear]").tap()
    # What is stopped is asked for no more.
    page.locator("#with-band button[name=anew]").tap()
    page.wait_for_function("location.hash.includes('seed=')", timeout=WAIT)
    page.locator("#with-band [data-hear]").tap()
    page.wait_for_function("played.length === 2", timeout=WAIT)
    page.locator("#with-band [data-hear]").tap()
    count = len(page.evaluate("parts"))
    assert count < 2 * 11 - 1
    page.wait_for_timeout(1_500)
    # One may have been on its way.
    assert len(page.evaluate("parts")) <= count + 1


def test_where_what_follows_does_not_come_it_ends_with_what_is_there(phone: Visit, served: Served) -> None:
    page = opened(phone, served, "band.html#v=1&over=short-two-five-one&tempo=320&count-in=0&rise=1")
    page.evaluate(PARTS)
    page.evaluate("failing = true")
    play_band(page)
    page.wait_for_function("parts.includes(null)", timeout=WAIT)
    expect(page.locator("#with-band [data-hear]")).to_have_attribute("aria-pressed", "false", timeout=WAIT)


def test_where_the_screen_cannot_be_kept_on_nothing_breaks(phone: Visit, served: Served) -> None:
    phone.page.add_init_script("Object.defineProperty(navigator, 'wakeLock', {value: undefined})")
    page = opened(phone, served, "band.html")
    play_band(page)
    expect(page.locator("#sounding-key")).to_have_text("C")


def test_one_link_carries_the_set_up(phone: Visit, visit: OpenPage, served: Served) -> None:
    page = opened(phone, served, PAGE)
    page.locator("#line .to-band a").tap(timeout=WAIT)
    expect(page.locator("#band-lines li")).to_contain_text(LINE.title, timeout=WAIT)
    page.select_option("#rise", "4")
    page.locator("#with-band input[name=keys][value=F]").tap()
    page.locator("#with-band .tempo button[value='+']").tap()
    page.select_option("#from-book", label=BOOK["back-gate"].title)
    page.locator("#with-band button[name=add][value=book]").tap()
    expect(page.locator("#band-lines li")).to_have_count(2, timeout=WAIT)
    other = visit().page
    other.goto(page.url)
    expect(other.locator("#band-lines li")).to_have_count(2, timeout=WAIT)
    assert other.input_value("#tempo") == "124"
    assert other.input_value("#rise") == "4"
    assert other.locator("#with-band input[name=keys]:checked").count() == 1
    with other.expect_download() as saved:
        other.locator("button[name=midi]").click()
    assert saved.value.suggested_filename == "with-the-band.mid"


def test_a_chord_that_is_none_is_told_beside_what_was_typed(phone: Visit, served: Served) -> None:
    page = opened(phone, served, "band.html")
    page.fill("#chords", "Dm7 | Hm7")
    page.press("#chords", "Tab")
    expect(page.locator("#chords-fault")).to_contain_text('"Hm7" in bar 2', timeout=WAIT)
    assert page.input_value("#chords") == "Dm7 | Hm7"
    page.fill("#chords", "Dm7 G7 | Cmaj7")
    page.press("#chords", "Tab")
    page.wait_for_function("location.hash.includes('over=')", timeout=WAIT)
    expect(page.locator("#chords-fault")).to_be_empty()


def test_what_the_page_asks_by_itself_takes_no_word_away(phone: Visit, served: Served) -> None:
    for address, left_out in (("band.html#v=1&tune=1", "setting tune"), (f"{PAGE}#v=1&key=H", "key was left out")):
        page = phone.page
        page.goto("about:blank")
        page.goto(served.url(address))
        expect(page.locator("#notice span")).to_contain_text(left_out, timeout=WAIT)
        # By then the engine was asked for what may be wanted next.
        page.wait_for_timeout(1_500)
        expect(page.locator("#notice span")).to_contain_text(left_out)


def test_play_finds_what_was_arranged_ahead(phone: Visit, served: Served) -> None:
    phone.page.add_init_script(
        "globalThis.asked = [];"
        "const stringify = JSON.stringify; JSON.stringify = (value, ...rest) => {"
        "if (value?.do === 'band') asked.push(value.pressed?.join(' ').trim() ?? ''); return stringify(value, ...rest); };"
    )
    page = opened(phone, served, "band.html")
    page.wait_for_function("asked.includes('ahead')", timeout=WAIT)
    page.locator("#with-band [data-hear]").tap()
    plays(page, 1)
    # What follows the first part is asked for by its number, while that is heard.
    assert page.evaluate("asked.filter((pressed) => pressed === 'hear band').length") == 1
    # A change that nobody hears is arranged too, once nothing is changed any more.
    page.locator("#with-band [data-hear]").tap()
    page.evaluate(
        "for (let taps = 0; taps < 3; taps++) document.querySelector(\"#with-band .tempo button[value='+']\").click()"
    )
    page.wait_for_function("asked.includes('tempo +') && asked.at(-1) === 'ahead'", timeout=WAIT)
    assert page.evaluate("asked.filter((pressed) => pressed === 'ahead').length") == 2


def test_a_tempo_that_was_reached_is_kept_and_told_on_the_lines_page(phone: Visit, served: Served) -> None:
    page = opened(phone, served, f"band.html#v=1&tempo=140&line={to_link(LINE)}")
    page.locator("button[name=reached][value=F]").tap(timeout=WAIT)
    expect(page.locator("[name=mark-F]")).to_have_value("140", timeout=WAIT)
    page.fill("[name=mark-Bb]", "120")
    page.press("[name=mark-Bb]", "Tab")
    page.locator("button[name=reached][value=C]").tap()
    expect(page.locator("[name=mark-C]")).to_have_value("140", timeout=WAIT)
    page.locator("button[name=back]").tap()
    expect(page.locator("[name=mark-C]")).to_have_value("", timeout=WAIT)
    page.goto(served.url(PAGE))
    expect(page.locator("#line .reached")).to_have_text("Played with the band: F 140, B♭ 120.", timeout=WAIT)


def test_what_went_well_is_kept_by_the_keyboard_alone(phone: Visit, served: Served) -> None:
    page = opened(phone, served, f"band.html#v=1&tempo=320&count-in=0&keys=Eb&line={to_link(LINE)}")
    well = page.locator("button[name=well]")
    expect(well).to_be_hidden()
    play_band(page)
    expect(well).to_have_text("It went well: E♭ 320")
    page.locator("#with-band [data-hear]").focus()
    page.keyboard.press("Enter")
    page.keyboard.press("Tab")
    expect(well).to_be_focused()
    page.keyboard.press("Enter")
    expect(page.locator("#band-kept")).to_contain_text(f"{LINE.title}, E♭ 320: kept.", timeout=WAIT)
    expect(page.locator("#said")).to_have_text("E♭ 320: kept.")
    expect(page.locator("[name=mark-Eb]")).to_have_value("320")
    page.keyboard.press("Tab")
    page.keyboard.press("Enter")
    expect(page.locator("[name=mark-Eb]")).to_have_value("", timeout=WAIT)
    # The button is gone; the next Tab goes on from where it was.
    expect(page.locator("#band-kept")).to_be_focused()
    expect(page.locator("#said")).to_have_text("E♭: taken back.")


def test_each_of_several_lines_has_its_marks(phone: Visit, served: Served) -> None:
    slug, other = next((name, line) for name, line in BOOK.items() if line.key.mode == "major" and name != SLUG)
    page = opened(phone, served, f"band.html#v=1&tempo=140&line={to_link(LINE)}&line={to_link(other)}")
    page.locator("button[name=reached][value=F]").tap(timeout=WAIT)
    expect(page.locator("[name=mark-F]")).to_have_value("140", timeout=WAIT)
    page.select_option("#of", label=other.title)
    expect(page.locator("[name=mark-F]")).to_have_value("", timeout=WAIT)
    page.fill("[name=mark-F]", "90")
    page.press("[name=mark-F]", "Tab")
    expect(page.locator("#said")).to_have_text("F 90: kept.", timeout=WAIT)
    page.select_option("#of", label=LINE.title)
    expect(page.locator("[name=mark-F]")).to_have_value("140", timeout=WAIT)
    for name, tempo in ((SLUG, 140), (slug, 90)):
        page.goto(served.url(f"lines/{name}.html"))
        expect(page.locator("#line .reached")).to_have_text(f"Played with the band: F {tempo}.", timeout=WAIT)


def test_keys_keep_the_order_in_which_they_are_tapped(phone: Visit, visit: OpenPage, served: Served) -> None:
    page = opened(phone, served, "band.html#v=1&keys=Ab,C")
    chips = page.locator("#with-band .pick-key label:has(small)")
    expect(chips).to_have_text(["C2", "A♭1"], timeout=WAIT)
    page.locator("#with-band input[name=keys][value=F]").tap()
    expect(chips).to_have_text(["C2", "F3", "A♭1"], timeout=WAIT)
    other = visit().page
    other.goto(page.url)
    expect(other.locator("#with-band .pick-key label:has(small)")).to_have_text(["C2", "F3", "A♭1"], timeout=WAIT)
    expect(other.locator("#with-band")).to_contain_text("They come in this order: A♭, C, F.")


def test_a_line_of_this_device_is_opened_by_its_id_and_shared_itself(
    phone: Visit, visit: OpenPage, served: Served
) -> None:
    page = opened(phone, served, "lines/own.html")
    page.wait_for_selector("#own-page summary", timeout=WAIT)
    page.locator("summary", has_text="Paste ABC").tap()
    page.fill("[name=paste]", 'X:1\nT:Mine\nL:1/8\nK:C\n"Dm7" DFAc "G7" BGFD|"Cmaj7" E8|]\n')
    page.locator("button[name=paste]").tap()
    page.locator("a", has_text="Mine").tap(timeout=WAIT)
    page.wait_for_function("location.hash.includes('id=')", timeout=WAIT)
    name = page.url.partition("id=")[2].partition("&")[0]
    page.goto(served.url(f"band.html#v=1&id={name}&keys=F"))
    expect(page.locator("#band-lines li")).to_contain_text("Mine", timeout=WAIT)
    # The address, and what is shared, take the line itself along.
    page.wait_for_function("location.hash.includes('line=') && !location.hash.includes('id=')", timeout=WAIT)
    other = visit().page
    other.goto(page.url)
    expect(other.locator("#band-lines li")).to_contain_text("Mine", timeout=WAIT)
    other.goto(served.url("band.html"))
    other.goto(served.url(f"band.html#v=1&id={name}"))
    expect(other.locator("#notice")).to_contain_text("names a line that is not on this device", timeout=WAIT)


def test_without_any_sound_it_says_so(phone: Visit, served: Served) -> None:
    phone.page.add_init_script("delete globalThis.AudioContext")
    page = opened(phone, served, "band.html")
    page.locator("#with-band [data-hear]").tap(timeout=WAIT)
    expect(page.locator("#notice")).to_contain_text("no sound", timeout=WAIT)
    expect(page.locator("#with-band [data-hear]")).to_have_attribute("aria-pressed", "false")


def test_a_tempo_that_none_can_play_is_told(phone: Visit, served: Served) -> None:
    page = opened(phone, served, "band.html")
    page.fill("#tempo", "500")
    page.press("#tempo", "Tab")
    expect(page.locator("#tempo-fault")).to_contain_text("from 40 to 320", timeout=WAIT)
    assert page.input_value("#tempo") == "500"
