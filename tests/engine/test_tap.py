"""The paper of a question that is answered on a neck, and TABs as choices: what stands in the page's text."""

from __future__ import annotations

import gzip
import json
import re
from html import unescape
from itertools import islice

import pytest
from tapped import BASS, EIGHT, a_round, tab_question, tap_question

from engine.drills.catalogue import BY_SLUG, Stream
from engine.drills.options import Options
from engine.drills.question import Question, Tap
from engine.neck.instrument import GUITAR, Place
from engine.practice.records import choice_facts, records_of
from engine.practice.round import Answer
from engine.practice.rounds import plan_round
from engine.theory.wording import render, show
from engine.view.result import result_html
from engine.view.round import round_html

CELL = re.compile(
    r'<div class="(?P<kind>[a-z ]+) r(?P<row>\d) k(?P<column>\d)"><input type="checkbox" id="(?P<id>q\d-\d+)"'
    r'(?: name="(?P<name>q\d)" value="(?P<value>\d+)" data-choice="(?P<facts>[^"]+)")? aria-label="(?P<label>[^"]+)"'
    r'(?P<state> checked| disabled)?><label for="(?P<for>q\d-\d+)"><b>(?P<gloss>[^<]+)</b>'
    r'<i class="verdict">(?P<verdict>.*?)</i></label>(?:<p class="why">(?P<why>.*?)</p>)?</div>'
)
ARPEGGIO = ("3", "5", "b7", "9")
QUESTIONS = [
    tap_question(("3",)),
    tap_question(("b7",), low=0, high=5),
    tap_question(("1", "5"), BASS, 3, 8),
    tap_question(ARPEGGIO, EIGHT, 12, 16),
    tap_question(ARPEGGIO, GUITAR, 1, 4),
]


def cells(question: Question, *answers: Answer) -> list[dict[str, str | None]]:
    html = round_html(a_round(question, answers=answers))
    found = [cell.groupdict() for cell in CELL.finditer(html)]
    assert len(found) == html.count("<input")
    return found


@pytest.mark.parametrize("question", QUESTIONS)
def test_every_choice_is_one_box_at_its_place(question: Question) -> None:
    found = cells(question)
    assert len(found) == len(question.choices)
    last = len(question.steps) - 1
    assert question.board
    for index, (cell, choice) in enumerate(zip(found, question.choices, strict=True)):
        tap = choice.value
        assert isinstance(tap, Tap)
        string, fret = tap.place
        first = max(question.board.low, 1)
        assert (cell["row"], cell["column"]) == (str(string), "1" if fret == 0 else str(fret - first + 2))
        assert cell["label"] == f"string {string}, fret {fret}"
        assert cell["id"] == cell["for"] == f"q1-{index + 1}"
        assert cell["gloss"] == render(choice.gloss)
        if choice.right and tap.step < last:
            assert cell["kind"] == "onward"
            assert cell["name"] is cell["facts"] is cell["why"] is None
        else:
            assert cell["kind"] == "choice " + ("right" if choice.right else "usable" if choice.usable else "wrong")
            assert (cell["name"], cell["value"]) == ("q1", str(index))
            assert json.loads(unescape(str(cell["facts"]))) == choice_facts(choice)
            assert cell["why"] == render(choice.why)


def test_nothing_but_a_name_tells_a_right_tap_that_leads_on() -> None:
    """Whoever goes by keyboard or listens meets boxes of one kind, in the order of the neck."""
    found = cells(tap_question(ARPEGGIO))
    assert [cell["label"] for cell in found[:30]] == [cell["label"] for cell in found[30:60]]
    assert len({cell["label"] for cell in found}) == 30


def test_each_step_says_what_is_asked() -> None:
    html = round_html(a_round(tap_question(ARPEGGIO)))
    assert re.findall('<p class="doing">([^<]+)</p>', html) == [
        "1 of 4: the 3", "2 of 4: the 5", "3 of 4: the ♭7", "4 of 4: the 9",
    ]  # fmt: skip
    assert "doing" not in round_html(a_round(tap_question(("3",))))
    assert {cell["verdict"] for cell in cells(tap_question(("3", "5")))} == {
        "yours", "usable",
        '<span class="unseen">right, </span>1 of 2', '<span class="unseen">right, </span>2 of 2',
    }  # fmt: skip


def test_a_given_answer_is_checked_and_all_else_is_closed() -> None:
    question = tap_question(ARPEGGIO)
    wrong = next(index for index, choice in enumerate(question.choices) if not choice.right and index > 30)
    for answer in (wrong, question.right):
        states = [cell["state"] for cell in cells(question, Answer(0, answer))]
        assert states.pop(answer) == " checked"
        assert set(states) == {" disabled"}
        record = records_of(a_round(question, answers=(Answer(0, answer),)))[0]
        assert record["right"] == (answer == question.right)
        assert re.fullmatch(r"\d/\d", record["value"])


def test_marks_stand_where_they_are_given() -> None:
    html = round_html(a_round(tap_question(("3",), mark=Place(6, 5))))
    assert html.count('<span class="marked r6 k2"><span class="unseen">string 6, fret 5: </span>') == 1
    assert html.count('class="mark disc"') == 1


