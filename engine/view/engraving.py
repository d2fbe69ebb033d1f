"""A line as an engraver wants it: what stands on the staff, and what is to be said of it, as plain data.

Nothing here has a size: the page draws these facts at its own width (docs/app/engraver.js).
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import groupby
from typing import Any

from engine.formats.bars import Bar, bars_of, parts_of
from engine.formats.beams import beam_groups
from engine.formats.key_signature import accidentals, fifths, signs
from engine.formats.note_values import VALUES, Written, write_bar
from engine.lines.devices.device import Found
from engine.lines.devices.recognise import Analysis
from engine.lines.line import Line, Meter
from engine.neck.instrument import Place
from engine.theory.chord import Chord
from engine.theory.key import Key
from engine.theory.pitch import ACCIDENTALS, Pitch
from engine.theory.wording import PARTS, USUAL, Profile, Text, say, show
from engine.view.accidentals import Sign, signs_in
from engine.view.markup import as_data, escape, words
from engine.view.staff import steps_above

_GUITAR = 1  # octave above the sound
_STAVES_OWN = range(-4, 14)  # staff steps that take two ledger lines at most
_GUITARS_OWN = range(-7, 15)  # those from a guitar's lowest note to its 24th fret
# Octaves above the sound, each with the steps in which it is chosen, the first before the next.
_FIRST = ((_GUITAR, _STAVES_OWN), (0, _STAVES_OWN), (_GUITAR, _GUITARS_OWN))
_MIDDLE = 4
_OCTAVES = (0, 1, -1, 2, -2)  # that a clef can say, by choice
_MOST_SIGNS = 6  # of a part's key; one with more is written as the key that sounds the same
_DIGITS = 4  # of a time in beats


@dataclass(frozen=True, slots=True)
class Tab:
    """A TAB: how many ``strings`` it has, and where each note of the line is played.

    ``held``: the indexes of the notes that are marked as held on their string. ``asks``: whether a note can be
    tapped; ``tapped`` is the index of the one that was.
    """

    strings: int
    places: Sequence[Place]
    held: frozenset[int] = frozenset()
    asks: bool = False
    tapped: int | None = None


def engraving_html(
    analysis: Analysis,
    name: str,
    profile: Profile = USUAL,
    answers: bool = True,
    tab: Tab | None = None,
    staff: bool = True,
) -> str:
    """A figure with the id ``name`` for the page to draw into, as HTML; the rest as for ``engraving``."""
    line, octaves = _written(analysis.line, profile)
    label = words(
        _LABELS[staff, tab is not None],
        # The key and the chords are as the part has them already.
        replace(profile, part="C"),
        key=line.key,
        chords=tuple(dict.fromkeys(change.chord for change in line.changes)),
        octave=say(_OCTAVE_WORDS[octaves]),
    )
    data = as_data(_staff(analysis, line, octaves, profile, answers, tab, staff))
    # An image has no parts that could be reached.
    role = "group" if tab and tab.asks else "img"
    drawn = f'data-engraving="{data}" role="{role}" aria-label="{label}"'
    return f'<figure class="engraving" id="{escape(name)}" {drawn}></figure>'


def engraving(
    analysis: Analysis, profile: Profile = USUAL, answers: bool = True, tab: Tab | None = None, staff: bool = True
) -> dict[str, Any]:
    """The line's staff, as data that is JSON.

    - ``octave``: how many octaves higher than it sounds the part is written, -2 to 2, and the treble clef says so with
      its 8. A line stands an octave higher, as guitar music is written; where that takes a third ledger line, where it
      sounds; and where that does too, in the octave nearest the middle of the staff.
    - ``key``: the sharps of the signature, flats as a negative number. ``meter``: its two numbers.
    - ``bars``: each with ``notes``, ``beams`` and ``tuplets`` (first and last place among its notes, a tuplet also
      how many notes it has) and ``chords`` (``text``, the place of the ``note`` that sounds when it comes, and
      ``share``: how much of that has passed by then).
    - a note: ``value``, ``dots``, ``length`` in beats; ``step``: staff steps above the bottom line, none for a rest
      (``bar`` is true for a rest of a whole bar); ``sign``: ``bb b n # ##`` before it, and whether that is a
      ``courtesy``; ``tied`` to the next one; ``index`` among the line's notes; where that note starts, also its
      ``degree`` and ``role``. What is false or nothing is left out.
    - ``brackets``: the devices, each with its ``first`` and ``last`` note's index, its ``number`` from 1 in their
      order, its ``name``, and the ``row`` in which it meets no other.

    Without ``answers`` it has no degrees, roles and brackets. With a ``tab`` it has its number of ``strings``, and
    each note its ``string`` and ``fret``, ``back`` where it is tied to the one before, ``held`` where it is held; what
    can be tapped has a ``name``, and ``tapped`` is the note that was, or the one that is reached first. Without a
    ``staff``, ``tab_only`` says so.
    """
    return _staff(analysis, *_written(analysis.line, profile), profile, answers, tab, staff)


def _staff(
    analysis: Analysis, line: Line, octaves: int, profile: Profile, answers: bool, tab: Tab | None, staff: bool
) -> dict[str, Any]:
    """The data of ``engraving``, for the line as the part has it, ``octaves`` above its sound."""
    bars = _full(bars_of(line), line.meter)
    written = [_values(line, bar) for bar in bars]
    sounding = [[(note.part.pitch, note.part.tied_back) for note in notes if note.part.pitch] for notes in written]
    shown = signs_in(sounding, accidentals(fifths(line.key)))
    return {
        "octave": octaves,
        "key": fifths(line.key),
        "meter": [line.meter.beats, line.meter.unit],
        "bars": [
            _bar(analysis, line, bar, notes, signs, profile, answers, tab)
            for bar, notes, signs in zip(bars, written, shown, strict=True)
        ],
        "brackets": _brackets(analysis.devices) if answers else [],
        **({"strings": tab.strings} if tab else {}),
        **({"tapped": tab.tapped} if tab and tab.tapped is not None else {}),
        **({} if staff else {"tab_only": True}),
    }


def _written(line: Line, profile: Profile) -> tuple[Line, int]:
    """The line as the reader's part has it, and how many octaves its staff is above that."""
    steps, semitones = _interval(line.key, profile)

    def up(pitch: Pitch) -> Pitch:
        return pitch.up(steps, semitones)

    def chord_up(chord: Chord) -> Chord:
        return replace(chord, root=up(chord.root), bass=up(chord.bass) if chord.bass else None)

    notes = [replace(note, pitch=up(note.pitch)) for note in line.notes]
    octaves = _octaves([steps_above(note.pitch) for note in notes])
    moved = replace(
        line,
        key=replace(line.key, tonic=up(line.key.tonic)),
        notes=tuple(replace(note, pitch=_higher(note.pitch, octaves)) for note in notes),
        changes=tuple(replace(change, chord=chord_up(change.chord)) for change in line.changes),
    )
    return moved, octaves


