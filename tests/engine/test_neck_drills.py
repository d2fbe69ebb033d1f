"""The drills on the neck: every place worked out a second time, from tunings written down as MIDI key numbers."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterator
from functools import cache
from itertools import islice, pairwise

import pytest
from asked import LEVELS, SEEDS, claims, tones
from by_hand import DEGREES, HALF_STEPS, SIGNS, above, sound, spell
from shift_counting import fewest_shifts

from engine.drills.catalogue import BY_SLUG, CATALOGUE, Stream
from engine.drills.mistakes import MISTAKES
from engine.drills.options import Options
from engine.drills.question import Board, Choice, Question, Tab, Tap, as_json, facts
from engine.drills.slips_in_counting import THE_PLACE
from engine.formats.abc import read_abc
from engine.neck.instrument import GUITAR, INSTRUMENTS
from engine.theory.bad_input import BadInput
from engine.theory.chord import Chord
from engine.theory.chord_symbol import parse_chord
from engine.theory.degree import Degree
from engine.theory.pitch import Pitch, parse_pitch
from engine.theory.wording import Profile, render
from engine.view.marks import LEFT_OUT

# The open strings from the highest, as MIDI key numbers.
OPENS = {
    "guitar": (64, 59, 55, 50, 45, 40),
    "guitar in drop D": (64, 59, 55, 50, 45, 38),
    "seven-string guitar": (64, 59, 55, 50, 45, 40, 35),
    "bass": (43, 38, 33, 28),
    "E2,B2,E3,G#3,B3,E4": (64, 59, 56, 52, 47, 40),
}
TAPPED = ("note-on-the-neck", "arpeggio-in-place", "line-in-place")
COUNT = 12
LETTERS = "CDEFGAB"
# What is no chord tone, in half steps above the root, by what it is called; by the kinds of chord that are asked.
ROLES: dict[str, dict[str, set[int]]] = {
    "an extension": {
        "7": {2, 9}, "7sus4": {2, 9}, "maj7": {2, 6, 9}, "m7": {2, 5, 9}, "m7b5": {1, 2, 5, 8}, "mMaj7": {2, 5, 9},
        "dim7": {2, 5, 8}, "6": {2, 6}, "m6": {2, 5}, "maj": {2, 9}, "m": {2, 5, 9}, "dim": {2, 5, 8}, "aug": {2, 6},
    },
    "an alteration": {"7": {1, 3, 6, 8}, "7sus4": {1, 8}},
    "an avoid note": {"7": {5}, "maj7": {5}, "6": {5}, "maj": {5}},
    "a passing note": {
        "7sus4": {4}, "dim7": {11}, "6": {11}, "m6": {11}, "maj": {11}, "m": {10}, "dim": {9, 11}, "aug": {9, 11},
    },
}  # fmt: skip
ROLES = {name: defaultdict(set, by_kind) for name, by_kind in ROLES.items()}


def kind_of(chord: Chord) -> str:
    """The kind of chord whose row of ``ROLES`` holds: an altered dominant's own tones are looked at elsewhere."""
    kind = chord.kind or ""
    return "maj7" if kind.startswith("maj7") else kind if not kind.startswith("7") or kind == "7sus4" else "7"


every_tapped = pytest.mark.parametrize("slug", TAPPED)
every_level = pytest.mark.parametrize("level", LEVELS)
every_instrument = pytest.mark.parametrize("tuning", OPENS)


@cache
def asked(slug: str, level: int, tuning: str = "guitar") -> tuple[Question, ...]:
    streams = [Stream(slug, Options(level=level, seed=seed, tuning=tuning)) for seed in SEEDS]
    return tuple(question for stream in streams for question in islice(stream, COUNT))


def midi(note: str) -> int:
    """A note's key of the piano, C4 being 60."""
    octave = note.lstrip("ABCDEFG#b")
    return 12 * (int(octave) + 1) + HALF_STEPS[note[0]] + SIGNS[note[1 : len(note) - len(octave)]]


def board_of(question: Question) -> Board:
    assert question.board is not None
    return question.board


def fact(question: Question, name: str) -> str:
    return str(question.about[name])


def chord_at(question: Question, step: int) -> Chord:
    """The chord that a step's note is heard over."""
    chords = question.about.get("chords")
    chord = chords[step] if isinstance(chords, tuple) else question.about["chord"]
    assert isinstance(chord, Chord)
    return chord


