"""What a question sounds like: what is given, and what it is with the choice taken or with the right one.

It is found by the facts of the question, never by which drill asks it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from fractions import Fraction

from engine.drills.question import Board, Choice, Press, Question, Tap, Value, step_of
from engine.sound.event import Arrangement
from engine.sound.held import Bar, held
from engine.theory.bad_input import BadInput
from engine.theory.chord import Chord
from engine.theory.degree import Degree
from engine.theory.pitch import Pitch

# What may be asked for: what is given, the choice that was taken, the right one.
ASKED, YOURS, RIGHT = "asked", "yours", "right"
WHAT = (ASKED, YOURS, RIGHT)

_ALONE = Fraction(2)  # beats in which a chord is heard before the first note
_EIGHTH, _QUARTER = Fraction(1, 2), Fraction(1)
_THIRD = 3  # the rung
_FEW = 2  # so many notes over a chord take a beat each, more of them are eighths
_LOWEST = 60  # a note that has no octave lies in the one from middle C up


def sound_of(question: Question, what: str, taken: int | None = None) -> Arrangement:
    """The question as sound; ``what`` is one of ``WHAT``, ``taken`` the index of the choice that was taken.

    What is given never has the answer in it. BadInput for anything else, and for a choice that was not taken.
    """
    if what not in WHAT:
        raise BadInput(what, 1, "is nothing to be heard of a question", f"ask for one of {', '.join(WHAT)}")
    if what == YOURS and (taken is None or not 0 <= taken < len(question.choices)):
        raise BadInput(what, 1, "is the choice that was taken, and none was", "answer the question first")
    chosen = None
    if what != ASKED:
        chosen = question.choices[taken if what == YOURS and taken is not None else question.right]
    for bars_of in _WAYS:
        if bars := bars_of(question, chosen):
            return held(bars, length=_QUARTER if max(len(bar.keys) for bar in bars) <= _FEW else _EIGHTH)
    raise BadInput(question.drill, 1, "has a question without sound", "open another drill")


def _by_ear(question: Question, chosen: Choice | None) -> list[Bar]:
    """What is played; with a choice, what that would have been."""
    if question.heard is None:
        return []
    bars = list(question.heard.bars)
    chord, notes = bars[-1]
    value = chosen.value if chosen and not chosen.right else None
    if isinstance(value, Degree):
        chord = _with_third(chord, value) if len(bars) > 1 else chord
        bars[-1] = (chord, (*notes[:-1], value.over(chord.root).nearest_to(notes[-1])))
    elif isinstance(value, Chord):
        bars[-1] = (value, tuple(_rising(value, notes[0])))
    keys = [[note.midi for note in line] for _, line in bars]
    if chosen and isinstance(value, Tap | Press):
        # As it was tapped, up to the wrong note; what comes before the first step was given.
        keys[-1] = [*keys[-1][: len(notes) - len(question.steps) + step_of(chosen)], _key_of(question, value)]
    return [
        Bar(over, tuple(line), Fraction(0) if place else _ALONE)
        for place, ((over, _), line) in enumerate(zip(bars, keys, strict=True))
    ]


def _key_of(question: Question, tapped: Tap | Press) -> int:
    """What sounds where it was tapped, as a MIDI key number."""
    if isinstance(tapped, Press):
        return tapped.key
    if not isinstance(question.board, Board):
        raise BadInput(str(tapped), 1, "is no place of this question", "open the drill's page again")
    return question.board.instrument.opens[tapped.place.string - 1] + tapped.place.fret


def _with_third(chord: Chord, third: Degree) -> Chord:
    """The chord with this third instead of its own, if it is one: who hears a minor third hears a minor chord."""
    if third.rung != _THIRD:
        return chord
    own = chord.on_rung(_THIRD)
    degrees = tuple(third if degree in own else degree for degree in chord.degrees)
    return Chord(chord.root, degrees)


def _rising(chord: Chord, root: Pitch) -> Iterator[Pitch]:
    """The chord's tones going up from a root that has an octave."""
    below = root
    for degree in chord.degrees:
        note = degree.over(root)
        while note.midi < below.midi:
            note = note.in_octave((note.octave or 0) + 1)
        yield note
        below = note


def _on_the_neck(question: Question, chosen: Choice | None) -> list[Bar]:
    """The chord, the marked note if there is one, and the places as they are to be tapped, up to a wrong one."""
    board, chord = question.board, question.about.get("chord")
    if not isinstance(board, Board) or not isinstance(chord, Chord):
        return []
    opens = board.instrument.opens
    marked = [opens[mark.place.string - 1] + mark.place.fret for mark in board.marks]
    taps = [next(one for one in step if one.right).value for step in question.steps] if chosen else []
    if chosen:
        taps[step_of(chosen) :] = [chosen.value, *(taps[step_of(chosen) + 1 :] if chosen.right else [])]
    keys = [opens[tap.place.string - 1] + tap.place.fret for tap in taps if isinstance(tap, Tap)]
    return [Bar(chord, (*marked, *keys), _ALONE)]


