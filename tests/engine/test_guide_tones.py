"""Guide tones: every line followed again by hand, chord by chord; every wrong note and sentence too."""

from collections.abc import Callable
from dataclasses import dataclass

import pytest
from asked import LEVELS, claims, notes, questions, scale, tones, wrong_choices
from by_hand import DEGREES, above, sound, spell

from engine.drills.guide_tones import MISTAKES_HERE, SLUG, cards
from engine.drills.mistakes import MISTAKES
from engine.drills.options import Options
from engine.drills.question import Question, as_json
from engine.theory.chord import Chord
from engine.theory.key import Key
from engine.theory.pitch import Pitch
from engine.theory.wording import Text, render

every_level = pytest.mark.parametrize("level", LEVELS)


@dataclass(frozen=True)
class Line:
    """A progression, the line so far, and the place of the chord that is asked."""

    chords: tuple[Chord, ...]
    thread: tuple[str, ...]
    key: Key

    @property
    def place(self) -> int:
        return len(self.thread)

    @property
    def note(self) -> str:
        return self.thread[-1]

    @property
    def chord(self) -> Chord:
        return self.chords[self.place - 1]

    @property
    def following(self) -> Chord:
        return self.chords[self.place]

    @property
    def after(self) -> Chord | None:
        return self.chords[self.place + 1] if self.place + 1 < len(self.chords) else None


def _line(question: Question) -> Line:
    chords, thread, key = (question.about[name] for name in ("progression", "thread", "key"))
    assert isinstance(chords, tuple)
    assert isinstance(thread, tuple)
    assert isinstance(key, Key)
    return Line(
        tuple(chord for chord in chords if isinstance(chord, Chord)), tuple(str(note) for note in thread), key
    )  # fmt: skip


def _tone(chord: Chord, number: str) -> str:
    """The chord's tone with this number, 3 for its 3 or b3."""
    return spell(str(chord.root), next(degree for degree in tones(chord) if degree.lstrip("b#") == number))


def _distance(start: str, end: str) -> int:
    return min(above(start, end), above(end, start))


def _next_guide_tone(note: str, chord: Chord) -> str:
    """The nearest of 3 and 7; two that are equally near, or a leap, would be no question."""
    third, seventh = _tone(chord, "3"), _tone(chord, "7")
    to_third, to_seventh = _distance(note, third), _distance(note, seventh)
    assert to_third != to_seventh
    assert min(to_third, to_seventh) <= 2
    return third if to_third < to_seventh else seventh


@every_level
def test_the_right_note_and_the_whole_line_before_it_are_the_nearest_guide_tones(level: int) -> None:
    for question in questions(SLUG, level):
        line = _line(question)
        assert 1 <= line.place < len(line.chords)
        assert line.note == str(question.given["note"])
        assert (question.given["chord"], question.given["next"]) == (line.chord, line.following)
        assert question.about.get("after") == line.after
        followed = [line.thread[0]]
        assert followed[0] in (_tone(line.chords[0], "3"), _tone(line.chords[0], "7"))
        for chord in line.chords[1 : line.place + 1]:
            followed.append(_next_guide_tone(followed[-1], chord))
        assert followed == [*line.thread, str(question.choices[question.right].value)], question.skill


@every_level
def test_the_prompt_states_the_one_thing_that_is_asked(level: int) -> None:
    for question in questions(SLUG, level):
        line, said = _line(question), claims(question.prompt)
        assert (said["chord"], said["next"], str(said["note"])) == (line.chord, line.following, line.note)
        assert spell(str(line.chord.root), str(said["degree"])) == line.note
        assert said["degree"] == question.about["degree"]
        assert str(said["degree"]) in tones(line.chord)
        assert "nearest, held or by step?" in render(question.prompt)


