"""The verbs about lines at a terminal: the keys of the contract, and every fault in one sentence with its place."""

from __future__ import annotations

import io
import json
import sys
from pathlib import Path
from typing import Any

import pytest

from engine.__main__ import main
from engine.formats.abc import read_abc
from tests.pace import SOON, paced

LINE = 'X:1\nT:Down to the third\nL:1/8\nM:4/4\nK:C\n"Dm7"DFAc "G7"B_AGF|"Cmaj7"E4 z4|]\n'
MINOR = 'X:2\nT:In minor\nL:1/8\nM:4/4\nK:Am\n"Bm7b5"DFAc "E7"B^GFD|"Am"C8|]\n'
PICKUP = 'X:1\nL:1/8\nM:4/4\nK:F\nFG|"Gm7"Bdfa "C7"g2 e2-|"Fmaj7"e4 (3fga z2|]\n'
EARLY = 'X:1\nL:1/8\nM:4/4\nK:C\n"G7"GABd B2F2|"Cmaj7"z8|]\n'
# Nothing to step on: no arpeggio, no run, no landing.
BARE = 'X:1\nT:Bare\nL:1/4\nM:4/4\nK:C\n"C7"C4|]\n'


class _Bytes(io.TextIOWrapper):
    """Standard output that also takes bytes, as a real one does."""

    def __init__(self) -> None:
        super().__init__(io.BytesIO(), encoding="utf-8", newline="")

    def all(self) -> bytes:
        self.flush()
        return bytes(self.buffer.getvalue())  # type: ignore[attr-defined]


class Call:
    """What one call wrote, and how it ended."""

    def __init__(self, status: int, data: bytes, err: str) -> None:
        self.status = status
        self.data = data
        self.said = err.splitlines()

    @property
    def lines(self) -> list[str]:
        return self.data.decode().splitlines()

    @property
    def answers(self) -> list[Any]:
        return [json.loads(line) for line in self.lines]


def _call(*arguments: object) -> Call:
    kept = sys.stdout, sys.stderr
    out, err = _Bytes(), io.StringIO()
    sys.stdout, sys.stderr = out, err
    try:
        status = main([str(argument) for argument in arguments])
        return Call(status, out.all(), err.getvalue())
    finally:
        sys.stdout, sys.stderr = kept


@pytest.fixture
def mine(tmp_path: Path) -> Path:
    return _written(tmp_path, LINE)


def _written(folder: Path, text: str | bytes, name: str = "mine.abc") -> Path:
    path = folder / name
    path.write_bytes(text if isinstance(text, bytes) else text.encode())
    return path


# --- line ---------------------------------------------------------------------


def test_a_line_has_exactly_the_keys_of_the_contract(mine: Path) -> None:
    called = _call("line", mine, "--json")
    (answer,) = called.answers
    assert (called.status, called.said) == (0, [])
    assert list(answer) == ["key", "title", "bars", "notes", "devices", "landing"]
    assert (answer["key"], answer["title"]) == ("C", "Down to the third")
    assert answer["bars"] == [
        {"chord": "Dm7", "beat": 0}, {"chord": "G7", "beat": 2}, {"chord": "Cmaj7", "beat": 4},
    ]  # fmt: skip
    assert answer["notes"][5] == {
        "note": "Ab4", "start": 2.5, "length": 0.5, "chord": "G7", "degree": "b9", "role": "alteration", "aims": None,
    }  # fmt: skip
    assert " ".join(note["degree"] for note in answer["notes"]) == "1 b3 5 b7 3 b9 1 b7 3"
    assert answer["landing"] == {"index": 8, "degree": "3", "semitones": -1}
    for device in answer["devices"]:
        assert list(device) == ["name", "first", "last", "text"]
        assert 0 <= device["first"] <= device["last"] < len(answer["notes"])
        assert device["name"] == device["name"].lower()
    assert "landing on the third" in [device["name"] for device in answer["devices"]]


def test_pickups_start_before_zero_ties_are_one_note_and_thirds_of_a_beat_are_strings(tmp_path: Path) -> None:
    (answer,) = _call("line", _written(tmp_path, PICKUP), "--json").answers
    assert [(note["start"], note["chord"]) for note in answer["notes"][:2]] == [(-1, "Gm7"), (-0.5, "Gm7")]
    tied = answer["notes"][7]
    assert (tied["note"], tied["start"], tied["length"]) == ("E5", 3, 3)
    assert [note["length"] for note in answer["notes"][8:]] == ["1/3", "1/3", "1/3"]
    assert [note["start"] for note in answer["notes"][8:]] == [6, "19/3", "20/3"]


