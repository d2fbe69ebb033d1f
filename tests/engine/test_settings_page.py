"""The settings' form as the engine answers it: what is kept, what is said, what can be had back."""

from __future__ import annotations

import json
import re
from html import unescape
from typing import Any

import pytest

from engine import browser
from engine.neck import instrument
from engine.neck.instrument import GUITAR, INSTRUMENTS, tuned
from engine.practice.latency import COUNT_IN
from engine.practice.records import FORMAT
from engine.practice.settings import AS_IT_CAME, Settings, read_settings, settings_as_json
from engine.view.settings import fields_html, settings_form_html, strings_of
from engine.view.settings_desk import spelt, to_keep
from tests.engine.form_fields import fields_of


def ask(**request: Any) -> dict[str, Any]:
    answer: dict[str, Any] = json.loads(browser.call(json.dumps({"do": "settings", **request})))
    assert "error" not in answer
    return answer


class Form:
    """The form of a page, as a player fills it in; ``kept`` is what the page keeps."""

    def __init__(self, kept: Settings = AS_IT_CAME) -> None:
        self.kept: Any = to_keep(kept)
        self.said = self.test = ""
        self._take(ask(pressed=["open", ""], **self._own()))

    def _own(self) -> dict[str, Any]:
        return {"settings": self.kept} if self.kept else {}

    def _take(self, answer: dict[str, Any]) -> None:
        self.desk, self.html = answer["desk"], answer["patches"]["settings-page"]
        self.kept = answer.get("settings", self.kept)
        self.said = answer.get("said", "")
        # A field without a value keeps what was typed.
        self.fields = {**getattr(self, "fields", {}), **fields_of(self.html)}

    def fill(self, name: str, *values: str) -> None:
        if values:
            self.fields[name] = list(values)
        else:
            self.fields.pop(name, None)
        self._take(ask(fields=self.fields, pressed=None, **self._own()))

    def press(self, name: str, value: str = "") -> None:
        assert f'name="{name}" value="{value}"' in self.html + self.test
        self._take(ask(**{**self.desk, "pressed": [name, value], "fields": self.fields, **self._own()}))

    @property
    def settings(self) -> Settings:
        return read_settings(self.kept)

    @property
    def fault(self) -> str:
        return self.fault_of("tuning")

    def fault_of(self, name: str) -> str:
        found = re.search(rf'id="{name}-fault" role="status">([^<]*)<', self.html)
        assert found
        return unescape(found[1])

    def tap(self, taps: list[float]) -> str:
        """What is shown of taps along with the clicks."""
        answer = ask(**{**self.desk, "pressed": ["tapped", json.dumps(taps)], "fields": self.fields, **self._own()})
        assert list(answer) == ["patches"], "a test by itself changes nothing"
        assert list(answer["patches"]) == ["late-test"]
        self.test = answer["patches"]["late-test"]
        return unescape(re.sub("<[^>]*>", " ", self.test)).strip()


def test_the_form_as_built_is_the_one_that_the_engine_opens() -> None:
    assert ask(pressed=["open", ""])["patches"] == {"settings-page": fields_html(AS_IT_CAME)}
    assert fields_html(AS_IT_CAME) in settings_form_html()
    assert 'name="usual"' not in settings_form_html(), "there is nothing to take back"


@pytest.mark.parametrize("name", [name for name in INSTRUMENTS if name != "guitar"])
def test_an_instrument_brings_its_strings_and_frets(name: str) -> None:
    form = Form()
    form.fill("instrument", name)
    assert form.settings == Settings(INSTRUMENTS[name])
    assert form.fields["tuning"] == [strings_of(INSTRUMENTS[name])]
    assert form.fields["frets"] == [str(INSTRUMENTS[name].frets)]
    assert form.said == "Kept."
    form.fill("instrument", "guitar")
    assert form.kept is None


def test_a_tuning_of_ones_own() -> None:
    form = Form()
    form.fill("tuning", "D2,A2,D3,G3,A3,D4")
    assert form.settings.instrument.strings == tuned("D2,A2,D3,G3,A3,D4").strings
    assert (form.settings.instrument.frets, form.fault) == (22, "")
    assert form.fields["instrument"] == ["own"]
    form.fill("tuning", "d2 a2 d3 g3 b3 e4")
    assert form.settings.instrument == INSTRUMENTS["guitar in drop D"]
    assert form.fields["instrument"] == ["guitar in drop D"]


