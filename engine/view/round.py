"""A whole round as HTML: the same text from the build and in the browser.

It works by itself: radio inputs hold the answers, and the style sheet shows
what they bring to light. A client only adds which section is ``now``.
"""

from __future__ import annotations

from engine.drills.catalogue import BY_SLUG
from engine.drills.question import Question
from engine.practice.mixed import MIXED, is_mixed
from engine.practice.records import question_facts
from engine.practice.round import Answer, Round
from engine.practice.rounds import plan_as_json
from engine.theory.wording import USUAL, Profile
from engine.view.answers import answers_html
from engine.view.asked import asked_html
from engine.view.glyphs import definitions
from engine.view.markup import as_data, escape, words
from engine.view.pictures import pictures_html
from engine.view.result import result_html, words_html

__all__ = ["progress_html", "result_html", "round_html"]

MOST_MARKS = 10  # more would not fit into one line of a phone


def round_html(played: Round, profile: Profile = USUAL) -> str:
    """The round with its questions, the answers given so far, and its result."""
    chosen = played.chosen
    sections = "".join(
        _section(played, place, question, chosen.get(place), profile) for place, question in enumerate(played.questions)
    )
    # Where the player's instrument is another one than the page's, this round is not the one to play.
    drill = BY_SLUG.get(played.plan.drill)
    neck = " data-neck" if drill and drill.neck else ""
    # What follows this round may be by ear, or this round is: who wants it quiet gets others.
    ear = f' data-ear="{"next" if played.plan.drill == MIXED else "now"}"' if is_mixed(played.plan) else ""
    plan = as_data(plan_as_json(played.plan))
    return (
        f'<form class="round" id="round" autocomplete="off" data-plan="{plan}"{neck}{ear}>'
        f"{definitions()}{sections}{progress_html(played, profile)}{result_html(played, profile)}</form>"
    )


def progress_html(played: Round, profile: Profile = USUAL) -> str:
    """How the round went so far: a mark for each question, and the same in words."""
    count = len(played.questions)
    missed = len(played.missed)
    told = words(
        "{right} right, {missed} missed, of {count}",
        profile, right=len(played.chosen) - missed, missed=missed, count=count,
    )  # fmt: skip
    marks = "".join(f'<i class="p{place}"></i>' for place in range(1, count + 1)) if count <= MOST_MARKS else ""
    spoken = told if played.chosen else words("{count} questions", profile, count=count)
    return f'<p class="progress" id="progress"><span class="unseen">{spoken}</span>{marks}</p>'


def _section(played: Round, place: int, question: Question, answer: Answer | None, profile: Profile) -> str:
    name = f"q{place + 1}"
    count = len(played.questions)
    # What the record of an answer says stands in the page, so that an answer is kept without asking the engine.
    facts = as_data(question_facts(played.plan, place, question))
    where = words("{place} of {count}", profile, place=place + 1, count=count)
    following = "result" if place + 1 == count else f"q{place + 2}"
    kind = f"question{' taps' if question.board else ''}{' heard' if question.heard else ''}"
    return (
        f'<section class="{kind}" id="{name}" tabindex="-1" data-question="{facts}"><div class="sleeve">'
        f'<p class="place">{_drill(played, question, profile)}{where}</p>'
        f"{words_html(played, profile) if place == 0 else ''}{asked_html(question, profile)}"
        f"{pictures_html(question, name, profile)}</div>"
        f"{answers_html(question, name, following, answer, profile)}</section>"
    )


def _drill(played: Round, question: Question, profile: Profile) -> str:
    """Which drill asks, about which line: in a mixed round, and for those who look up in the middle of one."""
    title = played.line.title if played.line else ""
    about = f'<span class="title" dir="auto">{escape(title)}</span> ' if title else ""
    return f'<span class="drill">{words(BY_SLUG[question.drill].title, profile)}</span> {about}'
