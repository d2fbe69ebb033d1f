"""The drills about lines: every right answer worked out a second time, by letters and half steps alone."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from itertools import islice, pairwise

import pytest
from asked import LEVELS, SEEDS, claims, scale
from by_hand import DEGREES, above, letters_above, sound, spell

from engine.drills.catalogue import CATALOGUE, Stream
from engine.drills.choices import sound as as_heard
from engine.drills.mistakes import MISTAKES
from engine.drills.options import Options
from engine.drills.question import Choice, Question, as_json
from engine.formats.abc import read_abc
from engine.lines.devices.recognise import DEVICES
from engine.lines.line import Line
from engine.theory.bad_input import BadInput
from engine.theory.chord import Chord
from engine.theory.pitch import Pitch, parse_pitch
from engine.theory.wording import Profile, render, say

COUNT = 100
ASCII = Profile(signs=False)
SLUGS = ("finish-the-line", "degrees-of-the-line", "move-the-line", "spot-the-device")
ELSEWHERE = ("line-in-place", "best-way", "hear-the-device")  # tests/engine/test_neck_drills.py, test_ear_drills.py
every_drill = pytest.mark.parametrize("slug", SLUGS)
every_level = pytest.mark.parametrize("level", LEVELS)


@cache
def questions(slug: str, level: int) -> tuple[Question, ...]:
    streams = [Stream(slug, Options(level=level, seed=seed)) for seed in SEEDS]
    return tuple(question for stream in streams for question in islice(stream, COUNT))


def wrong(question: Question) -> Iterator[tuple[Choice, str]]:
    return ((choice, choice.mistake) for choice in question.choices if choice.mistake is not None)


def chord_of(question: Question, name: str = "chord") -> Chord:
    chord = question.about[name]
    assert isinstance(chord, Chord)
    return chord


def words(question: Question, name: str) -> list[str]:
    return str(question.about[name]).split()


def is_degree(root: str, note: str, degree: str) -> bool:
    """Whether a note is that degree: the half steps always, the letter unless it would take two signs.

    A sharp ninth over a dominant may be written as a minor third.
    """
    number, half_steps = DEGREES[degree]
    if degree == "#9" and letters_above(root, note) == 2:
        number = 3
    exact = spell(root, degree)
    same_letter = letters_above(root, note) + 1 == number
    return above(root, note) == half_steps and (same_letter or len(exact) > 2)


def right(question: Question) -> Choice:
    return question.choices[question.right]


def test_these_are_all_drills_that_take_a_line() -> None:
    assert tuple(entry.slug for entry in CATALOGUE if entry.takes_line) == SLUGS + ELSEWHERE


# --- what holds for all four ----------------------------------------------------


@every_level
@every_drill
def test_one_choice_is_right_there_are_three_or_more_and_no_two_sound_alike(slug: str, level: int) -> None:
    for question in questions(slug, level):
        assert sum(choice.right for choice in question.choices) == 1
        assert len(question.choices) >= 3, question.skill
        assert len({as_heard(choice.value) for choice in question.choices}) == len(question.choices), question.skill


@every_level
@every_drill
def test_every_mistake_is_derived_again_from_the_facts(slug: str, level: int) -> None:
    for question in questions(slug, level):
        for choice, mistake in wrong(question):
            assert choice.value in MISTAKES[mistake].values(question.about), (question.skill, mistake)


@every_level
@every_drill
def test_no_choice_has_two_signs_and_no_sentence_is_long(slug: str, level: int) -> None:
    for question in questions(slug, level):
        assert len(render(question.prompt)) <= 110
        for choice in question.choices:
            label = render(choice.label)
            assert not set("𝄫𝄪") & set(label), (question.skill, label)
            assert len(render(choice.gloss)) <= 25
            why = render(choice.why)
            assert why.endswith(".")
            assert len(why) <= 180, why


@every_drill
def test_the_first_questions_do_not_depend_on_how_many_come(slug: str) -> None:
    few = [as_json(question) for question in islice(Stream(slug, Options(level=2, seed=4)), 5)]
    many = [as_json(question) for question in islice(Stream(slug, Options(level=2, seed=4)), 25)]
    assert many[:5] == few
    assert many[5:10] != few


@every_drill
@pytest.mark.parametrize("keys", ["C", "F#", "Gb"])
@pytest.mark.parametrize("kind", ["m7", "7", "maj7", "m7b5", "7b9", "mMaj7"])
def test_keys_and_chords_are_respected(slug: str, keys: str, kind: str) -> None:
    options = Options(keys=(parse_pitch(keys),), chords=(kind,), level=3)
    for question in islice(Stream(slug, options), 6):
        chord = question.given["chord"]
        assert isinstance(chord, Chord)
        assert (str(chord.root), chord.kind) == (keys, kind)


# --- finish the line --------------------------------------------------------------


@every_level
def test_the_missing_note_is_the_degree_that_the_prompt_names(level: int) -> None:
    for question in questions("finish-the-line", level):
        slots = claims(question.prompt)
        shown, degrees = slots["shown"], slots["degrees"]
        assert isinstance(shown, tuple)
        assert isinstance(degrees, tuple)
        (missing,) = [place for place, one in enumerate(shown) if not isinstance(one, Pitch)]
        root = str(chord_of(question).root)
        for place, degree in enumerate(degrees):
            note = right(question).value if place == missing else shown[place]
            assert is_degree(root, str(note), str(degree)), question.skill
        # The four are neighbours in a stack of thirds, in whatever order.
        stack = sorted(int(str(one).lstrip("b#")) for one in degrees)
        assert {second - first for first, second in pairwise(stack)} == {2}


@every_level
def test_every_why_of_the_missing_note_names_its_degree(level: int) -> None:
    for question in questions("finish-the-line", level):
        root = str(chord_of(question).root)
        for choice in question.choices:
            said = claims(choice.why)
            assert said["note"] == choice.value
            assert said["chord"] == chord_of(question)
            named = said["degree" if choice.right else "named"]
            assert is_degree(root, str(choice.value), str(named)), (question.skill, render(choice.why))
            if not choice.right:
                assert said["asked"] == question.about["degree"] != named


# --- degrees of the line -----------------------------------------------------------


@every_level
def test_the_degrees_are_the_intervals_from_the_root(level: int) -> None:
    for question in questions("degrees-of-the-line", level):
        root, notes, value = str(chord_of(question).root), words(question, "notes"), right(question).value
        assert isinstance(value, tuple)
        assert len(notes) == len(value) == 4
        for note, degree in zip(notes, value, strict=True):
            assert is_degree(root, note, str(degree)), (question.skill, note)
        assert render(question.prompt, ASCII).startswith(" ".join(notes))


@every_level
def test_the_why_of_wrong_degrees_gives_their_notes(level: int) -> None:
    for question in questions("degrees-of-the-line", level):
        root = str(chord_of(question).root)
        for choice, _ in wrong(question):
            said = claims(choice.why)
            assert isinstance(choice.value, tuple)
            assert [str(note) for note in _tuple(said["notes"])] == [spell(root, str(one)) for one in choice.value]
            assert [str(note) for note in _tuple(said["asked"])] == words(question, "notes")
            assert said["degrees"] == choice.value


def _tuple(value: object) -> tuple[object, ...]:
    assert isinstance(value, tuple)
    return value


# --- move the line -------------------------------------------------------------------


@every_level
def test_the_moved_note_is_as_far_away_as_the_chord_and_keeps_its_degree(level: int) -> None:
    for question in questions("move-the-line", level):
        slots = claims(question.prompt)
        before, chord = slots["before"], slots["chord"]
        assert isinstance(before, Chord)
        assert isinstance(chord, Chord)
        assert sound(str(before.root)) != sound(str(chord.root)), "it moves"
        distance = above(str(before.root), str(chord.root))
        old, begun = words(question, "line"), _tuple(slots["begun"])
        place = len(begun)
        for new, was in zip([*begun, right(question).value], old, strict=False):
            assert above(was, str(new)) == distance, question.skill
        assert old[place] == str(question.about["old"])
        asked = chord_of(question)
        assert is_degree(str(asked.root), str(right(question).value), str(question.about["degree"])), question.skill


@every_level
def test_the_picture_of_a_moved_line_has_one_distance_in_midi(level: int) -> None:
    for question in questions("move-the-line", level):
        assert question.row is not None
        heights = [note.midi for note in question.row.notes]
        old = words(question, "line")[: len(heights)]
        for (first, second), (was, then) in zip(pairwise(heights), pairwise(old), strict=True):
            assert (second - first) % 12 == above(was, then)
        assert question.row.missing == len(heights) - 1
        assert question.row.notes[-1].in_octave(None) == right(question).value


@every_level
def test_every_why_of_a_moved_note_says_what_the_note_is(level: int) -> None:
    for question in questions("move-the-line", level):
        root = str(chord_of(question).root)
        for choice in question.choices:
            said = claims(choice.why)
            assert said["note"] == choice.value
            named = str(said["degree" if choice.right else "named"])
            assert above(root, str(choice.value)) == DEGREES[named][1]
        for choice, mistake in wrong(question):
            if mistake != "not moved":
                named = str(claims(choice.why)["named"])
                assert is_degree(root, str(choice.value), named), (question.skill, render(choice.why))


# --- spot the device -----------------------------------------------------------------

# Half steps above the root on each rung of the stack, by the chord's own scale, and over a dominant by every colour.
COLOURS = {9: (1, 2, 3), 11: (5, 6), 13: (8, 9)}
RUNGS = {"root": 1, "third": 3, "fifth": 5, "seventh": 7, "ninth": 9}
SCALES = {
    "half-whole run": ({0, 1, 3, 4, 6, 7, 9, 10}, lambda s: s & {1, 3} and s & {7, 9}),
    "altered run": ({0, 1, 3, 4, 6, 8, 10}, lambda s: s & {1, 3} and 8 in s),
    "harmonic minor run": ({0, 1, 4, 5, 7, 8, 10}, lambda s: s >= {1, 4, 8}),
}


class Heard:
    """What is seen of a question: the notes with their heights, and for each its half steps above its chord's root."""

    def __init__(self, question: Question) -> None:
        assert question.row is not None
        self.chord = chord_of(question)
        self.chords = [self.chord] * len(question.row.notes)
        if question.row.bars:
            change = question.row.bars[0]
            self.chords[change:] = [chord_of(question, "next")] * (len(self.chords) - change)
        self.notes = [str(note.in_octave(None)) for note in question.row.notes]
        self.heights = [note.midi for note in question.row.notes]
        self.above = [above(str(chord.root), note) for chord, note in zip(self.chords, self.notes, strict=True)]
        self.steps = [second - first for first, second in pairwise(self.heights)]
        self.one_way = all(step > 0 for step in self.steps) or all(step < 0 for step in self.steps)


