"""What the page of a line shows of the neck: what was chosen, what can be undone, and the note that was tapped."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from engine.practice.own_way import (
    ANY_WAY,
    OwnWay,
    as_json,
    from_json,
    held_on,
    link_parts,
    moved_by,
    read_octaves,
    with_holds,
    with_way,
)
from engine.theory.bad_input import BadInput

MOST_UNDONE = 20
LABELS = ("degrees", "notes")
FIRST_FRET = 5


@dataclass(frozen=True, slots=True)
class OnNeck:
    """``own`` is what is chosen, ``undo`` what was before it, the last one last; ``tapped`` the index of a note.

    ``labels``: what stands on the neck's pictures, one of ``LABELS``. ``low``: the lowest of the five frets within
    which the line is to be practised.
    """

    own: OwnWay = ANY_WAY
    undo: tuple[OwnWay, ...] = ()
    tapped: int | None = None
    labels: str = LABELS[0]
    low: int = FIRST_FRET


FRESH = OnNeck()


def read_on_neck(found: Any, notes: int) -> OnNeck:
    """What a form's state says, for a line of so many notes; what cannot be read is as usual."""
    if not isinstance(found, Mapping):
        return FRESH
    tapped, low, undo = found.get("tapped"), found.get("low"), found.get("undo")
    return OnNeck(
        from_json(found.get("own"), notes),
        tuple(from_json(one, notes) for one in undo[-MOST_UNDONE:]) if isinstance(undo, list) else (),
        tapped if isinstance(tapped, int) and tapped in range(notes) else None,
        LABELS[found.get("labels") == LABELS[1]],
        low if isinstance(low, int) and low > 0 else FIRST_FRET,
    )


def on_neck_as_json(neck: OnNeck) -> dict[str, Any]:
    """The inverse of ``read_on_neck``; what is as usual is left out."""
    every = {
        "own": as_json(neck.own),
        "undo": [as_json(one) for one in neck.undo],
        "tapped": neck.tapped,
        "labels": neck.labels,
        "low": neck.low,
    }
    usual: dict[str, Any] = {"own": {}, "undo": [], "tapped": None, "labels": LABELS[0], "low": FIRST_FRET}
    return {name: value for name, value in every.items() if value != usual[name]}


def pressed_on_neck(neck: OnNeck, name: str, value: str, notes: int, away: int) -> OnNeck | None:
    """What pressing a button makes of it: one of ``ON_NECK``, else None. BadInput where the button's value is none."""
    act = ON_NECK.get(name)
    return act(neck, value, notes, away) if act else None


def _changed(neck: OnNeck, own: OwnWay) -> OnNeck:
    return neck if own == neck.own else replace(neck, own=own, undo=(*neck.undo, neck.own)[-MOST_UNDONE:])


def _way(neck: OnNeck, value: str, _: int, away: int) -> OnNeck:
    return _changed(neck, with_way(neck.own, value, away))


def _place(neck: OnNeck, value: str, notes: int, _: int) -> OnNeck:
    """A tap on a note; another one on the same lets go of it."""
    index = int(value) if value.isdecimal() else notes
    return replace(neck, tapped=index if index < notes and index != neck.tapped else None)


def _hold(neck: OnNeck, value: str, notes: int, __: int) -> OnNeck:
    """``3:2`` holds note 3 on string 2, ``3:0`` lets go of it."""
    index, _, string = value.partition(":")
    if string == "0" and index.isdecimal():
        return _changed(neck, held_on(neck.own, int(index), None))
    return _changed(neck, with_holds(neck.own, value, notes))


def _free(neck: OnNeck, _: str, __: int, ___: int) -> OnNeck:
    return _changed(neck, replace(neck.own, held=()))


def _octave(neck: OnNeck, value: str, notes: int, _: int) -> OnNeck:
    return _changed(neck, moved_by(neck.own, read_octaves(value, notes)))


def _undo(neck: OnNeck, _: str, __: int, ___: int) -> OnNeck:
    return replace(neck, own=neck.undo[-1], undo=neck.undo[:-1]) if neck.undo else neck


def _labels(neck: OnNeck, value: str, _: int, __: int) -> OnNeck:
    return replace(neck, labels=value) if value in LABELS else neck


# What can be pressed, and what that makes of the neck.
ON_NECK = {
    "way": _way, "place": _place, "hold": _hold, "free": _free, "octave": _octave, "undo": _undo, "labels": _labels,
}  # fmt: skip


def on_neck_link(neck: OnNeck, away: int) -> list[str]:
    """What a link says of it, as parts; ``away``: how many frets the shown key is above the one the line is kept in."""
    return link_parts(neck.own, away)


def linked_way(neck: OnNeck, name: str, text: str, notes: int, away: int) -> OnNeck:
    """What a part of a link, one of ``LINKED``, makes of it; BadInput where it cannot be read."""
    own = neck.own
    if name == "way":
        return replace(neck, own=with_way(own, text, away))
    if name == "hold":
        return replace(neck, own=with_holds(replace(own, held=()), text, notes))
    moves = read_octaves(text, notes)
    there = moved_by(replace(own, octave=0, moved=()), moves)
    # What else the link says of the way and its holds stays.
    return replace(neck, own=replace(there, way=own.way, held=own.held))


LINKED = ("octave", "way", "hold")


def with_low(neck: OnNeck, text: str, frets: int) -> OnNeck:
    """The lowest of the five frets to practise within as chosen; BadInput where the neck has none such."""
    if not (text.isdecimal() and 1 <= int(text) <= frets):
        raise BadInput(text, 1, "is no fret of this neck", f"choose one from 1 to {frets}")
    return replace(neck, low=int(text))
