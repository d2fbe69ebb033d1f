"""Arrangements: lines with the band through keys and tempos, loops, answers, seconds."""

import json
from bisect import bisect_right
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from typing import Any

import pytest

from engine.lines.line import Line, Meter
from engine.lines.moving import keys_of, moved_to
from engine.lines.progression import PROGRESSIONS, Progression, in_key, parse_progression
from engine.lines.stock import stock
from engine.sound.arrangement import (
    Arrangement,
    Roadmap,
    after_cadence,
    as_json,
    in_parts,
    in_turn,
    of_figure,
    of_line,
    seconds,
    with_the_band,
)
from engine.sound.event import FASTEST, INSTRUMENTS, SLOWEST
from engine.sound.feel import swing_ratio
from engine.theory.bad_input import BadInput
from engine.theory.chord_symbol import parse_chord
from engine.theory.key import parse_key
from engine.theory.pitch import parse_pitch
from tests.engine.lines_at_random import line_at_random

TWO_FIVE = PROGRESSIONS["two-five-one"]
LINE = stock()[0]  # four bars' room over Dm7 | G7 | Cmaj7
KEYS = tuple(parse_key(key) for key in ("C", "F", "Bb"))


def with_pickup(line: Line) -> Line:
    """The line with a beat and a half before its first bar."""
    first = line.notes[0]
    before = [replace(first, start=Fraction(start), length=Fraction(1, 2)) for start in ("-3/2", "-1", "-1/2")]
    return replace(line, notes=(*before, *line.notes), begin=Fraction(-3, 2))


def lines_part(arrangement: Arrangement) -> list:
    return [event for event in arrangement.events if event.instrument == "guitar"]


def check(arrangement: Arrangement) -> None:
    """What holds of every arrangement."""
    assert all(one.beat <= two.beat for one, two in pairwise(arrangement.events))
    assert [beat for beat, _ in arrangement.tempos] == sorted({beat for beat, _ in arrangement.tempos})
    assert arrangement.tempos[0][0] == 0
    assert all(SLOWEST <= tempo <= FASTEST for _, tempo in arrangement.tempos)
    for event in arrangement.events:
        assert event.instrument in INSTRUMENTS
        assert event.beat >= 0
        assert event.length > 0
        assert event.end <= arrangement.length
        assert 0 < event.loudness <= 1
        assert (event.pitch is None) == (event.instrument in ("ride", "hi-hat", "click"))
        assert (event.index is not None) == (event.instrument == "guitar")
    for name in ("guitar", "bass"):
        alone = [event for event in arrangement.events if event.instrument == name]
        assert all(one.end <= two.beat for one, two in pairwise(alone)), name
    assert [one.beat for one in arrangement.chapters] == sorted({one.beat for one in arrangement.chapters})


@pytest.mark.parametrize("name", PROGRESSIONS)
def test_loops_are_seamless(name: str) -> None:
    own = PROGRESSIONS[name]
    lines = [line for line in stock() if line.meter == own.meter][:3]
    for seed in (1, 2):
        played = with_the_band(Roadmap(lines, own, KEYS[:2], tempo=150, seed=seed, count_in=2))
        check(played)
        assert played.loop is not None
        begin, end = played.loop
        assert (begin, end) == (2 * own.meter.bar, played.length)
        bass = [event for event in played.events if event.instrument == "bass"]
        assert bass[0].beat == begin
        # From the last note to the first is a move like any other.
        assert abs((bass[-1].pitch or 0) - (bass[0].pitch or 0)) in {1, 2, 3, 4, 5, 6, 7, 8, 9, 12}
        assert end - bass[-1].end <= Fraction(1, 10)
        assert all(event.instrument == "click" for event in played.events if event.beat < begin)


