"""What a line is for: the harmony that it fits, told by its chords.

Source: the progressions that the usual textbooks name, with their usual substitutes.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from fractions import Fraction

from engine.lines.line import Change, Line
from engine.theory.chord import Chord
from engine.theory.family import family_of

# Every use, in the order in which players meet them, as it is shown.
USES = {
    "ii-V-I major": "ii–V–I major",
    "ii-V-i minor": "ii–V–i minor",
    "quick ii-V": "quick ii–V",
    "dominant": "dominant",
    "tonic": "tonic",
    "turnaround": "turnaround",
    "blues": "blues",
    "other": "other",
}

MAJOR, MINOR, HALF_DIMINISHED, DOMINANT, DIMINISHED = "major", "minor", "half-diminished", "dominant", "diminished"
# What a chord of a family can be in a progression. A triad without a third is none of these.
_SORTS = {
    "major seventh": MAJOR, "augmented major seventh": MAJOR, "sixth": MAJOR, "major triad": MAJOR,
    "minor seventh": MINOR, "minor-major seventh": MINOR, "minor sixth": MINOR, "minor triad": MINOR,
    "half-diminished": HALF_DIMINISHED,
    "dominant": DOMINANT, "augmented dominant": DOMINANT, "suspended dominant": DOMINANT,
    "diminished seventh": DIMINISHED, "diminished major seventh": DIMINISHED, "diminished triad": DIMINISHED,
}  # fmt: skip
_QUICK = Fraction(2)
# Semitones from ii up to V and from a dominant up to where it resolves: a fourth, or a half step less than an octave
# where V is a substitute.
_FALLS = (5, 11)
# Semitones from ii up to I.
_ONE = 10
# Tones that make a dominant lead on; the ♯9 and the ♯11 are at home on the first chord of a blues.
_LEADING = ("11", "b5", "#5", "b9", "b13")
# I–VI–ii–V: for each of the four, the roots (semitones above the tonic) that may stand there, and as what.
_TURNAROUND = (
    {0: (MAJOR, MINOR, DOMINANT), 4: (MINOR, HALF_DIMINISHED, DOMINANT)},
    {9: (MINOR, HALF_DIMINISHED, DOMINANT), 3: (MAJOR, MINOR, DOMINANT, DIMINISHED), 1: (DIMINISHED,)},
    {2: (MINOR, HALF_DIMINISHED, DOMINANT), 8: (MAJOR, DOMINANT), 5: (MAJOR, MINOR)},
    {7: (DOMINANT,), 1: (MAJOR, DOMINANT)},
)


@dataclass(frozen=True, slots=True)
class _Stretch:
    """Neighbouring chords on one ``root`` (0 to 11) and of one sort, and how many quarter notes they last together."""

    root: int
    sort: str
    chords: tuple[Chord, ...]
    beats: Fraction

    def above(self, root: int) -> int:
        """Semitones from a root up to this one, 0 to 11."""
        return (self.root - root) % 12


_Stretches = Sequence[_Stretch]


def use_of(line: Line) -> str:
    """The first of these that the line's chords are; neighbours on one root and of one sort count as one chord.

    - ``turnaround``: I–VI–ii–V, once or more, with or without the I it leads to. For
      I may stand iii, for VI ♭III or a diminished ♯I or ♭III, for ii ♭VI or IV, for V ♭II.
    - ``blues``: dominants on the key's I, IV and V alone, the I among them; or any
      chords that end on a dominant I. That I is not suspended and has no ♭5, ♯5, ♭9 or ♭13.
    - ``quick ii-V``: ii and V of at most two quarter notes each, once or more, with or without their I.
    - ``ii-V-I major``, ``ii-V-i minor``: a longer ii and V, with or without their I.
      The I decides; without it ii does: half-diminished in minor.
    - ``dominant``: one dominant, with or without the major or minor chord that it resolves to.
    - ``tonic``: one major chord; one minor chord with a sixth or a major seventh, or on the key's tonic.
    - ``other``: anything else.

    A ii is minor or half-diminished. A V stands a fourth above it and resolves a
    fourth up; or it is its substitute, a half step below ii and above I.
    """
    stretches = _stretches(line)
    tonic = line.key.tonic.pitch_class
    return next((use for use, fits in _CONDITIONS if fits(stretches, tonic)), "other")


def _stretches(line: Line) -> list[_Stretch]:
    found: list[_Stretch] = []
    ends = (*(change.beat for change in line.changes[1:]), line.end)
    for change, end in zip(line.changes, ends, strict=True):
        this = _stretch(change, end)
        before = found[-1] if found else None
        if before and (before.root, before.sort) == (this.root, this.sort):
            found[-1] = _Stretch(this.root, this.sort, before.chords + this.chords, before.beats + this.beats)
        else:
            found.append(this)
    return found


def _stretch(change: Change, end: Fraction) -> _Stretch:
    chord = change.chord
    # A pickup lengthens no chord.
    beats = max(end, Fraction(0)) - max(change.beat, Fraction(0))
    return _Stretch(chord.root.pitch_class, _SORTS.get(family_of(chord).name, ""), (chord,), beats)


def _is_turnaround(stretches: _Stretches, _: int) -> bool:
    rounds, rest = divmod(len(stretches), len(_TURNAROUND))
    if not rounds or rest > 1:
        return False
    return any(
        all(
            this.sort in slot.get(this.above(tonic), ())
            for this, slot in zip(stretches, _TURNAROUND * rounds, strict=False)
        )
        and (not rest or _is_home(stretches[-1], tonic))
        for tonic in ((stretches[0].root - up) % 12 for up in _TURNAROUND[0])
    )


def _is_home(stretch: _Stretch, tonic: int) -> bool:
    return stretch.root == tonic and stretch.sort in (MAJOR, MINOR, DOMINANT)


def _is_blues(stretches: _Stretches, tonic: int) -> bool:
    def is_blue(stretch: _Stretch) -> bool:
        leads = any(chord.has(name) for chord in stretch.chords for name in _LEADING)
        return stretch.root == tonic and stretch.sort == DOMINANT and not leads

    within = all(stretch.sort == DOMINANT and stretch.above(tonic) in (0, 5, 7) for stretch in stretches)
    return is_blue(stretches[-1]) or (within and any(map(is_blue, stretches)))


def _is_quick(stretches: _Stretches, _: int) -> bool:
    last = len(stretches) // 2 * 2
    return (
        last > 0
        and all(_is_two_five(stretches[at : at + 2]) for at in range(0, last, 2))
        and all(stretch.beats <= _QUICK for stretch in stretches[:last])
        and (last == len(stretches) or _is_one(stretches[-1], stretches[last - 2]))
    )


def _is_two_five_one(*sorts: str) -> Callable[[_Stretches, int], bool]:
    """Whether it is a ii and V whose I is of the first sort, or whose ii, with no I, is of the second."""
    one, two = sorts

    def fits(stretches: _Stretches, _: int) -> bool:
        if len(stretches) == 3:
            return stretches[2].sort == one and _is_one(stretches[2], stretches[0]) and _is_two_five(stretches[:2])
        return len(stretches) == 2 and stretches[0].sort == two and _is_two_five(stretches)

    return fits


def _is_two_five(pair: _Stretches) -> bool:
    two, five = pair
    return two.sort in (MINOR, HALF_DIMINISHED) and five.sort == DOMINANT and five.above(two.root) in _FALLS


def _is_one(one: _Stretch, two: _Stretch) -> bool:
    return one.sort in (MAJOR, MINOR) and one.above(two.root) == _ONE


def _is_dominant(stretches: _Stretches, _: int) -> bool:
    if stretches[0].sort != DOMINANT or len(stretches) > 2:
        return False
    return all(one.sort in (MAJOR, MINOR) and one.above(stretches[0].root) in _FALLS for one in stretches[1:])


def _is_tonic(stretches: _Stretches, tonic: int) -> bool:
    if len(stretches) > 1:
        return False
    (only,) = stretches
    settled = only.root == tonic or any(chord.has(name) for chord in only.chords for name in ("6", "7"))
    return only.sort == MAJOR or (only.sort == MINOR and settled)


# Some chords fit several: what says more stands first.
_CONDITIONS: tuple[tuple[str, Callable[[_Stretches, int], bool]], ...] = (
    ("turnaround", _is_turnaround),
    ("blues", _is_blues),
    ("quick ii-V", _is_quick),
    ("ii-V-I major", _is_two_five_one(MAJOR, MINOR)),
    ("ii-V-i minor", _is_two_five_one(MINOR, HALF_DIMINISHED)),
    ("dominant", _is_dominant),
    ("tonic", _is_tonic),
)
