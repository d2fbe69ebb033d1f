"""Find the note: the right note and every wrong one worked out again by hand."""

from collections.abc import Callable

import pytest
from asked import LEVELS, claims, notes, questions, scale, tones, wrong_choices
from by_hand import DEGREES, above, letters_above, sound, spell

from engine.drills.find_the_note import MISTAKES_HERE, SLUG, cards
from engine.drills.mistakes import MISTAKES
from engine.drills.options import Options
from engine.drills.question import Question
from engine.theory.chord import Chord
from engine.theory.degree import Degree
from engine.theory.interval import Interval
from engine.theory.pitch import Pitch
from engine.theory.wording import Text, render

every_level = pytest.mark.parametrize("level", LEVELS)


def _given(question: Question) -> tuple[Chord, str]:
    chord, degree = question.given["chord"], question.given["degree"]
    assert isinstance(chord, Chord)
    assert isinstance(degree, Degree)
    return chord, degree.name


def _number(degree: str) -> str:
    return degree.lstrip("b#")


@every_level
def test_the_right_note_is_counted_in_letters_and_half_steps(level: int) -> None:
    for question in questions(SLUG, level):
        chord, degree = _given(question)
        right, root = str(question.choices[question.right].value), str(chord.root)
        assert (letters_above(root, right) + 1, above(root, right)) == DEGREES[degree], question.skill
        assert right == spell(root, degree)
        assert str(question.about["note"]) == right


def test_spelling_is_the_chords_own() -> None:
    """A flat seventh over E flat is never C sharp; nor does any right note stand on another letter."""
    found = {
        (chord.symbol, degree.name): str(degree.over(chord.root))
        for level in LEVELS
        for chord, degree in cards(Options(level=level))
    }
    told = {("Eb7", "b7"): "Db", ("A7", "b9"): "Bb", ("F#7", "3"): "A#", ("C7", "#9"): "D#", ("Dbmaj7", "#11"): "G",
            ("Abmaj7", "3"): "C", ("Bm7b5", "b5"): "F", ("E7", "#11"): "A#", ("Gbmaj7", "11"): None}  # fmt: skip
    assert {asked: found.get(asked) for asked in told} == told


def test_levels_go_from_chord_tones_to_extensions_to_altered_degrees() -> None:
    asked = {level: {_given(question)[1] for question in questions(SLUG, level)} for level in LEVELS}
    assert asked[1] == {"b3", "3", "5", "b7", "7"}
    assert {"9", "11", "13"} <= asked[2]
    assert "#9" not in asked[2]
    assert {"b9", "#9", "#11", "b13"} <= asked[3]
    for question in questions(SLUG, 1):
        chord, degree = _given(question)
        assert degree in tones(chord)


@every_level
def test_neither_heading_nor_facts_that_are_shown_have_the_note(level: int) -> None:
    for question in questions(SLUG, level):
        assert set(question.given) == {"chord", "degree"}
        said = claims(question.prompt)
        assert said == dict(question.given)
        assert ("triad" in render(question.prompt)) == (len(tones(_given(question)[0])) == 3)


# --- the mistakes, from their description alone -------------------------------

Facts = tuple[Chord, str, str]  # the chord, the degree that is asked, the note that is chosen


def _other_sign(facts: Facts) -> bool:
    chord, asked, chosen = facts
    others = [name for name in DEGREES if _number(name) == _number(asked) and name != asked]
    return chosen in [spell(str(chord.root), name) for name in others]


def _letters_off(by: int) -> Callable[[Facts], bool]:
    def holds(facts: Facts) -> bool:
        chord, asked, chosen = facts
        letter = (DEGREES[asked][0] - 1 + by) % 7 + 1
        return chosen == spell(str(chord.root), scale(chord)[letter])

    return holds


def _counted_down(facts: Facts) -> bool:
    chord, asked, chosen = facts
    return above(chosen, str(chord.root)) == DEGREES[asked][1] % 12


def _counted_from(number: str) -> Callable[[Facts], bool]:
    def holds(facts: Facts) -> bool:
        chord, asked, chosen = facts
        start = next(note for note, degree in zip(notes(chord), tones(chord), strict=True) if _number(degree) == number)
        return above(start, chosen) == DEGREES[asked][1]

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
        chord, asked = _given(question)
        assert DESCRIBED[mistake]((chord, asked, str(choice.value))), (question.skill, mistake, str(choice.value))
        assert not choice.usable
        met.add(mistake)
    assert met == set(MISTAKES_HERE) == set(DESCRIBED)


@every_level
def test_the_root_is_never_a_choice_and_every_choice_can_be_read(level: int) -> None:
    for question in questions(SLUG, level):
        chord, _ = _given(question)
        for choice in question.choices:
            assert isinstance(choice.value, Pitch)
            assert sound(str(choice.value)) != sound(str(chord.root))
            assert abs(choice.value.accidental) < 2, (question.skill, str(choice.value))


@every_level
def test_the_letter_alone_seldom_gives_it_away(level: int) -> None:
    """Most questions have a second note on the right one's letter."""
    shared = [
        [str(choice.value)[0] for choice in question.choices].count(str(question.choices[question.right].value)[0]) > 1
        for question in questions(SLUG, level)
    ]
    assert sum(shared) > 0.75 * len(shared)


@every_level
def test_the_right_why_is_true(level: int) -> None:
    names = {"b9": "minor ninth", "9": "major ninth", "#9": "augmented ninth", "b3": "minor third", "3": "major third",
             "11": "perfect eleventh", "#11": "augmented eleventh", "b5": "diminished fifth", "5": "perfect fifth",
             "#5": "augmented fifth", "6": "major sixth", "b13": "minor thirteenth", "13": "major thirteenth",
             "bb7": "diminished seventh", "b7": "minor seventh", "7": "major seventh"}  # fmt: skip
    for question in questions(SLUG, level):
        chord, degree = _given(question)
        right = question.choices[question.right]
        said = claims(right.why)
        assert isinstance(said["interval"], Interval)
        assert said["interval"].name == names[degree]
        assert (said["root"], said["note"], said["chord"], str(said["degree"])) == (
            chord.root, right.value, chord, degree,
        )  # fmt: skip
        assert render(right.gloss) == render(Text("{degree}", (("degree", said["degree"]),)))


@every_level
def test_every_wrong_why_says_what_the_note_is_by_letter_and_sound(level: int) -> None:
    for question, choice, mistake in wrong_choices(SLUG, level):
        chord, asked = _given(question)
        said, root, note = claims(choice.why), str(chord.root), str(choice.value)
        assert (said["chord"], said["note"]) == (chord, choice.value)
        degree = str(said["degree"])
        assert (letters_above(root, note) + 1, above(root, note)) == DEGREES[degree], (question.skill, note, degree)
        assert degree != asked
        assert said["slip"] == Text(MISTAKES[mistake].says, (("root", chord.root),))
        assert render(choice.gloss) == render(Text("{degree}", (("degree", said["degree"]),)))
        if above(root, note) in {DEGREES[tone][1] for tone in tones(chord)}:
            assert degree in tones(chord), (question.skill, note, degree)
