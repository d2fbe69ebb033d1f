"""Copy the figure: what is right, what a wrong tap stands for and what is said of it, again from the pitches alone."""

import gzip
import json
import re
from collections import Counter
from functools import cache
from html import unescape
from itertools import islice, pairwise
from random import Random

import pytest
from asked import LEVELS, SEEDS, scale, tones
from by_hand import DEGREES, above, sound

from engine.browser import call
from engine.drills import copy_the_figure
from engine.drills.catalogue import BY_SLUG, CATALOGUE, Stream
from engine.drills.copy_the_figure import LOWEST, LOWEST_ON_NECK, MISTAKES_HERE
from engine.drills.figures import FIGURES, figures_over
from engine.drills.options import NECK, Options
from engine.drills.question import Board, Choice, Keys, Press, Question, Tap, as_json, step_of
from engine.neck.instrument import INSTRUMENTS
from engine.practice.heard import sound_of
from engine.practice.records import choice_facts, records_of
from engine.practice.round import Answer, Plan, Round
from engine.practice.rounds import first_plan, plan_as_json
from engine.theory.bad_input import BadInput
from engine.theory.chord import Chord
from engine.theory.interval import Interval
from engine.theory.pitch import Pitch, parse_pitch
from engine.theory.wording import Profile, Slot, Text, render
from engine.view.link_form import link_form_html
from engine.view.round import round_html

SLUG = "copy-the-figure"
COUNT = 60
TUNINGS = ("guitar", "bass", "eight-string guitar", "E2,B2,E3,G#3,B3,E4")
# The trade's words where an interval's usual name is another.
PLAYERS_NAMES = {
    "minor second": "a half step", "major second": "a whole step", "augmented unison": "a half step",
    "perfect octave": "an octave", "augmented fourth": "a tritone", "diminished fifth": "a tritone",
    "perfect fourth": "a fourth", "perfect fifth": "a fifth",
}  # fmt: skip
NUMBERS = ("two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven")
WHITE = {0, 2, 4, 5, 7, 9, 11}


@cache
def asked(level: int, on: str = "keyboard", tuning: str = "guitar") -> tuple[Question, ...]:
    streams = [Stream(SLUG, Options(level=level, seed=seed, on=on, tuning=tuning)) for seed in SEEDS]
    return tuple(question for stream in streams for question in islice(stream, COUNT))


every_level = pytest.mark.parametrize("level", LEVELS)
everywhere = pytest.mark.parametrize("on", ["keyboard", NECK])


def figure(question: Question) -> list[int]:
    """The keys of the piano that are heard."""
    assert question.heard
    ((_, notes),) = question.heard.bars
    return [note.midi for note in notes]


def chord_of(question: Question) -> Chord:
    chord = question.given["chord"]
    assert isinstance(chord, Chord)
    return chord


def key_of(question: Question, choice: Choice) -> int:
    """What sounds where a choice is tapped."""
    if isinstance(choice.value, Press):
        return choice.value.key
    assert isinstance(choice.value, Tap)
    assert isinstance(question.board, Board)
    return question.board.instrument.opens[choice.value.place.string - 1] + choice.value.place.fret


def claims(text: Text) -> dict[str, Slot]:
    return dict(text.slots)


# --- the figure --------------------------------------------------------------------------


@everywhere
@every_level
def test_three_notes_at_first_then_four_or_five_and_none_twice(level: int, on: str) -> None:
    counts = {len(figure(question)) for question in asked(level, on)}
    assert counts == {1: {3}, 2: {4}, 3: {4, 5}}[level]
    for question in asked(level, on):
        keys = figure(question)
        assert len(set(keys)) == len(keys)
        assert max(keys) - min(keys) < 12


