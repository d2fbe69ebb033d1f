"""What holds for every drill of the catalogue, whatever it asks."""

import os
import subprocess
import sys
from itertools import islice
from pathlib import Path

import pytest
from asked import LEVELS, SEEDS, chord_of, notes, questions, root_of
from by_hand import DEGREES, ROOTS, sound

from engine.drills.catalogue import BY_SLUG, CATALOGUE, Stream, entry_for
from engine.drills.mistakes import MISTAKES
from engine.drills.options import Options
from engine.drills.question import Tab, Value, as_json
from engine.theory.bad_input import BadInput
from engine.theory.chord import Chord
from engine.theory.pitch import Pitch, parse_pitch
from engine.theory.wording import Profile, render

ROOT = Path(__file__).resolve().parents[2]
SLUGS = tuple(BY_SLUG)
every_drill = pytest.mark.parametrize("slug", SLUGS)
# What is tapped has a right place or several among all of a board: tests/engine/test_neck_drills.py, test_copying.py.
WITH_CHOICES = [entry.slug for entry in CATALOGUE if entry.asks != "tap" and not entry.keyboard]
every_drill_with_choices = pytest.mark.parametrize("slug", WITH_CHOICES)
every_level = pytest.mark.parametrize("level", LEVELS)


def _sound(value: Value) -> object:
    """What a choice sounds like: notes and degrees by half steps, a chord as a set, a device as itself."""
    if isinstance(value, tuple):
        return tuple(DEGREES[str(degree)][1] for degree in value)
    if isinstance(value, str | Tab):
        return value
    if isinstance(value, Chord):
        return frozenset(sound(note) for note in notes(value))
    return sound(str(value)) if isinstance(value, Pitch) else DEGREES[str(value)][1]


@every_level
@every_drill_with_choices
def test_exactly_one_choice_is_right_and_no_two_sound_the_same(slug: str, level: int) -> None:
    for question in questions(slug, level):
        assert len(question.choices) >= 3, question.skill
        assert [choice.mistake is None for choice in question.choices].count(True) == 1
        assert [choice.right for choice in question.choices].index(True) == question.right
        sounds = [_sound(choice.value) for choice in question.choices]
        assert len(set(sounds)) == len(sounds), (question.skill, [str(choice.value) for choice in question.choices])


@every_level
@every_drill
def test_a_wrong_choice_is_where_its_mistake_leads(slug: str, level: int) -> None:
    for question in questions(slug, level):
        wrong = [(choice, choice.mistake) for choice in question.choices if choice.mistake is not None]
        assert wrong
        leads = {mistake: set(MISTAKES[mistake].values(question.about)) for _, mistake in wrong}
        for choice, mistake in wrong:
            assert choice.value in leads[mistake], (question.skill, mistake, str(choice.value))


@every_drill_with_choices
def test_the_right_choice_stands_in_every_place(slug: str) -> None:
    places = [question.right for question in questions(slug, 2)]
    assert {places.count(place) > len(places) / 10 for place in range(4)} == {True}


@every_level
@every_drill
def test_what_is_shown_is_part_of_the_facts_and_every_sentence_is_one_line(slug: str, level: int) -> None:
    for question in questions(slug, level):
        assert question.drill == slug
        assert question.skill.startswith(f"{slug}/")
        assert question.given.items() <= question.about.items()
        assert isinstance(question.about["chord"], Chord)
        for profile in (Profile(), Profile(signs=False)):
            sentences = [render(question.prompt, profile)]
            for choice in question.choices:
                sentences += [render(choice.why, profile), render(choice.label, profile), render(choice.gloss, profile)]
            for sentence in sentences:
                assert sentence.isprintable()
                assert sentence == sentence.strip() != ""
                assert not set("{}") & set(sentence)
                assert "  " not in sentence


@every_level
@every_drill_with_choices
def test_choices_are_told_apart_by_what_the_page_shows(slug: str, level: int) -> None:
    for question in questions(slug, level):
        shown = [render(choice.label) for choice in question.choices]
        assert len(set(shown)) == len(shown)


@every_level
@every_drill
def test_json_is_what_the_contract_says(slug: str, level: int) -> None:
    for question in questions(slug, level)[:50]:
        found = as_json(question)
        assert {"drill", "skill", "asks", "prompt", "given", "about", "choices"} <= found.keys()
        assert found["asks"] == BY_SLUG[slug].asks
        choices = found["choices"]
        assert isinstance(choices, list)
        for choice in choices:
            assert {"label", "value", "right", "why", "mistake"} <= choice.keys()
            assert str(choice["value"]).isascii()
            assert (choice["mistake"] is None) == choice["right"]
        given, about = found["given"], found["about"]
        assert isinstance(given, dict)
        assert isinstance(about, dict)
        assert all(str(fact).isascii() for fact in (*given.values(), *about.values()))


@every_drill
def test_the_first_level_stays_in_three_common_keys(slug: str) -> None:
    assert {root_of(question) for question in questions(slug, 1)} == {"C", "F", "Bb"}


# Chords that are left out, because nobody wants to read their notes.
UNREADABLE = {
    **{(slug, "maj7#5"): {sound("B")} for slug in ("arpeggio-from-the-third", "arpeggio-in-place")},
    ("copy-the-figure", "7#5"): {sound("B"), sound("F#")},
}


