"""With the band: what is set up there, as it stands in a link, and the arrangement that it makes."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from functools import lru_cache

from engine.drills.options import LARGEST_SEED, LONGEST_LINK, VERSION, of_newer
from engine.lines.line import Line
from engine.lines.progression import GIVEN, KEY_ORDERS, PROGRESSIONS, Progression, parse_progression
from engine.practice.line_in_link import LONGEST_LINE, from_link, handed_on, quoted, to_link
from engine.practice.own_lines import OwnLines
from engine.practice.setting import (
    COUNT_IN,
    SWING,
    TEMPO,
    Setting,
    not_used,
    number,
    one_of,
    part_of_link,
    switch,
    told,
)
from engine.sound.arrangement import USUAL_TEMPO, Arrangement, in_parts, together
from engine.sound.bass import BY_TEMPO, FEELS, IN_TWO, halves
from engine.sound.laying import over_their_chords
from engine.sound.roadmap import Roadmap
from engine.theory.bad_input import BadInput
from engine.theory.key import Key, parse_key

MOST_LINES = 6
ALONE = "blues"  # what the band plays where nobody has said what
MOST_CHORUSES = 48
MOST_RISE = 40
MOST_BARS = 480  # of all choruses together: fifteen of thirty-two bars, some twelve minutes
LONGEST = LONGEST_LINK + MOST_LINES * LONGEST_LINE
NONE_OWN = OwnLines()


@dataclass(frozen=True, slots=True)
class Band:
    """The set-up. ``over``: a name of ``PROGRESSIONS``, or chords as they were typed; "" is the line's own chords.

    No ``keys``: all twelve. ``tempo`` in quarter notes a minute, ``rise`` more each chorus; ``choruses`` 0: one in
    every key. ``count_in``: bars. ``swing``: the ratio of two eighths, None for the tempo's own. ``bass``: one of
    ``FEELS``.
    """

    lines: tuple[Line, ...] = ()
    over: str = ""
    keys: tuple[Key, ...] = ()
    order: str = GIVEN
    tempo: int = USUAL_TEMPO
    rise: int = 0
    choruses: int = 0
    response: bool = False
    count_in: int = 1
    swing: Fraction | None = None
    bass: str = BY_TEMPO
    seed: int = 1

    @property
    def progression(self) -> Progression | None:
        """What the band plays, None for the line's own chords."""
        if not self.over:
            return None
        return PROGRESSIONS.get(self.over) or parse_progression(self.over)


def with_chords(band: Band) -> Band:
    """The same where there is anything to play; else the band plays by itself."""
    return band if band.over or band.lines else replace(band, over=ALONE)


def mode_of(band: Band) -> str:
    """Whether the keys to go through are major or minor ones."""
    return (band.progression or band.lines[0]).key.mode if band.over or band.lines else "major"


@dataclass(frozen=True, slots=True)
class BandLink:
    """What a link says: the ``band``, the settings ``set``, and a sentence for each part that was ``ignored``."""

    band: Band
    set: tuple[str, ...] = ()
    ignored: tuple[str, ...] = ()


def _over(text: str) -> str:
    if text not in PROGRESSIONS:
        parse_progression(text)
    return text


def _keys(text: str) -> tuple[Key, ...]:
    return tuple(dict.fromkeys(parse_key(name) for name in text.split(",")))


SETTINGS = (
    Setting("over", "over", "blues", "a progression, or chords such as Dm7 G7 | Cmaj7", _over),
    Setting("keys", "keys", "C,F,Bb", "the keys to go through", _keys, lambda keys: ",".join(map(str, keys))),
    Setting("order", "order", "fourths", "their order; given: as they are named", one_of("order of keys", KEY_ORDERS)),
    TEMPO,
    number("rise", "rise", "4", "how much faster each chorus is", "rise in tempo", 0, MOST_RISE),
    number("choruses", "choruses", "12", "how many choruses", "number of choruses", 1, MOST_CHORUSES),
    switch("response", "response", "on: as many bars as the line has stay free after it"),
    COUNT_IN,
    SWING,
    Setting("bass", "bass", "two", "how the bass plays, auto for by the tempo", one_of("way for the bass", FEELS)),
    number("seed", "seed", "7", "the same seed plays the same", "seed", 0, LARGEST_SEED),
)
BY_NAME = {setting.name: setting for setting in SETTINGS}


def read_band(text: str, own: OwnLines = NONE_OWN) -> BandLink:
    """A set-up from a link, leniently: whatever cannot be read is left out and said in a sentence each.

    ``own``: the lines of this device, which a link may name by their ``id``.
    """
    if len(text) > LONGEST:
        return BandLink(Band(), ignored=(f"The link is longer than {LONGEST:,} signs; it was left out.",))
    band = Band()
    seen: list[str] = []
    ignored = of_newer(text.removeprefix("#"))
    for part in text.removeprefix("#").split("&"):
        name, _, value = part.partition("=")
        if not part or name == "v":
            continue
        try:
            band = _with(band, name, value, own)
            seen.append(name)
        except BadInput as bad:
            ignored.append(not_used(bad, BY_NAME.get(name)))
    return BandLink(band, tuple(dict.fromkeys(seen)), tuple(ignored))


def _with(band: Band, name: str, value: str, own: OwnLines) -> Band:
    """The set-up with one part of a link."""
    if name == "line":
        return with_line(band, _linked(value))
    if name == "id":
        return with_line(band, own_line(own, value))
    if name not in BY_NAME:
        raise BadInput(name, 1, "is no setting", f"{', '.join(BY_NAME)} are possible")
    return part_of_link(band, BY_NAME, name, value)


