"""The HTML and SVG of rounds: sound markup, nothing given away, everything in its place."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from dataclasses import replace
from html.parser import HTMLParser
from itertools import pairwise, product, zip_longest
from urllib.parse import quote

import pytest

from engine.drills.catalogue import BY_SLUG, Stream
from engine.drills.options import Options
from engine.drills.question import Question, Shape
from engine.lines.stock import stock
from engine.practice.line_in_link import to_link
from engine.practice.round import Answer, Plan, Round
from engine.practice.rounds import plan_from_json, plan_round
from engine.theory.arpeggio import arpeggio
from engine.theory.chord import KINDS, chord_of
from engine.theory.chord_symbol import parse_chord
from engine.theory.degree import Degree
from engine.theory.key import MAJOR_KEYS
from engine.theory.pitch import parse_pitch
from engine.theory.wording import Profile, Text, render, show
from engine.view.asked import asked_html, asked_in_words
from engine.view.glyphs import GLYPHS
from engine.view.pictures import pictures_html
from engine.view.round import progress_html, result_html, round_html
from engine.view.shape import shape_pictures
from engine.view.staff import WIDTH

VOID = {"input", "br", "meta", "link", "path", "rect", "ellipse", "use"}
DRILLS = [*BY_SLUG, "mixed"]
MANY = 150


class Reader(HTMLParser):
    """Reads markup strictly: every element is closed where it should be; keeps ids, references and attributes."""

    def __init__(self, text: str) -> None:
        super().__init__(convert_charrefs=True)
        self.open: list[str] = []
        self.ids: list[str] = []
        self.references: list[str] = []
        self.attributes: list[tuple[str, str, str]] = []
        self.text: list[str] = []
        self.feed(text)
        self.close()
        assert not self.open, f"left open: {self.open}"

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        if tag not in VOID:
            self.open.append(tag)
        for name, value in attrs:
            self.attributes.append((tag, name, value or ""))
            if name == "id":
                self.ids.append(value or "")
            if name in ("for", "aria-labelledby", "aria-describedby"):
                self.references.append(value or "")
            if name == "href" and (value or "").startswith("#"):
                self.references.append((value or "")[1:])

    def handle_endtag(self, tag: str) -> None:
        if tag not in VOID:
            assert self.open
            assert self.open.pop() == tag

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)

    def handle_data(self, data: str) -> None:
        self.text.append(data)


def questions(slug: str, level: int = 3) -> list[Question]:
    stream = Stream(slug, Options(level=level))
    return [stream[index] for index in range(MANY)]


def a_round(*asked: Question) -> Round:
    return Round(Plan("mixed", "", 1, tuple(range(len(asked)))), asked)


def picture(html: str, when: str) -> str:
    found = re.search(rf'<svg class="picture {when}.*?</svg>', html)
    assert found
    return found[0]


@pytest.mark.parametrize("drill", DRILLS)
@pytest.mark.parametrize("level", [1, 3])
def test_a_round_is_sound_markup(drill: str, level: int) -> None:
    html = round_html(plan_round(drill, f"level={level}", seed=level, count=10))
    read = Reader(html)
    assert len(read.ids) == len(set(read.ids))
    assert set(read.references) <= set(read.ids)
    assert not [found for found in read.attributes if found[1] == "style" or found[1].startswith("on")]
    boxes = [attribute for attribute in read.attributes if attribute[:2] == ("input", "type")]
    asked = plan_round(drill, f"level={level}", seed=level, count=10).questions
    assert len(boxes) == sum(len(question.choices) for question in asked)


def test_the_text_is_the_same_under_oo_and_another_hash_seed() -> None:
    code = (
        "import sys; from engine.practice.rounds import plan_round; from engine.view.round import round_html;"
        "sys.stdout.buffer.write(round_html(plan_round('mixed', 'level=3', 7, 9)).encode())"
    )
    for flags, seed in (["-OO"], "1"), ([], "2"):
        environment = {**os.environ, "PYTHONHASHSEED": seed}
        run = subprocess.run([sys.executable, *flags, "-c", code], capture_output=True, check=True, env=environment)
        assert run.stdout.decode() == round_html(plan_round("mixed", "level=3", 7, 9))


def test_everything_a_question_says_is_in_the_page() -> None:
    played = plan_round("mixed", "level=3", seed=3, count=9)
    text = "".join(Reader(round_html(played)).text)
    for question in played.questions:
        for said in (question.prompt, *(part for c in question.choices for part in (c.label, c.gloss, c.why))):
            assert render(said).replace("'", "’") in text


def test_what_a_profile_brings_along_is_escaped() -> None:
    played = plan_round("name-the-degree", seed=1, count=1)
    prompt = played.questions[0].prompt.template
    html = round_html(played, Profile(sentences={prompt: '<b>"{note}" & co', "Next": "<i>", "right": "'<u>'"}))
    Reader(html)
    assert "<b>" not in html
    assert "<i>" not in html
    assert "<u>" not in html
    assert "&lt;b&gt;&quot;" in html


def test_given_answers_are_shown_and_frozen() -> None:
    played = plan_round("name-the-degree", seed=2, count=3)
    first, second = played.questions[0].right, (played.questions[1].right + 1) % 4
    answers = (Answer(0, first), Answer(1, second), Answer(1, played.questions[1].right))
    html = round_html(Round(played.plan, played.questions, answers))
    inputs = dict(re.findall(r'<input type="radio" id="(q\d-\d)" [^>]*?( checked| disabled)?>', html))
    assert len(inputs) == 12
    expected = {f"q1-{first + 1}": " checked", f"q2-{second + 1}": " checked"}
    for name, state in inputs.items():
        assert state == expected.get(name, "" if name.startswith("q3") else " disabled")
    assert '<span class="count told">1</span>' in html
    assert "1 right, 1 missed, of 3" in html


def test_a_round_without_answers_leaves_the_count_to_the_style_sheet() -> None:
    played = plan_round("mixed", count=5)
    assert '<span class="count"></span>' in result_html(played)
    assert progress_html(played).count("<i ") == 5
    assert "<i " not in progress_html(plan_round("mixed", count=11))


LINE = to_link(replace(stock()[0], title="<i>Porch</i> light"))


def test_a_round_about_a_line_names_it_at_every_question() -> None:
    played = plan_round("spot-the-device", f"line={LINE}", count=4)
    html = round_html(played)
    Reader(html)
    assert html.count('<span class="title" dir="auto">&lt;i&gt;Porch&lt;/i&gt; light</span>') == 4
    assert 'class="title"' not in round_html(plan_round("spot-the-device", count=4))


def test_the_sentence_of_a_link_is_text_above_the_round_and_on_its_result() -> None:
    said = '<script>alert("1")</script> {note} ♭'
    played = plan_round("name-the-degree", f"words={quote(said)}", count=3)
    html = round_html(played)
    Reader(html)
    assert "<script" not in html
    shown = re.findall('<p class="with-link" dir="auto"><span class="unseen">[^<]+ </span>([^<]+)</p>', html)
    assert shown == ["&lt;script&gt;alert(&quot;1&quot;)&lt;/script&gt; {note} ♭"] * 2
    assert shown[0] in html.split('<section class="question" id="q2"')[0]
    assert shown[0] in result_html(played)
    assert "with-link" not in round_html(plan_round("name-the-degree", count=3))


# How a round of no answers can go on.
LEVELS = {
    "": ["wider", "once more"],
    "level=2": ["wider", "narrower", "once more"],
    "level=3": ["narrower", "once more"],
    "keys=Eb": ["wider", "once more"],
}


def test_buttons_follow_what_can_follow() -> None:
    played = plan_round("name-the-degree", "level=3", count=2)
    wrong = tuple(Answer(place, (question.right + 1) % 4) for place, question in enumerate(played.questions))
    offered = re.findall('data-how="([^"]+)"', result_html(Round(played.plan, played.questions, wrong)))
    assert offered == ["only missed", "narrower", "once more"]
    ways = {link: re.findall('data-how="([^"]+)"', result_html(plan_round("name-the-degree", link))) for link in LEVELS}
    assert ways == LEVELS
    # A line brings its own chords along, so there are none to alter.
    about = {link: result_html(plan_round("spot-the-device", f"{link}&line={LINE}")) for link in LEVELS}
    offered_about = {link: re.findall('data-how="([^"]+)"', html) for link, html in about.items()}
    assert offered_about == LEVELS | {"level=2": LEVELS["level=3"]}
    assert ">The line’s own key<" in about["level=2"]
    assert ">All twelve keys<" in about[""]


def test_the_plan_in_the_page_makes_the_same_round_again() -> None:
    played = plan_round("arpeggio-from-the-third", "keys=Eb,Bb&level=2", seed=5, count=4)
    kept = [value for tag, name, value in Reader(round_html(played)).attributes if name == "data-plan"]
    assert plan_from_json(json.loads(kept[0])) == played.plan


@pytest.mark.parametrize("slug", BY_SLUG)
def test_the_picture_before_gives_nothing_away(slug: str) -> None:
    for question in questions(slug):
        drawn = pictures_html(question, "p")
        if not drawn or question.heard is not None:
            continue  # what is asked by ear is shown to whoever wants to see it (test_ear_drills.py)
        before = picture(drawn, "before")
        # One mark: the note that is given, or the root that is left out; of a line's notes, all but the missing one.
        row = question.row
        marks = 1 if row is None else len(row.notes) - (row.missing is not None)
        assert before.count('class="mark') == marks
        if row is not None:
            empty = re.findall(r'<text class="degree" x="[\d.]+" y="[\d.]+"></text>', before)
            assert before.count("<text") - len(empty) == (row.missing is not None)
        assert 'class="keys"' not in before
        if question.shape:
            hidden = {show(note) for note in question.shape.notes[1:]} | {show(question.shape.own)}
            said = "".join(Reader(before).text)
            assert not [name for name in hidden if re.search(rf"(?<!\w){re.escape(name)}(?![\w♭♯])", said)]


def test_degrees_before_an_answer_are_evenly_spaced() -> None:
    for question in questions("arpeggio-from-the-third"):
        before = picture(pictures_html(question, "p"), "before")
        places = [float(x) for x in re.findall(r'<text class="degree" x="([\d.]+)"', before)]
        gaps = [right - left for left, right in pairwise(places)]
        assert max(gaps) - min(gaps) < 0.25


# The bottom line of each clef, in staff steps above C0; with an 8 below all is an octave lower.
BOTTOM_LINES = {"clef": 30, "bass-clef": 18}


@pytest.mark.parametrize("slug", ["line-in-place", "best-way"])
@pytest.mark.parametrize(
    ("tuning", "clef"), [("guitar", "clef"), ("eight-string-guitar", "clef"), ("bass", "bass-clef")]
)
def test_a_staff_beside_a_neck_has_the_notes_where_they_sound(slug: str, tuning: str, clef: str) -> None:
    """Read off the picture: by its clef and the 8 below it every head is the note that is to be tapped or played."""
    for question in plan_round(slug, f"tuning={tuning}&level=3", seed=2, count=8).questions:
        after = picture(pictures_html(question, "p"), "after")
        signs = re.findall('href="#g-([a-z0-9-]+)"', after)
        assert signs[:2] == [clef, "clef-8"]
        heads = [float(y) for y in re.findall(r'class="mark [a-z-]+" transform="translate\([\d.-]+ ([\d.-]+)\)', after)]
        assert question.row
        read = [BOTTOM_LINES[clef] - 7 + round((56 - y) / 4.5) for y in heads[: len(question.row.notes)]]
        first = [question.about["first"]] if "first" in question.about else []
        names = [*map(str, first), *str(question.about["notes"]).split()]
        assert read == ["CDEFGAB".index(name[0]) + 7 * int(name.lstrip("ABCDEFGb#")) for name in names]
        assert "an octave higher than they sound" in after


@pytest.mark.parametrize("slug", BY_SLUG)
@pytest.mark.parametrize("part", ["C", "Bb", "Eb"])
def test_every_picture_fits_its_frame(slug: str, part: str) -> None:
    for question in questions(slug):
        for svg in re.findall("<svg.*?</svg>", pictures_html(question, "p", Profile(part=part))):
            left, top, width, height = (float(number) for number in re.findall(r'viewBox="([^"]+)"', svg)[0].split())
            assert (left, width) == (0, WIDTH)
            for x, y in re.findall(r'class="mark [a-z-]+" transform="translate\(([\d.-]+) ([\d.-]+)\)', svg):
                assert 4 <= float(x) <= width - 6
                assert top + 5 <= float(y) <= top + height - 5
            for name, x, y in re.findall(r'href="#g-([a-z-]+)" transform="translate\(([\d.-]+) ([\d.-]+)\)', svg):
                assert name in GLYPHS
                assert 4 <= float(x) <= width
                assert top <= float(y)


def _shape(symbol: str) -> Shape:
    found = arpeggio(parse_chord(symbol))
    if found.own is None:
        raise ValueError(symbol)
    return Shape(found.chord, found.own, (found.chord.root, *found.notes), (Degree("1"), *found.degrees))


@pytest.mark.parametrize("root", [*MAJOR_KEYS, "C#", "Cb", "F#", "G#", "A#"])
@pytest.mark.parametrize("kind", ["maj7", "m7", "7", "m7b5"])
def test_a_shape_stands_on_its_keys(root: str, kind: str) -> None:
    """Each note of the staff is right above a key, and the keys go up as the notes sound."""
    after = shape_pictures(_shape(root + kind))[1].body
    staff, keys = after.split('<g class="keys">')
    keys = keys.split('<g class="legend">')[0]
    marks = r'class="mark ([a-z-]+)" transform="translate\(([\d.]+) '
    assert re.findall(marks, staff) == re.findall(marks, keys)
    places = [float(x) for _, x in re.findall(marks, keys)]
    assert len(places) == 5
    assert places == sorted(places)
    black = {midi % 12 for midi in (1, 3, 6, 8, 10)}
    on_black = keys.count('class="on-black"')
    assert on_black == sum(note.pitch_class in black for note in _shape(root + kind).notes)


def test_a_shape_has_the_roles_of_its_notes() -> None:
    after = shape_pictures(_shape("A7b9"))[1].body.split('<g class="keys">')[0]
    assert re.findall('class="mark ([a-z-]+)"', after) == ["left-out", "disc", "disc", "disc", "disc"]
    after = shape_pictures(_shape("A7"))[1].body.split('<g class="keys">')[0]
    assert re.findall('class="mark ([a-z-]+)"', after) == ["left-out", "disc", "disc", "disc", "ring"]


def test_notes_stand_on_their_lines() -> None:
    """A7 on the staff: A4, C#5, E5, G5, B5, of which the E is in the top space and the B above the top line."""
    after = shape_pictures(_shape("A7"))[1].body.split('<g class="keys">')[0]
    heights = [float(y) for y in re.findall(r'class="mark [a-z-]+" transform="translate\([\d.]+ ([\d.]+)\)', after)]
    # The lines are at 20 (F5) to 56 (E4), a step is 4.5.
    assert heights == [42.5, 33.5, 24.5, 15.5, 6.5]
    assert after.count("#g-sharp") == 1
    assert "#g-flat" not in after


