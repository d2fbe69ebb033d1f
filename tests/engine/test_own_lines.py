"""Own lines: nothing that was kept is lost, whatever the order, the clock, or the file that it came in."""

import json
import random
from dataclasses import replace
from typing import Any

import pytest

from engine.formats.abc import read_abc, write_abc
from engine.lines.line import Line
from engine.practice.own_lines import (
    LONGEST_FILE,
    MOST_LINES,
    OwnLines,
    deleted,
    fold,
    from_abc,
    new_ids,
    restored,
    saved,
    to_abc,
)
from engine.practice.own_records import LATEST, LONGEST_ABC, is_record, new_records
from engine.practice.records import FORMAT, as_file, read_file
from engine.practice.said_of_line import LONGEST, marked, with_said
from engine.theory.bad_input import BadInput
from tests.engine.lines_at_random import line_at_random
from tests.pace import SOON, paced

DOWN = 'X:1\nT:Down\nS:Own, bar 5\nK:C\n"Dm7"fedc "G7"BA^GB|"Cmaj7"c4 z4|]\n'
UP = 'X:4\nT:Up\nK:Bb\n"Bb7"DFAc|]\n'


def line(text: str) -> Line:
    return read_abc(text)[0]


def kept(*texts: str, at: int = 1000) -> list[dict[str, Any]]:
    return [saved(line(text), at + number, number) for number, text in enumerate(texts)]


def titles(lines: OwnLines) -> list[str]:
    return [own.line.title if own.line else own.abc for own in lines.lines]


def test_the_newest_stands_first_and_an_edit_does_not_move_a_line() -> None:
    records = kept(DOWN, UP)
    assert titles(fold(records)) == ["Up", "Down"]
    down = fold(records).lines[1]
    records.append(saved(replace(line(DOWN), title="Down, later"), 5000, 99, down))
    found = fold(records)
    assert titles(found) == ["Up", "Down, later"]
    assert (found.lines[1].kept, found.lines[1].at, found.lines[1].id) == (1000, 5000, down.id)
    assert titles(fold(reversed(records))) == titles(found), "the order in the store says nothing"


def test_a_line_is_kept_as_canonical_text() -> None:
    (record,) = kept(UP)
    assert record["abc"] == write_abc(replace(line(UP), number=1))
    assert is_record(json.loads(json.dumps(record)))


def test_what_is_deleted_comes_back_as_it_was() -> None:
    records = kept(DOWN, UP)
    up = fold(records).lines[0]
    records.append(deleted(up, 2000))
    gone = fold(records)
    assert (titles(gone), [own.id for own in gone.deleted]) == (["Down"], [up.id])
    assert gone.find(up.id) == replace(up, at=2000)
    records.append(restored(gone.deleted[0], 3000))
    assert titles(fold(records)) == ["Up", "Down"]
    assert fold(records).deleted == ()


def test_a_clock_that_was_set_back_undoes_nothing() -> None:
    records = kept(DOWN)
    own = fold(records).lines[0]
    records.append(saved(replace(line(DOWN), title="Later"), 10, 0, own))
    assert titles(fold(records)) == ["Later"]
    records.append(deleted(fold(records).lines[0], 5))
    assert titles(fold(records)) == []


def test_of_two_records_of_one_time_the_later_one_counts() -> None:
    one, two = ({"v": 1, "id": "a", "at": 7, "abc": text} for text in (DOWN, UP))
    assert titles(fold([one, two])) == ["Up"]
    assert titles(fold([two, one])) == ["Down"]


def test_a_text_that_cannot_be_read_is_still_there() -> None:
    bad = {"v": 1, "id": "b", "at": 1, "abc": 'X:1\nT:Bad\nK:C\n"Dm7"fed h4|]'}
    double = {"v": 1, "id": "c", "at": 2, "abc": DOWN + "\n" + UP}
    found = fold([bad, *kept(DOWN), double])
    assert [own.line is None for own in found.lines] == [False, True, True]
    assert [own.id for own in found.lines[1:]] == ["c", "b"]
    assert [own.fault for own in found.lines[1:]] == [
        'column 1: "X:4" starts another line; keep one line here, and paste the others anew.',
        'line 4, column 10: "h" is no sign of music; write notes as A to G or a to g, rests as z.',
    ]
    # It goes along in a file, and does not keep the others from being read.
    taken = from_abc(to_abc([found.lines[2], found.lines[0]]), OwnLines(), 1, 1)
    assert titles(fold(taken.records)) == ["Down"]
    assert taken.faults == ('line 4, column 10: "h" is no sign of music; write notes as A to G or a to g, rests as z.',)