def rung_of(chord: Chord, half_steps: int) -> int | None:
    own = {DEGREES[name][1]: {2: 9, 4: 11, 6: 13}.get(number, number) for number, name in scale(chord).items()}
    dominant = (chord.kind or "").startswith("7")
    colours = {tone: rung for rung, tones in COLOURS.items() for tone in tones} if dominant else {}
    return {**colours, **own}.get(half_steps)


def is_arpeggio(heard: Heard, name: str) -> bool:
    start = RUNGS[name.split(",")[0].rsplit(" ", 1)[-1]]
    rungs = [rung_of(heard.chord, tone) for tone in heard.above]
    wanted = [start, start + 2, start + 4, start + 6]
    if len(rungs) != 4 or sorted(rung or 0 for rung in rungs) != wanted:
        return False
    in_order = rungs in (wanted, wanted[::-1])
    if "inverted" in name:
        return heard.one_way and not in_order
    return in_order and heard.one_way != ("octave away" in name)


def is_device(heard: Heard, name: str) -> bool:
    """The condition of a device, checked on the notes alone."""
    away = [height - heard.heights[-1] for height in heard.heights[:-1]]
    sides = {distance > 0 for distance in away}
    if name.startswith("arpeggio"):
        return is_arpeggio(heard, name)
    if name.startswith("landing"):
        return rung_of(heard.chords[-1], heard.above[-1]) == RUNGS[name.rsplit(" ", 1)[-1]]
    if name == "enclosure":
        return len(away) >= 2 and len(sides) == 2 and max(map(abs, away)) <= 2
    if name == "double approach":
        return len(away) == 2 and len(sides) == 1 and abs(away[1]) == 1 and abs(away[0]) in (2, 3)
    if name.startswith("approach"):
        return away[-1] == (1 if name.endswith("above") else -1)
    if name in SCALES:
        tones, shows = SCALES[name]
        dominant = (heard.chord.kind or "").startswith("7")
        return (
            dominant
            and len(away) >= 3
            and heard.one_way
            and set(heard.above) <= tones
            and bool(shows(set(heard.above)))
        )
    if name == "scale run":
        return len(away) >= 3 and heard.one_way and max(map(abs, heard.steps)) <= 2 and in_scale(heard)
    if name == "passing note off the beat":
        return len(heard.notes) == 3 and heard.one_way and heard.steps[0] in (1, -1) and heard.steps[1] in (1, -1)
    raise ValueError(name)


