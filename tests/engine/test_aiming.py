"""Re-aiming: another chord takes the last one's place; where the line lands then, and what leads there."""

from __future__ import annotations

from itertools import product
from typing import NamedTuple

import pytest

from engine.formats.abc import read_abc
from engine.lines.aiming import re_aimed
from engine.lines.line import Line
from engine.lines.moving import in_all_keys
from engine.lines.stock import stock
from engine.theory.chord import chord_of
from engine.theory.chord_symbol import parse_chord
from engine.theory.wording import render


class Case(NamedTuple):
    """A line's bars in C with eighths, the chord that comes instead, the landing note and its degree there.

    ``moved``: what every other note that changes becomes, by its index; ``words``: what the sentence must say.
    """

    music: str
    chord: str
    landing: str
    degree: str
    moved: dict[int, str]
    words: tuple[str, ...]


# The seventh falls to the third; the line's other sevenths and thirds.
FALLS = '"G7"G2B2d2F2|"Cmaj7"E8'
FALLS_IN_MINOR = '"G7"G2B2d2F2|"Cm7"_E8'
ON_SEVENTH = '"Dm7"D2F2A2G2|"G7"F8'
ON_ROOT = '"G7"G2F2D2B2|"Cmaj7"c8'
ON_FIFTH = '"G7"G2F2D2_A2|"Cmaj7"G8'
ON_NINTH = '"G7"G2F2B2A2|"Cmaj7"d8'
# What leads to the third: from both sides, a half step, two from one side.
ENCLOSED = '"G7"GABd G2F^D|"Cmaj7"E8'
ENCLOSED_IN_MINOR = '"G7"GABd G2FD|"Cm7"_E8'
ENCLOSED_FROM_BELOW = '"G7"GABd G2^DF|"Cmaj7"E8'
FROM_BELOW = '"G7"GABd B2G^D|"Cmaj7"E8'
TWO_FROM_BELOW = '"G7"GABd B2D^D|"Cmaj7"E8'
TWO_FROM_BELOW_IN_MINOR = '"G7"GABd B2_D=D|"Cm7"_E8'
TWO_FROM_ABOVE = '"G7"GABd B2^F=F|"Cmaj7"E8'
LATE = '"G7"G2B2d2F2|"Cmaj7"^DE3 z4'

