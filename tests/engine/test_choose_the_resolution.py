"""Choose the resolution: the right answer and every wrong one worked out again by hand."""

from collections.abc import Callable
from dataclasses import dataclass

import pytest
from asked import LEVELS, claims, notes, questions, scale, tones, wrong_choices
from by_hand import DEGREES, above, sound, spell

from engine.drills.choose_the_resolution import ASKS, MISTAKES_HERE, SLUG
from engine.drills.mistakes import MISTAKES
from engine.drills.question import Question
from engine.theory.chord import Chord
from engine.theory.pitch import Pitch
from engine.theory.wording import Text, render

every_level = pytest.mark.parametrize("level", LEVELS)


@dataclass(frozen=True)
class Change:
    """A note over a chord, and the chord that follows."""

    chord: Chord
    note: str
    following: Chord
    ask: str

    def next_tone(self, number: str) -> str:
        """The tone of the next chord with this number: its 3 or b3, its 7 or b7."""
        degree = next(degree for degree in tones(self.following) if degree.lstrip("b#") == number)
        return spell(str(self.following.root), degree)

    def next_has(self, degree: str) -> bool:
        return degree in tones(self.following)


def _change(question: Question) -> Change:
    chord, note, following, ask = (question.about[name] for name in ("chord", "note", "next", "ask"))
    assert isinstance(chord, Chord)
    assert isinstance(note, Pitch)
    assert isinstance(following, Chord)
    assert isinstance(ask, str)
    return Change(chord, str(note), following, ask)


def _distance(start: str, end: str) -> int:
    """Half steps to the nearest such note, either way."""
    return min(above(start, end), above(end, start))


@every_level
def test_the_right_note_is_the_third_or_the_one_guide_tone_a_step_away(level: int) -> None:
    for question in questions(SLUG, level):
        change = _change(question)
        right = str(question.choices[question.right].value)
        third, seventh = change.next_tone("3"), change.next_tone("7")
        to_third, to_seventh = _distance(change.note, third), _distance(change.note, seventh)
        if change.ask == "third":
            assert right == third
            assert to_third in (1, 2), question.skill
        else:
            assert to_third != to_seventh, "a tie is never asked"
            nearest = third if to_third < to_seventh else seventh
            assert right == nearest
            assert min(to_third, to_seventh) in (1, 2), "a held tone is never asked, nor a leap"


@every_level
def test_the_prompt_says_which_of_the_two_is_asked(level: int) -> None:
    asks = set()
    for question in questions(SLUG, level):
        change, said = _change(question), claims(question.prompt)
        assert (said["chord"], said["next"], str(said["note"])) == (change.chord, change.following, change.note)
        assert above(str(change.chord.root), change.note) == DEGREES[str(said["degree"])][1]
        prompt = render(question.prompt)
        assert ("guide tone" in prompt) == (change.ask == "guide tone")
        assert ("lands on the third" in prompt) == (change.ask == "third")
        asks.add(change.ask)
    assert asks == set(ASKS)


@every_level
def test_the_third_of_the_other_quality_is_always_there(level: int) -> None:
    for question in questions(SLUG, level):
        change = _change(question)
        other = spell(str(change.following.root), "3" if change.next_has("b3") else "b3")
        assert other in [str(choice.value) for choice in question.choices], question.skill


# How the roots move, in half steps up, and the kinds of chord that follow each kind.
DOWN_A_FIFTH, DOWN_A_HALF_STEP, UP_A_WHOLE_STEP = 5, 11, 2


@every_level
def test_chords_move_as_they_do_in_tunes(level: int) -> None:
    met = set()
    for question in questions(SLUG, level):
        change = _change(question)
        moved = above(str(change.chord.root), str(change.following.root))
        assert moved in (DOWN_A_FIFTH, DOWN_A_HALF_STEP, UP_A_WHOLE_STEP)
        assert level == 3 or moved == DOWN_A_FIFTH
        if moved == UP_A_WHOLE_STEP:
            assert (change.chord.kind, change.following.kind) == ("7", "maj7")
        if change.chord.kind in ("m7", "m7b5"):
            assert change.following.kind == "7"
        met.add(change.following.kind)
    assert {"maj7", "m7", "7"} <= met


