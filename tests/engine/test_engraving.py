"""The engraving of a line: every fact that a reader needs to play it, and no other."""

import json
import re
from html import unescape
from itertools import combinations
from typing import Any

import pytest

from engine.formats.abc import read_abc
from engine.lines.devices.recognise import analyse
from engine.lines.line import Line
from engine.lines.moving import Span, in_all_keys, placed
from engine.lines.stock import stock
from engine.neck.fingering import ways
from engine.neck.instrument import GUITAR
from engine.theory.pitch import SEMITONES_OF_LETTERS
from engine.theory.wording import PARTS, Profile, show
from engine.view.engraving import Tab, engraving, engraving_html
from tests.engine.annotated_lines import LINES
from tests.engine.lines_at_random import line_at_random

SIGNS = {"bb": -2, "b": -1, "n": 0, "#": 1, "##": 2}


def line_of(notes: str, key: str = "C", meter: str = "4/4") -> Line:
    chord = "" if '"' in notes else '"C" '
    return read_abc(f"X:1\nM:{meter}\nL:1/8\nK:{key}\n{chord}{notes} |]\n")[0]


def spec_of(notes: str, key: str = "C", meter: str = "4/4", **options: Any) -> dict[str, Any]:
    return engraving(analyse(line_of(notes, key, meter)), **options)


def shown(note: dict[str, Any]) -> str:
    """A note's sign as it is printed, a rest's as z."""
    sign = note.get("sign", "")
    return "z" if "step" not in note else f"({sign})" if note.get("courtesy") else sign or "-"


# key | notes | what stands before each note, bars parted
ACCIDENTALS = """
C  | ^F2 F2 =F2 F2 | f8              | # - n - | -
C  | ^F4 G4 | F8                     | # - | (n)
C  | ^F4 G4 | f8                     | # - | (n)
C  | ^F4 G4 | A8 | F8                | # - | - | -
C  | ^F4 =f4 | G8                    | # (n) | -
C  | ^F2 =f2 ^F2 =f2                 | # (n) - -
C  | F2 ^f2 =F4                      | - # (n)
C  | ^F4 ^f4                         | # #
F  | B2 =B2 B2 _B2 | B8              | - n - b | -
F  | =B8 | B4 B4                     | n | (b) -
F  | =B8 | =B8                       | n | n
G  | f4 =f4 | f4 ^f4                 | - n | (#) -
C  | ^F8- | F8                       | # | -
C  | ^F8- | F4 ^F4                   | # | - #
C  | ^F8- | ^F4 =F4                  | # | - (n)
C  | ^F8- | F4 z4 | F8               | # | - z | (n)
C  | __B4 _B4 | B8                   | bb b | (n)
Db | _c4 c4 | c8                     | b - | (n)
C  | z8 | z4 _e4                     | z | z b
"""


@pytest.mark.parametrize("row", ACCIDENTALS.strip().splitlines())
def test_accidentals_hold_in_their_bar_and_courtesy_signs_help_where_one_may_err(row: str) -> None:
    key, rest = row.split("|", 1)
    count = (rest.count("|") + 1) // 2
    cells = [cell.strip() for cell in rest.split("|")]
    spec = spec_of(" | ".join(cells[:count]), key.strip())
    assert [" ".join(map(shown, bar["notes"])) for bar in spec["bars"]] == cells[count:]


