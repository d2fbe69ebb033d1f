"""Lines of given or random notes, for what depends on pitch and time alone."""

from collections.abc import Sequence
from fractions import Fraction
from random import Random

from engine.lines.line import Change, Line, Meter, Note
from engine.neck.instrument import Instrument
from engine.theory.chord_symbol import parse_chord
from engine.theory.key import parse_key
from engine.theory.pitch import Pitch, parse_pitch

_NAMES = ("C", "C#", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")


def pitch_of(midi: int) -> Pitch:
    return parse_pitch(f"{_NAMES[midi % 12]}{midi // 12 - 1}")


def line_of(midis: Sequence[int], lengths: Sequence[Fraction] = (), rests: Sequence[int] = ()) -> Line:
    """Notes in order, eighths unless told otherwise; before those in ``rests`` is an eighth rest."""
    notes: list[Note] = []
    at = Fraction(0)
    for index, midi in enumerate(midis):
        at += Fraction(index in rests, 2)
        notes.append(Note(pitch_of(midi), at, lengths[index] if lengths else Fraction(1, 2)))
        at = notes[-1].end
    end = -(-at // 4) * 4
    return Line(parse_key("C"), Meter(), tuple(notes), (Change(parse_chord("C7"), Fraction(0)),), Fraction(0), end)


def midis_at_random(seed: int, count: int, instrument: Instrument, widest: int = 12) -> list[int]:
    """Notes of an instrument, from each to the next at most ``widest`` half steps."""
    draw = Random(seed).random
    low, high = instrument.lowest, instrument.highest
    midis = [low + int(draw() * (high - low + 1))]
    while len(midis) < count:
        first, last = max(low, midis[-1] - widest), min(high, midis[-1] + widest)
        midis.append(first + int(draw() * (last - first + 1)))
    return midis


def varied_line(seed: int, count: int, instrument: Instrument) -> Line:
    """Small and large leaps, long and short notes, rests."""
    return _varied(seed, midis_at_random(seed, count, instrument, widest=(3, 7, 14)[seed % 3]))


def open_strings_often(seed: int, count: int, instrument: Instrument) -> Line:
    """Every other note or so has the pitch of an open string; any other one may follow it."""
    draw = Random(-seed).random
    midis = [
        instrument.opens[int(draw() * len(instrument.opens))] if draw() < 0.5 else midi
        for midi in midis_at_random(seed, count, instrument, widest=30)
    ]
    return _varied(seed, midis)


def _varied(seed: int, midis: Sequence[int]) -> Line:
    draw = Random(seed).random
    lengths = [Fraction(1, (1, 2, 2, 4, 8)[int(draw() * 5)]) for _ in midis]
    return line_of(midis, lengths, rests=[index for index in range(1, len(midis)) if draw() < 0.2])