CASES = (
    # 3 to b3 and back; where the third is the same it stays.
    Case(FALLS, "Cm7", "Eb4", "b3", {}, ("Over Cm7", "landing E becomes E♭", "its ♭3")),
    Case(FALLS, "Cm6", "Eb4", "b3", {}, ("Over Cm6", "E becomes E♭", "♭3")),
    Case(FALLS, "CmMaj7", "Eb4", "b3", {}, ("E becomes E♭", "♭3")),
    Case(FALLS, "Cm7b5", "Eb4", "b3", {}, ("Over Cm7♭5", "E becomes E♭", "♭3")),
    Case(FALLS, "Cdim7", "Eb4", "b3", {}, ("E becomes E♭", "♭3")),
    Case(FALLS, "C7", "E4", "3", {}, ("Over C7", "landing E stays", "it is the 3")),
    Case(FALLS, "C7alt", "E4", "3", {}, ("E stays", "the 3")),
    Case(FALLS, "C6", "E4", "3", {}, ("Over C6", "E stays", "the 3")),
    Case(FALLS, "C7sus4", "F4", "11", {}, ("E becomes F", "its 11")),
    Case(FALLS, "Csus2", "D4", "9", {}, ("E becomes D", "its 9")),
    Case(FALLS_IN_MINOR, "Cmaj7", "E4", "3", {}, ("Over Cmaj7", "E♭ becomes E", "its 3")),
    Case(FALLS_IN_MINOR, "C7", "E4", "3", {}, ("Over C7", "E♭ becomes E", "its 3")),
    Case(FALLS_IN_MINOR, "Cm6", "Eb4", "b3", {}, ("E♭ stays", "the ♭3")),
    # The seventh.
    Case(ON_SEVENTH, "Gmaj7", "F#4", "7", {}, ("F becomes F♯", "its 7")),
    Case(ON_SEVENTH, "Gm7", "F4", "b7", {}, ("F stays", "the ♭7")),
    Case(ON_SEVENTH, "Gm7b5", "F4", "b7", {}, ("F stays", "the ♭7")),
    Case(ON_SEVENTH, "G6", "E4", "6", {}, ("F becomes E", "its 6")),
    Case(ON_SEVENTH, "Gm6", "E4", "6", {}, ("F becomes E", "its 6")),
    Case(ON_SEVENTH, "Gdim7", "Fb4", "bb7", {}, ("F becomes F♭", "𝄫7")),
    Case(ON_SEVENTH, "G7sus4", "F4", "b7", {}, ("F stays", "the ♭7")),
    # Root, fifth, ninth.
    Case(ON_ROOT, "Cm7", "C5", "1", {}, ("C stays", "the 1")),
    Case(ON_ROOT, "C7", "C5", "1", {}, ("C stays", "the 1")),
    Case(ON_FIFTH, "Cm7", "G4", "5", {}, ("G stays", "the 5")),
    Case(ON_FIFTH, "Cm7b5", "Gb4", "b5", {3: "G4"}, ("G becomes G♭", "its ♭5", "A♭ before it becomes G")),
    Case(ON_FIFTH, "C7#5", "G#4", "#5", {3: "A4"}, ("G becomes G♯", "its ♯5", "A♭ before it becomes A")),
    Case(ON_NINTH, "C7b9", "Db5", "b9", {}, ("D becomes D♭", "its ♭9")),
    Case(ON_NINTH, "Cm7", "D5", "9", {}, ("D", "9")),
    # Other roots: the nearest third or seventh.
    Case(FALLS, "Fmaj7", "E4", "7", {}, ("Over Fmaj7", "E stays", "the 7")),
    Case(FALLS, "F7", "Eb4", "b7", {}, ("Over F7", "E becomes E♭", "its ♭7")),
    Case(FALLS, "Fm7", "Eb4", "b7", {}, ("E becomes E♭", "its ♭7")),
    Case(FALLS, "F6", "D4", "6", {}, ("E becomes D", "its 6")),
    Case(FALLS, "Bb7", "D4", "3", {}, ("E becomes D", "its 3")),
    Case(FALLS, "Amaj7", "C#4", "3", {}, ("E becomes C♯", "its 3")),
    Case(FALLS, "Db7", "F4", "3", {}, ("E becomes F", "its 3")),
    Case(FALLS, "F#m7b5", "E4", "b7", {}, ("Over F♯m7♭5", "E stays", "the ♭7")),
    Case(ON_ROOT, "Am7", "C5", "b3", {}, ("C stays", "the ♭3")),
    Case(ON_ROOT, "D7", "C5", "b7", {}, ("C stays", "the ♭7")),
    Case(ON_ROOT, "Abm7", "Cb5", "b3", {}, ("C becomes C♭", "♭3")),
    # Enclosures keep their sides; the chord's own note stays where it still is a step away.
    Case(ENCLOSED, "Cm7", "Eb4", "b3", {6: "D4"}, ("E becomes E♭", "D♯ before it becomes D")),
    Case(ENCLOSED_FROM_BELOW, "Cm7", "Eb4", "b3", {5: "D4"}, ("E becomes E♭", "D♯ before it becomes D")),
    Case(ENCLOSED, "C7", "E4", "3", {}, ("E stays",)),
    Case(ENCLOSED, "Bb7", "D4", "3", {5: "Eb4", 6: "C#4"}, ("E becomes D", "F and D♯ before it become E♭ and C♯")),
    Case(ENCLOSED_IN_MINOR, "Cmaj7", "E4", "3", {}, ("E♭ becomes E", "its 3")),
    # A half step, two from one side.
    Case(FROM_BELOW, "Cm7", "Eb4", "b3", {6: "D4"}, ("E becomes E♭", "D♯ before it becomes D")),
    Case(FROM_BELOW, "F7", "Eb4", "b7", {6: "D4"}, ("E becomes E♭", "D♯ before it becomes D")),
    Case(FROM_BELOW, "C6", "E4", "3", {}, ("E stays",)),
    Case(TWO_FROM_BELOW, "Cm7", "Eb4", "b3", {5: "Db4", 6: "D4"}, ("D and D♯ before it become D♭ and D",)),
    Case(TWO_FROM_BELOW_IN_MINOR, "Cmaj7", "E4", "3", {5: "D4", 6: "D#4"}, ("D♭ and D before it become D and D♯",)),
    Case(TWO_FROM_ABOVE, "Cm7", "Eb4", "b3", {5: "F4", 6: "E4"}, ("F♯ and F before it become F and E",)),
    Case(TWO_FROM_ABOVE, "Cmaj9", "E4", "3", {}, ("E stays",)),
)  # fmt: skip


