"""Key signatures as the formats count them."""

from __future__ import annotations

from engine.theory.key import Key

_FIFTHS_OF_LETTERS = (0, 2, 4, -1, 1, 3, 5)  # how many fifths C D E F G A B lie above C
_ORDER = (3, 0, 4, 1, 5, 2, 6)  # in which the letters become sharp; they become flat the other way round
_SHARPS = 7  # a signature has no more, and no more flats


def signs(key: Key) -> int:
    """The sharps that a key has, as a negative number its flats: also more than a signature can have."""
    tonic = _FIFTHS_OF_LETTERS[key.tonic.letter] + 7 * key.tonic.accidental
    return tonic - 3 if key.mode == "minor" else tonic


def fifths(key: Key) -> int:
    """The sharps of a key's signature, as a negative number its flats: -7 to 7.

    A key that would need more, such as G♯ major, has the signature of the key
    that sounds the same; its notes keep their names.
    """
    count = signs(key)
    while abs(count) > _SHARPS:
        count -= 12 if count > 0 else -12
    return count


def accidentals(count: int) -> tuple[int, ...]:
    """What a signature of so many ``fifths`` makes of the letters C to B: -1, 0 or 1 each."""
    sharp, flat = _ORDER[: max(count, 0)], _ORDER[_SHARPS + min(count, 0) :]
    return tuple((letter in sharp) - (letter in flat) for letter in range(_SHARPS))
