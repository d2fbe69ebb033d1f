"""Runs: stretches that go by step through one scale.

Source: the chord-scale tables of the usual textbooks. A half-whole run shows its
natural 5 or 13, an altered run its ♭13; without them they are a colour (see colours.py).
♭9, 1, ♭7 and ♭13 are in harmonic minor too: where a minor chord follows, an altered run shows its ♯9 or ♯11.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from engine.lines.devices.device import Device, Found, Group, Passage
from engine.lines.line import Line
from engine.lines.reading import Heard, are_together
from engine.theory.family import family_of
from engine.theory.wording import say

_SHORTEST = 4
_STEP = 2
_FOURTH = (3, 5)  # letters, semitones

# Off the beat, between two neighbours: semitones above the root, by the chord's family.
_PASSING = {
    "dominant": ((0, 11, 10),),
    "major seventh": ((7, 8, 9),),
    "sixth": ((7, 8, 9),),
    "major triad": ((7, 8, 9),),
    "minor seventh": ((5, 4, 3), (0, 11, 10)),
}

_RUN = "{notes:row} runs by step through the {scale} of {chords:and}, {way}."
_RUN_WITH = "{notes:row} runs by step through the {scale} of {chords:and}, {way}, with {passing:and} in passing."
_PASSED = "{note}, the {degree} of {chord}, only passes off the beat, so that chord tones stay on the beats."


@dataclass(frozen=True, slots=True)
class _Colour:
    """A scale over a dominant: its semitones, what a run must show of it, and how wide its steps are.

    What it must show may hang on whether a minor chord follows.
    """

    name: str
    scale: frozenset[int]
    shows: Callable[[frozenset[int], bool], bool]
    text: str
    widest: int = 2


_COLOURS = (
    _Colour(
        "half-whole run", frozenset({0, 1, 3, 4, 6, 7, 9, 10}),
        lambda shown, _: bool(shown & {1, 3}) and bool(shown & {7, 9}),
        "{notes:row} runs through the half-whole scale of {chord}: {degrees:run}.",
    ),
    _Colour(
        "altered run", frozenset({0, 1, 3, 4, 6, 8, 10}),
        lambda shown, to_minor: 8 in shown and bool(shown & {1, 3}) and (not to_minor or bool(shown & {3, 6})),
        "{notes:row} runs through the altered scale of {chord}: {degrees:run}.",
    ),
    _Colour(
        "harmonic minor run", frozenset({0, 1, 4, 5, 7, 8, 10}), lambda shown, _: {1, 4, 8} <= shown,
        "{notes:row} runs through the harmonic minor scale of {below}, a fifth below {chord}: {degrees:run}.", widest=3,
    ),
)  # fmt: skip


def _find(passage: Passage) -> Iterator[Found]:
    notes = passage.notes
    passing = {index for index in range(1, len(notes) - 1) if _passes(notes[index - 1 : index + 2])}
    for index in sorted(passing):
        heard = notes[index]
        text = say(_PASSED, note=heard.pitch.in_octave(None), degree=heard.degree, chord=heard.chord)
        yield Found("passing note off the beat", index - 1, index + 1, text)
    in_scale = [heard.is_in_scale or index in passing for index, heard in enumerate(notes)]
    for first, last in _stretches(
        notes, lambda a, b: in_scale[a] and in_scale[b] and _is_step(notes[a], notes[b], a in passing or b in passing)
    ):
        inside = any(first < index < last for index in passing)
        if last - first + 1 >= _SHORTEST + inside:
            chords = tuple(dict.fromkeys(heard.chord for heard in notes[first : last + 1]))
            way = "up" if notes[last].midi > notes[first].midi else "down"
            names = tuple(heard.pitch.in_octave(None) for heard in notes[first : last + 1])
            between = tuple(notes[at].pitch.in_octave(None) for at in sorted(passing) if first < at < last)
            template = _RUN_WITH if between else _RUN
            scale = say("scale" if len(chords) == 1 else "scales")
            text = say(template, notes=names, scale=scale, chords=chords, way=way, passing=between)
            yield Found("scale run", first, last, text)
    for colour in _COLOURS:
        yield from _coloured(passage, colour)


def _passes(three: Sequence[Heard]) -> bool:
    before, note, after = three
    if note.is_on_beat or not before.is_on_beat or not after.is_on_beat or len({heard.place for heard in three}) > 1:
        return False
    above = tuple(heard.above for heard in three)
    family = family_of(note.chord).name
    steps = (note.midi - before.midi, after.midi - note.midi)
    return steps in ((1, 1), (-1, -1)) and any(above in (row, row[::-1]) for row in _PASSING.get(family, ()))


def _is_step(first: Heard, second: Heard, chromatic: bool) -> bool:
    distance = abs(second.midi - first.midi)
    return 1 <= distance <= 2 and (chromatic or first.pitch.letter != second.pitch.letter)


def _coloured(passage: Passage, colour: _Colour) -> Iterator[Found]:
    notes = passage.notes

    def steps(a: int, b: int) -> bool:
        first, second = notes[a], notes[b]
        return (
            first.place == second.place
            and first.is_over_dominant
            and {first.above, second.above} <= colour.scale
            and 1 <= abs(second.midi - first.midi) <= colour.widest
            and (abs(second.midi - first.midi) < 3 or {first.above, second.above} == {1, 4})
        )

    for first, last in _stretches(notes, steps):
        shown = frozenset(heard.above for heard in notes[first : last + 1])
        if last - first + 1 < _SHORTEST or _leaves(notes, first, last, colour):
            continue
        if colour.shows(shown, _goes_to_minor(passage.line, notes[first])):
            part = notes[first : last + 1]
            text = say(
                colour.text,
                notes=tuple(heard.pitch.in_octave(None) for heard in part),
                chord=part[0].chord,
                below=part[0].chord.root.up(*_FOURTH).readable(),
                degrees=tuple(heard.degree for heard in part),
            )
            yield Found(colour.name, first, last, text)


def _goes_to_minor(line: Line, heard: Heard) -> bool:
    """Whether a note's chord goes up a fourth to a minor one."""
    following = line.changes[heard.place + 1 : heard.place + 2]
    return any(
        (one.chord.root.pitch_class - heard.chord.root.pitch_class) % 12 == _FOURTH[1]
        and "minor" in family_of(one.chord).name
        for one in following
    )


