"""The paper: the choices, the sentences that say why, and the way on.

Everything that belongs to the time after an answer is in the text from the
start; the style sheet shows it once one of the choices is checked.
"""

from __future__ import annotations

from engine.drills.question import Choice, Question
from engine.practice.records import choice_facts
from engine.practice.round import Answer
from engine.theory.wording import Profile, show
from engine.view.asked import asked_in_words
from engine.view.markup import as_data, plain, prose, words

# All labels of a question are set alike: smaller from so many letters in the longest (names of devices the
# smallest), larger up to so many.
_WORDY = 13
_LONG = 8
_SHORT = 3


def answers_html(question: Question, name: str, following: str, answer: Answer | None, profile: Profile) -> str:
    """The answer side of the section ``name``; ``following`` is the id that "Next" goes to."""
    cards = "".join(
        _card(choice, number, name, answer, profile) for number, choice in enumerate(question.choices, start=1)
    )
    letters = max(len(show(choice.label, profile)) for choice in question.choices)
    length = " wordy" if letters >= _WORDY else " long" if letters >= _LONG else " short" if letters <= _SHORT else ""
    legend = f'<legend class="unseen">{asked_in_words(question, profile)}</legend>'
    return (
        f'<div class="paper"><fieldset>{legend}<div class="choices{length}">{cards}</div></fieldset>'
        f'<div class="because">{_because(question, profile)}</div>{_way_on(question, following, profile)}</div>'
    )


def _card(choice: Choice, number: int, name: str, answer: Answer | None, profile: Profile) -> str:
    kind = "right" if choice.right else "usable" if choice.usable else "wrong"
    verdict = {"right": "right", "usable": "usable, not asked", "wrong": "yours"}[kind]
    state = ""
    if answer is not None:
        state = " checked" if answer.choice == number - 1 else " disabled"
    identity = f"{name}-{number}"
    plainly = f'<span class="unseen">{words(", not right", profile)}</span>' if kind == "wrong" else ""
    facts = as_data(choice_facts(choice))
    label = plain(choice.label, profile)
    # The client reads verdicts aloud from the page, away from their cards: there each names its choice.
    named = f'<span class="unseen" aria-hidden="true">{label}: </span>'
    return (
        f'<div class="choice {kind} c{number}">'
        f'<input type="radio" id="{identity}" name="{name}" value="{number - 1}" data-choice="{facts}"{state}>'
        f'<label for="{identity}"><span class="label">{label}</span>'
        f'<span class="digit" aria-hidden="true">{number}</span>'
        f'<span class="verdict">{named}{words(verdict, profile)}{plainly}</span>'
        f'<span class="gloss">{prose(choice.gloss, profile)}</span></label></div>'
    )


def _because(question: Question, profile: Profile) -> str:
    """A sentence for every wrong choice, shown if it was taken, and the right one's, always shown."""
    numbered = list(enumerate(question.choices, start=1))
    sentences = [(f"why w{number}", choice) for number, choice in numbered if not choice.right]
    sentences += [("why always", choice) for _, choice in numbered if choice.right]
    return "".join(f'<p class="{kind}">{prose(choice.why, profile)}</p>' for kind, choice in sentences)


def _way_on(question: Question, following: str, profile: Profile) -> str:
    last = following == "result"
    keys = words("keys 1 to {count}", profile, count=len(question.choices))
    return (
        f'<div class="way-on"><p class="hint">{words("Choose one", profile)}<span class="by-key"> · {keys}</span></p>'
        f'<a class="next" href="#{following}">{words("Result" if last else "Next", profile)}</a></div>'
    )
