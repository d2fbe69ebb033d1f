"""Short lines, composed for the drills: what they ask about where a player brings no line of their own."""

from __future__ import annotations

from fractions import Fraction
from functools import cache

from engine.lines.line import Change, Line, Meter, Note
from engine.theory.chord_symbol import parse_chord
from engine.theory.key import parse_key
from engine.theory.pitch import parse_pitch

# Key; chord changes, each with its beat; notes, an eighth each unless a length in beats stands behind the colon.
_ROWS = (
    ("C", "Dm7@0 G7@4 Cmaj7@8", "F4 A4 C5 E5 D5 C5 B4 A4 B4 D5 F5 Ab5 G5 F5 Eb5 Db5 C5:2"),
    ("C", "Dm7@0 G7@4 Cmaj7@8", "A4 C5 E5 G5 F5 E5 D5 C5 B4 G4 A4 B4 D5 B4 F4 D#4 E4:2"),
    ("C", "Dm7@0 G7@2 Cmaj7@4", "F4 A4 C5 E5 D5 B4 Ab4 F4 E4:2"),
    ("Cm", "Dm7b5@0 G7@4 Cm7@8", "D4 F4 Ab4 C5 Eb5 D5 C5 Ab4 G4 Ab4 B4 C5 D5 Eb5 F5 D5 Eb5:2"),
    ("F", "C7@0", "C5 B4 Bb4 A4 G4 F4 E4 G4 Bb4 D5 C5:2"),
    ("F", "Gm7@0 C7@4 Fmaj7@8", "Bb4 D5 F5 A5 G5 E5 F5 D5 Db5 E5 G5 Bb5 Ab5 G5 Bb4 G#4 A4:2"),
    ("C", "Cmaj7@0 A7@2 Dm7@4 G7@6 Cmaj7@8", "E4 G4 B4 D5 C#5 E5 G5 Bb5 A5 F5 D5 C5 B4 D5 F5 Ab5 G5:2"),
    ("Bb", "Bb7@0 Eb7@4", "D4 F4 Ab4 C5 Bb4 F4 Ab4 F#4 G4:2"),
    ("Eb", "Fm7@0 Bb7@4 Ebmaj7@8", "Ab4 C5 Eb5 G5 F5 Eb5 D5 C5 Gb5 E5 D5 Db5 Cb5 Bb4 Ab4 Gb4 G4:2"),
    ("G", "Am7@0 D7@4 Gmaj7@8", "C5 E5 G5 B5 A5 G5 F#5 E5 A4 B4 C5 D5 Eb5 F5 Eb5 C5 B4:2"),
    ("A", "Bm7@0 E7@4 Amaj7@8", "D4 F#4 A4 C#5 B4 A4 G#4 F#4 E4 G#4 B4 D5 C#5 B4 D4 B#3 C#4:2"),
    ("Cm", "Dm7b5@0 G7b9@4 CmMaj7@8", "F4 Ab4 C5 Eb5 D5 Ab4 F4 D4 B3 D4 F4 Ab4 G4 F4 Eb4 D4 Eb4 G4 B4 D5 C5:2"),
    ("D", "Dmaj7@0", "F#4 A4 C#5 E5 D5 B4 A4 F#4 G#4 A4 F4 F#4 D4 E4 F#4:2"),
)


@cache
def stock() -> tuple[Line, ...]:
    """The lines, each in the key it was written in."""
    return tuple(_line(number, *row) for number, row in enumerate(_ROWS, 1))


def _line(number: int, key: str, chords: str, notes: str) -> Line:
    changes = []
    for word in chords.split():
        symbol, _, beat = word.partition("@")
        changes.append(Change(parse_chord(symbol), Fraction(beat)))
    played = []
    beat_now = Fraction(0)
    for word in notes.split():
        name, _, length = word.partition(":")
        played.append(Note(parse_pitch(name), beat_now, Fraction(length or "1/2")))
        beat_now += played[-1].length
    return Line(parse_key(key), Meter(), tuple(played), tuple(changes), Fraction(0), beat_now, number=number)