def _leaves(notes: tuple[Heard, ...], first: int, last: int, colour: _Colour) -> bool:
    """Whether the same run goes on, over the same chord, with a note that the scale does not have."""
    way = 1 if notes[last].midi > notes[first].midi else -1
    around = [(notes[at], notes[at + 1]) for at in (first - 1, last) if 0 <= at < len(notes) - 1]
    return any(
        before.place == after.place
        and 1 <= (after.midi - before.midi) * way <= _STEP
        and not {before.above, after.above} <= colour.scale
        for before, after in around
    )


def _stretches(notes: tuple[Heard, ...], follows: Callable[[int, int], bool]) -> Iterator[tuple[int, int]]:
    """The longest stretches in one direction in which each note ``follows`` the one before; first and last index."""
    first = 0
    while first < len(notes) - 1:
        last = first
        way = 0
        while last + 1 < len(notes):
            step = notes[last + 1].midi - notes[last].midi
            turn = (step > 0) - (step < 0)
            if (
                not turn
                or (way and turn != way)
                or not are_together(notes[last : last + 2])
                or not follows(last, last + 1)
            ):
                break
            way = turn
            last += 1
        if last > first:
            yield first, last
        first = max(last, first + 1)


GROUP = Group(
    (
        Device("scale run", "Four or more notes by step in one direction, each of the scale of its chord."),
        Device("passing note off the beat", "A chromatic note between two of the scale, off the beat.", stands=True),
        Device("half-whole run", "Four or more of the half-whole scale (no 11, no ♭13), with ♭9 or ♯9 and 5 or 13."),
        Device(
            "altered run",
            "Four or more of the altered scale (no 5, no 11), with ♭9 or ♯9 and ♭13; before a minor chord, with ♯9 or"
            " ♯11 too.",
        ),
        Device("harmonic minor run", "Four or more of the harmonic minor scale a fifth below, with ♭9, 3 and ♭13."),
    ),
    _find,
)
