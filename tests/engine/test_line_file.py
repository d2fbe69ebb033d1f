"""A line as a file: its name, its type, and what is in it, as the page asks for it."""

import json
import sys
from base64 import b64decode
from dataclasses import replace
from typing import Any

import pytest

from engine import browser
from engine.formats.abc import read_abc, write_abc
from engine.formats.midi import write_midi
from engine.formats.musicxml import write_musicxml
from engine.formats.text import write_text
from engine.lines.moving import moved_to
from engine.practice.line_file import FORMATS, line_file
from engine.theory.bad_input import BadInput
from engine.theory.key import parse_key

PORCH_LIGHT = 'X:1\nT:Porch light\nM:4/4\nL:1/8\nK:C\n"Dm7"FA ce dc BA | "G7"Bd fa gf ^F^D | "Cmaj7"E8 |]\n'
LINE = read_abc(PORCH_LIGHT)[0]


def asked(abc: str = PORCH_LIGHT, key: str | None = None, to: str = "abc") -> dict[str, Any]:
    return dict(json.loads(browser.call(json.dumps({"do": "line file", "abc": abc, "key": key, "to": to}))))


@pytest.mark.parametrize(
    ("to", "write", "name", "kind"),
    [
        ("abc", write_abc, "porch-light-in-e-flat.abc", "text/vnd.abc"),
        ("musicxml", write_musicxml, "porch-light-in-e-flat.musicxml", "application/vnd.recordare.musicxml+xml"),
        ("midi", write_midi, "porch-light-in-e-flat.mid", "audio/midi"),
        ("text", write_text, "porch-light-in-e-flat.txt", "text/plain"),
    ],
)
def test_a_line_is_a_file_in_any_key_and_format(to: str, write: Any, name: str, kind: str) -> None:
    file = asked(key="Eb", to=to)["file"]
    assert (file["name"], file["type"]) == (name, kind)
    content = write(moved_to(LINE, parse_key("Eb")))
    assert content == (b64decode(file["base64"]) if "base64" in file else file["text"])
    assert set(FORMATS) == {"abc", "musicxml", "midi", "text"}


@pytest.mark.parametrize(
    ("title", "key", "name"),
    [
        ("", "C", "line-in-c.abc"),
        ("../../etc/passwd", "F#m", "etc-passwd-in-f-sharp-minor.abc"),
        ('Zoë’s "ii–V": 50 %', "Bb", "zoë-s-ii-v-50-in-b-flat.abc"),
        ("W" * 300, "Gm", "w" * 60 + "-in-g-minor.abc"),
    ],
)
def test_a_file_has_a_name_that_every_system_takes(title: str, key: str, name: str) -> None:
    assert line_file(replace(LINE, title=title, key=parse_key(key)), "abc")["name"] == name


@pytest.mark.parametrize(
    ("request_", "told"),
    [
        ({"abc": ""}, "holds nothing to play"),
        ({"abc": PORCH_LIGHT + "\n" + PORCH_LIGHT.replace("X:1", "X:2")}, "is one of 2 lines; a file holds one"),
        ({"key": "H"}, '"H"'),
        ({"to": "pdf"}, '"pdf" is no format to write; ask for one of abc, musicxml, midi, text'),
        ({"abc": "K:C\n\"C7\"B,,,,,,8|]", "to": "musicxml"}, "range of MIDI"),
    ],
)  # fmt: skip
def test_what_cannot_be_written_is_told_in_one_sentence(request_: dict[str, str], told: str) -> None:
    assert told in asked(**request_)["error"]


def test_without_its_pack_a_midi_file_asks_for_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "mido", None)
    assert asked(to="midi") == {"pack": "mido"}
    assert "file" in asked(to="musicxml")


def test_a_format_that_is_none_is_refused() -> None:
    with pytest.raises(BadInput, match="is no format to write"):
        line_file(LINE, "")
