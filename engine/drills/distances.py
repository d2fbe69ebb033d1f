"""How far apart two sounds are, as players say it."""

from __future__ import annotations

from engine.theory.wording import Text, say

# By half steps, whatever the spelling.
_INTERVALS = {
    1: "a half step", 2: "a whole step", 3: "a minor third", 4: "a major third", 5: "a fourth", 6: "a tritone",
    7: "a fifth", 8: "a minor sixth", 9: "a major sixth", 10: "a minor seventh", 11: "a major seventh",
    12: "an octave",
}  # fmt: skip


def apart(half_steps: int) -> Text:
    """A distance in words: "a minor third"."""
    return say(_INTERVALS.get(half_steps, "{count} half steps"), count=half_steps)
