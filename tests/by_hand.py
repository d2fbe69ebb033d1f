"""Notes worked out by hand: letters and half steps only, so that the tests never ask the engine about itself."""

from functools import cache

LETTERS = "CDEFGAB"
HALF_STEPS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
SIGNS = {"bbb": -3, "bb": -2, "b": -1, "": 0, "#": 1, "##": 2, "###": 3}
ROOTS = tuple(letter + sign for letter in LETTERS for sign in ("b", "", "#"))

# Each degree: how many letters above the root (the root is the first), how many half steps.
DEGREES = {
    "1": (1, 0), "b9": (2, 1), "9": (2, 2), "#9": (2, 3), "b3": (3, 3), "3": (3, 4), "4": (4, 5), "11": (4, 5),
    "#11": (4, 6), "b5": (5, 6), "5": (5, 7), "#5": (5, 8), "b6": (6, 8), "6": (6, 9), "b13": (6, 8), "13": (6, 9),
    "bb7": (7, 9), "b7": (7, 10), "7": (7, 11),
}  # fmt: skip


@cache
def sound(note: str) -> int:
    """The key of the piano that a note is, 0 (C) to 11 (B); an octave behind it is left out."""
    name = note.rstrip("-0123456789")
    return (HALF_STEPS[name[0]] + SIGNS[name[1:]]) % 12


def above(low: str, high: str) -> int:
    """Half steps from one note up to the next other, 0 to 11."""
    return (sound(high) - sound(low)) % 12


def letters_above(low: str, high: str) -> int:
    """Letters from one note up to the other, 0 for the same letter."""
    return (LETTERS.index(high[0]) - LETTERS.index(low[0])) % 7


@cache
def spell(root: str, degree: str) -> str:
    """The note that a degree is over a root: its letter first, then its sign. Three signs are respelled."""
    number, half_steps = DEGREES[degree]
    letter = LETTERS[(LETTERS.index(root[0]) + number - 1) % 7]
    wanted = (sound(root) + half_steps) % 12
    for sign, change in sorted(SIGNS.items(), key=lambda pair: abs(pair[1])):
        if (HALF_STEPS[letter] + change) % 12 == wanted:
            return letter + sign if abs(change) < 3 else _fewest_signs(wanted, flat=change < 0)
    raise ValueError(f"no {degree} over {root}")


def _fewest_signs(wanted: int, flat: bool) -> str:
    for letter in LETTERS:
        if HALF_STEPS[letter] == wanted:
            return letter
    sign = "b" if flat else "#"
    return next(letter + sign for letter in LETTERS if sound(letter + sign) == wanted)
