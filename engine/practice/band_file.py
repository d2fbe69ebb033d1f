"""What the band plays as a Standard MIDI File (MIDI Manufacturers Association, RP-001), through mido."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from io import BytesIO
from typing import Any

from engine.formats.midi import in_delta, mido_parts
from engine.sound.event import Arrangement, Event

TICKS = 960  # per quarter note; swung places are rounded to them, half a millisecond at 120
_DRUMS = 9  # channel 10 as musicians count
# Channel (from 0), program (General MIDI level 1, from 0) and the key of what has no pitch.
CHANNELS = {
    "guitar": (0, 26, None), "piano": (1, 0, None), "bass": (2, 32, None),
    "ride": (_DRUMS, None, 51), "hi-hat": (_DRUMS, None, 44), "click": (_DRUMS, None, 37),
}  # fmt: skip
_TRACKS = (("Line", ("guitar",)), ("Piano", ("piano",)), ("Bass", ("bass",)), ("Drums", ("ride", "hi-hat", "click")))
_OFF, _ON = 0, 1


def band_midi(arrangement: Arrangement, title: str = "With the band") -> bytes:
    """A file of type 1: a track with tempos and chords as markers, and one for each who plays.

    Once through, whatever loops; CannotWrite where mido is not installed.
    """
    midifiles, messages = mido_parts()
    file = midifiles.MidiFile(type=1, ticks_per_beat=TICKS, charset="utf-8")
    meta, message = midifiles.MetaMessage, messages.Message
    head: list[tuple[int, Any]] = [(0, meta("track_name", name=title))]
    head += [(_tick(beat), meta("set_tempo", tempo=midifiles.bpm2tempo(tempo))) for beat, tempo in arrangement.tempos]
    head += [(_tick(beat), meta("marker", text=symbol)) for beat, symbol in _chords(arrangement)]
    tracks = [sorted(head, key=lambda event: event[0])]
    for name, instruments in _TRACKS:
        played = [event for event in arrangement.events if event.instrument in instruments]
        if not played:
            continue
        channel, program, _ = CHANNELS[instruments[0]]
        begun = [(0, meta("track_name", name=name))]
        if program is not None:
            begun.append((0, message("program_change", channel=channel, program=program)))
        tracks.append([*begun, *((tick, message(**sign)) for tick, sign in _signs(played))])
    end = _tick(arrangement.length)
    for events in tracks:
        track = [*in_delta(events), meta("end_of_track", time=max(0, end - events[-1][0]))]
        file.tracks.append(midifiles.MidiTrack(track))
    written = BytesIO()
    file.save(file=written)
    return written.getvalue()


def _chords(arrangement: Arrangement) -> Iterator[tuple[Fraction, str]]:
    """Each chord where it comes; a line that begins or ends under it is no new one."""
    before = ""
    for one in arrangement.chapters:
        if one.chorus and one.chord.symbol != before:
            before = one.chord.symbol
            yield one.beat, before


def _tick(beat: Fraction) -> int:
    return round(beat * TICKS)


def _signs(events: list[Event]) -> list[tuple[int, dict[str, Any]]]:
    """Notes on and off with their ticks; what stops at a tick stops before what begins there."""
    signs: list[tuple[int, int, dict[str, Any]]] = []
    for event in events:
        channel, _, drum = CHANNELS[event.instrument]
        key = drum if event.pitch is None else event.pitch
        loudness = max(1, round(event.loudness * 127))
        begin = _tick(event.beat)
        signs.append((begin, _ON, {"type": "note_on", "channel": channel, "note": key, "velocity": loudness}))
        end = max(begin + 1, _tick(event.end))
        signs.append((end, _OFF, {"type": "note_off", "channel": channel, "note": key, "velocity": 0}))
    ordered = sorted(signs, key=lambda sign: sign[:2])
    return [(tick, sign) for tick, _, sign in ordered]
