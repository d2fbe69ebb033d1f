"""Voicings for comping: the third and the seventh with colours round them, led from chord to chord.

Source: the two rootless forms of the usual piano textbooks, with the third or with the seventh at the bottom. The bass
has the root.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache

from engine.sound.stretch import DOMINANTS, Stretch, leads_to_minor, scale_tone
from engine.theory.chord import Chord
from engine.theory.degree import Degree
from engine.theory.family import family_of
from engine.theory.pitch import Pitch

# The lowest note lies in these, D3 to C sharp 4: below it gets thick, above it gets in the way of the line.
BOTTOM = range(50, 62)
WIDEST_LEAP = 7
# From the bottom up. 3 and 7 are what stands for the third and the seventh, L the fifth or what is played in its place,
# U the ninth or what is played in its place.
FORMS = {
    ("seventh", 4): ("3 L 7 U", "7 U 3 L"),
    ("seventh", 3): ("3 7 U", "7 3 L"),
    ("triad", 4): ("1 3 L 1", "3 L 1 3", "L 1 3 L"),
    ("triad", 3): ("1 3 L", "3 L 1", "L 1 3"),
    ("added", 4): ("3 L 1 U", "L 1 U 3"),
    ("added", 3): ("3 L U", "L U 3"),
    ("fifth", 4): ("1 L 1 L", "L 1 L 1"),
    ("fifth", 3): ("1 L 1", "L 1 L"),
}
# What is played for a natural fifth, the first the most usual; other families play the fifth.
_LOWER = {"dominant": "13 5", "suspended dominant": "13 5", "major seventh": "5 13", "minor seventh": "5 11"}
# The ninth does not belong to their scale; a minor seventh has it where the key does. The root is played instead.
_WITHOUT_NINTH = ("half-diminished", "diminished seventh")


@dataclass(frozen=True, slots=True)
class Voicing:
    """``degrees`` of a chord from the bottom up, and the MIDI key numbers at which they sound."""

    degrees: tuple[str, ...]
    keys: tuple[int, ...]

    def pitches(self, chord: Chord) -> tuple[Pitch, ...]:
        """The same as notes, spelled over the chord."""
        tones = [Degree(name).over(chord.root) for name in self.degrees]
        return tuple(
            tone.in_octave((key - tone.in_octave(0).midi) // 12) for tone, key in zip(tones, self.keys, strict=True)
        )


def voicings(stretches: Sequence[Stretch], notes: int = 4, before: Voicing | None = None) -> tuple[Voicing, ...]:
    """A voicing of three or four ``notes`` for each stretch.

    The least motion in all that leads no voice farther than a fifth, by dynamic programming; from the voicing
    ``before``, where they go on from one.
    """
    best: list[tuple[float, Voicing, int]] = [(0, before, -1)] if before else []
    layers: list[list[tuple[float, Voicing, int]]] = []
    for stretch in stretches:
        offered = candidates(stretch, notes)
        if not best:
            best = [(_height(one), one, -1) for one in offered]
        else:
            earlier = best
            best = []
            for one in offered:
                cost, place = min((old[0] + _motion(old[1].keys, one.keys), place) for place, old in enumerate(earlier))
                best.append((cost + _height(one), one, place))
        layers.append(best)
    found = []
    place = min(range(len(best)), key=lambda index: best[index][0]) if best else 0
    for layer in reversed(layers):
        found.append(layer[place][1])
        place = layer[place][2]
    return tuple(reversed(found))


def candidates(stretch: Stretch, notes: int = 4) -> tuple[Voicing, ...]:
    """The voicings of a chord where it stands."""
    chord, key = stretch.chord, stretch.key
    return _voiced(
        chord.root.pitch_class,
        tuple(degree.name for degree in chord.degrees),
        leads_to_minor(chord, stretch.following, key),
        scale_tone(chord, 9, key),
        notes,
    )


@lru_cache(maxsize=1024)
def _voiced(root: int, names: tuple[str, ...], to_minor: bool, ninth: str, notes: int) -> tuple[Voicing, ...]:
    chord = Chord(Pitch(0), tuple(map(Degree, names)))
    found = []
    for form, slots in _chosen(chord, to_minor, ninth):
        for row in FORMS[form, notes]:
            degrees = tuple(slots.get(sign, sign) for sign in row.split())
            found += list(_placed(degrees, root))
    return tuple(dict.fromkeys(found))


def _placed(degrees: tuple[str, ...], root: int) -> Iterator[Voicing]:
    """The degrees stacked upwards, each as near above the one before as it can be, with the lowest in ``BOTTOM``."""
    for bottom in BOTTOM:
        if (bottom - root - Degree(degrees[0]).semitones) % 12 == 0:
            keys = [bottom]
            for name in degrees[1:]:
                above = (root + Degree(name).semitones - keys[-1]) % 12
                keys.append(keys[-1] + (above or 12))
            yield Voicing(degrees, tuple(keys))


def _chosen(chord: Chord, to_minor: bool, ninth: str) -> Iterator[tuple[str, dict[str, str]]]:
    """The form of a chord, and what its signs may stand for."""
    family = family_of(chord).name
    third = _third(chord)
    seventh = next((degree.name for degree in chord.degrees if degree.rung in (6, 7)), "")
    uppers = _uppers(chord, family, to_minor, ninth) if seventh else _added(chord, third)
    for upper in uppers or ("",):
        for lower in _lowers(chord, family, third, upper, to_minor):
            form = "seventh" if seventh else "added" if upper else "triad" if third else "fifth"
            slots = {"3": third or "1", "7": seventh, "L": lower, "U": upper}
            used = [slots["3"], seventh, lower, upper]
            if len(set(filter(None, used))) == len([*filter(None, used)]):
                yield form, slots


def _third(chord: Chord) -> str:
    """The third, or what is suspended in its place, as a natural 11 is for a major third; "" where there is none."""
    third = next((degree.name for degree in chord.on_rung(3)), "")
    fourth = "11" if chord.has("11") else ""
    if third == "3" and fourth:
        return fourth
    return third or fourth or ("9" if chord.has("9") else "")


def _lowers(chord: Chord, family: str, third: str, upper: str, to_minor: bool) -> tuple[str, ...]:
    """What is played for the fifth: what the symbol alters or adds there, else what is usual."""
    named = [
        degree.name for degree in chord.degrees if degree.rung in (5, 11, 13) and degree.name not in ("5", third, upper)
    ]
    if named:
        return tuple(named)
    if not chord.on_rung(5):
        return ("1",)
    plain = family in DOMINANTS and (to_minor or upper not in ("9", "1"))
    return ("5",) if plain else tuple(_LOWER.get(family, "5").split())


def _uppers(chord: Chord, family: str, to_minor: bool, ninth: str) -> tuple[str, ...]:
    """What is played for the ninth: what the symbol says, one of them at a time, else what is usual."""
    named = tuple(degree.name for degree in chord.on_rung(9) if degree.name != _third(chord))
    if named:
        return named
    if family in DOMINANTS:
        return ("b9",) if to_minor else ("9",)
    without = family in _WITHOUT_NINTH or (family == "minor seventh" and ninth != "9") or _third(chord) == "9"
    return ("1",) if without else ("9",)


def _added(chord: Chord, third: str) -> tuple[str, ...]:
    """What a triad's symbol adds to it."""
    return tuple(degree.name for degree in chord.degrees if degree.rung in (9, 11, 13) and degree.name != third)


def _height(voicing: Voicing) -> float:
    """A slight pull to the middle, so that a long form does not climb."""
    return abs(sum(voicing.keys) / len(voicing.keys) - 60) / 4


@lru_cache(maxsize=8192)
def _motion(before: tuple[int, ...], after: tuple[int, ...]) -> float:
    """How far the voices go in all, in half steps; too far is out of the question."""
    steps = [abs(a - b) for a, b in zip(before, after, strict=True)]
    return sum(steps) + (1000 if max(steps) > WIDEST_LEAP else 0)
