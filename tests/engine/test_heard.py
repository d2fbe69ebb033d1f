"""Every question can be heard: what is given without the answer, what was chosen, and what would have been right."""

import json
from itertools import islice
from typing import Any

import pytest
from by_hand import DEGREES, sound

from engine import browser
from engine.drills.catalogue import BY_SLUG, Stream
from engine.drills.options import Options
from engine.drills.question import Question, Tap
from engine.practice.heard import sound_of
from engine.practice.rounds import make_round, plan_as_json, plan_round
from engine.sound.event import Arrangement, as_json
from engine.sound.held import close_position
from engine.theory.bad_input import BadInput
from engine.theory.chord import KINDS, Chord, chord_of
from engine.theory.pitch import Pitch, parse_pitch

every_drill = pytest.mark.parametrize("slug", list(BY_SLUG))


def some(slug: str, level: int = 3, count: int = 12) -> list[Question]:
    return list(islice(Stream(slug, Options(level=level, seed=11)), count))


def notes(arrangement: Arrangement) -> list[int]:
    """The single notes, as MIDI keys."""
    return [event.pitch for event in arrangement.events if event.index is not None and event.pitch is not None]


def classes(arrangement: Arrangement) -> list[int]:
    return [key % 12 for key in notes(arrangement)]


def chords(arrangement: Arrangement) -> list[frozenset[int]]:
    """What is held together, chord by chord, as pitch classes."""
    found: dict[Any, set[int]] = {}
    for event in arrangement.events:
        if event.instrument in ("piano", "bass") and event.pitch is not None:
            found.setdefault(event.beat, set()).add(event.pitch % 12)
    return [frozenset(found[beat]) for beat in sorted(found)]


def by_hand(chord: Chord) -> frozenset[int]:
    """A chord's tones from its symbol, by hand: the fifth is left out where an altered one stands for it."""
    degrees = KINDS[str(chord.kind)].split()
    if {"#5", "b5", "b13", "#11"} & set(degrees):
        degrees = [degree for degree in degrees if degree != "5"]
    return frozenset((sound(str(chord.root)) + DEGREES[degree][1]) % 12 for degree in degrees)


@every_drill
def test_every_question_can_be_heard_with_its_chord(slug: str) -> None:
    for question in some(slug):
        asked = sound_of(question, "asked")
        chord = question.about["chord"]
        assert isinstance(chord, Chord)
        assert by_hand(chord) in chords(asked) or "heard" in slug
        for number in range(len(question.choices)):
            for what in ("yours", "right"):
                played = sound_of(question, what, number)
                assert played.events
                assert all(event.beat >= 0 and event.end <= played.length for event in played.events)
                assert all(event.pitch is not None and 24 <= event.pitch <= 96 for event in played.events)
                assert 1 < as_json(played)["length"] < 20


@every_drill
def test_the_right_choice_sounds_as_what_is_right_and_the_same_every_time(slug: str) -> None:
    for question in some(slug):
        right = sound_of(question, "right")
        assert sound_of(question, "yours", question.right) == right == sound_of(question, "right", 0)
        values = [choice.value for choice in question.choices]
        if not isinstance(values[0], str) and not hasattr(values[0], "places"):
            wrong = [sound_of(question, "yours", at) for at, choice in enumerate(question.choices) if not choice.right]
            assert all(other.events != right.events for other in wrong)


def test_a_note_is_heard_over_its_chord_and_the_degree_above_the_root() -> None:
    for question in some("name-the-degree"):
        chord, note = question.given["chord"], question.given["note"]
        assert isinstance(chord, Chord)
        assert isinstance(note, Pitch)
        assert classes(sound_of(question, "asked")) == [sound(str(note))]
        for number, choice in enumerate(question.choices):
            low, high = notes(sound_of(question, "yours", number))
            assert low % 12 == sound(str(chord.root))
            assert (high - low) == DEGREES[str(choice.value)][1]


def test_a_note_that_is_asked_is_not_given_away() -> None:
    for question in some("find-the-note"):
        chord = question.given["chord"]
        assert isinstance(chord, Chord)
        assert classes(sound_of(question, "asked")) == [sound(str(chord.root))]
        assert classes(sound_of(question, "right"))[1] == sound(str(question.choices[question.right].value))