HOSTILE: list[Any] = [
    None, 1, "x", [], {}, {"v": 2, "id": "a", "at": 1, "abc": DOWN}, {"v": True, "id": "a", "at": 1, "abc": DOWN},
    {"v": 1, "id": "<img>", "at": 1, "abc": DOWN}, {"v": 1, "id": "", "at": 1, "abc": DOWN},
    {"v": 1, "id": "a" * 33, "at": 1, "abc": DOWN}, {"v": 1, "id": 5, "at": 1, "abc": DOWN},
    {"v": 1, "id": "a\n", "at": 1, "abc": DOWN},
    {"v": 1, "id": "a", "at": -1, "abc": DOWN}, {"v": 1, "id": "a", "at": 1.5, "abc": DOWN},
    {"v": 1, "id": "a", "at": True, "abc": DOWN}, {"v": 1, "id": "a", "at": LATEST + 1, "abc": DOWN},
    {"v": 1, "id": "a", "at": float("inf"), "abc": DOWN}, {"v": 1, "id": "a", "at": "1", "abc": DOWN},
    {"v": 1, "id": "a", "at": 1, "abc": ""}, {"v": 1, "id": "a", "at": 1, "abc": ["X"]},
    {"v": 1, "id": "a", "at": 1, "abc": "c" * (LONGEST_ABC + 1)}, {"v": 1, "id": "a", "at": 1},
    {"v": 1, "id": "a", "at": 1, "deleted": 1}, {"v": 1, "id": "a", "at": 1, "abc": DOWN, "deleted": True},
    {"v": 1, "id": "a", "at": 1, "abc": DOWN, "more": 1},
]  # fmt: skip


def test_bad_records_are_ignored_and_counted() -> None:
    found = fold([*HOSTILE, *kept(DOWN), *HOSTILE])
    assert (titles(found), found.ignored) == (["Down"], 2 * len(HOSTILE))
    assert fold([{"v": 1, "id": "never", "at": 1, "deleted": True}]).lines == ()


@pytest.mark.parametrize("seed", range(200))
def test_records_in_any_order_add_up_to_the_same(seed: int) -> None:
    """A random life of three lines: the fold agrees with a plain account of it, and so does a shuffled one."""
    chance = random.Random(seed)
    records: list[dict[str, Any]] = []
    texts: dict[str, str] = {}
    gone: set[str] = set()
    for step in range(30):
        found, at = fold(records), int(chance.random() * 50)
        own = (*found.lines, *found.deleted)
        one = own[int(chance.random() * len(own))] if own else None
        if one is None or (len(own) < 3 and chance.random() < 0.3):
            records.append(saved(line_at_random(step), at, seed * 100 + step))
            texts[records[-1]["id"]] = records[-1]["abc"]
        elif one.id in gone:
            records.append(restored(one, at))
            gone.discard(one.id)
        elif chance.random() < 0.4:
            records.append(deleted(one, at))
            gone.add(one.id)
        else:
            records.append(saved(line_at_random(100 + step), at, 0, one))
            texts[one.id] = records[-1]["abc"]
    shuffled = sorted(records, key=lambda _: chance.random())
    for order in (records, shuffled):
        found = fold(order)
        assert {own.id: own.abc for own in found.lines} == {key: text for key, text in texts.items() if key not in gone}
        assert {own.id for own in found.deleted} == gone
        assert all(own.line for own in found.lines)


def test_names_are_made_by_chance_alone() -> None:
    assert new_ids(5, 3) == new_ids(5, 3)
    assert len({name for chance in range(1000) for name in new_ids(chance, 3)}) == 3000
    assert all(is_record({"v": 1, "id": name, "at": 0, "deleted": True}) for name in new_ids(2**53 - 1, 100))


def test_all_lines_go_to_a_file_and_come_back() -> None:
    lines = [replace(line_at_random(seed), source="Far", group="still to study") for seed in range(20)]
    records = [saved(one, 1000 + place, place) for place, one in enumerate(lines)]
    own = fold(records)
    text = to_abc(own.lines)
    assert [one.number for one in read_abc(text)] == list(range(1, 21))
    taken = from_abc(text, OwnLines(), 5000, 3)
    assert (taken.known, taken.faults) == (0, ())
    back = fold(taken.records)
    assert [one.abc for one in back.lines] == [one.abc for one in own.lines]
    again = from_abc(text, back, 6000, 4)
    assert (again.records, again.known, again.faults) == ((), 20, ())


def test_a_known_line_has_the_same_music_and_title() -> None:
    own = fold(kept(DOWN))
    same = DOWN.replace("S:Own, bar 5", "N:elsewhere").replace("X:1", "X:9")
    other = DOWN.replace("T:Down", "T:Down again")
    taken = from_abc(f"{same}\n{other}\n{other.replace('X:1', 'X:2')}", own, 1, 1)
    assert (len(taken.records), taken.known, taken.faults) == (1, 2, ())
    gone = fold([*kept(DOWN), deleted(own.lines[0], 2)])
    assert len(from_abc(same, gone, 1, 1).records) == 1, "a deleted one is not there"


