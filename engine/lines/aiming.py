"""Re-aiming: another chord takes the place of a line's last one, and the landing follows.

Source: the usual textbook rule of guide-tone voice leading: the third and the
seventh name a chord, so a line that is to fit it lands on one of them, by the shortest way.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from engine.lines.devices.device import Found
from engine.lines.devices.recognise import analyse
from engine.lines.landing import landing_of
from engine.lines.line import Line
from engine.lines.moving import with_last_chord
from engine.theory.chord import Chord
from engine.theory.degree import Degree
from engine.theory.family import family_of
from engine.theory.naming import CHORD_TONE, EXTENSION, name_over
from engine.theory.pitch import Pitch, signed_semitones
from engine.theory.wording import Slot, Text, say

# The tones to land on where the old landing says none: the third, else the seventh, else whatever stands for a third.
_GUIDES = (3, 7)
_UPPER = (9, 11, 13)
_ACROSS = "half step across the change"
_APPROACHES = ("enclosure", "double approach", "approach from below", "approach from above")

# A note with one of these roles over its own chord need not keep a half step's distance.
_AT_HOME = (CHORD_TONE, EXTENSION)

_MOVED = "Over {chord} the landing {old} becomes {new}, its {degree}."
_STAYS = "Over {chord} the landing {old} stays: it is the {degree}."
_FOLLOW = "{text} {before:and} before it becomes {after:and}."
_FOLLOW_SEVERAL = "{text} {before:and} before it become {after:and}."
_ONE_CHORD = "There is one chord, so the notes stay. {note}, the {degree} of {chord}, would be the nearest landing."
_PROPOSED = "The line ends before {chord} comes, so its notes stay. {note}, its {degree}, would be the nearest landing."


@dataclass(frozen=True, slots=True)
class Proposal:
    """A landing for a line that has none: ``note``, its ``degree``, and the signed step from the last note."""

    note: Pitch
    degree: Degree
    semitones: int


@dataclass(frozen=True, slots=True)
class Aimed:
    """A line over another last chord, ``text`` that says what followed, and a ``proposal`` where it has no landing."""

    line: Line
    text: Text
    proposal: Proposal | None = None


def re_aimed(line: Line, chord: Chord) -> Aimed:
    """The line with ``chord`` as its last one.

    The landing goes to the same tone of the new chord where the root stays (the
    3 to the ♭3, and so on), else to the nearest third or seventh; where it is one already,
    it stays. Notes that approach it keep their side and distance, or stay where
    they still lie a step away. All other notes stay.
    """
    landing = landing_of(line)
    if landing is None:
        return _proposed(line, chord)
    devices = [device for device in analyse(line).devices if _leads(line, device)]
    # Where the first note over the last chord only leads to a later one, that one is aimed at.
    index = max(
        (device.target or 0 for device in devices if device.first <= landing.index < (device.target or 0)),
        default=landing.index,
    )
    old = line.notes[index].pitch
    degree = _degree(line.changes[-1].chord, chord, old)
    new = degree.over(chord.root).nearest_to(old)
    notes = list(line.notes)
    moved = _approaches(line, [device for device in devices if device.target == index], old, new)
    for place, pitch in moved.items():
        notes[place] = replace(notes[place], pitch=pitch)
    last = line.changes[-1].beat
    for place, note in enumerate(line.notes[index:], index):
        if note.pitch.midi % 12 == old.midi % 12 and note.end > last:
            notes[place] = replace(note, pitch=new.nearest_to(note.pitch))
    text = _sentence(chord, degree, old, new, line, moved)
    return Aimed(with_last_chord(replace(line, notes=tuple(notes)), chord), text)


def _degree(before: Chord, chord: Chord, landed: Pitch) -> Degree:
    """On which degree of the new chord the line lands."""
    there = name_over(chord, landed)
    same_root = before.root.pitch_class == chord.root.pitch_class
    if same_root:
        rung = name_over(before, landed).degree.rung
        if there.degree.rung == rung and there.role == CHORD_TONE:
            return there.degree
        own = [*chord.on_rung(rung), *(_stand_in(chord, rung))]
        if own:
            return own[0]
    return min(_guides(chord), key=lambda tone: abs(signed_semitones(landed, tone.over(chord.root))))


def _guides(chord: Chord) -> list[Degree]:
    """The chord's third and seventh, or what stands for them."""
    tones = [degree for rung in _GUIDES for degree in chord.on_rung(rung) or _stand_in(chord, rung)[:1]]
    return tones or list(chord.degrees)


