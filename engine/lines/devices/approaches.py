"""Enclosures and approaches: chord tones reached from close by.

Source: the usual textbook rules. An enclosure has both sides; its target comes
on the beat, or is long enough to be felt as one, and is not shorter than what leads to it.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from engine.lines.devices.device import Device, Found, Group, Passage
from engine.lines.reading import Heard, are_together
from engine.theory.naming import ALTERATION, CHORD_TONE, EXTENSION
from engine.theory.wording import Slot, say

_STEP = 2
# Roles of a note that its own chord explains.
_HEARD = (CHORD_TONE, EXTENSION, ALTERATION)
_SIDES = {1: "above", -1: "below"}

_ENCLOSURE = "{notes:and} enclose {target}, the {degree} of {chord}, from {side} and {other}."
_DOUBLE = "{notes:and} lead from {side} to {target}, the {degree} of {chord}."
_APPROACH = "{note} is a half step {side} {target}, the {degree} of {chord}, and leads to it."


def _find(passage: Passage) -> Iterator[Found]:
    for index, target in enumerate(passage.notes):
        if not target.is_chord_tone:
            continue
        yield from _enclosures(passage, index)
        yield from _doubles(passage, index)
        yield from _singles(passage, index)


def _enclosures(passage: Passage, index: int) -> Iterator[Found]:
    target = passage.notes[index]
    for count in (3, 2):
        if index < count:
            continue
        around = passage.notes[index - count : index]
        away = [heard.midi - target.midi for heard in around]
        if not _is_felt(target, around) or not are_together((*around, target)) or not _encloses(away):
            continue
        side = 1 if away[0] > 0 else -1
        text = say(_ENCLOSURE, notes=_names(around), side=_SIDES[side], other=_SIDES[-side], **_aim(target))
        yield Found("enclosure", index - count, index, text, index)
        return


def _encloses(away: list[int]) -> bool:
    """Whether notes that far from the target enclose it: one on each side, or two of them on one, a half step apart."""
    if 0 in away or max(map(abs, away)) > _STEP or len({distance > 0 for distance in away}) < 2:
        return False
    if len(away) == 2:
        return True
    first, second, third = away
    return (first, second) in ((2, 1), (-2, -1)) or (second, third) in ((2, 1), (-2, -1))


def _is_felt(target: Heard, before: tuple[Heard, ...]) -> bool:
    longest = max(heard.note.length for heard in before)
    return (target.is_on_beat or target.note.length > Fraction(1)) and target.note.length >= longest


def _doubles(passage: Passage, index: int) -> Iterator[Found]:
    if index < 2:
        return
    target, two = passage.notes[index], passage.notes[index - 2 : index]
    far, near = (heard.midi - target.midi for heard in two)
    close = abs(near) == 1 and abs(far) in (2, 3) and far * near > 0
    chromatic = abs(far) == 2 or any(not _belongs(heard, target) for heard in two)
    if close and chromatic and target.is_on_beat and are_together((*two, target)):
        text = say(_DOUBLE, notes=_names(two), side=_SIDES[1 if near > 0 else -1], **_aim(target))
        yield Found("double approach", index - 2, index, text, index)


def _singles(passage: Passage, index: int) -> Iterator[Found]:
    if index < 1:
        return
    target, near = passage.notes[index], passage.notes[index - 1]
    distance = near.midi - target.midi
    if abs(distance) != 1 or near.is_chord_tone or not are_together((near, target)):
        return
    if near.place != target.place and near.naming.role in _HEARD:
        return  # It is heard in its own chord: a half step across the change (see changes.py).
    if near.is_in_scale and (near.is_on_beat or not target.is_on_beat):
        return
    side = _SIDES[distance]
    text = say(_APPROACH, note=near.pitch.in_octave(None), side=side, **_aim(target))
    yield Found(f"approach from {side}", index - 1, index, text, index)


def _belongs(heard: Heard, target: Heard) -> bool:
    return heard.is_in_scale or (heard.chord == target.chord and heard.is_chord_tone)


def _names(notes: tuple[Heard, ...]) -> tuple[Slot, ...]:
    return tuple(heard.pitch.in_octave(None) for heard in notes)


def _aim(target: Heard) -> dict[str, Slot]:
    return {"target": target.pitch.in_octave(None), "degree": target.degree, "chord": target.chord}


GROUP = Group(
    (
        Device("enclosure", "A chord tone, reached from a step above and a step below, on the beat or long."),
        Device(
            "double approach", "Two notes from one side, one of them chromatic, the last a half step from the target."
        ),
        Device("approach from below", "A half step below a chord tone, outside the scale or off the beat."),
        Device("approach from above", "A half step above a chord tone, outside the scale or off the beat."),
    ),
    _find,
)
