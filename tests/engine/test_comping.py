"""Comping and drums: strokes that swing and never lie on each other, rides, hi-hats and counts in."""

from fractions import Fraction
from itertools import pairwise
from random import Random

import pytest

from engine.lines.line import Meter
from engine.lines.progression import PROGRESSIONS, in_key, parse_progression
from engine.sound.comping import RHYTHMS, comping
from engine.sound.drums import PATTERNS, count_in, drums
from engine.sound.event import Event
from engine.sound.feel import STRAIGHT
from engine.sound.stretch import Stretch
from engine.sound.voicing import voicings
from engine.theory.key import parse_key
from tests.engine.band_parts import at_random, everything, stretches_of

TEMPOS = (60, 120, 180, 260)


def played(stretches: list[Stretch], meter: Meter, seed: int) -> list[Event]:
    return comping(stretches, voicings(stretches), meter, seed)


def strokes(events: list[Event]) -> dict[Fraction, list[Event]]:
    """The events by the beat on which they begin."""
    found: dict[Fraction, list[Event]] = {}
    for event in events:
        found.setdefault(event.beat, []).append(event)
    return found


def check(stretches: list[Stretch], meter: Meter, seed: int) -> None:
    events = played(stretches, meter, seed)
    led = [set(voicing.keys) for voicing in voicings(stretches)]
    found = strokes(events)
    assert list(found) == sorted(found)
    heard = []
    for beat, chord in found.items():
        assert len({event.length for event in chord}) == 1
        assert chord[0].length > 0
        # It is the chord that sounds, or the one that comes within half a beat.
        likely = [
            place for place, one in enumerate(stretches) if one.begin - Fraction(1, 2) <= beat < one.end
            and {event.pitch for event in chord} == led[place]
        ]  # fmt: skip
        assert likely
        heard.append(max(likely))
        assert chord[0].end <= stretches[max(likely)].end
    # No two on top of each other, and every chord is struck.
    for (one, chord), (other, _) in pairwise(found.items()):
        assert one + chord[0].length <= other
    struck = {frozenset(event.pitch for event in chord) for chord in found.values()}
    assert struck == {frozenset(keys) for keys in led}


@pytest.mark.parametrize("tempo", TEMPOS)
def test_every_progression_is_accompanied(tempo: int) -> None:
    for seed in (1, 2, 3):
        for progression in everything()[::5]:
            check(stretches_of(progression, tempo), progression.meter, seed)


@pytest.mark.parametrize("seed", range(40))
def test_any_chords_at_all(seed: int) -> None:
    check(at_random(seed), Meter(), seed)
    check(at_random(seed, (1, 2, 3)), Meter(3, 4), seed)


def test_it_swings_and_some_chords_come_early() -> None:
    own = stretches_of(PROGRESSIONS["aaba"])
    begins = {one.begin for one in own}
    early = off = on = 0
    for seed in range(10):
        for beat in strokes(played(own, Meter(), seed)):
            on += beat.denominator == 1
            off += beat.denominator == 2
            early += beat + Fraction(1, 2) in begins
    assert min(on, off) > 100
    assert 40 < early < off


def test_strokes_off_the_beat_are_swung() -> None:
    own = [
        Stretch(one.chord, one.key, one.begin, one.end, one.tempo, one.following, Fraction(2))
        for one in stretches_of(PROGRESSIONS["aaba"])
    ]
    beats = set(strokes(played(own, Meter(), 1)))
    assert {beat % 1 for beat in beats} == {Fraction(0), Fraction(2, 3)}


def test_nothing_hangs_over_the_end_and_no_stroke_is_early_there() -> None:
    for progression in everything()[::7]:
        own = stretches_of(progression)
        for seed in range(8):
            events = played(own, progression.meter, seed)
            assert max(event.end for event in events) <= progression.length


def test_the_rhythms_lie_within_their_bars() -> None:
    for meter, slowest, fastest, rows in RHYTHMS:
        assert slowest < fastest
        assert any(row.startswith("0:") for row in rows)
        for row in rows:
            places = [tuple(map(Fraction, stroke.split(":"))) for stroke in row.split()]
            assert all(0 <= at < int(meter[0]) for at, _ in places)
            assert all(at + length <= after for (at, length), (after, _) in pairwise(places))


@pytest.mark.parametrize("text", [*PATTERNS, "7/8", "7/4", "9/8", "3/8"])
def test_ride_and_hi_hat_in_every_meter(text: str) -> None:
    meter = Meter(*map(int, text.split("/")))
    events = drums(Fraction(8), 4, meter, Fraction(2) if meter.unit == 4 else STRAIGHT, Random(1))
    ride = [event for event in events if event.instrument == "ride"]
    hat = [event for event in events if event.instrument == "hi-hat"]
    assert {event.pitch for event in events} == {None}
    assert all(Fraction(8) <= event.beat and event.end <= 8 + 4 * meter.bar for event in events)
    assert all(event.length > 0 for event in events)
    for bar in range(4):
        begin = 8 + bar * meter.bar
        assert begin in {event.beat for event in ride}
        assert any(begin < event.beat < begin + meter.bar for event in hat)


def test_the_ride_of_four_four() -> None:
    events = drums(Fraction(0), 64, Meter(), Fraction(2), Random(3))
    beats = [event.beat % 4 for event in events if event.instrument == "ride"]
    assert set(beats) == {Fraction(beat) for beat in ("0", "1", "5/3", "2", "3", "11/3")}
    assert all(beats.count(Fraction(beat)) == 64 for beat in range(4))
    assert 32 < beats.count(Fraction(5, 3)) < 64
    assert {event.beat % 4 for event in events if event.instrument == "hi-hat"} == {1, 3}


@pytest.mark.parametrize(
    ("bars", "meter", "beats"),
    [
        (0, Meter(), ""), (1, Meter(), "4 5 6 7"), (2, Meter(), "0 2 4 5 6 7"), (2, Meter(3, 4), "2 3 4 5 6 7"),
        (1, Meter(6, 8), "5 13/2"), (1, Meter(2, 2), "4 6"),
    ],
)  # fmt: skip
def test_counts_in(bars: int, meter: Meter, beats: str) -> None:
    clicks = [*count_in(bars, Fraction(8), meter)]
    assert [event.beat for event in clicks] == [Fraction(beat) for beat in beats.split()]
    ones = [event.loudness for event in clicks if (8 - event.beat) % meter.bar == 0]
    assert len(ones) == bars
    assert all(event.loudness < ones[0] for event in clicks if (8 - event.beat) % meter.bar)


def test_a_change_half_a_beat_after_a_stroke_is_played_early() -> None:
    own = stretches_of(in_key(parse_progression("Dm7 G7 | Cmaj7"), parse_key("F")), loop=False)
    assert any(Fraction(7, 2) in strokes(played(own, Meter(), seed)) for seed in range(30))
    for seed in range(30):
        found = strokes(played(own, Meter(), seed))
        if Fraction(7, 2) in found:
            assert {event.pitch for event in found[Fraction(7, 2)]} == set(voicings(own)[2].keys)
            assert Fraction(4) not in found