def places(question: Question) -> Iterator[tuple[int, int, int, Choice]]:
    """Each tap of a question: its step, string and fret, and its choice."""
    for choice in question.choices:
        assert isinstance(choice.value, Tap)
        yield choice.value.step, *choice.value.place, choice


def wanted(question: Question, step: int, key: int) -> bool:
    """Whether a key of the piano is what the step asks for: of a note on the neck any octave, else that one."""
    if "notes" in question.about:
        return key == midi(fact(question, "notes").split()[step])
    return key % 12 == sound(spell(str(chord_at(question, 0).root), fact(question, "degree")))


# --- what holds wherever taps are asked --------------------------------------------


@every_instrument
@every_level
@every_tapped
def test_every_place_has_one_choice_a_step_and_those_that_sound_right_are_right(
    slug: str, level: int, tuning: str
) -> None:
    opens = OPENS[tuning]
    for question in asked(slug, level, tuning):
        assert question.asks == "tap"
        board = board_of(question)
        assert fact(question, "frets") == f"{board.low} to {board.high}"
        assert [midi(name) for name in reversed(fact(question, "tuning").split(","))] == list(opens)
        assert board.high == board.low + 4 <= board.instrument.frets
        strings, frets = range(1, len(opens) + 1), range(board.low, board.high + 1)
        steps = len(question.steps)
        expected = [(step, string, fret) for step in range(steps) for string in strings for fret in frets]
        assert [(step, string, fret) for step, string, fret, _ in places(question)] == expected
        for step, string, fret, choice in places(question):
            assert choice.right == wanted(question, step, opens[string - 1] + fret), (question.skill, step, choice)
        assert all(any(choice.right for choice in step) for step in question.steps)
        assert question.choices[question.right].right
        assert len(question.choices) - question.right <= len(strings) * 5  # it is one of the last step's


@every_instrument
@every_tapped
def test_every_why_names_the_note_that_sounds_there_and_its_degree(slug: str, tuning: str) -> None:
    opens = OPENS[tuning]
    for question in asked(slug, 3, tuning):
        for step, string, fret, choice in places(question):
            said, key = claims(choice.why), opens[string - 1] + fret
            root = str(chord_at(question, step).root)
            gloss = render(choice.gloss, Profile(signs=False))
            assert DEGREES[gloss][1] == (key - sound(root)) % 12, (question.skill, render(choice.why))
            if "note" not in said:
                assert choice.right  # the whole arpeggio stands in its last sentence
                continue
            assert sound(str(said["note"])) == key % 12
            assert render(choice.why, Profile(signs=False)).count(gloss if gloss != "1" else "root") >= 1
            if "wanted" in said:
                assert wanted(question, step, 60 + sound(str(said["wanted"]))) or "notes" in question.about
                assert sound(str(said["wanted"])) != key % 12


@every_instrument
@every_tapped
def test_mistakes_mean_what_their_names_say(slug: str, tuning: str) -> None:
    """Each row's places by hand; that the rows lead there is seen to for every drill."""
    opens = OPENS[tuning]
    for question in asked(slug, 2, tuning):
        right = {(step, string, fret) for step, string, fret, choice in places(question) if choice.right}
        for step, string, fret, choice in places(question):
            if choice.mistake is None:
                continue
            key, chord = opens[string - 1] + fret, chord_at(question, step)
            root = str(chord.root)
            own = {(sound(root) + DEGREES[degree][1]) % 12 for degree in tones(chord)}
            above_root = (key - sound(root)) % 12
            beside = {
                "a fret too low": (string, fret + 1), "a fret too high": (string, fret - 1),
                "a string too low": (string - 1, fret), "a string too high": (string + 1, fret),
            }  # fmt: skip
            if choice.mistake in beside:
                assert (step, *beside[choice.mistake]) in right
            elif choice.mistake == "another tone of the chord":
                assert key % 12 in own
            elif choice.mistake in ROLES:
                assert above_root in ROLES[choice.mistake][kind_of(chord)], (chord, above_root)
                # The sharp 11 of a major seventh, though the 5 be asked beside it.
                assert choice.mistake != "an extension" or "is the ♭5" not in render(choice.why)
                assert key % 12 not in own
            elif choice.mistake == "another note":
                assert all(above_root not in semitones[kind_of(chord)] for semitones in ROLES.values())
                assert key % 12 not in own
            elif choice.mistake == "out of order, in another octave":
                asked_for = {midi(note) for note in fact(question, "notes").split()}
                asked_for |= {midi(fact(question, "first"))} if "first" in question.about else set()
                assert key not in asked_for
                assert key % 12 in {one % 12 for one in asked_for}
            elif choice.mistake == "another octave":
                assert choice.usable
                assert not wanted(question, step, key)
                assert any(wanted(question, step, key + 12 * octaves) for octaves in (-3, -2, -1, 1, 2, 3))
            elif choice.mistake == "the root left out":
                assert choice.usable
                assert key % 12 == sound(root)
            assert choice.usable == MISTAKES[choice.mistake].usable


