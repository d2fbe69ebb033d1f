"""How far apart two sounds are, as players say it."""

from __future__ import annotations

from engine.theory.interval import PERFECT, PLAIN, QUALITIES_OF_MAJOR, QUALITIES_OF_PERFECT
from engine.theory.pitch import Pitch
from engine.theory.wording import Text, say

_STEPS, _OCTAVE, _TRITONE = 7, 12, 6
# By half steps, whatever the spelling.
_INTERVALS = {
    1: "a half step", 2: "a whole step", 3: "a minor third", 4: "a major third", 5: "a fourth", 6: "a tritone",
    7: "a fifth", 8: "a minor sixth", 9: "a major sixth", 10: "a minor seventh", 11: "a major seventh",
    12: "an octave", 13: "a minor ninth", 14: "a major ninth", 15: "a minor tenth", 16: "a major tenth",
    17: "an eleventh", 19: "a twelfth",
}  # fmt: skip
# What players call by its letters too, where it is neither perfect, major nor minor: by letter and half steps.
_UNUSUAL = {
    (0, 1): "a half step", (1, 3): "an augmented second", (3, 4): "a diminished fourth", (3, 6): "a tritone",
    (4, 6): "a tritone", (4, 8): "an augmented fifth", (6, 9): "a diminished seventh",
}  # fmt: skip
_NUMBERS = {
    0: "no half step", 1: "a half step", 2: "two half steps", 3: "three half steps", 4: "four half steps",
    5: "five half steps", 6: "six half steps", 7: "seven half steps", 8: "eight half steps", 9: "nine half steps",
    10: "ten half steps", 11: "eleven half steps", 12: "twelve half steps",
}  # fmt: skip
_OCTAVES = {1: "an octave", 2: "two octaves", 3: "three octaves", 4: "four octaves", 5: "five octaves"}


def apart(half_steps: int) -> Text:
    """A distance in words, 1 half step or more: "a minor third", "a tenth", "two octaves and a fifth"."""
    if half_steps in _INTERVALS:
        return say(_INTERVALS[half_steps])
    octaves, rest = divmod(half_steps, _OCTAVE)
    return _and_octaves(octaves, apart(rest) if rest else None)


def between(one: Pitch, other: Pitch) -> Text:
    """How far two notes with octaves, not of the same sound, are apart, as their letters say.

    C to E is "a major third", C to Fb "a diminished fourth"; what nobody calls by its letters is told in half steps: C
    to E# is "five half steps".
    """
    low, high = sorted((one, other), key=lambda note: note.midi)
    semitones, steps = high.midi - low.midi, _place(high) - _place(low)
    octaves, rest = divmod(semitones, _OCTAVE)
    step = steps - _STEPS * octaves
    if step == rest == 0 or _is_plain(step, rest):
        return apart(semitones)
    return _and_octaves(octaves, say(_UNUSUAL.get((step, rest), _NUMBERS[rest])) if rest else None)


def counted(half_steps: int) -> Text:
    """A distance, 1 half step or more, without a word on letters: "four half steps", "an octave and a half step"."""
    octaves, rest = divmod(half_steps, _OCTAVE)
    return _and_octaves(octaves, say(_NUMBERS[rest]) if rest else None)


def _and_octaves(octaves: int, rest: Text | None) -> Text:
    whole = say(_OCTAVES.get(octaves, "{count} octaves"), count=octaves)
    if not octaves:
        return rest or whole
    return say("{octaves} and {rest}", octaves=whole, rest=rest) if rest else whole


def _is_plain(step: int, semitones: int) -> bool:
    """Whether an interval within an octave is perfect, major or minor."""
    if not 0 < step < _STEPS:
        return False
    off = semitones - PLAIN[step]
    return (QUALITIES_OF_PERFECT if step in PERFECT else QUALITIES_OF_MAJOR).get(off) in ("perfect", "major", "minor")


def _place(note: Pitch) -> int:
    """The letter's place, counted from C0 through the octaves."""
    return note.letter + _STEPS * (note.octave or 0)
