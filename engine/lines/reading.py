"""A line read note by note: what each note is over the chord that it starts on."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise

from engine.lines.line import Line, Note
from engine.theory.chord import Chord
from engine.theory.degree import Degree
from engine.theory.family import family_of
from engine.theory.naming import ALTERATION, CHORD_TONE, OUTSIDE, Naming, name_over
from engine.theory.pitch import Pitch

_MINOR_THIRD = 3
_DOMINANTS = ("dominant", "augmented dominant", "suspended dominant")


@dataclass(frozen=True, slots=True)
class Heard:
    """A note of a line over the chord it starts on.

    ``place`` is the chord's index among the line's changes, ``above`` how many
    semitones (0 to 11) the note lies above the chord's root; ``after_rest`` says
    whether a rest of a beat or more lies before it.
    """

    note: Note
    chord: Chord
    place: int
    naming: Naming
    above: int
    after_rest: bool = False

    @property
    def pitch(self) -> Pitch:
        """The note's pitch."""
        return self.note.pitch

    @property
    def midi(self) -> int:
        """The note's MIDI key number."""
        return self.note.pitch.midi

    @property
    def degree(self) -> Degree:
        """The note's degree over its chord."""
        return self.naming.degree

    @property
    def is_chord_tone(self) -> bool:
        """Whether the chord's symbol names it."""
        return self.naming.role == CHORD_TONE

    @property
    def is_in_scale(self) -> bool:
        """Whether it belongs to the scale that the chord is usually heard in."""
        return self.naming.role not in (OUTSIDE, ALTERATION)

    @property
    def is_over_dominant(self) -> bool:
        """Whether its chord is a dominant."""
        return family_of(self.chord).name in _DOMINANTS

    @property
    def is_on_beat(self) -> bool:
        """Whether it starts on a beat."""
        return self.note.start.denominator == 1


def read_line(line: Line) -> tuple[Heard, ...]:
    """Every note of a line, named over its chord.

    A minor third over a dominant is ``#9``, but ``b3`` where it rises a half step to the third.
    """
    ends = (line.begin, *(note.end for note in line.notes))
    heard = [_heard(line, note, note.start - end >= 1) for note, end in zip(line.notes, ends, strict=False)]
    for index, (this, following) in enumerate(pairwise(heard)):
        rises = following.midi - this.midi == 1 and following.place == this.place
        if rises and this.above == _MINOR_THIRD and this.degree.name == "#9":
            also = tuple(degree for degree in (this.degree, *this.naming.also) if degree.name != "b3")
            naming = Naming(Degree("b3"), also, this.naming.role)
            heard[index] = replace(this, naming=naming)
    return tuple(heard)


def over(chord: Chord, note: Note, place: int) -> Heard:
    """A note named over a chord."""
    above = (note.pitch.pitch_class - chord.root.pitch_class) % 12
    return Heard(note, chord, place, name_over(chord, note.pitch), above)


def _heard(line: Line, note: Note, after_rest: bool) -> Heard:
    place = line.place_at(note.start)
    return replace(over(line.changes[place].chord, note, place), after_rest=after_rest)


def are_together(notes: Sequence[Heard]) -> bool:
    """Whether no rest of a beat or more lies between the notes."""
    return not any(heard.after_rest for heard in notes[1:])


def steps_of(notes: Sequence[Heard]) -> list[int]:
    """The signed semitones from each note to the next."""
    return [second.midi - first.midi for first, second in pairwise(notes)]
