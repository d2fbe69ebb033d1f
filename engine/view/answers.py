"""The paper: the choices, the sentences that say why, and the way on.

Everything that belongs to the time after an answer is in the text from the
start; the style sheet shows it once one of the choices is checked.
"""

from __future__ import annotations

from engine.drills.question import Choice, Keys, Question, Tab
from engine.practice.records import choice_facts
from engine.practice.round import Answer
from engine.theory.wording import Profile, show
from engine.view.asked import asked_in_words
from engine.view.markup import as_data, on_off, plain, prose, words

# All labels of a question are set alike: smaller from so many letters in the longest (names of devices the
# smallest), larger up to so many.
_WORDY = 13
_LONG = 8
_SHORT = 3
_LONG_TAB = 8  # notes; longer ones stand one below the other


def answers_html(question: Question, name: str, following: str, answer: Answer | None, profile: Profile) -> str:
    """The answer side of the section ``name``; ``following`` is the id that "Next" goes to."""
    way_on = _way_on(question, following, profile)
    if question.board is not None:
        # What only the drills that are answered by taps need costs no other page anything.
        from engine.view.tap import board_html

        return f'<div class="paper">{board_html(question, question.board, name, answer, profile)}{way_on}</div>'
    cards = "".join(
        _card(question, choice, number, name, answer, profile)
        for number, choice in enumerate(question.choices, start=1)
    )
    legend = f'<legend class="unseen">{asked_in_words(question, profile)}</legend>'
    return (
        f'<div class="paper"><fieldset>{legend}<div class="choices{_setting(question, profile)}">{cards}</div>'
        f'</fieldset><div class="because">{_because(question, profile)}</div>{way_on}</div>'
    )


def _setting(question: Question, profile: Profile) -> str:
    """How the cards are set, as classes: by their longest label."""
    notes = [len(choice.value.places) for choice in question.choices if isinstance(choice.value, Tab)]
    if notes:
        return " tabs stacked" if max(notes) > _LONG_TAB else " tabs"
    letters = max(len(show(choice.label, profile)) for choice in question.choices)
    return " wordy" if letters >= _WORDY else " long" if letters >= _LONG else " short" if letters <= _SHORT else ""


def label_html(question: Question, choice: Choice, profile: Profile) -> str:
    """What stands large on a card."""
    label = plain(choice.label, profile)
    if not isinstance(choice.value, Tab):
        return label
    from engine.view.tab import tab_svg

    tuning = question.about.get("tuning")
    strings = tuning.count(",") + 1 if isinstance(tuning, str) else max(string for string, _ in choice.value.places)
    return f'<span class="unseen">{label}</span>{tab_svg(choice.value.places, strings)}'


def _card(question: Question, choice: Choice, number: int, name: str, answer: Answer | None, profile: Profile) -> str:
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
        f'<label for="{identity}"><span class="label">{label_html(question, choice, profile)}</span>'
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
    if question.board is None:
        doing = words("Choose one", profile)
        keys = words("keys 1 to {count}", profile, count=len(question.choices))
    else:
        on_keys = isinstance(question.board, Keys)
        doing = _TAPPED[on_keys, len(question.steps) > 1]
        doing, keys = words(doing, profile), words("arrow keys and Enter", profile)
    return (
        f'<div class="way-on"><p class="hint">{doing}<span class="by-key"> · {keys}</span></p>'
        f"{_heard(question, profile)}"
        f'<a class="next" href="#{following}">{words("Result" if last else "Next", profile)}</a></div>'
    )


# What is to be done where taps are asked: whether on a keyboard, whether several of them.
_TAPPED = {
    (False, False): "Tap a place on the neck", (False, True): "Tap the places, one after the other",
    (True, False): "Tap a key", (True, True): "Tap the keys, one after the other",
}  # fmt: skip
# What can be heard of a question: the engine's name for it, what a button shows, what it says to those who listen.
_ASKED = ("asked", "Hear it", "Hear it")
_CHOSEN = (("yours", "Yours", "Hear yours"), ("right", "Right one", "Hear the right one"))


def _heard(question: Question, profile: Profile) -> str:
    """Buttons that let the question be heard, for the client; without a script the style sheet hides them.

    Where the choices are names or ways to play the same notes, none sounds otherwise than what is asked.
    """
    alike = isinstance(question.choices[0].value, str | Tab)
    buttons = "".join(_hear(one, profile) for one in ((_ASKED,) if alike else (_ASKED, *_CHOSEN)))
    return f'<p class="listen{" alike" if alike else ""}">{buttons}</p>'


def _hear(one: tuple[str, str, str], profile: Profile) -> str:
    what, shown, said = one
    label = on_off(words(shown, profile), profile, words(said, profile) if said != shown else "")
    return f'<button type="button" data-hear="{what}" aria-pressed="false">{label}</button>'
