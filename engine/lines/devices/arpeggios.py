"""Arpeggios: four notes of a chord's stack of thirds, in order, inverted, or with one note an octave away.

Source: the usual textbook account of a chord as a stack 1–3–5–7–9–11–13 from
any of whose tones a four-note arpeggio may be built.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from itertools import pairwise

from engine.lines.devices.device import Device, Found, Group, Passage
from engine.lines.reading import Heard, are_together, steps_of
from engine.theory.chord import Chord
from engine.theory.family import family_of
from engine.theory.wording import say

_STARTS = {1: "root", 3: "third", 5: "fifth", 7: "seventh"}
_RUNGS = (1, 3, 5, 7, 9, 11, 13)
_UPPER = {9: ("b9", "9", "#9"), 11: ("11", "#11"), 13: ("b13", "13")}
# Thirds, and the ♯9 a fourth above the ♭7.
_WIDEST = 5

_IN_ORDER, _INVERTED, _DISPLACED = "", ", inverted", ", one note an octave away"
_SENTENCES = {
    _IN_ORDER: "{notes:row} is the arpeggio from the {start} of {chord}: {degrees:run}.",
    _INVERTED: "{notes:row} is the arpeggio from the {start} of {chord}, inverted: it begins on its {degree}.",
    _DISPLACED: "{notes:row} is the arpeggio from the {start} of {chord} with its {degree} an octave away.",
}


def _rungs(chord: Chord) -> dict[int, int]:
    """The rung of each semitone above the root that stands on one; the chord's own tones first."""
    rungs = {degree.semitones: degree.rung for degree in chord.degrees if degree.rung in _RUNGS}
    family = family_of(chord)
    if not {3, 5, 7} <= set(rungs.values()) or family.name == "diminished seventh":
        return rungs
    dominant = "dominant" in family.name
    own = dict(zip((9, 11, 13), family.upper, strict=True))
    for rung, names in _UPPER.items():
        named = [degree.name for degree in chord.on_rung(rung)]
        for name in named or (names if dominant else (own[rung],)):
            rungs.setdefault(_SEMITONES[name], rung)
    return rungs


_SEMITONES = {"b9": 1, "9": 2, "#9": 3, "11": 5, "#11": 6, "b13": 8, "13": 9}


def _find(passage: Passage) -> Iterator[Found]:
    windows = {first: passage.notes[first : first + 4] for first in range(len(passage.notes) - 3)}
    seen = {
        first: found
        for first, four in windows.items()
        if len({heard.place for heard in four}) == 1 and are_together(four) and (found := _arpeggio(four))
    }
    for first, (start, way, turned) in seen.items():
        # Three notes of one that stands in order are no inversion of their own.
        if way == _INVERTED and any(seen.get(near, ("", _INVERTED))[1] != _INVERTED for near in (first - 1, first + 1)):
            continue
        four = windows[first]
        text = say(
            _SENTENCES[way],
            notes=tuple(heard.pitch.in_octave(None) for heard in four),
            start=_STARTS[start],
            chord=four[0].chord,
            degrees=tuple(heard.degree for heard in four),
            degree=four[turned].degree,
        )
        yield Found(f"arpeggio from the {_STARTS[start]}{way}", first, first + 3, text)


def _arpeggio(four: Sequence[Heard]) -> tuple[int, str, int] | None:
    """The rung that it is built from, its way, and which of its notes that is about."""
    rungs = _rungs(four[0].chord)
    on = [_rung(heard, rungs) for heard in four]
    places = [_RUNGS.index(rung) for rung in on if rung is not None]
    if len(places) < 4 or sorted(places) != list(range(min(places), min(places) + 4)):
        return None
    start = _RUNGS[min(places)]
    if start not in _STARTS or not _stacks(sorted(zip(places, (heard.above for heard in four), strict=True))):
        return None
    order = [place - min(places) for place in places]
    heights = [heard.midi for heard in four]
    if order == [3, 2, 1, 0]:
        heights = [-height for height in heights]
        rising = True
    else:
        rising = order == [0, 1, 2, 3]
    if rising:
        if _climbs(heights):
            return start, _IN_ORDER, 0
        for index in range(4):
            for octave in (12, -12):
                if _climbs([height + octave * (index == place) for place, height in enumerate(heights)]):
                    return start, _DISPLACED, index
        return None
    steps = steps_of(four)
    one_way = all(step > 0 for step in steps) or all(step < 0 for step in steps)
    turn = 1 if steps[0] > 0 else -1
    cyclic = all((second - first) % 4 == turn % 4 for first, second in pairwise(order))
    if one_way and cyclic and abs(sum(steps)) < 12:
        return start, _INVERTED, 0
    return None


def _rung(heard: Heard, rungs: Mapping[int, int]) -> int | None:
    """The note's place in the stack. The ♭3 that rises to the third of a dominant leads there and is no ♯9 on top."""
    rung = rungs.get(heard.above)
    return None if rung == 9 and heard.degree.name == "b3" else rung


def _stacks(tones: Sequence[tuple[int, int]]) -> bool:
    """Whether tones in the order of their rungs stand in thirds: a ♯11 and a ♭13 do not."""
    return all(3 <= (second - first) % 12 <= _WIDEST for (_, first), (_, second) in pairwise(tones))


def _climbs(heights: Sequence[int]) -> bool:
    return all(0 < second - first <= _WIDEST for first, second in pairwise(heights))


GROUP = Group(
    tuple(
        Device(f"arpeggio from the {start}{way}", condition)
        for start in _STARTS.values()
        for way, condition in (
            (_IN_ORDER, "Four neighbours in the chord's stack of thirds, one after the other, up or down."),
            (_INVERTED, "The same four in close position, begun from another of them."),
            (_DISPLACED, "The same four in order, one of them moved by an octave."),
        )
    ),
    _find,
)