def _stand_in(chord: Chord, rung: int) -> tuple[Degree, ...]:
    """What stands for a tone that the chord does not name.

    A sixth for a seventh, the fourth or ninth of a suspended chord for its third, the family's upper tones.
    """
    if rung == 7:
        return tuple(degree for degree in chord.degrees if degree.name == "6")
    if rung == 3:
        return tuple(degree for degree in chord.degrees if degree.name in ("11", "9"))
    if rung in _UPPER:
        return (Degree(family_of(chord).upper[_UPPER.index(rung)]),)
    return ()


def _leads(line: Line, device: Found) -> bool:
    """Whether a device leads to its target: an approach, or an altered tone that steps across the change."""
    return device.name in _APPROACHES or (device.name == _ACROSS and _is_foreign(line, device.first))


def _is_foreign(line: Line, index: int) -> bool:
    note = line.notes[index]
    return name_over(line.chord_of(note), note.pitch).role not in _AT_HOME


def _approaches(line: Line, devices: list[Found], old: Pitch, new: Pitch) -> dict[int, Pitch]:
    """What becomes of the notes that lead to the landing, by their index."""
    moved: dict[int, Pitch] = {}
    if new.midi == old.midi:
        return moved
    for device in devices:
        places = range(device.first, device.target or device.last)
        away = {index: line.notes[index].pitch.midi - old.midi for index in places}
        followed = {
            index: _beside(line, index, new, away[index]) for index in places if _follows(line, index, old, new)
        }
        sounds = [followed.get(index, line.notes[index].pitch).midi for index in places]
        if len(set(sounds)) < len(set(away.values())):
            # Two of them would fall together: then all of them keep their distance.
            followed = {index: _beside(line, index, new, away[index]) for index in places}
        moved.update(followed)
    return moved


def _follows(line: Line, index: int, old: Pitch, new: Pitch) -> bool:
    """Whether a note that led to ``old`` has to move to lead to ``new``."""
    pitch = line.notes[index].pitch
    distance, there = pitch.midi - old.midi, pitch.midi - new.midi
    still = distance * there > 0 and abs(there) <= 2
    return not still or (abs(distance) == 1 and abs(there) != 1 and _is_foreign(line, index))


def _beside(line: Line, index: int, target: Pitch, distance: int) -> Pitch:
    """A note of a line that is to lie ``distance`` half steps from a target.

    A tone of its own chord is written as the chord has it (E sharp over C sharp 7), else it has the letter next to the
    target's. A natural is written as one: E leads down to E flat, not F flat.
    """
    pitch = target.up(1 if distance > 0 else -1, distance)
    chord = line.chord_of(line.notes[index])
    own = chord.own_degree(pitch.midi - chord.root.pitch_class)
    if own:
        return own.over(chord.root).readable().nearest_to(pitch)
    natural = pitch.up(1, 0) if pitch.accidental < 0 else pitch.up(-1, 0)
    if pitch.accidental and not natural.accidental:
        return natural
    return pitch.readable()


def _sentence(chord: Chord, degree: Degree, old: Pitch, new: Pitch, line: Line, moved: dict[int, Pitch]) -> Text:
    if old.midi == new.midi:
        return say(_STAYS, chord=chord, old=_bare(old), degree=degree)
    text = say(_MOVED, chord=chord, old=_bare(old), new=_bare(new), degree=degree)
    if not moved:
        return text
    before: tuple[Slot, ...] = tuple(_bare(line.notes[index].pitch) for index in moved)
    after: tuple[Slot, ...] = tuple(_bare(pitch) for pitch in moved.values())
    return say(_FOLLOW if len(moved) == 1 else _FOLLOW_SEVERAL, text=text, before=before, after=after)


def _bare(pitch: Pitch) -> Pitch:
    return pitch.in_octave(None)


def _proposed(line: Line, chord: Chord) -> Aimed:
    last = line.notes[-1].pitch
    tones = _guides(chord)
    # A step resolves; a held tone does not, so it comes last.
    ways = [(signed_semitones(last, degree.over(chord.root)), degree) for degree in tones]
    semitones, degree = min(ways, key=lambda way: (way[0] == 0, abs(way[0])))
    note = degree.over(chord.root).nearest_to(last)
    text = say(_PROPOSED if len(line.changes) > 1 else _ONE_CHORD, chord=chord, note=_bare(note), degree=degree)
    return Aimed(with_last_chord(line, chord), text, Proposal(note, degree, semitones))
