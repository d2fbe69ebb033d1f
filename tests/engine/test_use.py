"""What a line is for: progressions written by hand, with what a teacher would file them under, in every key."""

from __future__ import annotations

from fractions import Fraction

import pytest

from engine.lines.line import Change, Line, Meter, Note
from engine.lines.moving import in_all_keys
from engine.lines.use import USES, use_of
from engine.theory.chord_symbol import parse_chord
from engine.theory.key import parse_key
from engine.theory.pitch import parse_pitch

# The key, the chords (a bar each, or alike in length between bar lines), and their use.
EXAMPLES = (
    ("C", "Dm7 | G7 | Cmaj7", "ii-V-I major"),
    ("C", "Dm9 | G13 | C6/9", "ii-V-I major"),
    ("C", "Dm7 | G7sus4 G7 | C", "ii-V-I major"),
    ("C", "Dm7 | G7#5#9 | Cmaj7 C6", "ii-V-I major"),
    ("C", "Dm7 Dm6 | G7alt G7b9 | Cmaj7", "ii-V-I major"),
    ("C", "Dm7 | Db7 | Cmaj7", "ii-V-I major"),
    ("C", "Dm7b5 | G7b9 | Cmaj7", "ii-V-I major"),
    ("C", "Dm7 | G7", "ii-V-I major"),
    ("C", "Dm7 G7 | G7 | Cmaj7", "ii-V-I major"),
    ("C", "Fm7 | Bb7 | Ebmaj7", "ii-V-I major"),
    ("Am", "Bm7b5 | E7b9 | Am7", "ii-V-i minor"),
    ("Am", "Bm7b5 | E7alt | Am6", "ii-V-i minor"),
    ("Am", "Bm7b5 | E7 | AmMaj7 Am7", "ii-V-i minor"),
    ("Am", "Bm7 | E7#5 | Am", "ii-V-i minor"),
    ("Am", "Bm7b5 | Bb7 | Am7", "ii-V-i minor"),
    ("Am", "Bm7b5 | E7sus4", "ii-V-i minor"),
    ("C", "Bm7b5 | E7b9 | Am7", "ii-V-i minor"),
    ("C", "Dm7 G7 | Cmaj7", "quick ii-V"),
    ("C", "Dm7 G7", "quick ii-V"),
    ("C", "Dm7 Db7 | C6", "quick ii-V"),
    ("Am", "Bm7b5 E7b9 | Am6", "quick ii-V"),
    ("C", "Cm7 F7 | Bm7 E7", "quick ii-V"),
    ("C", "F#m7 B7 | Dm7 G7 | Cmaj7", "quick ii-V"),
    ("C", "G7", "dominant"),
    ("C", "G7alt", "dominant"),
    ("C", "G7sus4 | G7b9b13", "dominant"),
    ("C", "G7 | Cmaj7", "dominant"),
    ("C", "Db7 | C6", "dominant"),
    ("Am", "E7b9 | Am", "dominant"),
    ("C", "C7 | Fmaj7", "dominant"),
    ("C", "C7b9", "dominant"),
    ("C", "C7sus4", "dominant"),
    ("C", "Cmaj7", "tonic"),
    ("C", "C6 | Cmaj7", "tonic"),
    ("C", "C", "tonic"),
    ("C", "Fmaj7#11", "tonic"),
    ("Am", "Am6", "tonic"),
    ("Am", "Am AmMaj7 | Am7 Am6", "tonic"),
    ("Am", "Am7", "tonic"),
    ("C", "DmMaj7", "tonic"),
    ("C", "Cmaj7 Am7 | Dm7 G7", "turnaround"),
    ("C", "Cmaj7 A7b9 | Dm7 G7 | C6", "turnaround"),
    ("C", "Cmaj7 | Am7 | Dm7 | G7", "turnaround"),
    ("C", "Em7 A7 | Dm7 G7 | Cmaj7", "turnaround"),
    ("C", "Em7 A7 | D7 G7", "turnaround"),
    ("C", "C6 C#dim7 | Dm7 G7", "turnaround"),
    ("C", "Em7 Ebdim7 | Dm7 G7", "turnaround"),
    ("C", "Cmaj7 Eb7 | Ab7 Db7 | Cmaj7", "turnaround"),
    ("C", "Cmaj7 Ebmaj7 | Abmaj7 Dbmaj7", "turnaround"),
    ("C", "C Am7 | F G7", "turnaround"),
    ("C", "C7 A7 | Dm7 G7 | C7", "turnaround"),
    ("C", "Cmaj7 Am7 | Dm7 G7 | Em7 A7 | Dm7 G7 | C6", "turnaround"),
    ("Am", "Am7 F#m7b5 | Bm7b5 E7b9 | Am6", "turnaround"),
    ("C", "C7", "blues"),
    ("C", "C7#9", "blues"),
    ("C", "C7 | F7", "blues"),
    ("C", "C7 | F7 | C13", "blues"),
    ("C", "G7 | F7 | C7", "blues"),
    ("C", "Dm7 | G7 | C7", "blues"),
    ("C", "Dm7 G7 | C9", "blues"),
    ("C", "F7 | F#dim7 | C7", "blues"),
    ("C", "Dm7", "other"),
    ("C", "Dm", "other"),
    ("C", "Csus4", "other"),
    ("C", "C5", "other"),
    ("C", "Bdim7", "other"),
    ("C", "F7 | G7", "other"),
    ("C", "D7 | G7", "other"),
    ("C", "G7 | Fmaj7", "other"),
    ("C", "Cmaj7 | Fmaj7", "other"),
    ("C", "Cmaj7 | Dm7 | G7", "other"),
    ("C", "Dm7 | G7 | Am7", "other"),
    ("C", "Dm7 | G7 | F#maj7", "other"),
    ("C", "Dm7 | Db7 | F#maj7", "other"),
    ("C", "Dm7 | A7 | Cmaj7", "other"),
    ("C", "Dmaj7 | G7 | Cmaj7", "other"),
    ("C", "Dm7 G7 | Am7", "other"),
    ("C", "Dm7 G7 | Cmaj7 A7", "other"),
    ("C", "Cmaj7 Am7 | Dm7 G7 | Am7", "other"),
    ("C", "Cmaj7 Am7 | Dm7 G7 | C6 Am7", "other"),
    ("C", "Cmaj7 C#maj7 | Dm7 G7", "other"),
    ("Am", "Am7 | Dm7", "other"),
    ("F", "Dm7 | G7 | C7", "other"),
)  # fmt: skip


