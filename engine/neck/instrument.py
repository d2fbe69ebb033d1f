"""Instruments with frets: their tunings, and where a pitch can be played on them.

Strings are numbered as players do: 1 is the highest. A left-handed instrument has the
same strings and frets; only its picture is turned round.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

from engine.theory.bad_input import BadInput
from engine.theory.pitch import Pitch, parse_pitch

STRINGS = range(4, 9)
FRETS = range(12, 28)
USUAL_FRETS = 22
# Open strings that an instrument with a neck can have, as MIDI key numbers: from C0 to C6.
_SOUNDING = range(12, 85)


class Place(NamedTuple):
    """Where a note is played: a string (1 is the highest) and a fret (0 is the open string)."""

    string: int
    fret: int


@dataclass(frozen=True, slots=True)
class Instrument:
    """An instrument: its open ``strings`` from low to high, at sounding pitch, and its number of ``frets``."""

    name: str
    strings: tuple[Pitch, ...]
    frets: int

    @property
    def opens(self) -> tuple[int, ...]:
        """The open strings' MIDI key numbers from string 1, the highest, on."""
        return tuple(pitch.midi for pitch in reversed(self.strings))

    @property
    def lowest(self) -> int:
        """The lowest note's MIDI key number."""
        return self.strings[0].midi

    @property
    def highest(self) -> int:
        """The highest note's MIDI key number."""
        return self.strings[-1].midi + self.frets

    def places(self, midi: int) -> tuple[Place, ...]:
        """Everywhere that a pitch can be played, from string 1 on."""
        frets = ((number, midi - low) for number, low in enumerate(self.opens, 1))
        return tuple(Place(number, fret) for number, fret in frets if 0 <= fret <= self.frets)


# Name, open strings from low to high, frets.
_ROWS = (
    ("guitar", "E2,A2,D3,G3,B3,E4", 22),
    ("guitar in drop D", "D2,A2,D3,G3,B3,E4", 22),
    ("seven-string guitar", "B1,E2,A2,D3,G3,B3,E4", 24),
    ("eight-string guitar", "F#1,B1,E2,A2,D3,G3,B3,E4", 24),
    ("bass", "E1,A1,D2,G2", 20),
    ("five-string bass", "B0,E1,A1,D2,G2", 24),
)


def tuned(tuning: str, frets: int = USUAL_FRETS, name: str = "instrument") -> Instrument:
    """The instrument whose strings are tuned to ``tuning``, from low to high, such as ``E2,A2,D3,G3,B3,E4``.

    BadInput, with the column in ``tuning``, where no instrument is like that: 4 to 8
    strings that rise from each to the next, 12 to 27 frets.
    """
    strings: list[Pitch] = []
    at = 1
    for word in tuning.split(","):
        strings.append(_string(word.strip(), at + len(word) - len(word.lstrip()), strings))
        at += len(word) + 1
    if len(strings) not in STRINGS:
        problem = f"has {len(strings)} string{'s' * (len(strings) > 1)}"
        raise BadInput(tuning, 1, problem, f"give {STRINGS[0]} to {STRINGS[-1]} strings, such as {_ROWS[0][1]}")
    return _with_frets(name, tuple(strings), frets)


def _with_frets(name: str, strings: tuple[Pitch, ...], frets: int) -> Instrument:
    if frets not in FRETS:
        raise BadInput(str(frets), 1, "is no number of frets for a neck", f"give {FRETS[0]} to {FRETS[-1]}")
    return Instrument(name, strings, frets)


def _string(word: str, at: int, lower: list[Pitch]) -> Pitch:
    """The open string that a word of a tuning names, above those before it."""
    try:
        pitch = parse_pitch(word)
    except BadInput:
        example = f"write notes from low to high, such as {_ROWS[0][1]}"
        raise BadInput(word, at, "is no note for a string", example) from None
    if pitch.octave is None:
        raise BadInput(word, at, "has no octave", f"write {word}2 or the octave it sounds in; C4 is middle C")
    if pitch.midi not in _SOUNDING:
        raise BadInput(word, at, "is no pitch for an open string", "give strings from C0 to C6")
    if lower and pitch.midi <= lower[-1].midi:
        raise BadInput(word, at, f"does not lie above {lower[-1]} before it", "give the strings from low to high")
    return pitch


INSTRUMENTS = {name: tuned(tuning, frets, name) for name, tuning, frets in _ROWS}
GUITAR = INSTRUMENTS["guitar"]


def instrument_of(text: str, frets: int | None = None) -> Instrument:
    """The instrument that a person names or tunes: a name of ``INSTRUMENTS``, or open strings from low to high.

    With ``frets`` it has so many. BadInput where it is neither, or cannot be.
    """
    if text in INSTRUMENTS:
        known = INSTRUMENTS[text]
        return _with_frets(known.name, known.strings, known.frets if frets is None else frets)
    return tuned(text, USUAL_FRETS if frets is None else frets)


def tuning_of(instrument: Instrument) -> str:
    """What ``instrument_of`` reads as an instrument's strings: its name in ``INSTRUMENTS``, or else open strings."""
    names = (name for name, known in INSTRUMENTS.items() if known.strings == instrument.strings)
    return next(names, ",".join(map(str, instrument.strings)))