def test_a_bad_tune_is_told_with_its_place_and_stops_no_other() -> None:
    first, last = 'X:1\nT:Bad\nK:C\n"G7"c2 h|]\n', 'X:1\nT:Bad too\nM:x\nK:C\n"C"c4|]\nX:1\nT:No\n'
    text = f"L:1/4\nN:from a lesson\n\n{first}\n{UP}\n{last}"
    taken = from_abc(text, OwnLines(), 1, 1)
    assert titles(fold(taken.records)) == ["Up"]
    places = ["line 7, column 8", "line 16, column 3", "line 19, column 1"]
    assert [fault.split(":")[0] for fault in taken.faults] == places
    rows = text.split("\n")
    assert (rows[6][7], rows[15][2], rows[18]) == ("h", "x", "X:1")


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "holds nothing to play"),
        ("hello", "line 1, column 1"),
        ("K:C\nh", "line 2, column 1"),
        ("c" * (LONGEST_FILE + 1), "too large"),
        ("X:1\nK:C\n" + '"C"' + "c8|" * LONGEST_ABC, "line 1, column 1"),
    ],
)
def test_a_text_without_lines_gets_one_sentence(text: str, words: str) -> None:
    taken = from_abc(text, OwnLines(), 1, 1)
    assert taken.records == ()
    (fault,) = taken.faults
    assert words in fault
    assert fault.endswith(".")
    assert len(fault) < 250


def test_a_file_of_very_many_tunes_is_read_soon_and_what_is_left_out_is_said() -> None:
    text = "% word\n" * 500 + 'X:1\nK:C\n"C"c8|]\n' * (MOST_LINES + 5)
    taken, took = paced(lambda: from_abc(text, OwnLines(), 1, 1))
    assert took < SOON
    assert (len(taken.records), taken.known) == (1, MOST_LINES - 1)
    assert taken.faults[0].startswith(f'line {501 + 3 * MOST_LINES}, column 1: "X:" comes after the first 500 lines')


def test_a_line_that_is_too_long_is_not_kept() -> None:
    long = replace(line(UP), remarks=("x" * LONGEST_ABC,))
    with pytest.raises(BadInput, match="too long"):
        saved(long, 1, 1)


def test_the_mark_stands_beside_other_groups() -> None:
    plain = line(UP)
    assert marked(plain, True).group == "still to study"
    for to_study in (True, False):
        (own,) = fold([saved(marked(replace(plain, group="blues"), to_study), 1, 1)]).lines
        assert own.is_to_study == to_study
    grouped = replace(plain, group="blues, still to study,")
    assert (marked(grouped, True).group, marked(grouped, False).group) == ("blues, still to study", "blues")


def test_one_file_is_the_whole_backup() -> None:
    records = kept(DOWN, UP)
    records.append(deleted(fold(records).lines[0], 9000))
    found = read_file(as_file([], records))
    assert (found.records, found.lines, found.left_out) == ([], records, 0)
    assert new_records(found.lines, [], 9000) == records
    assert new_records(found.lines, records[:1], 9000) == records[1:]
    older = json.dumps({"format": FORMAT, "v": 1, "records": []})
    assert read_file(older) == ([], [], 0, None)
    hostile = json.dumps({"format": FORMAT, "v": 1, "records": [], "lines": HOSTILE[:5]})
    assert read_file(hostile) == ([], [], 5, None)
    assert read_file(json.dumps({"format": FORMAT, "v": 1, "records": [], "lines": {"a": 1}})) == ([], [], 1, None)


def test_a_record_from_the_future_does_not_come_in() -> None:
    """As the latest of its line it would stand against whatever the player does to it."""
    record = {"v": 1, "id": "a", "at": 2**52, "abc": DOWN}
    assert new_records([record], [], 1_790_000_000_000) == []
    assert new_records([{**record, "at": 1_790_000_100_000}], [], 1_790_000_000_000) != []


def test_what_is_said_of_a_line_is_tidied() -> None:
    fields = {
        "title": [" A  <b>\n title "],
        "source": ["s" * 300],
        "remarks": ["one\r\n\r\n two  three "],
        "study": ["yes"],
    }
    said = with_said(line(UP), fields)
    assert (said.title, len(said.source), said.remarks) == ("A <b> title", LONGEST, ("one", "two three"))
    assert said.group == "still to study"
    assert read_abc(write_abc(said)) == (said,)
    assert with_said(said, {}) == replace(line(UP), title="")
