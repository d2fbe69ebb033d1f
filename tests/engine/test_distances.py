"""How far apart two sounds are, in the words of players."""

import pytest

from engine.drills.distances import apart, between, counted
from engine.theory.pitch import parse_pitch
from engine.theory.wording import render


@pytest.mark.parametrize(
    ("half_steps", "said"),
    [
        (1, "a half step"), (2, "a whole step"), (6, "a tritone"), (12, "an octave"), (13, "a minor ninth"),
        (14, "a major ninth"), (16, "a major tenth"), (17, "an eleventh"), (18, "an octave and a tritone"),
        (19, "a twelfth"), (21, "an octave and a major sixth"), (24, "two octaves"),
        (25, "two octaves and a half step"), (31, "two octaves and a fifth"), (36, "three octaves"),
    ],
)  # fmt: skip
def test_a_distance_is_told_as_players_say_it(half_steps: int, said: str) -> None:
    assert render(apart(half_steps)) == said


@pytest.mark.parametrize("half_steps", range(1, 72))
def test_no_distance_is_a_bare_number(half_steps: int) -> None:
    assert not any(sign.isdigit() for sign in render(apart(half_steps)) + render(counted(half_steps)))


@pytest.mark.parametrize(
    ("one", "other", "said"),
    [
        ("C4", "E4", "a major third"), ("E4", "C4", "a major third"), ("C4", "E#4", "five half steps"),
        ("E#4", "D4", "an augmented second"), ("C4", "A#3", "two half steps"), ("Db4", "E4", "an augmented second"),
        ("C4", "G#3", "a diminished fourth"), ("D4", "D#4", "a half step"), ("F4", "B4", "a tritone"),
        ("B3", "F4", "a tritone"), ("C4", "F#4", "a tritone"), ("C4", "D#4", "an augmented second"),
        ("C4", "G#4", "an augmented fifth"), ("C#4", "Bb4", "a diminished seventh"), ("C4", "A#4", "ten half steps"),
        ("B#3", "Db4", "a half step"), ("C4", "C5", "an octave"), ("C4", "D#5", "an octave and an augmented second"),
        ("C4", "Db6", "two octaves and a half step"), ("C4", "G6", "two octaves and a fifth"),
        ("B#3", "C5", "an octave"), ("Cb4", "C5", "an octave and a half step"), ("C4", "Db5", "a minor ninth"),
    ],
)  # fmt: skip
def test_two_notes_are_as_far_apart_as_their_letters_say(one: str, other: str, said: str) -> None:
    assert render(between(parse_pitch(one), parse_pitch(other))) == said


def test_counted_half_steps_say_nothing_of_letters() -> None:
    assert [render(counted(size)) for size in (1, 4, 12, 13, 28)] == [
        "a half step", "four half steps", "an octave", "an octave and a half step", "two octaves and four half steps",
    ]  # fmt: skip
