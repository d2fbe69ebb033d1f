"""How a line is to be heard: tempo, swing, count-in, whether the band is there, whether it goes on and on."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from engine.lines.line import Line
from engine.practice.setting import COUNT_IN, SWING, TEMPO, switch
from engine.sound.arrangement import USUAL_TEMPO, Arrangement, of_line
from engine.sound.event import FASTEST, SLOWEST

TEMPO_STEP = 4


@dataclass(frozen=True, slots=True)
class Hearing:
    """``tempo`` in quarter notes a minute, None for the line's own. ``count_in``: bars.

    ``swing``: the ratio of two eighths, None for the tempo's own.
    """

    tempo: int | None = None
    swing: Fraction | None = None
    count_in: int = 0
    band: bool = True
    loop: bool = False


AS_USUAL = Hearing()
HEARD = (
    TEMPO, SWING, COUNT_IN,
    switch("band", "band", "with the band, or the line alone"),
    switch("loop", "loop", "again and again"),
)  # fmt: skip
BY_NAME = {setting.name: setting for setting in HEARD}


def tempo_of(hearing: Hearing, line: Line) -> int:
    """The tempo that the line is heard in."""
    return within(hearing.tempo or line.tempo or USUAL_TEMPO)


def within(tempo: int) -> int:
    """The nearest tempo that can be played."""
    return max(SLOWEST, min(FASTEST, tempo))


def stepped(tempo: int, step: str) -> int:
    """A tempo after a button that makes it slower or faster."""
    return within(tempo + (TEMPO_STEP if step == "+" else -TEMPO_STEP))


def heard(hearing: Hearing, line: Line) -> Arrangement:
    """What sounds."""
    tempo = tempo_of(hearing, line)
    return of_line(line, tempo, hearing.swing, hearing.band, hearing.loop, hearing.count_in)
