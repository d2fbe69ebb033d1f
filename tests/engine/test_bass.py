"""Walking bass: roots on their downbeats, a line that a bassist would play."""

from fractions import Fraction
from itertools import pairwise

import pytest

from engine.lines.line import Meter
from engine.lines.progression import PROGRESSIONS, parse_progression
from engine.sound.bass import IN_FOUR, IN_TWO, RANGE, WALKS, walking
from engine.sound.bass_lines import BODIES, WHOLE, bass_of, tones_of
from engine.sound.event import Event
from engine.sound.stretch import Stretch
from engine.theory.chord_symbol import parse_chord
from engine.theory.key import parse_key
from tests.engine.band_parts import at_random, everything, stretches_of

SEEDS = (1, 2, 3)


def check(stretches: list[Stretch], events: list[Event], loops: bool) -> None:
    """What holds of every line of the bass."""
    at = {event.beat: event.pitch or 0 for event in events}
    keys = list(at.values())
    assert len(at) == len(events)
    assert list(at) == sorted(at)
    for stretch in stretches:
        assert at[stretch.begin] % 12 == bass_of(stretch.chord)
    assert all(key in RANGE for key in keys)
    leaps = [abs(a - b) for a, b in pairwise([*keys, keys[0]] if loops else keys)]
    assert max(leaps) <= 12
    for event, after in pairwise(events):
        assert event.end <= after.beat
    assert events[-1].end <= stretches[-1].end


def test_every_progression_in_every_key_is_walked() -> None:
    for seed in SEEDS:
        for progression in everything():
            own = stretches_of(progression)
            events = walking(own, progression.meter, seed, loops=True)
            check(own, events, loops=True)
            keys = [event.pitch or 0 for event in events]
            around = [abs(a - b) for a, b in pairwise([*keys, keys[0]])]
            # No note struck twice, no sevenths.
            assert not {0, 10, 11} & set(around)
            assert [event.beat for event in events] == [Fraction(beat) for beat in range(int(progression.length))]


def test_it_goes_by_step_more_often_than_not() -> None:
    keys = [event.pitch or 0 for event in walking(stretches_of(PROGRESSIONS["aaba"]), Meter(), 5, True)]
    steps = [abs(a - b) for a, b in pairwise(keys)]
    assert sum(step <= 2 for step in steps) > len(steps) / 2
    assert sum(step > 7 for step in steps) < len(steps) / 10


def test_the_last_beat_of_a_bar_leads_to_the_next_root() -> None:
    own = stretches_of(PROGRESSIONS["blues"])
    for seed in SEEDS:
        at = {event.beat: event.pitch or 0 for event in walking(own, Meter(), seed, True)}
        ways = []
        for one in own[:-1]:
            if one.end - one.begin >= 4:
                ways.append(at[one.end] - at[one.end - 1])
        assert set(ways) <= {-2, -1, 1, 2, 5, -7}
        assert sum(abs(way) == 1 for way in ways) > len(ways) / 2


@pytest.mark.parametrize("seed", range(60))
def test_any_chords_at_all(seed: int) -> None:
    own = at_random(seed)
    check(own, walking(own, Meter(), seed), loops=False)
    check(own, walking(own, Meter(), seed, loops=True), loops=True)


def test_chords_within_a_beat_and_off_the_beat() -> None:
    chords = [parse_chord(name) for name in ["Dm7", "G7", "Cmaj7", "A7", "Dm7", "Dm7/C"]]
    begins = [Fraction(beat) for beat in ("0", "1/2", "3/2", "2", "5", "16/3", "8")]
    own = [
        Stretch(chord, parse_key("C"), begin, end, 140)
        for chord, (begin, end) in zip(chords, pairwise(begins), strict=True)
    ]
    check(own, walking(own, Meter(), 1), loops=False)


