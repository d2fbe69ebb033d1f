"""The end of a round: how many were right, and what to look at again.

Without a script nobody can put the number in, so the style sheet counts the
right choices that are checked; a round that knows its answers says it itself.
"""

from __future__ import annotations

from engine.drills.catalogue import BY_SLUG
from engine.drills.question import Board, Question, Tab
from engine.practice.mixed import is_mixed
from engine.practice.round import Round
from engine.practice.rounds import level_of
from engine.theory.wording import USUAL, Profile, render, say, show
from engine.view.asked import given_in_words
from engine.view.markup import escape, plain, words

# How a round can go on, as the engine's ``follow`` knows it, and what the button says.
ONCE_MORE = ("once more", "Next round")
ONLY_MISSED = ("only missed", "The missed ones")
# By the level of the round; None stands for keys chosen one by one.
WIDER = {None: "All twelve keys", 1: "More keys", 2: "Altered chords too"}
NARROWER = {2: "Three keys", 3: "No altered chords"}
# The same for a round about a line.
LINE_WIDER = {None: "All twelve keys", 1: "All twelve keys"}
LINE_NARROWER = {2: "The line's own key"}


def result_html(played: Round, profile: Profile = USUAL) -> str:
    """The last section of a round."""
    count = len(played.questions)
    right = len(played.chosen) - len(played.missed)
    known = str(right) if played.chosen else ""
    told = " told" if known else ""
    mixed = is_mixed(played.plan)
    rows = "".join(
        _row(question, place, place - 1 in played.missed, mixed, profile)
        for place, question in enumerate(played.questions, start=1)
    )
    return (
        '<section class="result" id="result" tabindex="-1"><div class="sleeve"><h2 class="asked">'
        f'<span class="large size-0"><span class="count{told}">{known}</span></span>'
        f'<span class="prompt">{words("of {count} right", profile, count=count)}</span></h2>'
        f"{words_html(played, profile)}</div>"
        f'<div class="paper"><div class="again"><h3>{words("To look at again", profile)}</h3><ol>{rows}</ol></div>'
        f'<p class="nothing">{words("Nothing to look at again.", profile)}</p>'
        '<div class="way-on">'
        f"{_offers(played, profile)}"
        f'<button class="next clear" type="reset">{words("Clear the answers", profile)}</button>'
        f'<a class="next first" href="#q1">{words("First question", profile)}</a></div></div></section>'
    )


def words_html(played: Round, profile: Profile = USUAL) -> str:
    """The sentence that came with the link, where there is one: someone's own words, so they are not translated."""
    if not played.plan.words:
        return ""
    said = f'<span class="unseen">{words("Said with the link:", profile)} </span>'
    return f'<p class="with-link" dir="auto">{said}{escape(played.plan.words)}</p>'


def _row(question: Question, place: int, missed: bool, mixed: bool, profile: Profile) -> str:
    """What to look at again, if it was missed: the engine knows that, else the style sheet sees it."""
    answer = answer_html(question, profile)
    given = given_in_words(question, profile)
    beside = question.given.get("note") or question.given.get("degree")
    # Over a progression the notes stand beside their chords.
    if beside is not None and "progression" not in question.given:
        given += f"{': ' if given else ''}{show(beside, profile)}"
    if isinstance(question.board, Board):
        given += ", " + render(say("frets {low} to {high}", low=question.board.low, high=question.board.high), profile)
    drill = f'<span class="from">{words(BY_SLUG[question.drill].title, profile)}</span>' if mixed else ""
    return (
        f'<li class="again-{place}{" seen" if missed else ""}"><a href="#q{place}">'
        f'<span class="given">{escape(given)}{drill}</span>'
        f' <span class="answer">{answer}</span></a></li>'
    )


def answer_html(question: Question, profile: Profile) -> str:
    """The right answer in the fewest signs: of taps in order their degrees and a TAB of them, of a TAB itself."""
    answer = question.choices[question.right]
    if question.board is None and not isinstance(answer.value, Tab):
        return plain(answer.label, profile)
    # What only the drills on the neck need costs no other page anything.
    from engine.view.answers import label_html
    from engine.view.tap import accepted_html

    return label_html(question, answer, profile) if question.board is None else accepted_html(question, profile)


def _offers(played: Round, profile: Profile) -> str:
    """Buttons for the client; without a script they would do nothing, so the style sheet hides them then."""
    offers = [ONLY_MISSED] if played.missed else []
    level = level_of(played)
    wider, narrower = (LINE_WIDER, LINE_NARROWER) if played.line else (WIDER, NARROWER)
    offers += [("wider", wider[level])] if level in wider else []
    offers += [("narrower", narrower[level])] if level in narrower else []
    side = "".join(
        f'<button class="offer" type="button" data-how="{how}">{words(label, profile)}</button>'
        for how, label in offers
    )
    how, label = ONCE_MORE
    return (
        f'<div class="offers">{side}</div>'
        f'<button class="next more" type="button" data-how="{how}">{words(label, profile)}</button>'
    )