# Each request has the set-up with its lines anew.
@lru_cache(maxsize=4 * MOST_LINES)
def _linked(value: str) -> Line:
    return from_link(value)


def own_line(own: OwnLines, name: str) -> Line:
    """A line of this device by its id, as it is handed on; BadInput where it is not there or too much for a link."""
    found = own.find(name)
    if found is None:
        problem, instead = "names a line that is not on this device", "ask for a link that carries the line itself"
    elif found in own.deleted:
        problem, instead = "names a line that was deleted", "bring it back on the page of your own lines"
    elif found.line is None:
        problem, instead = "names a line whose text cannot be read", "mend it on the page of your own lines"
    else:
        line = handed_on(found.line)
        to_link(line)
        return line
    raise BadInput(name, 1, problem, instead)


def with_line(band: Band, line: Line) -> Band:
    """The set-up with one line more; BadInput where there are enough."""
    if len(band.lines) == MOST_LINES:
        raise BadInput("line", 1, "is one too many", f"{MOST_LINES} lines are the most")
    return replace(band, lines=(*band.lines, line))


def with_keys(band: Band, before: Sequence[Key]) -> Band:
    """The set-up with its keys in the order in which they were chosen: first those that were there ``before``."""
    stayed = [key for key in before if key.tonic.pitch_class in {one.tonic.pitch_class for one in band.keys}]
    there = {key.tonic.pitch_class for key in stayed}
    return replace(band, keys=(*stayed, *(key for key in band.keys if key.tonic.pitch_class not in there)))


def write_band(band: Band) -> str:
    """The inverse, without what is as usual; BadInput where a line is too much to hand on."""
    parts = [f"line={to_link(line)}" for line in band.lines]
    parts += [f"{name}={quoted(text)}" for name, text in told(band, Band(), SETTINGS).items()]
    return "&".join([f"v={VERSION}", *parts])


# --- what is played ------------------------------------------------------------------------


class Arranged:
    """What a set-up plays, in parts of about a chorus; each is worked out when it is first asked for, and kept.

    ``lines``: those that are played. ``keys``: that of each chorus. ``said``: a sentence for each thing that is not as
    set. BadInput where there is neither a line nor a progression.
    """

    def __init__(self, band: Band) -> None:
        form = _roadmap(band).form
        self.lines = tuple(line for line in band.lines if line.meter == form.meter)
        most = max(1, MOST_BARS // form.bars)
        choruses = band.choruses or len(band.keys) or 12
        road = replace(_roadmap(band), lines=self.lines, choruses=min(choruses, most))
        through = road.through(form)
        self.keys = tuple(through[number % len(through)] for number in range(road.choruses))
        self.said = (*_left_out(band, form), *_elsewhere(band, self.lines, form), *_too_many(choruses, most, form))
        self._coming = in_parts(road)
        self._made: list[Arrangement] = []

    def part(self, number: int) -> Arrangement:
        """A part, from 0 on; BadInput for one that there is not."""
        while len(self._made) <= number:
            part = next(self._coming, None)
            if part is None:
                raise BadInput(str(number), 1, "is no part of what is played", "begin anew")
            self._made.append(part)
        return self._made[number]

    def is_last(self, number: int) -> bool:
        """Whether no part comes after one."""
        return self.part(number).chapters[-1].chorus == len(self.keys)

    @property
    def arrangement(self) -> Arrangement:
        """All parts as one."""
        number = 0
        while not self.is_last(number):
            number += 1
        return together(self._made)


# Asked for a part at a time; where nothing is remembered, a part is worked out with those before it.
@lru_cache(maxsize=2)
def arranged(band: Band) -> Arranged:
    """What the band plays."""
    return Arranged(band)


def _roadmap(band: Band) -> Roadmap:
    return Roadmap(
        band.lines, band.progression, band.keys, band.order, band.tempo, band.rise, band.choruses, band.response,
        band.count_in, band.seed, band.swing, bass=band.bass,
    )  # fmt: skip


def through(band: Band) -> tuple[Key, ...]:
    """The keys in the order in which they are played, each once."""
    road = _roadmap(band)
    return road.through(road.form)


def _left_out(band: Band, form: Progression) -> Iterator[str]:
    for line in band.lines:
        if line.meter != form.meter:
            yield f"{line.title or 'A line'} is in {line.meter} and was left out, the band plays in {form.meter}."
    if band.bass == IN_TWO and not halves(form.meter):
        yield f"A bar of {form.meter} has no two halves, so the bass walks."


def _elsewhere(band: Band, lines: Sequence[Line], form: Progression) -> Iterator[str]:
    """What becomes of lines whose chords do not come in the progression."""
    if band.progression is None:
        lines = lines[1:]
    strange = [line for line in lines if not over_their_chords([line], form, 0, band.response)]
    alone = len(strange) == len(lines) and band.progression is not None
    for line in strange:
        told = "so it is played from the first bar on" if alone else "so it is not played"
        yield f"The chords of {line.title or 'a line'} do not come in this progression, {told}."


def _too_many(choruses: int, most: int, form: Progression) -> Iterator[str]:
    if choruses > most:
        yield f"{choruses} choruses of {form.bars} bars are too many at once; the band plays {most} and begins anew."
