"""A line on a neck as its page shows it: the ways, the chosen one, what is held, and what would lie better."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

from engine.lines.line import Line
from engine.lines.moving import by_octaves
from engine.neck.easier import Saving, easier
from engine.neck.fingering import Way, ways
from engine.neck.instrument import Instrument, Place
from engine.neck.limits import Limits, OutOfRange
from engine.neck.sentences import note_text, way_text
from engine.practice.own_way import OwnWay, Pairs
from engine.practice.settings import Settings
from engine.theory.wording import Slot, Text, say

MOST_SAVINGS = 2
REGION = 5  # frets to practise within
# A line without shifts that costs no more has nothing to save that is worth a word (engine/neck/easier.py).
_SAVES_NOTHING = 10

_OUTSIDE = "{note} lies outside the {instrument}, which goes from {low} to {high}."
_OUTSIDE_SEVERAL = "{notes:and} lie outside the {instrument}, which goes from {low} to {high}."
_OUTSIDE_MANY = "{count} of its notes lie outside the {instrument}, which goes from {low} to {high}."
_MOST_NAMED = 4
_LEFT_OUT = "Not held here: {note}; string {string} does not have it."
_LEFT_OUT_SEVERAL = "Not held here: {notes:and}; their strings do not have them."


@dataclass(frozen=True, slots=True)
class Fingered:
    """A line's ways, the one that is ``chosen``, and what is to be said.

    ``held``: (index, string) of the notes held on a string; ``left_out``: a sentence on holds that cannot be kept
    here, or None. Where the line cannot be played ``ways`` is empty, ``text`` says why, ``chosen`` is None, and
    ``moves`` is what would help: (index, octaves), with the index None for the whole line.
    """

    line: Line
    instrument: Instrument
    ways: tuple[Way, ...]
    chosen: Way | None
    text: Text
    held: Pairs = ()
    left_out: Text | None = None
    moves: tuple[tuple[int | None, int], ...] = ()

    def places_of(self, index: int) -> tuple[Place, ...]:
        """Everywhere that a note of the line can be played."""
        return self.instrument.places(self.line.notes[index].pitch.midi)


def fingered(line: Line, own: OwnWay, settings: Settings, away: int = 0) -> Fingered:
    """The line as a player has it: its way is the one whose lowest position is nearest to the chosen one.

    ``line`` is played as it stands, its octaves are chosen already; ``away`` is how many frets its key lies above the
    one that ``own`` was chosen in.
    """
    instrument = settings.instrument
    if not line.notes:
        return Fingered(line, instrument, (), None, say("There is no note to play."))
    held, gone = _holds(line, instrument, own.held)
    try:
        found = _ways(line, instrument, Limits(holds=tuple(sorted(held)), stretch=settings.stretch))
    except OutOfRange as bad:
        return _outside(line, instrument, bad)
    chosen = found[0] if own.way is None else _nearest(found, own.way + away)
    return Fingered(line, instrument, found, chosen, way_text(line, chosen), held, _left_out(line, gone))


def lowest(way: Way) -> int:
    """The lowest position of a way, by which it is named."""
    return min(way.positions)


def _nearest(found: Iterable[Way], position: int) -> Way:
    return min(found, key=lambda way: abs(lowest(way) - position))


@lru_cache(maxsize=64)
def _ways(line: Line, instrument: Instrument, limits: Limits) -> tuple[Way, ...]:
    """The ways, one for each lowest position, the best of those that share one."""
    found: dict[int, Way] = {}
    for way in ways(line, instrument, limits):
        found.setdefault(lowest(way), way)
    return tuple(found.values())


def _holds(line: Line, instrument: Instrument, held: Pairs) -> tuple[Pairs, Pairs]:
    """The holds that the line can keep, and the others."""
    good = tuple(
        (index, string)
        for index, string in held
        if index < len(line.notes)
        and string in [place.string for place in instrument.places(line.notes[index].pitch.midi)]
    )
    return good, tuple(hold for hold in held if hold not in good and hold[0] < len(line.notes))


def _left_out(line: Line, gone: Pairs) -> Text | None:
    if not gone:
        return None
    if len(gone) == 1:
        ((index, string),) = gone
        return say(_LEFT_OUT, note=note_text(line, index), string=string)
    return say(_LEFT_OUT_SEVERAL, notes=tuple(note_text(line, index) for index, _ in gone))


def _outside(line: Line, instrument: Instrument, bad: OutOfRange) -> Fingered:
    low, high = instrument.strings[0], instrument.strings[-1]
    notes: tuple[Slot, ...] = tuple(dict.fromkeys(line.notes[index].pitch for index in bad.notes))
    top = say("fret {fret} above {open}", fret=instrument.frets, open=high)
    template = _OUTSIDE_MANY if len(notes) > _MOST_NAMED else _OUTSIDE_SEVERAL if len(notes) > 1 else _OUTSIDE
    told = say(
        template, count=len(bad.notes), note=notes[0], notes=notes, instrument=instrument.name, low=low, high=top
    )
    moves: tuple[tuple[int | None, int], ...]
    if bad.octaves is not None:
        moves = ((None, bad.octaves),)
    else:
        moves = tuple((index, _octaves_inside(line.notes[index].pitch.midi, instrument)) for index in bad.notes)
    return Fingered(line, instrument, (), None, told, moves=moves)


def _octaves_inside(midi: int, instrument: Instrument) -> int:
    """By how many octaves a pitch outside has to move to be on the neck."""
    if midi < instrument.lowest:
        return (instrument.lowest - midi + 11) // 12
    return -((midi - instrument.highest + 11) // 12)


def may_save(found: Fingered) -> bool:
    """Whether it is worth looking for what would lie better: that takes ten times as long as the ways."""
    return bool(found.ways) and (found.ways[0].shifts > 0 or found.ways[0].cost >= _SAVES_NOTHING)


@lru_cache(maxsize=32)
def savings(found: Fingered, stretch: int) -> tuple[Saving, ...]:
    """What would lie better, the best of it."""
    limits = Limits(holds=tuple(sorted(found.held)), stretch=stretch)
    return easier(found.line, found.instrument, limits)[:MOST_SAVINGS] if found.ways else ()


# --- to practise -------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class InKey:
    """The line in one of the keys: ``places`` is empty where it cannot be played, and ``text`` says what is to say."""

    line: Line
    places: tuple[Place, ...]
    position: int
    text: Text | None = None


_OCTAVES = {1: "an octave higher", -1: "an octave lower", 2: "two octaves higher", -2: "two octaves lower"}
_OFF = "Here the shape would leave the neck."
_OPEN = "With open strings the shape stays where it is."
_NO_PLACE = "{notes:and} cannot be played within these frets, in no octave of the line."


def moved_shape(found: Fingered, lines: Iterable[Line]) -> tuple[InKey, ...]:
    """The chosen way in other keys, on the same strings with the same fingers.

    ``lines``: the line in each key. Of the places an octave apart it takes the nearest that lies on the neck.
    """
    way = found.chosen
    if way is None:
        return ()
    return tuple(_shape_in(found, way, line) for line in lines)


def _shape_in(found: Fingered, way: Way, line: Line) -> InKey:
    away = line.notes[0].pitch.midi - found.line.notes[0].pitch.midi
    frets = [place.fret for place in way.places]
    fits = [
        octaves
        for octaves in (0, -1, 1, -2, 2)
        if min(frets) + away + 12 * octaves >= 1 and max(frets) + away + 12 * octaves <= found.instrument.frets
    ]
    if 0 in frets and away:
        return InKey(line, (), 0, say(_OPEN))
    if not fits and away:
        return InKey(line, (), 0, say(_OFF))
    # Where the line is now its shape stays, though open strings may be in it.
    octaves = min(fits, key=lambda count: abs(away + 12 * count)) if away else 0
    by = away + 12 * octaves
    places = tuple(Place(place.string, place.fret + by) for place in way.places)
    told = say(_OCTAVES[octaves]) if octaves else None
    return InKey(by_octaves(line, octaves), places, lowest(way) + by, told)


def within_frets(lines: Iterable[Line], settings: Settings, low: int) -> tuple[InKey, ...]:
    """The line in each key by its best way within five frets from ``low`` on, in the octave that lies best there."""
    limits = Limits(low, min(low + REGION - 1, settings.instrument.frets), stretch=settings.stretch)
    return tuple(_in_region(line, settings.instrument, limits) for line in lines)


def _in_region(line: Line, instrument: Instrument, limits: Limits) -> InKey:
    missing: dict[int, tuple[Slot, ...]] = {}
    best: tuple[int, int, int, int, Way] | None = None
    for octaves in (0, -1, 1, -2, 2):
        there = by_octaves(line, octaves)
        pitches = dict.fromkeys(note.pitch for note in there.notes)
        missing[octaves] = tuple(
            pitch for pitch in pitches if not any(map(limits.allows, instrument.places(pitch.midi)))
        )
        if not missing[octaves]:
            way = _ways(there, instrument, limits)[0]
            found = (way.shifts, way.cost, abs(octaves), octaves, way)
            best = found if best is None or found[:4] < best[:4] else best
    if best is None:
        fewest = min(missing.values(), key=len)
        return InKey(line, (), 0, say(_NO_PLACE, notes=tuple(pitch for pitch in fewest)))
    *_, octaves, way = best
    told = say(_OCTAVES[octaves]) if octaves else None
    return InKey(by_octaves(line, octaves), way.places, lowest(way), told)
