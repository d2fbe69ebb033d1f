"""Rounds: what follows one, and how the levels go up and down."""

import json
from collections.abc import Callable
from itertools import pairwise
from typing import Any

import pytest

from engine import browser
from engine.drills.catalogue import CATALOGUE
from engine.drills.question import as_json as question_as_json
from engine.practice.mixed import MIXED, MIXED_BY_EAR
from engine.practice.round import Answer, Plan, Round
from engine.practice.rounds import (
    as_wanted,
    make_round,
    narrower,
    once_more,
    only_missed,
    plan_as_json,
    plan_from_json,
    plan_round,
    wider,
)


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


# --- mixed rounds, with drills by ear and without -----------------------------------

BY_EAR = {entry.slug for entry in CATALOGUE if entry.by_ear}


def _following(round_: Round, how: Callable[[Round], Plan] = once_more, quiet: bool = False) -> Round:
    return make_round(plan_from_json(plan_as_json(as_wanted(how(round_), round_, quiet))))


def _by_ear(round_: Round) -> list[int]:
    """The places of the questions that are answered by ear."""
    return [place for place, question in enumerate(round_.questions) if question.drill in BY_EAR]


def test_a_pages_own_mixed_round_is_never_by_ear_whatever_its_link_says() -> None:
    for link in ("", "level=3&count=50", "keys=F,Bb", "seed=9", "ear=yes"):
        assert _by_ear(plan_round(MIXED, link, count=50)) == []


@pytest.mark.parametrize("link", ["", "level=2", "level=3", "keys=F%23", "keys=A,Eb&level=3"])
def test_what_follows_it_has_every_drill_by_ear_spread_among_the_others(link: str) -> None:
    round_ = plan_round(MIXED, link, count=5)
    asked: list[str] = []
    for _ in range(13):
        round_ = _following(round_)
        assert 1 <= len(_by_ear(round_)) <= 2, "of five"
        assert all((question.heard is not None) == (question.drill in BY_EAR) for question in round_.questions)
        asked += [question.drill for question in round_.questions]
    assert set(asked) == {entry.slug for entry in CATALOGUE if entry.mixed or (entry.by_ear and not entry.neck)}
    assert all(not {one, other} <= BY_EAR for one, other in pairwise(asked)), "never two in a row"
    assert round_.plan.drill == MIXED_BY_EAR


@pytest.mark.parametrize("how", [once_more, wider, narrower])
def test_who_wants_it_quiet_never_has_one(how: Callable[[Round], Plan]) -> None:
    round_ = plan_round(MIXED, "level=2", count=5)
    for _ in range(6):
        round_ = _following(round_, how, quiet=True)
        assert (_by_ear(round_), round_.plan.drill) == ([], MIXED)
    loud = _following(_following(round_, how), how)
    assert _by_ear(loud)
    assert _by_ear(_following(loud, how, quiet=True)) == []


def test_where_ears_come_in_or_go_out_no_question_comes_twice() -> None:
    round_ = plan_round(MIXED, count=9)
    asked = [question_as_json(one) for one in round_.questions]
    for quiet in (False, True, False, True):
        round_ = _following(round_, quiet=quiet)
        asked += [question_as_json(one) for one in round_.questions]
    assert len({json.dumps(one) for one in asked}) == len(asked) == 45


def test_the_missed_ones_come_again_but_not_those_by_ear_for_who_has_become_quiet() -> None:
    first = plan_round(MIXED, count=5)
    assert _following(_played(first, {1, 3}), only_missed).questions == (first.questions[1], first.questions[3])
    loud = _following(_following(first))
    by_ear = set(_by_ear(loud))
    others = set(range(5)) - by_ear
    again = _following(_played(loud, {0, 1, 2, 3, 4}), only_missed)
    assert again.questions == loud.questions
    silent = _following(_played(loud, {0, 1, 2, 3, 4}), only_missed, quiet=True)
    assert silent.questions == tuple(loud.questions[place] for place in sorted(others))
    # Where nothing would be left there are new ones.
    fresh = _following(_played(loud, by_ear), only_missed, quiet=True)
    assert (_by_ear(fresh), len(fresh.questions), fresh.plan.drill) == ([], 5, MIXED)


def test_no_other_drills_round_changes() -> None:
    for entry in CATALOGUE:
        round_ = plan_round(entry.slug, count=3)
        for quiet in (False, True):
            assert as_wanted(once_more(round_), round_, quiet) == once_more(round_)


def _follow(settings: Any = None, **more: Any) -> dict[str, Any]:
    plan = plan_as_json(plan_round(MIXED, count=5).plan)
    request = {"do": "follow", "plan": plan, "answers": [], "how": "once more", **more}
    answer: dict[str, Any] = json.loads(
        browser.call(json.dumps(request | ({"settings": settings} if settings else {})))
    )
    return answer


def test_the_page_is_answered_by_its_settings_and_without_the_pack_where_that_cannot_be_had() -> None:
    assert _follow()["plan"]["drill"] == MIXED_BY_EAR
    assert _follow({"v": 1, "tuning": "bass"})["plan"]["drill"] == MIXED_BY_EAR
    assert _follow({"v": 1, "quiet": True})["plan"]["drill"] == MIXED
    assert _follow(lacking="more")["plan"]["drill"] == MIXED
    assert _follow(early=True)["plan"]["drill"] == MIXED
    assert _follow(early=False)["plan"]["drill"] == MIXED_BY_EAR
    assert _follow(lacking="mido")["plan"]["drill"] == MIXED_BY_EAR
    for strange in ("quiet", [True], {"quiet": "yes"}):
        assert _follow(strange)["plan"]["drill"] == MIXED_BY_EAR
    assert 'data-ear="now"' in _follow()["html"]
    assert 'data-ear="next"' in _follow({"quiet": True})["html"]
