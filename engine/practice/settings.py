"""What a player has set for every page: the instrument, the hand that frets it, and what has to do with sound.

Kept on the device as ``{"v": 1, "tuning", "frets", "left", "stretch", "quiet", "late"}``: ``tuning`` is a
name of ``INSTRUMENTS`` or open strings from low to high, such as ``E2,A2,D3,G3,B3,E4``. Whatever is missing is as it
came, so what was kept before there were as many still counts.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, TypeGuard

from engine.neck.hand import REACH, WIDEST
from engine.neck.instrument import FRETS, GUITAR, Instrument, instrument_of, tuning_of
from engine.practice.latency import MOST_LATE
from engine.theory.bad_input import BadInput

VERSION = 1


@dataclass(frozen=True, slots=True)
class Settings:
    """``stretch``: the widest distance in frets, the highest less the lowest, without moving: 3, 4 or 5.

    ``left_handed`` turns pictures round and changes nothing else. ``quiet``: no drills by ear in mixed rounds and in
    lists. ``late``: milliseconds by which sound comes later than the browser knows, 0 to 500.
    """

    instrument: Instrument = GUITAR
    left_handed: bool = False
    stretch: int = WIDEST
    quiet: bool = False
    late: int = 0

    @property
    def is_as_built(self) -> bool:
        """Whether the necks in the pages, as they were built, are this player's."""
        return (self.instrument, self.stretch) == (AS_IT_CAME.instrument, AS_IT_CAME.stretch)


AS_IT_CAME = Settings()


def read_settings(found: object) -> Settings:
    """What was kept; whatever of it cannot be read is as it came."""
    if not isinstance(found, Mapping):
        return AS_IT_CAME
    stretch, late = found.get("stretch"), found.get("late")
    return Settings(
        _instrument(found.get("tuning"), found.get("frets")),
        found.get("left") is True,
        stretch if _is_whole(stretch) and stretch in REACH else WIDEST,
        found.get("quiet") is True,
        late if _is_whole(late) and 0 <= late <= MOST_LATE else 0,
    )


def _instrument(tuning: object, frets: object) -> Instrument:
    there = frets if _is_whole(frets) and frets in FRETS else None
    try:
        instrument = instrument_of(tuning if isinstance(tuning, str) else GUITAR.name)
    except BadInput:
        instrument = GUITAR
    return instrument_of(tuning_of(instrument), there or instrument.frets)


def _is_whole(found: object) -> TypeGuard[int]:
    return isinstance(found, int) and not isinstance(found, bool)


def settings_as_json(settings: Settings) -> dict[str, Any]:
    """The inverse of ``read_settings``."""
    return {
        "v": VERSION,
        "tuning": tuning_of(settings.instrument),
        "frets": settings.instrument.frets,
        "left": settings.left_handed,
        "stretch": settings.stretch,
        "quiet": settings.quiet,
        "late": settings.late,
    }
