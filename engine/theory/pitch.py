"""Spelled pitches: a letter, its accidental and, where known, an octave."""

from __future__ import annotations

import re
from dataclasses import dataclass

from engine.theory.bad_input import BadInput

LETTERS = "CDEFGAB"
SEMITONES_OF_LETTERS = (0, 2, 4, 5, 7, 9, 11)
ACCIDENTALS = {-2: "bb", -1: "b", 0: "", 1: "#", 2: "##"}

# What a person may type for each accidental; the first is ours. The longest is tried first.
TYPED_ACCIDENTALS = {
    "bb": -2, "♭♭": -2, "𝄫": -2, "##": 2, "♯♯": 2, "𝄪": 2, "x": 2,
    "b": -1, "♭": -1, "#": 1, "♯": 1, "♮": 0, "": 0,
}  # fmt: skip
_ACCIDENTAL = "|".join(re.escape(sign) for sign in sorted(TYPED_ACCIDENTALS, key=len, reverse=True))
_NOTE = re.compile(rf"([A-G])({_ACCIDENTAL})(-?\d)?")

NOTE_EXAMPLE = "write a letter A to G with b or #, for example Bb or F#4"


@dataclass(frozen=True, slots=True)
class Pitch:
    """A spelled pitch.

    ``letter``: 0 (C) to 6 (B). ``accidental``: -2 to 2. ``octave``: that of
    scientific pitch notation (ISO 16: C4 is middle C; B#3 sounds as C4), or
    None for a note in no octave in particular.
    """

    letter: int
    accidental: int = 0
    octave: int | None = None

    @property
    def pitch_class(self) -> int:
        """0 (C) to 11 (B)."""
        return (SEMITONES_OF_LETTERS[self.letter] + self.accidental) % 12

    @property
    def midi(self) -> int:
        """MIDI key number (C4 = 60). ValueError where the octave is not known."""
        if self.octave is None:
            raise ValueError(f"{self} is in no octave")
        return 12 * (self.octave + 1) + SEMITONES_OF_LETTERS[self.letter] + self.accidental

    def up(self, steps: int, semitones: int) -> Pitch:
        """The pitch ``steps`` letters and ``semitones`` higher (negative: lower).

        A result that would take three accidentals is respelled with the fewest.
        """
        whole = self.letter + steps
        letter = whole % 7
        octave = None if self.octave is None else self.octave + whole // 7
        natural = SEMITONES_OF_LETTERS[letter] + 12 * (whole // 7)
        accidental = SEMITONES_OF_LETTERS[self.letter] + self.accidental + semitones - natural
        if octave is None:
            accidental = (accidental + 6) % 12 - 6
        pitch = Pitch(letter, accidental, octave)
        return pitch if abs(accidental) <= 2 else pitch.simplest()

    def simplest(self) -> Pitch:
        """The same sound with the fewest accidentals; keeps its side (flat or sharp) on a tie."""
        side = 1 if self.accidental >= 0 else -1
        best = self
        for accidental in (0, side, -side):
            for letter in range(7):
                twin = Pitch(letter, accidental)
                if twin.pitch_class == self.pitch_class and abs(accidental) < abs(best.accidental):
                    best = twin
        if self.octave is None or best is self:
            return best
        shift = (self.midi - Pitch(best.letter, best.accidental, 0).midi) // 12
        return Pitch(best.letter, best.accidental, shift)

    def readable(self) -> Pitch:
        """The same sound without a double accidental; any other pitch stays as it is."""
        return self.simplest() if abs(self.accidental) > 1 else self

    def in_octave(self, octave: int | None) -> Pitch:
        """The same spelling in another octave."""
        return Pitch(self.letter, self.accidental, octave)

    def nearest_to(self, other: Pitch) -> Pitch:
        """The same spelling in the octave that is nearest to ``other`` (a tie falls)."""
        distance = signed_semitones(other, self)
        target = other.midi + distance
        low = self.in_octave(0)
        return self.in_octave((target - low.midi) // 12)

    def __str__(self) -> str:
        octave = "" if self.octave is None else str(self.octave)
        return LETTERS[self.letter] + ACCIDENTALS[self.accidental] + octave


def signed_semitones(start: Pitch, end: Pitch) -> int:
    """The shortest way from one pitch class to another: -6 to 5; a tritone falls."""
    return (end.pitch_class - start.pitch_class + 6) % 12 - 6


def parse_pitch(text: str) -> Pitch:
    """Read a note such as ``Bb``, ``F#4`` or ``E♭♭``.

    BadInput where it is none; the octave is a single digit, -1 to 9.
    """
    found = _NOTE.match(text)
    if not found:
        bad = text.split()[0] if text.split() else ""
        hint = f"write {bad[0].upper() + bad[1:]}" if re.match(r"[a-g]", bad) else NOTE_EXAMPLE
        return _refuse(bad, 1, "is no note", hint)
    if found.end() < len(text):
        return _refuse(text[found.end() :], found.end() + 1, "does not belong to a note", NOTE_EXAMPLE)
    letter, accidental, octave = found.groups()
    if octave is not None and int(octave) < -1:
        return _refuse(octave, found.start(3) + 1, "is no octave", "octaves go from -1 to 9; C4 is middle C")
    return Pitch(
        LETTERS.index(letter),
        TYPED_ACCIDENTALS[accidental],
        None if octave is None else int(octave),
    )


def _refuse(token: str, column: int, problem: str, instead: str) -> Pitch:
    raise BadInput(token, column, problem, instead)
