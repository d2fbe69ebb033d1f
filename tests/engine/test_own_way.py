"""What a player chose for a line on the neck: told in links, kept as records, one for each tuning."""

import json
from dataclasses import replace

import pytest

from engine.formats.abc import read_abc, write_abc
from engine.lines.stock import stock
from engine.neck.instrument import GUITAR, INSTRUMENTS
from engine.practice.own_lines import fold
from engine.practice.own_records import is_line_record, is_record, is_way_record, new_records
from engine.practice.own_way import (
    ANY_WAY,
    OwnWay,
    as_json,
    from_json,
    held_on,
    keeping,
    kept,
    link_parts,
    moved_by,
    played,
    read_octaves,
    with_holds,
    with_way,
)
from engine.theory.bad_input import BadInput

LINE, OTHER = stock()[:2]
NOTES = len(LINE.notes)
ALL = OwnWay(5, ((3, 2), (1, 4)), -1, ((2, 1), (4, -1)))


@pytest.mark.parametrize("own", [ANY_WAY, OwnWay(way=-4), ALL, replace(ALL, octave=0), replace(ALL, moved=())])
def test_it_is_the_same_as_json_and_in_a_link(own: OwnWay) -> None:
    assert from_json(json.loads(json.dumps(as_json(own))), NOTES) == own
    parts = dict(part.split("=") for part in link_parts(own, 3))
    read = moved_by(ANY_WAY, read_octaves(parts.get("octave", ""), NOTES))
    read = with_way(with_holds(read, parts.get("hold", ""), NOTES), parts.get("way", ""), 3)
    assert read == own
    assert link_parts(ANY_WAY, 3) == []


def test_a_link_names_the_position_in_the_key_that_it_shows() -> None:
    assert link_parts(OwnWay(way=5), 3) == ["way=8"]
    assert link_parts(OwnWay(way=5), -4) == ["way=1"]


@pytest.mark.parametrize(
    "found",
    [None, 3, [], {"way": "5"}, {"way": True}, {"way": 1000}, {"held": [[99, 1], [0, 9], [0], "0:1", [0, "1"]]},
     {"octave": 9}, {"moved": [[0, 7]]}, {"moved": {"0": 1}}],
)  # fmt: skip
def test_what_cannot_be_read_is_as_usual(found: object) -> None:
    assert from_json(found, NOTES) == ANY_WAY


@pytest.mark.parametrize("text", ["x", "3", "3:", "3:0", "3:9", f"{NOTES}:1", "3:2;4:1", "-1:2"])
def test_a_hold_that_is_none_is_told(text: str) -> None:
    with pytest.raises(BadInput) as bad:
        with_holds(ANY_WAY, text, NOTES)
    assert "write a note from 0" in str(bad.value)


@pytest.mark.parametrize("text", ["x", "3:x", f"{NOTES}:1", "3:1:1", "100"])
def test_an_octave_that_is_none_is_told(text: str) -> None:
    with pytest.raises(BadInput):
        read_octaves(text, NOTES)


@pytest.mark.parametrize("text", ["x", "5th", "200"])
def test_a_position_that_is_none_is_told(text: str) -> None:
    with pytest.raises(BadInput):
        with_way(ANY_WAY, text, 0)


def test_a_note_is_held_once_and_let_go() -> None:
    own = held_on(held_on(held_on(ANY_WAY, 3, 2), 1, 4), 3, 1)
    assert own.held == ((1, 4), (3, 1))
    assert held_on(own, 3, None).held == ((1, 4),)


def test_what_is_moved_is_not_held_and_the_way_is_the_best_one_then() -> None:
    assert moved_by(ALL, {3: 1}) == OwnWay(None, ((1, 4),), -1, ((2, 1), (3, 1), (4, -1)))
    assert moved_by(ALL, {None: 1}) == OwnWay(None, (), 0, ((2, 1), (4, -1)))
    assert moved_by(ALL, {2: -1}).moved == ((4, -1),)


def test_octaves_move_notes_and_nothing_else() -> None:
    there = played(LINE, OwnWay(octave=-1, moved=((0, 1), (2, 1))))
    assert [(old.pitch.midi - new.pitch.midi) // 12 for old, new in zip(LINE.notes, there.notes, strict=True)] == [
        0 if index in (0, 2) else 1 for index in range(NOTES)
    ]
    assert replace(there, notes=LINE.notes) == LINE
    assert played(LINE, ANY_WAY) == LINE


def test_the_latest_record_of_a_line_and_a_tuning_counts() -> None:
    drop_d = INSTRUMENTS["guitar in drop D"]
    records: list[dict[str, object]] = []
    for line, instrument, own in ((LINE, GUITAR, ALL), (OTHER, GUITAR, ANY_WAY), (LINE, drop_d, OwnWay(way=2))):
        records.append(keeping(records, line, instrument, own, 100))
    records.append(keeping(records, LINE, GUITAR, OwnWay(way=7), 50))  # the clock was set back
    assert all(is_record(json.loads(json.dumps(record))) for record in records)
    for order in (records, records[::-1]):
        assert kept(order, LINE, GUITAR) == OwnWay(way=7)
        assert kept(order, LINE, drop_d) == OwnWay(way=2)
        assert kept(order, OTHER, drop_d) == ANY_WAY
    assert len({(record["id"], record["at"]) for record in records}) == len(records)


def test_a_line_is_known_by_its_music_whatever_is_said_of_it() -> None:
    told = replace(LINE, title="Other", number=7, remarks=("Slowly.",), tempo=90, source="A tune, bar 3")
    records = [keeping([], LINE, GUITAR, ALL, 1)]
    assert kept(records, told, GUITAR) == ALL
    assert kept(records, read_abc(write_abc(LINE))[0], GUITAR) == ALL
    assert kept(records, OTHER, GUITAR) == ANY_WAY


def test_records_of_ways_go_along_with_those_of_lines_and_are_no_lines() -> None:
    record = keeping([], LINE, GUITAR, ALL, 1)
    assert is_way_record(record)
    assert not is_line_record(record)
    assert fold([record]) == fold([])
    assert new_records([record], [], 1) == [record]
    assert new_records([record], [record], 1) == []
    for wrong in ({"tuning": 3}, {"tuning": "E2" * 99}, {"way": None}, {"more": 1}, {"id": "A"}, {"at": -1}):
        assert not is_record(record | wrong)
