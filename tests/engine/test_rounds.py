"""Rounds: what follows one, and how the levels go up and down."""

import pytest

from engine.practice.round import Answer, Round
from engine.practice.rounds import MIXED, make_round, narrower, once_more, only_missed, plan_round, wider


def _played(round_: Round, wrong: set[int]) -> Round:
    answers = tuple(
        Answer(place, (question.right + (place in wrong)) % len(question.choices))
        for place, question in enumerate(round_.questions)
    )
    return Round(round_.plan, round_.questions, answers)


@pytest.mark.parametrize("drill", ["name-the-degree", MIXED])
def test_the_next_round_goes_on_behind_what_was_asked_also_after_the_missed_ones(drill: str) -> None:
    first = _played(plan_round(drill, count=10), {2, 7})
    again = make_round(only_missed(first))
    assert again.plan.indexes == (2, 7)
    assert again.questions == (first.questions[2], first.questions[7])
    assert once_more(_played(again, {0})).indexes == tuple(range(10, 20))
    assert only_missed(_played(again, {1})).indexes == (7,)
    assert once_more(make_round(only_missed(_played(again, {1})))).indexes == tuple(range(10, 20))


def test_without_a_miss_the_whole_round_comes_again() -> None:
    assert only_missed(_played(plan_round(MIXED, count=5), set())).indexes == (0, 1, 2, 3, 4)


def test_the_levels_go_up_and_back() -> None:
    first = plan_round("name-the-degree", count=5)
    roots = {str(question.given["chord"])[:1] for question in make_round(once_more(first)).questions}
    assert roots <= {"C", "F", "B"}
    twelve = make_round(wider(first))
    altered = make_round(wider(twelve))
    assert [r.plan.options for r in (first, twelve, altered)] == ["v=1", "v=1&level=2", "v=1&level=3"]
    assert narrower(altered).options == "v=1&level=2"
    assert narrower(twelve).options == "v=1"
    assert wider(altered).options == "v=1&level=3"
    assert wider(plan_round("name-the-degree", "keys=Eb&chords=7", count=5)).options == "v=1&chords=7&level=2"
    assert wider(first).indexes == (5, 6, 7, 8, 9)