# Every progression by the half steps of its roots above the tonic, and the level that it comes in at.
KNOWN = {
    "2m7 77 0maj7": 1,
    "2m7b5 77 0m7": 2, "0maj7 9m7 2m7 77": 2, "0maj7 5maj7": 2, "07 57 07": 2, "77 0mMaj7": 2,
    "2m7b5 77b9 0mMaj7": 3, "2m7b5 77#5 0m7": 3, "2m7 77b9 0maj7": 3, "2m7 17 0maj7": 3, "5m7 107 0maj7": 3,
    "4m7 97b9 2m7 77": 3, "0maj7 97 2m7 77": 3, "47 97 27 77": 3,
}  # fmt: skip


@every_level
def test_progressions_are_those_of_the_level_and_all_of_them_come(level: int) -> None:
    met = set()
    for card in cards(Options(level=level)):
        tonic = str(card.key.tonic)
        told = " ".join(f"{above(tonic, str(chord.root))}{chord.kind}" for chord in card.chords)
        assert KNOWN[told] <= level, told
        minor = any(chord.kind in ("m7", "mMaj7") and sound(str(chord.root)) == sound(tonic) for chord in card.chords)
        assert (card.key.mode == "minor") == minor
        met.add(told)
    assert met == {told for told, least in KNOWN.items() if least <= level}


def test_the_first_level_is_two_lines_at_two_places_in_three_keys() -> None:
    asked = {(str(card.key), len(card.thread), str(card.thread[0])) for card in cards(Options(level=1))}
    starts = {"C": ("F", "C"), "F": ("Bb", "F"), "Bb": ("Eb", "Bb")}  # the b3 and the b7 of each ii
    assert asked == {(key, place, start) for key in starts for place in (1, 2) for start in starts[key]}


@every_level
def test_chords_and_notes_are_spelled_as_players_write_them(level: int) -> None:
    for card in cards(Options(level=level)):
        for chord in card.chords:
            shown = [str(chord.root), _tone(chord, "3"), _tone(chord, "7")]
            assert not [note for note in shown if note.endswith(("bb", "##"))], chord.symbol
            # In G flat the fourth is C flat, and charts write it so.
            allowed = ("Cb",) if str(card.key) == "Gb" else ()
            assert str(chord.root) in allowed or str(chord.root) not in ("Cb", "Fb", "E#", "B#"), card


def test_facts_are_lists_of_symbols_and_notes() -> None:
    for question in questions(SLUG, 1):
        line = _line(question)
        given = as_json(question)["given"]
        assert isinstance(given, dict)
        assert given["progression"] == [chord.symbol for chord in line.chords]
        assert given["thread"] == list(line.thread)


# --- the mistakes, from their description alone -------------------------------


def _tone_of_next(number: str) -> Callable[[Line, str], bool]:
    return lambda line, chosen: chosen == _tone(line.following, number)


def _tone_before(number: str) -> Callable[[Line, str], bool]:
    return lambda line, chosen: chosen == _tone(line.chord, number) and chosen != line.note


def _other_quality(major: str, minor: str) -> Callable[[Line, str], bool]:
    def holds(line: Line, chosen: str) -> bool:
        other = minor if major in tones(line.following) else major
        return chosen == spell(str(line.following.root), other)

    return holds


def _in_next(line: Line, note: str) -> bool:
    return sound(note) in {sound(tone) for tone in notes(line.following)}


def _step_to_no_tone(line: Line, chosen: str) -> bool:
    in_scale = {spell(str(line.following.root), degree) for degree in scale(line.following).values()}
    return _distance(line.note, chosen) in (1, 2) and not _in_next(line, chosen) and chosen in in_scale


def _too_early(line: Line, chosen: str) -> bool:
    assert line.after is not None
    return chosen in (_tone(line.after, "3"), _tone(line.after, "7")) and not _in_next(line, chosen)