def test_the_drawing_has_the_proportions_of_the_grid() -> None:
    """The columns of the style sheet: names 0.5 or 0.9, then frets from 1 down by the twelfth root of two."""
    for question, beside in ((QUESTIONS[0], 0.5), (QUESTIONS[1], 0.9)):
        html = round_html(a_round(question))
        assert (' opened"' in html or " opened " in html) == (beside > 0.5)
        wires = [float(x) for x in re.findall(r"M([\d.]+) ", re.findall('class="wires" d="([^"]+)"', html)[0])]
        nut = [float(x) for x in re.findall(r'class="nut" d="M([\d.]+) ', html)]
        places = nut + wires
        whole = beside + sum(2 ** (-fret / 12) for fret in range(5))
        assert places[0] == pytest.approx(1000 * beside / whole, abs=0.1)
        assert places[1] - places[0] == pytest.approx(1000 / whole, abs=0.15)
        assert places[-1] == pytest.approx(1000, abs=0.1)


@pytest.mark.parametrize(("low", "high"), [(5, 7), (0, 7), (5, 11)])
def test_a_board_of_another_width_is_refused(low: int, high: int) -> None:
    with pytest.raises(ValueError, match="4 to 6 frets"):
        round_html(a_round(tap_question(("3",), low=low, high=high)))


def test_what_to_look_at_again_has_its_frets_and_all_that_was_right() -> None:
    line = plan_round("line-in-place", seed=3, count=1).questions[0]
    html = result_html(a_round(tap_question(("3",)), tap_question(ARPEGGIO), tab_question(6), line))
    rows = re.findall(r'<span class="given">(.*?)</span> <span class="answer">(.*?)</span></a></li>', html)
    named, answers = [given for given, _ in rows], [answer for _, answer in rows]
    assert named[:3] == ["A7, frets 5 to 9", "A7, frets 5 to 9", "Dm7, then G7"]
    right = [choice for choice in tap_question(("3",)).choices if choice.right]
    assert len(right) > 1
    assert all(render(choice.label) in answers[0] for choice in right)
    assert "svg" not in answers[0]
    for question, answer in ((tap_question(ARPEGGIO), answers[1]), (line, answers[3])):
        frets = re.findall(r">(\d+)</text>", answer)
        assert len(frets) == len(question.steps)
        assert answer.count('<svg class="tab"') == 1
        for step, fret in zip(question.steps, frets, strict=True):
            assert int(fret) in {choice.value.place.fret for choice in step if choice.right}  # type: ignore[union-attr]
    places = tab_question(6).choices[0].value.places  # type: ignore[union-attr]
    assert re.findall(r">(\d+)</text>", answers[2]) == [str(fret) for _, fret in places]


def test_a_step_over_another_chord_names_it_and_both_stand_on_top() -> None:
    asked = islice(Stream("line-in-place", Options(level=2)), 60)
    changing = [question for question in asked if "changes" in question.given]
    assert changing
    for question in changing:
        html = round_html(a_round(question))
        changes = question.given["changes"]
        assert isinstance(changes, tuple)
        top = re.findall('<span class="large[^>]*>(.*?)<span class="prompt">', html)[0]
        assert re.findall('<span class="chord">(.*?)</span>', top) == [show(chord) for chord in changes]
        assert "→" in top
        over = question.about["chords"]
        assert isinstance(over, tuple)
        doing = re.findall('<p class="doing">(.*?)</p>', html)
        for said, chord in zip(doing, over, strict=True):
            assert said.endswith(f" of {show(chord)}") == (chord != question.given["chord"])


@pytest.mark.parametrize(("notes", "setting"), [(5, "tabs"), (8, "tabs"), (9, "tabs stacked")])
@pytest.mark.parametrize("instrument", [BASS, GUITAR, EIGHT])
def test_a_way_to_play_notes_is_shown_as_a_tab(notes: int, setting: str, instrument) -> None:  # type: ignore[no-untyped-def]
    question = tab_question(notes, instrument)
    html = round_html(a_round(question)).partition('<section class="result"')[0]
    assert f'<div class="choices {setting}">' in html
    tabs = re.findall('<svg class="tab".*?</svg>', html)
    for tab, choice in zip(tabs, question.choices, strict=True):
        wide, high = (float(part) for part in re.findall(r'viewBox="0 0 ([\d.]+) ([\d.]+)"', tab)[0])
        lines = sorted(float(y) for y in re.findall(r"M0 ([\d.]+)H", tab))
        assert len(lines) == len(instrument.strings)
        assert 0 < lines[0] < lines[-1] < high
        shown = re.findall(r'<text x="([\d.]+)" y="([\d.]+)">(\d+)</text>', tab)
        assert [int(fret) for _, _, fret in shown] == [fret for _, fret in choice.value.places]  # type: ignore[union-attr]
        strings = [1 + min(range(len(lines)), key=lambda row: abs(lines[row] - float(y) + 4.5)) for _, y, _ in shown]
        assert strings == [string for string, _ in choice.value.places]  # type: ignore[union-attr]
        across = [float(x) for x, _, _ in shown]
        assert across == sorted(across)
        assert across[0] > 6
        assert across[-1] < wide - 6
    assert html.count(f'<span class="unseen">{render(question.choices[0].label)}</span><svg') == 1


NECK_DRILLS = [slug for slug, entry in BY_SLUG.items() if entry.asks == "tap"]


@pytest.mark.parametrize("slug", NECK_DRILLS)
@pytest.mark.parametrize("options", ["", "tuning=bass", "tuning=eight-string-guitar&level=3"])
def test_the_drills_on_the_neck_have_their_boards(slug: str, options: str) -> None:
    played = plan_round(slug, options, seed=4, count=3)
    html = round_html(played)
    assert len(CELL.findall(html)) == html.count('type="checkbox"') == sum(len(one.choices) for one in played.questions)


@pytest.mark.parametrize("slug", NECK_DRILLS)
def test_a_round_is_small(slug: str) -> None:
    html = round_html(plan_round(slug, seed=1, count=BY_SLUG[slug].count))
    assert len(gzip.compress(html.encode(), mtime=0)) < 25_000
