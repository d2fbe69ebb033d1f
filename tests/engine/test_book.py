"""The line book keeps its rules, and every rule catches a line that breaks it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from engine.formats.abc import read_abc, write_abc
from engine.lines.devices.recognise import DEVICES, analyse
from engine.lines.line import Line
from engine.lines.moving import moved_to
from engine.lines.use import USES, use_of
from engine.theory.key import parse_key
from engine.theory.pitch import parse_pitch
from tests.engine.rules_of_the_book import (
    BAR,
    BOOK_RULES,
    LEAST,
    LINE_RULES,
    LINES,
    RHYTHMS,
    Faults,
    compass,
    devices,
    different,
    direction,
    ending,
    ends_early,
    enough,
    few_early_endings,
    length,
    note_values,
    remark,
    rhythms,
    strong_beats,
    use,
)

FOLDER = Path(__file__).resolve().parents[2] / "docs" / "lines"
TEXTS = {path.stem: path.read_text(encoding="utf-8") for path in sorted(FOLDER.glob("*.abc"))}
BOOK = tuple(line for text in TEXTS.values() for line in read_abc(text))


# --- the book -------------------------------------------------------------------


@pytest.mark.parametrize("line", BOOK, ids=lambda line: line.title)
@pytest.mark.parametrize("rule", LINE_RULES, ids=lambda rule: rule.__name__)
def test_a_line_keeps_the_rule(rule: Callable[[Line], Faults], line: Line) -> None:
    assert not list(rule(line))


@pytest.mark.parametrize("rule", BOOK_RULES, ids=lambda rule: rule.__name__)
def test_the_book_keeps_the_rule(rule: Callable[[tuple[Line, ...]], Faults]) -> None:
    assert not list(rule(BOOK))


@pytest.mark.parametrize("slug", TEXTS)
def test_a_file_has_one_line_in_canonical_form_and_is_called_as_it(slug: str) -> None:
    (line,) = read_abc(TEXTS[slug])
    assert write_abc(line) == TEXTS[slug]
    assert slug == line.title.lower().replace(" ", "-")
    assert not line.composer


def test_the_least_numbers_are_of_uses() -> None:
    assert set(LEAST) == set(USES) - {"other"}


# --- that the rules can be broken ----------------------------------------------

REMARK = "It goes up in thirds, and comes down by step to the fifth."
GOOD = '"Dm7"zF Ac e2 dc | "G7"B2 _ed BA G_A | "Cmaj7"G4 E4 |]'
# Lines that break a rule: the rule, and the music in C.
BROKEN = (
    (length, GOOD.replace("E4 |]", "E4 | z8 | z8 |]")),
    (compass, GOOD.replace("zF", "zF,,")),
    (compass, GOOD.replace("zF", "zf'")),
    (compass, GOOD.replace("BA", "bA")),
    (direction, '"Dm7"zF Ac e2 dc | "G7"B2 AG FE D_E | "Cmaj7"E4 E4 |]'),
    (direction, '"G7"DE FG AB cd | ef d2 B2 G2 |]'),
    (strong_beats, GOOD.replace('"Cmaj7"G4', '"Cmaj7"F4')),  # a natural 11 begun over a major chord
    (strong_beats, GOOD.replace("BA G_A", "^FG FA")),  # outside
    (strong_beats, GOOD.replace("e2 dc", "e2 cA")),  # a ninth that leaps away
    (strong_beats, GOOD.replace("BA G_A", "_eB G_A")),  # an alteration that leaps away
    (strong_beats, GOOD.replace("e2 dc", "ez2d")),  # a ninth, and a rest before it resolves
    (strong_beats, GOOD.replace("G_A", "_B2-").replace("G4", "_B2 G2")),  # outside, and held into the bar
    (ending, GOOD.replace("E4 |]", "E2 F2 |]")),
    (ending, GOOD.replace("G_A", "_AG")),  # the same note again is no resolution
    (ending, GOOD.replace("G_A", "GB").replace("G4 E4", "E4 G4")),
    (ending, GOOD.replace("G4 E4 |]", "z6 G2 |]")),
    (ending, GOOD.replace("G4 E4 |]", "z6 A G |]")),
    (note_values, '"Dm7"FA ce dc BA | "G7"Bd fd BA G_A | "Cmaj7"GE CE z4 |]'),
    (use, '"Dm7"zF Ac e2 dc | A4 F4 |]'),
)


def line_of(music: str, *remarks: str, meter: str = "4/4") -> Line:
    notes = "".join(f"N:{text}\n" for text in remarks)
    (line,) = read_abc(f"X:1\nT:Line\nM:{meter}\nL:1/8\n{notes}K:C\n{music}\n")
    return line


@pytest.mark.parametrize("rule", LINE_RULES, ids=lambda rule: rule.__name__)
def test_a_good_line_is_let_through(rule: Callable[[Line], Faults]) -> None:
    assert not list(rule(line_of(GOOD, REMARK)))


@pytest.mark.parametrize(("rule", "music"), BROKEN)
def test_a_line_that_breaks_a_rule_is_caught(rule: Callable[[Line], Faults], music: str) -> None:
    assert list(rule(line_of(music, REMARK)))


@pytest.mark.parametrize(
    "music",
    [
        GOOD.replace("e2 dc", "ec dc"),  # a ninth that resolves after a changing note
        GOOD.replace("G_A", "B^G").replace("G4 E4", "A2 G2 E4"),  # a sixth that falls to the fifth
        GOOD.replace("BA G_A", "BA F2-").replace("G4 E4", "F2 E2 G4"),  # a suspension
        GOOD.replace("G_A", "AG-").replace("G4 E4", "G2 DE E4"),  # an anticipation
        GOOD.replace("G4 E4", "G4 d4"),  # a ninth that stays
    ],
)
def test_what_a_teacher_allows_on_a_strong_beat_is_let_through(music: str) -> None:
    assert not list(strong_beats(line_of(music)))


@pytest.mark.parametrize(
    "remarks",
    [
        (),
        (REMARK, REMARK),
        ("It goes up.",),
        (REMARK.removesuffix("."),),
        (REMARK + " Then it ends.",),
        (REMARK.lower(),),
        (REMARK.replace("thirds", "thirds" + " and thirds" * 20),),
    ],
)
def test_anything_but_one_sentence_is_caught(remarks: tuple[str, ...]) -> None:
    assert list(remark(line_of(GOOD, *remarks)))


def test_other_meters_and_long_pickups_are_caught() -> None:
    assert list(length(line_of('"Dm7"FA ce dc | "G7"B6 |]', meter="3/4")))
    assert list(length(replace(line_of(GOOD), begin=-BAR)))


@pytest.mark.parametrize("name", LEAST)
def test_a_book_with_too_few_lines_for_a_use_is_caught(name: str) -> None:
    others = tuple(line for line in BOOK if use_of(line) != name)
    some = tuple(line for line in BOOK if use_of(line) == name)[: LEAST[name] - 1]
    assert any(name in fault for fault in enough(others + some))


def test_a_small_book_and_one_in_few_keys_are_caught() -> None:
    assert any("lines" in fault for fault in enough(BOOK[: LINES - 1]))
    in_c = tuple(moved_to(line, parse_key("C" if line.key.mode == "major" else "Cm")) for line in BOOK)
    assert list(enough(in_c)) == ["1 tonics"]


@pytest.mark.parametrize("name", DEVICES)
def test_a_device_that_only_one_line_has_is_caught(name: str) -> None:
    having = [line for line in BOOK if name in {device.name for device in analyse(line).devices}]
    book = tuple(line for line in BOOK if line not in having[1:])
    assert f"{name} in 1" in devices(book)


@pytest.mark.parametrize("feature", ["title", "remark", "rhythm", "bar"])
def test_two_lines_that_share_something_are_caught(feature: str) -> None:
    first = line_of(GOOD, REMARK)
    twins = {
        "title": replace(BOOK[0], title=first.title),
        "remark": replace(BOOK[0], remarks=first.remarks),
        "rhythm": replace(BOOK[0], notes=tuple(replace(note, pitch=parse_pitch("C5")) for note in first.notes)),
        "bar": line_of('"Dm7"f2 Ac ed c2 |]'),
    }
    assert any(feature in fault for fault in different((first, twins[feature])))


@pytest.mark.parametrize("name", RHYTHMS)
def test_a_rhythm_that_too_few_lines_have_is_caught(name: str) -> None:
    has = RHYTHMS[name][1]
    assert f"{name} in 0" in rhythms(tuple(line for line in BOOK if not has(line)))


def test_many_early_endings_are_caught() -> None:
    early = tuple(line for line in BOOK if ends_early(line))
    assert list(few_early_endings(early + BOOK[:3]))
