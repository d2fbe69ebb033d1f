"""What a fingering has to keep to: the instrument's range, a region of the neck, held notes, and the hand's stretch."""

from __future__ import annotations

import re
from collections.abc import Iterable
from dataclasses import dataclass

from engine.lines.line import Line
from engine.lines.moving import Span, placed
from engine.neck.hand import OPEN, REACH, WIDEST
from engine.neck.instrument import Instrument, Place
from engine.theory.bad_input import BadInput
from engine.theory.pitch import Pitch


@dataclass(frozen=True, slots=True)
class Limits:
    """Fretted notes stay within the frets ``low`` to ``high`` (None: the last one); open strings are always allowed.

    ``holds``: (index of a note, string) for every note that is to be played on that string.
    ``stretch``: the widest distance in frets, the highest less the lowest, that the hand takes
    without moving: 5 is one finger a fret and a reach on either side, 4 a reach above only, 3 none.
    """

    low: int = 1
    high: int | None = None
    holds: tuple[tuple[int, int], ...] = ()
    stretch: int = WIDEST

    def allows(self, place: Place) -> bool:
        """Whether a place lies in the region."""
        return place.fret == OPEN or (self.low <= place.fret and (self.high is None or place.fret <= self.high))


FREE = Limits()
_HOLD = re.compile(r"(\d{1,6}):(\d{1,6})")


def parse_hold(text: str) -> tuple[int, int]:
    """Read a hold such as ``3:2``, note 3 (counted from 0) on string 2; BadInput where it is none."""
    found = _HOLD.fullmatch(text)
    if not found:
        example = "write a note, counted from 0, and its string, 1 being the highest: 3:2"
        raise BadInput(text, 1, "holds no note on a string", example)
    return int(found[1]), int(found[2])


class OutOfRange(BadInput):
    """Notes that an instrument does not have.

    ``notes`` are their indexes; ``octaves`` is by how many the whole line has to move to
    fit, the nearest; None where it is too wide for that.
    """

    def __init__(self, line: Line, instrument: Instrument, notes: tuple[int, ...]) -> None:
        self.notes = notes
        self.octaves = _octaves_into(line, instrument)
        first, *others = dict.fromkeys(line.notes[index].pitch for index in notes)
        low, high = instrument.strings[0], instrument.strings[-1]
        problem = f"lies outside the {instrument.name}, which goes from {low} to fret {instrument.frets} above {high}"
        if others:
            problem += f", as {_listed(others)} {'do' if len(others) > 1 else 'does'}"
        super().__init__(str(first), 1, problem, _remedy(self.octaves, (first, *others), instrument))


def _remedy(octaves: int | None, pitches: Iterable[Pitch], instrument: Instrument) -> str:
    if octaves is None:
        return "play " + _listed(f"{pitch} as {_inside(pitch, instrument)}" for pitch in pitches)
    count = "an octave" if abs(octaves) == 1 else f"{abs(octaves)} octaves"
    return f"play the line {count} {'higher' if octaves > 0 else 'lower'}"


def _inside(pitch: Pitch, instrument: Instrument) -> Pitch:
    """The pitch in the nearest octave that the instrument has: a neck has more than an octave."""
    over, under = pitch.midi - instrument.highest, instrument.lowest - pitch.midi
    octaves = -(-max(over, under) // 12)
    return pitch.in_octave((pitch.octave or 0) + (octaves if under > 0 else -octaves))


def _octaves_into(line: Line, instrument: Instrument) -> int | None:
    try:
        there = placed(line, Span(instrument.lowest, instrument.highest))
    except BadInput:
        return None
    return (there.notes[0].pitch.midi - line.notes[0].pitch.midi) // 12


def check(line: Line, instrument: Instrument, limits: Limits = FREE) -> None:
    """BadInput where the line cannot be played within the limits: what cannot, and what could.

    OutOfRange where the instrument does not have its notes. A small stretch shuts nothing
    out: every fret has a position of its own.
    """
    check_stretch(limits.stretch)
    span = range(instrument.lowest, instrument.highest + 1)
    outside = tuple(index for index, note in enumerate(line.notes) if note.pitch.midi not in span)
    if outside:
        raise OutOfRange(line, instrument, outside)
    _check_region(line, instrument, limits)
    _check_holds(line, instrument, limits)


def check_stretch(stretch: int) -> None:
    """BadInput where the model has no hand of that stretch."""
    if stretch not in REACH:
        problem = "is no stretch that a hand is counted with"
        raise BadInput(str(stretch), 1, problem, f"give a distance of {_listed(REACH, 'or')} frets")


def _check_region(line: Line, instrument: Instrument, limits: Limits) -> None:
    low, high = limits.low, instrument.frets if limits.high is None else limits.high
    for fret in (low, high):
        if not 0 <= fret <= instrument.frets:
            raise BadInput(str(fret), 1, "is no fret of this neck", f"give one from 0 to {instrument.frets}")
    if low > high:
        raise BadInput(f"{low} to {high}", 1, "runs down the neck", f"give frets {high} to {low}")
    places = {note.pitch: instrument.places(note.pitch.midi) for note in line.notes}
    missing = [pitch for pitch, those in places.items() if not any(map(limits.allows, those))]
    if missing:
        wider = min(
            (Limits(below, above) for below in range(low + 1) for above in range(high, instrument.frets + 1)
             if all(any(map(Limits(below, above).allows, those)) for those in places.values())),
            key=lambda region: (region.high or 0) - region.low,
        )  # fmt: skip
        problem = f"has no place for {_listed(missing)} on the neck"
        raise BadInput(f"{low} to {high}", 1, problem, f"give frets {wider.low} to {wider.high}")


def _check_holds(line: Line, instrument: Instrument, limits: Limits) -> None:
    seen: set[int] = set()
    for index, string in limits.holds:
        token = f"{index}:{string}"
        if not 0 <= index < len(line.notes):
            raise BadInput(token, 1, "names a note that is not there", f"count notes from 0 to {len(line.notes) - 1}")
        if index in seen:
            raise BadInput(token, 1, "holds a note that is held already", "hold every note once")
        seen.add(index)
        if not 1 <= string <= len(instrument.strings):
            instead = f"strings go from 1, the highest, to {len(instrument.strings)}"
            raise BadInput(token, 1, "names a string that is not there", instead)
        pitch = line.notes[index].pitch
        strings = [place.string for place in instrument.places(pitch.midi) if limits.allows(place)]
        if string not in strings:
            problem = f"holds {pitch} on string {string}, where it has no place"
            raise BadInput(token, 1, problem, f"hold it on string {_listed(strings, 'or')}")


def _listed(members: Iterable[object], joint: str = "and") -> str:
    *most, last = map(str, members)
    return f"{', '.join(most)} {joint} {last}" if most else last