def test_a_note_that_leads_over_the_bar_line_is_shown_both_ways(tmp_path: Path) -> None:
    abc = 'X:1\nL:1/8\nM:4/4\nK:C\n"G7"GABd G2F^D|"Cmaj7"E8|]\n'
    (answer,) = _call("line", _written(tmp_path, abc), "--json").answers
    assert [note["aims"] for note in answer["notes"][-3:]] == [
        {"chord": "Cmaj7", "degree": "11"}, {"chord": "Cmaj7", "degree": "#9"}, None,
    ]  # fmt: skip


@pytest.mark.parametrize(("typed", "key"), [("Eb", "Eb"), ("E♭", "Eb"), ("Ebm", "Eb"), ("F#", "F#")])
def test_a_key_moves_the_line_and_keeps_its_mode(mine: Path, typed: str, key: str) -> None:
    (answer,) = _call("line", mine, "--key", typed, "--json").answers
    (here,) = _call("line", mine, "--json").answers
    assert answer["key"] == key
    assert [note["degree"] for note in answer["notes"]] == [note["degree"] for note in here["notes"]]
    assert answer["landing"] == here["landing"]


@pytest.mark.parametrize(
    ("abc", "keys"),
    [(LINE, "C F Bb Eb Ab Db Gb B E A D G"), (MINOR, "Am Dm Gm Cm Fm Bbm Ebm G#m C#m F#m Bm Em")],
)
def test_all_keys_go_round_the_cycle_of_fourths(tmp_path: Path, abc: str, keys: str) -> None:
    called = _call("line", _written(tmp_path, abc), "--all-keys", "--json")
    assert [answer["key"] for answer in called.answers] == keys.split()
    assert len({json.dumps(answer["notes"]) for answer in called.answers}) == 12


def test_another_last_chord_moves_the_landing_and_says_so(mine: Path) -> None:
    (answer,) = _call("line", mine, "--next", "Cm7", "--json").answers
    assert list(answer)[-1] == "changed"
    assert answer["changed"] == ["Over Cm7 the landing E becomes E♭, its ♭3."]
    assert (answer["notes"][-1]["note"], answer["bars"][-1]["chord"]) == ("Eb4", "Cm7")
    assert answer["landing"] == {"index": 8, "degree": "b3", "semitones": -2}


def test_another_last_chord_is_read_in_the_lines_own_key_and_moved_with_it(mine: Path) -> None:
    (answer,) = _call("line", mine, "--next", "Cm7", "--key", "F", "--json").answers
    assert (answer["bars"][-1]["chord"], answer["notes"][-1]["note"]) == ("Fm7", "Ab4")


def test_a_line_without_a_landing_gets_one_proposed(tmp_path: Path) -> None:
    path = _written(tmp_path, EARLY)
    assert _call("line", path, "--json").answers[0]["landing"] is None
    (answer,) = _call("line", path, "--next", "Cm7", "--json").answers
    assert answer["landing"] == {"index": None, "degree": "b3", "semitones": -2, "note": "Eb4"}
    assert answer["notes"] == _call("line", path, "--json").answers[0]["notes"]


def test_every_line_of_a_file_is_answered_in_order(tmp_path: Path) -> None:
    path = _written(tmp_path, LINE + "\n" + MINOR)
    assert [answer["title"] for answer in _call("line", path, "--json").answers] == ["Down to the third", "In minor"]
    assert len(_call("line", path, "--all-keys", "--json").answers) == 24


def test_without_json_it_is_an_aligned_table(mine: Path) -> None:
    called = _call("line", mine)
    assert called.status == 0
    assert called.lines[0] == "key C  title Down to the third  landing index 8, degree 3, semitones -1"
    notes = [line for line in called.lines if "  G7 " in line and ("chord tone" in line or "alteration" in line)]
    assert len(notes) == 4
    assert len({line.index("G7") for line in notes}) == 1
    assert len({line.index("chord tone") for line in notes if "chord tone" in line}) == 1
    assert not any(set("{}[]") & set(line) or line != line.rstrip() for line in called.lines)


# --- export -------------------------------------------------------------------


def test_exported_abc_is_the_same_line_again(mine: Path) -> None:
    called = _call("export", mine, "--to", "abc")
    assert (called.status, called.said) == (0, [])
    assert read_abc(called.data.decode()) == read_abc(LINE)


