"""Which notes of a staff have an accidental before them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from engine.theory.pitch import Pitch


@dataclass(frozen=True, slots=True)
class Sign:
    """An accidental before a note: -2 to 2, 0 for a natural; as a ``courtesy`` it says what holds already."""

    accidental: int
    courtesy: bool = False


def signs_in(bars: Iterable[Sequence[tuple[Pitch, bool]]], signature: Sequence[int]) -> Iterator[list[Sign | None]]:
    """The sign of each note, bar after bar. A note is its pitch and whether it is tied to the one before.

    ``signature`` has the key's accidental of each letter. A sign holds to the end of the bar, in its octave; what
    is tied needs none, and its own does not hold on behind the bar line. A note that its letter's other sound in
    this bar or in the one before may lead astray has a courtesy sign, once a bar.
    """
    before: dict[tuple[int, int | None], int] = {}
    for bar in bars:
        given: dict[tuple[int, int | None], int] = {}
        heard: dict[tuple[int, int | None], int] = {}
        signs: list[Sign | None] = []
        for pitch, is_tied in bar:
            place, accidental = (pitch.letter, pitch.octave), pitch.accidental
            holds = given.get(place, signature[pitch.letter]) == accidental
            others = [*heard.items(), *before.items()]
            astray = any(letter == pitch.letter and other != accidental for (letter, _), other in others)
            shown = not is_tied and (not holds or (astray and place not in given))
            if shown:
                given[place] = accidental
            signs.append(Sign(accidental, holds) if shown else None)
            heard[place] = accidental
        before = heard
        yield signs