def in_scale(heard: Heard) -> bool:
    """All notes are of their chord's scale but those that only pass by half steps between two that are."""
    fits = [
        tone in {DEGREES[degree][1] for degree in scale(chord).values()} or (tone == 5 and "maj" in str(chord.kind))
        for tone, chord in zip(heard.above, heard.chords, strict=True)
    ]
    passing = [
        0 < place < len(fits) - 1 and abs(heard.steps[place - 1]) == abs(heard.steps[place]) == 1
        for place in range(len(fits))
    ]
    return all(one or only for one, only in zip(fits, passing, strict=True))


@every_level
def test_the_device_is_what_the_notes_do_and_no_other_choice_is(level: int) -> None:
    for question in questions("spot-the-device", level):
        heard = Heard(question)
        for choice in question.choices:
            if str(choice.value).endswith("colour"):
                assert len(heard.notes) > 1, "more than the one note of a colour"
                continue
            assert is_device(heard, str(choice.value)) == choice.right, (question.skill, str(choice.value), heard.notes)


def test_every_family_of_devices_is_asked() -> None:
    asked = {str(right(question).value) for question in questions("spot-the-device", 2)}
    for word in ("arpeggio from the third", "inverted", "enclosure", "approach from", "scale run", "half-whole run",
                 "altered run", "harmonic minor run", "landing on the third", "landing on the root"):  # fmt: skip
        assert any(word in name for name in asked), word


