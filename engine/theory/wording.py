"""Wording: sentences as templates with typed slots, rendered through a display profile.

A sentence is never put together from ready strings: a template says
``{chord}`` or ``{notes}`` and gets a chord or notes, and only the profile
decides how they look. So signs or ASCII, German or fixed-do names, a part for
a transposing instrument, and one day another language, touch no drill.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TypeAlias

from engine.theory.chord import Chord
from engine.theory.degree import Degree
from engine.theory.interval import Interval
from engine.theory.key import Key
from engine.theory.pitch import LETTERS, Pitch

SIGNS = {-2: "𝄫", -1: "♭", 0: "", 1: "♯", 2: "𝄪"}
ASCII = {-2: "bb", -1: "b", 0: "", 1: "#", 2: "##"}

# How each letter is named: by letter, by German letter (B natural is H, B flat is B), by fixed do.
NAMES = {
    "letters": ("C", "D", "E", "F", "G", "A", "B"),
    "german": ("C", "D", "E", "F", "G", "A", "H"),
    "fixed-do": ("Do", "Re", "Mi", "Fa", "Sol", "La", "Si"),
}
# Written interval above the sounding note, as (letter steps, semitones).
PARTS = {"C": (0, 0), "Bb": (1, 2), "Eb": (5, 9), "F": (4, 7)}


@dataclass(frozen=True, slots=True)
class Profile:
    """How a reader wants music to look.

    ``signs``: ♭ and ♯, or ASCII. ``names``: a row of ``NAMES``. ``part``: a
    row of ``PARTS``, the instrument the reader plays. ``sentences``: templates
    in another language by the English one.
    """

    signs: bool = True
    names: str = "letters"
    part: str = "C"
    sentences: Mapping[str, str] = field(default_factory=dict)


USUAL = Profile()


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of chord without a root, one of ``KINDS``."""

    name: str


Slot: TypeAlias = "Pitch | Degree | Chord | Kind | Key | Interval | Text | int | str | tuple[Slot, ...]"


@dataclass(frozen=True, slots=True)
class Text:
    """A template and what goes into its slots; see ``say``."""

    template: str
    slots: tuple[tuple[str, Slot], ...] = ()


def say(template: str, **slots: Slot) -> Text:
    """A sentence. Slots are ``{name}``; a tuple takes a joint, ``{name:JOINT}``, from ``JOINTS``."""
    return Text(template, tuple(sorted(slots.items())))


# How the members of a tuple stand beside each other.
JOINTS = {"and": (", ", " and "), "or": (", ", " or "), "run": ("–", "–"), "row": (" ", " "), "": (", ", ", ")}
_SLOT = re.compile(r"\{([a-z_]+)(?::([a-z]+))?\}")


def render(text: Text, profile: Profile = USUAL) -> str:
    """The sentence as plain text. KeyError where the template names a slot that has no value."""
    slots = dict(text.slots)

    def fill(found: re.Match[str]) -> str:
        return show(slots[found[1]], profile, found[2] or "")

    return _SLOT.sub(fill, profile.sentences.get(text.template, text.template))


def show(value: Slot, profile: Profile = USUAL, joint: str = "") -> str:
    """One slot's value as plain text."""
    if isinstance(value, tuple):
        between, last = JOINTS[joint]
        shown = [show(member, profile) for member in value]
        return last.join([between.join(shown[:-1]), shown[-1]] if len(shown) > 1 else shown)
    if isinstance(value, Text):
        return render(value, profile)
    if isinstance(value, Pitch):
        return _note(value, profile)
    if isinstance(value, Degree):
        return _signs(value.name, profile)
    if isinstance(value, Chord):
        bass = f"/{_note(value.bass, profile)}" if value.bass else ""
        return _note(value.root, profile) + _signs(value.suffix, profile) + bass
    if isinstance(value, Kind):
        return _signs(value.name, profile)
    if isinstance(value, Key):
        tonic = _note(value.tonic, profile)
        return f"{tonic} {profile.sentences.get('minor', 'minor')}" if value.mode == "minor" else tonic
    if isinstance(value, Interval):
        return profile.sentences.get(value.name, value.name)
    return str(value)


def _note(pitch: Pitch, profile: Profile) -> str:
    steps, semitones = PARTS[profile.part]
    written = pitch.up(steps, semitones) if steps else pitch
    octave = "" if written.octave is None else str(written.octave)
    if profile.names == "german" and LETTERS[written.letter] == "B" and written.accidental == -1:
        return "B" + octave
    table = SIGNS if profile.signs else ASCII
    return NAMES[profile.names][written.letter] + table[written.accidental] + octave


def _signs(ascii_name: str, profile: Profile) -> str:
    """A degree or a chord suffix with real signs; only accidentals before a number are signs."""
    if not profile.signs:
        return ascii_name
    # Run together, the two capitals of CmMaj7 are hard to read at a glance.
    return re.sub(
        r"bb(?=\d)|b(?=\d)|#(?=\d)",
        lambda found: {"bb": "𝄫", "b": "♭", "#": "♯"}[found[0]],
        ascii_name.replace("mMaj7", "m(maj7)"),
    )
