"""Arpeggio from the third: the right answer and every wrong one worked out again by hand."""

from collections.abc import Callable
from dataclasses import dataclass

import pytest
from asked import LEVELS, TONES, UPPER, claims, notes, questions, tones, wrong_choices
from by_hand import DEGREES, LETTERS, above, letters_above, sound, spell

from engine.drills.arpeggio_from_the_third import MISTAKES_HERE, SLUG
from engine.drills.mistakes import MISTAKES
from engine.drills.question import Choice, Question
from engine.theory.chord import Chord
from engine.theory.degree import Degree
from engine.theory.key import Key
from engine.theory.wording import Text, render

every_level = pytest.mark.parametrize("level", LEVELS)

# The seventh chords that stack major and minor thirds.
IN_THIRDS = ("maj7", "m7", "7", "m7b5", "dim7", "mMaj7", "maj7#5")
SCALES = {"major": (0, 2, 4, 5, 7, 9, 11), "minor": (0, 2, 3, 5, 7, 8, 10)}
DOMINANTS = ("7", "7b9", "7#11", "7b9b13")


@dataclass(frozen=True)
class Asked:
    """What is asked: the chord, the key (its notes by sound), and the stack of thirds above its root."""

    chord: Chord
    key: frozenset[int] | None
    stack: tuple[str, ...]

    @property
    def root(self) -> str:
        return str(self.chord.root)

    def half_steps(self, first: int) -> list[int]:
        """Four tones of the stack from a place on, in half steps above the root."""
        return [DEGREES[degree][1] for degree in self.stack[first : first + 4]]


def _asked(question: Question) -> Asked:
    chord, key = question.given["chord"], question.given.get("key")
    assert isinstance(chord, Chord)
    in_key = None
    if key is not None:
        assert isinstance(key, Key)
        in_key = frozenset((sound(str(key.tonic)) + step) % 12 for step in SCALES[key.mode])
    named = tones(chord)
    upper = []
    for number, usual in zip(("9", "11", "13"), UPPER.get(chord.kind or "", "9 11 13").split(), strict=True):
        own = [degree for degree in named if degree.lstrip("b#") == number]
        if own:
            upper.append(own[0])
        elif in_key is None:
            upper.append(usual)
        else:
            names = (number, f"b{number}" if number != "11" else "#11")
            upper.append(next(name for name in names if sound(spell(str(chord.root), name)) in in_key))
    return Asked(chord, in_key, (*named[:4], *upper))


def _own(choice: Choice) -> Chord:
    assert isinstance(choice.value, Chord)
    return choice.value


def _over(asked: Asked, own: Chord) -> list[int]:
    """The chord's tones in half steps above the root of the chord that is asked."""
    return [above(asked.root, note) for note in notes(own)]


@every_level
def test_the_right_arpeggio_is_the_only_chord_in_thirds_with_these_four_tones(level: int) -> None:
    for question in questions(SLUG, level):
        asked = _asked(question)
        right = _own(question.choices[question.right])
        wanted = [(sound(asked.root) + half_steps) % 12 for half_steps in asked.half_steps(1)]
        fitting = [
            (sound(letter + sign), kind)
            for letter in LETTERS
            for sign in ("b", "", "#")
            for kind in IN_THIRDS
            if [sound(spell(letter + sign, degree)) for degree in TONES[kind].split()] == wanted
        ]
        assert {(sound(str(right.root)), right.kind)} == set(fitting), question.skill
        assert letters_above(asked.root, str(right.root)) == 2, question.skill


@every_level
def test_a_dominant_is_asked_in_the_key_that_decides_its_ninth(level: int) -> None:
    for question in questions(SLUG, level):
        chord, key = question.given["chord"], question.given.get("key")
        assert isinstance(chord, Chord)
        assert (key is not None) == (chord.kind == "7")
        if isinstance(key, Key):
            assert above(str(key.tonic), str(chord.root)) == 7
            assert level > 1 or key.mode == "major"
            ninth = question.skill.split("/")[2]
            assert ninth == {"major": "9", "minor": "b9"}[key.mode]


