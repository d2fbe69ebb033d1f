"""Lines with a rhythm section: once, in a loop, through the keys, faster and faster, with room for an answer."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import chain, tee
from random import Random

from engine.lines.line import Line
from engine.sound.bass import BY_TEMPO, walked
from engine.sound.comping import comped
from engine.sound.drums import count_in as clicks
from engine.sound.drums import drums
from engine.sound.event import (
    INSTRUMENTS,
    Arrangement,
    Chapter,
    Event,
    as_json,
    seconds,
)
from engine.sound.figure import after_cadence, in_turn, of_figure
from engine.sound.melody import chapters, melodies, with_next
from engine.sound.roadmap import (
    USUAL_TEMPO,
    Chorus,
    Outline,
    Over,
    Roadmap,
    choruses_of,
    laid_over,
    of_one,
    outlined,
)
from engine.sound.stretch import Stretch
from engine.sound.voicing import Voicing, voicings
from engine.theory.chord import Chord

__all__ = [
    "USUAL_TEMPO", "Arrangement", "Chapter", "Event", "Roadmap", "after_cadence", "as_json", "in_parts", "in_turn",
    "of_figure", "of_line", "seconds", "together", "with_the_band",
]  # fmt: skip
_EARLY = Fraction(1)  # how far before a chorus what belongs to it may begin, beside a pickup
_LEAST = 8  # bars of a part


def of_line(
    line: Line,
    tempo: int | None = None,
    swing: Fraction | None = None,
    band: bool = False,
    loop: bool = False,
    count_in: int = 0,
    seed: int = 1,
) -> Arrangement:
    """A line as it stands, alone or with the ``band`` under its own chords.

    ``tempo``: quarter notes a minute, the line's own where None. ``swing``: the ratio of two eighths, the tempo's own
    where None, 1 for straight. ``count_in``: bars.
    """
    outline, own = of_one(line, tempo or line.tempo or USUAL_TEMPO, swing, count_in)
    return together(_played(outline, [own[0]], [own], band, loop, seed, BY_TEMPO))


def with_the_band(road: Roadmap) -> Arrangement:
    """A roadmap with the rhythm section, as a whole. BadInput where there is neither a line nor a progression."""
    return together(in_parts(road))


def in_parts(road: Roadmap) -> Iterator[Arrangement]:
    """The same in parts, about a chorus each, one after the other; every part is worked out when it is asked for.

    Each has the events and chapters of its beats alone; tempos, length and loop are those of the whole.
    """
    forms, sung = tee(choruses_of(road))
    return _played(outlined(road), forms, laid_over(road, sung), True, road.loop, road.seed, road.bass)


def together(parts: Iterable[Arrangement]) -> Arrangement:
    """The parts of an arrangement as one."""
    every = [*parts]
    events = tuple(chain.from_iterable(part.events for part in every))
    return replace(every[0], events=events, chapters=tuple(chain.from_iterable(part.chapters for part in every)))


def _played(
    outline: Outline,
    choruses: Iterable[Chorus],
    with_lines: Iterable[Over],
    band: bool,
    loop: bool,
    seed: int,
    feel: str,
) -> Iterator[Arrangement]:
    """The parts of an arrangement: each player goes on from where the chorus before has left them."""
    own, sung = tee(with_lines)
    shown, walked_on, voiced_on = tee(_sections(choruses, loop), 3)
    bass = walked(chain.from_iterable(walked_on), outline.meter, 3 * seed, loop, feel)
    chords = comped(_voiced(voiced_on), outline.meter, 3 * seed + 1)
    chance = Random(3 * seed + 2)
    whole = Arrangement((), outline.changes, outline.end, (), (outline.lead, outline.end) if loop else None)
    events = [*clicks(outline.counted, outline.lead, outline.meter)]
    told: list[Chapter] = []
    walked_until = parted = Fraction(0)
    for over, melody, stretches in zip(own, melodies(sung, outline, loop), shown, strict=True):
        chorus, _ = over
        if chorus.number == 1 and outline.lead:
            told.append(Chapter(Fraction(0), stretches[0].key, stretches[0].chord, 0))
        told += chapters(over, stretches)
        events += melody
        if band:
            while walked_until < chorus.end:
                walked_until, played = next(bass)
                events += played
            events += next(chords)
            events += drums(chorus.begin, chorus.form.bars, outline.meter, chorus.ratio, chance)
        if chorus.number == len(outline.tempos):
            yield replace(whole, events=_in_order(events), chapters=tuple(told))
        elif chorus.end - parted >= _LEAST * outline.meter.bar:
            # What of the next chorus comes before its bar line is not known yet, so this part ends before that.
            parted = chorus.end - max(_EARLY, outline.pickup)
            now = tuple(chapter for chapter in told if chapter.beat < parted)
            yield replace(whole, events=_in_order(event for event in events if event.beat < parted), chapters=now)
            events = [event for event in events if event.beat >= parted]
            told = told[len(now) :]


def _in_order(events: Iterable[Event]) -> tuple[Event, ...]:
    number = {name: place for place, name in enumerate(INSTRUMENTS)}
    return tuple(sorted(events, key=lambda event: (float(event.beat), number[event.instrument])))


def _sections(choruses: Iterable[Chorus], loop: bool) -> Iterator[list[Stretch]]:
    """The chords of each chorus, each with the one that follows it; in a loop the first follows the last."""
    opening: Chord | None = None
    for chorus, following in with_next(choruses):
        changes = chorus.form.changes
        opening = opening or changes[0].chord
        after = following.form.changes[0].chord if following else opening if loop else None
        ends = [*(chorus.begin + change.beat for change in changes[1:]), chorus.end]
        chords = [*(change.chord for change in changes[1:]), after]
        yield [
            Stretch(one.chord, chorus.form.key, chorus.begin + one.beat, end, chorus.tempo, then, chorus.ratio)
            for one, end, then in zip(changes, ends, chords, strict=True)
        ]


def _voiced(sections: Iterable[Sequence[Stretch]]) -> Iterator[tuple[Sequence[Stretch], Sequence[Voicing], bool]]:
    """The chords of each chorus as they are voiced, led into the chorus that follows, and whether one does."""
    before: Voicing | None = None
    for stretches, following in with_next(sections):
        led = voicings([*stretches, *(following or ())[:1]], before=before)[: len(stretches)]
        yield stretches, led, following is not None
        before = led[-1]
