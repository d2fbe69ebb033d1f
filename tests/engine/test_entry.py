"""Tapping a line in: a fold over taps that never fails, is taken back tap by tap, and is the line that its ABC is."""

import json
import random
from dataclasses import replace
from fractions import Fraction
from typing import Any

import pytest

from engine.formats.abc import read_abc, write_abc
from engine.lines.devices.recognise import analyse
from engine.lines.line import Line
from engine.lines.stock import stock
from engine.practice.entry import (
    LENGTHS,
    METERS,
    MOST_EVENTS,
    Entry,
    entry_as_json,
    entry_from_json,
    entry_of,
    is_pickup,
    line_of,
    read_meter,
    redo,
    tapped,
    undo,
)
from engine.theory.bad_input import BadInput
from engine.theory.chord import KINDS
from engine.theory.key import MAJOR_KEYS, MINOR_KEYS, parse_key
from tests.engine.lines_at_random import line_at_random


def taps(text: str, entry: Entry | None = None) -> Entry:
    """Taps in short: ``@G7`` a chord, ``/1`` a length, ``+`` longer, ``z`` a rest, ``|`` bar 1, else a note."""
    entry = entry or Entry()
    for word in text.split():
        if word[0] in "@/":
            entry = tapped(entry, "chord" if word[0] == "@" else "length", word[1:])
        else:
            kind = {"+": "longer", "z": "rest", "|": "bar"}.get(word, "note")
            entry = tapped(entry, kind, word if kind == "note" else "")
    return entry


def line(text: str, entry: Entry | None = None) -> Line:
    found = line_of(taps(text, entry))
    assert found is not None
    return found


def music(text: str, entry: Entry | None = None) -> str:
    return write_abc(line(text, entry)).split("\n", 4)[4].strip()


def test_a_line_of_two_bars() -> None:
    tune = "@Dm7 65 69 72 76 74 72 71 69 @G7 68 71 74 77 80 77 75 73 @Cmaj7 /1 72"
    assert music(tune) == '"Dm7"FA ce dc BA | "G7"_AB df _af _e_d | "Cmaj7"c2 |]'
    sentences = [found.name for found in analyse(line(tune)).devices]
    assert "arpeggio from the third" in sentences
    assert "landing on the root" in sentences


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("@C 60 + 62 z", '"C"C2 Dz |]'),
        ("@C /2 60 z /1/2 60", '"C"C4 z4 | C |]'),
        ("@C /2 60 60 + 62", '"C"C4 C4- | C4 D4 |]'),
        ("@C /1/3 60 62 64 /1 65", '"C"(3CDE F2 |]'),
        ("@C 60 @F 62 @G @F 64", '"C"C"F"D E |]'),
        ("@C 60 @F @G 62", '"C"C"G"D |]'),
        ("@C /2 60 @F + 62", '"C"C4- "F"C4 | D4 |]'),
        ("@C 60 @F", '"C"C |]'),
        ("@C 67 69 | 72", '"C"GA | c |]'),
        ("@C 67 69 |", '"C"GA |]'),
        ("@C z 60", '"C"zC |]'),
    ],
)
def test_what_taps_add_up_to(text: str, expected: str) -> None:
    assert music(text) == expected


def test_a_note_is_spelled_anew_when_the_next_one_comes() -> None:
    entry = taps("@G7 71 74 70")
    ways = {71: "A#4", 69: "Bb4", 68: "Bb4", 80: "Bb4"}
    for following, spelling in ways.items():
        found = line_of(tapped(entry, "note", str(following)))
        assert found is not None
        assert str(found.notes[2].pitch) == spelling
    rested = line("@G7 71 74 70 z 71")
    assert str(rested.notes[2].pitch) == "Bb4", "a rest ends the way"
    assert str(line("@G7 71 70", replace(Entry(), key=parse_key("Cm"))).notes[1].pitch) == "Bb4"


def test_a_key_gives_its_own_spelling_and_moves_nothing() -> None:
    entry = taps("@Gb7 66 69 70")
    for name in (*MAJOR_KEYS, *MINOR_KEYS):
        found = line_of(replace(entry, key=parse_key(name)))
        assert found is not None
        assert [note.pitch.midi for note in found.notes] == [66, 69, 70]


@pytest.mark.parametrize(
    ("before", "tap", "words"),
    [
        ("", ("note", "60"), "There is no chord yet; choose"),
        ("", ("rest", ""), "There is no chord yet"),
        ("@C", ("longer", ""), "There is no note to hold"),
        ("@C", ("bar", ""), "Only less than a bar can be a pickup"),
        ("@C /2 60 60", ("bar", ""), "Only less than a bar can be a pickup"),
        ("@C 60 |", ("bar", ""), "Only less than a bar can be a pickup"),
        ("", ("chord", "H7"), 'column 1: "H7" does not start with a root'),
        ("@C", ("note", "128"), "is no key of MIDI"),
        ("@C", ("note", "c"), "is no note; write C"),
        ("@C", ("note", "C"), "is in no octave"),
        ("@C", ("note", "²"), "is no note"),
        ("@C", ("length", "0"), "is no length"),
        ("@C", ("length", "1/0"), "is no length"),
        ("@C", ("length", "999"), "is no length"),
        ("@C", ("trill", ""), "is nothing to tap"),
    ],
)
def test_a_tap_that_cannot_be_gets_one_sentence(before: str, tap: tuple[str, str], words: str) -> None:
    entry = taps(before)
    with pytest.raises(BadInput) as raised:
        tapped(entry, *tap)
    assert words in str(raised.value)
    assert str(raised.value).endswith(".")