def test_a_part_moves_staff_and_names_alike() -> None:
    profile = Profile(part="Bb")
    picture_of = shape_pictures(_shape("G7"), profile)[1]
    assert picture_of.body == shape_pictures(_shape("A7"))[1].body
    assert "C♯m7♭5 inside A7" in picture_of.title


def test_double_accidentals_are_drawn() -> None:
    assert "#g-double-sharp" in shape_pictures(_shape("A#7"))[1].body  # C𝄪
    assert "#g-double-flat" in shape_pictures(_shape("Cbm7"))[1].body  # E𝄫


def test_a_note_without_a_picture_has_none() -> None:
    question = questions("name-the-degree")[0]
    bare = Question(question.drill, "", Text("?"), {"note": parse_pitch("C")}, {}, question.choices)
    assert pictures_html(bare, "p") == ""
    Reader(round_html(a_round(bare)))


@pytest.mark.parametrize("level", [1, 3])
def test_a_progression_is_a_row_with_its_line_and_one_place_that_is_sought(level: int) -> None:
    for question in questions("guide-tones", level):
        heading = asked_html(question)
        chords, thread = question.about["progression"], question.about["thread"]
        assert isinstance(chords, tuple)
        assert isinstance(thread, tuple)
        assert re.findall('<span class="chord">([^<]+)</span>', heading) == [show(chord) for chord in chords]
        under = re.findall('<span class="under">([^<]+)</span>', heading)
        assert under == [*(show(note) for note in thread), "?"]
        sought = re.findall('<span class="bar sought"><span class="chord">([^<]+)</span>', heading)
        assert sought == [show(chords[len(thread)])]
        assert asked_in_words(question).startswith(", ".join(
            f"{show(chord)}: {note}" if note else show(chord)
            for chord, note in zip_longest(chords, under, fillvalue="")
        ))  # fmt: skip


