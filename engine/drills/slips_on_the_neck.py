"""What slips on the neck lead to: taps on other places than the right ones."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import pairwise

from engine.drills.facts import Facts, board_in, chord_in, degree_in, note_in, notes_in
from engine.drills.question import Board, Tap, Value
from engine.drills.slips_in_counting import THE_NOTE, ladder
from engine.neck.instrument import Instrument, Place
from engine.theory.chord import Chord
from engine.theory.degree import Degree
from engine.theory.pitch import Pitch
from engine.theory.wording import Slot, Text, say


@dataclass(frozen=True, slots=True)
class Asked:
    """What one step of a question asks for: a ``note``, in any octave where it has none, and its ``degree``."""

    step: int
    chord: Chord
    degree: Degree
    note: Pitch

    def is_at(self, midi: int) -> bool:
        """Whether this sound is what is asked for."""
        return midi % 12 == self.note.pitch_class if self.note.octave is None else midi == self.note.midi


def asked_in(about: Facts) -> tuple[Asked, ...]:
    """What the steps of a question ask for, from its facts: ``degrees`` and ``notes`` of several, else one of each."""
    chord, degrees = chord_in(about), about.get("degrees")
    if not isinstance(degrees, str):
        return (Asked(0, chord, degree_in(about), note_in(about)),)
    chords = about.get("chords", ())
    over = [one for one in chords if isinstance(one, Chord)] if isinstance(chords, tuple) else []
    names, notes = degrees.split(), notes_in(about)
    return tuple(
        Asked(step, over[step] if over else chord, Degree(name), note)
        for step, (name, note) in enumerate(zip(names, notes, strict=True))
    )


@lru_cache(maxsize=64)
def sounding_places(board: Board) -> Mapping[Place, int]:
    """What sounds at every place of a board, as MIDI key numbers, in the board's order."""
    opens = board.instrument.opens
    return {place: opens[place.string - 1] + place.fret for place in board.places}


def right_places(board: Board, asked: Asked) -> tuple[Place, ...]:
    """Where on the board a step's note lies."""
    return tuple(place for place, midi in sounding_places(board).items() if asked.is_at(midi))


def all_places(about: Facts, notes: Callable[[Facts], Sequence[Value]]) -> list[Value]:
    """Wherever the notes lie that a slip in counting leads to.

    Nobody counts to a root, so none leads away from it.
    """
    taps: list[Value] = []
    for one in asked_in(about):
        here: Facts = {"chord": one.chord, "degree": one.degree, "note": one.note, "ask": THE_NOTE}
        found = notes(here) if one.degree.name != "1" else ()
        taps += _sounding(about, one, {note.pitch_class for note in found if isinstance(note, Pitch)})
    return taps


def _sounding(about: Facts, asked: Asked, pitch_classes: set[int]) -> Iterator[Tap]:
    for place, midi in sounding_places(board_in(about)).items():
        if midi % 12 in pitch_classes and not asked.is_at(midi):
            yield Tap(place, asked.step)


def _beside(strings: int, frets: int) -> Callable[[Facts], list[Value]]:
    """The places so many strings and frets away from a right one."""

    def values(about: Facts) -> list[Value]:
        board = board_in(about)
        found = [
            (Place(place.string + strings, place.fret + frets), one.step)
            for one in asked_in(about)
            for place in right_places(board, one)
        ]
        return [Tap(place, step) for place, step in found if place in board.places]

    return values


a_fret_low, a_fret_high = _beside(0, -1), _beside(0, 1)
# Strings are counted from the highest.
a_string_low, a_string_high = _beside(1, 0), _beside(-1, 0)


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
    """The places that would be right if all neighbouring strings were equally far apart, counted across an odd pair.

    Counted from its lower string the place on the higher one, and the other way round.
    """
    board = board_in(about)
    odd = odd_pairs(board.instrument)
    found = []
    for one in asked_in(about):
        for string, fret in right_places(board, one):
            found.append((Place(string, fret - odd.get(string, 0)), one.step))
            found.append((Place(string, fret + odd.get(string - 1, 0)), one.step))
    right = {(place, one.step) for one in asked_in(about) for place in right_places(board, one)}
    return [Tap(place, step) for place, step in found if place in board.places and (place, step) not in right]


def odd_pair(instrument: Instrument, place: Place, right: Sequence[Place]) -> dict[str, Slot]:
    """Which two strings ``out_of_step`` is about at one place, and how far apart they are, as its sentence names it."""
    odd = odd_pairs(instrument)
    own = odd.get(place.string, 0)
    high = place.string if own and Place(place.string, place.fret + own) in right else place.string - 1
    opens = instrument.opens
    interval, usual = _apart(opens[high - 1] - opens[high]), _apart(_usual(instrument))
    return {"higher": high, "lower": high + 1, "interval": interval, "usual": usual}


_INTERVALS = {
    1: "a half step", 2: "a whole step", 3: "a minor third", 4: "a major third", 5: "a fourth", 6: "a tritone",
    7: "a fifth", 8: "a minor sixth", 9: "a major sixth", 10: "a minor seventh", 11: "a major seventh",
    12: "an octave",
}  # fmt: skip


def _apart(half_steps: int) -> Text:
    return say(_INTERVALS.get(half_steps, "{count} half steps"), count=half_steps)


def other_octaves(about: Facts) -> list[Value]:
    """The note that is asked, in another octave than the one that is asked."""
    return [tap for one in asked_in(about) for tap in _sounding(about, one, {one.note.pitch_class})]


def root_left_out(about: Facts) -> list[Value]:
    """The chord's root, where none of the notes is it."""
    asked = asked_in(about)
    if any(one.note.pitch_class == one.chord.root.pitch_class for one in asked):
        return []
    return [tap for one in asked for tap in _sounding(about, one, {one.chord.root.pitch_class})]


def out_of_order(about: Facts) -> list[Value]:
    """A note of the line, in its own octave, that comes sooner or later."""
    asked = asked_in(about)
    first = about.get("first")
    notes = [*(one.note for one in asked), *([first] if isinstance(first, Pitch) else [])]
    turns = {note.midi for note in notes}
    there = [(place, midi) for place, midi in sounding_places(board_in(about)).items() if midi in turns]
    return [Tap(place, one.step) for one in asked for place, midi in there if not one.is_at(midi)]


def chord_tones(about: Facts) -> list[Value]:
    """Every other tone of the chord."""
    asked = asked_in(about)
    return [tap for one in asked for tap in _sounding(about, one, set(one.chord.pitch_classes))]


def scale_tones(about: Facts) -> list[Value]:
    """Every other note of the chord's usual scale."""
    taps: list[Value] = []
    for one in asked_in(about):
        taps += _sounding(about, one, {degree.over(one.chord.root).pitch_class for degree in ladder(one.chord)})
    return taps


def anything_else(about: Facts) -> list[Value]:
    """Every place that is not right."""
    return [tap for one in asked_in(about) for tap in _sounding(about, one, set(range(12)))]