def test_an_arpeggio_goes_up_over_its_chord() -> None:
    for question in some("arpeggio-from-the-third"):
        assert notes(sound_of(question, "asked")) == []
        keys = notes(sound_of(question, "right"))
        own = question.choices[question.right].value
        assert isinstance(own, Chord)
        assert keys == sorted(keys)
        assert [key % 12 for key in keys] == [sound(str(note)) for note in own.notes]


def test_a_landing_is_over_the_chord_that_follows_and_near() -> None:
    for slug in ("choose-the-resolution", "guide-tones"):
        for question in some(slug):
            chord, following = question.given["chord"], question.given["next"]
            assert isinstance(chord, Chord)
            assert isinstance(following, Chord)
            asked, right = sound_of(question, "asked"), sound_of(question, "right")
            assert chords(asked)[-2:] == chords(right)[-2:] == [by_hand(chord), by_hand(following)]
            assert notes(right)[:-1] == notes(asked)
            assert abs(notes(right)[-1] - notes(right)[-2]) <= 6
            assert notes(right)[-1] % 12 == sound(str(question.choices[question.right].value))


def test_what_is_missing_of_a_line_is_silent_until_it_is_answered() -> None:
    for slug in ("finish-the-line", "move-the-line"):
        for question in some(slug):
            row = question.row
            assert row is not None
            assert row.missing is not None
            whole = [note.midi for note in row.notes]
            assert notes(sound_of(question, "right")) == whole
            assert notes(sound_of(question, "asked")) == whole[: row.missing] + whole[row.missing + 1 :]


def test_taps_are_heard_at_their_places() -> None:
    for slug in ("note-on-the-neck", "arpeggio-in-place", "line-in-place"):
        for question in some(slug, count=4):
            assert question.board is not None
            opens = question.board.instrument.opens
            marked = len(question.board.marks)
            assert len(notes(sound_of(question, "asked"))) == marked
            assert len(notes(sound_of(question, "right"))) == marked + len(question.steps)
            for number in range(0, len(question.choices), 7):
                tap = question.choices[number].value
                assert isinstance(tap, Tap)
                if not question.choices[number].right:
                    heard = notes(sound_of(question, "yours", number))
                    assert len(heard) == marked + tap.step + 1
                    assert heard[-1] == opens[tap.place.string - 1] + tap.place.fret


def test_chords_have_the_tones_of_their_symbols_close_together() -> None:
    for kind in KINDS:
        for root in ("C", "F#", "Bb"):
            chord = chord_of(parse_pitch(root), kind)
            keys = close_position(chord)
            assert keys == tuple(sorted(keys))
            assert 50 <= keys[0] < 62
            assert keys[-1] - keys[0] <= 24
            wanted = by_hand(chord)
            assert {key % 12 for key in keys} | {sound(root)} == wanted


def test_the_next_chord_moves_as_little_as_it_can() -> None:
    first = close_position(chord_of(parse_pitch("G"), "7"))
    second = close_position(chord_of(parse_pitch("C"), "maj7"), first)
    assert all(min(abs(key - old) for old in first) <= 2 for key in second)


def ask(**request: Any) -> dict[str, Any]:
    answer: dict[str, Any] = json.loads(browser.call(json.dumps(request)))
    return answer


def test_the_page_can_ask_for_it() -> None:
    played = plan_round("name-the-degree", "", 1, 3)
    plan = plan_as_json(played.plan)
    question = make_round(played.plan).questions[1]
    wrong = next(at for at, choice in enumerate(question.choices) if not choice.right)
    answers = [{"index": 1, "choice": wrong, "ms": None}]
    asked = ask(do="hear", plan=plan, answers=[], place=1, what="asked")
    assert asked == {"sound": as_json(sound_of(question, "asked"))}
    yours = ask(do="hear", plan=plan, answers=answers, place=1, what="yours")
    assert yours == {"sound": as_json(sound_of(question, "yours", wrong))}
    assert "answer the question first" in ask(do="hear", plan=plan, answers=[], place=1, what="yours")["error"]
    assert "no question of this round" in ask(do="hear", plan=plan, answers=[], place=3, what="asked")["error"]
    assert "ask for one of asked, yours, right" in ask(do="hear", plan=plan, place=0, what="all")["error"]


def test_what_cannot_be_heard_is_refused() -> None:
    question = some("name-the-degree", count=1)[0]
    with pytest.raises(BadInput, match="answer the question first"):
        sound_of(question, "yours", 9)