def line_of(music: str, key: str = "C") -> Line:
    (line,) = read_abc(f"X:1\nL:1/8\nM:4/4\nK:{key}\n{music}|]\n")
    return line


def names(line: Line) -> list[str]:
    return [str(note.pitch) for note in line.notes]


@pytest.mark.parametrize("case", CASES, ids=lambda case: f"{case.music} over {case.chord}")
def test_the_landing_follows_its_approach_follows_and_the_rest_stays(case: Case) -> None:
    line = line_of(case.music)
    aimed = re_aimed(line, parse_chord(case.chord))
    expected = names(line)
    expected[-1] = case.landing
    for index, note in case.moved.items():
        expected[index] = note
    assert names(aimed.line) == expected
    assert aimed.line.changes[-1].chord.symbol == case.chord
    assert [change.beat for change in aimed.line.changes] == [change.beat for change in line.changes]
    assert aimed.proposal is None
    said = render(aimed.text)
    for words in case.words:
        assert words in said
    if not case.moved:
        assert "before it" not in said
    assert said.endswith(".")


@pytest.mark.parametrize("case", CASES, ids=lambda case: f"{case.music} over {case.chord}")
def test_no_landing_is_run_into_by_the_note_that_leads_to_it(case: Case) -> None:
    """A moved approach never falls on the landing, and two that were different stay so."""
    line = line_of(case.music)
    new = names(re_aimed(line, parse_chord(case.chord)).line)
    for index in case.moved:
        assert new[index] != new[-1]
        assert new[index] != new[index - 1] or names(line)[index] == names(line)[index - 1]


@pytest.mark.parametrize("case", CASES[:12:3], ids=lambda case: case.chord)
def test_in_every_key_the_same_notes_move(case: Case) -> None:
    line = line_of(case.music)
    here = re_aimed(line, parse_chord(case.chord)).line
    for moved in in_all_keys(line):
        (there,) = [other for other in in_all_keys(here) if other.key == moved.key]
        again = re_aimed(moved, there.changes[-1].chord).line
        assert [note.pitch.midi for note in again.notes] == [note.pitch.midi for note in there.notes]


def test_a_note_on_the_beat_that_only_leads_to_the_landing_follows_it() -> None:
    aimed = re_aimed(line_of(LATE), parse_chord("Cm7"))
    assert " ".join(names(aimed.line)) == "G4 B4 D5 F4 D4 Eb4"
    assert "E becomes E♭, its ♭3. D♯ before it becomes D." in render(aimed.text)


