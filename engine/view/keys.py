"""A keyboard to tap on: a question's keys as a grid in front of a drawing that is stretched to it.

A white key is two columns wide. Black keys stand in the upper row, each over the gap between its two neighbours, where
they are drawn; the white ones are tapped in the lower row, and above it wherever no black key is.
"""

from __future__ import annotations

from engine.drills.question import Choice, Keys, Press, Question
from engine.practice.round import Answer
from engine.theory.keyboard import is_white, key_names
from engine.theory.wording import Profile, say
from engine.view.keyboard import HEIGHT, keyboard, keyboard_for
from engine.view.marks import mark
from engine.view.markup import number, plain
from engine.view.tap import Steps

WHITE_KEYS = 8  # of a board: the style sheet has as many columns
_WIDE = 320.0  # units of the drawing
_MARK = 7.0


def keys_html(question: Question, on: Keys, name: str, answer: Answer | None, profile: Profile) -> str:
    """The keys of the section ``name`` with all that they bring to light. ValueError where they are too many."""
    white = [key for key in on.places if is_white(key)]
    if len(white) != WHITE_KEYS or not is_white(on.low) or not is_white(on.high):
        raise ValueError(f"a keyboard has {WHITE_KEYS} white keys, from a white one to a white one")

    def place(key: int) -> str:
        """Which white key it is, or which it follows and which black one it is, as classes."""
        row = "front" if is_white(key) else f"back s{key % 12}"
        return f"{row} n{sum(other <= key for other in white)}"

    def spot(choice: Choice) -> str:
        if not isinstance(choice.value, Press):
            raise ValueError(f"{choice.value} is no key")
        return place(choice.value.key)

    letters = "".join(
        f'<span class="letter {place(key)}" aria-hidden="true">'
        f"{plain(key_names(key)[0].in_octave(None), _sounding(profile))}</span>"
        for key in white
    )
    marks = "".join(
        f'<span class="marked {place(given.key)}"><span class="unseen">'
        f"{plain(say('{names:or}', names=key_names(given.key)), profile)}: </span>"
        '<svg viewBox="-8 -8 16 16" aria-hidden="true" focusable="false">'
        f"{mark(given.role, 0, 0, _MARK, _MARK)}</svg>{plain(given.label, profile)}</span>"
        for given in on.marks
    )
    drawn = keyboard(keyboard_for((on.low, on.high), 0, _WIDE, WHITE_KEYS), (), 0)
    steps = Steps(name, answer, profile, spot).html(question)
    return (
        f'<div class="board keyed" data-frets="{len(on.places)}">'
        f'<svg class="drawn" viewBox="0 0 {number(_WIDE)} {number(HEIGHT)}" preserveAspectRatio="none"'
        f' aria-hidden="true" focusable="false">{drawn}</svg>{letters}{marks}{steps}</div>'
    )


def _sounding(profile: Profile) -> Profile:
    """Keys are called as they sound, whatever part is read."""
    return Profile(signs=profile.signs, names=profile.names, sentences=profile.sentences)
