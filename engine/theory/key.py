"""Keys, their scales, and the order in which players go through them."""

from __future__ import annotations

import re
from dataclasses import dataclass

from engine.theory.bad_input import BadInput
from engine.theory.pitch import LETTERS, TYPED_ACCIDENTALS, Pitch

# Round the cycle of fourths, each spelled as it is usually written.
MAJOR_KEYS = ("C", "F", "Bb", "Eb", "Ab", "Db", "Gb", "B", "E", "A", "D", "G")
MINOR_KEYS = ("Am", "Dm", "Gm", "Cm", "Fm", "Bbm", "Ebm", "G#m", "C#m", "F#m", "Bm", "Em")

SCALES = {"major": (0, 2, 4, 5, 7, 9, 11), "minor": (0, 2, 3, 5, 7, 8, 10)}
_KEY = re.compile(r"([A-G])([b#♭♯]?)(m|min|-)?")
KEY_EXAMPLE = "write a key such as Eb, or Cm for minor"


@dataclass(frozen=True, slots=True)
class Key:
    """A key: its ``tonic`` and its ``mode``, "major" or "minor" (the natural minor scale)."""

    tonic: Pitch
    mode: str = "major"

    @property
    def scale(self) -> tuple[Pitch, ...]:
        """The seven notes from the tonic up."""
        return tuple(self.tonic.up(step, semitones) for step, semitones in enumerate(SCALES[self.mode]))

    def on_letter(self, letter: int) -> Pitch:
        """The note of the key that is written on a letter (0 = C)."""
        return self.scale[(letter - self.tonic.letter) % 7]

    def __str__(self) -> str:
        return f"{self.tonic}{'m' if self.mode == 'minor' else ''}"


def parse_key(text: str) -> Key:
    """Read a key such as ``Eb`` or ``C#m``; BadInput where it is none."""
    found = _KEY.fullmatch(text)
    if not found:
        raise BadInput(text, 1, "is no key", KEY_EXAMPLE)
    tonic = Pitch(LETTERS.index(found[1]), TYPED_ACCIDENTALS[found[2]])
    return Key(tonic, "minor" if found[3] else "major")