# --- the mistakes, from their description alone -------------------------------


def _other_third(asked: Asked, chosen: list[int]) -> bool:
    third, fifth, seventh, ninth = chosen
    return third == {4: 3, 3: 4}[asked.half_steps(1)[0]] and fifth == 7 and seventh in (10, 11) and ninth in (1, 2)


def _other_seventh(asked: Asked, chosen: list[int]) -> bool:
    third, fifth, seventh, _ = asked.half_steps(1)
    return chosen == [third, fifth, {10: 11, 11: 10}[seventh], 2]


def _other_ninth(asked: Asked, chosen: list[int]) -> bool:
    *below, ninth = asked.half_steps(1)
    return chosen == [*below, {1: 2, 2: 1}[ninth]]


def _third_below(asked: Asked, chosen: list[int]) -> bool:
    return chosen[1:] == asked.half_steps(0)[:3] and chosen[0] in (8, 9)


DESCRIBED: dict[str, Callable[[Asked, list[int]], bool]] = {
    "other third": _other_third,
    "other seventh": _other_seventh,
    "other ninth": _other_ninth,
    "from the fifth": lambda asked, chosen: chosen == asked.half_steps(2),
    "from the seventh": lambda asked, chosen: chosen == asked.half_steps(3),
    "a third below": _third_below,
}
# On which letter above the root each mistake starts, the root's own being 0.
STARTS = {
    "other third": 2, "other seventh": 2, "other ninth": 2, "from the fifth": 4, "from the seventh": 6,
    "a third below": 5,
}  # fmt: skip


def _starts_on(asked: Asked, own: Chord, letters: int) -> bool:
    """Whether the arpeggio stands on the letter; one with two signs there may be written with the fewest."""
    on_letter = LETTERS[(LETTERS.index(asked.root[0]) + letters) % 7]
    twins = [on_letter + sign for sign in ("bb", "##") if sound(on_letter + sign) == sound(str(own.root))]
    return str(own.root)[0] == on_letter or bool(twins)


@every_level
def test_every_mistake_leads_where_its_description_says(level: int) -> None:
    met = set()
    for question, choice, mistake in wrong_choices(SLUG, level):
        asked, own = _asked(question), _own(choice)
        assert DESCRIBED[mistake](asked, _over(asked, own)), (question.skill, mistake, own.symbol)
        assert _starts_on(asked, own, STARTS[mistake]), (question.skill, mistake, own.symbol)
        assert own.kind in IN_THIRDS
        met.add(mistake)
    assert met == set(MISTAKES_HERE) == set(DESCRIBED)


# Half steps above the root that sound well beside the chord's own tones: extensions, then alterations.
EXTENSIONS = {"maj7": {2, 6, 9}, "maj7#5": {2, 6, 9}, "m7": {2, 5, 9}, "mMaj7": {2, 5, 9}, "m7b5": {1, 2, 5, 8}}
OF_DOMINANTS = {"7": {2, 9}, "7b9": {9}, "7#11": {2, 9}, "7b9b13": set()}
ALTERATIONS = {1, 3, 6, 8}


def _sounds_well(asked: Asked, own: Chord) -> tuple[bool, bool]:
    """Whether every tone sounds well, the natural 11 of a dominant let through; and whether it is there."""
    kind = asked.chord.kind or ""
    named = {DEGREES[degree][1] for degree in tones(asked.chord)}
    dominant = kind in DOMINANTS
    passing = False
    for half_steps in _over(asked, own):
        in_key = asked.key is None or (sound(asked.root) + half_steps) % 12 in asked.key
        if half_steps in named or (dominant and half_steps in ALTERATIONS):
            continue
        if half_steps in (OF_DOMINANTS if dominant else EXTENSIONS)[kind] and in_key:
            continue
        if not (dominant and half_steps == 5):
            return False, False
        passing = True
    return True, passing


