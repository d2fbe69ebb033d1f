"""The sleeve of a question that is answered by ear: a button to play it, and its notes for who would rather look."""

from __future__ import annotations

from engine.drills.question import Heard
from engine.theory.wording import Profile
from engine.view.markup import on_off, plain, words


def ear_html(heard: Heard, before: str, after: str, profile: Profile) -> str:
    """``before``: the picture of its notes without their degrees, shown on demand; ``after``: the answer's."""
    # Without the chord that follows nobody could tell from its notes alone where a line has come to.
    chords = [chord for chord, _ in heard.bars]
    names = f'<span aria-hidden="true"> → </span><span class="unseen"> {words("then", profile)} </span>'.join(
        f"<b>{plain(chord, profile)}</b>" for chord in chords
    )
    over = f'<p class="over">{names}</p>' if len(chords) > 1 else ""
    return (
        '<div class="by-ear"><button class="play" type="button" data-hear="asked" aria-pressed="false">'
        f"{on_off(words('Play', profile), profile)}</button>"
        f'<details class="looked"><summary>{words("Show the notes", profile)}</summary>{over}{before}</details>'
        f'<div class="pictures">{after}</div></div>'
    )