# By the name of a tuning: the higher string of each pair that is no fourth apart, and by how many frets it is short of
# one (less than none: too far). Of the last tuning most pairs are not even fourths.
ODD = {"guitar": {2: 1}, "guitar in drop D": {2: 1, 5: -2}, "seven-string guitar": {2: 1}, "bass": {}}


def starts(question: Question, step: int) -> list[tuple[int, int]]:
    """Where a player counts a step's note from: the note before, the marked root, or else any root of the board."""
    board = board_of(question)
    if "notes" not in question.about:
        if board.marks:
            return [tuple(board.marks[0].place)]
        root = sound(str(chord_at(question, 0).root))
        opens = board.instrument.opens
        return [(string, fret) for string, fret in board.places if (opens[string - 1] + fret) % 12 == root]
    if step:
        return [(string, fret) for at, string, fret, choice in places(question) if choice.right and at == step - 1]
    return [tuple(mark.place) for mark in board.marks]


@pytest.mark.parametrize("tuning", ODD)
@every_tapped
def test_a_shape_in_fourths_goes_wrong_across_the_odd_pair_alone(slug: str, tuning: str) -> None:
    odd, found = ODD[tuning], set()
    for question in (one for level in (1, 2) for one in asked(slug, level, tuning)):
        for step, string, fret, choice in places(question):
            if choice.mistake != "strings out of step":
                continue
            # Played as a shape on strings in fourths alone, the tap is as far from there as the right place really is.
            opens, right_ones = OPENS[tuning], [
                (other, at) for its, other, at, one in places(question) if its == step and one.right and other == string
            ]  # fmt: skip
            crossed = {
                high for start, at in starts(question, step) for high in odd
                for _, right in right_ones
                if (start > high >= string or string > high >= start)
                and opens[string - 1] + right - opens[start - 1] - at == 5 * (start - string) + fret - at
            }  # fmt: skip
            told = re.match(r"String (\d) is tuned (.+?) above string (\d), not a fourth\.", render(choice.why))
            assert told
            assert int(told[1]) in crossed, (question.skill, string, fret)
            assert int(told[3]) == int(told[1]) + 1
            assert told[2] == {1: "a major third", -2: "a fifth"}[odd[int(told[1])]]
            found.add(int(told[1]))
    assert found == set(odd) if slug == "note-on-the-neck" else found <= set(odd)


def test_a_slip_on_the_near_side_of_the_pair_is_another_one() -> None:
    """By hand: the root of C7 on string 5, its 3 on string 4 below the pair, and on string 2 across it."""
    board = {"tuning": "E2,A2,D3,G3,B3,E4", "frets": "1 to 5", "ask": THE_PLACE, "marked": "5/3"}
    about = facts(chord=parse_chord("C7"), degree=Degree("3"), note=parse_pitch("E"), **board)
    # E lies at 4/2 and 2/5; a player who counts from 5/3 in fourths ends at 2/4.
    assert [str(tap) for tap in MISTAKES["strings out of step"].values(about)] == ["2/4"]
    # Counted from the C at 2/1 the 3 at 4/2 is across the pair, the one at 1/0 is not.
    about = {**about, "marked": "2/1"}
    assert [str(tap) for tap in MISTAKES["strings out of step"].values(about)] == ["4/3"]


