"""What slips in fingering lead to: the right notes on places that make the hand shift."""

from __future__ import annotations

from collections.abc import Sequence

from engine.drills.facts import Facts, board_in, notes_in
from engine.drills.question import Tab, Value
from engine.drills.stretches import in_eighths
from engine.neck.fingering import Way, ways
from engine.neck.instrument import Instrument, Place
from engine.neck.limits import Limits
from engine.theory.pitch import Pitch


def held(pitches: Sequence[Pitch], places: Sequence[Place], instrument: Instrument) -> Way:
    """The best way to play the notes just there: with the fewest shifts that these places allow."""
    holds = tuple((index, place.string) for index, place in enumerate(places))
    return ways(in_eighths(pitches), instrument, Limits(holds=holds))[0]


def lowest_frets(about: Facts) -> list[Value]:
    """Every note at its lowest fret."""
    everywhere = _everywhere(about)
    return [Tab(tuple(min(places, key=lambda place: place.fret) for places in everywhere))]


def one_string(about: Facts) -> list[Value]:
    """All notes on one string, for each that has them."""
    found: list[Value] = []
    everywhere = [{place.string: place for place in places} for places in _everywhere(about)]
    for string in sorted(set.intersection(*(set(places) for places in everywhere))):
        found.append(Tab(tuple(places[string] for places in everywhere)))
    return found


def nearest_frets(about: Facts) -> list[Value]:
    """From each place of the first note on, every note at the fret nearest to the one before.

    Of two equally near the nearer string, then the higher one. An open string is never taken: it lies nowhere near.
    """
    first, *others = ([place for place in places if place.fret] or places for places in _everywhere(about))
    found: list[Value] = []
    for start in first:
        taken = [start]
        for places in others:
            taken.append(min(places, key=lambda place: _distance(taken[-1], place)))
        found.append(Tab(tuple(taken)))
    return found


def _distance(hand: Place, place: Place) -> tuple[int, int]:
    return abs(place.fret - hand.fret), abs(place.string - hand.string)


def begun_elsewhere(about: Facts) -> list[Value]:
    """The first half in one position, the second half in another, where either would do for the whole."""
    staying = _staying(about)
    half = len(notes_in(about)) // 2
    return [
        Tab((*first.places[:half], *second.places[half:]))
        for first in staying for second in staying if first != second
    ]  # fmt: skip


def one_note_out(about: Facts) -> list[Value]:
    """The ways that stay in position, with one note on another string."""
    everywhere = _everywhere(about)
    found: list[Value] = []
    for way in _staying(about):
        for index, places in enumerate(everywhere):
            for place in places:
                if place != way.places[index]:
                    found.append(Tab((*way.places[:index], place, *way.places[index + 1 :])))
    return found


def _staying(about: Facts) -> list[Way]:
    """The ways without a shift, one for each part of the neck that has any."""
    found = ways(in_eighths(notes_in(about)), board_in(about).instrument)
    return [way for way in found if not way.shifts]


def _everywhere(about: Facts) -> list[tuple[Place, ...]]:
    """For each note all of its places."""
    instrument = board_in(about).instrument
    return [instrument.places(note.midi) for note in notes_in(about)]