def test_a_line_has_an_end() -> None:
    entry = replace(taps("@C"), events=(("chord", "C"), *[("note", "60")] * (MOST_EVENTS - 1)))
    with pytest.raises(BadInput, match="as long as it can get"):
        tapped(entry, "note", "60")
    longest = line_of(entry)
    assert longest is not None
    assert len(entry_of(longest).events) == MOST_EVENTS
    with pytest.raises(BadInput, match="too long to be tapped on"):
        entry_of(
            replace(longest, notes=(*longest.notes, replace(longest.notes[0], start=longest.end)), end=longest.end + 1)
        )


# --- walks -----------------------------------------------------------------------

SYMBOLS = [f"{root}{'' if kind == 'maj' else kind}" for root in ("C", "Gb", "A", "D#") for kind in KINDS]
KINDS_OF_TAP = ("chord", "length", "note", "note", "note", "note", "note", "rest", "longer", "bar")


def a_tap(chance: random.Random) -> tuple[str, str]:
    def one_of(values: Any) -> str:
        return list(values)[int(chance.random() * len(values))]

    kind = one_of(KINDS_OF_TAP)
    values = {"chord": SYMBOLS, "length": LENGTHS, "note": [str(midi) for midi in range(40, 90)]}
    return kind, one_of(values.get(kind, [""]))


@pytest.mark.parametrize("seed", range(40))
def test_a_walk_of_taps(seed: int) -> None:
    """No tap fails in more than a sentence; undo is its inverse, redo that of undo; the line is the one its ABC is."""
    chance = random.Random(seed)
    names = (*MAJOR_KEYS, *MINOR_KEYS)
    entry = Entry(parse_key(names[seed % len(names)]), read_meter(METERS[seed % len(METERS)]))
    for _ in range(60):
        kind, value = a_tap(chance)
        try:
            after = tapped(entry, kind, value)
        except BadInput:
            continue
        assert undo(after) == replace(entry, undone=((kind, value),))
        assert redo(undo(after)) == after
        assert entry_from_json(json.loads(json.dumps(entry_as_json(undo(after))))) == undo(after)
        entry = after
        found = line_of(entry)
        if found is None:
            continue
        analyse(found)
        text = write_abc(found)
        (back,) = read_abc(text)
        assert back == found, text
        assert write_abc(back) == text
        again = line_of(entry_of(found))
        assert again == found
    emptied = entry
    while emptied.events:
        emptied = undo(emptied)
    assert emptied.undone == entry.events
    while emptied.undone:
        emptied = redo(emptied)
    assert emptied == entry
    assert undo(Entry()) == redo(Entry()) == Entry()


@pytest.mark.parametrize("seed", range(300))
def test_any_line_can_be_tapped_on(seed: int) -> None:
    one = line_at_random(seed)
    back = line_of(entry_of(one))
    assert back is not None
    assert replace(back, title=one.title, composer=one.composer, tempo=one.tempo) == one


def test_the_stock_is_tapped_in_as_it_is_written() -> None:
    """The lines that were spelled by hand, tapped on a keyboard: the engine spells nearly all of their notes alike."""
    notes = same = 0
    for one in stock():
        entry = Entry(
            one.key,
            one.meter,
            tuple((kind, str(note_key(value)) if kind == "note" else value) for kind, value in entry_of(one).events),
        )
        found = line_of(entry)
        assert found is not None
        notes += len(one.notes)
        same += sum(mine.pitch == theirs.pitch for mine, theirs in zip(found.notes, one.notes, strict=True))
    assert same / notes > 0.98, f"{same} of {notes}"


def note_key(name: str) -> int:
    (found,) = (note.pitch.midi for note in line(f"@C {name}").notes)
    return found


def test_a_pickup_is_less_than_a_bar() -> None:
    assert not is_pickup(taps("@C"))
    assert is_pickup(taps("@C 60"))
    assert not is_pickup(taps("@C /2 60 60"))
    pickup = line("@C 67 69 | 72 72")
    assert (pickup.begin, pickup.notes[2].start, pickup.end) == (-1, 0, Fraction(1))
    # In a shorter meter it is none any more, and nothing breaks.
    short = line_of(replace(taps("@C /1 67 69 | 72 72"), meter=read_meter("2/4")))
    assert short is not None
    assert short.begin == 0


HOSTILE: list[Any] = [
    None, [], "x", {}, {"key": "C", "meter": "4/4", "events": "abc", "undone": []},
    {"key": "C", "meter": "4/4", "events": [["note"]], "undone": []},
    {"key": "C", "meter": "4/4", "events": [["note", "<b>"]], "undone": []},
    {"key": "C", "meter": "4/4", "events": [["note", None]], "undone": []},
    {"key": "C", "meter": "4/4", "events": 5, "undone": []}, {"key": "H", "meter": "4/4", "events": [], "undone": []},
    {"key": "C", "meter": "4/3", "events": [], "undone": []}, {"key": "C", "meter": "0/4", "events": [], "undone": []},
    {"key": "C", "meter": "4/4", "events": [["rest", ""]] * (MOST_EVENTS + 1), "undone": []},
]  # fmt: skip


@pytest.mark.parametrize("found", HOSTILE, ids=range(len(HOSTILE)))
def test_what_is_no_entry_gets_one_sentence(found: Any) -> None:
    with pytest.raises(BadInput) as raised:
        entry_from_json(found)
    assert str(raised.value).endswith(".")
    assert len(str(raised.value)) < 250
