"""Name the degree: the right answer and every wrong one worked out again by hand."""

from collections.abc import Callable

import pytest
from asked import LEVELS, claims, questions, scale, tones, wrong_choices
from by_hand import DEGREES, above, letters_above, spell

from engine.drills.mistakes import MISTAKES
from engine.drills.name_the_degree import MISTAKES_HERE, SLUG
from engine.drills.question import Question
from engine.theory.chord import Chord
from engine.theory.degree import Degree
from engine.theory.interval import Interval
from engine.theory.pitch import Pitch
from engine.theory.wording import Text, render

every_level = pytest.mark.parametrize("level", LEVELS)

INTERVALS = {
    "1": "perfect unison", "b9": "minor ninth", "9": "major ninth", "#9": "augmented ninth", "b3": "minor third",
    "3": "major third", "11": "perfect eleventh", "#11": "augmented eleventh", "b5": "diminished fifth",
    "5": "perfect fifth", "#5": "augmented fifth", "6": "major sixth", "b13": "minor thirteenth",
    "13": "major thirteenth", "bb7": "diminished seventh", "b7": "minor seventh", "7": "major seventh",
}  # fmt: skip


def _given(question: Question) -> tuple[Chord, str]:
    chord, note = question.given["chord"], question.given["note"]
    assert isinstance(chord, Chord)
    assert isinstance(note, Pitch)
    return chord, str(note)


@every_level
def test_the_right_degree_is_counted_in_letters_and_half_steps(level: int) -> None:
    for question in questions(SLUG, level):
        chord, note = _given(question)
        root = str(chord.root)
        right = str(question.choices[question.right].value)
        assert DEGREES[right] == (letters_above(root, note) + 1, above(root, note)), question.skill
        assert right != "1"
        if right not in tones(chord):
            assert right in ("9", "11", "13", "b9", "#9", "#11", "b13"), question.skill


# Over which chords the degrees above the seventh are asked: extensions, and alterations of a dominant.
ASKED_ABOVE = {
    "7": "9 13 b9 #9 #11 b13", "7b9": "13 #9 #11 b13", "7#9": "13 b9 #11 b13", "7#11": "9 13 b9 #9 b13",
    "7b13": "9 b9 #9 #11", "7b9b13": "#9 #11", "7#5": "9 b9 #9 #11", "7sus4": "9 13 b9 #9 #11 b13",
    "maj7": "9 #11 13", "maj7#11": "9 13", "maj7#5": "9 #11 13", "6": "9 #11", "maj": "9", "aug": "9 #11",
    "m7": "9 11 13", "m6": "9 11", "mMaj7": "9 11 13", "m": "9 11", "m7b5": "b9 9 11 b13", "dim7": "9 11 b13",
    "dim": "9 11 b13",
}  # fmt: skip


@every_level
def test_only_degrees_that_players_use_over_the_chord_are_asked(level: int) -> None:
    for question in questions(SLUG, level):
        chord, _ = _given(question)
        right = str(question.choices[question.right].value)
        assert right in [*tones(chord), *ASKED_ABOVE[chord.kind or ""].split()], question.skill
        assert level > 1 or right in tones(chord)
        assert level > 2 or right not in ("#9", "b13") or chord.kind in ("m7b5", "dim7")


# --- the mistakes, from their description alone -------------------------------

Facts = tuple[Chord, str, str]  # the chord, the degree that is asked, the degree that is chosen


def _number(degree: str) -> str:
    return degree.lstrip("b#")


def _half_steps(degree: str) -> int:
    return DEGREES[degree][1]


def _other_sign(facts: Facts) -> bool:
    _, asked, chosen = facts
    return _number(chosen) == _number(asked) and chosen != asked


def _letters_off(by: int) -> Callable[[Facts], bool]:
    def holds(facts: Facts) -> bool:
        chord, asked, chosen = facts
        letter = (DEGREES[asked][0] - 1 + by) % 7 + 1
        return chosen == scale(chord)[letter]

    return holds


def _counted_down(facts: Facts) -> bool:
    _, asked, chosen = facts
    return (_half_steps(chosen) + _half_steps(asked)) % 12 == 0


def _counted_from(number: str) -> Callable[[Facts], bool]:
    def holds(facts: Facts) -> bool:
        chord, asked, chosen = facts
        start = next(degree for degree in tones(chord) if _number(degree) == number)
        return _half_steps(chosen) == (_half_steps(asked) - _half_steps(start)) % 12

    return holds


DESCRIBED: dict[str, Callable[[Facts], bool]] = {
    "other sign": _other_sign,
    "a letter too far": _letters_off(1),
    "a letter short": _letters_off(-1),
    "counted down": _counted_down,
    "counted from the third": _counted_from("3"),
    "counted from the fifth": _counted_from("5"),
}


@every_level
def test_every_mistake_leads_where_its_description_says(level: int) -> None:
    met = set()
    for question, choice, mistake in wrong_choices(SLUG, level):
        chord, _ = _given(question)
        asked, chosen = str(question.choices[question.right].value), str(choice.value)
        assert DESCRIBED[mistake]((chord, asked, chosen)), (question.skill, mistake, chosen)
        assert not choice.usable
        met.add(mistake)
    assert met == set(MISTAKES_HERE) == set(DESCRIBED)


@every_level
def test_the_right_why_is_true(level: int) -> None:
    for question in questions(SLUG, level):
        chord, note = _given(question)
        right = question.choices[question.right]
        said = claims(right.why)
        interval = said["interval"]
        assert isinstance(interval, Interval)
        assert interval.name == INTERVALS[str(right.value)]
        assert said == {"root": chord.root, "note": question.given["note"], "degree": right.value, "chord": chord,
                        "interval": interval}  # fmt: skip
        assert render(right.gloss) == render(Text("{note}", (("note", said["note"]),)))
        assert spell(str(chord.root), str(right.value)) == note


@every_level
def test_every_wrong_why_is_true(level: int) -> None:
    for question, choice, mistake in wrong_choices(SLUG, level):
        chord, note = _given(question)
        said = claims(choice.why)
        assert (said["root"], str(said["asked"])) == (chord.root, note)
        assert isinstance(said["degree"], Degree)
        assert said["degree"] == choice.value
        assert str(said["note"]) == spell(str(chord.root), str(choice.value))
        assert said["slip"] == Text(MISTAKES[mistake].says, (("root", chord.root),))
