"""Strings out of step: a shape that is usual in fourths, across the one pair of strings that is tuned differently."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from itertools import pairwise

from engine.drills.distances import apart
from engine.drills.facts import Facts, board_in, degree_in
from engine.drills.question import Tap, Value
from engine.drills.slips_on_the_neck import Asked, asked_in, right_places
from engine.neck.instrument import Instrument, Place
from engine.theory.degree import Degree
from engine.theory.pitch import Pitch
from engine.theory.wording import Slot


def odd_pairs(instrument: Instrument) -> dict[int, int]:
    """Where a string is not as far above the next lower one as most are: its number, and by how many frets it differs.

    On a guitar the second string, a major third above the third one, is a fret short of a fourth: ``{2: 1}``.
    """
    opens = instrument.opens
    apart = {string: opens[string - 1] - opens[string] for string in range(1, len(opens))}
    usual = _usual(instrument)
    return {string: usual - steps for string, steps in apart.items() if steps != usual}


def _usual(instrument: Instrument) -> int:
    """By how many half steps most neighbouring strings are apart; of equally many the interval nearest to a fourth."""
    opens = instrument.opens
    counts = Counter(high - low for high, low in pairwise(opens))
    return min(counts, key=lambda steps: (-counts[steps], abs(steps - 5), steps))


def out_of_step(about: Facts) -> list[Value]:
    """Where a shape ends that is counted across an odd pair as if its strings were as far apart as most."""
    return [tap for tap, _ in _across(about)]


def _across(about: Facts) -> Iterator[tuple[Tap, int]]:
    """Those taps, each with the higher string of the pair.

    A shape begins at the nearest place that a player counts from. Where that lies on the same side as the right place,
    or two odd pairs lie between, none is told.
    """
    board = board_in(about)
    odd = odd_pairs(board.instrument)
    for asked in asked_in(about):
        right, starts = right_places(board, asked), _starts(about, asked)
        for place in right:
            start = _nearest(place, [one for one in starts if one != place])
            if start is None:
                continue
            low, high = sorted((start.string, place.string))
            pairs = [string for string in odd if low <= string < high]
            if len(pairs) != 1:
                continue
            # Up to a string that is tuned too low the usual shape falls short, down from it too far.
            frets = -odd[pairs[0]] if place.string < start.string else odd[pairs[0]]
            tapped = Place(place.string, place.fret + frets)
            if tapped in board.places and tapped not in right:
                yield Tap(tapped, asked.step), pairs[0]


def _starts(about: Facts, asked: Asked) -> Sequence[Place]:
    """Where a player counts from: the note before; else the root, the marked one where one is."""
    board, first, marked = board_in(about), about.get("first"), about.get("marked")
    if isinstance(marked, str):
        string, fret = map(int, marked.split("/"))
        return (Place(string, fret),)
    if asked.note.octave is None:
        root = Asked(asked.step, asked.chord, Degree("1"), asked.chord.root)
    elif asked.step:
        root = asked_in(about)[asked.step - 1]
    elif isinstance(first, Pitch):
        root = Asked(0, asked.chord, degree_in(about), first)
    else:
        below = asked.note.up(-asked.degree.steps, -asked.degree.semitones)
        root = Asked(0, asked.chord, Degree("1"), below)
    return right_places(board, root)


def _nearest(place: Place, starts: Sequence[Place]) -> Place | None:
    def distance(start: Place) -> tuple[int, int]:
        return abs(start.string - place.string), abs(start.fret - place.fret)

    return min(starts, key=distance, default=None)


def odd_pair(about: Facts, tap: Tap) -> dict[str, Slot]:
    """Which two strings ``out_of_step`` is about at one tap, and how far apart they are, as its sentence names it."""
    instrument = board_in(about).instrument
    high = next(string for other, string in _across(about) if other == tap)
    opens = instrument.opens
    interval, usual = apart(opens[high - 1] - opens[high]), apart(_usual(instrument))
    return {"higher": high, "lower": high + 1, "interval": interval, "usual": usual}