def _interval(key: Key, profile: Profile) -> tuple[int, int]:
    """The letter steps and semitones from a key to the part's, which has no more signs than players read."""
    steps, semitones = PARTS[profile.part]
    count = signs(replace(key, tonic=key.tonic.up(steps, semitones)))
    if semitones and abs(count) > _MOST_SIGNS:
        steps += 1 if count > 0 else -1
    return steps, semitones


def _octaves(steps: Sequence[int]) -> int:
    if not steps:
        return _GUITAR
    low, high = min(steps), max(steps)
    for octaves, staves in _FIRST:
        if low + 7 * octaves in staves and high + 7 * octaves in staves:
            return octaves
    return min(_OCTAVES, key=lambda octaves: abs(low + high + 14 * octaves - 2 * _MIDDLE))


def _higher(pitch: Pitch, octaves: int) -> Pitch:
    return pitch.in_octave((pitch.octave or 0) + octaves)


# What a figure shows, by whether it has a staff and a TAB.
_LABELS = {
    (True, False): "The line on the staff, in {key}, over {chords:and}{octave}.",
    (True, True): "The line on staff and TAB, in {key}, over {chords:and}{octave}.",
    (False, True): "The line as TAB, in {key}, over {chords:and}.",
}
_OCTAVE_WORDS = {
    0: "", 1: ", an octave higher than it sounds", -1: ", an octave lower than it sounds",
    2: ", two octaves higher than it sounds", -2: ", two octaves lower than it sounds",
}  # fmt: skip


def _full(bars: Sequence[Bar], meter: Meter) -> list[Bar]:
    """The bars; a line that ends within its last one has rests to its end."""
    return [replace(bar, end=max(bar.end, bar.number * meter.bar)) for bar in bars]