def test_every_format_starts_as_it_should(mine: Path) -> None:
    assert _call("export", mine, "--to", "musicxml").data.startswith(b"<?xml")
    assert _call("export", mine, "--to", "midi").data.startswith(b"MThd\x00\x00\x00\x06")
    assert _call("export", mine, "--to", "text").lines[0] == "Down to the third"


def test_export_in_another_key(mine: Path) -> None:
    (line,) = read_abc(_call("export", mine, "--to", "abc", "--key", "Bb").data.decode())
    assert str(line.key) == "Bb"
    assert [change.chord.symbol for change in line.changes] == ["Cm7", "F7", "Bbmaj7"]


@pytest.mark.parametrize("kind", ["abc", "musicxml", "midi", "text"])
def test_out_writes_the_same_file_and_prints_nothing(mine: Path, tmp_path: Path, kind: str) -> None:
    out = tmp_path / "out"
    called = _call("export", mine, "--to", kind, "--out", out)
    assert (called.status, called.data, called.said) == (0, b"", [])
    assert out.read_bytes() == _call("export", mine, "--to", kind).data
    assert _call("export", mine, "--to", kind, "--out", out, "--json").answers == [{"to": kind, "out": str(out)}]


def test_json_carries_the_text_of_a_file(mine: Path) -> None:
    (answer,) = _call("export", mine, "--to", "abc", "--json").answers
    assert answer["to"] == "abc"
    assert answer["file"].encode() == _call("export", mine, "--to", "abc").data


def test_several_lines_go_into_one_text_but_not_into_one_score(tmp_path: Path) -> None:
    path = _written(tmp_path, LINE + "\n" + MINOR)
    assert len(read_abc(_call("export", path, "--to", "abc").data.decode())) == 2
    called = _call("export", path, "--to", "midi")
    assert called.status == 2
    assert "has 2 lines, and a midi file holds one; give a file with one line." in called.said[0]


def test_a_script_in_a_title_stays_text(tmp_path: Path) -> None:
    abc = LINE.replace("Down to the third", '<script>alert("1")</script> & more')
    path = _written(tmp_path, abc)
    (answer,) = _call("line", path, "--json").answers
    assert answer["title"] == '<script>alert("1")</script> & more'
    score = _call("export", path, "--to", "musicxml").data
    assert b"<script" not in score
    assert b"&lt;script&gt;" in score


# --- drill --line -------------------------------------------------------------

ABOUT_LINES = ("finish-the-line", "degrees-of-the-line", "move-the-line", "spot-the-device")


@pytest.mark.parametrize("slug", ABOUT_LINES)
def test_a_drill_asks_about_the_line_it_is_given(mine: Path, slug: str) -> None:
    called = _call("drill", slug, "--line", mine, "--count", 12, "--json")
    assert (called.status, len(called.answers)) == (0, 12)
    chords = {question["given"]["chord"] for question in called.answers}
    assert chords <= ({"Gm7", "C7", "Fmaj7"} if slug == "move-the-line" else {"Dm7", "G7", "Cmaj7"})


@pytest.mark.parametrize("slug", ABOUT_LINES)
def test_a_line_with_nothing_to_ask_is_refused_in_a_sentence(tmp_path: Path, slug: str) -> None:
    called = _call("drill", slug, "--line", _written(tmp_path, BARE), "--json")
    assert (called.status, len(called.said)) == (2, 1)
    assert 'column 1: "Bare" has nothing to ask' in called.said[0]
    assert called.answers[0]["error"] == called.said[0]


# --- faults -------------------------------------------------------------------

HEAD = "X:1\nL:1/8\nM:4/4\nK:C\n"
BAD_FILES = (
    (b"\xff\xfe\x00x", "is no text in UTF-8; save it as UTF-8"),
    ("", "holds nothing to play"),
    ("hello", "holds nothing to play"),
    (HEAD, "nothing to play"),
    (HEAD + '"Dm7"DFAc "H7"BAGF|"Cmaj7"E8|]\n', "line 5, column "),
    (HEAD + '"Dm7"DFAc "G7xyz"BAGF|"Cmaj7"E8|]\n', "line 5, column "),
    (HEAD + '"Dm7"DFAc "G7BAGF|E8|]\n', "line 5, column "),
    (HEAD + '"Dm7"DFAc BAGF AB|"Cmaj7"E8|]\n', "line 5, column "),
    (HEAD + '"C7"z8|]\n', "nothing to play"),
    (HEAD + "CEGc BAGF|E8|]\n", "line "),
    ("X:1\nL:1/8\nM:4/4\n\"C7\"CEGc z4|]\n", "line "),
    (HEAD + '"C7"C\x00EG z4|]\n', "line 5, column "),
)  # fmt: skip