@every_level
@every_tapped
def test_a_sound_has_one_name_in_a_step_whatever_explains_it(slug: str, level: int) -> None:
    for question in asked(slug, level):
        names: dict[tuple[int, int], set[tuple[str, str]]] = {}
        for step, string, fret, choice in places(question):
            said = claims(choice.why)
            if "note" in said and not choice.right:
                key = (OPENS["guitar"][string - 1] + fret) % 12
                names.setdefault((step, key), set()).add((str(said["note"]), str(said["named"])))
        assert all(len(those) == 1 for those in names.values())


@every_level
@every_tapped
def test_a_chord_tone_has_the_chords_own_name(slug: str, level: int) -> None:
    tones_seen = 0
    for question in asked(slug, level):
        for step, _, _, choice in places(question):
            chord, gloss = chord_at(question, step), render(choice.gloss, Profile(signs=False))
            own = [degree for degree in chord.degrees if degree.semitones % 12 == Degree(gloss).semitones % 12]
            if own and not choice.right:
                tones_seen += 1
                assert gloss == str(own[0]) or gloss in degrees_asked(question)
    assert tones_seen > 0


def degrees_asked(question: Question) -> list[str]:
    return fact(question, "degrees" if "degrees" in question.about else "degree").split()


COUNTING = ("other sign", "a letter too far", "a letter short", "counted from the third", "counted from the fifth")


@every_level
@every_tapped
def test_what_is_counted_wrong_is_called_what_was_counted_to(slug: str, level: int) -> None:
    for question in asked(slug, level):
        for step, _, _, choice in places(question):
            if choice.mistake not in COUNTING:
                continue
            said = claims(choice.why)
            named, wanted_note = str(said["note"]), str(said["wanted"])
            away = (LETTERS.index(named[0]) - LETTERS.index(wanted_note[0])) % 7
            root = str(chord_at(question, step).root)
            if choice.mistake == "other sign":
                assert render(choice.gloss).lstrip("♭♯") == str(said["asked"]).lstrip("b#")
                continue
            # One that is read easier in its twin's letter has another.
            in_its_letter = spell(root, render(choice.gloss, Profile(signs=False))) == named
            if in_its_letter and wanted_note in {spell(root, degree) for degree in degrees_asked(question)}:
                assert away == {"a letter too far": 1, "a letter short": 6}.get(choice.mistake, away)


@pytest.mark.parametrize("slug", [*TAPPED, "best-way"])
@every_level
def test_no_question_of_a_drills_own_lies_above_the_fifteenth_fret(slug: str, level: int) -> None:
    for question in asked(slug, level):
        if question.board:
            assert question.board.high <= 15
        for choice in question.choices:
            if isinstance(choice.value, Tab):
                assert max(fret for _, fret in choice.value.places) <= (15 if choice.right else 17)


@every_tapped
def test_json_has_the_steps_and_explains_every_tap(slug: str) -> None:
    for question in asked(slug, 1):
        found = as_json(question)
        steps, choices = found["steps"], found["choices"]
        assert isinstance(steps, list)
        assert isinstance(choices, list)
        assert len(steps) == {"note-on-the-neck": 1, "arpeggio-in-place": 4, "line-in-place": 4}[slug]
        for step, those in zip(steps, question.steps, strict=True):
            assert step["accepts"] == [str(choice.value) for choice in those if choice.right]
            assert step["why"].endswith(".")
        assert len(choices) == len(steps) * len(board_of(question).places)
        assert all(choice["why"].endswith(".") and len(choice["why"]) <= 180 for choice in choices)
        assert len(str(found["prompt"])) <= 110


def test_these_are_the_drills_on_the_neck_and_no_round_of_the_start_page_asks_them() -> None:
    always = [entry.slug for entry in CATALOGUE if entry.neck and not entry.keyboard]
    assert always == [*TAPPED, "best-way"]
    assert not any(entry.mixed for entry in CATALOGUE if entry.neck)
    assert [entry.slug for entry in CATALOGUE if entry.asks == "tap"] == list(TAPPED)


# --- where ----------------------------------------------------------------------------


@every_tapped
@pytest.mark.parametrize("at", [0, 1, 5, 12, 18])
def test_the_frets_can_be_chosen(slug: str, at: int) -> None:
    for question in islice(Stream(slug, Options(level=2, at=at)), 12):
        assert (board_of(question).low, board_of(question).high) == (at, at + 4)
        ends = "between the open strings and fret 4" if at == 0 else f"between frets {at} and {at + 4}"
        assert ends in render(question.prompt)