def test_what_is_wrong_with_a_tuning_is_said_and_the_last_good_one_stays() -> None:
    form = Form()
    form.fill("instrument", "bass")
    form.fill("tuning", "E1, A1, D2, X")
    assert form.fault.startswith('String 4 from the low side, column 13: "X" is no note for a string')
    assert form.fault.endswith("Until then E1, A1, D2, G2 counts.")
    assert form.fields["tuning"] == ["E1, A1, D2, X"]
    assert form.settings == Settings(INSTRUMENTS["bass"])
    form.fill("stretch", "4")
    assert form.fault, "what stands there is still none"
    assert form.settings == Settings(INSTRUMENTS["bass"], stretch=4)
    form.fill("tuning", "E1, A1, D2, G2, C3")
    assert (form.fault, len(form.settings.instrument.strings)) == ("", 5)
    form.fill("tuning", "")
    assert form.fault == "No string is written there. Until then E1, A1, D2, G2, C3 counts."
    assert len(form.settings.instrument.strings) == 5


@pytest.mark.parametrize(
    ("typed", "read"),
    [
        ("e2 a2 d3", "E2,A2,D3"), ("E2,  a2,d3", "E2,  A2,D3"), ("bb1 eb2", "Bb1,Eb2"), ("B♭1,e♭2", "B♭1,E♭2"),
        ("f#1,Bb1", "F#1,Bb1"), ("E2  A2", "E2, A2"), ("", ""),
    ],
)  # fmt: skip
def test_strings_are_read_as_a_phone_writes_them(typed: str, read: str) -> None:
    assert spelt(typed) == read
    assert len(typed) == len(read), "so that a fault's column is where the player sees it"


def test_frets_hand_and_stretch() -> None:
    form = Form()
    form.fill("frets", "24")
    form.fill("left", "yes")
    form.fill("stretch", "3")
    assert form.settings == Settings(instrument.instrument_of("guitar", 24), left_handed=True, stretch=3)
    form.fill("left")
    assert form.settings == Settings(instrument.instrument_of("guitar", 24), stretch=3)
    assert form.kept["built"] is False


def test_a_left_handed_players_necks_are_as_they_were_built() -> None:
    form = Form()
    form.fill("left", "yes")
    assert form.kept == {**settings_as_json(Settings(left_handed=True)), "built": True}


def test_settings_as_at_first_can_be_taken_back() -> None:
    mine = Settings(INSTRUMENTS["bass"], True, 4)
    form = Form(mine)
    assert form.html.index('name="usual"') > form.html.index("data-taps"), "far from what is tapped"
    assert "All settings as at first" in form.html
    form.press("usual")
    assert (form.kept, form.settings) == (None, AS_IT_CAME)
    form.press("back")
    assert form.settings == mine
    assert fields_of(form.html) == fields_of(fields_html(mine))


def test_only_what_was_changed_changes_whatever_another_tab_has_set() -> None:
    form = Form()
    form.kept = to_keep(Settings(INSTRUMENTS["bass"], stretch=4))
    form.fill("left", "yes")
    assert form.settings == Settings(INSTRUMENTS["bass"], left_handed=True, stretch=4)


# --- sound --------------------------------------------------------------------------


def test_quiet_is_a_switch_that_takes_itself_back() -> None:
    form = Form()
    form.fill("quiet", "yes")
    assert form.settings == Settings(quiet=True)
    assert (form.kept["quiet"], form.kept["built"], form.said) == (True, True, "Kept.")
    assert form.fields["quiet"] == ["yes"]
    form.fill("quiet")
    assert form.kept is None


def test_how_late_sound_comes_is_typed() -> None:
    form = Form(Settings(INSTRUMENTS["bass"]))
    form.fill("late", "180")
    assert form.settings == Settings(INSTRUMENTS["bass"], late=180)
    form.fill("late", " 90 ms")
    assert (form.settings.late, form.fields["late"]) == (90, ["90"])
    form.fill("late", "")
    assert (form.settings.late, form.fields["late"]) == (0, ["0"])


@pytest.mark.parametrize("typed", ["a lot", "501", "-3", "1,5", "<b>", "1" * 40])
def test_what_is_no_number_is_said_in_a_sentence_and_the_last_good_one_stays(typed: str) -> None:
    form = Form(Settings(late=120))
    form.fill("late", typed)
    fault = form.fault_of("late")
    assert fault.endswith("is no number of milliseconds: write a whole number from 0 to 500. Until then 120 counts.")
    assert fault.startswith(f'"{typed[:23]}')
    assert (form.settings.late, form.fields["late"]) == (120, [typed])
    form.fill("quiet", "yes")
    assert form.settings == Settings(quiet=True, late=120)
    form.fill("tuning", "X")
    assert form.fault_of("late")
    assert form.fault, "both are said"
    form.fill("late", "60")
    assert (form.fault_of("late"), form.settings.late) == ("", 60)


def along(late: float, apart: float = 0) -> list[float]:
    """Taps along with the clicks, every second one ``apart`` ms later."""
    sound = ask(pressed=["hear", "clicks"])["sound"]
    times = [event[0] for event in sound["events"]][COUNT_IN:]
    return [time + (late + apart * (number % 2)) / 1000 for number, time in enumerate(times)]


