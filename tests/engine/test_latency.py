"""How late sound comes: taps around a delay give it back, and what tells nothing sure is told so in a sentence."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from itertools import pairwise
from random import Random
from statistics import mean

import pytest

from engine.practice.latency import (
    CLICKS,
    COUNT_IN,
    EARLIEST,
    ENOUGH,
    MOST_LATE,
    STEP,
    WIDEST,
    TryAgain,
    clicks,
    estimated,
    read_late,
)
from engine.sound.event import as_json
from engine.theory.bad_input import BadInput

SEEDS = range(40)
SOUND = as_json(clicks())
TIMES = [event[0] for event in SOUND["events"]]
TAPPED = TIMES[COUNT_IN:]


def about(chance: Random, wide: float) -> float:
    """A number around 0 with a standard deviation of ``wide``: twelve even ones together are nearly normal."""
    return wide * (sum(chance.random() for _ in range(12)) - 6)


def taps(late: float, wide: float = 0, seed: int = 1, times: Sequence[float] = TAPPED) -> list[float]:
    """Someone taps along with clicks that are heard ``late`` ms after they are given away."""
    chance = Random(seed)
    return [time + (late + about(chance, wide)) / 1000 for time in times]


def test_sixteen_clicks_at_an_even_tempo_the_first_four_to_count_in() -> None:
    assert (COUNT_IN, CLICKS, len(TIMES)) == (4, 12, 16)
    steps = {round(after - before, 3) for before, after in pairwise(TIMES)}
    assert len(steps) == 1
    # The latest tap and the earliest one to the same click are less than a click apart: no tap could be two.
    assert steps.pop() * 1000 > MOST_LATE - EARLIEST
    assert {SOUND["instruments"][event[4]] for event in SOUND["events"]} == {"click"}
    # Nothing lights up, or it would be tapped along with instead.
    assert {event[5] for event in SOUND["events"]} == {None}
    # The last tap comes before the sound is over.
    assert SOUND["length"] * 1000 >= 1000 * TIMES[-1] + MOST_LATE


@pytest.mark.parametrize("late", [0, 5, 40, 100, 180, 250, 300, 415, 500])
def test_even_taps_give_the_delay_itself(late: int) -> None:
    found = estimated(taps(late))
    assert (found.late, found.taps) == (late, 10)
    # The page is told the clicks' times to a tenth of a millisecond.
    assert found.scatter <= 0.1
    assert found.middle == pytest.approx(late, abs=0.1)


@pytest.mark.parametrize("late", [40, 120, 180, 300, 480])
def test_a_musicians_taps_give_it_within_ten_milliseconds(late: int) -> None:
    found = [estimated(taps(late, 10, seed)).late for seed in SEEDS]
    assert all(abs(one - late) <= 10 for one in found)
    assert len(set(found)) > 1, "the taps are not all alike"
    assert all(one % STEP == 0 for one in found)


def test_a_beginners_taps_give_it_less_exactly_but_to_neither_side() -> None:
    found = [estimated(taps(200, 30, seed)).late for seed in SEEDS]
    assert all(abs(one - 200) <= 40 for one in found)
    assert abs(mean(found) - 200) <= 6


def test_seeking_the_beat_at_first_a_bounce_and_a_tap_or_two_astray_move_nothing() -> None:
    for seed in SEEDS:
        played = taps(180, 8, seed)
        played[0] += 0.25
        played[1] -= 0.2
        played[5] += 0.21
        played[9] -= 0.17
        bounced = [*played, *(tap + 0.06 for tap in played[3:8])]
        assert abs(estimated(bounced).late - 180) <= 10, seed


def test_taps_in_the_count_in_and_after_the_end_do_not_count() -> None:
    before, after = TIMES[:COUNT_IN], [TIMES[-1] + 1.2, TIMES[-1] + 4, TIMES[-1] + 60]
    played = [*taps(300, 0, 1, before), *taps(100), *after]
    assert (estimated(played).late, estimated(played).taps) == (100, 10)
    with pytest.raises(TryAgain):
        estimated([*taps(100, 0, 1, before), *after])


def test_the_order_of_the_taps_means_nothing() -> None:
    assert estimated(taps(180, 15)[::-1]) == estimated(taps(180, 15))


def test_taps_ahead_of_the_clicks_are_late_by_nothing() -> None:
    """People tap a little early: where sound is not late at all, nothing below 0 is set for that."""
    for early in (-20, -50, -95):
        found = estimated(taps(early, 8))
        assert found.late == 0
        assert found.middle == pytest.approx(early, abs=12)


def test_more_than_can_be_set_is_the_most_that_can() -> None:
    assert estimated(taps(540)).late == MOST_LATE
    # About the border between two clicks they belong together.
    late = 500 + (TIMES[1] * 1000 - MOST_LATE + EARLIEST)
    assert all(estimated(taps(late - 15, 10, seed)).scatter < 20 for seed in SEEDS)


def test_a_few_missed_clicks_do_no_harm_and_more_are_too_few() -> None:
    played = taps(180, 8)
    assert abs(estimated(played[: 2 + ENOUGH]).late - 180) <= 10
    for given in ([], played[:2], played[: 1 + ENOUGH], played[::2]):
        with pytest.raises(
            TryAgain, match=rf"^Only \d of your taps .* {ENOUGH} are needed: try again, one tap per click to the end\.$"
        ):
            estimated(given)


@pytest.mark.parametrize(
    ("play", "by_luck"),
    [
        (lambda chance: [TIMES[COUNT_IN] + 8 * chance.random() for _ in range(14)], 0.02),
        (lambda chance: [time + about(chance, 200) / 1000 for time in TAPPED], 0.05),
        (lambda chance: [time + half + about(chance, 10) / 1000 for time in TAPPED for half in (0.1, 0.4333)], 0),
        (lambda chance: [TIMES[COUNT_IN] + 0.7 * number + about(chance, 10) / 1000 for number in range(12)], 0),
    ],
    ids=["at random", "hardly along", "twice a click", "at another tempo"],
)
def test_taps_that_lie_too_wide_are_refused_in_a_sentence(
    play: Callable[[Random], list[float]], by_luck: float
) -> None:
    """But for a share of them that come near by luck."""
    refused = []
    for seed in range(200):
        try:
            estimated(play(Random(seed)))
        except TryAgain as again:
            refused.append(str(again))
    assert len(refused) >= 200 * (1 - by_luck)
    assert all(re.fullmatch(r"[OY][^.]* taps [^.]*: try again, one tap per click[^.]*\.", text) for text in refused)


def test_how_wide_is_too_wide() -> None:
    """Four of ten taps do not lie with the others: with three of them it would be two of three that do."""
    aside = {3: 1, 5: -1, 7: 1, 9: -1}
    for wide, is_refused in ((WIDEST - 3, False), (WIDEST + 3, True)):
        played = [tap + wide * aside.get(number, 0) / 1000 for number, tap in enumerate(taps(200))]
        if is_refused:
            with pytest.raises(TryAgain, match="Your taps were too uneven to tell: try again, one tap per click"):
                estimated(played)
        else:
            assert estimated(played).scatter == pytest.approx(wide, abs=0.1)
            assert estimated(played).late == 200


def test_numbers_that_are_none_break_nothing() -> None:
    played = taps(180)
    assert estimated([*played, float("nan"), float("inf"), -float("inf"), -3, 1e300]).late == 180
    with pytest.raises(TryAgain):
        estimated([float("nan")] * 20)
    with pytest.raises(TryAgain):
        estimated([5.0] * 100_000)


@pytest.mark.parametrize(
    ("typed", "late"), [("0", 0), ("180", 180), (" 500 ", 500), ("90 ms", 90), ("90ms", 90), ("", 0), ("007", 7)]
)
def test_a_number_is_read(typed: str, late: int) -> None:
    assert read_late(typed) == late


@pytest.mark.parametrize("typed", ["501", "-1", "1.5", "a lot", "１８０", "9" * 30, "0x10", "180 s", "ms180"])
def test_what_is_no_number_of_milliseconds_is_told_in_a_sentence(typed: str) -> None:
    with pytest.raises(BadInput, match=r"is no number of milliseconds; write a whole number from 0 to 500\.$"):
        read_late(typed)
