"""Short figures for the ear: a chord and notes over it, a cadence and a line, chords one after the other."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction

from engine.lines.line import Line
from engine.lines.progression import PROGRESSIONS, in_key
from engine.sound.event import Arrangement, Event
from engine.sound.feel import ratio_for, swung_notes
from engine.sound.stretch import Stretch
from engine.sound.voicing import voicings
from engine.theory.chord import Chord
from engine.theory.key import Key
from engine.theory.pitch import Pitch

USUAL_TEMPO = 100
_ALONE = Fraction(2)  # how long a chord is heard before the first note
_HELD = Fraction(2)  # how long each of several chords is held
_CHORD, _NOTE = 0.5, 0.8
_BASS = range(36, 48)  # the root under a chord, C2 to B2
_CADENCES = {"major": "short-two-five-one", "minor": "two-five-one-minor"}


def of_figure(
    pitches: Sequence[Pitch],
    chord: Chord | None = None,
    tempo: int = USUAL_TEMPO,
    key: Key | None = None,
    length: Fraction = Fraction(1),
) -> Arrangement:
    """Notes one after the other, ``length`` beats each; a ``chord`` is heard first and held under them.

    Every pitch has an octave; an event's ``index`` is the note's place. ``key``: the chord's, where it is known.
    """
    first = _ALONE if chord else Fraction(0)
    end = first + length * len(pitches)
    events = _held(chord, key or Key(chord.root), Fraction(0), end, tempo) if chord else []
    for index, pitch in enumerate(pitches):
        events.append(Event(first + index * length, length, pitch.midi, _NOTE, "guitar", index))
    return _once(events, tempo, end)


def after_cadence(line: Line, tempo: int | None = None, swing: Fraction | None = None) -> Arrangement:
    """A cadence in the line's key, then the line: from its pickup, without the bars before that."""
    now = tempo or line.tempo or USUAL_TEMPO
    row = in_key(PROGRESSIONS[_CADENCES[line.key.mode]], line.key)
    ends = [*(change.beat for change in row.changes[1:]), row.length]
    events: list[Event] = []
    stretches = [
        Stretch(change.chord, row.key, change.beat / 2, end / 2, now)
        for change, end in zip(row.changes, ends, strict=True)
    ]
    for place, stretch in enumerate(stretches):
        following = stretches[place + 1].chord if place + 1 < len(stretches) else None
        stretches[place] = replace(stretch, following=following)
    events += _voiced(stretches)
    begin = stretches[-1].end - line.begin
    times = swung_notes(line.notes, ratio_for(line.meter, now, swing))
    for index, (note, (start, stop)) in enumerate(zip(line.notes, times, strict=True)):
        events.append(Event(begin + start, stop - start, note.pitch.midi, _NOTE, "guitar", index))
    return _once(events, now, begin + max(line.end, times[-1][1] if times else line.end))


def in_turn(chords: Sequence[Sequence[int]], tempo: int = USUAL_TEMPO, length: Fraction = _HELD) -> Arrangement:
    """Chords as sets of MIDI key numbers, one after the other; an event's ``index`` is its chord's place."""
    events = [
        Event(place * length, length, key, _CHORD, "piano", place)
        for place, keys in enumerate(chords)
        for key in sorted(keys)
    ]
    return _once(events, tempo, length * len(chords))


def _held(chord: Chord, key: Key, begin: Fraction, end: Fraction, tempo: int) -> list[Event]:
    return _voiced([Stretch(chord, key, begin, end, tempo)])


def _voiced(stretches: Sequence[Stretch]) -> list[Event]:
    """Chords held as long as they last, over their bass."""
    events = []
    for stretch, voicing in zip(stretches, voicings(stretches), strict=True):
        length = stretch.end - stretch.begin
        low = (stretch.chord.bass or stretch.chord.root).pitch_class
        events.append(Event(stretch.begin, length, next(key for key in _BASS if key % 12 == low), _CHORD, "bass"))
        events += [Event(stretch.begin, length, key, _CHORD, "piano") for key in voicing.keys]
    return events


def _once(events: list[Event], tempo: int, end: Fraction) -> Arrangement:
    ordered = sorted(events, key=lambda event: event.beat)
    return Arrangement(tuple(ordered), ((Fraction(0), tempo),), end)