@every_level
def test_usable_is_what_sounds_well_over_the_chord_and_in_the_key(level: int) -> None:
    met = set()
    for question, choice, mistake in wrong_choices(SLUG, level):
        well, passing = _sounds_well(_asked(question), _own(choice))
        of_another_chord = mistake in ("other third", "other seventh")
        assert choice.usable == (well and not of_another_chord), (question.skill, mistake, _own(choice).symbol)
        said = render(choice.why)
        assert ("usable" in said) == choice.usable
        assert ("usable with its 11 in passing, not asked" in said) == (choice.usable and passing), said
        met.add((choice.usable, passing))
    assert {(True, False), (False, False), (True, True)} <= met


@every_level
def test_the_right_why_is_true(level: int) -> None:
    for question in questions(SLUG, level):
        asked = _asked(question)
        right = question.choices[question.right]
        said = claims(right.why)
        assert said["chord"] == asked.chord
        assert said["own"] == right.value
        _these_notes_are_these_degrees(asked.root, said["notes"], said["degrees"])
        assert [str(degree) for degree in _degrees(said["degrees"])] == list(asked.stack[1:5])
        assert str(said["ninth"]) == asked.stack[4]
        assert {sound(str(note)) for note in _items(said["notes"])} == {sound(note) for note in notes(_own(right))}
        assert claims(question.prompt)["degrees"] == said["degrees"]


def _items(slot: object) -> tuple[object, ...]:
    assert isinstance(slot, tuple)
    return slot


def _degrees(slot: object) -> list[Degree]:
    return [item for item in _items(slot) if isinstance(item, Degree)]


def _these_notes_are_these_degrees(root: str, said_notes: object, said_degrees: object) -> None:
    degrees = _degrees(said_degrees)
    assert len(degrees) == 4
    for note, degree in zip(_items(said_notes), degrees, strict=True):
        assert above(root, str(note)) == DEGREES[degree.name][1], f"{note} is no {degree} over {root}"


TELLING_PLACE = {"other third": 0, "other seventh": 2, "other ninth": 3}
TELLING = {
    "other third": {"3": "the major third", "b3": "the minor third"},
    "other seventh": {"7": "the major seventh", "b7": "the minor seventh"},
    "other ninth": {"9": "the natural ninth", "b9": "the flat ninth"},
}


@every_level
def test_every_wrong_why_is_true(level: int) -> None:
    for question, choice, mistake in wrong_choices(SLUG, level):
        asked, own = _asked(question), _own(choice)
        said = claims(choice.why)
        other = said["fits"]
        assert isinstance(other, Chord)
        assert said["chord"] == asked.chord
        assert other.root == asked.chord.root
        assert said["own"] == own
        assert [str(note) for note in _items(said["notes"])] == notes(own)
        _these_notes_are_these_degrees(asked.root, said["notes"], said["degrees"])
        named = [degree.name for degree in _degrees(said["degrees"])]
        if mistake in ("other third", "other seventh", "other ninth"):
            # it is said to be the arpeggio from the third of another chord, so that chord must have these tones
            assert set(named[:3]) <= {degree.name for degree in other.degrees}, choice.why
            assert [degree.lstrip("b#") for degree in named] == ["3", "5", "7", "9"]
            assert other != asked.chord
        else:
            assert other == asked.chord
        if mistake == "other ninth":
            assert named[3] in [degree.name for degree in other.degrees] or named[3] == "9"
        slip = render(said["slip"]) if isinstance(said["slip"], Text) else ""
        if mistake in TELLING:
            # the tone that makes it fit the other chord is named by its quality
            assert TELLING[mistake][named[TELLING_PLACE[mistake]]] in slip
        else:
            assert slip == MISTAKES[mistake].says
        assert render(choice.gloss).startswith(render(Text("{degrees:run}", (("degrees", said["degrees"]),))))


@every_level
def test_the_shape_is_the_chord_with_its_arpeggio_inside(level: int) -> None:
    for question in questions(SLUG, level):
        asked, shape = _asked(question), question.shape
        assert shape is not None
        assert (shape.chord, shape.own, shape.omitted) == (asked.chord, question.choices[question.right].value, 1)
        assert [degree.name for degree in shape.degrees] == list(asked.stack[:5])
        assert [str(note) for note in shape.notes] == [spell(asked.root, degree) for degree in asked.stack[:5]]
