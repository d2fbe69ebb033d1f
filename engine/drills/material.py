"""Which chords a drill asks about: roots and kinds by level, in the order players meet them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from engine.drills.options import Options
from engine.theory.bad_input import BadInput
from engine.theory.chord import KINDS, Chord, chord_of
from engine.theory.key import MAJOR_KEYS
from engine.theory.pitch import Pitch, parse_pitch

# Round the cycle of fourths, each row spelled as its kinds of chord are usually written.
ROOTS = {
    "major": MAJOR_KEYS,
    "dominant": ("C", "F", "Bb", "Eb", "Ab", "Db", "F#", "B", "E", "A", "D", "G"),
    "flat-nine": ("C", "F", "Bb", "Eb", "G#", "C#", "F#", "B", "E", "A", "D", "G"),
    "minor": ("C", "F", "Bb", "Eb", "G#", "C#", "F#", "B", "E", "A", "D", "G"),
    "minor-major": ("C", "F", "Bb", "Eb", "Ab", "C#", "F#", "B", "E", "A", "D", "G"),
    "half-diminished": ("C", "F", "Bb", "D#", "G#", "C#", "F#", "B", "E", "A", "D", "G"),
}
# Roots that are as usual as their twins above.
ALSO_USUAL = {
    "major": ("F#",),
    "dominant": ("Gb", "C#", "G#"),
    "minor": ("Ab",),
    "minor-major": ("G#",),
    "half-diminished": ("Eb",),
}
# Names that nobody likes to read; they come last among the wrong choices.
AWKWARD = ("Cb", "Fb", "E#", "B#")
# How many of them each level takes, from the start of the row.
ROOTS_OF_LEVEL = {1: 3, 2: 12, 3: 12}


def _row(kind: str) -> str:
    degrees = KINDS[kind].split()
    if "b3" in degrees:
        return "half-diminished" if "b5" in degrees else "minor-major" if "7" in degrees else "minor"
    if "b7" in degrees:
        return "flat-nine" if "b9" in degrees else "dominant"
    return "major"


def roots_for(kind: str) -> tuple[str, ...]:
    """The twelve roots of a kind of chord, as it is usually spelled."""
    return ROOTS[_row(kind)]


def usual_root(kind: str, root: Pitch) -> bool:
    """Whether a kind of chord is usually written on this root: A♭m7 is, D♭m7 is not."""
    row = _row(kind)
    return str(root) in (*ROOTS[row], *ALSO_USUAL.get(row, ()))


def usual_twin(chord: Chord) -> Chord | None:
    """The same chord in its other usual spelling, G♭maj7 for F♯maj7; None where only one is usual."""
    if chord.kind is None:
        return None
    for letters, semitones in ((1, 0), (-1, 0)):
        root = chord.root.up(letters, semitones)
        if root != chord.root and abs(root.accidental) == 1 and usual_root(chord.kind, root):
            return Chord(root, chord.degrees, chord.suffix)
    return None


def chords_for(slug: str, options: Options, levels: Mapping[int, Sequence[str]]) -> tuple[Chord, ...]:
    """Every chord that a drill may show under these options.

    ``levels``: the kinds of chord of each level. BadInput for a kind that the
    drill never asks about, which is what its last level lists.
    """
    refuse_others(slug, options, levels[max(levels)])
    kinds = options.chords or levels[options.level]
    return tuple(chord_of(root, kind) for kind in kinds for root in options.keys or roots_of_level(kind, options.level))


def refuse_others(slug: str, options: Options, askable: Sequence[str]) -> None:
    """BadInput for a kind of chord that the drill never asks about."""
    for kind in options.chords:
        if kind not in askable:
            raise BadInput(kind, 1, f"is not asked by {slug}", f"its kinds are {', '.join(askable)}")


def roots_of_level(kind: str, level: int) -> tuple[Pitch, ...]:
    """The roots on which a level asks a kind of chord."""
    return tuple(parse_pitch(root) for root in roots_for(kind)[: ROOTS_OF_LEVEL[level]])


def without_double_accidentals(cards: Sequence[tuple[Chord, tuple[Pitch, ...]]]) -> list[bool]:
    """For each chord with the notes it would show, whether a player would want to read it.

    Where every one of them has a double accidental (somebody asked for D#7
    alone) all are kept.
    """
    plain = [all(abs(note.accidental) < 2 for note in (chord.root, *notes)) for chord, notes in cards]
    return plain if any(plain) else [True] * len(cards)