def test_a_chorus_in_every_key_in_order_from_the_first() -> None:
    played = with_the_band(Roadmap([LINE], None, order="fourths"))
    keys = list(dict.fromkeys(str(one.key) for one in played.chapters))
    assert keys == ["C", "F", "Bb", "Eb", "Ab", "Db", "Gb", "B", "E", "A", "D", "G"]
    own = with_the_band(Roadmap([moved_to(LINE, parse_key("Eb"))], None, order="chromatic"))
    assert list(dict.fromkeys(str(one.key) for one in own.chapters))[:3] == ["Eb", "E", "F"]
    given = with_the_band(Roadmap([LINE], None, KEYS, "chromatic-down", choruses=4))
    assert [str(one.key) for one in given.chapters if one.chord.suffix == "m7"] == ["C", "C", "Bb", "F", "C"]


def test_each_chorus_has_the_line_in_its_key() -> None:
    played = with_the_band(Roadmap([LINE], TWO_FIVE, KEYS, tempo=300, choruses=3))
    by_chorus = [[event for event in lines_part(played) if 4 + 16 * n <= event.beat < 20 + 16 * n] for n in range(3)]
    for key, events in zip(KEYS, by_chorus, strict=True):
        wanted = moved_to(LINE, key)
        assert [event.pitch for event in events] == [note.pitch.midi for note in wanted.notes]
        assert [event.index for event in events] == list(range(len(wanted.notes)))


def test_the_tempo_rises_each_chorus_and_stays_in_bounds() -> None:
    played = with_the_band(Roadmap([], TWO_FIVE, KEYS, tempo=100, rise=7, choruses=5))
    assert played.tempos == ((0, 100), (20, 107), (36, 114), (52, 121), (68, 128))
    fast = with_the_band(Roadmap([], TWO_FIVE, KEYS, tempo=310, rise=9, choruses=4))
    assert [tempo for _, tempo in fast.tempos] == [310, 319, 320]
    slow = with_the_band(Roadmap([], TWO_FIVE, KEYS, tempo=3))
    assert slow.tempos == ((0, SLOWEST),)


@pytest.mark.parametrize("bars", [0, 1, 2])
def test_counts_in_before_anything_else(bars: int) -> None:
    played = with_the_band(Roadmap([LINE], TWO_FIVE, KEYS, count_in=bars))
    before = [event for event in played.events if event.beat < 4 * bars]
    assert {event.instrument for event in before} == ({"click"} if bars else set())
    assert played.loop == (4 * bars, played.length)
    assert [chapter.chorus for chapter in played.chapters][:2] == ([0, 1] if bars else [1, 1])


def test_call_and_response_leaves_as_many_bars_as_the_phrase_of_the_line_has() -> None:
    played = with_the_band(Roadmap([LINE], None, KEYS, answered=True, count_in=1))
    check(played)
    room = Fraction(16)  # the three bars of the line are those of a phrase of four
    assert Roadmap([LINE], answered=True).form.bars == 8
    for number in range(3):
        call = 4 + 32 * number
        own = [event for event in lines_part(played) if call <= event.beat < call + room]
        free = [event for event in lines_part(played) if call + room <= event.beat < call + 2 * room]
        assert len(own) == len(LINE.notes)
        assert not free
        told = [chapter for chapter in played.chapters if call <= chapter.beat < call + 2 * room]
        assert {chapter.free for chapter in told if chapter.beat < call + room} == {False}
        assert {chapter.free for chapter in told if chapter.beat >= call + room} == {True}
        assert {chapter.line for chapter in told if chapter.beat < call + room} == {0}
    # The band plays on.
    assert any(event.instrument == "bass" and 20 <= event.beat < 36 for event in played.events)


def test_a_line_over_its_own_chords_fills_its_phrase() -> None:
    for bars, filled in ((1, 1), (2, 2), (3, 4), (5, 8), (9, 12)):
        assert Roadmap([replace(LINE, end=Fraction(4 * bars), notes=LINE.notes[:1])]).form.bars == filled