def read_back(spec: dict[str, Any]) -> list[int]:
    """What a player reads: the MIDI key number of each note, tied ones once; from signs and places alone."""
    count = spec["key"]
    order = "FCGDAEB" if count >= 0 else "BEADGCF"
    signature = dict.fromkeys(order[: abs(count)], 1 if count > 0 else -1)
    heard: list[int] = []
    tied: int | None = None
    for bar in spec["bars"]:
        given: dict[int, int] = {}
        for note in bar["notes"]:
            if "step" not in note:
                continue
            step = note["step"] + 4 * 7 + 2  # from C0 up; the bottom line is E4
            letter = "CDEFGAB"[step % 7]
            if note.get("sign"):
                given[step] = SIGNS[note["sign"]]
            natural = SEMITONES_OF_LETTERS[step % 7] + 12 * (step // 7 + 1)
            sound = natural + given.get(step, signature.get(letter, 0)) if tied is None else tied
            if tied is None:
                heard.append(sound - 12 * spec["octave"])
            tied = sound if note.get("tied") else None
    return heard


LINES_IN_ALL_KEYS = [moved for line in stock() for moved in in_all_keys(line)]
LINES_AT_RANDOM = [line_at_random(seed) for seed in range(300)]


@pytest.mark.parametrize("part", PARTS)
def test_what_is_shown_says_how_every_note_sounds(part: str) -> None:
    marked = [line for annotated in LINES for line in read_abc(annotated.abc)]
    for line in [*LINES_IN_ALL_KEYS, *LINES_AT_RANDOM, *marked]:
        spec = engraving(analyse(line), Profile(part=part))
        above = PARTS[part][1]
        assert read_back(spec) == [note.pitch.midi + above for note in line.notes]


def test_every_bar_is_full_but_the_pickup() -> None:
    for line in [*stock(), *LINES_AT_RANDOM]:
        spec = engraving(analyse(line))
        lengths = [sum(note["length"] for note in bar["notes"]) for bar in spec["bars"]]
        assert lengths[1:] == pytest.approx([float(line.meter.bar)] * (len(lengths) - 1), abs=0.01)
        first = -line.begin if line.begin < 0 else line.meter.bar
        assert lengths[0] == pytest.approx(float(first), abs=0.01)


def test_a_pickup_stands_before_the_first_chord() -> None:
    spec = spec_of('G2 | "Dm7" A4 "G7" B4 | "C" c8')
    pickup, first, last = spec["bars"]
    assert [note["index"] for note in pickup["notes"]] == [0]
    assert pickup["chords"] == []
    assert first["chords"] == [{"text": "Dm7", "note": 0, "share": 0.0}, {"text": "G7", "note": 1, "share": 0.0}]
    assert last["chords"] == [{"text": "C", "note": 0, "share": 0.0}]


def test_a_chord_comes_where_it_sounds_and_a_held_one_is_not_repeated() -> None:
    spec = spec_of('"Fm7b5" c6- "Bb7#11" c2 | "Bb7#11" z8 | "Eb6/9/G" e8', "Eb")
    assert [bar["chords"] for bar in spec["bars"]] == [
        [{"text": "Fm7♭5", "note": 0, "share": 0.0}, {"text": "B♭7♯11", "note": 0, "share": 0.75}],
        [],
        [{"text": "E♭6/9/G", "note": 0, "share": 0.0}],
    ]


def test_notes_that_are_tied_belong_to_one_note_of_the_line() -> None:
    first, second = spec_of('"C" c2 e6- | e3 d z4')["bars"]
    assert [(note["index"], note.get("tied", False)) for note in first["notes"]] == [(0, False), (1, True)]
    assert [note.get("index") for note in second["notes"]] == [1, 2, None]
    assert ["degree" in note for note in second["notes"]] == [False, True, False]


# meter | notes | beams, then tuplets, by their first and last place in the bar
GROUPS = """
4/4 | CDEF GABc            | 0-3 4-7 | .
4/4 | C2 DE FGAB           | 1-2 3-6 | .
4/4 | CDE2 zFGA            | 0-1 4-6 | .
4/4 | C3 D E/F/G AB        | 2-4 5-6 | .
4/4 | (3CDE FG A4          | 0-2 3-4 | 0-2:3:2
4/4 | (3C2D2E2 F4          | .       | 0-2:3:2
3/4 | CDEFGA               | 0-1 2-3 4-5 | .
6/8 | CDE FGA              | 0-2 3-5 | .
2/4 | CDEF                 | 0-1 2-3 | .
12/8 | CDE FGA Bcd efg     | 0-2 3-5 6-8 9-11 | .
"""


@pytest.mark.parametrize("row", GROUPS.strip().splitlines())
def test_eighths_are_beamed_by_half_bars_and_what_is_finer_by_beats(row: str) -> None:
    meter, notes, beams, tuplets = (cell.strip() for cell in row.split("|"))
    (bar,) = spec_of(notes, meter=meter)["bars"]
    assert " ".join(f"{first}-{last}" for first, last in bar["beams"]) == beams.replace(".", "")
    assert " ".join(f"{first}-{last}:{n}:{m}" for first, last, n, m in bar["tuplets"]) == tuplets.replace(".", "")


def test_a_bar_of_rest_is_one_rest_whatever_the_meter() -> None:
    for meter, notes, length in (("4/4", "c8 | z8 | c8", 4), ("3/4", "c6 | z6 | c6", 3)):
        assert spec_of(notes, meter=meter)["bars"][1]["notes"] == [{"value": "whole", "length": length, "bar": True}]


@pytest.mark.parametrize(
    ("notes", "octaves", "said"),
    [
        ('"C" C2 E2 G2 c2', 1, ", an octave higher than it sounds"),  # a guitarist's line
        ('"C" E,2 G,2 C2 E2', 1, ", an octave higher than it sounds"),
        ('"C" e2 g2 c\'2 e2', 0, ""),  # it would take a third ledger line up there
        ('"C" E,,2 G,,2 C,2 E,2', 1, ", an octave higher than it sounds"),  # a guitar's lowest string
        ('"C" E,,,2 G,,,2 C,,2 E,,2', 2, ", two octaves higher than it sounds"),  # a bass's
    ],
)
def test_a_line_is_written_as_guitar_music_is_where_it_can_be(notes: str, octaves: int, said: str) -> None:
    analysis = analyse(line_of(notes))
    assert engraving(analysis)["octave"] == octaves
    assert f"over C{said}." in engraving_html(analysis, "it")


@pytest.mark.parametrize(
    ("key", "part", "fifths", "chord"),
    [("C", "Bb", 2, "D"), ("C", "Eb", 3, "A"), ("B", "Bb", -5, "D♭"), ("B", "Eb", -4, "A♭"), ("Gb", "F", -5, "D♭")],
)
def test_a_part_is_written_in_its_own_key_and_in_one_that_is_read(key: str, part: str, fifths: int, chord: str) -> None:
    spec = spec_of(f'"{key}" {key[0]}2 {key[0]}2 z4', key, profile=Profile(part=part))
    assert spec["key"] == fifths
    assert spec["bars"][0]["chords"][0]["text"] == chord
    assert [shown(note) for note in spec["bars"][0]["notes"]] == ["-", "-", "z"]


def test_every_note_has_its_degree_and_role_as_it_was_read() -> None:
    for line in stock():
        analysis = analyse(line)
        spec = engraving(analysis)
        found = [note for bar in spec["bars"] for note in bar["notes"] if "degree" in note]
        plain = [re.sub("♭", "b", re.sub("♯", "#", note["degree"])) for note in found]
        assert plain == [heard.degree.name for heard in analysis.notes]
        assert [note["role"] for note in found] == [heard.naming.role for heard in analysis.notes]
        assert [note["index"] for note in found] == list(range(len(line.notes)))


def test_brackets_are_the_devices_in_as_few_rows_as_can_be() -> None:
    for line in [*LINES_IN_ALL_KEYS, *(line for annotated in LINES for line in read_abc(annotated.abc))]:
        devices = analyse(line).devices
        brackets = engraving(analyse(line))["brackets"]
        by_number = {bracket["number"]: bracket for bracket in brackets}
        assert sorted(by_number) == list(range(1, len(devices) + 1))
        for number, device in enumerate(devices, 1):
            one = by_number[number]
            assert (one["first"], one["last"], one["name"]) == (device.first, device.last, device.name)
        for one, other in combinations(brackets, 2):
            assert one["row"] != other["row"] or one["last"] < other["first"] or other["last"] < one["first"]
        most = max((sum(d.first <= at <= d.last for d in devices) for at in range(len(line.notes))), default=0)
        assert len({bracket["row"] for bracket in brackets}) == most


def test_a_handout_gives_nothing_away() -> None:
    for line in stock():
        with_answers, without = engraving(analyse(line)), engraving(analyse(line), answers=False)
        assert without["brackets"] == []
        for bar in with_answers["bars"]:
            for note in bar["notes"]:
                note.pop("degree", None)
                note.pop("role", None)
        assert without == with_answers | {"brackets": []}


def test_the_figure_carries_the_data_and_a_short_sentence() -> None:
    line = next(line for line in stock() if str(line.key) == "Eb")
    html = engraving_html(analyse(line), "line-1")
    attributes = r'class="engraving" id="line-1" data-engraving="([^"]*)" role="img" aria-label="([^"]*)"'
    found = re.fullmatch(f"<figure {attributes}></figure>", html)
    assert found
    assert json.loads(unescape(found[1])) == engraving(analyse(line))
    assert found[2] == "The line on the staff, in E♭, over Fm7, B♭7 and E♭maj7."
    assert "style" not in html


@pytest.mark.parametrize("line", stock()[:6], ids=lambda line: f"{line.number}")
def test_a_tab_says_where_each_note_is_played(line: Line) -> None:
    there = placed(line, Span(GUITAR.lowest, GUITAR.highest))
    way = ways(there)[0]
    spec = engraving(analyse(there), tab=Tab(6, way.places, frozenset({2}), asks=True, tapped=1))
    assert (spec["strings"], spec["tapped"]) == (6, 1)
    notes = [note for bar in spec["bars"] for note in bar["notes"] if "index" in note]
    assert all((note["string"], note["fret"]) == way.places[note["index"]] for note in notes)
    first = [note for note in notes if "back" not in note]
    assert [note["index"] for note in first] == list(range(len(there.notes)))
    assert [note["index"] for note in first if "held" in note] == [2]
    for note, sounding in zip(first, there.notes, strict=True):
        said = f"{show(sounding.pitch.in_octave(None))}, string {note['string']} fret {note['fret']}"
        assert note["name"] == said
    # Without the TAB's own facts it is the staff as it was.
    for note in notes:
        for fact in ("string", "fret", "back", "held", "name"):
            note.pop(fact, None)
    assert spec == engraving(analyse(there)) | {"strings": 6, "tapped": 1}


def test_a_tied_note_is_told_once_in_a_tab() -> None:
    line = line_of('"C" c2 e6- | e3 d z4')
    spec = engraving(analyse(line), tab=Tab(6, ways(line)[0].places, asks=True))
    notes = [note for bar in spec["bars"] for note in bar["notes"] if "index" in note]
    assert [(note["index"], "back" in note) for note in notes] == [(0, False), (1, False), (1, True), (2, False)]
    assert ["name" in note for note in notes] == [True, True, False, True]


def test_a_figure_with_notes_to_tap_is_no_image_and_says_what_it_shows() -> None:
    line = line_of('"C" C2 E2 G4')
    places = ways(line)[0].places
    label = "The line {shown}, in C, over C{octave}."
    for tab, staff, role, shown_as, octave in (
        (Tab(6, places, asks=True), True, "group", "on staff and TAB", ", an octave higher than it sounds"),
        (Tab(6, places), False, "img", "as TAB", ""),
    ):
        html = engraving_html(analyse(line), "it", tab=tab, staff=staff)
        assert f'role="{role}" aria-label="{label.format(shown=shown_as, octave=octave)}"' in html
    assert engraving(analyse(line), tab=Tab(6, places), staff=False)["tab_only"]
