"""Drills by ear: the right answer is worked out again from the pitches that sound, and nothing that shows tells it."""

import json
import re
from itertools import islice, pairwise

import pytest
from asked import LEVELS, TONES, questions
from by_hand import DEGREES, above, sound

from engine.drills.catalogue import BY_SLUG, CATALOGUE, Stream
from engine.drills.options import Options
from engine.drills.question import Question, as_json
from engine.lines.devices.recognise import DEVICES
from engine.practice.heard import sound_of
from engine.practice.round import Answer, Plan, Round
from engine.theory.chord import Chord
from engine.theory.degree import Degree
from engine.theory.pitch import Pitch
from engine.theory.wording import render, show
from engine.view.round import round_html

COPYING = "copy-the-figure"  # tests/engine/test_copying.py has more on it
BY_EAR = [entry.slug for entry in CATALOGUE if entry.asks == "sound"]
every_level = pytest.mark.parametrize("level", LEVELS)
every_drill_by_ear = pytest.mark.parametrize("slug", BY_EAR)
# The shape of each device in half steps from note to note, or what must be true of it.
THIRDS = {3, 4}


def bars(question: Question) -> tuple[tuple[Chord, tuple[Pitch, ...]], ...]:
    assert question.heard is not None
    return question.heard.bars


def right(question: Question) -> object:
    return question.choices[question.right].value


def played(question: Question) -> list[int]:
    """The MIDI keys of the single notes, as the browser gets them."""
    events = sound_of(question, "asked").events
    return [event.pitch for event in events if event.index is not None and event.pitch is not None]


def test_these_are_the_drills_by_ear_and_they_leave_the_mixed_round_as_it_was() -> None:
    assert BY_EAR == ["hear-the-degree", "hear-the-landing", "hear-the-chord-kind", "hear-the-device", COPYING]
    assert not any(BY_SLUG[slug].mixed for slug in BY_EAR)


@every_level
@every_drill_by_ear
def test_what_sounds_is_what_the_picture_shows(slug: str, level: int) -> None:
    for question in questions(slug, level)[:100]:
        notes = [note for _, line in bars(question) for note in line]
        assert played(question) == [note.midi for note in notes]
        assert question.row is not None
        assert list(question.row.notes) == notes
        assert question.row.missing is None
        # High enough to lie over the held chord, low enough to be sung an octave down.
        assert all(50 <= note.midi <= 89 for note in notes)


@every_level
def test_the_degree_is_counted_from_the_root_in_the_bass(level: int) -> None:
    for question in questions("hear-the-degree", level):
        ((chord, (first, last)),) = bars(question)
        degree = right(question)
        assert isinstance(degree, Degree)
        assert above(str(chord.root), str(last)) == DEGREES[degree.name][1] % 12
        assert first.midi != last.midi
        assert above(str(chord.root), str(first)) in {DEGREES[name][1] for name in TONES[str(chord.kind)].split()}
        if level == 1 and degree.name != "1":
            assert sound(str(first)) == sound(str(chord.root))
        # No choice is what the first note was.
        assert all(DEGREES[str(one.value)][1] != above(str(chord.root), str(first)) for one in question.choices)


@every_level
def test_the_landing_is_counted_from_the_chord_a_fourth_above(level: int) -> None:
    for question in questions("hear-the-landing", level):
        (chord, line), (following, (landing,)) = bars(question)
        degree = right(question)
        assert isinstance(degree, Degree)
        assert above(str(chord.root), str(following.root)) == 5
        assert above(str(following.root), str(landing)) == DEGREES[degree.name][1]
        names = [str(choice.value) for choice in question.choices]
        third = "3" if "3" in TONES[str(following.kind)].split() else "b3"
        assert ({"3": "b3", "b3": "3"}[third]) in names
        # It goes there by no more than a whole step, as lines do.
        assert 0 < abs(landing.midi - line[-1].midi) <= 2
        assert all(abs(high.midi - low.midi) <= 12 for low, high in pairwise(line))
        assert 4 <= len(line) <= 6


@every_level
def test_over_a_dominant_no_tone_is_played_that_its_symbol_alters(level: int) -> None:
    clashing = {"7b9": {2}, "7#5": {7}, "7sus4": {4}}
    for question in questions("hear-the-landing", level):
        chord, line = bars(question)[0]
        heard = {above(str(chord.root), str(note)) for note in line}
        assert not heard & clashing.get(str(chord.kind), set()), question.skill


@every_level
def test_the_kind_is_spelled_by_the_tones_that_sound(level: int) -> None:
    for question in questions("hear-the-chord-kind", level):
        ((chord, notes),) = bars(question)
        assert right(question) == chord
        heard = [above(str(chord.root), str(note)) for note in notes]
        assert heard == [DEGREES[name][1] % 12 for name in TONES[str(chord.kind)].split()]
        assert [note.midi for note in notes] == sorted(note.midi for note in notes)
        assert {str(choice.value.root) for choice in question.choices if isinstance(choice.value, Chord)} == {
            str(chord.root)
        }