def test_a_landing_is_let_go_where_another_chord_comes() -> None:
    held = replace(LINE, notes=(*LINE.notes[:-1], replace(LINE.notes[-1], length=Fraction(4))), end=Fraction(12))
    for chords, length in (("Dm7 | G7 | Cm7 B7", 2), ("Dm7 | G7 | Cm7 Am7", 4), ("Dm7 | G7 | Cm7", 4)):
        played = with_the_band(Roadmap([held], parse_progression(chords, parse_key("C")), KEYS[:1], swing=Fraction(1)))
        check(played)
        assert lines_part(played)[-1].pitch % 12 == 0
        assert lines_part(played)[-1].length == length


def test_call_and_response_over_a_blues_takes_the_form_twice_where_only_that_leaves_room() -> None:
    assert Roadmap([LINE], PROGRESSIONS["blues"], answered=True).form.bars == 24
    played = with_the_band(Roadmap([LINE], PROGRESSIONS["blues"], KEYS[:1], answered=True))
    check(played)
    begins = [chapter.beat for chapter in played.chapters if chapter.line == 0]
    assert begins[0] == 4 + 8 * 4
    free = [chapter for chapter in played.chapters if chapter.free]
    assert free[0].beat == begins[0] + 16


def test_lines_sound_where_their_chords_come() -> None:
    played = with_the_band(Roadmap(stock()[:2], PROGRESSIONS["aaba"], KEYS[:1]))
    check(played)
    begins = [two.beat for one, two in pairwise(played.chapters) if two.line is not None and one.line != two.line]
    form = PROGRESSIONS["aaba"]
    for begin in begins:
        chords = [form.chord_at(begin - 4 + bar).symbol for bar in (0, 4, 8)]
        assert [chord[-2:] for chord in chords] == ["m7", "G7", "j7"] or chords[0] in ("Dm7", "Gm7")
    # The bridge goes to F, and so does the line there.
    bridge = [event.pitch for event in lines_part(played) if 4 + 64 <= event.beat < 4 + 76]
    there = [note.pitch.midi for line in stock()[:2] for note in moved_to(line, parse_key("F")).notes]
    assert bridge
    assert set(bridge) <= set(there)


def test_the_last_chord_of_the_form_takes_the_landing_along() -> None:
    # Over a minor cadence with another kind of goal the line lands on that goal's third.
    line = stock()[1]
    played = with_the_band(Roadmap([line], parse_progression("Dm7 | G7 | Cm7", parse_key("C")), [parse_key("C")]))
    assert [event.pitch for event in lines_part(played)][-1] % 12 == 3
    assert line.notes[-1].pitch.pitch_class == 4


def test_a_line_of_another_meter_is_left_out() -> None:
    played = with_the_band(Roadmap([LINE], PROGRESSIONS["waltz"], KEYS[:1]))
    check(played)
    assert not lines_part(played)


def test_nothing_to_play_is_one_sentence() -> None:
    with pytest.raises(BadInput, match="nothing to play"):
        with_the_band(Roadmap([], None))


def test_a_pickup_leads_in_and_leads_back() -> None:
    line = with_pickup(LINE)
    for count_in in (0, 1, 2):
        played = with_the_band(Roadmap([line], None, KEYS[:1], count_in=count_in, swing=Fraction(1)))
        check(played)
        assert played.loop is not None
        begin, end = played.loop
        assert begin == 4 * max(1, count_in)
        own = lines_part(played)
        assert [event.beat - begin for event in own[:4]] == [Fraction(-3, 2), -1, Fraction(-1, 2), 0]
        assert [event.beat - end for event in own[-3:]] == [Fraction(-3, 2), -1, Fraction(-1, 2)]
        assert [event.index for event in own[-3:]] == [0, 1, 2]


def test_a_pickup_ends_the_note_before_it_and_waits_for_a_line_that_is_not_over() -> None:
    own = with_pickup(stock()[0])
    busy = replace(own, notes=(*own.notes[:-1], replace(own.notes[-1], length=Fraction(5, 2))), end=Fraction(12))
    played = with_the_band(
        Roadmap([busy], parse_progression("Dm7 | G7 | Cmaj7"), KEYS[:2], count_in=1, swing=Fraction(1))
    )
    check(played)
    at = [event.beat for event in lines_part(played)]
    assert Fraction(16) in at
    assert Fraction(29, 2) in at