@every_level
def test_the_why_of_a_device_names_what_it_is_about(level: int) -> None:
    for question in questions("spot-the-device", level):
        heard = Heard(question)
        name = str(right(question).value)
        why = render(right(question).why, ASCII)
        target = heard.notes[-1]
        for note in [target] if name.startswith(("landing", "approach")) else heard.notes:
            assert note in why.replace(",", "").replace(".", "").split(), (why, note)
        if name.startswith(("landing", "enclosure", "approach", "double")):
            assert heard.chords[-1].symbol in why
        if "run" in name or name.startswith("arpeggio"):
            assert heard.chord.symbol in why
        for choice, mistake in wrong(question):
            said = render(choice.why, ASCII)
            # The device's name stands on its card; the why says what must be true of it.
            condition = render(say(DEVICES[str(choice.value)].condition), ASCII).partition(";")[0]
            assert said.endswith(condition[1:].rstrip(".") + ".") or mistake == "another start", said


# What the words of these runs leave out, in half steps above the root.
LEFT_OUT = {"half-whole run": {2, 5, 8, 11}, "altered run": {2, 5, 7, 9, 11}}


@pytest.mark.parametrize("slug", ["spot-the-device", "hear-the-device"])
def test_what_a_run_is_said_to_be_is_not_true_of_the_notes(slug: str) -> None:
    found = 0
    for question in questions(slug, 3):
        above = set(Heard(question).above)
        for choice, _ in wrong(question):
            if choice.value in LEFT_OUT:
                found += 1
                assert above & LEFT_OUT[str(choice.value)], render(choice.why)
    assert found > 5


def test_which_way_an_arpeggio_goes_is_said() -> None:
    for question in questions("spot-the-device", 2):
        said = render(question.prompt)
        if str(right(question).value).startswith("arpeggio"):
            heard = Heard(question)
            way = "with a turn" if not heard.one_way else "going up" if heard.steps[0] > 0 else "going down"
            assert f", {way}: " in said


# --- a player's own line ----------------------------------------------------------------

OWN = 'X:1\nT:Mine\nL:1/8\nM:4/4\nK:Eb\n"Fm7"Aceg fedc|"Bb7"Ddf_c B2^FF|"Ebmaj7"G8|]\n'
BARE = 'X:1\nT:Bare\nL:1/4\nM:4/4\nK:C\n"C7"C4|]\n'


def own(abc: str) -> Line:
    (line,) = read_abc(abc)
    return line


@every_drill
def test_an_own_line_is_asked_in_its_own_key_at_first(slug: str) -> None:
    line = own(OWN)
    tones = {sound(str(note.pitch)) for note in line.notes}
    stream = Stream(slug, Options(line=line))
    seen = 0
    for question in islice(stream, 30):
        seen += 1
        if slug == "move-the-line":
            assert {sound(note) for note in words(question, "line")} <= tones
            assert str(claims(question.prompt)["before"]) in {"Fm7", "Bb7", "Ebmaj7"}
            continue
        assert str(question.given["chord"]) in {"Fm7", "Bb7", "Ebmaj7"}
        assert {sound(note) for note in words(question, "line")} <= tones
    assert seen == 30


@every_drill
def test_an_own_line_goes_through_all_keys_later(slug: str) -> None:
    options = Options(line=own(OWN), level=2)
    stream = Stream(slug, options)
    chords = [question.given["chord"] for question in islice(stream, 120)]
    roots = {sound(str(chord.root)) for chord in chords if isinstance(chord, Chord)}
    # What moves has no question about the key that it stands in.
    assert len(roots) >= (11 if slug == "move-the-line" else 12)
    assert {chord.kind for chord in chords if isinstance(chord, Chord)} <= {"m7", "7", "maj7"}


@every_drill
def test_an_own_line_may_be_asked_over_wanted_chords_and_roots_only(slug: str) -> None:
    options = Options(line=own(OWN), keys=(parse_pitch("D"),), chords=("m7",))
    for question in islice(Stream(slug, options), 8):
        assert str(question.given["chord"]) == "Dm7"


@every_drill
def test_a_line_with_nothing_to_ask_is_one_fault(slug: str) -> None:
    with pytest.raises(BadInput) as caught:
        Stream(slug, Options(line=own(BARE)))
    said = str(caught.value)
    assert said.startswith('column 1: "Bare" has nothing to ask')
    assert said.endswith(".")
    assert said.count(".") == 1