def test_levels_go_up_and_down_the_neck() -> None:
    lows = [{board_of(question).low for question in asked("note-on-the-neck", level)} for level in LEVELS]
    assert lows[0] == {3, 5, 7}
    assert {0, 11} <= lows[1]
    assert lows[2] == set(range(12))


@pytest.mark.parametrize("slug", [*TAPPED, "best-way"])
def test_frets_that_the_neck_does_not_have_are_refused(slug: str) -> None:
    with pytest.raises(BadInput, match="leaves less than five of the neck's 22 frets; begin at a fret from 0 to 18"):
        Stream(slug, Options(at=19))
    with pytest.raises(BadInput, match="leaves less than five of the neck's 12 frets; begin at a fret from 0 to 8"):
        Stream(slug, Options(frets=12, at=9))
    for question in islice(Stream(slug, Options(frets=12, level=3)), 10):
        assert question.board is None or question.board.high <= 12


# Four strings an octave apart each sound only five notes on five frets.
SPARSE = "C1,C2,C3,C4"


def test_what_no_fret_has_is_not_asked_and_said_where_nothing_is_left() -> None:
    sparse = Options(tuning=SPARSE, at=0, level=2)
    for question in islice(Stream("note-on-the-neck", sparse), 50):
        note = str(question.about["note"])
        assert sound(note) in range(5)
    with pytest.raises(BadInput, match="has nothing to ask: none of its notes lies on these frets; give other frets"):
        Stream("note-on-the-neck", Options(tuning=SPARSE, at=0, keys=(parse_pitch("F"),), chords=("dim",), level=3))
    with pytest.raises(BadInput, match="has nothing to ask: these frets hold no whole arpeggio; give other frets"):
        Stream("arpeggio-in-place", Options(tuning=SPARSE, at=0))
    with pytest.raises(BadInput, match="has nothing to ask: no stretch of the lines lies on these frets; give other"):
        Stream("line-in-place", Options(tuning=SPARSE, at=0, chords=("mMaj7",), level=3))


@every_tapped
@pytest.mark.parametrize("tuning", ["guitar", "bass", "guitar in drop D"])
def test_all_twelve_keys_are_asked(slug: str, tuning: str) -> None:
    cards = Stream(slug, Options(level=2, tuning=tuning)).cards
    roots = set()
    for question in islice(Stream(slug, Options(level=2, tuning=tuning)), min(len(cards), 150)):
        roots.add(sound(str(chord_at(question, 0).root)))
    assert len(roots) == 12


# --- note on the neck -------------------------------------------------------------------


@every_level
def test_the_degree_is_found_in_every_octave_and_told_on_which_strings(level: int) -> None:
    for question in asked("note-on-the-neck", level):
        assert render(question.prompt).endswith(", in any octave.")
        strings = tuple(string for _, string, _, choice in places(question) if choice.right)
        assert len(set(strings)) == len(strings) >= 1
        for *_, choice in places(question):
            if choice.right:
                told = claims(choice.why)["there"]
                assert (
                    render(told)
                    == f"on string{'s' * (len(strings) > 1)} "
                    + " and ".join(  # type: ignore[arg-type]
                        ", ".join(map(str, part)) for part in (strings[:-1], strings[-1:]) if part
                    )
                )
                assert str(question.about["note"]) == spell(str(chord_at(question, 0).root), fact(question, "degree"))


def test_a_beginner_sees_the_lowest_root_unless_it_is_asked() -> None:
    for level in LEVELS:
        for question in asked("note-on-the-neck", level):
            board, root = board_of(question), sound(str(chord_at(question, 0).root))
            opens = OPENS["guitar"]
            roots = sorted(
                (opens[string - 1] + fret, (string, fret))
                for string, fret in board.places if (opens[string - 1] + fret) % 12 == root
            )  # fmt: skip
            marked = [tuple(mark.place) for mark in board.marks]
            wants_one = level == 1 and fact(question, "degree") != "1"
            assert marked == ([roots[0][1]] if wants_one else [])
    degrees = {fact(question, "degree") for question in asked("note-on-the-neck", 1)}
    assert degrees == {"1", "b3", "3", "5", "b7", "7"}


# --- arpeggio in place ---------------------------------------------------------------------


