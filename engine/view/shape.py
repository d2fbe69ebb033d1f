"""The picture of a shape: a chord and the arpeggio inside it, seen as one, on staff and keyboard."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

from engine.drills.question import Shape
from engine.theory.naming import name_over
from engine.theory.pitch import Pitch
from engine.theory.wording import USUAL, Profile
from engine.view import keyboard as keys
from engine.view.marks import LEFT_OUT, legend
from engine.view.markup import plain, words
from engine.view.picture import Picture
from engine.view.staff import HEIGHT, NOTES_FROM, WIDTH, Column, placed, staff, written

_KEYS_AT = HEIGHT + 3
_LEGEND_AT = _KEYS_AT + keys.HEIGHT + 15
_WHOLE = _LEGEND_AT + 4
_RIGHT = WIDTH - 2


def shape_pictures(shape: Shape, profile: Profile = USUAL) -> tuple[Picture, Picture]:
    """The shape before the answer, when it shows the root's place and what is counted, and after it.

    Notes stand right above their keys. Before the answer the degrees are evenly
    spaced, because the distances would tell which notes they are.
    """
    notes = _upwards([written(note, profile) for note in shape.notes])
    sounding = [note.midi for note in notes]
    board = keys.keyboard_for(sounding, NOTES_FROM, _RIGHT)
    roles = [
        LEFT_OUT if place < shape.omitted else name_over(shape.chord, note).role
        for place, note in enumerate(shape.notes)
    ]
    labels = [plain(degree, profile) for degree in shape.degrees]
    first, last = board.x(sounding[0]), board.x(sounding[-1])
    gap = (last - first) / (len(notes) - 1)
    blank = [
        Column(first + gap * place, label, notes[place] if place < shape.omitted else None, LEFT_OUT)
        for place, label in enumerate(labels)
    ]
    full = [
        Column(board.x(midi), label, note, role)
        for midi, label, note, role in zip(sounding, labels, notes, roles, strict=True)
    ]
    inner = slice(shape.omitted, None)
    before = Picture(
        _WHOLE,
        words("The root of {chord} on a staff, left out", profile, chord=shape.chord),
        words("Above it stand {degrees:and}.", profile, degrees=shape.degrees[inner]),
        staff(blank),
        trims=True,
    )
    after = Picture(
        _WHOLE,
        words("{own} inside {chord}, on staff and keyboard", profile, own=shape.own, chord=shape.chord),
        words(
            "The root {root} is left out; {notes:and} are {degrees:and}.",
            profile, root=shape.notes[0], notes=shape.notes[inner], degrees=shape.degrees[inner],
        ),
        staff(full)
        + keys.keyboard(board, list(zip(sounding, roles, strict=True)), _KEYS_AT)
        + legend(roles, _LEGEND_AT, WIDTH, profile),
        trims=True,
    )  # fmt: skip
    return before, after


def _upwards(spelled: Sequence[Pitch]) -> list[Pitch]:
    """The notes in octaves, each above the one before, near the middle of the staff."""
    reach = sum((above.letter - below.letter) % 7 for below, above in pairwise(spelled))
    notes = [placed(spelled[0], reach)]
    for note in spelled[1:]:
        below = notes[-1]
        octave = (below.octave or 0) + (1 if note.letter < below.letter else 0)
        notes.append(note.in_octave(octave))
    return notes