@pytest.mark.parametrize(("content", "words"), BAD_FILES, ids=range(len(BAD_FILES)))
@pytest.mark.parametrize("verb", ["line", "export", "drill"])
def test_a_file_that_cannot_be_read_gets_one_sentence(
    tmp_path: Path, verb: str, content: str | bytes, words: str
) -> None:
    path = _written(tmp_path, content)
    calls = {"line": ["line", path], "export": ["export", path, "--to", "abc"],
             "drill": ["drill", "spot-the-device", "--line", path]}  # fmt: skip
    _refused(_call(*calls[verb], "--json"), words)
    plain = _call(*calls[verb])
    assert (plain.status, plain.data, len(plain.said)) == (2, b"", 1)


def _refused(called: Call, words: str) -> None:
    assert called.status == 2
    assert len(called.said) == 1, called.said
    assert words in called.said[0], called.said[0]
    assert "column " in called.said[0]
    assert called.said[0].endswith(".")
    assert "Traceback" not in called.said[0]
    (answer,) = called.answers
    assert answer["error"] == called.said[0]


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["line"], "is too little: give a file with a line"),
        (["line", "FILE", "more.abc"], '"more.abc" is one too many after a file with a line'),
        (["line", "nowhere.abc"], '"nowhere.abc" cannot be read (no such file or directory); give the path'),
        (["line", "a\0b"], "cannot be read"),
        (["line", "FOLDER"], "cannot be read (is a directory)"),
        (["line", "FILE", "--key", "H"], 'column 1: "H" is no key; write a key such as Eb'),
        (["line", "FILE", "--key", "C", "--all-keys"], '"--key" does not go with --all-keys'),
        (["line", "FILE", "--next", "X7"], '"X7" does not start with a root'),
        (["line", "FILE", "--next", "C7x"], 'column 3: "x" is not part of a chord symbol'),
        (["line", "FILE", "--next"], '"--next" needs a value behind it'),
        (["line", "FILE", "--up"], '"--up" is no option here'),
        (["export", "FILE"], "is no format to write; write --to abc, musicxml, midi, text"),
        (["export", "FILE", "--to", "pdf"], '"pdf" is no format to write'),
        (["export", "FILE", "--to", "abc", "--key", "Q"], '"Q" is no key'),
        (["export", "FILE", "--to", "abc", "--out", "FOLDER/none/out.abc"], "cannot be written (no such file"),
        (["export", "FILE", "--to", "midi", "--out", "FOLDER"], "cannot be written (is a directory)"),
        (["export", "--to", "abc"], "is too little: give a file with a line"),
        (["drill", "name-the-degree", "--line", "FILE"], '"--line" does not go with name-the-degree; it goes with'),
        (["drill", "spot-the-device", "--line", "nowhere.abc"], "cannot be read"),
        (["drill", "spot-the-device", "--line", "TWO"], "has 2 lines; give a file with one line"),
        (["drill", "spot-the-device", "--line", "FILE", "--chords", "mMaj7"], "has nothing to ask"),
    ],
)
def test_a_call_that_cannot_be_answered_gets_one_sentence(
    mine: Path, tmp_path: Path, arguments: list[str], words: str
) -> None:
    two = _written(tmp_path, LINE + "\n" + MINOR, "two.abc")
    places = {"FILE": str(mine), "TWO": str(two)}
    given = [places.get(argument, argument).replace("FOLDER", str(tmp_path)) for argument in arguments]
    _refused(_call(*given, "--json"), words)


@pytest.mark.parametrize(
    "garbage",
    ["x" * 1_000_000, HEAD + "[" * 1_000_000, HEAD + '"' * 999_999, HEAD + "C" * 1_000_000, "X:1\n" * 250_000,
     HEAD + "(3" * 500_000, "%\n" * 500_000, HEAD + '"C7"' + "A-" * 500_000, "\0" * 1_000_000],
    ids=range(9),
)  # fmt: skip
def test_a_megabyte_of_garbage_is_refused_at_once(tmp_path: Path, garbage: str) -> None:
    path = _written(tmp_path, garbage)
    _, took = paced(lambda: _refused(_call("line", path, "--json"), "line "))
    assert took < SOON


def test_a_file_that_is_too_large_is_not_even_read(tmp_path: Path) -> None:
    _refused(_call("line", _written(tmp_path, "x" * 2_000_001), "--json"), "has 2,000,001 bytes, too many")
