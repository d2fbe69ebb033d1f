"""Lines as Standard MIDI Files (MIDI Manufacturers Association, RP-001), through mido."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from fractions import Fraction
from io import BytesIO
from math import lcm
from typing import Any

from engine.formats.cannot_write import CannotWrite
from engine.formats.key_signature import fifths
from engine.lines.line import Line, Note

USUAL_TEMPO = 120  # quarter notes a minute, for a line that says none
USUAL_TICKS = 960  # per quarter note; more where a line has tuplets that need them
MOST_TICKS = 0x7FFF  # the header has 15 bits for them
VELOCITY = 80
_NUMBERS = range(128)
# A key signature by its sharps, or flats below zero, as mido names it.
_MAJOR = ("Cb", "Gb", "Db", "Ab", "Eb", "Bb", "F", "C", "G", "D", "A", "E", "B", "F#", "C#")
_MINOR = ("Abm", "Ebm", "Bbm", "Fm", "Cm", "Gm", "Dm", "Am", "Em", "Bm", "F#m", "C#m", "G#m", "D#m", "A#m")


def write_midi(line: Line) -> bytes:
    """The line as a file of type 1: a track for tempo, signatures and chord symbols, and one for the notes.

    Tick 0 is the start of the first bar, of the pickup where there is one.
    Chord symbols are markers. Texts are UTF-8. CannotWrite where mido is not
    installed, for a note outside the numbers 0 to 127, and for lengths that
    no count of ticks makes exact.
    """
    midifiles, messages = mido_parts()
    ticks = ticks_per_beat(line)

    def tick(beat: Fraction) -> int:
        return int((beat - line.begin) * ticks)

    file = midifiles.MidiFile(type=1, ticks_per_beat=ticks, charset="utf-8")
    meta, message = midifiles.MetaMessage, messages.Message
    head = [
        meta("track_name", name=line.title),
        meta("set_tempo", tempo=midifiles.bpm2tempo(line.tempo or USUAL_TEMPO)),
        meta("time_signature", numerator=line.meter.beats, denominator=line.meter.unit),
        meta("key_signature", key=(_MINOR if line.key.mode == "minor" else _MAJOR)[fifths(line.key) + 7]),
    ]
    chords = [(tick(change.beat), meta("marker", text=change.chord.symbol)) for change in line.changes]
    played: list[tuple[int, Any]] = []
    for note in line.notes:
        number = _number(note)
        played.append((tick(note.start), message("note_on", note=number, velocity=VELOCITY)))
        played.append((tick(note.end), message("note_off", note=number, velocity=0)))
    end = tick(line.end)
    for events in ([*((0, event) for event in head), *chords], [(0, meta("track_name", name=line.title)), *played]):
        track = [*in_delta(events), meta("end_of_track", time=max(0, end - events[-1][0]))]
        file.tracks.append(midifiles.MidiTrack(track))
    written = BytesIO()
    file.save(file=written)
    return written.getvalue()


def ticks_per_beat(line: Line) -> int:
    """The ticks of a quarter note with which all of the line's places are whole: a multiple of the usual, or fewer."""
    places = [line.begin, line.end, *(change.beat for change in line.changes)]
    for note in line.notes:
        places += [note.start, note.end]
    needed = lcm(*(place.denominator for place in places))
    usual = lcm(needed, USUAL_TICKS)
    if usual <= MOST_TICKS:
        return usual
    if needed > MOST_TICKS:
        problem = f"has lengths that only 1/{needed} of a beat divides, finer than MIDI counts"
        raise CannotWrite(line.title, "this line", problem, f"at most 1/{MOST_TICKS} of a beat can be written")
    return needed


def in_delta(events: Iterable[tuple[int, Any]]) -> Iterator[Any]:
    """The events with the ticks since the one before."""
    now = 0
    for at, event in events:
        yield event.copy(time=at - now)
        now = at


def _number(note: Note) -> int:
    number = note.pitch.midi
    if number not in _NUMBERS:
        raise CannotWrite(str(note.pitch), str(note.pitch), "is no MIDI note", "they go from C-1 to G9")
    return number


def mido_parts() -> tuple[Any, Any]:
    """The two parts of mido that files need; what else it has looks for instruments, and is not in the browser."""
    try:
        from mido import messages, midifiles
    except ImportError as missing:
        problem = "is missing, and without it no MIDI file can be written"
        raise CannotWrite("mido", "mido", problem, '"pip install mido" adds it') from missing
    return midifiles, messages