def _progression(question: Question, chosen: Choice | None) -> list[Bar]:
    """The chords so far with their notes, then the one that is asked, with the note that was chosen."""
    chords, thread = (question.given.get(name) for name in ("progression", "thread"))
    if not isinstance(chords, tuple) or not isinstance(thread, tuple):
        return []
    notes = [note for note in thread if isinstance(note, Pitch)]
    if chosen and isinstance(chosen.value, Pitch):
        notes.append(chosen.value)
    keys = _near(notes)
    bars = [
        Bar(chord, keys[place : place + 1])
        for place, chord in enumerate(chords[: len(thread) + 1])
        if isinstance(chord, Chord)
    ]
    return [_longer(bar) for bar in bars]


def _longer(bar: Bar) -> Bar:
    """The same with its note a beat after the chord."""
    return Bar(bar.chord, bar.keys, _QUARTER)


def _row(question: Question, chosen: Choice | None) -> list[Bar]:
    """The notes of a line over their chords: with a rest where one is missing, or what was chosen in its place."""
    row, chord, following = question.row, question.about.get("chord"), question.about.get("next")
    if row is None or not isinstance(chord, Chord):
        return []
    keys: list[int | None] = [note.midi for note in row.notes]
    value = chosen.value if chosen else None
    if row.missing is not None:
        there = row.notes[row.missing]
        keys[row.missing] = value.nearest_to(there).midi if isinstance(value, Pitch) else None
    if isinstance(value, tuple):
        keys = list(_near([degree.over(chord.root) for degree in value], row.notes[0].midi))
    # Of a third chord the facts know nothing, so that there is none under its notes.
    chords = [chord, following if isinstance(following, Chord) else None, *[None] * len(row.bars)]
    ends = [*row.bars, len(keys)]
    starts = [0, *row.bars]
    return [
        Bar(chords[place], tuple(keys[start:end]), Fraction(0) if place else _ALONE)
        for place, (start, end) in enumerate(zip(starts, ends, strict=True))
    ]


def _arpeggio(question: Question, chosen: Choice | None) -> list[Bar]:
    """The chord; then an arpeggio going up over it."""
    chord = question.given.get("chord")
    if not isinstance(chord, Chord) or not isinstance(question.choices[0].value, Chord):
        return []
    own = chosen.value if chosen else None
    notes = own.notes if isinstance(own, Chord) else ()
    return [Bar(chord, _upwards(notes), _ALONE)]


def _landing(question: Question, chosen: Choice | None) -> list[Bar]:
    """A note over its chord, then the chord that follows, with the note that was chosen."""
    chord, note, following = (question.given.get(name) for name in ("chord", "note", "next"))
    if not (isinstance(chord, Chord) and isinstance(note, Pitch) and isinstance(following, Chord)):
        return []
    value = chosen.value if chosen else None
    keys = _near([note, value] if isinstance(value, Pitch) else [note])
    return [Bar(chord, keys[:1], _QUARTER), Bar(following, keys[1:])]


def _over_a_chord(question: Question, chosen: Choice | None) -> list[Bar]:
    """A chord and the note that is given; with a choice, the root and the note that this is."""
    chord, note = question.given.get("chord"), question.given.get("note")
    if not isinstance(chord, Chord):
        return []
    root = _from(_LOWEST, chord.root.pitch_class)
    if chosen:
        return [Bar(chord, (root, _above(root, chord, chosen.value)), _ALONE)]
    return [Bar(chord, (_from(root, note.pitch_class) if isinstance(note, Pitch) else root,), _ALONE)]


def _above(root: int, chord: Chord, value: Value) -> int:
    """A note or a degree within the octave above the root."""
    if isinstance(value, Degree):
        value = value.over(chord.root)
    if not isinstance(value, Pitch):
        raise BadInput(str(value), 1, "is no single note", "ask for what is given")
    return _from(root, value.pitch_class)


def _from(low: int, pitch_class: int) -> int:
    """The lowest MIDI key of that class that is not below ``low``."""
    return low + (pitch_class - low) % 12


def _near(notes: Sequence[Pitch], first: int | None = None) -> tuple[int, ...]:
    """Notes without octaves as a line without leaps: each in the octave that is nearest to the one before."""
    keys: list[int] = []
    now = first
    for note in notes:
        if now is None:
            now = _from(_LOWEST, note.pitch_class)
        else:
            now += (note.pitch_class - now + 6) % 12 - 6
        keys.append(now)
    return tuple(keys)


def _upwards(notes: Sequence[Pitch]) -> tuple[int, ...]:
    """Notes without octaves as an arpeggio that goes up."""
    keys: list[int] = []
    for note in notes:
        keys.append(_from(keys[-1] + 1 if keys else _LOWEST, note.pitch_class))
    return tuple(keys)


# The first that finds anything in the facts has it.
_WAYS: tuple[Callable[[Question, Choice | None], list[Bar]], ...] = (
    _by_ear,
    _on_the_neck,
    _progression,
    _row,
    _arpeggio,
    _landing,
    _over_a_chord,
)
