"""Swing: the ratio by tempo, and beats warped by it."""

from fractions import Fraction
from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from engine.lines.line import Meter, Note
from engine.sound.feel import MOST, ratio_for, swing_ratio, swung, swung_notes
from engine.theory.pitch import Pitch

BEATS = st.fractions(min_value=-8, max_value=64, max_denominator=48)
RATIOS = st.fractions(min_value=1, max_value=MOST, max_denominator=100)


def test_the_ratio_falls_with_the_tempo_and_is_even_at_three_hundred() -> None:
    ratios = [swing_ratio(tempo) for tempo in range(40, 321)]
    assert all(slow >= fast for slow, fast in pairwise(ratios))
    assert all(1 <= ratio <= Fraction(7, 2) for ratio in ratios)
    assert (swing_ratio(100), swing_ratio(200), swing_ratio(300), swing_ratio(320)) == (
        Fraction(5, 2), Fraction(7, 4), 1, 1,
    )  # fmt: skip
    # About linear between: no step is more than twice the mean one.
    steps = [slow - fast for slow, fast in pairwise(swing_ratio(tempo) for tempo in range(100, 301))]
    assert max(steps) <= 2 * sum(steps) / len(steps)


def test_the_short_eighth_is_never_shorter_than_about_a_tenth_of_a_second() -> None:
    for tempo in range(40, 301):
        assert 60 / tempo / (1 + float(swing_ratio(tempo))) > 0.099


def test_the_player_may_set_it_and_eighths_that_are_the_beat_are_even() -> None:
    assert ratio_for(Meter(), 120) == swing_ratio(120)
    assert ratio_for(Meter(), 120, Fraction(3)) == 3
    assert ratio_for(Meter(6, 8), 120, Fraction(3)) == 1


@given(BEATS, BEATS, RATIOS)
def test_swing_keeps_order_and_beats(one: Fraction, other: Fraction, ratio: Fraction) -> None:
    first, second = sorted((one, other))
    assert (swung(first, ratio) < swung(second, ratio)) == (first < second)
    assert swung(first, ratio) // 1 == first // 1
    assert swung(one // 1 + 0, ratio) == one // 1
    assert swung(one, Fraction(1)) == one
    assert swung(one + 1, ratio) == swung(one, ratio) + 1


@given(RATIOS)
def test_the_halves_of_a_beat_have_the_ratio(ratio: Fraction) -> None:
    middle = swung(Fraction(1, 2), ratio)
    assert middle == ratio * (1 - middle)
    assert swung(Fraction(1, 4), ratio) == middle / 2


def test_a_triplet_stays_a_triplet_beside_swung_eighths() -> None:
    places = ["0", "1/2", "1", "4/3", "5/3", "2", "5/2", "3", "13/4", "7/2", "15/4", "4"]
    notes = tuple(Note(Pitch(0, 0, 4), Fraction(a), Fraction(b) - Fraction(a)) for a, b in pairwise(places))
    starts = [start for start, _ in swung_notes(notes, Fraction(2))]
    assert starts == [Fraction(p) for p in ["0", "2/3", "1", "4/3", "5/3", "2", "8/3", "3", "13/4", "7/2", "15/4"]]
    assert all(end == start for (_, end), (start, _) in pairwise(swung_notes(notes, Fraction(2))))
