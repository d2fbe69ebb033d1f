"""The sleeve: what is asked, the chords very large, then the question in one sentence."""

from __future__ import annotations

from engine.drills.material import usual_twin
from engine.drills.question import Question
from engine.theory.chord import Chord
from engine.theory.key import Key
from engine.theory.pitch import Pitch
from engine.theory.wording import USUAL, Profile, show
from engine.view.markup import escape, plain, prose, words

# From how many letters on the large line is set a size smaller; the style sheet knows "size-0" to "size-5".
_SIZES = (5, 7, 9, 13, 19)
# A name of this length or more leaves the chord's other one less room than it needs: by so many letters.
_LONG, _SHORT_OF = 8, 4
ASKED = "?"  # stands where the note is wanted
_ARROW = '<span class="into"><span class="unseen">{then}</span><span aria-hidden="true">→</span></span>'


def asked_html(question: Question, profile: Profile = USUAL) -> str:
    """The question's heading."""
    prompt = f'<span class="prompt">{prose(question.prompt, profile)}</span>'
    if bars := _bars(question):
        return f'<h2 class="asked">{_row(bars, profile)}{prompt}</h2>'
    chords = _chords(question)
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
        letters += _SHORT_OF * (letters >= _LONG)
    line = f'<span class="large size-{_size(letters)}">{large}{beside}</span>' if chords else ""
    return f'<h2 class="asked">{line}{prompt}</h2>'


def _chords(question: Question) -> list[Chord]:
    """The chords that are given, in their order: those of ``changes``, or ``chord`` and perhaps ``next``."""
    changes = question.given.get("changes")
    given = changes if isinstance(changes, tuple) else [question.given.get(name) for name in ("chord", "next")]
    return [chord for chord in given if isinstance(chord, Chord)]


def _bars(question: Question) -> list[tuple[Chord, Pitch | str]]:
    """The chords of a progression, each with its note of the line so far; the one that is asked has a question mark."""
    chords = question.given.get("progression")
    thread = question.given.get("thread")
    if not isinstance(chords, tuple) or not isinstance(thread, tuple):
        return []
    below: list[Pitch | str] = [note for note in thread if isinstance(note, Pitch)]
    below += [ASKED, *[""] * (len(chords) - len(below) - 1)]
    return [(chord, under) for chord, under in zip(chords, below, strict=True) if isinstance(chord, Chord)]


def _row(bars: list[tuple[Chord, Pitch | str]], profile: Profile) -> str:
    """Chords in a row, which may break between two of them; the asked one is marked."""
    cells = [
        f'<span class="bar{" sought" if under == ASKED else ""}"><span class="chord">{plain(chord, profile)}</span>'
        f'<span class="unseen">: </span><span class="under">{plain(under, profile)}</span></span>'
        if under
        else f'<span class="bar"><span class="chord">{plain(chord, profile)}</span></span>'
        for chord, under in bars
    ]
    letters = sum(len(show(chord, profile)) for chord, _ in bars) + len(bars) - 1
    return f'<span class="large bars size-{_size(letters)}">{" ".join(cells)}</span>'


def _size(letters: int) -> int:
    return sum(letters >= least for least in _SIZES)


def asked_in_words(question: Question, profile: Profile = USUAL) -> str:
    """The same in one plain sentence, escaped, for those who do not see the page."""
    given = given_in_words(question, profile)
    return escape(f"{given}. {show(question.prompt, profile)}" if given else show(question.prompt, profile))


def given_in_words(question: Question, profile: Profile = USUAL) -> str:
    """What is given, in a few plain words, not escaped: "A7 in D", "G7, then Cmaj7", "Dm7: F, G7: ?, Cmaj7"."""
    if bars := _bars(question):
        return ", ".join(show(chord, profile) + (f": {show(under, profile)}" if under else "") for chord, under in bars)
    key = question.given.get("key")
    text = f", {profile.sentences.get('then', 'then')} ".join(show(chord, profile) for chord in _chords(question))
    if isinstance(key, Key):
        text += " " + profile.sentences.get("in {key}", "in {key}").replace("{key}", show(key, profile))
    return text