@pytest.mark.parametrize("meter", [Meter(3, 4), Meter(5, 4), Meter(6, 8), Meter(7, 8), Meter(2, 2), Meter(12, 8)])
def test_other_meters(meter: Meter) -> None:
    own = stretches_of(parse_progression("Dm7 | G7 | Cmaj7 | % | Am7 D7 | Gm7 C7", meter=meter))
    events = walking(own, meter, 1, loops=True)
    check(own, events, loops=True)
    bars = {event.beat // meter.bar for event in events if event.beat % meter.bar == 0}
    assert len(bars) == 6


@pytest.mark.parametrize(("tempo", "most"), [(WALKS[0] - 1, 3), (WALKS[0], 4), (WALKS[1], 4), (WALKS[1] + 1, 3)])
def test_in_two_where_it_is_slow_or_very_fast(tempo: int, most: int) -> None:
    own = stretches_of(PROGRESSIONS["two-five-one"], tempo)
    events = walking(own, Meter(), 1, loops=True)
    check(own, events, loops=True)
    each = [sum(one.begin + bar <= event.beat < one.begin + bar + 4 for event in events) for one in own for bar in (0,)]
    assert (max(each) <= most) if most == 3 else (set(each) == {4})


def test_a_slash_chord_has_its_own_bass() -> None:
    own = stretches_of(parse_progression("Cmaj7/G | Dm7/C | G7/B | Cmaj7"))
    at = {event.beat: event.pitch or 0 for event in walking(own, Meter(), 1)}
    assert [at[Fraction(beat)] % 12 for beat in (0, 4, 8, 12)] == [7, 0, 11, 0]


def test_the_seed_alone_decides() -> None:
    own = stretches_of(PROGRESSIONS["blues"])
    lines = {tuple(event.pitch for event in walking(own, Meter(), seed, True)) for seed in range(12)}
    assert len(lines) > 8
    assert walking(own, Meter(), 4, True) == walking(own, Meter(), 4, True)


@pytest.mark.parametrize(("symbol", "fifth"), [("C7#5", 8), ("C7b13", 8), ("Cm7b5", 6), ("C7b5", 6), ("Cdim7", 6)])
def test_no_natural_fifth_against_an_altered_one(symbol: str, fifth: int) -> None:
    tones = dict(tones_of(parse_chord(symbol), parse_key("C")))
    assert tones["5"] == fifth
    assert 7 not in tones.values()
    assert symbol != "C7#5" or 9 not in tones.values()


def test_the_tables_have_a_row_for_every_beginning() -> None:
    assert set(BODIES) == {(start, beats) for start in "135" for beats in (1, 2, 3)}
    assert all(len(body.split()) == beats for (_, beats), rows in (*BODIES.items(), *WHOLE.items()) for body in rows)
    assert all(body.split()[0] == start for (start, _), rows in (*BODIES.items(), *WHOLE.items()) for body in rows)


def test_no_major_third_leads_on_while_a_minor_chord_stays() -> None:
    own = stretches_of(parse_progression("Cm6 | % | Dm7b5 | % | Gm7 | % | % | %", parse_key("Cm")))
    for seed in range(60):
        at = {event.beat: event.pitch or 0 for event in walking(own, Meter(), seed, True)}
        for one in own:
            # The last beat of a chord may well be the half step below the next root.
            inside = [pitch for beat, pitch in at.items() if one.begin <= beat < one.end - 1]
            assert (one.chord.root.pitch_class + 4) % 12 not in {pitch % 12 for pitch in inside}


@pytest.mark.parametrize("tempo", [60, 140, 300])
def test_the_player_says_whether_it_walks(tempo: int) -> None:
    own = stretches_of(PROGRESSIONS["blues"], tempo)
    for feel, meter, most, least in (
        (IN_TWO, Meter(), 3, 2), (IN_FOUR, Meter(), 4, 4), (IN_TWO, Meter(3, 4), 3, 3), (IN_TWO, Meter(6, 4), 5, 2),
    ):  # fmt: skip
        events = walking(own, meter, 1, True, feel)
        bars = [
            sum(begin <= event.beat < begin + meter.bar for event in events) for begin in range(0, 48, int(meter.bar))
        ]
        assert least <= min(bars)
        assert max(bars) <= most
    assert walking(own, Meter(), 1, True) == walking(own, Meter(), 1, True, IN_FOUR if tempo == 140 else IN_TWO)
