"""What slips on the neck lead to: taps on other places than the right ones."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import lru_cache

from engine.drills.facts import Facts, board_in, chord_in, degree_in, note_in, notes_in
from engine.drills.question import Board, Tap, Value
from engine.drills.slips_in_counting import THE_NOTE, other_signs
from engine.neck.instrument import Place
from engine.theory.chord import Chord
from engine.theory.degree import Degree
from engine.theory.family import family_of
from engine.theory.naming import ALTERATION, EXTENSION, PASSING, Naming, name_over
from engine.theory.pitch import Pitch


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


@lru_cache(maxsize=1024)
def usual_degree(chord: Chord, semitones: int) -> Degree:
    """What players call the sound so many half steps above the chord's root, however it may be spelled."""
    return _naming(chord, semitones).degree


@lru_cache(maxsize=1024)
def _naming(chord: Chord, semitones: int) -> Naming:
    # On the root's own letter no spelling but the root's is usual, so none is preferred.
    return name_over(chord, replace(chord.root, accidental=chord.root.accidental + semitones))


def named_at(about: Facts, asked: Asked, midi: int) -> tuple[Pitch, Degree]:
    """What a sound is over a step's chord, by one name throughout the question: a note without an octave, its degree.

    What is asked keeps its name, and a chord tone its own. What has the asked number and another sign is called by
    that number (beside the 5 the flat 5), unless the question has two such names for it or it is an extension (the
    sharp 11 of a major seventh): then it has the usual one, as everything else.
    """
    chord = asked.chord
    semitones = (midi - chord.root.pitch_class) % 12
    if midi % 12 == asked.note.pitch_class:
        return asked.note.in_octave(None), asked.degree
    those = [one for one in _named(about) if one.chord == chord]
    own = [one.degree for one in those if one.degree.semitones % 12 == semitones]
    signs = [degree for one in those for degree in _other_signs(one) if degree.semitones % 12 == semitones]
    has_sign = len(set(signs)) == 1 and semitones not in family_of(chord).extensions
    usual = signs[0] if has_sign else usual_degree(chord, semitones)
    degree = own[0] if own else chord.own_degree(semitones) or usual
    return degree.over(chord.root).readable(), degree


def _named(about: Facts) -> Iterator[Asked]:
    """What a question names: the note that it begins on, if it is marked, and what its steps ask for."""
    first = about.get("first")
    if isinstance(first, Pitch):
        yield Asked(-1, chord_in(about), degree_in(about), first)
    yield from asked_in(about)


def _other_signs(asked: Asked) -> list[Degree]:
    facts: Facts = {"chord": asked.chord, "degree": asked.degree}
    return [degree for degree in other_signs(facts) if isinstance(degree, Degree)]


def all_places(about: Facts, notes: Callable[[Facts], Sequence[Value]]) -> list[Value]:
    """Wherever the notes lie that a slip in counting leads to, as far as they are called there what was counted to.

    Nobody counts to a root, so none leads away from it.
    """
    taps: list[Value] = []
    for one in asked_in(about):
        here: Facts = {"chord": one.chord, "degree": one.degree, "note": one.note, "ask": THE_NOTE}
        found = notes(here) if one.degree.name != "1" else ()
        # In their own letters, however they are written in the end: a flat 13 is not a sharp 5.
        counted = {note for note in found if isinstance(note, Pitch)}
        pitch_classes = {note.pitch_class for note in counted}
        for place, midi in sounding_places(board_in(about)).items():
            if midi % 12 not in pitch_classes or one.is_at(midi):
                continue
            if named_at(about, one, midi)[1].over(one.chord.root) in counted:
                taps.append(Tap(place, one.step))
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


def in_another_octave(about: Facts) -> list[Value]:
    """A note of the line that comes sooner or later, in another octave than its own."""
    notes = {one.note.pitch_class for one in _named(about)}
    return [tap for one in asked_in(about) for tap in _sounding(about, one, notes - {one.note.pitch_class})]


def of_role(role: str) -> Callable[[Facts], list[Value]]:
    """Every place whose note has this role over the step's chord."""

    def values(about: Facts) -> list[Value]:
        return [tap for one in asked_in(about) for tap in _sounding(about, one, _with_role(one.chord, role))]

    return values


extensions, alterations, passing_notes = of_role(EXTENSION), of_role(ALTERATION), of_role(PASSING)


def avoid_notes(about: Facts) -> list[Value]:
    """The 11 that is but a passing note over a chord with a major third: a half step above it."""
    taps: list[Value] = []
    for one in asked_in(about):
        rubs = _with_role(one.chord, PASSING) if one.chord.has("3") else set()
        taps += _sounding(about, one, rubs & {(one.chord.root.pitch_class + _FOURTH) % 12})
    return taps


_FOURTH = 5


def _with_role(chord: Chord, role: str) -> set[int]:
    """The pitch classes that have a role over a chord."""
    those = (semitones for semitones in range(12) if _naming(chord, semitones).role == role)
    return {(chord.root.pitch_class + semitones) % 12 for semitones in those}


def anything_else(about: Facts) -> list[Value]:
    """Every place that is not right."""
    return [tap for one in asked_in(about) for tap in _sounding(about, one, set(range(12)))]
