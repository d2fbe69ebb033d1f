"""With the band: what is set up there, as it stands in a link, and the arrangement that it makes."""

from __future__ import annotations

from dataclasses import dataclass, replace
from fractions import Fraction

from engine.drills.options import LARGEST_SEED, LONGEST_LINK
from engine.lines.line import Line
from engine.lines.progression import KEY_ORDERS, PROGRESSIONS, Progression, parse_progression
from engine.practice.line_in_link import LONGEST_LINE, from_link, quoted, to_link
from engine.practice.setting import COUNT_IN, SWING, TEMPO, Setting, one_of, part_of_link, switch, told, whole
from engine.sound.arrangement import USUAL_TEMPO, Arrangement, chorus_bars, with_the_band
from engine.theory.bad_input import BadInput, shown
from engine.theory.key import Key, parse_key

MOST_LINES = 6
ALONE = "blues"  # what the band plays where nobody has said what
MOST_CHORUSES = 48
MOST_RISE = 40
MOST_BARS = 480  # of all choruses together: fifteen of thirty-two bars, some twelve minutes
LONGEST = LONGEST_LINK + MOST_LINES * LONGEST_LINE


@dataclass(frozen=True, slots=True)
class Band:
    """The set-up. ``over``: a name of ``PROGRESSIONS``, or chords as they were typed; "" is the line's own chords.

    No ``keys``: all twelve. ``tempo`` in quarter notes a minute, ``rise`` more each chorus; ``choruses`` 0: one in
    every key. ``count_in``: bars. ``swing``: the ratio of two eighths, None for the tempo's own.
    """

    lines: tuple[Line, ...] = ()
    over: str = ""
    keys: tuple[Key, ...] = ()
    order: str = "fourths"
    tempo: int = USUAL_TEMPO
    rise: int = 0
    choruses: int = 0
    response: bool = False
    count_in: int = 1
    swing: Fraction | None = None
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


@dataclass(frozen=True, slots=True)
class Arranged:
    """``arrangement``: what is played, with ``lines``; ``said``: a sentence for each thing that is not as set."""

    arrangement: Arrangement
    lines: tuple[Line, ...] = ()
    said: tuple[str, ...] = ()


def _over(text: str) -> str:
    if text not in PROGRESSIONS:
        parse_progression(text)
    return text


def _keys(text: str) -> tuple[Key, ...]:
    return tuple(dict.fromkeys(parse_key(name) for name in text.split(",")))


SETTINGS = (
    Setting("over", "over", "blues", "a progression, or chords such as Dm7 G7 | Cmaj7", _over),
    Setting("keys", "keys", "C,F,Bb", "the keys to go through", _keys, lambda keys: ",".join(map(str, keys))),
    Setting("order", "order", "fourths", "the order of the keys", one_of("order of keys", KEY_ORDERS)),
    TEMPO,
    Setting("rise", "rise", "4", "how much faster each chorus is", whole("rise in tempo", 0, MOST_RISE)),
    Setting("choruses", "choruses", "12", "how many choruses", whole("number of choruses", 1, MOST_CHORUSES)),
    switch("response", "response", "on: as long as the line stays free after it"),
    COUNT_IN,
    SWING,
    Setting("seed", "seed", "7", "the same seed plays the same", whole("seed", 0, LARGEST_SEED)),
)
BY_NAME = {setting.name: setting for setting in SETTINGS}


def read_band(text: str) -> BandLink:
    """A set-up from a link, leniently: whatever cannot be read is left out and said in a sentence each."""
    if len(text) > LONGEST:
        return BandLink(Band(), ignored=(f"The link is longer than {LONGEST:,} signs; it was left out.",))
    band = Band()
    seen: list[str] = []
    ignored: list[str] = []
    for part in text.removeprefix("#").split("&"):
        name, _, value = part.partition("=")
        if not part or name == "v":
            continue
        try:
            band = _with(band, name, value)
            seen.append(name)
        except BadInput as bad:
            ignored.append(f'"{shown(bad.token)}" {bad.problem} and was left out of {shown(name)}: {bad.instead}.')
    return BandLink(band, tuple(dict.fromkeys(seen)), tuple(ignored))


def _with(band: Band, name: str, value: str) -> Band:
    """The set-up with one part of a link."""
    if name == "line":
        return with_line(band, from_link(value))
    if name not in BY_NAME:
        raise BadInput(name, 1, "is nothing that the band knows", f"set one of {', '.join(BY_NAME)}")
    return part_of_link(band, BY_NAME, name, value)


def with_line(band: Band, line: Line) -> Band:
    """The set-up with one line more; BadInput where there are enough."""
    if len(band.lines) == MOST_LINES:
        raise BadInput("line", 1, "is one too many", f"{MOST_LINES} lines are the most")
    return replace(band, lines=(*band.lines, line))


def write_band(band: Band) -> str:
    """The inverse, without what is as usual; BadInput where a line is too much to hand on."""
    parts = [f"line={to_link(line)}" for line in band.lines]
    parts += [f"{name}={quoted(text)}" for name, text in told(band, Band(), SETTINGS).items()]
    return "&".join(["v=1", *parts])


def arranged(band: Band) -> Arranged:
    """What the band plays. BadInput where there is neither a line nor a progression."""
    progression = band.progression
    said = []
    meter = (progression or band.lines[0]).meter if progression or band.lines else None
    lines = [line for line in band.lines if line.meter == meter]
    for line in band.lines:
        if line.meter != meter:
            said.append(f"{line.title or 'A line'} is in {line.meter} and was left out, the band plays in {meter}.")
    bars = chorus_bars(lines, progression, band.response)
    choruses = band.choruses or len(band.keys) or 12
    most = max(1, MOST_BARS // bars)
    if choruses > most:
        said.append(f"{choruses} choruses of {bars} bars are too many at once; the band plays {most} and begins anew.")
    played = with_the_band(
        lines, progression, band.keys, band.order, band.tempo, band.rise, min(choruses, most), band.response,
        band.count_in, band.seed, band.swing,
    )  # fmt: skip
    return Arranged(played, tuple(lines), tuple(said))