def test_a_note_that_follows_is_written_as_its_chord_has_it() -> None:
    (line,) = read_abc('X:1\nM:4/4\nL:1/8\nK:F#m\n"C#7b9"^E2G2D2BG|"F#m7"A8|]\n')
    aimed = re_aimed(line, parse_chord("D7alt"))
    assert [str(note.pitch) for note in aimed.line.notes[-3:]] == ["G#4", "E#4", "F#4"]
    assert render(aimed.text).endswith("B and G♯ before it become G♯ and E♯.")
    for written, following in product(stock(), ("maj7", "m7", "7alt", "m7b5", "dim7")):
        for line in in_all_keys(written):
            aimed = re_aimed(line, chord_of(line.changes[-1].chord.root.up(1, 1), following))
            for before, note in zip(line.notes, aimed.line.notes, strict=True):
                chord = line.chord_of(note)
                tone = chord.own_degree(note.pitch.midi - chord.root.pitch_class)
                if note.pitch != before.pitch and note.end <= line.changes[-1].beat and tone:
                    assert note.pitch.in_octave(None) == tone.over(chord.root).readable().in_octave(None)


def test_there_and_back_is_the_same_line() -> None:
    for music in (FALLS, ENCLOSED, FROM_BELOW, TWO_FROM_BELOW, ON_SEVENTH):
        line = line_of(music)
        last = line.changes[-1].chord
        twin = parse_chord({"C": "Cm7", "G": "Gmaj7"}[str(last.root)])
        back = re_aimed(re_aimed(line, twin).line, last).line
        assert [note.pitch.midi for note in back.notes][-1] == line.notes[-1].pitch.midi


def test_the_landing_tone_is_moved_wherever_it_sounds_over_the_last_chord() -> None:
    aimed = re_aimed(line_of('"G7"G2B2d2F2|"Cmaj7"E2G2e2E2'), parse_chord("Cm7"))
    assert names(aimed.line)[-4:] == ["Eb4", "G4", "Eb5", "Eb4"]


def test_a_landing_that_is_held_into_the_chord_follows_too() -> None:
    aimed = re_aimed(line_of('"G7"G2B2d2E2-|"Cmaj7"E8'), parse_chord("Cm7"))
    assert names(aimed.line) == ["G4", "B4", "D5", "Eb4"]


# --- lines that do not land -----------------------------------------------------


@pytest.mark.parametrize(
    ("music", "chord", "note", "degree", "semitones"),
    [
        ('"G7"GABd B2F2|"Cmaj7"z8', "Cm7", "Eb4", "b3", -2),
        ('"G7"GABd B2F2|"Cmaj7"z8', "Cmaj7", "E4", "3", -1),
        ('"G7"GABd B2A2|"Cmaj7"z8', "C7", "Bb4", "b7", 1),
        ('"G7"GABd B2A2|"Cmaj7"z8', "C6", "E4", "3", -5),
        ('"G7"GABd B2F2|"Cmaj7"z8', "Fmaj7", "E4", "7", -1),
    ],
)
def test_a_line_that_ends_early_keeps_its_notes_and_gets_a_proposal(
    music: str, chord: str, note: str, degree: str, semitones: int
) -> None:
    line = line_of(music)
    aimed = re_aimed(line, parse_chord(chord))
    assert aimed.line.notes == line.notes
    assert aimed.line.changes[-1].chord.symbol == chord
    assert aimed.proposal is not None
    proposal = aimed.proposal
    assert (str(proposal.note), proposal.degree.name, proposal.semitones) == (note, degree, semitones)
    assert proposal.note.midi - line.notes[-1].pitch.midi == semitones
    said = render(aimed.text)
    assert said.startswith(f"The line ends before {chord} comes, so its notes stay. ")
    assert "would be the nearest landing" in said


def test_a_line_over_one_chord_is_not_said_to_end_early() -> None:
    line = line_of('"C7"CEG_B G2E2')
    aimed = re_aimed(line, parse_chord("Cm7"))
    assert aimed.line.notes == line.notes
    assert aimed.proposal is not None
    assert str(aimed.proposal.note) == "Eb4"
    assert (
        render(aimed.text) == "There is one chord, so the notes stay. E♭, the ♭3 of Cm7, would be the nearest landing."
    )
