"""What the hand's motions cost beside each other."""

from __future__ import annotations

from itertools import product

import pytest

from engine.neck.hand import motion, pace, shift, touches


@pytest.mark.parametrize(
    ("easier", "harder"),
    [
        pytest.param({"pace": 1}, {"pace": 3}, id="slow notes before fast ones"),
        pytest.param({"after_rest": True}, {}, id="after a rest"),
        pytest.param({"on_slide": True}, {}, id="along a slide"),
        pytest.param({"after_open": True}, {}, id="after an open string"),
        pytest.param({"frets": 2}, {"frets": 7}, id="not far"),
        pytest.param({"strings": 0}, {"strings": -3}, id="on the same string"),
    ],
)
def test_a_shift_costs_less(easier: dict[str, int], harder: dict[str, int]) -> None:
    usual = {"pace": 2, "frets": 3, "after_rest": False, "after_open": False, "on_slide": False, "strings": 1}
    one, other = ({**usual, **change} for change in (easier, harder))
    assert 0 < shift(*one.values()) < shift(*other.values())


@pytest.mark.parametrize(
    ("easier", "harder"),
    [
        pytest.param((1, 1, 2, 2, 3), (4, 1, 2, 2, 3), id="slow before fast"),
        pytest.param((2, 0, 2, 1, 3), (2, 1, 2, 1, 3), id="no crossing"),
        pytest.param((2, 1, 2, 1, 3), (2, 2, 2, 1, 3), id="no string skipped"),
        pytest.param((2, 1, 0, 1, 2), (2, 1, 0, 4, 4), id="two fingers before one rolled"),
        pytest.param((2, 1, 0, 1, 1), (2, 1, 1, 1, 1), id="rolled before jumping"),
        pytest.param((2, 1, 0, 1, 1), (2, 1, 0, 4, 4), id="the index rolls best"),
        pytest.param((2, 0, 2, 1, 3), (2, 0, 2, 3, 1), id="fingers do not cross"),
        pytest.param((2, -1, 0, 3, 4), (2, -1, 0, 4, 3), id="the higher finger on the higher string"),
    ],
)
def test_a_motion_costs_less(easier: tuple[int, ...], harder: tuple[int, ...]) -> None:
    assert motion(*easier) < motion(*harder)


def test_a_motion_costs_the_same_backwards() -> None:
    for factor, strings, frets in product((1, 2), range(-7, 8), range(-5, 6)):
        for first, second in product(range(5), repeat=2):
            assert motion(factor, strings, frets, first, second) == motion(factor, -strings, -frets, second, first)


def cheapest(fret: int, position: int) -> int:
    return min(touch.cost for touch in touches(1, fret, position))


def test_a_touch_costs_by_its_reach_and_by_its_place_on_the_neck() -> None:
    assert cheapest(7, 7) < cheapest(6, 7) == cheapest(11, 7)
    assert cheapest(5, 1) - cheapest(2, 1) > cheapest(11, 7) - cheapest(8, 7), "wide frets near the nut"
    assert cheapest(8, 7) < cheapest(18, 17)
    assert cheapest(0, 1) < cheapest(0, 5) < cheapest(0, 12)


def test_fast_notes_make_motion_dear() -> None:
    paces = [pace(seconds) for seconds in (2, 0.5, 0.25, 0.15, 0.05)]
    assert paces == sorted(paces)
    assert len(set(paces)) == 4
