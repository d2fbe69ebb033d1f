"""Key signatures as the formats count them."""

from __future__ import annotations

from engine.theory.key import Key

_FIFTHS_OF_LETTERS = (0, 2, 4, -1, 1, 3, 5)  # how many fifths C D E F G A B lie above C
_SHARPS = 7  # a signature has no more, and no more flats


def fifths(key: Key) -> int:
    """The sharps of a key's signature, as a negative number its flats: -7 to 7.

    A key that would need more, such as G♯ major, has the signature of the key
    that sounds the same; its notes keep their names.
    """
    tonic = _FIFTHS_OF_LETTERS[key.tonic.letter] + 7 * key.tonic.accidental
    count = tonic - 3 if key.mode == "minor" else tonic
    while abs(count) > _SHARPS:
        count -= 12 if count > 0 else -12
    return count
