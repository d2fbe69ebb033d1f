"""Progressions: changes with their length, in a key, to take through the twelve.

The table is harmony of our own writing out of what every player has in common: cadences, turnarounds and the
two forms of twelve bars. The forms of thirty-two and sixteen bars are put together from those formulas and are no
published tune's changes.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from random import Random

from engine.lines.line import Change, Meter, merged
from engine.lines.moving import ORDERS, keys_of
from engine.theory.bad_input import BadInput, shown
from engine.theory.chord import Chord
from engine.theory.chord_symbol import CHORD_EXAMPLE, parse_chord
from engine.theory.key import Key
from engine.theory.pitch import Pitch, signed_semitones

LONGEST = 64  # bars: two choruses of the longest usual form
RANDOM = "random"
GIVEN = "given"  # as they are named
KEY_ORDERS = (*ORDERS, RANDOM, GIVEN)

_A = "Imaj7 | IIm7 V7 | IIIm7 | VI7 | IIm7 | V7 |"
_BRIDGE = "Vm7 | I7 | IVmaj7 | IVm6 | IIIm7 | VI7 | IIm7 | V7"
# Name, title, the key that it is written for, its meter, its bars: numerals count from the major scale of the tonic.
_ROWS = (
    ("two-five-one", "ii–V–I", "C", "4/4", "IIm7 | V7 | Imaj7 | Imaj7"),
    ("two-five-one-minor", "ii–V–i in minor", "Cm", "4/4", "IIm7b5 | V7b9 | Im6 | Im6"),
    ("short-two-five-one", "ii–V–I in two bars", "C", "4/4", "IIm7 V7 | Imaj7"),
    ("turnaround", "Turnaround", "C", "4/4", "Imaj7 VI7 | IIm7 V7 | IIIm7 VI7 | IIm7 V7"),
    ("blues", "Blues", "C", "4/4",
     "I7 | IV7 | I7 | I7 | IV7 | #IVdim7 | I7 | VI7 | IIm7 | V7 | I7 VI7 | IIm7 V7"),
    ("minor-blues", "Minor blues", "Cm", "4/4",
     "Im7 | IVm7 | Im7 | Im7 | IVm7 | IVm7 | Im7 | Im7 | IIm7b5 | V7b9 | Im6 | IIm7b5 V7b9"),
    ("aaba", "Song form, AABA", "C", "4/4",
     f"{_A} IIIm7 VI7 | IIm7 V7 | {_A} Imaj7 | Imaj7 | {_BRIDGE} | {_A} Imaj7 VI7 | IIm7 V7"),
    ("waltz", "Waltz", "C", "3/4",
     "Imaj7 | VIm7 | IIm7 | V7 | IIIm7 | VI7 | IIm7 | V7 | "
     "Vm7 | I7 | IVmaj7 | IVm6 | IIIm7 VI7 | IIm7 V7 | Imaj7 | IIm7 V7"),
)  # fmt: skip
_NUMERALS = {"I": 0, "II": 2, "III": 4, "IV": 5, "V": 7, "VI": 9, "VII": 11}
_NUMERAL = re.compile(r"([b#]?)(VII|VI|V|IV|III|II|I)(.*)")


@dataclass(frozen=True, slots=True)
class Progression:
    """Changes in a key.

    ``changes`` begin at beat 0, no chord twice in a row; ``length`` in beats, whole bars. ``name`` tells it from others
    in a link, ``title`` is what people read; both are empty for one that was typed.
    """

    key: Key
    meter: Meter
    changes: tuple[Change, ...]
    length: Fraction
    name: str = ""
    title: str = ""

    def place_at(self, beat: Fraction) -> int:
        """The index of the change that is in force at a beat."""
        return max(0, bisect_right(self.changes, beat, key=lambda change: change.beat) - 1)

    def chord_at(self, beat: Fraction) -> Chord:
        """The chord that sounds at a beat."""
        return self.changes[self.place_at(beat)].chord

    @property
    def bars(self) -> int:
        """How many bars it has."""
        return int(self.length / self.meter.bar)


class BadProgression(BadInput):
    """A chord of a typed progression cannot be read: ``bar`` is the one it stands in, counted from 1."""

    def __init__(self, bar: int, bad: BadInput) -> None:
        self.bar = bar
        super().__init__(bad.token, bad.column, f"in bar {bar} {bad.problem}", bad.instead)


def parse_progression(text: str, key: Key | None = None, meter: Meter | None = None) -> Progression:
    """Chords as a player types them: ``Dm7 G7 | Cmaj7 |``.

    ``|`` parts bars, without any each chord is a bar. Chords share a bar's beats, the first takes what is left over;
    ``%`` stands for the bar before. ``key`` is guessed where none is given. BadProgression at the first chord that
    cannot be read, BadInput for none at all or more than ``LONGEST`` bars.
    """
    meter = meter or Meter()
    if "|" in text:
        parts = ([*_words(part[0], part.start())] for part in re.finditer(r"[^|]+", text))
        bars = [part for part in parts if part]
    else:
        bars = [[word] for word in _words(text)]
    if not bars:
        raise BadInput(text, 1, "has no chord", 'write chords and bars, for example "Dm7 G7 | Cmaj7"')
    if len(bars) > LONGEST:
        raise BadInput(text, 1, f"has {len(bars)} bars", f"{LONGEST} are the most")
    read: list[tuple[Chord, ...]] = []
    for number, bar in enumerate(bars, 1):
        if len(bar) > 2 * meter.beats:
            raise BadInput(bar[-1][0], bar[-1][1], f"is chord {len(bar)} of bar {number}", "part the bars with |")
        repeats = read and [word for word, _ in bar] == ["%"]
        read.append(read[-1] if repeats else tuple(_chord(word, column, number) for word, column in bar))
    return _together(read, key or _guessed([chord for bar in read for chord in bar]), meter)


def _words(text: str, at: int = 0) -> Iterator[tuple[str, int]]:
    """The words of a text with their columns, counted from 1; the dots of repeat signs are none."""
    for word in re.finditer(r"[^\s:]+", text):
        yield word[0], at + word.start() + 1


def _chord(word: str, column: int, bar: int) -> Chord:
    try:
        return parse_chord(word)
    except BadInput as bad:
        raise BadProgression(bar, BadInput(word, column, bad.problem, bad.instead)) from bad


def _guessed(chords: Sequence[Chord]) -> Key:
    """The key that chords are in: where a dominant last falls to a chord that is none, else that of the first root."""
    for place in range(len(chords) - 1, -1, -1):
        before, goal = chords[place - 1], chords[place]
        falls = (goal.root.pitch_class - before.root.pitch_class) % 12 == 5
        if falls and _is_dominant(before) and not goal.has("b7"):
            return _key_on(goal)
    return _key_on(chords[0])


def _is_dominant(chord: Chord) -> bool:
    return chord.has("b7") and not chord.has("b3")


def _key_on(chord: Chord) -> Key:
    """The key on a chord's root, as it is usually written."""
    mode = "minor" if chord.has("b3") else "major"
    return next(key for key in keys_of(mode) if key.tonic.pitch_class == chord.root.pitch_class)


