"""What sound is as numbers: how strong, how far from its pitch, when it begins. One measure for tests and `bench`.

Samples are one channel at ``RATE`` unless said otherwise. None of this knows what should be heard.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

Samples = NDArray[np.float64]

RATE = 44_100  # samples a second
# How an onset is told. What strikes (a pick, a hammer, a stick) has what no tone that rings on has: much above 8 kHz.
# A difference of the fourth order leaves little else: 1 at 7.4 kHz, 1/800 at 1.2 kHz.
_ORDER = 4
_WINDOW = round(0.004 * RATE)  # samples before and after, whose strengths are compared
_HOP = 11  # samples between two looks, a quarter of a millisecond
_RISE = 3.0  # dB from before to after; what rings on rises by 2 at most, the faintest stroke in a band by 4
_APART = round(0.03 * RATE)
_FLOOR = 1e-4  # of the strongest strike's power: below this all is silence
_NEAR = 0.02  # seconds; an onset that is farther off belongs to something else


def decibels(ratio: float) -> float:
    """Of a ratio of strengths; minus infinity for none."""
    return float(20 * np.log10(ratio)) if ratio > 0 else -float("inf")


def strength(samples: Samples, low: float = 0) -> float:
    """Root mean square of what is above ``low`` Hz."""
    spectrum = np.abs(np.fft.rfft(samples)) ** 2
    hertz = np.fft.rfftfreq(len(samples), 1 / RATE)
    return float(np.sqrt(2 * np.sum(spectrum[hertz >= low])) / len(samples))


def hertz_of(pitch: int) -> float:
    """The frequency of a MIDI key."""
    return float(440 * 2 ** ((pitch - 69) / 12))


def cents_off(samples: Samples, pitch: int) -> float:
    """How far a tone is from its pitch, a MIDI key: from the best of the lags near some of its periods."""
    hertz = hertz_of(pitch)
    window = np.hanning(len(samples))
    # The window is alike itself the less the farther it is shifted: left as it is, that would draw to shorter lags.
    alike = _alike(samples * window) / np.maximum(_alike(window), 1e-9)
    periods = min(12, max(1, round(hertz / 25)))
    lag = periods * RATE / hertz
    near = int(lag * 0.97)
    best = near + int(np.argmax(alike[near : int(lag * 1.03) + 2]))
    left, top, right = alike[best - 1 : best + 2]
    found = periods * RATE / (best + (left - right) / (2 * (left - 2 * top + right)))
    return float(1200 * np.log2(found / hertz))


def _alike(samples: Samples) -> Samples:
    """How alike something is to itself, by how many samples it is shifted."""
    return np.asarray(np.fft.irfft(np.abs(np.fft.rfft(samples, 4 * len(samples))) ** 2))


def onsets(samples: Samples) -> Samples:
    """The seconds at which something is struck, found in the sound alone, at least 30 ms apart."""
    silence = np.zeros(2 * _WINDOW)
    struck = np.diff(np.concatenate([silence, samples, silence]), _ORDER) ** 2
    summed = np.concatenate([[0.0], np.cumsum(struck)])
    places = np.arange(_WINDOW, len(struck) - _WINDOW, _HOP)
    after = summed[places + _WINDOW] - summed[places]
    before = summed[places] - summed[places - _WINDOW]
    floor = _FLOOR * np.percentile(after, 99.9) + 1e-30
    rise = 10 * np.log10((after + floor) / (before + floor))
    around = _APART // _HOP
    highest = sliding_window_view(np.pad(rise, around, constant_values=-np.inf), 2 * around + 1).max(axis=1)
    found = places[(rise == highest) & (rise > _RISE)]
    return np.asarray((found + _ORDER / 2 - 2 * _WINDOW) / RATE)


@dataclass(frozen=True, slots=True)
class Compared:
    """Onsets beside the times that they should have: ``off`` in ms, late is above 0; how many have no counterpart."""

    off: tuple[float, ...]
    missing: int
    extra: int

    @property
    def worst(self) -> float:
        """Milliseconds, whatever the direction."""
        return max(map(abs, self.off), default=float("inf"))

    @property
    def median(self) -> float:
        """Milliseconds, whatever the direction."""
        return float(np.median(np.abs(self.off)))


def compared(found: Samples, times: Sequence[float]) -> Compared:
    """Each time with the onset nearest to it, one to one."""
    wanted = np.unique(np.asarray(times))
    if not len(found):
        return Compared((), len(wanted), 0)
    place = np.clip(np.searchsorted(found, wanted), 1, max(1, len(found) - 1))
    left, right = found[place - 1], found[np.minimum(place, len(found) - 1)]
    nearest = np.where(np.abs(left - wanted) <= np.abs(right - wanted), left, right)
    off = nearest - wanted
    there = np.abs(off) < _NEAR
    met = len(np.unique(nearest[there]))
    return Compared(tuple((1000 * off[there]).tolist()), len(wanted) - met, len(found) - met)


def drift(begun: Sequence[float], starts: Sequence[float]) -> float:
    """The most that a sound was begun beside its time, in seconds, as counted from the first one of all.

    ``begun``: when each was begun, ``starts``: when it should be, both in order. ValueError where these are more.
    """
    if not starts or len(starts) > len(begun):
        raise ValueError(f"{len(begun)} sounds were begun, and there should be {len(starts)}")
    zero = begun[0] - starts[0]
    return max(abs(when - zero - start) for when, start in zip(begun, starts, strict=False))
