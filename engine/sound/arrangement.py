"""Lines with a rhythm section: once, in a loop, through the keys, faster and faster, with room for an answer."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from random import Random

from engine.lines.line import Change, Line, Note, merged
from engine.lines.moving import keys_of
from engine.lines.progression import Progression, in_key, in_order
from engine.sound.bass import walking
from engine.sound.comping import comping
from engine.sound.drums import count_in as clicks
from engine.sound.drums import drums
from engine.sound.event import (
    FASTEST,
    INSTRUMENTS,
    SLOWEST,
    Arrangement,
    Chapter,
    Event,
    as_json,
    seconds,
)
from engine.sound.feel import ratio_for, swung_notes
from engine.sound.figure import after_cadence, in_turn, of_figure
from engine.sound.laying import Laid, as_progression, laid, length_of, over_their_chords
from engine.sound.stretch import Stretch
from engine.sound.voicing import voicings
from engine.theory.bad_input import BadInput
from engine.theory.key import Key

__all__ = [
    "Arrangement", "Chapter", "Event", "after_cadence", "as_json", "chorus_bars", "in_turn", "of_figure", "of_line",
    "seconds", "with_the_band",
]  # fmt: skip
USUAL_TEMPO = 120
_ON, _OFF = 0.78, 0.84  # how loud a line is on the beat and off it


@dataclass(frozen=True, slots=True)
class _Chorus:
    """Once through the form: in a key, at a tempo, from ``begin``, with the lines laid over it."""

    number: int
    form: Progression
    begin: Fraction
    tempo: int
    ratio: Fraction
    lines: tuple[Laid, ...]

    @property
    def end(self) -> Fraction:
        """The beat of its last bar line."""
        return self.begin + self.form.length


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
    now = _in_range(tempo or line.tempo or USUAL_TEMPO)
    form = as_progression(line)
    lead = max(count_in * form.meter.bar, _pickup([line]))
    own = Laid(line, 0, Fraction(0), form.length)
    chorus = _Chorus(1, form, lead, now, ratio_for(form.meter, now, swing), (own,))
    return _played([chorus], count_in, lead, band, loop, seed)


def with_the_band(
    lines: Sequence[Line],
    progression: Progression | None = None,
    keys: Sequence[Key] = (),
    order: str = "fourths",
    tempo: int = USUAL_TEMPO,
    rise: int = 0,
    choruses: int = 0,
    call_and_response: bool = False,
    count_in: int = 1,
    seed: int = 1,
    swing: Fraction | None = None,
    loop: bool = True,
) -> Arrangement:
    """Lines over a progression, or over their own chords where it is None, chorus after chorus, a key each.

    ``keys`` are taken by their tonics, in ``order`` (one of ``KEY_ORDERS``) from the first of them on; none at all is
    all twelve, from the progression's own. ``tempo`` in quarter notes a minute grows by ``rise`` each
    chorus within 40 to 320. ``choruses``: 0 is one in every key. With ``call_and_response`` as many beats as a line
    lasts stay free after it. ``count_in``: bars of clicks. BadInput where there is neither a line nor a progression.
    """
    form = _form(lines, progression, call_and_response)
    through = _keys(form, keys, order, seed)
    lead = count_in * form.meter.bar
    made: list[_Chorus] = []
    turn = 0
    for number in range(choruses or len(through)):
        own = in_key(form, through[number % len(through)])
        found = tuple(laid(lines, own, turn, call_and_response))
        turn += len(found)
        if number == 0:
            lead = max(lead, _pickup([one.line for one in found[:1] if one.begin == 0]))
        now = _in_range(tempo + rise * number)
        begin = lead + number * form.length
        made.append(_Chorus(number + 1, own, begin, now, ratio_for(form.meter, now, swing), found))
    return _played(made, count_in, lead, True, loop, seed)


def chorus_bars(lines: Sequence[Line], progression: Progression | None, call_and_response: bool = False) -> int:
    """How many bars a chorus of ``with_the_band`` has."""
    return _form(lines, progression, call_and_response).bars


def _form(lines: Sequence[Line], progression: Progression | None, answered: bool) -> Progression:
    """What a chorus goes through, in its own key."""
    if progression is None and not lines:
        raise BadInput("", 1, "is nothing to play", "give a line, or a progression for the band")
    form = progression or as_progression(lines[0])
    return _long_enough(form, [line for line in lines if line.meter == form.meter], answered)


def _keys(form: Progression, keys: Sequence[Key], order: str, seed: int) -> tuple[Key, ...]:
    """The keys to go through, in the form's own mode and as they are usually written."""
    usual = {key.tonic.pitch_class: key for key in keys_of(form.key.mode)}
    wanted = [key.tonic.pitch_class for key in keys or (form.key, *usual.values())]
    return in_order([usual[tonic] for tonic in dict.fromkeys(wanted)], order, seed)