@every_level
def test_what_is_not_in_the_chord_s_scale_leads_on_by_half_step(level: int) -> None:
    for question in asked(level):
        chord, keys = chord_of(question), figure(question)
        own = {DEGREES[name][1] % 12 for name in (*tones(chord), *scale(chord).values())}
        root = sound(str(chord.root))
        for key, following in pairwise(keys):
            if (key - root) % 12 not in own:
                assert abs(following - key) == 1, question.skill
        assert (keys[-1] - root) % 12 in own
        # It has a tone of the chord, and goes from one note to the next as a line does.
        assert {(key - root) % 12 for key in keys} & {DEGREES[name][1] for name in tones(chord)}


@every_level
def test_the_degrees_are_counted_from_the_root_of_the_held_chord(level: int) -> None:
    for question in asked(level):
        assert question.row
        for note, degree, key in zip(question.row.notes, question.row.degrees, figure(question), strict=True):
            assert note.midi == key
            assert above(str(chord_of(question).root), str(note.in_octave(None))) == DEGREES[degree.name][1] % 12


def test_no_natural_tone_is_played_where_the_chord_has_an_altered_one() -> None:
    natural = {"7b9": {2}, "7#5": {7}, "7b9b13": {2, 9}}
    for question in asked(3):
        chord = chord_of(question)
        heard = {(key - sound(str(chord.root))) % 12 for key in figure(question)}
        assert not heard & natural.get(str(chord.kind), set()), question.skill


@pytest.mark.parametrize("kind", BY_SLUG[SLUG].kinds)
def test_every_kind_of_chord_has_figures_of_many_sorts(kind: str) -> None:
    for level in LEVELS:
        found = figures_over(kind, level)
        assert len(found) >= 8
        assert len({tuple(note.semitones for note in notes) for notes in found}) == len(found)


def test_every_figure_of_the_table_is_played_over_some_chord() -> None:
    for level, figures in FIGURES.items():
        played = {
            tuple(note.semitones for note in one) for kind in BY_SLUG[SLUG].kinds for one in figures_over(kind, level)
        }
        assert len(played) >= len(figures)
    assert len({one for figures in FIGURES.values() for one in figures}) == len({*FIGURES[1], *FIGURES[3]})


# --- what is tapped ----------------------------------------------------------------------


@everywhere
@every_level
def test_the_first_note_is_marked_and_each_other_one_has_one_right_place(level: int, on: str) -> None:
    for question in asked(level, on):
        keys, board = figure(question), question.board
        assert board
        assert str(question.given["first"]) in [str(note) for note in question.row.notes[:1]]  # type: ignore[union-attr]
        marked = [mark.key if isinstance(board, Keys) else mark for mark in board.marks]  # type: ignore[union-attr]
        assert len(marked) == 1
        assert len(question.steps) == len(keys) - 1
        for step, key in zip(question.steps, keys[1:], strict=True):
            right = [choice for choice in step if choice.right]
            assert [key_of(question, choice) for choice in right] == [key], question.skill
            assert len({str(choice.value) for choice in step}) == len(step) == len(board.places)
            assert all((key_of(question, choice) == key) == choice.right for choice in step)


