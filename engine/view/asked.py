"""The sleeve: what is asked, the chords very large, then the question in one sentence."""

from __future__ import annotations

from engine.drills.material import usual_twin
from engine.drills.question import Question
from engine.theory.chord import Chord
from engine.theory.key import Key
from engine.theory.wording import USUAL, Profile, show
from engine.view.markup import escape, plain, prose, words

# From how many letters on the large line is set a size smaller; the style sheet knows "size-0" to "size-4".
_SIZES = (5, 7, 9, 13)
_ARROW = '<span class="into"><span class="unseen">{then}</span><span aria-hidden="true">→</span></span>'


def asked_html(question: Question, profile: Profile = USUAL) -> str:
    """The question's heading."""
    chords = [fact for name in ("chord", "next") if isinstance(fact := question.given.get(name), Chord)]
    key = question.given.get("key")
    letters = sum(len(show(chord, profile)) for chord in chords) + 2 * (len(chords) - 1)
    large = _ARROW.format(then=words("then", profile)).join(
        f'<span class="chord">{plain(chord, profile)}</span>' for chord in chords
    )
    beside = ""
    if isinstance(key, Key):
        beside = f' <span class="key">{words("in {key}", profile, key=key)}</span>'
    elif len(chords) == 1 and (twin := usual_twin(chords[0])):
        # Without a key to decide it, a player may meet the chord in either spelling.
        beside = f' <span class="key">{words("or {chord}", profile, chord=twin)}</span>'
    line = f'<span class="large size-{_size(letters)}">{large}{beside}</span>' if chords else ""
    return f'<h2 class="asked">{line}<span class="prompt">{prose(question.prompt, profile)}</span></h2>'


def _size(letters: int) -> int:
    return sum(letters >= least for least in _SIZES)


def asked_in_words(question: Question, profile: Profile = USUAL) -> str:
    """The same in one plain sentence, escaped, for those who do not see the page."""
    return escape(f"{given_in_words(question, profile)}. {show(question.prompt, profile)}")


def given_in_words(question: Question, profile: Profile = USUAL) -> str:
    """What is given, in a few plain words, not escaped: "A7 in D", "G7, then Cmaj7"."""
    chord, following, key = (question.given.get(name) for name in ("chord", "next", "key"))
    parts = [show(chord, profile)] if isinstance(chord, Chord) else []
    if isinstance(following, Chord):
        parts.append(f"{profile.sentences.get('then', 'then')} {show(following, profile)}")
    text = ", ".join(parts)
    if isinstance(key, Key):
        text += " " + profile.sentences.get("in {key}", "in {key}").replace("{key}", show(key, profile))
    return text
