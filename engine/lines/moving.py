"""Lines moved: to other keys, to another octave, into a range, onto another last chord."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from engine.lines.line import Change, Line, Note, merged
from engine.theory.bad_input import BadInput
from engine.theory.chord import Chord
from engine.theory.key import MAJOR_KEYS, MINOR_KEYS, Key, parse_key
from engine.theory.pitch import Pitch, signed_semitones

# The twelve keys in the orders that players take them, as places round the cycle of fourths.
ORDERS = {
    "fourths": (0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11),
    "chromatic": (0, 5, 10, 3, 8, 1, 6, 11, 4, 9, 2, 7),
    "chromatic-down": (0, 7, 2, 9, 4, 11, 6, 1, 8, 3, 10, 5),
    "whole-tone": (0, 10, 8, 6, 4, 2, 5, 3, 1, 11, 9, 7),
    "minor-thirds": (0, 3, 6, 9, 1, 4, 7, 10, 2, 5, 8, 11),
}


@dataclass(frozen=True, slots=True)
class Span:
    """A range of pitches, as MIDI key numbers, both included."""

    low: int
    high: int


# A guitar in standard tuning up to its 19th fret; C4 is 60.
GUITAR = Span(40, 83)


def keys_of(mode: str, order: str = "fourths") -> tuple[Key, ...]:
    """The twelve keys of a mode, from C (or A minor's C) in one of ``ORDERS``, as they are usually written."""
    names = MAJOR_KEYS if mode == "major" else MINOR_KEYS
    return tuple(parse_key(names[place]) for place in ORDERS[order])


def key_for(line: Line, tonic: Key) -> Key:
    """The key on ``tonic``'s tonic in the line's own mode."""
    return Key(tonic.tonic, line.key.mode)


def moved_to(line: Line, key: Key) -> Line:
    """The line in another key of its mode, at most a tritone away.

    Every note and chord keeps its degree; one that would take two accidentals is
    written as the trade writes it, with the fewest.
    """
    semitones = signed_semitones(line.key.tonic, key.tonic)
    letters = (key.tonic.letter - line.key.tonic.letter) % 7
    # Seven letters are twelve half steps: of the two ways to the letter, the one that goes as far as the sound does.
    steps = min(letters, letters - 7, key=lambda way: abs(12 * way - 7 * semitones))
    return _respelled(line, key, steps, semitones)


def _respelled(line: Line, key: Key, steps: int, semitones: int) -> Line:
    def chord_moved(chord: Chord) -> Chord:
        bass = chord.bass.up(steps, semitones).readable() if chord.bass else None
        return replace(chord, root=chord.root.up(steps, semitones).readable(), bass=bass)

    def note_moved(note: Note) -> Note:
        there = note.pitch.up(steps, semitones)
        # The leading tone of G sharp minor, the third of its D sharp seventh, is the one that is written double.
        kept = there.accidental == 2 and _is_third(chord_moved(line.chord_of(note)), there)
        return replace(note, pitch=there if kept else there.readable())

    changes = tuple(Change(chord_moved(change.chord), change.beat) for change in line.changes)
    return replace(line, key=key, notes=tuple(map(note_moved, line.notes)), changes=changes)


def _is_third(chord: Chord, pitch: Pitch) -> bool:
    return any(third.over(chord.root) == pitch.in_octave(None) for third in chord.on_rung(3))


def by_octaves(line: Line, octaves: int) -> Line:
    """The whole line some octaves higher (negative: lower)."""
    return replace(line, notes=tuple(_up(note, octaves) for note in line.notes))


def note_by_octaves(line: Line, index: int, octaves: int) -> Line:
    """The line with one note some octaves higher; IndexError where there is no such note."""
    notes = list(line.notes)
    notes[index] = _up(notes[index], octaves)
    return replace(line, notes=tuple(notes))


def _up(note: Note, octaves: int) -> Note:
    octave = note.pitch.octave
    if octave is None:
        raise ValueError(f"{note.pitch} is in no octave")
    return replace(note, pitch=note.pitch.in_octave(octave + octaves))


def placed(line: Line, span: Span = GUITAR) -> Line:
    """The line in the octave nearest to where it is that lies in a range.

    BadInput where it is wider than the range.
    """
    low, high = min(note.pitch.midi for note in line.notes), max(note.pitch.midi for note in line.notes)
    fits = [octaves for octaves in range(-9, 10) if span.low <= low + 12 * octaves and high + 12 * octaves <= span.high]
    if not fits:
        problem = f"is {high - low} half steps wide and fits no octave of a range of {span.high - span.low}"
        raise BadInput(line.title or "the line", 1, problem, "give a wider range, or move single notes by an octave")
    return by_octaves(line, min(fits, key=abs))


def in_all_keys(line: Line, order: str = "fourths") -> Iterator[Line]:
    """The line in the twelve keys of its mode, each as near to the original as a tritone."""
    for key in keys_of(line.key.mode, order):
        yield moved_to(line, key)


def with_last_chord(line: Line, chord: Chord) -> Line:
    """The line with another last chord; its notes stay."""
    changes = (*line.changes[:-1], replace(line.changes[-1], chord=chord))
    return replace(line, changes=merged(changes))
