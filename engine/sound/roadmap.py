"""The roadmap of a set: which choruses are played, each in a key, at a tempo, with lines laid over it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from engine.lines.line import Change, Line, Meter, merged
from engine.lines.moving import keys_of
from engine.lines.progression import GIVEN, Progression, in_key, in_order
from engine.sound.bass import BY_TEMPO
from engine.sound.event import FASTEST, SLOWEST
from engine.sound.feel import ratio_for
from engine.sound.laying import Laid, as_progression, laid, length_of, over_their_chords, phrase_of
from engine.theory.bad_input import BadInput
from engine.theory.key import Key

USUAL_TEMPO = 120


@dataclass(frozen=True, slots=True)
class Roadmap:
    """Lines over a progression, or over the first one's own chords where it is None, chorus after chorus, a key each.

    ``keys`` are taken by their tonics, in ``order`` (one of ``KEY_ORDERS``) from the first of them on; none at all is
    all twelve, from the progression's own. ``tempo`` in quarter notes a minute grows by ``rise`` each
    chorus within 40 to 320. ``choruses``: 0 is one in every key. With ``answered`` as many bars as a line's phrase has
    stay free after it. ``count_in``: bars of clicks. ``swing``: the ratio of two eighths, the tempo's own where None,
    1 for straight. ``bass``: one of ``FEELS``. One ``seed`` plays one thing.
    """

    lines: Sequence[Line]
    progression: Progression | None = None
    keys: Sequence[Key] = ()
    order: str = GIVEN
    tempo: int = USUAL_TEMPO
    rise: int = 0
    choruses: int = 0
    answered: bool = False
    count_in: int = 1
    seed: int = 1
    swing: Fraction | None = None
    loop: bool = True
    bass: str = BY_TEMPO

    @property
    def form(self) -> Progression:
        """What a chorus goes through, in its own key; BadInput where there is neither a line nor a progression."""
        if self.progression is None and not self.lines:
            raise BadInput("", 1, "is nothing to play", "give a line, or a progression for the band")
        form = self.progression or _in_phrases(as_progression(self.lines[0]))
        return _long_enough(form, [line for line in self.lines if line.meter == form.meter], self.answered)

    def through(self, form: Progression) -> tuple[Key, ...]:
        """The keys, each once, in the order in which they come: in the form's own mode, as they are usually written."""
        usual = {key.tonic.pitch_class: key for key in keys_of(form.key.mode)}
        wanted = [key.tonic.pitch_class for key in self.keys or (form.key, *usual.values())]
        order = "fourths" if self.order == GIVEN and not self.keys else self.order
        return in_order([usual[tonic] for tonic in dict.fromkeys(wanted)], order, self.seed)


@dataclass(frozen=True, slots=True)
class Chorus:
    """Once through the form: in a key, at a tempo, from ``begin``."""

    number: int
    form: Progression
    begin: Fraction
    tempo: int
    ratio: Fraction

    @property
    def end(self) -> Fraction:
        """The beat of its last bar line."""
        return self.begin + self.form.length


Over = tuple[Chorus, Sequence[Laid]]


@dataclass(frozen=True, slots=True)
class Outline:
    """What of a roadmap is known before it is worked out.

    ``counted``: bars of clicks; ``lead``: the beat of the first chorus; ``length`` of each, and the tempo of each;
    ``pickup``: the beats that a line may begin before its chorus.
    """

    counted: int
    lead: Fraction
    meter: Meter
    length: Fraction
    tempos: tuple[int, ...]
    pickup: Fraction = Fraction(0)

    @property
    def end(self) -> Fraction:
        """The beat of the last bar line."""
        return self.lead + len(self.tempos) * self.length

    @property
    def changes(self) -> tuple[tuple[Fraction, int], ...]:
        """From which beat on which tempo counts, from 0 on."""
        found = [(Fraction(0), self.tempos[0])]
        for number, tempo in enumerate(self.tempos):
            if tempo != found[-1][1]:
                found.append((self.lead + number * self.length, tempo))
        return tuple(found)


def outlined(road: Roadmap) -> Outline:
    """A roadmap in outline."""
    form = road.form
    tempos = [in_range(road.tempo + road.rise * number) for number in range(road.choruses or len(road.through(form)))]
    lead, early = road.count_in * form.meter.bar, pickup(road.lines)
    if early:
        first = laid(road.lines, in_key(form, road.through(form)[0]), 0, road.answered)
        lead = max(lead, pickup([one.line for one in first[:1] if one.begin == 0]))
    return Outline(road.count_in, lead, form.meter, form.length, tuple(tempos), early)


def choruses_of(road: Roadmap) -> Iterator[Chorus]:
    """The choruses of a roadmap, each worked out when it is asked for."""
    form, outline = road.form, outlined(road)
    through = road.through(form)
    for number, tempo in enumerate(outline.tempos):
        own = in_key(form, through[number % len(through)])
        begin = outline.lead + number * form.length
        yield Chorus(number + 1, own, begin, tempo, ratio_for(form.meter, tempo, road.swing))


def laid_over(road: Roadmap, choruses: Iterable[Chorus]) -> Iterator[Over]:
    """The choruses of a roadmap with its lines, which take turns."""
    turn = 0
    for chorus in choruses:
        found = laid(road.lines, chorus.form, turn, road.answered)
        yield chorus, found
        turn += len(found)


def of_one(line: Line, tempo: int, swing: Fraction | None, count_in: int) -> tuple[Outline, Over]:
    """A line once over its own chords, as the only chorus."""
    form, now, early = as_progression(line), in_range(tempo), pickup([line])
    outline = Outline(count_in, max(count_in * form.meter.bar, early), form.meter, form.length, (now,), early)
    chorus = Chorus(1, form, outline.lead, now, ratio_for(form.meter, now, swing))
    return outline, (chorus, [Laid(line, 0, Fraction(0), form.length)])


def pickup(lines: Sequence[Line]) -> Fraction:
    """The whole bars that the longest pickup needs."""
    return max((-(line.begin // line.meter.bar) * line.meter.bar for line in lines), default=Fraction(0))


def in_range(tempo: int) -> int:
    """The nearest tempo that is played."""
    return max(SLOWEST, min(FASTEST, tempo))


def _in_phrases(form: Progression) -> Progression:
    """The form with its last chord held to the end of the phrase."""
    return replace(form, length=phrase_of(form.length, form.meter))


def _long_enough(form: Progression, lines: Sequence[Line], answered: bool) -> Progression:
    """The form as many times as the longest line needs, and its answer; once more where only then it has its chords."""
    rooms = [2 * phrase_of(length_of(line), line.meter) if answered else length_of(line) for line in lines]
    times = -int(-max(rooms, default=form.length) // form.length)
    enough = _times(form, times)
    if answered and not over_their_chords(lines, enough, 0, True):
        longer = _times(form, times + 1)
        return longer if over_their_chords(lines, longer, 0, True) else enough
    return enough


def _times(form: Progression, times: int) -> Progression:
    changes = [Change(one.chord, one.beat + turn * form.length) for turn in range(times) for one in form.changes]
    return replace(form, changes=merged(tuple(changes)), length=form.length * times)