def test_what_the_taps_tell_is_shown_taken_over_and_had_back() -> None:
    form = Form(Settings(quiet=True, late=40))
    assert form.tap(along(176, 8)).startswith(
        "Your taps came 180 ms after the clicks, two of three within 4 ms of that."
    )
    assert form.settings.late == 40
    form.press("take", "180")
    assert (form.settings, form.said) == (Settings(quiet=True, late=180), "Kept.")
    assert form.fields["late"] == ["180"]
    assert "Sound comes late by 180 ms from now on." in form.html
    assert form.html.count('name="back"') == 1
    assert form.tap(along(180)).endswith("That is what is set.")
    assert "<button" not in form.test
    form.press("back")
    assert form.settings == Settings(quiet=True, late=40)
    assert form.fields["late"] == ["40"]


def test_taps_on_the_clicks_offer_nothing_or_to_set_nothing() -> None:
    for late in (-60, 0, 7):
        assert Form().tap(along(late)) == "Your taps fall on the clicks: nothing has to be set."
    form = Form(Settings(late=200))
    said = " ".join(form.tap(along(0)).split())
    assert said == "Your taps fall on the clicks: nothing has to be set. Set it to 0 ms"
    form.press("take", "0")
    assert form.kept is None
    form.press("back")
    assert form.settings == Settings(late=200)


@pytest.mark.parametrize(
    "taps", [[], along(180)[:5], along(0, 250), [0.1] * 30], ids=["none", "few", "wide", "at once"]
)
def test_taps_that_tell_nothing_sure_ask_for_another_try_and_change_nothing(taps: list[float]) -> None:
    form = Form(Settings(late=90))
    said = form.tap(taps)
    assert re.fullmatch(r"[A-Z][^.:]*: try again, [^.]*\.", said)
    assert "<button" not in form.test
    assert form.settings.late == 90


@pytest.mark.parametrize(
    ("name", "value"), [("tapped", "no list"), ("tapped", '["x"]'), ("tapped", "3"), ("take", "999")]
)
def test_what_no_page_sends_is_refused_in_a_sentence(name: str, value: str) -> None:
    answer = json.loads(browser.call(json.dumps({"do": "settings", "pressed": [name, value], "fields": {}})))
    assert list(answer) == ["error"]
    assert "\n" not in answer["error"]


def test_a_new_row_of_the_instruments_is_all_that_a_new_instrument_needs(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Any
) -> None:
    from engine.__main__ import main

    monkeypatch.setitem(INSTRUMENTS, "baritone", tuned("B1,E2,A2,D3,F#3,B3", 22, "baritone"))
    form = Form()
    assert '<option value="baritone">baritone</option>' in form.html
    form.fill("instrument", "baritone")
    assert form.settings == Settings(INSTRUMENTS["baritone"])
    assert form.kept["tuning"] == "baritone"
    path = tmp_path / "line.abc"
    path.write_text('X:1\nT:Low\nL:1/8\nK:C\n"Em7"E,G,B,D E4|]\n')
    assert main(["finger", str(path), "--tuning", "baritone", "--json"]) == 0
    opens = INSTRUMENTS["baritone"].opens
    for way in json.loads(capsys.readouterr().out)["ways"]:
        assert [opens[string - 1] + fret for string, fret in way["places"]] == [52, 55, 59, 62, 64]
    assert main(["finger", str(path), "--tuning", "no such", "--json"]) == 2


# --- in a file of records ----------------------------------------------------------


def call(**request: Any) -> dict[str, Any]:
    answer: dict[str, Any] = json.loads(browser.call(json.dumps(request)))
    return answer


def test_settings_go_along_in_the_file_and_come_to_a_device_that_has_none() -> None:
    mine = to_keep(Settings(INSTRUMENTS["bass"], stretch=4, quiet=True, late=180))
    text = call(do="export", records=[], own=[], settings=mine)["text"]
    assert json.loads(text)["settings"] == mine
    answer = call(do="import", text=text, own=[], at=0)
    assert answer["settings"] == mine
    assert answer["told"] == "Your settings came along."
    there = call(do="import", text=text, own=[], at=0, settings=to_keep(Settings(GUITAR, True)))
    assert (there.get("settings"), there["told"]) == (None, None)


def test_a_file_without_settings_or_with_strange_ones() -> None:
    assert "settings" not in json.loads(call(do="export", records=[], own=[])["text"])
    plain = {"format": FORMAT, "v": 1, "records": []}
    assert "settings" not in call(do="import", text=json.dumps(plain), own=[], at=0)
    for found in ("mine", [1], {"tuning": 3}):
        answer = call(do="import", text=json.dumps({**plain, "settings": found}), own=[], at=0)
        assert answer.get("settings") is None
        assert answer["told"] is None
