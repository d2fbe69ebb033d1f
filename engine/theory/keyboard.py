"""The keys of a keyboard: which of them are white, and what players call them."""

from __future__ import annotations

from engine.theory.pitch import SEMITONES_OF_LETTERS, Pitch, parse_pitch

# Each key from C on by one name, where nothing decides the spelling.
_NAMES = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")


def is_white(midi: int) -> bool:
    """Whether the key of this MIDI number is a white one."""
    return midi % 12 in SEMITONES_OF_LETTERS


def key_name(midi: int) -> str:
    """A key by one name, in ASCII and with its octave: Bb4."""
    return f"{_NAMES[midi % 12]}{midi // 12 - 1}"


def key_names(midi: int) -> tuple[Pitch, ...]:
    """Every usual name of a key, with its octave: one of a white key, a sharp and a flat one of a black key."""
    if is_white(midi):
        return (parse_pitch(key_name(midi)),)
    left, right = (parse_pitch(key_name(beside)) for beside in (midi - 1, midi + 1))
    return (left.up(0, 1), right.up(0, -1))