def test_a_row_is_set_smaller_the_longer_it_is() -> None:
    """A letter is about half as wide as it is high: what stands at a size fits the 328 pixels of a narrow phone."""
    at_360 = {"size-2": 64.8, "size-3": 50.4, "size-4": 33.1, "size-5": 24.5}
    for question in questions("guide-tones", 3):
        row = re.findall('<span class="large bars (size-.)">(.*)</span><span class="prompt">', asked_html(question))
        size, cells = row[0]
        letters = [len(chord) for chord in re.findall('<span class="chord">([^<]+)</span>', cells)]
        assert 0.46 * at_360[size] * sum(letters) + 0.5 * at_360[size] * (len(letters) - 1) < 328, question.skill


def test_a_chord_with_two_names_leaves_room_for_the_other_one() -> None:
    at_360 = {"size-0": 72, "size-1": 72, "size-2": 64.8, "size-3": 50.4, "size-4": 33.1, "size-5": 24.5}
    question = questions("name-the-degree", 3)[0]
    for root, kind in product(("Db", "Gb", "Ab", "C#", "D#", "F#", "G#"), KINDS):
        heading = asked_html(replace(question, given={"chord": chord_of(parse_pitch(root), kind)}))
        for size, chord, twin in re.findall(
            '<span class="large (size-.)"><span class="chord">([^<]+)</span> <span class="key">([^<]+)</span>', heading
        ):
            assert 0.45 * at_360[size] * len(chord) + 0.25 * at_360[size] + 0.5 * 20 * len(twin) < 328, chord


