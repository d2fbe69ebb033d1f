"""The rules of the line book: what makes a line worth keeping.

A rule takes a line, or the whole book, and yields a sentence for every fault.
"""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from collections.abc import Callable, Iterator
from fractions import Fraction
from itertools import groupby, pairwise

from engine.lines.devices.recognise import DEVICES, analyse
from engine.lines.landing import landing_of
from engine.lines.line import Line, Note
from engine.lines.reading import Heard, are_together, over, read_line
from engine.lines.use import use_of
from engine.theory.naming import ALTERATION, EXTENSION
from engine.theory.pitch import parse_pitch

LINES = 30
LEAST = {
    "ii-V-I major": 8, "ii-V-i minor": 6, "dominant": 4, "turnaround": 4, "tonic": 4, "blues": 4, "quick ii-V": 3,
}  # fmt: skip
TONICS = 10
LOWEST, HIGHEST = (parse_pitch(name).midi for name in ("C3", "E5"))
BAR, HALF_BAR = Fraction(4), Fraction(2)
STEP, SIXTH = 2, 9
LONGEST_WAY = 8  # moves in one direction
LATEST = Fraction(2)  # beats after the last change
WORDS = range(10, 41)
_SENTENCE = re.compile(r"[A-Z][^.!?]*\.")

Faults = Iterator[str]


# --- what holds for a line ----------------------------------------------------


def length(line: Line) -> Faults:
    """One to four bars of four beats, with a pickup of less than a bar or none."""
    if line.meter.bar != BAR or line.end % BAR or not 1 <= line.end / BAR <= 4:
        yield f"{line.end} beats in {line.meter}"
    if line.begin <= -BAR:
        yield f"a pickup of {-line.begin} beats"


def compass(line: Line) -> Faults:
    """From C3 to E5, where a guitarist plays lines in the first twelve frets; no leap is wider than a sixth."""
    yield from (f"{note.pitch} lies too far out" for note in line.notes if not LOWEST <= note.pitch.midi <= HIGHEST)
    for first, second in pairwise(line.notes):
        if abs(second.pitch.midi - first.pitch.midi) > SIXTH:
            yield f"{first.pitch} leaps to {second.pitch}"