@pytest.mark.parametrize("seed", range(60))
def test_any_line_at_all(seed: int) -> None:
    line = line_at_random(seed)
    if not line.notes:
        return
    alone = of_line(line, swing=Fraction(1))
    check(alone)
    lead = max(Fraction(0), -(line.begin // line.meter.bar) * line.meter.bar)
    assert [(event.beat - lead, event.pitch) for event in alone.events] == [
        (note.start, note.pitch.midi) for note in line.notes if note.start < alone.length - lead
    ]
    assert alone.loop is None
    check(of_line(line, tempo=180, band=True, loop=True, count_in=1, seed=seed))
    check(with_the_band(Roadmap([line], None, tempo=90, rise=3, choruses=3, answered=True, seed=seed)))


def test_swing_and_straight() -> None:
    straight = of_line(LINE, 120, Fraction(1))
    swung = of_line(LINE, 120)
    assert {event.beat % 1 for event in straight.events} == {Fraction(0), Fraction(1, 2)}
    ratio = swing_ratio(120)
    assert {event.beat % 1 for event in swung.events} == {Fraction(0), ratio / (1 + ratio)}


def by_hand(beat: Fraction, tempos: tuple[tuple[Fraction, int], ...]) -> Fraction:
    """The second of a beat, added up a piece at a time."""
    passed, at = Fraction(0), Fraction(0)
    for place, (_, tempo) in enumerate(tempos):
        end = tempos[place + 1][0] if place + 1 < len(tempos) else beat
        piece = min(beat, end)
        if piece > at:
            passed += (piece - at) * Fraction(60, tempo)
            at = piece
    return passed


def test_seconds_are_exact() -> None:
    played = with_the_band(Roadmap(stock()[:3], PROGRESSIONS["turnaround"], tempo=97, rise=11, choruses=9))
    for event, (start, length) in zip(played.events, seconds(played), strict=True):
        exact = by_hand(event.beat, played.tempos)
        assert start == float(exact)
        assert abs(length - float(by_hand(event.end, played.tempos) - exact)) < 1e-12
    begins = [beat for beat, _ in played.tempos]
    crossing = [one for one in played.events if bisect_right(begins, one.beat) != bisect_right(begins, one.end)]
    assert len(played.tempos) == 9
    # A chord that comes early sounds into a chorus of another tempo.
    over = [event for event in crossing if event.end not in begins]
    assert over
    assert {event.instrument for event in over} == {"piano"}


def end_of(played: Arrangement) -> Fraction:
    """The second at which it ends."""
    begins = [*played.tempos, (played.length, 0)]
    return sum(((end - begin) * 60 / tempo for (begin, tempo), (end, _) in pairwise(begins)), Fraction(0))


def test_the_json_says_the_same() -> None:
    played = with_the_band(Roadmap([LINE], TWO_FIVE, KEYS, rise=5, answered=True, count_in=2))
    told = json.loads(json.dumps(as_json(played)))
    assert told["v"] == 1
    assert told["instruments"] == list(INSTRUMENTS)
    assert len(told["events"]) == len(played.events)
    for row, event, (start, length) in zip(told["events"], played.events, seconds(played), strict=True):
        assert row[2:] == [event.pitch, event.loudness, INSTRUMENTS.index(event.instrument), event.index]
        assert abs(row[0] - start) <= 0.00005001
        assert abs(row[1] - length) <= 0.00005001
    assert told["loop"] == [4, pytest.approx(float(end_of(played)), abs=1e-9)]
    assert told["chapters"][0] == [0, {"key": "C", "chord": "Dm7", "chorus": 0, "line": None, "free": False}]
    assert {chapter["key"] for _, chapter in told["chapters"]} == {"C", "F", "B♭"}
    assert as_json(of_line(LINE))["loop"] is None


@pytest.mark.parametrize("line", [LINE, with_pickup(LINE)], ids=["plain", "pickup"])
@pytest.mark.parametrize("name", ["", "aaba", "waltz", "short-two-five-one"])
def test_the_parts_are_the_whole_one_after_the_other(name: str, line: Line) -> None:
    road = Roadmap([line], PROGRESSIONS.get(name), rise=3, answered=True, count_in=2, seed=4)
    parts, whole = [*in_parts(road)], with_the_band(road)
    assert len(parts) > 1
    assert tuple(event for part in parts for event in part.events) == whole.events
    assert tuple(chapter for part in parts for chapter in part.chapters) == whole.chapters
    for part, after in pairwise(parts):
        assert (part.tempos, part.length, part.loop) == (whole.tempos, whole.length, whole.loop)
        last = max(part.events[-1].beat, part.chapters[-1].beat)
        assert last < min(after.events[0].beat, after.chapters[0].beat)
        assert part.chapters[-1].chorus < after.chapters[-1].chorus


def test_the_first_part_asks_for_two_choruses_more_at_most() -> None:
    worked: list[int] = []

    class Counted(Roadmap):
        def through(self, form: Progression) -> Any:
            class Keys(tuple):
                def __getitem__(self, place: Any) -> Any:
                    worked.append(place)
                    return super().__getitem__(place)

            return Keys(super().through(form))

    parts = in_parts(Counted([LINE], PROGRESSIONS["aaba"]))
    assert not worked
    next(parts)
    assert max(worked) <= 2
    next(parts)
    assert max(worked) == 3


def test_the_seed_alone_decides() -> None:
    one, two, other = (with_the_band(Roadmap([LINE], PROGRESSIONS["aaba"], KEYS, seed=seed)) for seed in (5, 5, 6))
    assert one == two
    assert one.events != other.events


def test_a_chord_and_two_notes() -> None:
    pitches = [parse_pitch("F4"), parse_pitch("A4")]
    played = of_figure(pitches, parse_chord("Dm7"), tempo=60)
    check(replace(played, events=tuple(e for e in played.events if e.instrument == "guitar")))
    notes = lines_part(played)
    assert [(event.beat, event.pitch, event.index) for event in notes] == [(2, 65, 0), (3, 69, 1)]
    held = [event for event in played.events if event.instrument != "guitar"]
    assert {(event.beat, event.end) for event in held} == {(0, 4)}
    assert {event.pitch % 12 for event in held} >= {2, 5, 0}
    assert [event.beat for event in of_figure(pitches).events] == [0, 1]


@pytest.mark.parametrize("line", [LINE, stock()[3], with_pickup(stock()[1])], ids=["major", "minor", "pickup"])
def test_a_cadence_and_a_line(line: Line) -> None:
    played = after_cadence(line, 120, Fraction(1))
    own = lines_part(played)
    cadence = [event for event in played.events if event.instrument != "guitar"]
    assert max(event.end for event in cadence) <= own[0].beat
    tonic = line.key.tonic.pitch_class
    assert [event.pitch % 12 for event in cadence if event.instrument == "bass"] == [
        (tonic + 2) % 12, (tonic + 7) % 12, tonic,
    ]  # fmt: skip
    assert [event.pitch for event in own] == [note.pitch.midi for note in line.notes]
    assert own[0].beat == max(event.end for event in cadence)


def test_two_voicings_in_turn() -> None:
    played = in_turn([(53, 57, 60, 64), (52, 55, 59, 62)], length=Fraction(3))
    assert [(event.beat, event.pitch, event.index) for event in played.events][3:5] == [(0, 64, 0), (3, 52, 1)]
    assert played.length == 6


def test_a_form_in_every_key_has_its_roots() -> None:
    form = PROGRESSIONS["blues"]
    played = with_the_band(Roadmap([], form, keys_of("major"), count_in=0))
    at = {event.beat: event.pitch or 0 for event in played.events if event.instrument == "bass"}
    for number, key in enumerate(keys_of("major")):
        for change in in_key(form, key).changes:
            assert at[number * form.length + change.beat] % 12 == change.chord.root.pitch_class
    assert played.chapters[0].chord.symbol == "C7"
    assert Meter().bar == 4
