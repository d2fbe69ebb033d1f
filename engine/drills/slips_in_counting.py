"""What slips in counting lead to: a degree, or the note that it is."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from engine.drills.facts import Facts, chord_in, degree_in, note_in
from engine.drills.question import Value
from engine.theory.arpeggio import arpeggio
from engine.theory.bad_input import BadInput
from engine.theory.chord import Chord
from engine.theory.degree import DEGREES, Degree
from engine.theory.family import family_of
from engine.theory.naming import name_over
from engine.theory.pitch import Pitch

# The ``ask`` of a question that names the degree and wants the note; without it the degree is wanted.
THE_NOTE = "note"
# That of a question that wants places of a neck.
THE_PLACE = "place"


def own_degree(chord: Chord, note: Pitch) -> Degree:
    """What the chord's symbol calls the note, however it is spelled; the usual name where it is no chord tone."""
    return chord.own_degree(note.pitch_class - chord.root.pitch_class) or name_over(chord, note).degree


def as_asked(about: Facts, degrees: Sequence[Degree]) -> list[Value]:
    """The degrees themselves, or the notes that they are over the chord, whichever the question wants."""
    if about.get("ask") == THE_NOTE:
        return [degree.over(chord_in(about).root) for degree in degrees]
    return list(degrees)


def other_signs(about: Facts) -> list[Value]:
    """The same number with another sign, as far as players have a name for it."""
    asked = degree_in(about)
    others = [
        Degree(name)
        for name in DEGREES
        if name.lstrip("b#") == asked.name.lstrip("b#") and name != asked.name and "bb" not in name
    ]
    return as_asked(about, others)


def ladder(chord: Chord) -> list[Degree]:
    """The seven degrees of the chord's usual scale, by letter step; what the symbol names comes first."""
    family = family_of(chord)
    upper = dict(zip((1, 3, 5), family.upper, strict=True))
    by_step = {degree.steps: degree for degree in reversed(chord.degrees)}
    plain = {2: "3", 4: "5", 6: "7"}
    return [by_step.get(step) or Degree(upper.get(step) or plain.get(step, "1")) for step in range(7)]


def letters_off(by: int) -> Callable[[Facts], list[Value]]:
    """The degree so many letters beside the one that is asked."""

    def values(about: Facts) -> list[Value]:
        rungs = ladder(chord_in(about))
        return as_asked(about, [rungs[(degree_in(about).steps + by) % 7]])

    return values


def counted_down(about: Facts) -> list[Value]:
    """The interval taken from the root down, named as if it went up."""
    asked = degree_in(about)
    chord = chord_in(about)
    mirrored = chord.root.up((-asked.steps) % 7, (-asked.semitones) % 12)
    if about.get("ask") == THE_NOTE:
        return as_asked(about, [own_degree(chord, mirrored)])
    return [name_over(chord, mirrored).degree]


def counted_from(name_of_rung: int) -> Callable[[Facts], list[Value]]:
    """The degree counted from another tone of the chord than its root."""

    """The asked note named from a wrong root, or the asked degree counted up from it."""

    def values(about: Facts) -> list[Value]:
        chord = chord_in(about)
        if about.get("ask") == THE_NOTE:
            starts = [start.over(chord.root) for start in chord.on_rung(name_of_rung)]
            return as_asked(about, [own_degree(chord, degree_in(about).over(start)) for start in starts])
        try:
            inner = arpeggio(chord, name_of_rung).own
        except BadInput:
            inner = None
        return [name_over(inner, note_in(about)).degree] if inner else []

    return values
