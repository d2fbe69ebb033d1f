"""What a line does where the chord changes: steps across, anticipations, landings.

Source: the usual textbook account of resolution. A held tone is no resolution.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from itertools import pairwise

from engine.lines.devices.device import Device, Found, Group, Passage
from engine.lines.landing import landing_of
from engine.lines.reading import Heard, are_together, over
from engine.theory.wording import Slot, say

_BEAT = Fraction(1)
_LANDINGS = {1: "root", 3: "third", 5: "fifth", 7: "seventh", 9: "ninth"}

_ACROSS = "{note}, the {degree} of {chord}, goes {way} a half step to {target}, the {into} of {following}."
_ANTICIPATED = "{note} is played early: it is the {degree} of {chord}, the chord that is about to come."
_LATE = "The line reaches {note}, the {degree} of {chord}, {beats} after the change."
_EARLY = "The line ends on {note} before {chord} comes: it has no landing."
_HELD = "{note} is held as a common tone: the {degree} of {chord}."
_REACHED = "The line lands on {note}, the {degree} of {chord}, {by}."
_FIRST = "The line comes in on {note}, the {degree} of {chord}."


def _find(passage: Passage) -> Iterator[Found]:
    yield from _across(passage)
    yield from _anticipations(passage)
    yield from _landing(passage)


def _across(passage: Passage) -> Iterator[Found]:
    notes = passage.notes
    for index, (first, second) in enumerate(pairwise(notes)):
        step = second.midi - first.midi
        if second.place == first.place or abs(step) != 1 or not second.is_chord_tone:
            continue
        if not are_together((first, second)):
            continue
        text = say(
            _ACROSS,
            note=_name(first), degree=first.degree, chord=first.chord,
            way="up" if step > 0 else "down",
            target=_name(second), into=second.degree, following=second.chord,
        )  # fmt: skip
        yield Found("half step across the change", index, index + 1, text, index + 1)


def _anticipations(passage: Passage) -> Iterator[Found]:
    changes, notes = passage.line.changes, passage.notes
    for index, heard in enumerate(notes):
        if heard.place + 1 >= len(changes):
            continue
        following = changes[heard.place + 1]
        if following.beat - heard.note.start > _BEAT or heard.is_chord_tone:
            continue
        again = index + 1 < len(notes) and notes[index + 1].note.start == following.beat
        repeated = again and notes[index + 1].midi == heard.midi
        if heard.note.end <= following.beat and not repeated:
            continue
        there = over(following.chord, heard.note, heard.place + 1)
        if there.is_chord_tone:
            text = say(_ANTICIPATED, note=_name(heard), degree=there.degree, chord=following.chord)
            yield Found("anticipation", index, index + int(repeated), text, index)


def _landing(passage: Passage) -> Iterator[Found]:
    line, notes = passage.line, passage.notes
    if len(line.changes) < 2 or not notes:
        return
    last = line.changes[-1]
    landing = landing_of(line)
    if landing is None:
        text = say(_EARLY, note=_name(notes[-1]), chord=last.chord)
        yield Found("early ending", len(notes) - 1, len(notes) - 1, text)
        return
    index = landing.index
    place = len(line.changes) - 1
    reached = next(
        (at for at in range(index, len(notes)) if over(last.chord, notes[at].note, place).is_chord_tone), None
    )
    if reached is not None and notes[reached].note.start - last.beat >= _BEAT:
        heard = over(last.chord, notes[reached].note, place)
        late = notes[reached].note.start - last.beat
        beats = "a beat" if late == 1 else f"{_number(late)} beats"
        text = say(_LATE, note=_name(heard), degree=heard.degree, chord=last.chord, beats=beats)
        yield Found("late landing", index, reached, text)
    name = _LANDINGS.get(landing.degree.rung)
    if name is None:
        return
    slots: dict[str, Slot] = {"note": _name(notes[index]), "degree": landing.degree, "chord": last.chord}
    if landing.semitones is None:
        text = say(_FIRST, **slots)
    elif landing.semitones == 0:
        text = say(_HELD, **slots)
    else:
        text = say(_REACHED, by=_by(landing.semitones), **slots)
    yield Found(f"landing on the {name}", max(index - 1, 0), index, text, index)


def _by(semitones: int) -> str:
    size = {1: "a half step", 2: "a whole step"}.get(abs(semitones))
    way = "from below" if semitones > 0 else "from above"
    return f"by {size} {way}" if size else f"by a leap {way}"


def _number(beats: Fraction) -> str:
    whole, rest = divmod(beats, 1)
    return f"{whole}" if not rest else f"{whole}½" if rest == Fraction(1, 2) else f"about {float(beats):.1f}"


def _name(heard: Heard) -> Slot:
    return heard.pitch.in_octave(None)


GROUP = Group(
    (
        Device(
            "half step across the change", "A half step into a tone of the chord that comes.", stands=True, covers=False
        ),
        Device(
            "anticipation",
            "A tone of the coming chord, at most a beat early, held into it or repeated there.",
            stands=True,
            covers=False,
        ),
        *(
            Device(
                f"landing on the {name}", "The first note over the last chord is that tone.", stands=True, covers=False
            )
            for name in _LANDINGS.values()
        ),
        Device(
            "late landing", "The last chord's tone comes a beat or more after the change.", stands=True, covers=False
        ),
        Device("early ending", "No note sounds over the last chord.", stands=True, covers=False),
    ),
    _find,
)
