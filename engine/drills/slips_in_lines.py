"""What slips with a line lead to: a note of it, its degrees, or what it does."""

from __future__ import annotations

from collections.abc import Callable

from engine.drills.facts import Facts, chord_in, degree_in, note_in, notes_in
from engine.drills.question import Value
from engine.drills.slips_in_counting import ladder, other_signs
from engine.theory.arpeggio import chord_in_thirds
from engine.theory.chord import Chord, chord_of
from engine.theory.degree import Degree
from engine.theory.naming import name_over
from engine.theory.pitch import Pitch


def same_number(about: Facts) -> list[Value]:
    """The notes on the same number of the chord, with another sign."""
    root = chord_in(about).root
    return [degree.over(root) for degree in other_signs(about) if isinstance(degree, Degree)]


def beside_in_scale(by: int) -> Callable[[Facts], list[Value]]:
    """The note so many steps of the chord's scale beside the one that is asked."""

    def values(about: Facts) -> list[Value]:
        chord = chord_in(about)
        return [ladder(chord)[(degree_in(about).steps + by) % 7].over(chord.root)]

    return values


def third_off(by: int) -> Callable[[Facts], list[Value]]:
    """The neighbour in the chord's stack of thirds."""
    return beside_in_scale(2 * by)


def left_where_it_was(about: Facts) -> list[Value]:
    """The note of the old key."""
    fact = about.get("old")
    return [fact] if isinstance(fact, Pitch) else []


def old_sign(about: Facts) -> list[Value]:
    """The new letter with the accidental that the note had before."""
    old, new = about.get("old"), note_in(about)
    same = not isinstance(old, Pitch) or old.accidental == new.accidental
    return [] if same or not isinstance(old, Pitch) else [Pitch(new.letter, old.accidental)]


def half_step_off(about: Facts) -> list[Value]:
    """The right letter, a half step off."""
    note = note_in(about)
    return [Pitch(note.letter, sign) for sign in (note.accidental + 1, note.accidental - 1) if abs(sign) < 2]


def degrees_over(name: str) -> Callable[[Facts], list[Value]]:
    """The notes named over another chord than the one they are played over."""

    def values(about: Facts) -> list[Value]:
        other = about.get(name)
        return [tuple(name_over(other, note).degree for note in notes_in(about))] if isinstance(other, Chord) else []

    return values


def from_first_note(about: Facts) -> list[Value]:
    """The first note taken for the root."""
    notes = notes_in(about)
    own = chord_in_thirds(notes) if len(notes) == 4 else None
    root = notes[0].readable()
    own = own or chord_of(root, chord_in(about).kind or "7")
    return [tuple(name_over(own, note).degree for note in notes)]


def one_sign_off(about: Facts) -> list[Value]:
    """One of the degrees with another sign."""
    chord = chord_in(about)
    degrees = [name_over(chord, note).degree for note in notes_in(about)]
    found: list[Value] = []
    for place, degree in enumerate(degrees):
        for other in other_signs({"degree": degree}):
            note = other.over(chord.root) if isinstance(other, Degree) else None
            if (
                isinstance(other, Degree)
                and note
                and name_over(chord, note).degree == other
                and abs(note.accidental) < 2
            ):
                found.append((*degrees[:place], other, *degrees[place + 1 :]))
    return found


# What a device is taken for, by the words in its name that tell it apart.
_TAKEN_FOR = {
    "another start": ("root", "third", "fifth", "seventh", "ninth"),
    "another way": ("", ", inverted", ", one note an octave away"),
}


def another_start(about: Facts) -> list[Value]:
    """The same device from, or on, another tone."""
    name = str(about.get("device"))
    starts = _TAKEN_FOR["another start"][: 4 if name.startswith("arpeggio") else 5]
    own = next((start for start in starts if f"the {start}" in name), None)
    return [name.replace(f"the {own}", f"the {start}") for start in starts if start != own] if own else []


def another_way(about: Facts) -> list[Value]:
    """The same arpeggio in another order."""
    name = str(about.get("device"))
    if not name.startswith("arpeggio"):
        return []
    bare = name.split(",")[0]
    return [bare + way for way in _TAKEN_FOR["another way"] if bare + way != name]


def among(*names: str) -> Callable[[Facts], list[Value]]:
    """The others of a handful of devices that are taken for each other."""

    def values(about: Facts) -> list[Value]:
        name = about.get("device")
        return [other for other in names if other != name] if name in names else []

    return values