@every_instrument
@every_level
def test_the_arpeggio_goes_up_from_the_third_and_its_root_is_faint(level: int, tuning: str) -> None:
    opens = OPENS[tuning]
    for question in asked("arpeggio-in-place", level, tuning):
        root, degrees = str(chord_at(question, 0).root), fact(question, "degrees").split()
        names = fact(question, "notes").split()
        keys = [midi(name) for name in names]
        assert [degree.lstrip("b#") for degree in degrees] == ["3", "5", "7", "9"]
        assert [name.rstrip("0123456789") for name in names] == [spell(root, degree) for degree in degrees]
        assert all(0 < second - first < 12 for first, second in pairwise(keys))
        board = board_of(question)
        below = keys[0] - DEGREES[degrees[0]][1]
        roots = {(string, fret) for string, fret in board.places if opens[string - 1] + fret == below}
        assert {tuple(mark.place) for mark in board.marks} == roots
        assert {(mark.role, render(mark.label)) for mark in board.marks} <= {(LEFT_OUT, "1")}


@every_instrument
@every_level
def test_where_the_arpeggio_fits_twice_the_prompt_says_on_which_string_it_starts(level: int, tuning: str) -> None:
    opens = OPENS[tuning]
    said = set()
    for question in asked("arpeggio-in-place", level, tuning):
        keys = [midi(name) for name in fact(question, "notes").split()]
        there = {opens[string - 1] + fret for string, fret in board_of(question).places}
        fits = [octaves for octaves in range(-4, 5) if {key + 12 * octaves for key in keys} <= there]
        assert 0 in fits
        first = [string for string, fret in board_of(question).places if opens[string - 1] + fret == keys[0]]
        says = f"going up from string {max(first)}," in render(question.prompt)
        assert says == (len(fits) > 1)
        said.add(says)
    # Seven strings hold nearly every one twice.
    assert said - ({False} if tuning == "seven-string guitar" else set()) == (
        {False} if tuning == "bass" else {True} if tuning == "seven-string guitar" else {True, False}
    )


def test_the_ninth_of_a_dominant_is_that_of_its_key() -> None:
    for question in asked("arpeggio-in-place", 2):
        if chord_at(question, 0).kind == "7":
            minor = str(question.given["key"]).endswith("m")
            assert fact(question, "degrees").split()[3] == ("b9" if minor else "9")


# --- line in place ----------------------------------------------------------------------------


@every_instrument
@every_level
def test_the_line_goes_on_from_its_marked_first_note(level: int, tuning: str) -> None:
    opens = OPENS[tuning]
    for question in asked("line-in-place", level, tuning):
        row, board = question.row, board_of(question)
        assert row is not None
        drawn = [midi(str(note)) for note in row.notes]
        first = midi(fact(question, "first"))
        keys = [first, *(midi(name) for name in fact(question, "notes").split())]
        assert keys == drawn
        assert (
            {tuple(mark.place) for mark in board.marks}
            == {(string, fret) for string, fret in board.places if opens[string - 1] + fret == first}
            != set()
        )
        for step, degree in enumerate(fact(question, "degrees").split()):
            root = str(chord_at(question, step).root)
            assert above(root, fact(question, "notes").split()[step]) == DEGREES[degree][1]
        assert render(question.prompt).startswith(" ".join(render_note(note) for note in row.notes))


def render_note(note: Pitch) -> str:
    return str(note.in_octave(None)).replace("##", "𝄪").replace("bb", "𝄫").replace("#", "♯").replace("b", "♭")


OWN = read_abc('T:Porch light\nK:C\n"Dm7"FAcedcBA|"G7"Bdfagf^F^D|"Cmaj7"E8|]')[0]


@pytest.mark.parametrize("slug", ["line-in-place", "best-way"])
def test_a_players_own_line_stays_in_its_octave_where_the_instrument_has_it(slug: str) -> None:
    own = {note.pitch.midi for note in OWN.notes}
    stream, moved = Stream(slug, Options(line=OWN)), 0
    for question in islice(stream, len(stream.cards)):
        keys = {midi(name) for name in fact(question, "notes").split()}
        if keys <= own:
            continue
        # What five frets up to the fifteenth hold is not moved.
        up = {key + 12 for key in keys}
        assert up <= own
        assert not any(
            up <= {string + fret for string in OPENS["guitar"] for fret in range(low, low + 5)} for low in range(12)
        )
        moved += 1
    assert 0 < moved < len(stream.cards)
    low = Stream(slug, Options(line=OWN, tuning="bass"))
    for question in islice(low, len(low.cards)):
        assert {midi(name) + 12 for name in fact(question, "notes").split()} <= own | {key - 12 for key in own}