@every_level
def test_a_natural_9_or_13_does_not_lead_into_minor(level: int) -> None:
    for question in questions(SLUG, level):
        change = _change(question)
        half_steps = above(str(change.chord.root), change.note)
        named = {DEGREES[degree][1] for degree in tones(change.chord)}
        assert half_steps in named or (half_steps in (2, 9) and change.next_has("3") and level > 1), question.skill


# --- the mistakes, from their description alone -------------------------------


def _next_tone(number: str) -> Callable[[Change, str], bool]:
    return lambda change, chosen: chosen == change.next_tone(number)


def _other_quality(major: str, minor: str) -> Callable[[Change, str], bool]:
    def holds(change: Change, chosen: str) -> bool:
        other = minor if change.next_has(major) else major
        return chosen == spell(str(change.following.root), other)

    return holds


def _third_before(change: Change, chosen: str) -> bool:
    third = next(degree for degree in tones(change.chord) if degree in ("3", "b3"))
    return chosen == spell(str(change.chord.root), third)


def _step_to_no_tone(change: Change, chosen: str) -> bool:
    next_sounds = {sound(note) for note in notes(change.following)}
    in_scale = {spell(str(change.following.root), degree) for degree in scale(change.following).values()}
    return _distance(change.note, chosen) in (1, 2) and sound(chosen) not in next_sounds and chosen in in_scale


DESCRIBED: dict[str, Callable[[Change, str], bool]] = {
    "third of the other quality": _other_quality("3", "b3"),
    "seventh of the other quality": _other_quality("7", "b7"),
    "root of the next chord": _next_tone("1"),
    "fifth of the next chord": _next_tone("5"),
    "third of the next chord": _next_tone("3"),
    "seventh of the next chord": _next_tone("7"),
    "third of the chord before": _third_before,
    "stayed": lambda change, chosen: chosen == change.note,
    "other way": _step_to_no_tone,
}


def test_every_mistake_leads_where_its_description_says() -> None:
    met = set()
    for level in LEVELS:
        for question, choice, mistake in wrong_choices(SLUG, level):
            change = _change(question)
            assert DESCRIBED[mistake](change, str(choice.value)), (question.skill, mistake, str(choice.value))
            assert mistake in MISTAKES_HERE[change.ask]
            met.add(mistake)
    assert met == {key for keys in MISTAKES_HERE.values() for key in keys} == set(DESCRIBED)


@every_level
def test_usable_is_every_tone_of_the_next_chord(level: int) -> None:
    for question, choice, _ in wrong_choices(SLUG, level):
        change = _change(question)
        in_chord = sound(str(choice.value)) in {sound(note) for note in notes(change.following)}
        assert choice.usable == in_chord, (question.skill, str(choice.value))
        assert ("usable, not asked" in render(choice.why)) == choice.usable


STEPS = {1: "rises a half step", 2: "rises a whole step", 11: "falls a half step", 10: "falls a whole step"}


@every_level
def test_the_right_why_is_true(level: int) -> None:
    for question in questions(SLUG, level):
        change, right = _change(question), question.choices[question.right]
        said = claims(right.why)
        assert said["next"] == change.following
        assert (str(said["note"]), said["target"]) == (change.note, right.value)
        assert said["step"] == Text(STEPS[above(change.note, str(right.value))])
        assert spell(str(change.following.root), str(said["degree"])) == str(right.value)
        assert str(said["degree"]) in tones(change.following)


@every_level
def test_every_wrong_why_is_true(level: int) -> None:
    for question, choice, mistake in wrong_choices(SLUG, level):
        change, said = _change(question), claims(choice.why)
        assert (said["next"], said["note"]) == (change.following, choice.value)
        assert above(str(change.following.root), str(choice.value)) == DEGREES[str(said["degree"])][1]
        if mistake == "third of the other quality":
            assert str(said["degree"]) in ("3", "b3")
        slip = render(said["slip"]) if isinstance(said["slip"], Text) else ""
        names = {degree.name for degree in change.following.degrees}
        if mistake == "third of the other quality":
            assert slip == f"the chord has the {'major' if '3' in names else 'minor'} third"
        elif mistake == "seventh of the other quality":
            assert slip == f"the chord has the {'major' if '7' in names else 'minor'} seventh"
        elif mistake == "third of the chord before":
            assert slip == f"the third of {render(Text('{chord}', (('chord', change.chord),)))}, the chord before"
        else:
            assert slip == MISTAKES[mistake].says
        assert render(choice.gloss) == render(Text("{degree}", (("degree", said["degree"]),)))
