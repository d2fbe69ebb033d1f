"""Chords as their symbols say them, held under single notes: what a question sounds like.

A rhythm section adds colours of its own (engine.sound.voicing); here nothing is heard that is not named.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from engine.sound.event import Arrangement, Event
from engine.theory.chord import Chord
from engine.theory.degree import Degree

TEMPO = 100
_BASS = range(36, 48)  # the root under a chord, C2 to B2
_LOWEST = 50  # the lowest tone above it lies in the octave from D3 up
_MOST = 4  # tones above the bass
_SEVENTH = 7  # the rung up to which tones may change places: a ninth stays above
_ALTERED_FIFTHS = ("#5", "b5", "b13", "#11")
_CHORD, _NOTE = 0.45, 0.85


@dataclass(frozen=True, slots=True)
class Bar:
    """A chord (None: silence under the notes) and single notes over it, as MIDI key numbers; None is a rest.

    The chord is ``alone`` for so many beats before the first of them.
    """

    chord: Chord | None
    keys: tuple[int | None, ...] = ()
    alone: Fraction = Fraction(0)


def close_position(chord: Chord, after: Sequence[int] = ()) -> tuple[int, ...]:
    """The chord's tones as MIDI key numbers from the bottom up, thirds stacked as its symbol names them.

    Behind another chord (``after``, its keys) a chord of the seventh or less is turned into the inversion that moves
    least. Of more than four tones the root is left to the bass; the fifth where an altered one stands for it.
    """
    degrees = list(chord.degrees)
    if len(degrees) > _MOST:
        degrees = [degree for degree in degrees if degree.name != "1"]
    if any(degree.name in _ALTERED_FIFTHS for degree in degrees):
        degrees = [degree for degree in degrees if degree.name != "5"]
    turns = len(degrees) if after and all(degree.rung <= _SEVENTH for degree in degrees) else 1
    forms = [_stacked(chord.root.pitch_class, [*degrees[turn:], *degrees[:turn]]) for turn in range(turns)]
    return min(forms, key=lambda keys: (_motion(after, keys), keys))


def _stacked(root: int, degrees: Sequence[Degree]) -> tuple[int, ...]:
    """Each tone above the one before it, from the lowest place there is."""
    keys: list[int] = []
    for degree in degrees:
        least = keys[-1] + 1 if keys else _LOWEST
        keys.append(least + (root + degree.semitones - least) % 12)
    return tuple(keys)


def _motion(before: Sequence[int], keys: Sequence[int]) -> int:
    return sum(min(abs(key - old) for old in before) for key in keys) if before else 0


def held(bars: Sequence[Bar], tempo: int = TEMPO, length: Fraction = Fraction(1)) -> Arrangement:
    """The bars one after the other, each note ``length`` beats, the last one of all and a chord alone at least two.

    A note's ``index`` is its place among all of them, rests left out.
    """
    events: list[Event] = []
    now = Fraction(0)
    before: tuple[int, ...] = ()
    index = 0
    for place, bar in enumerate(bars):
        lengths = [length] * len(bar.keys)
        if place == len(bars) - 1 and lengths:
            lengths[-1] = max(length, Fraction(2))
        end = now + max(bar.alone + sum(lengths), Fraction(0 if lengths else 2))
        if bar.chord:
            before = close_position(bar.chord, before)
            low = (bar.chord.bass or bar.chord.root).pitch_class
            bass = next(key for key in _BASS if key % 12 == low)
            events.append(Event(now, end - now, bass, _CHORD, "bass"))
            events += [Event(now, end - now, key, _CHORD, "piano") for key in before]
        beat = now + bar.alone
        for key, lasts in zip(bar.keys, lengths, strict=True):
            if key is not None:
                events.append(Event(beat, lasts, key, _NOTE, "guitar", index))
                index += 1
            beat += lasts
        now = end
    return Arrangement(tuple(sorted(events, key=lambda event: event.beat)), ((Fraction(0), tempo),), now)