@pytest.mark.parametrize("slug", ["line-in-place", "best-way"])
def test_a_line_that_is_too_short_has_nothing_to_ask(slug: str) -> None:
    short = read_abc('T:Short\nK:C\n"Dm7"FAc2 z4|]')[0]
    with pytest.raises(BadInput, match="has nothing to ask"):
        Stream(slug, Options(line=short))


# --- best way -----------------------------------------------------------------------------------


@every_instrument
@every_level
def test_one_tab_has_no_shift_and_the_others_have_as_many_as_they_say(level: int, tuning: str) -> None:
    opens = OPENS[tuning]
    for question in asked("best-way", level, tuning):
        keys = [midi(name) for name in fact(question, "notes").split()]
        assert len(question.choices) == 4, question.skill
        tabs = set()
        for choice in question.choices:
            assert isinstance(choice.value, Tab)
            tabs.add(choice.value)
            assert [opens[string - 1] + fret for string, fret in choice.value.places] == keys
            shifts = fewest_shifts(choice.value.places)
            assert (shifts == 0) == choice.right
            words = ("no shift", "one shift", "two shifts", "three shifts", "four shifts", "five shifts", "six shifts")
            assert render(choice.gloss) == words[shifts]
            why = render(choice.why)
            assert why.endswith(".")
            assert words[shifts] in why.lower()
            assert why.partition(": ")[2].count(" for ") == (shifts if shifts <= 3 else 0)
        assert len(tabs) == 4


def test_the_fret_that_a_shift_goes_to_is_one_from_which_the_hand_reaches_the_note() -> None:
    for question in asked("best-way", 2):
        for choice in question.choices:
            assert isinstance(choice.value, Tab)
            moves = claims(choice.why).get("shifts")
            for move in claims(moves).get("moves", ()) if moves else ():  # type: ignore[arg-type, union-attr]
                said = render(move)  # type: ignore[arg-type]
                position = int("".join(filter(str.isdigit, said.split(" for ")[0])))
                note = said.split()[-1]
                frets = [
                    fret for name, (_, fret) in
                    zip(fact(question, "notes").split(), choice.value.places, strict=True)
                    if render_note(parse_pitch(name)) == note
                ]  # fmt: skip
                assert any(position - 1 <= fret <= position + 4 for fret in frets), said


@pytest.mark.parametrize("at", [0, 3, 7])
def test_the_way_that_stays_can_be_wanted_on_chosen_frets(at: int) -> None:
    for question in islice(Stream("best-way", Options(level=2, at=at)), 20):
        value = question.choices[question.right].value
        assert isinstance(value, Tab)
        assert all(fret == 0 or at <= fret <= at + 4 for _, fret in value.places)


def test_the_slips_in_fingering_are_what_players_do() -> None:
    for question in asked("best-way", 1):
        for choice in question.choices:
            if choice.mistake is None or not isinstance(choice.value, Tab):
                continue
            strings = {string for string, _ in choice.value.places}
            everywhere = [GUITAR.places(midi(name)) for name in fact(question, "notes").split()]
            if choice.mistake == "along one string":
                assert len(strings) == 1
            if choice.mistake == "lowest frets":
                lowest = [min(fret for _, fret in those) for those in everywhere]
                assert [fret for _, fret in choice.value.places] == lowest
            if choice.mistake == "nearest frets":
                for (_, fret), (string, taken), those in zip(
                    choice.value.places, choice.value.places[1:], everywhere[1:], strict=False
                ):
                    assert (string, taken) in those
                    assert all(abs(taken - fret) <= abs(other - fret) for _, other in those if other)
    keys = {choice.mistake for level in LEVELS for question in asked("best-way", level) for choice in question.choices}
    assert {"lowest frets", "along one string", "nearest frets"} <= keys


def test_instruments_by_hand_are_the_ones_with_these_names() -> None:
    for name, opens in OPENS.items():
        assert Options(tuning=name).instrument.opens == opens
    assert set(OPENS) - {"E2,B2,E3,G#3,B3,E4"} <= set(INSTRUMENTS)
    assert BY_SLUG["best-way"].takes_line