def _long_enough(form: Progression, lines: Sequence[Line], answered: bool) -> Progression:
    """The form as many times as the longest line needs, and its answer; once more where only then it has its chords."""
    room = max((length_of(line) for line in lines), default=form.length) * (2 if answered and lines else 1)
    times = -int(-room // form.length)
    enough = _times(form, times)
    if answered and not over_their_chords(lines, enough, 0, True):
        longer = _times(form, times + 1)
        return longer if over_their_chords(lines, longer, 0, True) else enough
    return enough


def _times(form: Progression, times: int) -> Progression:
    changes = [Change(one.chord, one.beat + turn * form.length) for turn in range(times) for one in form.changes]
    return replace(form, changes=merged(tuple(changes)), length=form.length * times)


def _pickup(lines: Sequence[Line]) -> Fraction:
    """The whole bars that the longest pickup needs."""
    return max((-(line.begin // line.meter.bar) * line.meter.bar for line in lines), default=Fraction(0))


def _in_range(tempo: int) -> int:
    return max(SLOWEST, min(FASTEST, tempo))


def _played(
    choruses: Sequence[_Chorus], counted: int, lead: Fraction, band: bool, loop: bool, seed: int
) -> Arrangement:
    meter, end = choruses[0].form.meter, choruses[-1].end
    events = [*clicks(counted, lead, meter)]
    stretches = _stretches(choruses, loop)
    if band:
        events += walking(stretches, meter, 3 * seed, loop)
        events += comping(stretches, voicings(stretches), meter, 3 * seed + 1)
        chance = Random(3 * seed + 2)
        for chorus in choruses:
            events += drums(chorus.begin, chorus.form.bars, meter, chorus.ratio, chance)
    events += _line_events(choruses, lead, end, loop)
    tempos = [(Fraction(0), choruses[0].tempo)]
    for chorus in choruses:
        if chorus.tempo != tempos[-1][1]:
            tempos.append((chorus.begin, chorus.tempo))
    number = {name: place for place, name in enumerate(INSTRUMENTS)}
    ordered = sorted(events, key=lambda event: (float(event.beat), number[event.instrument]))
    chapters = tuple(_chapters(choruses, stretches, lead))
    return Arrangement(tuple(ordered), tuple(tempos), end, chapters, (lead, end) if loop else None)


def _stretches(choruses: Sequence[_Chorus], loop: bool) -> list[Stretch]:
    """The chords of all choruses, each with the one that follows it; in a loop the first follows the last."""
    placed = [
        (change.chord, chorus, chorus.begin + change.beat) for chorus in choruses for change in chorus.form.changes
    ]
    ends = [*(begin for _, _, begin in placed[1:]), choruses[-1].end]
    following = [*(chord for chord, _, _ in placed[1:]), placed[0][0] if loop else None]
    return [
        Stretch(chord, chorus.form.key, begin, end, chorus.tempo, after, chorus.ratio)
        for (chord, chorus, begin), end, after in zip(placed, ends, following, strict=True)
    ]


def _line_events(choruses: Sequence[_Chorus], lead: Fraction, end: Fraction, loop: bool) -> Iterator[Event]:
    """The lines' notes, one at a time: a pickup ends what still sounds, and waits where a line is not over."""
    played: list[tuple[Fraction, Fraction, Note, int]] = []
    laid_out = [(one, chorus.begin + one.begin, chorus.ratio) for chorus in choruses for one in chorus.lines]
    if loop and laid_out and laid_out[0][1] == lead and laid_out[0][0].line.begin < 0:
        # The first pickup leads back to the beginning, too.
        laid_out.append((laid_out[0][0], end, laid_out[0][2]))
    for one, begin, ratio in laid_out:
        times = swung_notes(one.line.notes, ratio)
        for index, (note, (start, stop)) in enumerate(zip(one.line.notes, times, strict=True)):
            at, until = begin + start, min(begin + stop, end)
            if at >= end or (note.start < 0 and played and at <= played[-1][0]):
                continue
            if played and played[-1][1] > at:
                played[-1] = (played[-1][0], at, *played[-1][2:])
            played.append((at, until, note, index))
    for at, until, note, index in played:
        loudness = _ON if note.start.denominator == 1 else _OFF
        yield Event(at, until - at, note.pitch.midi, loudness, "guitar", index)


def _chapters(choruses: Sequence[_Chorus], stretches: Sequence[Stretch], lead: Fraction) -> Iterator[Chapter]:
    """What is in force from each chord, each line and each answer on."""
    if lead:
        yield Chapter(Fraction(0), stretches[0].key, stretches[0].chord, 0)
    place = 0
    for chorus in choruses:
        turns: list[tuple[Fraction, int | None, bool]] = [(chorus.begin, None, False)]
        for one in chorus.lines:
            begin = chorus.begin + one.begin
            turns += [
                (begin, one.number, False),
                (begin + one.own, None, bool(one.free)),
                (begin + one.own + one.free, None, False),
            ]
        last: Chapter | None = None
        beats = {turn[0] for turn in turns} | {one.begin for one in stretches if chorus.begin <= one.begin < chorus.end}
        for beat in sorted(beat for beat in beats if beat < chorus.end):
            while stretches[place].end <= beat:
                place += 1
            _, line, free = [turn for turn in turns if turn[0] <= beat][-1]
            chapter = Chapter(beat, chorus.form.key, stretches[place].chord, chorus.number, line, free)
            if last is None or replace(last, beat=beat) != chapter:
                yield chapter
            last = chapter