@every_drill
@pytest.mark.parametrize("level", [2, 3])
def test_the_other_levels_go_through_all_twelve(slug: str, level: int) -> None:
    stream = Stream(slug, Options(level=level))
    roots: dict[str | None, set[int]] = {}
    for question in islice(stream, len(BY_SLUG[slug].drill.cards(Options(level=level)))):
        chord = chord_of(question)
        roots.setdefault(chord.kind, set()).add(sound(str(chord.root)))
    missing = {(slug, kind): set(range(12)) - found for kind, found in roots.items() if len(found) < 12}
    assert missing == {row: gone for row, gone in UNREADABLE.items() if row[0] == slug and row[1] in roots}


@every_drill
def test_later_levels_add_kinds_of_chord(slug: str) -> None:
    streams = [islice(Stream(slug, Options(level=level)), 300) for level in LEVELS]
    kinds = [{chord_of(question).kind for question in stream} for stream in streams]
    assert kinds[0] < kinds[1] < kinds[2]
    altered = {"7b9", "7#5", "7b9b13", "7#11", "maj7#5"}
    assert not altered & kinds[1]
    assert altered & kinds[2]


@every_level
@every_drill
def test_no_double_accidental_stands_in_what_is_asked(slug: str, level: int) -> None:
    for question in questions(slug, level):
        shown = [fact for fact in question.given.values() if isinstance(fact, Pitch)]
        shown += [fact.root for fact in question.given.values() if isinstance(fact, Chord)]
        assert all(abs(note.accidental) < 2 for note in shown), question.skill


@every_level
@every_drill
def test_keys_and_chords_are_respected(slug: str, level: int) -> None:
    asked_kinds = {chord_of(question).kind for question in questions(slug, level)}
    for kind in sorted(asked_kinds - {None}):
        options = Options(keys=(parse_pitch("C"), parse_pitch("E")), chords=(kind,), level=level)
        found = list(islice(Stream(slug, options), 40))
        assert {chord_of(question).kind for question in found} == {kind}
        assert {root_of(question) for question in found} == {"C", "E"}


@every_level
@every_drill
def test_whatever_key_is_wanted_there_is_something_to_ask(slug: str, level: int) -> None:
    for root in ROOTS:
        for question in islice(Stream(slug, Options(keys=(parse_pitch(root),), level=level)), 25):
            assert root_of(question) == root
            assert len(question.choices) >= 3
            sounds = [_sound(choice.value) for choice in question.choices if question.board is None]
            assert len(set(sounds)) == len(sounds)


@every_drill
@pytest.mark.parametrize("kind", ["sus2", "7alt", "m9", "6/9", "9"])
def test_a_kind_that_a_drill_never_asks_is_refused(slug: str, kind: str) -> None:
    with pytest.raises(BadInput, match=f'"{kind}" is not asked by {slug}; its kinds are .*7'):
        Stream(slug, Options(chords=("7", kind)))


def test_a_drill_that_is_not_in_the_catalogue_is_refused() -> None:
    with pytest.raises(BadInput, match="is no drill; write one of name-the-degree"):
        entry_for("scales")


def test_every_row_of_the_catalogue_is_whole() -> None:
    assert len(BY_SLUG) == len(CATALOGUE) >= 3
    for entry in CATALOGUE:
        assert entry.slug == entry.slug.lower().strip()
        assert entry.title
        assert entry.teaser.endswith((".", "?"))
        assert entry.asks in ("choice", "tap", "sound")
        assert entry.rev >= 1
        assert entry.slug == entry.drill.SLUG


# --- chance -----------------------------------------------------------------


@every_drill
def test_the_same_seed_asks_the_same_and_another_seed_something_else(slug: str) -> None:
    def first(seed: int) -> list[dict[str, object]]:
        return [as_json(question) for question in islice(Stream(slug, Options(level=2, seed=seed)), 20)]

    assert first(SEEDS[0]) == first(SEEDS[0])
    assert first(SEEDS[0]) != first(SEEDS[1])
    assert first(0) != first(1)


@every_drill
def test_a_question_is_the_same_wherever_one_starts(slug: str) -> None:
    whole = list(islice(Stream(slug, Options(level=1, seed=5)), 120))
    for index in (119, 60, 3):
        assert as_json(Stream(slug, Options(level=1, seed=5))[index]) == as_json(whole[index])


@every_drill
def test_nothing_comes_again_before_all_has_come(slug: str) -> None:
    options = Options(level=1, seed=3)
    cards = BY_SLUG[slug].drill.cards(options)
    stream = Stream(slug, options)
    for deck in (0, 1):
        places = range(deck * len(cards), (deck + 1) * len(cards))
        facts = [sorted((name, str(fact)) for name, fact in stream[place].about.items()) for place in places]
        assert len({tuple(known) for known in facts}) == len(cards)


PRINT_ALL = """
import sys
from engine.__main__ import main
from engine.drills.catalogue import CATALOGUE
sys.stdout.reconfigure(encoding="utf-8")
for entry in CATALOGUE:
    for level in "123":
        status = main(["drill", entry.slug, "--json", "--level", level, "--count", "12", "--seed", "99"])
        if status:
            sys.exit(status)
"""


def test_questions_are_the_same_to_the_byte_in_every_process() -> None:
    """Sets are ordered by a hash that changes from process to process, and -OO drops assert and docstrings."""

    def printed(hash_seed: str, *flags: str) -> bytes:
        environment = {**os.environ, "PYTHONHASHSEED": hash_seed}
        ran = subprocess.run([sys.executable, *flags, "-c", PRINT_ALL], cwd=ROOT, env=environment, capture_output=True)
        assert ran.returncode == 0, ran.stderr.decode()
        return ran.stdout

    first = printed("0")
    assert len(first.splitlines()) == len(CATALOGUE) * 3 * 12
    assert printed("1") == first
    assert printed("4242", "-OO") == first