def direction(line: Line) -> Faults:
    """At least as many turns as bars with notes in them, and never more than eight moves one way."""
    moves = [second.pitch.midi - first.pitch.midi for first, second in pairwise(line.notes)]
    ways = [len(list(same)) for _, same in groupby(move > 0 for move in moves if move)]
    bars = {note.start // BAR for note in line.notes if note.start >= 0}
    if len(ways) - 1 < len(bars):
        yield f"{len(ways) - 1} turns in {len(bars)} bars"
    if max(ways, default=0) > LONGEST_WAY:
        yield f"{max(ways)} moves one way"


def strong_beats(line: Line) -> Faults:
    """What sounds on the first and the third beat of a bar, begun there or held into it, is one of these.

    - A tone of the chord; an anticipation is one, heard in the chord that it is held into.
    - An extension or an alteration that resolves: it goes by a half or whole step to a chord
      tone, at once or with one changing note between. An enclosure that begins there does that.
    - A suspension: a tone of the chord before, held over the change, that resolves in the same way.
    - An extension that is the last note: a ninth or a sixth may stay.

    A passing or an outside note that starts there is a fault, and so is a tension that leaps away.
    """
    heard = read_line(line)
    for number in range(int(line.end / HALF_BAR)):
        beat = number * HALF_BAR
        index = next((at for at, each in enumerate(heard) if each.note.start <= beat < each.note.end), None)
        if index is not None and not _is_at_home(line, heard, index, beat):
            yield f"{heard[index].pitch} on beat {beat % BAR + 1} of bar {beat // BAR + 1}"


def _is_at_home(line: Line, heard: tuple[Heard, ...], index: int, beat: Fraction) -> bool:
    this = heard[index]
    there = over(line.chord_at(beat), this.note, line.place_at(beat))
    if there.is_chord_tone or (index == len(heard) - 1 and there.naming.role == EXTENSION):
        return True
    suspended = this.place < there.place and this.is_chord_tone
    tense = suspended or there.naming.role in (EXTENSION, ALTERATION)
    return tense and any(_resolves(heard[index : last + 1]) for last in (index + 1, index + 2) if last < len(heard))


def _resolves(notes: tuple[Heard, ...]) -> bool:
    first, last = notes[0], notes[-1]
    return last.is_chord_tone and 0 < abs(last.midi - first.midi) <= STEP and are_together(notes)


def ending(line: Line) -> Faults:
    """It ends on a tone of its chord or an extension; where chords change it lands, or ends early on purpose.

    To land is to reach a tone of the last chord, or its ninth, by step, at most two beats after the change.
    """
    heard = read_line(line)
    if not (heard[-1].is_chord_tone or heard[-1].naming.role == EXTENSION):
        yield f"{heard[-1].pitch} is the last note"
    landing = landing_of(line)
    if landing is None:
        return
    last = line.changes[-1]
    for index in range(landing.index, len(heard)):
        there = over(last.chord, heard[index].note, len(line.changes) - 1)
        by_step = index > 0 and 0 < abs(there.midi - heard[index - 1].midi) <= STEP
        if by_step and (there.is_chord_tone or there.degree.name == "9"):
            if there.note.start - last.beat > LATEST:
                yield f"it lands {there.note.start - last.beat} beats late"
            return
    yield f"nothing resolves over {last.chord}"


def note_values(line: Line) -> Faults:
    """At least two different ones."""
    if len({note.length for note in line.notes}) < 2:
        yield "all notes are equally long"


def remark(line: Line) -> Faults:
    """One sentence says why it is worth keeping."""
    if len(line.remarks) != 1:
        yield f"{len(line.remarks)} remarks"
    for text in line.remarks:
        if not _SENTENCE.fullmatch(text) or len(text.split()) not in WORDS:
            yield f"{text!r} is not one sentence"


def use(line: Line) -> Faults:
    """It fits a harmony that has a name."""
    if use_of(line) == "other":
        yield " ".join(change.chord.symbol for change in line.changes)


LINE_RULES: tuple[Callable[[Line], Faults], ...] = (
    length, compass, direction, strong_beats, ending, note_values, remark, use,
)  # fmt: skip


# --- what holds for the book ---------------------------------------------------


def enough(book: tuple[Line, ...]) -> Faults:
    """Enough lines, for every use and in most keys."""
    counts = Counter(map(use_of, book))
    if len(book) < LINES:
        yield f"{len(book)} lines"
    yield from (f"{counts[name]} lines for {name}" for name, least in LEAST.items() if counts[name] < least)
    tonics = {line.key.tonic.pitch_class for line in book}
    if len(tonics) < TONICS:
        yield f"{len(tonics)} tonics"


def devices(book: tuple[Line, ...]) -> Faults:
    """Every device that is recognised stands in at least two lines."""
    counts = Counter(name for line in book for name in {device.name for device in analyse(line).devices})
    yield from (f"{name} in {counts[name]}" for name in DEVICES if counts[name] < 2)


def different(book: tuple[Line, ...]) -> Faults:
    """No two lines share their title, their remark, their rhythm, or the degrees of a bar (octaves left out)."""
    owners: defaultdict[object, set[int]] = defaultdict(set)
    for number, line in enumerate(book):
        for feature in _features(line):
            owners[feature].add(number)
    for feature, numbers in owners.items():
        if len(numbers) > 1:
            yield f"{feature} in {[book[number].title for number in sorted(numbers)]}"


def _features(line: Line) -> Iterator[tuple[str, object]]:
    yield "title", line.title
    yield "remark", line.remarks
    yield "rhythm", tuple((note.start, note.length) for note in line.notes)
    for _, bar in groupby(read_line(line), lambda heard: heard.note.start // BAR):
        yield "bar", tuple(heard.degree.name for heard in bar)


def _is_off_beat(note: Note) -> bool:
    return note.start.denominator != 1


def ends_early(line: Line) -> bool:
    return len(line.changes) > 1 and landing_of(line) is None


# Ways of placing notes in time: the least number of lines that have it, and whether one does.
RHYTHMS: dict[str, tuple[int, Callable[[Line], bool]]] = {
    "a start off the beat": (6, lambda line: _is_off_beat(line.notes[0])),
    "a last note off the beat": (6, lambda line: _is_off_beat(line.notes[-1])),
    "a pickup": (4, lambda line: line.notes[0].start < 0),
    "triplets": (4, lambda line: any(note.length.denominator == 3 for note in line.notes)),
    "a note over a bar line": (2, lambda line: any(-(-note.end // BAR) - note.start // BAR > 1 for note in line.notes)),
    "a rest within": (4, lambda line: any(first.end < second.start for first, second in pairwise(line.notes))),
    "a syncopation": (10, lambda line: any(_is_off_beat(note) and note.length >= 1 for note in line.notes)),
    "a quarter note": (10, lambda line: any(note.length == 1 for note in line.notes)),
    "an early ending": (1, ends_early),
}


def rhythms(book: tuple[Line, ...]) -> Faults:
    """Lines that start and end off the beat, pickups, triplets, ties, rests and syncopations: some of each."""
    for name, (least, has) in RHYTHMS.items():
        count = sum(map(has, book))
        if count < least:
            yield f"{name} in {count}"


def few_early_endings(book: tuple[Line, ...]) -> Faults:
    """An early ending is an exception: at most one line in ten."""
    early = [line.title for line in book if ends_early(line)]
    if 10 * len(early) > len(book):
        yield f"{early} end early"


BOOK_RULES: tuple[Callable[[tuple[Line, ...]], Faults], ...] = (
    enough,
    devices,
    different,
    rhythms,
    few_early_endings,
)
