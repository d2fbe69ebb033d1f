"""The signs of ABC's music, and what notes, lengths and tuplets they write."""

from __future__ import annotations

import re
from fractions import Fraction

from engine.theory.pitch import LETTERS

ACCIDENTALS = {"^^": 2, "^": 1, "=": 0, "_": -1, "__": -2}
# How many notes' time the notes of a tuplet take; for 5, 7 and 9 the meter decides (section 4.13).
TUPLETS = {2: 3, 3: 2, 4: 3, 6: 2, 8: 3}
LONGEST_NUMBER = 3

_LENGTH = "[0-9]*(?:/[0-9]+|/*)"
# Every sign, first match wins. White space, beams, slurs, decorations of one sign and spacers change no note.
SIGN = re.compile(
    rf"""(?P<skipped>(?:[\s`$)~.HLMOPSTuv]+|\((?![0-9])|\\\s*$|y[0-9]*)+)
    |(?P<note>(?P<accidental>\^\^?|__?|=)?(?P<letter>[A-Ga-g])(?P<octave>[,']*)(?P<length>{_LENGTH}))
    |(?P<rest>[zx](?P<silence>{_LENGTH}))
    |(?P<bars_of_rest>[ZX](?P<count>{_LENGTH}))
    |(?P<ending>\|[0-9][0-9,-]*|\[[0-9][0-9,-]*)
    |(?P<bar>\[\|\]?|[|:][|:\]]*)
    |(?P<quoted>"[^"]*"?)
    |(?P<tie>-)
    |(?P<broken>>+|<+)
    |(?P<tuplet>\((?P<p>[0-9]{{1,2}})(?::(?P<q>[0-9]{{0,2}}))?(?::(?P<r>[0-9]{{0,2}}))?)
    |(?P<decoration>![^!|]*!?)
    |(?P<inline>\[[A-Za-z]:[^\]]*\]?)
    |(?P<together>\[[^\]]*\]?[0-9/]*)
    |(?P<grace>\{{[^}}]*\}}?)
    |(?P<overlay>&)""",
    re.VERBOSE,
)
UNSUPPORTED = {
    "ending": ("is an ending of a repeat, which a line does not have", "write the bars out"),
    "together": ("sounds several notes at once", "write one note at a time: a line has one voice"),
    "grace": ("is a grace note, which is not read", "write it as a note of its own, with its length"),
    "overlay": ("adds a second voice", "write one note at a time: a line has one voice"),
}


def length_of(text: str) -> Fraction | None:
    """A written length such as ``3/2``, ``/`` or nothing, in unit note lengths; None where it is none."""
    above, slash, below = text.partition("/")
    halves = below.count("/") + 1
    digits = below.strip("/")
    if len(above) > LONGEST_NUMBER or len(digits) > LONGEST_NUMBER or halves > 6:
        return None
    multiplier = int(above) if above else 1
    divisor = int(digits) if digits else 2**halves if slash else 1
    return Fraction(multiplier, divisor) if multiplier and divisor else None


def pitch_of(found: re.Match[str]) -> tuple[int | None, int, int]:
    """The written accidental (None without one), the letter (0 is C) and the octave of a note's sign."""
    letter = found["letter"]
    octave = (4 if letter.isupper() else 5) + found["octave"].count("'") - found["octave"].count(",")
    accidental = ACCIDENTALS[found["accidental"]] if found["accidental"] else None
    return accidental, LETTERS.index(letter.upper()), octave