def _values(line: Line, bar: Bar) -> list[Written]:
    """What stands in a bar. A whole bar's rest is one, whatever the meter."""
    parts = parts_of(line, bar)
    if len(parts) == 1 and _is_bar_of_rest(line, Written(parts[0])):
        return [Written(parts[0], "whole")]
    return write_bar(bar, parts, line.meter)


def _is_bar_of_rest(line: Line, note: Written) -> bool:
    return note.part.pitch is None and note.length == line.meter.bar


def _bar(
    analysis: Analysis,
    line: Line,
    bar: Bar,
    notes: Sequence[Written],
    signs: Iterable[Sign | None],
    profile: Profile,
    answers: bool,
    tab: Tab | None,
) -> dict[str, Any]:
    left = iter(signs)
    starts = [note.start for note in line.notes]
    data = []
    index = bisect_right(starts, bar.start) - 1
    for note in notes:
        one = _note(line, note, next(left) if note.part.pitch else None)
        if note.part.pitch:
            if index + 1 < len(starts) and starts[index + 1] <= note.part.start:
                index += 1
            one["index"] = index
            if answers and starts[index] == note.part.start:
                naming = analysis.notes[index].naming
                one |= {"degree": show(naming.degree, profile), "role": naming.role}
            if tab:
                one |= _in_tab(analysis.line, tab, index, starts[index] != note.part.start, profile)
        data.append(one)
    return {
        "notes": data,
        "beams": [[group[0], group[-1]] for group in beam_groups(notes, bar, line.meter)],
        "tuplets": _tuplets(notes),
        "chords": _chords(line, bar, notes, replace(profile, part="C")),
    }


def _note(line: Line, note: Written, sign: Sign | None) -> dict[str, Any]:
    pitch = note.part.pitch
    facts = {
        # What no value has the length of is drawn as the longest that fits; its length stays true.
        "value": note.value or next((name for name, length in VALUES.items() if length <= note.length), "128th"),
        "dots": note.dots,
        "length": _beats(note.length),
        "bar": _is_bar_of_rest(line, note),
        "sign": (ACCIDENTALS[sign.accidental] or "n") if sign else "",
        "courtesy": sign is not None and sign.courtesy,
        "tied": note.part.tied_on,
    }
    kept = {name: fact for name, fact in facts.items() if fact}
    return kept | {"step": steps_above(pitch)} if pitch else kept


def _in_tab(line: Line, tab: Tab, index: int, back: bool, profile: Profile) -> dict[str, Any]:
    """What the TAB shows of a note; ``back``: it only goes on there."""
    place = tab.places[index]
    facts: dict[str, Any] = {"string": place.string, "fret": place.fret}
    if back:
        return {**facts, "back": True}
    if index in tab.held:
        facts["held"] = True
    if tab.asks:
        facts["name"] = show(place_text(line.notes[index].pitch.in_octave(None), place), profile)
    return facts


def place_text(pitch: Pitch, place: Place) -> Text:
    """A note and where it is played, in a few words."""
    return say("{note}, string {string} fret {fret}", note=pitch, string=place.string, fret=place.fret)


def _tuplets(notes: Sequence[Written]) -> list[list[int]]:
    runs = [(tuplet, list(run)) for tuplet, run in groupby(range(len(notes)), lambda index: notes[index].tuplet)]
    return [[run[0], run[-1], tuplet.actual, tuplet.normal] for tuplet, run in runs if tuplet]


def _chords(line: Line, bar: Bar, notes: Sequence[Written], profile: Profile) -> list[dict[str, Any]]:
    found = []
    for change in line.changes:
        for place, note in enumerate(notes):
            if note.part.start <= change.beat < note.part.end and bar.start <= change.beat < bar.end:
                share = _beats((change.beat - note.part.start) / note.length)
                found.append({"text": show(change.chord, profile), "note": place, "share": share})
    return found


def _brackets(devices: Sequence[Found]) -> list[dict[str, Any]]:
    """The devices from left to right, each in the first row that is free by then: as few rows as there can be."""
    rows: list[int] = []  # where the last bracket of each ends
    brackets = []
    for number, device in sorted(enumerate(devices, 1), key=lambda one: (one[1].first, one[1].last)):
        row = next((row for row, last in enumerate(rows) if last < device.first), len(rows))
        rows[row : row + 1] = [device.last]
        name = device.name
        brackets.append({"first": device.first, "last": device.last, "number": number, "name": name, "row": row})
    return brackets


def _beats(value: Fraction) -> float:
    return round(float(value), _DIGITS)
