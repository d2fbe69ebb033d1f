"""Stretches of lines that the drills about lines ask about."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import groupby, pairwise
from typing import TypeAlias

from engine.drills.material import AWKWARD, chords_for
from engine.drills.options import Options
from engine.drills.question import Row, Value
from engine.lines.devices.device import Found
from engine.lines.devices.recognise import Analysis, analyse
from engine.lines.line import Line
from engine.lines.moving import moved_to
from engine.lines.reading import Heard
from engine.lines.stock import stock
from engine.theory.bad_input import BadInput
from engine.theory.chord import Chord
from engine.theory.degree import Degree
from engine.theory.key import Key
from engine.theory.naming import name_over
from engine.theory.pitch import Pitch

# The kinds of chord that the stock's lines show, by level.
LEVELS: Mapping[int, Sequence[str]] = {
    1: ("m7", "7", "maj7"),
    2: ("m7", "7", "maj7", "m7b5"),
    3: ("m7", "7", "maj7", "m7b5", "7b9", "mMaj7"),
}


# Degrees; signed semitones from note to note; for each note its chord's root above the first one's, and suffix; a name.
Shape: TypeAlias = tuple[tuple[Degree, ...], tuple[int, ...], tuple[tuple[int, str], ...], str]


@dataclass(frozen=True, slots=True)
class Card:
    """A device in a line, and the root that its chord is moved to."""

    line: Line
    found: Found
    root: Pitch


@dataclass(frozen=True, slots=True)
class Stretch:
    """The notes ``first`` to ``last`` of an analysed line, over the ``chord`` of the first of them."""

    analysis: Analysis
    first: int
    last: int

    @property
    def chord(self) -> Chord:
        """The chord that it starts on."""
        return self.analysis.notes[self.first].chord

    @property
    def heard(self) -> tuple[Heard, ...]:
        """Its notes, each over its chord."""
        return self.analysis.notes[self.first : self.last + 1]

    @property
    def pitches(self) -> tuple[Pitch, ...]:
        """Its notes, octaves left out."""
        return tuple(heard.pitch.in_octave(None) for heard in self.heard)

    @property
    def changes(self) -> tuple[Chord, ...] | None:
        """Its chords one after the other, where there are several."""
        chords = tuple(chord for chord, _ in groupby(heard.chord for heard in self.heard))
        return chords if len(chords) > 1 else None

    def row(self, missing: int | None = None) -> Row:
        """Its picture; ``missing`` counts from its first note."""
        heard = self.heard
        bars = tuple(index for index in range(1, len(heard)) if heard[index].place != heard[index - 1].place)
        return Row(
            tuple(one.pitch for one in heard),
            tuple(one.degree for one in heard),
            tuple(one.naming.role for one in heard),
            missing,
            bars,
        )


def cards(slug: str, options: Options, wanted: Callable[[Found], bool]) -> list[Card]:
    """Every device of the lines that is ``wanted``, over every root that the options ask for.

    A player's own line is asked whatever its chords are, in its own key at level 1, in all twelve above.
    BadInput where nothing in the lines is of that kind.
    """
    chords = chords_for(slug, options, LEVELS)
    lines = (options.line,) if options.line else stock()
    found = []
    shapes = set()
    for line in lines:
        for device, chord in _devices(line):
            shape = shape_of(line, device)
            if not wanted(device) or shape in shapes:
                continue
            shapes.add(shape)
            if options.line and not options.chords:
                found += [Card(line, device, root) for root in options.keys or _own_roots(chord, options)]
            else:
                roots = [other.root for other in chords if other.kind == chord.kind]
                found += [Card(line, device, root if options.keys else _readable(shape, root)) for root in roots]
    if not found:
        what = "The line has" if options.line else "The lines have"
        raise BadInput(
            options.line.title if options.line else slug, 1, f"has nothing to ask: {what.lower()} no such stretch",
            "give other chords, or a line with an arpeggio, a run or a landing",
        )  # fmt: skip
    return found


@lru_cache(maxsize=1024)
def shape_of(line: Line, device: Found) -> Shape:
    """What a player calls the same stretch in another key: its degrees, steps and chords, and the device's name."""
    analysis = analyse(line)
    heard = analysis.notes[device.first : device.last + 1]
    root = heard[0].chord.root
    degrees = tuple(one.degree for one in heard)
    steps = tuple(second.midi - first.midi for first, second in pairwise(heard))
    chords = tuple(((one.chord.root.pitch_class - root.pitch_class) % 12, one.chord.suffix) for one in heard)
    return (degrees, steps, chords, device.name)


def _readable(shape: Shape, root: Pitch) -> Pitch:
    """The root, or its twin where that spares the stretch a double accidental: C sharp for D flat with a flat nine."""

    def doubles(at: Pitch) -> int:
        degrees, _, chords, _ = shape
        fourth = at.up(3, 5)
        awkward = str(fourth) in AWKWARD and any(away == 5 for away, _ in chords)
        return sum(abs(degree.over(at).accidental) > 1 for degree in degrees) + 2 * awkward

    twins = [root.up(step, 0) for step in (1, -1)]
    return min((root, *(twin for twin in twins if abs(twin.accidental) == 1 == abs(root.accidental))), key=doubles)


def _own_roots(chord: Chord, options: Options) -> Iterator[Pitch]:
    yield chord.root
    if options.level > 1:
        yield from (chord.root.up(*step).readable() for step in _CYCLE)


# Round the cycle of fourths, as letters and semitones above the root.
_CYCLE = ((3, 5), (6, 10), (2, 3), (5, 8), (1, 1), (4, 6), (0, -1), (2, 4), (5, 9), (1, 2), (4, 7))


@lru_cache(maxsize=256)
def _devices(line: Line) -> tuple[tuple[Found, Chord], ...]:
    analysis = analyse(line)
    return tuple((found, analysis.notes[found.first].chord) for found in analysis.devices)


def stretch(card: Card) -> Stretch:
    """The card's device in the line, moved so that its first chord has the card's root."""
    root = card.line.chord_of(card.line.notes[card.found.first]).root
    return Stretch(_analysed(card.line, root, card.root), card.found.first, card.found.last)


@lru_cache(maxsize=256)
def _analysed(line: Line, root: Pitch, to: Pitch) -> Analysis:
    return analyse(moved(line, root, to))


def moved(line: Line, root: Pitch, to: Pitch) -> Line:
    """The line in the key in which what stood on ``root`` stands on ``to``."""
    steps = (to.letter - root.letter) % 7
    semitones = (to.pitch_class - root.pitch_class) % 12
    tonic = line.key.tonic.up(steps, semitones)
    return moved_to(line, Key(tonic, line.key.mode))


def plain_first(candidates: list[tuple[Value, str]], chord: Chord) -> list[tuple[Pitch, str]]:
    """The notes among the values of mistakes, awkward names last.

    Left out, unless hardly any others are there: double accidentals, and a note
    that the chord's degree of that name writes on another letter (D sharp over
    D flat 7), unless it is just what stood there before.
    """
    notes = [(value, key) for value, key in candidates if isinstance(value, Pitch)]
    usual = [(note, key) for note, key in notes if abs(note.accidental) < 2]
    spelled = [
        (note, key)
        for note, key in usual
        if key == "not moved" or name_over(chord, note).degree.over(chord.root).readable() == note
    ]
    enough = next((some for some in (spelled, usual) if len({note.pitch_class for note, _ in some}) > 1), notes)
    return sorted(enough, key=lambda candidate: str(candidate[0]) in AWKWARD)