DESCRIBED: dict[str, Callable[[Line, str], bool]] = {
    "third of the other quality": _other_quality("3", "b3"),
    "seventh of the other quality": _other_quality("7", "b7"),
    "root of the next chord": _tone_of_next("1"),
    "fifth of the next chord": _tone_of_next("5"),
    "third of the next chord": _tone_of_next("3"),
    "seventh of the next chord": _tone_of_next("7"),
    "third of the chord before": _tone_before("3"),
    "seventh of the chord before": _tone_before("7"),
    "guide tone of the chord after": _too_early,
    "stayed": lambda line, chosen: chosen == line.note,
    "other way": _step_to_no_tone,
}


def test_every_mistake_leads_where_its_description_says() -> None:
    met = set()
    for level in LEVELS:
        for question, choice, mistake in wrong_choices(SLUG, level):
            assert DESCRIBED[mistake](_line(question), str(choice.value)), (question.skill, mistake, str(choice.value))
            met.add(mistake)
    assert met == set(MISTAKES_HERE) == set(DESCRIBED)


@every_level
def test_the_other_guide_tone_and_the_other_quality_are_always_there(level: int) -> None:
    for question in questions(SLUG, level):
        line = _line(question)
        right = str(question.choices[question.right].value)
        number, other_number = ("3", "7") if right == _tone(line.following, "3") else ("7", "3")
        there = {sound(str(choice.value)) for choice in question.choices}
        natural = number in tones(line.following)
        quality = spell(str(line.following.root), f"b{number}" if natural else number)
        assert sound(_tone(line.following, other_number)) in there, question.skill
        assert sound(quality) in there, question.skill


@every_level
def test_usable_is_every_tone_of_the_next_chord(level: int) -> None:
    for question, choice, _ in wrong_choices(SLUG, level):
        assert choice.usable == _in_next(_line(question), str(choice.value)), (question.skill, str(choice.value))
        assert ("usable, not asked" in render(choice.why)) == choice.usable


STEPS = {1: "rises a half step", 2: "rises a whole step", 11: "falls a half step", 10: "falls a whole step"}


def test_the_right_why_is_true_and_a_held_note_is_called_held() -> None:
    held = moved = respelled = 0
    for level in LEVELS:
        for question in questions(SLUG, level):
            line, right = _line(question), question.choices[question.right]
            said, sentence, note = claims(right.why), render(right.why), str(right.value)
            assert (str(said["note"]), said["chord"], said["next"]) == (line.note, line.chord, line.following)
            assert spell(str(line.chord.root), str(said["from_degree"])) == line.note
            assert spell(str(line.following.root), str(said["to_degree"])) == note
            if above(line.note, note):
                moved += 1
                assert said["step"] == Text(STEPS[above(line.note, note)])
                assert said["target"] == right.value
                assert "held" not in sentence
            else:
                held += 1
                respelled += line.note != note
                assert " is held" in sentence
                assert ("now written" in sentence) == (line.note != note)
                assert said.get("target") in (None, right.value)
            assert "resol" not in sentence
    assert held
    assert moved
    assert respelled


@every_level
def test_every_wrong_why_is_true(level: int) -> None:
    for question, choice, mistake in wrong_choices(SLUG, level):
        line, said = _line(question), claims(choice.why)
        names = tones(line.following)
        assert (said["next"], said["note"]) == (line.following, choice.value)
        assert above(str(line.following.root), str(choice.value)) == DEGREES[str(said["degree"])][1]
        if _in_next(line, str(choice.value)):
            assert str(said["degree"]) in names
        slip = said["slip"]
        assert isinstance(slip, Text)
        told = claims(slip)
        if mistake in ("third of the other quality", "seventh of the other quality"):
            number = mistake.split()[0]
            major = ("3" if number == "third" else "7") in names
            assert render(slip) == f"the chord has the {'major' if major else 'minor'} {number}"
        elif "{chord}" in slip.template:
            assert told["chord"] == line.chord
        elif "{after}" in slip.template:
            assert told["after"] == line.after
        else:
            assert render(slip) == MISTAKES[mistake].says
        assert render(choice.gloss) == render(Text("{degree}", (("degree", said["degree"]),)))
        assert isinstance(choice.value, Pitch)
