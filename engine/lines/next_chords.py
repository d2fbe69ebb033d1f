"""What may follow a line: the chords that a player tries in the last one's place, and the line over one of them."""

from __future__ import annotations

from dataclasses import replace

from engine.lines.aiming import Aimed, re_aimed
from engine.lines.devices.recognise import analyse
from engine.lines.landing import landing_of
from engine.lines.line import Change, Line
from engine.theory.chord import Chord, chord_of
from engine.theory.degree import Degree
from engine.theory.family import family_of
from engine.theory.naming import OUTSIDE
from engine.theory.pitch import Pitch
from engine.theory.wording import Slot, say

# Where a dominant may go, counted from the root that lies a fourth above it (the usual list of its resolutions):
# home in major, in minor, as a blues or the next dominant; the chords on 3 and 6 that stand in for home; and flat six.
_RESOLUTIONS = (("1", "maj7"), ("1", "m7"), ("1", "7"), ("3", "m7"), ("6", "m7"), ("b6", "maj7"))
_FOURTH = (3, 5)
_ONE_STRANGE = "{text} {strange:and} behind it lies outside {chord}: leave it out, or step to a tone of the chord."
_STRANGE = "{text} {strange:and} behind it lie outside {chord}: leave them out, or step to tones of the chord."
# Semitones up to where a dominant is at home: a fourth, or down a half step where it is a substitute; it may also stay.
_WAYS_HOME = (5, 11, 0)


def next_chords(line: Line) -> tuple[Chord, ...]:
    """The line's own last chord, where it has two or more, then the others that usually come in its place."""
    own = line.changes[-1:] if len(line.changes) > 1 else ()
    home = _home(line)
    usual = [chord_of(Degree(degree).over(home).readable(), kind) for degree, kind in _RESOLUTIONS]
    chords = [*(change.chord for change in own), *usual]
    return tuple({chord.symbol: chord for chord in chords}.values())


def _home(line: Line) -> Pitch:
    """The root that the line's end leads to: where a last dominant goes, or was to go when another chord came."""
    *before, last = (change.chord for change in line.changes)
    leading = before[-1] if before else last
    if not family_of(leading).name.endswith("dominant"):
        return last.root
    step = (last.root.pitch_class - leading.root.pitch_class) % 12
    if before and step in _WAYS_HOME:
        return last.root
    return leading.root.up(*_FOURTH).readable()


def followed_by(line: Line, chord: Chord) -> Aimed:
    """The line with ``chord`` in its last one's place; behind its only chord, where it has one.

    The notes behind the landing stay; which of them the new chord leaves outside is said.
    """
    if len(line.changes) == 1:
        changes = (*line.changes, Change(chord, line.end))
        line = replace(line, changes=changes, end=line.end + line.meter.bar)
    aimed = re_aimed(line, chord)
    outside = _outside(aimed.line)
    before = {index for index, _ in _outside(line)}
    strange: tuple[Slot, ...] = tuple(dict.fromkeys(note for index, note in outside if index not in before))
    if not strange:
        return aimed
    template = _ONE_STRANGE if len(strange) == 1 else _STRANGE
    return replace(aimed, text=say(template, text=aimed.text, strange=strange, chord=chord))


def _outside(line: Line) -> list[tuple[int, Pitch]]:
    """The notes behind the landing that are in no scale of the last chord, but for those that lead to another note."""
    landing = landing_of(line)
    if landing is None:
        return []
    analysis = analyse(line)
    leading = {index for found in analysis.devices if found.target for index in range(found.first, found.target)}
    return [
        (index, heard.pitch.in_octave(None))
        for index, heard in enumerate(analysis.notes)
        if index > landing.index and index not in leading and heard.naming.role == OUTSIDE
    ]
