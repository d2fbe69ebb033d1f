"""What an ear that slips takes a sound for: a degree beside it, a chord with another tone, another figure."""

from __future__ import annotations

from collections.abc import Mapping

from engine.drills.facts import Facts, chord_in, degree_in, notes_in
from engine.drills.question import Value
from engine.theory.chord import KINDS, Chord, chord_of
from engine.theory.degree import Degree
from engine.theory.naming import name_over

# --- a degree ----------------------------------------------------------------

# Letters above the root of each of the twelve half steps, for a note that the chord itself does not name.
_LETTERS = (0, 1, 1, 2, 2, 3, 3, 4, 5, 5, 6, 6)


def chord_under(about: Facts) -> Chord:
    """The chord over which the degree is heard: the one that follows, where there is one."""
    return chord_in(about, "next" if "next" in about else "chord")


def named(chord: Chord, semitones: int) -> Degree:
    """What players call the tone so many half steps above the chord's root: by the chord's own name, if it has one."""
    own = chord.own_degree(semitones)
    return own or name_over(chord, chord.root.up(_LETTERS[semitones % 12], semitones % 12)).degree


def _beside(about: Facts, distance: int) -> list[Value]:
    asked = degree_in(about).semitones
    return [named(chord_under(about), asked + step) for step in (distance, -distance)]


def half_steps(about: Facts) -> list[Value]:
    """The degrees a half step above and below."""
    return _beside(about, 1)


def whole_steps(about: Facts) -> list[Value]:
    """The degrees a whole step above and below."""
    return _beside(about, 2)


def chord_tones(about: Facts) -> list[Value]:
    """The other tones of the chord."""
    return [degree for degree in chord_under(about).degrees if degree.semitones != degree_in(about).semitones]


def other_third(about: Facts) -> list[Value]:
    """The third that the chord would have if it were minor instead of major, or major instead of minor."""
    own = [degree.name for degree in chord_under(about).on_rung(3)]
    return [Degree(name) for name in ("b3", "3") if own and name not in own]


# --- a kind of chord -----------------------------------------------------------

# The kinds that are told apart by ear. What sounds like another of them when it is held is left out.
KINDS_HEARD = (
    "maj7", "m7", "7", "m7b5", "mMaj7", "dim7", "6", "m6",
    "7sus4", "7b9", "7#9", "7#11", "7#5", "maj7#5", "maj", "m", "dim", "aug",
)  # fmt: skip
_SEVENTHS = ("6", "bb7", "b7", "7")


def _parts(kind: str) -> Mapping[str, tuple[str, ...]]:
    """A chord's tones by what they do in it; a fourth that is suspended stands for the third."""
    degrees = KINDS[kind].split()
    third = tuple(name for name in degrees if name in ("3", "b3") or (name == "11" and "3" not in degrees))
    fifth = tuple(name for name in degrees if name.endswith("5"))
    seventh = tuple(name for name in degrees if name in _SEVENTHS)
    rest = tuple(name for name in degrees if name not in ("1", *third, *fifth, *seventh))
    return {"third": third, "fifth": fifth, "seventh": seventh, "colour": rest}


def _differing(about: Facts) -> list[tuple[Chord, tuple[str, ...]]]:
    chord = chord_in(about)
    own = _parts(chord.kind or "")
    found = []
    for kind in KINDS_HEARD:
        other = _parts(kind)
        parts = tuple(part for part in own if own[part] != other[part])
        if parts:
            found.append((chord_of(chord.root, kind), parts))
    return found


def _only(about: Facts, part: str) -> list[Value]:
    return [chord for chord, parts in _differing(about) if parts == (part,)]


def third(about: Facts) -> list[Value]:
    """The chord with another third, or the fourth in its place."""
    return _only(about, "third")


def fifth(about: Facts) -> list[Value]:
    """The chord with another fifth."""
    return _only(about, "fifth")


def seventh(about: Facts) -> list[Value]:
    """The chord with another seventh, a sixth or none."""
    return _only(about, "seventh")


def colour(about: Facts) -> list[Value]:
    """The chord with another tone above the seventh, or none."""
    return _only(about, "colour")


def two_tones(about: Facts) -> list[Value]:
    """Chords that differ in two tones."""
    return [chord for chord, parts in _differing(about) if len(parts) == 2]


# --- a device -------------------------------------------------------------------

# One of each shape, by the words that such names begin with. A long figure is taken for another long one, a short one
# for another short one.
_LONG = {"arpeggio": "arpeggio from the third", "scale run": "scale run", "enclosure": "enclosure"}
_SHORT = {"enclosure": "enclosure", "double approach": "double approach", "approach from": "approach from below"}
_RUNS = ("half-whole run", "altered run", "harmonic minor run")
_FEW = 3  # notes of a short one


def other_figures(about: Facts) -> list[Value]:
    """Figures of about as many notes that go another way."""
    name = str(about.get("device"))
    shapes = _SHORT if len(notes_in(about)) <= _FEW else _LONG
    own = "scale run" if name in _RUNS else next((begin for begin in shapes if name.startswith(begin)), None)
    return [figure for begin, figure in shapes.items() if begin != own]