def _together(bars: Sequence[Sequence[Chord]], key: Key, meter: Meter, name: str = "", title: str = "") -> Progression:
    changes = []
    for number, bar in enumerate(bars):
        at = number * meter.bar
        for place, chord in enumerate(bar):
            changes.append(Change(chord, at))
            at += _share(meter, len(bar), place)
    return Progression(key, meter, merged(tuple(changes)), meter.bar * len(bars), name, title)


def _share(meter: Meter, chords: int, place: int) -> Fraction:
    """How long one of so many chords lasts in a bar: whole beats of the meter, or halves where chords are more."""
    beats = meter.beats if chords <= meter.beats else 2 * meter.beats
    each, left = divmod(beats, chords)
    return Fraction(each + (left if place == 0 else 0)) * meter.bar / beats


def in_key(progression: Progression, key: Key) -> Progression:
    """The progression on a key's tonic, in its own mode, every chord spelled as that key has it."""
    semitones = signed_semitones(progression.key.tonic, key.tonic)
    letters = key.tonic.letter - progression.key.tonic.letter
    changes: list[Change] = []
    simple = False
    # From the end, because a chord that leads to one written simpler follows it: Bm7 E7 to A, not C flat and F flat.
    for change in reversed(progression.changes):
        root = change.chord.root.up(letters, semitones)
        simple = abs(root.accidental) > 1 or (simple and root.simplest().accidental == 0)
        own = change.chord
        bass = own.bass.up(letters, semitones).readable() if own.bass else None
        chord = Chord(root.simplest() if simple else root, own.degrees, own.suffix, bass)
        changes.append(Change(chord, change.beat))
    return replace(progression, key=Key(key.tonic, progression.key.mode), changes=tuple(reversed(changes)))


def in_order(keys: Sequence[Key], order: str, seed: int = 1) -> tuple[Key, ...]:
    """Keys of one mode in one of ``KEY_ORDERS``, from the first of them on; KeyError for an order that is none."""
    if order == GIVEN:
        return tuple(keys)
    if order == RANDOM:
        chance = Random(seed)
        return tuple(sorted(keys, key=lambda _: chance.random()))
    row = [key.tonic.pitch_class for key in keys_of(keys[0].mode, order)]
    # Counted in steps from the first key, so that the order starts there: E flat, then A flat by fourths.
    first = keys[0].tonic.pitch_class - row[0]
    return tuple(sorted(keys, key=lambda key: row.index((key.tonic.pitch_class - first) % 12)))


def _written(name: str, title: str, key: str, meter: str, bars: str) -> Progression:
    """A row of the table in its own key."""
    beats, _, unit = meter.partition("/")
    tonic = Pitch("CDEFGAB".index(key[0]))
    read = [[_numeral(word, tonic) for word in bar.split()] for bar in bars.split("|")]
    mode = "minor" if key.endswith("m") else "major"
    return _together(read, Key(tonic, mode), Meter(int(beats), int(unit)), name, title)


def _numeral(word: str, tonic: Pitch) -> Chord:
    """A chord by the number of its root: ``#IVdim7``."""
    found = _NUMERAL.fullmatch(word)
    if not found:
        raise BadInput(shown(word), 1, "is no numeral with a kind of chord", CHORD_EXAMPLE)
    sign, numeral, suffix = found.groups()
    steps = list(_NUMERALS).index(numeral)
    root = tonic.up(steps, _NUMERALS[numeral] + {"b": -1, "#": 1, "": 0}[sign])
    return replace(parse_chord("C" + suffix), root=root)


PROGRESSIONS = {row[0]: _written(*row) for row in _ROWS}
