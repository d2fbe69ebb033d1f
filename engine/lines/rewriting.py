"""Lines rewritten for another kind of chord, where one altered degree does it.

Source: the teacher's usual exercise: a minor line becomes a dominant one by raising its third.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from engine.lines.line import Change, Line, Note
from engine.theory.chord import Chord, chord_of
from engine.theory.degree import Degree
from engine.theory.naming import name_over
from engine.theory.pitch import Pitch
from engine.theory.wording import Slot, Text, say

_DONE = "Over {new} the {old_degree} becomes the {new_degree}: {before:and} becomes {after:and}."
_NOTHING = "{old} and {new} differ in one tone, the {new_degree}, and the line does not play it: all notes stay."
_NOT = (
    "{old} and {new} differ in more than one tone, {old_tones:and} against {new_tones:and}: no single degree does it."
)
_SAME = "{old} is that kind already."


@dataclass(frozen=True, slots=True)
class Rewritten:
    """``line`` over the other chord, None where one altered degree does not do it; ``text`` says what was done."""

    line: Line | None
    text: Text


def rewritten(line: Line, place: int, kind: str) -> Rewritten:
    """The line with its chord ``place`` (an index of its changes) of another ``kind`` (a name of ``KINDS``).

    Only the notes on the one degree that tells the two kinds apart change; IndexError where there is no such chord.
    """
    old = line.changes[place].chord
    new = chord_of(old.root, kind)
    lost = tuple(degree for degree in old.degrees if degree not in new.degrees)
    gained = tuple(degree for degree in new.degrees if degree not in old.degrees)
    if not lost and not gained:
        return Rewritten(line, say(_SAME, old=old))
    if len(lost) != 1 or len(gained) != 1 or lost[0].steps != gained[0].steps:
        return Rewritten(None, say(_NOT, old=old, new=new, old_tones=_shown(lost), new_tones=_shown(gained)))
    notes = tuple(_note(line, note, place, lost[0], gained[0]) for note in line.notes)
    changes = tuple(Change(new, one.beat) if index == place else one for index, one in enumerate(line.changes))
    changed = [(a.pitch, b.pitch) for a, b in zip(line.notes, notes, strict=True) if a != b]
    if not changed:
        return Rewritten(replace(line, changes=changes), say(_NOTHING, old=old, new=new, new_degree=gained[0]))
    before, after = (
        tuple(dict.fromkeys(pitch.in_octave(None) for pitch in side)) for side in zip(*changed, strict=True)
    )
    text = say(_DONE, new=new, old_degree=lost[0], new_degree=gained[0], before=before, after=after)
    return Rewritten(replace(line, notes=notes, changes=changes), text)


def _shown(degrees: tuple[Degree, ...]) -> tuple[Slot, ...]:
    return degrees or ("nothing",)


def _note(line: Line, note: Note, place: int, lost: Degree, gained: Degree) -> Note:
    chord: Chord = line.changes[place].chord
    if line.place_at(note.start) != place or name_over(chord, note.pitch).degree != lost:
        return note
    there: Pitch = gained.over(chord.root).nearest_to(note.pitch)
    return replace(note, pitch=there)
