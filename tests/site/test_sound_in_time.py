"""What sounds, sounds when it should: told from the sound itself, beside times that are worked out here anew."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from itertools import accumulate, takewhile
from typing import Any

import numpy as np
import pytest
import sound_numbers
import sound_studio
from playwright.sync_api import Browser
from sound_numbers import RATE, compared, drift, onsets
from sound_studio import Studio, arrangement, heard, of_instrument, shares, silent, voices

from engine.lines.moving import in_all_keys
from engine.lines.stock import stock
from engine.practice.band import Band, arranged
from engine.sound.arrangement import Arrangement, Roadmap, as_json, with_the_band

pytestmark = pytest.mark.browser

LINE = stock()[0]
WORST = 5  # ms
# Ten times through the twelve keys, each chorus faster than the one before.
CHORUSES, TEMPO, RISE = 10 * 12, 80, 2
KNEE = 0.55  # what limits leaves alone what is below it


@pytest.fixture(scope="module")
def studio(chromium: Browser) -> Iterator[Studio]:
    """A page with the band alone."""
    with sound_studio.opened(chromium) as studio:
        yield studio


@pytest.fixture(scope="module")
def tour() -> Arrangement:
    return with_the_band(Roadmap([LINE], tempo=TEMPO, rise=RISE, choruses=CHORUSES, count_in=1, loop=False))


def whole_phrase() -> int:
    """The bars in which a line goes round over its own chords: its own, filled up to 1, 2, 4, 8 ..."""
    bars = -(-LINE.notes[-1].end // 4)
    return next(power for power in (1, 2, 4, 8) if power >= bars)


def swing_at(tempo: int) -> Fraction:
    """5:2 up to 100, even from 300 on, a straight line between, in hundredths."""
    exact = Fraction(5, 2) - Fraction(3, 2) * (min(max(tempo, 100), 300) - 100) / 200
    return Fraction(round(100 * exact), 100)


def test_ten_choruses_through_the_keys_are_in_time_to_the_ear(tour: Arrangement, studio: Studio) -> None:
    bar, form = Fraction(4), Fraction(4 * whole_phrase())
    tempos = [min(320, TEMPO + RISE * number) for number in range(CHORUSES)]
    assert len(set(tempos)) == CHORUSES
    begins = [*accumulate((form * 60 / tempo for tempo in tempos), initial=bar * 60 / tempos[0])]

    def second(beat: Fraction) -> float:
        if beat < bar:
            return float(beat * 60 / tempos[0])
        chorus = min(int((beat - bar) // form), CHORUSES - 1)
        return float(begins[chorus] + (beat - bar - chorus * form) * 60 / tempos[chorus])

    def played(place: Fraction, swing: Fraction) -> Fraction:
        return place // 1 + swing / (1 + swing) if place % 1 == Fraction(1, 2) else place

    assert all(2 % note.start.denominator == 0 and note.start >= 0 for note in LINE.notes)
    line = [
        float(begins[chorus] + played(note.start, swing_at(tempo)) * 60 / tempo)
        for chorus, tempo in enumerate(tempos)
        for note in LINE.notes
    ]
    data = as_json(tour)
    found = compared(onsets(heard(studio, of_instrument(data, "guitar"))), line)
    assert (found.missing, found.extra) == (0, 0)
    assert found.worst < WORST
    assert found.median < 1
    everybody = [second(event.beat) for event in tour.events]
    assert {round(start, 3) for start in line} <= {round(start, 3) for start in everybody}
    with_all = compared(onsets(heard(studio, data)), everybody)
    assert (with_all.missing, with_all.extra) == (0, 0)
    assert with_all.worst < WORST
    assert with_all.median < 1
    # All twelve keys were there.
    heights = {event.pitch for event in tour.events if event.index == 0}
    assert {height % 12 for height in heights if height is not None} == {
        moved.notes[0].pitch.pitch_class for moved in in_all_keys(LINE)
    }


def test_every_note_of_every_voice_is_there_and_the_band_is_all_of_them(studio: Studio) -> None:
    band = Band((LINE,), over="blues", tempo=200, choruses=2)
    data: dict[str, Any] = as_json(arranged(band).arrangement) | {"loop": None}
    found = shares(studio, data)
    assert len(found) == len(data["events"]) > 200
    assert silent(found) == 0
    parts = [heard(studio, part) for _, part in voices(data)]
    assert len(parts) == 9
    together, mix = np.sum(parts, axis=0), heard(studio, data)
    # Each side by itself stays below the knee where both do: the pans are known, the sides are never twice the middle.
    free = np.abs(together) < KNEE / 2
    assert free.mean() > 0.9
    assert np.abs(together - mix)[free].max() < 1e-4


def test_what_is_late_left_out_or_too_much_is_told(studio: Studio) -> None:
    times = [0.1 + 0.2 * turn for turn in range(12)]
    rows = [[time, 0.15, 60 + 5 * (turn % 3), 0.8, "guitar", None] for turn, time in enumerate(times)]
    there = onsets(heard(studio, arrangement(rows)))
    assert compared(there, times).worst < 2
    late = compared(there, [time - 0.007 * (turn == 5) for turn, time in enumerate(times)])
    assert late.worst > WORST
    assert compared(there, [*times, 0.2]).missing == 1
    assert compared(there, times[1:]).extra == 1
    assert compared(np.array([]), times).missing == 12


def test_a_note_that_does_not_sound_is_counted(studio: Studio, monkeypatch: pytest.MonkeyPatch) -> None:
    rows = [[0.1 + 0.2 * turn, 0.15, 60 + turn % 3, 0.8, "guitar", None] for turn in range(9)]
    rows += [[0.1 + 0.1 * turn, 0.1, None, 0.4, "ride", None] for turn in range(18)]
    data = arrangement(sorted(rows, key=lambda row: row[0]))
    assert silent(shares(studio, data)) == 0
    real = sound_studio.heard
    monkeypatch.setattr(sound_studio, "heard", lambda place, part: real(place, {**part, "events": part["events"][::2]}))
    assert silent(shares(studio, data)) == 4 + 9


def laps(data: dict[str, Any], until: float) -> list[float]:
    """When each event should begin, in a loop for so long."""
    begin, end = data["loop"]
    first = [event[0] for event in data["events"] if event[0] < end]
    again = [start for start in first if start >= begin]
    turns = (start + lap * (end - begin) for lap in range(1, 10_000) for start in again)
    return [*first, *takewhile(lambda start: start < until, turns)]


@pytest.mark.parametrize(("tempo", "busy"), [(240, 0.9), (173, 0.3)])
def test_five_minutes_in_a_loop_never_drift(tempo: int, busy: float, studio: Studio) -> None:
    played = with_the_band(Roadmap([LINE], tempo=tempo, choruses=12, count_in=1))
    data = as_json(played)
    made = studio.page.evaluate(sound_studio.DRIVEN, {"data": data, "seconds": 300, "busy": busy})
    begun = [when for when, _ in made["begun"]]
    starts = laps(data, 299)
    assert len(starts) > 4000
    assert made["late"] == 0
    assert drift(begun, starts) < 0.001
    assert all(when > clock for when, clock in made["begun"])
    # Beside the tempo itself, too: the loop is as long as its beats.
    assert played.loop is not None
    beats = played.loop[1] - played.loop[0]
    turn = float(beats * 60 / tempo)
    count = round(300 / turn) - 1
    assert abs(count * (data["loop"][1] - data["loop"][0]) - count * turn) < 0.001


def test_a_short_loop_keeps_its_tempo_for_an_hour() -> None:
    data = as_json(with_the_band(Roadmap([LINE], tempo=173, choruses=1)))
    begin, end = data["loop"]
    beats = 4 * whole_phrase()
    laps_in_an_hour = 3600 / float(beats * 60 / 173)
    assert abs((end - begin) - float(beats * 60 / 173)) * laps_in_an_hour < 0.001


def test_a_drift_is_told() -> None:
    starts = [0.25 * turn for turn in range(100)]
    assert drift([3 + start for start in starts], starts) < 1e-9
    assert drift([3 + 1.0001 * start for start in starts], starts) == pytest.approx(0.0025, abs=1e-4)
    with pytest.raises(ValueError, match="99 sounds were begun"):
        drift(starts[1:], starts)


def test_a_tone_that_is_off_is_told() -> None:
    times = np.arange(RATE // 2) / RATE
    for pitch in (28, 60, 90):
        for cents in (-12, 0, 7):
            tone = np.sin(2 * np.pi * sound_numbers.hertz_of(pitch) * 2 ** (cents / 1200) * times)
            assert sound_numbers.cents_off(tone, pitch) == pytest.approx(cents, abs=0.3)
