"""What slips in copying a figure by ear lead to: taps on other keys or places than the next note's."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from engine.drills.facts import Facts, board_in, degree_in, keys_in
from engine.drills.question import Press, Tap, Value
from engine.drills.slips_in_counting import ladder
from engine.drills.slips_on_the_neck import Asked, asked_in, sounding_places, usual_degree
from engine.neck.instrument import Place
from engine.theory.degree import Degree
from engine.theory.pitch import Pitch

_OCTAVE = 12


@dataclass(frozen=True, slots=True)
class Turn:
    """A step of a figure: what is ``asked``, and the note ``before`` it."""

    asked: Asked
    before: Pitch

    @property
    def leap(self) -> int:
        """The way from the note before, in half steps; negative: down."""
        return self.asked.note.midi - self.before.midi


def turns_in(about: Facts) -> tuple[Turn, ...]:
    """The steps of a question from its facts; TypeError where there is no ``first`` note."""
    first, asked = about.get("first"), asked_in(about)
    if not isinstance(first, Pitch):
        raise TypeError("first is no note")
    return tuple(Turn(one, before) for one, before in zip(asked, (first, *(one.note for one in asked)), strict=False))


def named_in(about: Facts, asked: Asked, midi: int) -> tuple[Pitch, Degree]:
    """What a sound (MIDI) is over a step's chord, the same throughout a question: a note in its octave, its degree.

    A tone of the chord has the chord's own name, a note of the figure the figure's, another one the name that it has in
    the chord's scale, and what is not in the scale its usual one.
    """
    chord = asked.chord
    semitones = (midi - chord.root.pitch_class) % _OCTAVE
    figure = [degree_in(about), *(one.degree for one in asked_in(about))]
    settled = [*chord.degrees, *figure, *ladder(chord)]
    named = next((one for one in settled if one.semitones == semitones), None) or usual_degree(chord, semitones)
    note = named.over(chord.root).readable()
    return note.in_octave((midi - note.in_octave(0).midi) // _OCTAVE), named


def spots_in(about: Facts) -> Iterator[tuple[Place | int, int]]:
    """Every key, or place of the neck, that a question is answered on, in order, with what sounds there (MIDI)."""
    if keys := keys_in(about):
        yield from ((key, key) for key in keys.places)
    else:
        yield from sounding_places(board_in(about)).items()


def tapped(spot: Place | int, step: int) -> Tap | Press:
    """A key or a place as an answer."""
    return Press(spot, step) if isinstance(spot, int) else Tap(spot, step)


def _wherever(fits: Callable[[Turn, int, Sequence[Turn]], bool]) -> Callable[[Facts], list[Value]]:
    """Every wrong key or place of a step whose sound fits to it; ``fits`` gets the step, the sound and all steps."""

    def values(about: Facts) -> list[Value]:
        turns, spots = turns_in(about), list(spots_in(about))
        return [
            tapped(spot, turn.asked.step)
            for turn in turns
            for spot, midi in spots
            if not turn.asked.is_at(midi) and fits(turn, midi, turns)
        ]

    return values


def _is_scale_step(turn: Turn, midi: int, _: Sequence[Turn]) -> bool:
    """Whether no other note of the chord's scale lies between this one of it and what is asked."""
    root = turn.asked.chord.root.pitch_class
    scale = {(root + degree.semitones) % _OCTAVE for degree in ladder(turn.asked.chord)}
    low, high = sorted((midi, turn.asked.note.midi))
    return midi % _OCTAVE in scale and not any(between % _OCTAVE in scale for between in range(low + 1, high))


same_again = _wherever(lambda turn, midi, _: midi == turn.before.midi)
octave_off = _wherever(lambda turn, midi, _: midi % _OCTAVE == turn.asked.note.pitch_class)
out_of_turn = _wherever(lambda _, midi, turns: midi in _figure(turns))
half_step_beside = _wherever(lambda turn, midi, _: abs(midi - turn.asked.note.midi) == 1)
scale_step_beside = _wherever(_is_scale_step)
turned_round = _wherever(lambda turn, midi, _: midi - turn.before.midi == -turn.leap)
another_chord_tone = _wherever(lambda turn, midi, _: midi % _OCTAVE in turn.asked.chord.pitch_classes)
another_interval = _wherever(lambda turn, midi, _: (midi - turn.before.midi) * turn.leap > 0)
another_way_round = _wherever(lambda turn, midi, _: (midi - turn.before.midi) * turn.leap < 0)


def _figure(turns: Sequence[Turn]) -> set[int]:
    return {turns[0].before.midi, *(turn.asked.note.midi for turn in turns)}