def test_a_degree_that_is_given_has_its_place_and_no_note() -> None:
    for question in questions("find-the-note", 3):
        drawn = pictures_html(question, "p")
        before, after = picture(drawn, "before"), picture(drawn, "after")
        degree = show(question.given["degree"])
        assert re.findall('<text class="degree"[^>]*>([^<]+)</text>', before) == ["1", degree]
        assert re.findall('<text class="degree"[^>]*>([^<]+)</text>', after) == ["1", degree]
        assert after.split('<g class="legend">')[0].count('class="mark') == 2


def test_a_held_note_is_told_as_held() -> None:
    told = {
        "is held into" in picture(pictures_html(question, "p"), "after")
        for question in questions("guide-tones", 1)
        if "is held" in render(question.choices[question.right].why)
    }
    assert told == {True}


def test_what_to_look_at_again_names_what_was_given() -> None:
    told = {"find-the-note": r"\w+[♭♯]?\w+: [♭♯]?\d+", "guide-tones": r"(\S+: \S+, )+\S+: \?(, \S+)?"}
    for slug, pattern in told.items():
        given = re.findall('<span class="given">([^<]+)</span>', result_html(plan_round(slug, count=8)))
        assert len(given) == 8
        assert not [one for one in given if not re.fullmatch(pattern, one)], given
