"""Families of chords: the scale each is usually heard in, and what notes are called over it.

Source: the chord-scale relations of the usual jazz-theory textbooks (major
sevenths heard as lydian above the fifth, minor sevenths as dorian, dominants
as mixolydian, half-diminished as locrian, minor-major sevenths as melodic
minor, diminished sevenths as whole-half).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from engine.theory.chord import Chord
from engine.theory.degree import Degree


@dataclass(frozen=True, slots=True)
class Family:
    """One row of ``FAMILIES``.

    ``names``: for each of the twelve semitones above the root, the degree
    names that may be used for it; the first is the usual one, a note's
    spelling may choose another up to the bar, those behind the bar are only
    said beside it. ``upper``: the usual 9, 11 and 13. ``extensions``,
    ``alterations`` and ``passing``: the semitones with that role, where the
    symbol does not name them.
    """

    name: str
    names: tuple[str, ...]
    upper: tuple[str, str, str]
    extensions: frozenset[int]
    alterations: frozenset[int] = frozenset()
    passing: frozenset[int] = frozenset()


def _row(
    name: str, names: str, upper: str, extensions: str, alterations: str = "", passing: str = ""
) -> tuple[str, Family]:
    cells = tuple(cell.strip() for cell in names.split(";"))
    ninth, eleventh, thirteenth = upper.split()

    def semitones(text: str) -> frozenset[int]:
        return frozenset(int(number) for number in text.split())

    family = Family(
        name,
        cells,
        (ninth, eleventh, thirteenth),
        semitones(extensions),
        semitones(alterations),
        semitones(passing),
    )
    return name, family


# semitone:     0   1    2   3      4   5     6        7   8              9     10   11
FAMILIES = dict([
    _row("dominant",
         "1; b9; 9; #9|b3; 3; 11|4; #11,b5; 5; b13,#5; 13; b7; 7", "9 11 13",
         "2 9", "1 3 6 8", "5"),
    _row("augmented dominant",
         "1; b9; 9; #9|b3; 3; 11|4; #11,b5; 5; #5,b13; 13; b7; 7", "9 #11 13",
         "2", "1 3 6 8", "5"),
    _row("suspended dominant",
         "1; b9; 9; #9|b3; 3; 11|4; #11,b5; 5; b13,#5; 13; b7; 7", "9 11 13",
         "2 9", "1 8", "4 5"),
    _row("major seventh",
         "1; b9; 9; b3,#9; 3; 11|4; #11,b5; 5; #5,b13; 13|6; b7; 7", "9 #11 13",
         "2 6 9", "", "5"),
    _row("augmented major seventh",
         "1; b9; 9; b3,#9; 3; 11|4; #11; 5; #5; 13|6; b7; 7", "9 #11 13",
         "2 6 9", "", "5"),
    _row("minor seventh",
         "1; b9; 9; b3; 3; 11|4; b5,#11; 5; b13,#5|b6; 13|6; b7; 7", "9 11 13",
         "2 5 9"),
    _row("half-diminished",
         "1; b9; 9; b3; 3; 11|4; b5; 5; b13|b6; 13|6; b7; 7", "b9 11 b13",
         "1 2 5 8"),
    _row("minor-major seventh",
         "1; b9; 9; b3; 3; 11|4; b5,#11; 5; b13,#5|b6; 13|6; b7; 7", "9 11 13",
         "2 5 9"),
    _row("diminished seventh",
         "1; b9; 9; b3; 3; 11|4; b5; 5; b13|b6; bb7|6; b7; 7", "9 11 b13",
         "2 5 8", "", "11"),
    _row("diminished major seventh",
         "1; b9; 9; b3; 3; 11|4; b5; 5; b13|b6; bb7|6; b7; 7", "9 11 b13",
         "2 5 8", "", "9"),
    _row("sixth",
         "1; b9; 9; b3,#9; 3; 11|4; #11,b5; 5; #5,b6|b13; 6|13; b7; 7", "9 #11 13",
         "2 6", "", "5 11"),
    _row("minor sixth",
         "1; b9; 9; b3; 3; 11|4; b5,#11; 5; b6,#5|b13; 6|13; b7; 7", "9 11 13",
         "2 5", "", "11"),
    _row("major triad",
         "1; b9; 9; b3,#9; 3; 11|4; #11,b5; 5; #5,b6|b13; 6|13; b7; 7", "9 11 13",
         "2 9", "", "5 11"),
    _row("minor triad",
         "1; b9; 9; b3; 3; 11|4; b5,#11; 5; b6,#5|b13; 6|13; b7; 7", "9 11 13",
         "2 5 9", "", "10"),
    _row("diminished triad",
         "1; b9; 9; b3; 3; 11|4; b5; 5; b13|b6; bb7|6; b7; 7", "9 11 b13",
         "2 5 8", "", "9 11"),
    _row("augmented triad",
         "1; b9; 9; b3,#9; 3; 11|4; #11,b5; 5; #5|b13; 6|13; b7; 7", "9 #11 13",
         "2 6", "", "9 11"),
    _row("suspended",
         "1; b9; 9; b3,#9; 3; 11|4; #11,b5; 5; #5,b6|b13; 6|13; b7; 7", "9 11 13",
         "2 5 9", "", "4 11"),
    _row("fifth alone",
         "1; b9; 9; b3,#9; 3; 11|4; #11,b5; 5; #5,b6|b13; 6|13; b7; 7", "9 11 13",
         "2 9", "", "3 4 5 10 11"),
])  # fmt: skip

# Third, fifth and seventh (or sixth) that make a family; "" where none is named, * for any.
SIGNS = (
    ("3", "#5", "b7", "augmented dominant"),
    ("3", "*", "b7", "dominant"),
    ("3", "#5", "7", "augmented major seventh"),
    ("3", "*", "7", "major seventh"),
    ("b3", "b5", "b7", "half-diminished"),
    ("b3", "*", "b7", "minor seventh"),
    ("b3", "b5", "bb7", "diminished seventh"),
    ("b3", "b5", "7", "diminished major seventh"),
    ("b3", "*", "7", "minor-major seventh"),
    ("3", "*", "6", "sixth"),
    ("b3", "*", "6", "minor sixth"),
    ("3", "#5", "", "augmented triad"),
    ("3", "*", "", "major triad"),
    ("b3", "b5", "", "diminished triad"),
    ("b3", "*", "", "minor triad"),
    ("", "*", "b7", "suspended dominant"),
    ("", "*", "*", "suspended"),
)


def family_of(chord: Chord) -> Family:
    """The family that a chord belongs to, by its third, fifth and seventh or sixth."""
    return _family(tuple(degree.name for degree in chord.degrees))


@lru_cache(maxsize=512)
def _family(names: tuple[str, ...]) -> Family:
    """The family of the chord that has degrees of these names: asked for every note of every line."""
    on_rung: dict[int, list[str]] = {}
    for name in names:
        on_rung.setdefault(Degree(name).rung, []).append(name)
    third, seventh = (on_rung.get(rung, [""])[0] for rung in (3, 7))
    seventh = seventh or on_rung.get(6, [""])[0]
    if not third and not seventh and not any(rung in on_rung for rung in (9, 11, 13)):
        return FAMILIES["fifth alone"]
    for row_third, row_fifth, row_seventh, name in SIGNS:
        fifth_fits = row_fifth == "*" or row_fifth in on_rung.get(5, [])
        if third == row_third and fifth_fits and row_seventh in ("*", seventh):
            return FAMILIES[name]
    return FAMILIES["suspended"]