@every_level
def test_the_device_has_the_shape_that_its_name_says(level: int) -> None:
    for question in questions("hear-the-device", level):
        keys = [note.midi for _, line in bars(question) for note in line]
        steps = [high - low for low, high in pairwise(keys)]
        name = str(right(question))
        assert name in DEVICES
        if name.startswith("arpeggio"):
            assert {abs(step) for step in steps} <= THIRDS
            assert len({step > 0 for step in steps}) == 1
        elif name.endswith("run"):
            assert all(0 < abs(step) <= 3 for step in steps)
            assert len({step > 0 for step in steps}) == 1
        else:
            assert len(keys) == 3
            sides = {key > keys[-1] for key in keys[:-1]}
            assert len(sides) == (2 if name == "enclosure" else 1), question.skill


@every_level
@every_drill_by_ear
def test_two_choices_never_sound_the_same(slug: str, level: int) -> None:
    if slug == "hear-the-device":
        return
    for question in questions(slug, level)[:60]:
        # Of several steps the right tap of all but the last is no answer yet.
        answers = [place for place, one in enumerate(question.choices) if not one.right or place == question.right]
        heard = [sound_of(question, "yours", number).events for number in answers]
        assert all(one != other for at, one in enumerate(heard) for other in heard[:at]), question.skill


@every_level
@every_drill_by_ear
def test_nothing_that_is_seen_or_read_aloud_before_the_answer_tells_it(slug: str, level: int) -> None:
    for question in questions(slug, level)[:60]:
        page = round_html(Round(Plan(slug, "", 1, (0,)), (question,)))
        sleeve = page[page.index('<div class="sleeve">') : page.index('<div class="paper">')]
        legend = page[page.index("<legend") : page.index("</legend>")]
        seen = re.sub(r"<details.*?</details>", "", sleeve)
        seen = re.sub(r'<svg class="picture after".*?</svg>|<p class="place">.*?</p>', "", seen)
        for text in (re.sub(r"<[^>]*>", " ", seen), re.sub(r"<[^>]*>", " ", legend)):
            if slug != "hear-the-chord-kind":
                assert show(bars(question)[0][0]) in text
            for chord, notes in bars(question)[0 if slug == "hear-the-chord-kind" else 1 :]:
                if slug != "hear-the-device":
                    assert not re.search(rf"(?<!\w){re.escape(show(chord))}(?!\w)", text), (text, question.skill)
                assert all(f" {show(note.in_octave(None))} " not in text for note in notes[1:]) or slug.endswith("kind")
            assert f" {show(right(question))} " not in text  # type: ignore[arg-type]
        assert render(question.prompt) in legend.replace("&#39;", "'")
        # Who looks sees the notes, and not what they are called there.
        looked = sleeve[sleeve.index("<details") : sleeve.index("</details>")]
        assert 'class="degree"' not in re.sub(r'<text class="degree"[^>]*></text>', "", looked)
        assert "Their degrees are left out." in looked


@every_drill_by_ear
def test_the_page_s_facts_of_a_question_do_not_grow_with_what_is_heard(slug: str) -> None:
    question = questions(slug, 1)[0]
    found = as_json(question)
    assert found["asks"] == "sound"
    heard = found["heard"]
    assert isinstance(heard, list)
    assert [row["chord"] for row in heard] == [str(chord) for chord, _ in bars(question)]
    assert json.dumps(heard).isascii()
    assert all(re.fullmatch(r"[A-G][b#]{0,2}\d", note) for row in heard for note in row["notes"])


@every_drill_by_ear
def test_the_same_seed_sounds_the_same(slug: str) -> None:
    def first(seed: int) -> list[list[int]]:
        return [played(question) for question in islice(Stream(slug, Options(level=2, seed=seed)), 15)]

    assert first(4) == first(4)
    assert first(4) != first(5)


def test_a_third_of_the_other_quality_is_heard_over_that_chord() -> None:
    for question in questions("hear-the-landing", 1)[:60]:
        for number, choice in enumerate(question.choices):
            if choice.mistake != "other third misheard":
                continue
            events = sound_of(question, "yours", number).events
            last = max(event.beat for event in events if event.instrument == "bass")
            root = bars(question)[1][0].root
            held = {above_key(str(root), event.pitch) for event in events if event.beat == last}
            assert DEGREES[str(choice.value)][1] in held
            assert not {3, 4} <= held


def above_key(root: str, key: int | None) -> int:
    assert key is not None
    return (key - sound(root)) % 12


def test_an_answer_is_counted_as_any_other() -> None:
    asked = questions("hear-the-degree", 1)[:2]
    round_ = Round(Plan("hear-the-degree", "", 1, (0, 1)), asked, (Answer(0, asked[0].right), Answer(1, 9)))
    assert round_.missed == (1,)
