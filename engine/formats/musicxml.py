"""Lines as MusicXML 4.0, the W3C Music Notation Community Group's format for scores (partwise, one part)."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from math import lcm

from engine.formats.bars import Bar, Part, bars_of, parts_of
from engine.formats.beams import beam_groups, level_of
from engine.formats.cannot_write import CannotWrite
from engine.formats.chord_kinds import kind_of
from engine.formats.key_signature import fifths
from engine.formats.note_values import Written, write_bar
from engine.formats.xml_text import Element, document, element
from engine.lines.line import Change, Line
from engine.theory.pitch import LETTERS, Pitch

VERSION = "4.0"
_OCTAVES = range(10)  # data type octave


def write_musicxml(line: Line) -> str:
    """The line as a MusicXML document, at sounding pitch in the treble clef.

    Each bar is full; a note across a bar line, and a length that no note value
    has, is split and tied. A part of a note that no value fits within reason
    has its exact duration and no type. A chord that changes within a note
    stands before it with an offset. CannotWrite for a note outside the octaves
    0 to 9, and for a line without a bar.
    """
    bars = bars_of(line)
    if not bars:
        raise CannotWrite(line.title, "this line", "has no bar", "MusicXML wants at least one")
    written = [write_bar(bar, parts_of(line, bar), line.meter) for bar in bars]
    divisions = _divisions(line, written)
    measures = [
        element("measure", *_measure(line, bar, notes, divisions, bar is bars[-1]), number=bar.number, **_pickup(bar))
        for bar, notes in zip(bars, written, strict=True)
    ]
    measures[0].children[:0] = _head(line, divisions)
    creator = [element("creator", line.composer, type="composer")] if line.composer else []
    part = element("score-part", element("part-name", "Line", print_object="no"), id="P1")
    work = [element("work", element("work-title", line.title))] if line.title else []
    score = element(
        "score-partwise",
        *work,
        *([element("identification", *creator)] if creator else []),
        element("part-list", part),
        element("part", *measures, id="P1"),
        version=VERSION,
    )
    return document(score)


def _divisions(line: Line, written: Sequence[Sequence[Written]]) -> int:
    """The parts of a beat in which every start and every length is a whole number."""
    places = [place for notes in written for note in notes for place in (note.part.start, note.part.end)]
    return lcm(*(place.denominator for place in (*places, *(change.beat for change in line.changes))))


def _pickup(bar: Bar) -> dict[str, str]:
    return {"implicit": "yes"} if bar.number < 1 else {}


def _head(line: Line, divisions: int) -> list[Element]:
    """What stands before the first note: key, time, clef and tempo."""
    attributes = element(
        "attributes",
        element("divisions", divisions),
        element("key", element("fifths", fifths(line.key)), element("mode", line.key.mode)),
        element("time", element("beats", line.meter.beats), element("beat-type", line.meter.unit)),
        element("clef", element("sign", "G"), element("line", 2)),
    )
    if line.tempo is None:
        return [attributes]
    mark = element("metronome", element("beat-unit", "quarter"), element("per-minute", line.tempo))
    direction = element(
        "direction", element("direction-type", mark), element("sound", tempo=line.tempo), placement="above"
    )
    return [attributes, direction]


def _measure(line: Line, bar: Bar, notes: Sequence[Written], divisions: int, last: bool) -> Iterator[Element]:
    changes = [change for change in line.changes if bar.start <= change.beat < bar.end]
    beams = _beams(notes, bar, line)
    for index, note in enumerate(notes):
        for change in changes:
            if note.part.start <= change.beat < note.part.end:
                yield _harmony(change, (change.beat - note.part.start) * divisions)
        yield _note(notes, index, beams[index], divisions, line)
    if last:
        yield element("barline", element("bar-style", "light-heavy"), location="right")


def _harmony(change: Change, offset: Fraction) -> Element:
    chord = change.chord
    kind, differences = kind_of(chord)
    # The suffix says it all, so no degree is printed beside it.
    degrees = [
        element(
            "degree",
            element("degree-value", difference.number),
            element("degree-alter", difference.alter),
            element("degree-type", difference.how),
            print_object="no",
        )
        for difference in differences
    ]
    return element(
        "harmony",
        element("root", *_name(chord.root, "root-")),
        element("kind", kind, text=chord.suffix),
        *([element("bass", *_name(chord.bass, "bass-"))] if chord.bass else []),
        *degrees,
        *([element("offset", offset)] if offset else []),
    )


def _name(pitch: Pitch, prefix: str = "") -> list[Element]:
    alter = [element(f"{prefix}alter", pitch.accidental)] if pitch.accidental else []
    return [element(f"{prefix}step", LETTERS[pitch.letter]), *alter]


def _note(notes: Sequence[Written], index: int, beams: Sequence[str], divisions: int, line: Line) -> Element:
    note = notes[index]
    # Readers take such a rest for a whole bar of the signature, so a pickup or a short last bar has none.
    whole_bar = note.part.pitch is None and note.length == line.meter.bar
    children = [_sound(note.part, whole_bar), element("duration", note.length * divisions)]
    ties = [kind for kind, is_tied in (("stop", note.part.tied_back), ("start", note.part.tied_on)) if is_tied]
    children += [element("tie", type=kind) for kind in ties]
    children.append(element("voice", 1))
    if note.value and not whole_bar:
        children.append(element("type", note.value))
        children += [element("dot")] * note.dots
    if note.tuplet and not whole_bar:
        actual, normal = note.tuplet.actual, note.tuplet.normal
        children.append(element("time-modification", element("actual-notes", actual), element("normal-notes", normal)))
    children += [element("beam", state, number=level) for level, state in enumerate(beams, 1)]
    notations = [element("tied", type=kind) for kind in ties]
    if note.tuplet:
        if index == 0 or notes[index - 1].tuplet != note.tuplet:
            notations.append(element("tuplet", type="start", bracket="yes"))
        if index + 1 == len(notes) or notes[index + 1].tuplet != note.tuplet:
            notations.append(element("tuplet", type="stop"))
    if notations:
        children.append(element("notations", *notations))
    return element("note", *children)


def _sound(part: Part, whole_bar: bool) -> Element:
    if part.pitch is None:
        return element("rest", measure="yes") if whole_bar else element("rest")
    octave = part.pitch.octave
    if octave is None or octave not in _OCTAVES:
        raise CannotWrite(str(part.pitch), str(part.pitch), "is in no octave of MusicXML", "octaves go from 0 to 9")
    return element("pitch", *_name(part.pitch), element("octave", octave))


def _beams(notes: Sequence[Written], bar: Bar, line: Line) -> list[list[str]]:
    """The states of each note's beams, the first beam first."""
    levels = [level_of(note) for note in notes]
    groups = {index: group for group in beam_groups(notes, bar, line.meter) for index in group}

    def joined(index: int, other: int, level: int) -> bool:
        return other in groups[index] and min(levels[index], levels[other]) >= level

    def state(index: int, level: int) -> str:
        before, after = joined(index, index - 1, level), joined(index, index + 1, level)
        if before or after:
            return "continue" if before and after else "end" if before else "begin"
        return "backward hook" if joined(index, index - 1, 1) else "forward hook"

    return [
        [state(index, level) for level in range(1, levels[index] + 1)] if index in groups else []
        for index in range(len(notes))
    ]