def line_over(key: str, chords: str, begin: int = 0) -> Line:
    """A line of one long note over bars of chords; with a pickup, the first chord starts there."""
    changes = []
    bars = chords.split("|")
    for number, bar in enumerate(bars):
        symbols = bar.split()
        for place, symbol in enumerate(symbols):
            changes.append(Change(parse_chord(symbol), Fraction(4 * number) + Fraction(4 * place, len(symbols))))
    changes[0] = Change(changes[0].chord, Fraction(begin))
    end = Fraction(4 * len(bars))
    note = Note(parse_pitch("C5"), Fraction(begin), end - begin)
    return Line(parse_key(key), Meter(), (note,), tuple(changes), Fraction(begin), end)


@pytest.mark.parametrize(("key", "chords", "use"), EXAMPLES)
def test_use_in_every_key(key: str, chords: str, use: str) -> None:
    line = line_over(key, chords)
    assert use_of(line) == use
    assert {use_of(moved) for moved in in_all_keys(line)} == {use}


def test_every_use_has_an_example() -> None:
    assert {use for _, _, use in EXAMPLES} == set(USES)


def test_names_are_plain_and_what_is_shown_has_a_printers_dash() -> None:
    assert all(name.isascii() for name in USES)
    assert {name for name, shown in USES.items() if name != shown} == {"ii-V-I major", "ii-V-i minor", "quick ii-V"}
    assert all(shown.replace("–", "-") == name for name, shown in USES.items())


def test_a_pickup_makes_no_chord_longer() -> None:
    assert use_of(line_over("C", "Dm7 G7 | Cmaj7", begin=-1)) == "quick ii-V"
