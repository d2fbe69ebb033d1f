"""The lines of a set as they sound, chorus by chorus, and what the player is told meanwhile."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from typing import TypeVar

from engine.sound.event import Chapter, Event
from engine.sound.feel import swung_notes
from engine.sound.laying import Laid
from engine.sound.roadmap import Outline, Over
from engine.sound.stretch import Stretch

_ON, _OFF = 0.78, 0.84  # how loud a line is on the beat and off it

_Begun = tuple[Laid, Fraction, Fraction]  # a line, the beat of its first bar, how its eighths swing
One = TypeVar("One")


def with_next(row: Iterable[One]) -> Iterator[tuple[One, One | None]]:
    """Each with the one that follows it, None after the last."""
    coming = iter(row)
    one = next(coming, None)
    while one is not None:
        following = next(coming, None)
        yield one, following
        one = following


def melodies(choruses: Iterable[Over], outline: Outline, loop: bool) -> Iterator[list[Event]]:
    """The lines' notes, one at a time: a pickup ends what still sounds, and waits where a line is not over."""
    leads_back: list[_Begun] = []
    begun = Fraction(-1)
    # Without pickups no chorus changes anything in the one before it, so none has to be worked out early.
    coming = with_next(choruses) if outline.pickup else ((one, None) for one in choruses)
    for over, following in coming:
        laid_out = _begun(over)
        if over[0].number == 1 and loop:
            # The first pickup leads back to the beginning, too.
            leads_back = [(one, outline.end, ratio) for one, begin, ratio in laid_out[:1] if _opens(one)]
        is_last = over[0].number == len(outline.tempos)
        played: list[Event] = []
        for one in [*laid_out, *(leads_back if is_last else ())]:
            for event, is_pickup in _sung(one, outline.end):
                if is_pickup and event.beat <= begun:
                    continue
                _until(played, event.beat)
                played.append(event)
                begun = event.beat
        for one in _begun(following)[:1] if following else ():
            later = (event.beat for event, _ in _sung(one, outline.end) if event.beat > begun)
            _until(played, next(later, outline.end))
        yield played


def _begun(over: Over) -> list[_Begun]:
    chorus, lines = over
    return [(laid, chorus.begin + laid.begin, chorus.ratio) for laid in lines]


def _opens(laid: Laid) -> bool:
    """Whether a line leads into its chorus with a pickup."""
    return laid.begin == 0 and laid.line.begin < 0


def _sung(one: _Begun, end: Fraction) -> Iterator[tuple[Event, bool]]:
    """A line's notes as they are played before the ``end``, and which of them are its pickup."""
    laid, begin, ratio = one
    notes = laid.line.notes
    for index, (note, (start, stop)) in enumerate(zip(notes, swung_notes(notes, ratio), strict=True)):
        at, until = begin + start, min(begin + stop, end)
        if at < end:
            loudness = _ON if note.start.denominator == 1 else _OFF
            yield Event(at, until - at, note.pitch.midi, loudness, "guitar", index), note.start < 0


def _until(played: list[Event], beat: Fraction) -> None:
    """Ends the last note at a beat, if it would sound longer."""
    if played and played[-1].end > beat:
        played[-1] = replace(played[-1], length=beat - played[-1].beat)


def chapters(over: Over, stretches: Sequence[Stretch]) -> Iterator[Chapter]:
    """What is in force from each chord, each line and each answer of a chorus on."""
    chorus, _ = over
    turns: list[tuple[Fraction, int | None, bool]] = [(chorus.begin, None, False)]
    for laid, begin, _ in _begun(over):
        turns += [
            (begin, laid.number, False),
            (begin + laid.own, None, bool(laid.free)),
            (begin + laid.own + laid.free, None, False),
        ]
    last: Chapter | None = None
    beats = {turn[0] for turn in turns} | {one.begin for one in stretches}
    place = 0
    for beat in sorted(beat for beat in beats if beat < chorus.end):
        while stretches[place].end <= beat:
            place += 1
        _, line, free = [turn for turn in turns if turn[0] <= beat][-1]
        chapter = Chapter(beat, chorus.form.key, stretches[place].chord, chorus.number, line, free)
        if last is None or replace(last, beat=beat) != chapter:
            yield chapter
        last = chapter
