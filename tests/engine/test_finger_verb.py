"""The verb ``finger`` at a terminal: the keys of the contract, its options, and every fault in one sentence."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from shift_counting import fewest_shifts

from engine.__main__ import main
from engine.neck.easier import easier
from engine.neck.fingering import ways
from engine.terminal.line_verbs import lines_in

LINE = 'X:1\nT:Down to the third\nL:1/8\nM:4/4\nK:C\n"Dm7"DFAc "G7"B_AGF|"Cmaj7"E4 z4|]\n'
WIDE = 'X:2\nT:Wide\nL:1/8\nM:4/4\nK:C\n"C7"C,,2 c\'2 z4|]\n'
HIGH = "X:3\nT:High\nL:1/8\nM:4/4\nK:C\n\"C7\"c''2 z6|]\n"
OPENS = {1: 64, 2: 59, 3: 55, 4: 50, 5: 45, 6: 40}
OUTSIDE = "lies outside the guitar, which goes from E2 to fret 22 above E4"
MIDIS = [62, 65, 69, 72, 71, 68, 67, 65, 64]


class Call:
    """What one call printed, and how it ended."""

    def __init__(self, capsys: pytest.CaptureFixture[str], *arguments: object) -> None:
        self.status = main(["finger", *map(str, arguments)])
        out, err = capsys.readouterr()
        self.lines, self.said = out.splitlines(), err.splitlines()

    @property
    def answers(self) -> list[Any]:
        return [json.loads(line) for line in self.lines]


@pytest.fixture
def mine(tmp_path: Path) -> Path:
    path = tmp_path / "mine.abc"
    path.write_text(LINE)
    return path


def ways_of(capsys: pytest.CaptureFixture[str], *arguments: object) -> list[Any]:
    called = Call(capsys, *arguments, "--json")
    assert (called.status, called.said) == (0, [])
    (answer,) = called.answers
    return list(answer["ways"])


def test_an_answer_has_exactly_the_keys_of_the_contract(mine: Path, capsys: pytest.CaptureFixture[str]) -> None:
    called = Call(capsys, mine, "--json")
    (answer,) = called.answers
    assert list(answer) == ["title", "ways"]
    assert answer["title"] == "Down to the third"
    for way in answer["ways"]:
        assert list(way) == ["places", "positions", "shifts", "span", "cost"]


def test_places_are_string_and_fret_and_the_hand_reaches_them(mine: Path, capsys: pytest.CaptureFixture[str]) -> None:
    found = ways_of(capsys, mine)
    assert len(found) > 1
    for way in found:
        assert [OPENS[string] + fret for string, fret in way["places"]] == MIDIS
        for (_, fret), hand in zip(way["places"], way["positions"], strict=True):
            assert fret == 0 or hand - 1 <= fret <= hand + 4
        changes = sum(one != other for one, other in zip(way["positions"], way["positions"][1:], strict=False))
        assert way["shifts"] == changes >= fewest_shifts(way["places"])
    assert [(way["shifts"], way["cost"]) for way in found] == sorted((way["shifts"], way["cost"]) for way in found)


def test_a_hold_puts_a_note_on_its_string(mine: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for held in (["--hold", "2:4"], ["--hold", "2:4", "--hold", "3:3"], ["--hold", "2:4", "3:3"]):
        for arguments in ([mine, *held], [*held, mine]):
            for way in ways_of(capsys, *arguments):
                assert way["places"][2] == [4, 19]
                assert len(held) == 2 or way["places"][3] == [3, 17]


def test_fretted_notes_stay_in_the_region(mine: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for way in ways_of(capsys, mine, "--from", 5, "--to", 10):
        assert all(fret == 0 or 5 <= fret <= 10 for _, fret in way["places"])
    assert all(fret == 0 or fret >= 9 for way in ways_of(capsys, mine, "--from", 9) for _, fret in way["places"])
    assert all(fret <= 8 for way in ways_of(capsys, mine, "--to", 8) for _, fret in way["places"])


def test_another_tuning_and_other_frets(mine: Path, capsys: pytest.CaptureFixture[str]) -> None:
    opens = {1: 65, 2: 60, 3: 55, 4: 50, 5: 45, 6: 40}
    for way in ways_of(capsys, mine, "--tuning", "E2,A2,D3,G3,C4,F4", "--frets", 12):
        assert [opens[string] + fret for string, fret in way["places"]] == MIDIS
        assert all(fret <= 12 for _, fret in way["places"])
    assert ways_of(capsys, mine, "--tuning", "guitar") == ways_of(capsys, mine)


def test_a_smaller_hand(mine: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert ways_of(capsys, mine, "--stretch", 5) == ways_of(capsys, mine)
    for stretch, below, above in ((3, 0, 3), (4, 0, 4)):
        for way in ways_of(capsys, mine, "--stretch", stretch):
            assert way["span"] <= stretch
            for (_, fret), hand in zip(way["places"], way["positions"], strict=True):
                assert fret == 0 or hand - below <= fret <= hand + above


def test_another_key(mine: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for way in ways_of(capsys, mine, "--key", "Eb"):
        assert [OPENS[string] + fret for string, fret in way["places"]] == [midi + 3 for midi in MIDIS]


def test_every_line_of_a_file_is_answered_and_a_fault_stands_in_its_place(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "three.abc"
    path.write_text("\n".join((LINE, HIGH, WIDE)))
    called = Call(capsys, path, "--json")
    good, high, wide = called.answers
    assert called.status == 2
    assert good["ways"]
    assert high == {"title": "High", "error": called.said[0]}
    assert wide == {"title": "Wide", "error": called.said[1]}
    assert called.said == [
        f'column 1: "C7" {OUTSIDE}; play the line an octave lower.',
        f'column 1: "C2" {OUTSIDE}; play C2 as C3.',
    ]


def test_what_would_be_easier_is_told_when_asked(mine: Path, capsys: pytest.CaptureFixture[str]) -> None:
    arguments = (mine, "--tuning", "E2,A2,D3,G3", "--frets", 20)
    (answer,) = Call(capsys, *arguments, "--easier", "--json").answers
    assert list(answer) == ["title", "ways", "easier"]
    first = answer["easier"][0]
    assert list(first) == ["note", "octaves", "shifts", "cost", "text"]
    assert (first["note"], first["octaves"]) == (None, -1)
    assert first["text"].startswith("Play the whole line an octave lower: no shift saved, but ")
    called = Call(capsys, *arguments, "--easier")
    assert any(first["text"] in line for line in called.lines)


def test_people_get_a_sentence_and_the_places_of_each_way(mine: Path, capsys: pytest.CaptureFixture[str]) -> None:
    called = Call(capsys, mine)
    assert called.lines[0] == "title Down to the third"
    found = ways(lines_in(str(mine))[0])
    assert len(called.lines) == 1 + len(found)
    for line, way in zip(called.lines[1:], found, strict=True):
        assert line.strip().startswith("No shift: the hand stays at the ")
        assert line.endswith(" ".join(f"{string}/{fret}" for string, fret in way.places))
    assert easier(lines_in(str(mine))[0]) == ()


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (["--tuning", ""], '"" is no note for a string; write notes from low to high, such as E2,A2,D3,G3,B3,E4.'),
        (["--tuning", "E2,A2"], '"E2,A2" has 2 strings; give 4 to 8 strings, such as E2,A2,D3,G3,B3,E4.'),
        (["--tuning", "E4,A2,D3,G3"], '"A2" does not lie above E4 before it; give the strings from low to high.'),
        (["--frets", "0"], '"0" is no number of frets for a neck; give 12 to 27.'),
        (["--frets", "many"], '"many" is no whole number; write for example 12.'),
        (["--from", "-1"], '"-1" is no whole number; write for example 12.'),
        (["--from", "9", "--to", "5"], '"9 to 5" runs down the neck; give frets 5 to 9.'),
        (["--to", "40"], '"40" is no fret of this neck; give one from 0 to 22.'),
        (["--from", "5", "--to", "6"], '"5 to 6" has no place for D4, C5, B4, Ab4 and G4 on the neck; give '
                                         'frets 4 to 8.'),
        (["--stretch", "6"], '"6" is no stretch that a hand is counted with; give a distance of 3, 4 or 5 frets.'),
        (["--stretch", "wide"], '"wide" is no whole number; write for example 12.'),
        (["--hold", "two"], '"two" holds no note on a string; write a note, counted from 0, and its string, 1 being '
                            "the highest: 3:2."),
        (["--hold", "9:1"], '"9:1" names a note that is not there; count notes from 0 to 8.'),
        (["--hold", "0:7"], '"0:7" names a string that is not there; strings go from 1, the highest, to 6.'),
        (["--hold", "0:0"], '"0:0" names a string that is not there; strings go from 1, the highest, to 6.'),
        (["--hold", "0:1"], '"0:1" holds D4 on string 1, where it has no place; hold it on string 2, 3, 4, 5 or '
                            '6.'),
        (["--hold", "1:1", "1:2"], '"1:2" holds a note that is held already; hold every note once.'),
        (["--from", "5", "--to", "9", "--hold", "0:2"], '"0:2" holds D4 on string 2, where it has no place; hold it on '
                                                        "string 3."),
        (["--key", "H"], '"H" is no key; write a key such as Eb, or Cm for minor.'),
        (["--hold"], '"--hold" needs a value behind it; write for example --hold 3:2.'),
    ],
)  # fmt: skip
def test_a_bad_option_is_said_in_one_sentence(
    mine: Path, capsys: pytest.CaptureFixture[str], arguments: list[str], says: str
) -> None:
    called = Call(capsys, mine, *arguments, "--json")
    assert called.status == 2
    assert len(called.said) == 1
    assert called.said[0].startswith("column ")
    assert called.said[0].partition(": ")[2] == says
    (answer,) = called.answers
    assert answer["error"] == called.said[0]


def test_a_file_is_needed(capsys: pytest.CaptureFixture[str]) -> None:
    called = Call(capsys)
    assert called.status == 2
    assert called.said == ['column 1: "" is too little: give a file with a line; write for example finger mine.abc.']