@every_level
def test_eight_white_keys_hold_the_figure_wherever_they_begin(level: int) -> None:
    lows = Counter[int]()
    for question in asked(level):
        board, keys = question.board, figure(question)
        assert isinstance(board, Keys)
        assert sum(key % 12 in WHITE for key in board.places) == 8
        assert {board.low % 12, board.high % 12} <= WHITE
        assert board.low <= min(keys) < max(keys) <= board.high
        assert min(keys) >= LOWEST
        assert board.marks[0].key == keys[0]
        for choice in question.choices:
            # A value is a note of the trade: the sound it names is the key.
            assert sound(str(choice.value)[:-1]) == key_of(question, choice) % 12
            assert (key_of(question, choice) // 12 - 1) == int(str(choice.value)[-1])
        lows[keys[0] - board.low] += 1
    # Where the first note lies on it tells nothing of where the figure goes.
    assert len(lows) > 8


@pytest.mark.parametrize("tuning", TUNINGS)
@every_level
def test_five_frets_hold_the_figure(level: int, tuning: str) -> None:
    for question in asked(level, NECK, tuning)[:60]:
        board, keys = question.board, figure(question)
        assert isinstance(board, Board)
        assert board.high - board.low == 4
        opens = board.instrument.opens
        (first, *others) = [opens[mark.place.string - 1] + mark.place.fret for mark in board.marks]
        assert {first, *others} == {keys[0]}
        accepted = {key_of(question, choice) for choice in question.choices if choice.right}
        assert accepted == set(keys[1:])
        if tuning != "bass":
            assert min(keys) >= LOWEST_ON_NECK


@pytest.mark.parametrize("at", [0, 5, 18])
def test_the_frets_can_be_chosen(at: int) -> None:
    for question in islice(Stream(SLUG, Options(level=2, at=at, on=NECK)), 12):
        assert isinstance(question.board, Board)
        assert (question.board.low, question.board.high) == (at, at + 4)


def test_frets_that_hold_no_figure_are_refused() -> None:
    with pytest.raises(BadInput, match="these frets hold no whole figure"):
        # Strings an octave apart sound C to E there.
        Stream(SLUG, Options((parse_pitch("F"),), ("m7",), 2, on=NECK, tuning="C1,C2,C3,C4", at=0))
    with pytest.raises(BadInput, match="leaves less than five of the neck's 22 frets"):
        Stream(SLUG, Options(on=NECK, at=19))
    # A keyboard has none of that.
    assert Stream(SLUG, Options((parse_pitch("F"),), ("m7",), 2)).cards


def test_every_instrument_of_the_settings_has_something_to_copy() -> None:
    for name in INSTRUMENTS:
        assert Stream(SLUG, Options(on=NECK, tuning=name)).cards


# --- what a wrong tap is -----------------------------------------------------------------


def slip(chord: Chord, keys: list[int], step: int, key: int) -> str:
    """What a player has done who taps this key instead of note ``step + 1``, from the most telling to the least."""
    before, right = keys[step], keys[step + 1]
    own = {(sound(str(chord.root)) + DEGREES[name][1]) % 12 for name in scale(chord).values()}
    chordal = {(sound(str(chord.root)) + DEGREES[name][1]) % 12 for name in tones(chord)}
    between = {note % 12 for note in range(min(key, right) + 1, max(key, right))}
    if key == before:
        return "the note before again"
    if (key - right) % 12 == 0:
        return "an octave off"
    if key in keys:
        return "out of turn"
    if abs(key - right) == 1:
        return "a half step beside"
    if key % 12 in own and not own & between:
        return "a scale step beside"
    if key + right == 2 * before:
        return "turned round"
    if key % 12 in chordal:
        return "another chord tone"
    return "another interval" if (key > before) == (right > before) else "another way round"


@everywhere
@every_level
def test_a_wrong_tap_stands_for_the_most_telling_slip(level: int, on: str) -> None:
    found = set()
    for question in asked(level, on):
        for choice in question.choices:
            if choice.right:
                continue
            expected = slip(chord_of(question), figure(question), step_of(choice), key_of(question, choice))
            assert choice.mistake == expected, (question.skill, str(choice.value))
            assert not choice.usable
            found.add(choice.mistake)
    assert found == set(MISTAKES_HERE)


@everywhere
@every_level
def test_every_tap_says_what_it_is_and_how_far_from_the_note_before(level: int, on: str) -> None:
    for question in asked(level, on):
        chord, keys = chord_of(question), figure(question)
        for choice in question.choices:
            said, key, before = claims(choice.why), key_of(question, choice), keys[step_of(choice)]
            text = render(choice.why)
            assert said["chord"] == chord
            assert sound(str(said["note"])) == key % 12
            assert sound(str(said["before"])) == before % 12
            degree = said["degree"]
            shown = render(degree, Profile(signs=False)) if isinstance(degree, Text) else str(degree)
            assert shown != "7" or chord.has("7")
            name = {"root": "1", "major 7": "7"}.get(shown, shown)
            assert render(choice.gloss, Profile(signs=False)) == name
            assert above(str(chord.root), str(said["note"])) == DEGREES[name][1] % 12, (question.skill, text)
            if key != before:
                assert f"{'up' if key > before else 'down'}" in text.split()
                assert f" {render(said['interval'])} " in text  # type: ignore[arg-type]
            # A tone of the chord is called by the chord's own name.
            if {DEGREES[own][1]: own for own in tones(chord)}.get((key - sound(str(chord.root))) % 12, name) != name:
                raise AssertionError((question.skill, text))
            if choice.right:
                assert text.startswith(f"From {render(Text('{it}', (('it', said['before']),)))} ")
            assert len(text) <= 130


def at(key: int, note: Slot) -> Pitch:
    """A note that a sentence names, in the octave in which it sounds."""
    bare = parse_pitch(str(note)).in_octave(0)
    assert (key - bare.midi) % 12 == 0
    return bare.in_octave((key - bare.midi) // 12)


def contradicts(said: str, one: Pitch, other: Pitch) -> bool:
    """Whether a distance is named otherwise than the letters of two notes have it, or wrongly counted."""
    low, high = sorted((one, other), key=lambda note: note.midi)
    size = high.midi - low.midi
    if said.endswith("half steps"):
        octave = "an octave and " if size > 12 else ""
        return said != f"{octave}{NUMBERS[size % 12 - 2]} half steps"
    steps = high.letter - low.letter + 7 * ((high.octave or 0) - (low.octave or 0))
    if not 0 <= steps < 14:
        return True
    octave = "an octave and " if said.startswith("an octave and ") else ""
    name = Interval(steps - 7 * bool(octave), size - 12 * bool(octave)).name
    usual = PLAYERS_NAMES.get(name, f"{'an' if name[0] == 'a' else 'a'} {name}")
    return said not in (octave + usual, usual.replace("a perfect eleventh", "an eleventh").replace("perfect ", ""))


def test_every_figure_and_every_wrong_key_is_told_with_the_interval_of_its_letters() -> None:
    told = set()
    for level in LEVELS:
        stream = Stream(SLUG, Options(level=level))
        for number, card in enumerate(stream.cards):
            question = copy_the_figure.question(card, Random(number))
            keys = figure(question)
            for choice in question.choices:
                said, key, before = claims(choice.why), key_of(question, choice), keys[step_of(choice)]
                if key == before:
                    continue
                interval = said["interval"]
                assert isinstance(interval, Text)
                name = render(interval)
                known = contradicts(name, at(before, said["before"]), at(key, said["note"]))
                assert not known, (question.skill, render(choice.why))
                told.add(name)
    assert {"an augmented second", "a diminished fourth", "five half steps", "two half steps", "a half step"} <= told


def test_the_other_way_is_as_far_in_words_too() -> None:
    for question in asked(3):
        rights = {
            step_of(choice): render(claims(choice.why)["interval"]) for choice in question.choices if choice.right
        }  # type: ignore[arg-type]
        for choice in question.choices:
            if choice.mistake == "turned round":
                name = render(claims(choice.why)["interval"])  # type: ignore[arg-type]
                assert name in {rights[step_of(choice)]} or name.endswith("half steps")


# A sound over a chord that is in none of the figures' names but the scale's: the note and the degree.
IN_THE_SCALE = [
    ("Bb", "maj7", "E", "#11"), ("C", "maj7", "F#", "#11"), ("C", "m7", "Ab", "b13"), ("B", "m7b5", "G", "b13"),
    ("Bb", "m7b5", "Gb", "b13"), ("Eb", "mMaj7", "Cb", "b13"), ("Eb", "m6", "Cb", "b6"),
]  # fmt: skip


@pytest.mark.parametrize(("root", "kind", "note", "degree"), IN_THE_SCALE)
def test_a_wrong_note_has_the_name_that_it_has_in_the_chord_s_scale(
    root: str, kind: str, note: str, degree: str
) -> None:
    found = 0
    for level in LEVELS[1:]:
        for question in islice(Stream(SLUG, Options((parse_pitch(root),), (kind,), level)), 25):
            for choice in question.choices:
                if not choice.right and key_of(question, choice) % 12 == sound(note):
                    assert (str(claims(choice.why)["note"]), render(choice.gloss, Profile(signs=False))) == (
                        note,
                        degree,
                    )
                    found += 1
    assert found


@everywhere
@every_level
def test_a_neighbour_in_the_scale_is_called_as_the_scale_has_it(level: int, on: str) -> None:
    for question in asked(level, on):
        assert question.row
        own = {str(degree) for degree in question.row.degrees} | set(scale(chord_of(question)).values())
        for choice in question.choices:
            if choice.mistake == "a scale step beside":
                assert render(choice.gloss, Profile(signs=False)) in own, (question.skill, render(choice.why))


@everywhere
def test_what_does_not_rest_says_which_tone_of_the_chord_it_leads_to_or_encloses(on: str) -> None:
    leads = encloses = 0
    for question in (*asked(2, on), *asked(3, on)):
        keys, chord = figure(question), chord_of(question)
        root = sound(str(chord.root))
        chordal = [(key - root) % 12 in {DEGREES[name][1] % 12 for name in tones(chord)} for key in keys]
        enclosed = {
            place
            for place in range(2, len(keys))
            if chordal[place] and not (chordal[place - 1] and chordal[place - 2])
            and sorted((keys[place], keys[place - 1], keys[place - 2]))[1] == keys[place]
            and max(abs(keys[place] - keys[place - back]) for back in (1, 2)) <= 2
        }  # fmt: skip
        for step, choices in enumerate(question.steps):
            here = step + 1
            right = next(choice for choice in choices if choice.right)
            text, onward = render(right.why), claims(right.why)["onward"]
            assert isinstance(onward, Text)
            said = claims(onward)
            target = next((place for place in range(here, here + 3) if place in enclosed), None)
            if target is not None:
                one, other = (at(keys[target - back], said[name]) for back, name in ((2, "one"), (1, "other")))
                above = one.midi > keys[target] > other.midi
                assert text.endswith("from above and below." if above else "from below and above.")
                assert ("enclose it," in text) == (target == here)
                assert target == here or sound(str(said["after"])) == keys[target] % 12
                encloses += 1
                continue
            rest = next((place for place in range(here + 1, len(keys)) if chordal[place]), None)
            assert ("; it leads on to " in text) == (not chordal[here] and rest is not None)
            if not chordal[here] and rest is not None:
                assert sound(str(said["after"])) == keys[rest] % 12
                leads += 1
    assert leads
    assert encloses


# --- what is heard -------------------------------------------------------------------------


@everywhere
def test_after_the_answer_the_figure_is_heard_as_tapped_and_as_it_was(on: str) -> None:
    def single(question: Question, what: str, taken: int | None = None) -> list[int]:
        events = sound_of(question, what, taken).events
        return [event.pitch for event in events if event.index is not None and event.pitch is not None]

    for question in asked(3, on)[::15]:
        keys = figure(question)
        assert (
            single(question, "asked") == single(question, "right") == single(question, "yours", question.right) == keys
        )
        for number, choice in enumerate(question.choices):
            if not choice.right:
                yours = single(question, "yours", number)
                assert yours == [*keys[: step_of(choice) + 1], key_of(question, choice)]


# --- what the page has ---------------------------------------------------------------------

CELL = re.compile(
    r'<div class="(?P<kind>[a-z ]+) (?P<row>front|back)(?: s(?P<black>\d+))? n(?P<column>\d)">'
    r'<input type="checkbox" id="(?P<id>q\d-\d+)"'
    r'(?: name="(?P<name>q\d)" value="(?P<value>\d+)" data-choice="(?P<facts>[^"]+)")? aria-label="(?P<label>[^"]+)"'
    r'(?P<state> checked| disabled)?><label for="(?P<for>q\d-\d+)"><b>(?P<gloss>[^<]+)</b>'
    r'<i class="verdict">(?P<verdict>.*?)</i></label>(?:<p class="why">(?P<why>.*?)</p>)?</div>'
)


def page(question: Question, *answers: Answer) -> str:
    return round_html(a_round(question, *answers))


def a_round(question: Question, *answers: Answer) -> Round:
    return Round(Plan(SLUG, "", 1, (0,), 1, 1), (question,), answers)


@every_level
def test_every_key_of_every_step_is_one_box_at_its_place(level: int) -> None:
    for question in asked(level)[:10]:
        cells = [found.groupdict() for found in CELL.finditer(page(question))]
        assert len(cells) == len(question.choices) == page(question).count("<input")
        assert isinstance(question.board, Keys)
        white = [key for key in question.board.places if key % 12 in WHITE]
        for index, (cell, choice) in enumerate(zip(cells, question.choices, strict=True)):
            key = key_of(question, choice)
            assert cell["row"] == ("front" if key in white else "back")
            assert int(cell["column"]) == len([other for other in white if other <= key])
            assert cell["id"] == cell["for"] == f"q1-{index + 1}"
            assert sound(re.split(r"\d", cell["label"].replace("♯", "#").replace("♭", "b"))[0]) == key % 12
            assert (" or " in cell["label"]) == (cell["row"] == "back")
            onward = choice.right and step_of(choice) + 1 < len(question.steps)
            assert (cell["kind"] == "onward") == onward == (cell["name"] is None)
            if not onward:
                assert json.loads(unescape(cell["facts"])) == choice_facts(choice)
                assert cell["why"] == render(choice.why)
        # Nothing but a name tells a right key from the others, whatever step it is.
        labels = [cell["label"] for cell in cells]
        size = len(question.board.places)
        assert len(set(labels)) == size
        assert all(labels[start : start + size] == labels[:size] for start in range(0, len(labels), size))


def test_a_step_says_how_far_one_has_come_and_never_what_is_asked() -> None:
    for on in ("keyboard", NECK):
        for question in asked(2, on)[:10]:
            doing = re.findall('<p class="doing">([^<]+)</p>', page(question))
            assert doing == ["Note 2 of 4", "Note 3 of 4", "Note 4 of 4"]
            assert '<span class="unseen">right, </span>4 of 4' in page(question)


@everywhere
@every_level
def test_the_whole_figure_is_told_after_any_answer(level: int, on: str) -> None:
    for question in asked(level, on)[:20]:
        (told,) = re.findall('<p class="why whole">(.*?)</p>', page(question))
        chord, keys = chord_of(question), figure(question)
        found = re.fullmatch(r"The figure: (.+) over (.+), the (.+)\.", re.sub("<[^>]+>", "", unescape(told)))
        assert found
        plainly = [part.replace("♯", "#").replace("♭", "b") for part in found.groups()]
        assert [sound(note) for note in plainly[0].split("–")] == [key % 12 for key in keys]
        names = re.split(", | and ", plainly[2])
        for name, key in zip(names, keys, strict=True):
            degree = {"root": "1", "major 7": "7"}.get(name, name)
            assert DEGREES[degree][1] % 12 == (key - sound(str(chord.root))) % 12


def test_a_wrong_key_that_is_right_at_another_step_says_which() -> None:
    for question in asked(2)[:10]:
        keys = figure(question)
        cells = [found.groupdict() for found in CELL.finditer(page(question))]
        for cell, choice in zip(cells, question.choices, strict=True):
            if choice.right:
                continue
            key = key_of(question, choice)
            number = keys.index(key) + 1 if key in keys[1:] else None
            verdict = re.sub("<[^>]+>", "", cell["verdict"])
            assert verdict == (f"yours, {number} of {len(keys)}" if number else "yours")


def test_a_given_answer_is_checked_and_kept() -> None:
    question = asked(1)[0]
    wrong = next(index for index, choice in enumerate(question.choices) if not choice.right and step_of(choice) == 1)
    for taken in (wrong, question.right):
        html = page(question, Answer(0, taken))
        states = [found["state"] for found in CELL.finditer(html)]
        assert states.pop(taken) == " checked"
        assert set(states) == {" disabled"}
        (record,) = records_of(a_round(question, Answer(0, taken)))
        assert (record["right"], record["drill"]) == (taken == question.right, SLUG)
        assert re.fullmatch(r"[A-G][b#]?\d", record["value"])


def test_a_keyboard_of_another_width_is_refused() -> None:
    question = asked(1)[0]
    assert isinstance(question.board, Keys)
    for low, high in ((60, 71), (60, 74), (61, 73)):
        with pytest.raises(ValueError, match="8 white keys"):
            page(Question(**{**fields(question), "board": Keys(low, high)}))


def fields(question: Question) -> dict[str, object]:
    return {name: getattr(question, name) for name in Question.__slots__}


def test_a_round_is_small() -> None:
    for on in ("keyboard", NECK):
        questions = asked(1, on)[:10]
        html = round_html(Round(Plan(SLUG, "", 1, tuple(range(10)), 10, 10), questions))
        assert len(gzip.compress(html.encode(), mtime=0)) < 25_000


@everywhere
def test_json_has_the_steps_beside_what_is_heard(on: str) -> None:
    question = asked(2, on)[0]
    found = as_json(question)
    assert found["asks"] == "sound"
    steps, heard = found["steps"], found["heard"]
    assert isinstance(steps, list)
    assert isinstance(heard, list)
    assert len(steps) == len(heard[0]["notes"]) - 1
    assert all(len(step["accepts"]) == 1 and step["why"].startswith("From ") for step in steps)
    if on != NECK:
        for step, note in zip(steps, heard[0]["notes"][1:], strict=True):
            assert sound(step["accepts"][0][:-1]) == sound(note[:-1])


# --- the link --------------------------------------------------------------------------------


def test_the_form_of_the_link_says_what_is_tapped_where_both_will_do() -> None:
    forms = {entry.slug: link_form_html(entry) for entry in CATALOGUE}
    assert [slug for slug, form in forms.items() if 'name="on"' in form] == [SLUG]
    assert '<input type="radio" name="on" value="keyboard" checked>' in forms[SLUG]
    plan = plan_as_json(first_plan(SLUG)[0])
    for on in ("keyboard", NECK):
        fields = {"level": ["2"], "on": [on]}
        made = json.loads(call(json.dumps({"do": "link", "drill": SLUG, "fields": fields, "chance": 1, "plan": plan})))
        assert set(made["link"].split("&")) == {"v=1", "level=2", f"on={on}"}
        opened = json.loads(call(json.dumps({"do": "open", "drill": SLUG, "link": made["link"], "count": 2})))
        assert ('class="board keyed"' in opened["html"]) == (on == "keyboard")


def test_the_settings_tell_the_neck_only_where_it_is_played() -> None:
    settings = {"v": 1, "tuning": "bass", "frets": 20, "left": False, "stretch": 4, "built": False}
    for link, rows in (("", set()), ("on=neck", {"r1", "r2", "r3", "r4"})):
        asked_for = {"do": "open", "drill": SLUG, "link": link, "count": 2, "settings": settings}
        html = json.loads(call(json.dumps(asked_for)))["html"]
        assert {row for row in ("r1", "r2", "r3", "r4", "r5") if f'class="string {row}"' in html} == rows
