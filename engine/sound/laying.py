"""Where lines lie in a progression: over their own chords, wherever these come."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache

from engine.lines.aiming import re_aimed
from engine.lines.line import Change, Line, Meter
from engine.lines.moving import keys_of, moved_to
from engine.lines.progression import Progression
from engine.theory.chord import Chord
from engine.theory.degree import Degree


@dataclass(frozen=True, slots=True)
class Laid:
    """``line``, moved to where it sounds, with its first bar at ``begin`` (beats from the form's start).

    ``number`` is its place among the lines given; ``own`` beats are the line's, with the rest of its phrase where as
    many more are ``free`` for an answer.
    """

    line: Line
    number: int
    begin: Fraction
    own: Fraction
    free: Fraction = Fraction(0)

    @property
    def end(self) -> Fraction:
        """The beat at which another may begin."""
        return self.begin + self.own + self.free


def length_of(line: Line) -> Fraction:
    """A line's length from its first bar on, in beats, whole bars."""
    return max(1, -int(-line.end // line.meter.bar)) * line.meter.bar


def phrase_of(length: Fraction, meter: Meter) -> Fraction:
    """The length, in beats, of the phrase that music of a ``length`` in whole bars fills: 1, 2, 4, 8, 12 … bars."""
    bars = int(length / meter.bar)
    return (bars if bars <= 2 else -(-bars // 4) * 4) * meter.bar


def as_progression(line: Line) -> Progression:
    """A line's own chords."""
    return Progression(line.key, line.meter, line.changes, length_of(line))


def laid(lines: Sequence[Line], form: Progression, turn: int = 0, answered: bool = False) -> list[Laid]:
    """The lines over a form, one after the other, from the one at ``turn`` on; ``answered`` leaves room for answers.

    A line sounds wherever its chords come; else where all but the last come, aimed at the one that comes there; else
    at the form's beginning in its key. A line whose meter is another one is left out.
    """
    return over_their_chords(lines, form, turn, answered) or _laid(_at_the_start, lines, form, turn, answered)


def over_their_chords(lines: Sequence[Line], form: Progression, turn: int = 0, answered: bool = False) -> list[Laid]:
    """The same without lines that only stand at the beginning; empty where the chords of none come."""
    return _laid(_whole, lines, form, turn, answered) or _laid(_but_the_last, lines, form, turn, answered)


_Finder = Callable[[Line, Progression, Fraction], Line | None]


def _laid(found_at: _Finder, lines: Sequence[Line], form: Progression, turn: int, answered: bool) -> list[Laid]:
    fitting = [(number, line, length_of(line)) for number, line in enumerate(lines) if line.meter == form.meter]
    waiting = fitting[turn % len(fitting) :] + fitting[: turn % len(fitting)] if fitting else []
    found: list[Laid] = []
    begin = Fraction(0)
    while begin < form.length and waiting:
        chord = form.chord_at(begin)
        # Most bars begin with a chord of another kind.
        likely = [one for one in waiting if found_at is _at_the_start or _alike(one[1].changes[0].chord, None, chord)]
        next_begin = begin + form.meter.bar
        for one in likely:
            number, line, own = one
            phrase = phrase_of(own, form.meter) if answered else own
            free = phrase if answered else Fraction(0)
            there = found_at(line, form, begin) if begin + phrase + free <= form.length else None
            if there:
                found.append(Laid(there, number, begin, phrase, free))
                next_begin = found[-1].end
                # The others have their turn before this one comes again.
                waiting.remove(one)
                waiting.append(one)
                break
        begin = next_begin
    return found


def _whole(line: Line, form: Progression, begin: Fraction) -> Line | None:
    """The line where all of its chords come at ``begin``."""
    return _over(line, form, begin, line.changes)


def _but_the_last(line: Line, form: Progression, begin: Fraction) -> Line | None:
    """The line where all but the last chord come, aimed at the one that comes instead, on the same root."""
    there = _over(line, form, begin, line.changes[:-1]) if len(line.changes) > 1 else None
    if there is None:
        return None
    place = form.place_at(begin + line.changes[-1].beat)
    goal, *after = form.changes[place : place + 2]
    if goal.chord.root.pitch_class != there.changes[-1].chord.root.pitch_class:
        return None
    aimed = re_aimed(there, goal.chord).line
    return _let_go(aimed, after[0].beat - begin, after[0].chord) if after else aimed


def _let_go(line: Line, beat: Fraction, chord: Chord) -> Line | None:
    """The line without what it has over its last chord once another has come there at ``beat``; None where all is gone.

    A note that belongs to that one may be held.
    """
    kept = [note for note in line.notes if note.start < beat]
    if len(kept) < len(line.notes) and (not kept or kept[-1].start < line.changes[-1].beat):
        return None
    last = kept[-1]
    if last.end > beat and last.pitch.pitch_class not in chord.pitch_classes:
        kept[-1] = replace(last, length=beat - last.start)
    return replace(line, notes=tuple(kept))


def _at_the_start(line: Line, form: Progression, begin: Fraction) -> Line | None:
    return _moved(line, form.key.tonic.pitch_class) if begin == 0 else None


def _over(line: Line, form: Progression, begin: Fraction, changes: Sequence[Change]) -> Line | None:
    """The line moved to where its chords come in the form at ``begin``; None where other chords do."""
    own = line.changes
    away = (form.chord_at(begin + own[0].beat).root.pitch_class - own[0].chord.root.pitch_class) % 12
    end = own[len(changes)].beat if len(changes) < len(own) else line.notes[-1].end
    beats = [change.beat for change in changes if change.beat < end]
    if not all(_alike(line.chord_at(beat), away, form.chord_at(begin + beat)) for beat in beats):
        return None
    for change in form.changes[form.place_at(begin) + 1 :]:
        if change.beat >= begin + end:
            break
        if not _alike(line.chord_at(change.beat - begin), away, change.chord):
            return None
    return _moved(line, (line.key.tonic.pitch_class + away) % 12)


@lru_cache(maxsize=256)
def _moved(line: Line, tonic: int) -> Line:
    key = next(key for key in keys_of(line.key.mode) if key.tonic.pitch_class == tonic)
    # A line in its own key stays spelled as it was written.
    return line if line.key.tonic.pitch_class == tonic else moved_to(line, key)


def _alike(own: Chord, away: int | None, there: Chord) -> bool:
    """Whether a chord of a line does what another chord does, ``away`` half steps higher or, if None, on any root."""
    same_root = away is None or (own.root.pitch_class + away - there.root.pitch_class) % 12 == 0
    return same_root and _signs(own.degrees) == _signs(there.degrees)


@lru_cache(maxsize=512)
def _signs(degrees: tuple[Degree, ...]) -> tuple[bool, ...]:
    """What tells major, minor, dominant, half-diminished and diminished chords apart; alterations do not matter."""
    names = {degree.name for degree in degrees}
    minor = "b3" in names
    return minor, "b7" in names and not minor, minor and "b5" in names, "bb7" in names
