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
        self.said = ""
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

    def press(self, name: str) -> None:
        assert f'name="{name}"' in self.html
        self._take(ask(**{**self.desk, "pressed": [name, ""], "fields": self.fields, **self._own()}))

    @property
    def settings(self) -> Settings:
        return read_settings(self.kept)

    @property
    def fault(self) -> str:
        found = re.search(r'id="tuning-fault" role="status">([^<]*)<', self.html)
        assert found
        return unescape(found[1])


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


def test_as_it_came_can_be_taken_back() -> None:
    mine = Settings(INSTRUMENTS["bass"], True, 4)
    form = Form(mine)
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
    mine = to_keep(Settings(INSTRUMENTS["bass"], stretch=4))
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
