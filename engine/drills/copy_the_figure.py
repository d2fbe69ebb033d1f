"""Copy the figure: a few notes over a held chord; which keys, or places of the neck, are they, one by one?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from random import Random
from typing import NamedTuple

from engine.drills.chance import pick
from engine.drills.distances import between, counted
from engine.drills.figures import Note, figures_over, pitches
from engine.drills.material import chords_for, without_double_accidentals
from engine.drills.mistakes import MISTAKES
from engine.drills.options import NECK, Options
from engine.drills.places import FRETS_ASKED, board_at, degree_over, holds, lows_for, marked, sounds, told
from engine.drills.question import Board, Choice, Fact, Heard, KeyMark, Keys, Question, Row, facts
from engine.drills.slips_in_copying import Turn, named_in, spots_in, tapped, turns_in
from engine.drills.slips_in_counting import own_degree
from engine.drills.slips_on_the_neck import Asked
from engine.neck.instrument import Instrument
from engine.theory.bad_input import BadInput
from engine.theory.chord import Chord
from engine.theory.degree import Degree
from engine.theory.keyboard import is_white, key_name
from engine.theory.naming import CHORD_TONE, name_over
from engine.theory.pitch import Pitch
from engine.theory.wording import Slot, Text, say

SLUG = "copy-the-figure"
_SEVENTHS = ("maj7", "m7", "7")
_OTHERS = ("m7b5", "mMaj7", "6", "m6")
LEVELS = {1: _SEVENTHS, 2: (*_SEVENTHS, *_OTHERS), 3: (*_SEVENTHS, *_OTHERS, "7b9", "7#9", "7#11", "7#5", "7b9b13")}
# The first that leads to a key or a place stands for it.
MISTAKES_HERE = (
    "the note before again", "an octave off", "out of turn", "a half step beside", "a scale step beside",
    "turned round", "another chord tone", "another interval", "another way round",
)  # fmt: skip
# The keys that are tapped: eight white ones, so that a phone shows each as wide as a thumb needs it.
_OCTAVE, _WHOLE_STEP = 12, 2
# By how many notes there are: all of them, as a sentence begins, and all but the first.
_COUNTS = {3: say("Three"), 4: say("Four"), 5: say("Five")}
_BUT_ONE = {3: say("two"), 4: say("three"), 5: say("four")}
LOWEST = 57  # A3: on a keyboard the figure's lowest note lies in the octave above, over the held chord
LOWEST_ON_NECK = 50  # D3; lower only on an instrument that has no other notes there


class Card(NamedTuple):
    """A chord, a figure over it, and the instrument and the frets to begin at where it is played on a neck."""

    chord: Chord
    figure: tuple[Note, ...]
    instrument: Instrument | None
    lows: tuple[int, ...]


class Spot(NamedTuple):
    """Where a figure is played: its notes with their octaves, and what is tapped, without a mark on it."""

    notes: tuple[Pitch, ...]
    board: Board | Keys


def cards(options: Options) -> list[Card]:
    """Every chord with every figure over it; BadInput where five frets hold none of them."""
    instrument = options.instrument if options.on == NECK else None
    lows = lows_for(options) if instrument else ()
    found = [
        Card(chord, figure, instrument, lows)
        for chord in chords_for(SLUG, options, LEVELS)
        for figure in figures_over(chord.kind or "", options.level)
    ]
    shown = [(card.chord, _spelled(card)) for card in found]
    readable = [card for card, keep in zip(found, without_double_accidentals(shown), strict=True) if keep]
    playable = [card for card in readable if instrument is None or _lies_somewhere(card, instrument)]
    if not playable:
        problem = "has nothing to ask: these frets hold no whole figure"
        raise BadInput(SLUG, 1, problem, "give other frets, other keys or another tuning")
    return playable


def _spelled(card: Card) -> tuple[Pitch, ...]:
    return tuple(note.degree.over(card.chord.root) for note in card.figure)


def _spots(card: Card) -> Sequence[Spot]:
    """Wherever a figure may be asked."""
    if card.instrument is None:
        return list(_on_keys(card))
    everywhere = list(_on_neck(card, card.instrument))
    high = [spot for spot in everywhere if min(note.midi for note in spot.notes) >= LOWEST_ON_NECK]
    # Where a note lies once within the frets, the tap tells the note and nothing else.
    once = [spot for spot in high or everywhere if _lies_once(spot)]
    return once or high or everywhere


def _on_keys(card: Card) -> Iterator[Spot]:
    """Every octave of white keys that holds the figure."""
    least = min(note.semitones for note in card.figure)
    root = next(
        there for octave in range(2, 6)
        if (there := card.chord.root.in_octave(octave)).midi + least >= LOWEST
    )  # fmt: skip
    notes = pitches(root, card.figure)
    keys = [note.midi for note in notes]
    for low in range(max(keys) - _OCTAVE, min(keys) + 1):
        if is_white(low):
            yield Spot(notes, Keys(low, low + _OCTAVE))


def _on_neck(card: Card, instrument: Instrument) -> Iterator[Spot]:
    """Every five frets, and every octave, in which the whole figure lies."""
    for octave in range(9):
        notes = pitches(card.chord.root.in_octave(octave), card.figure)
        for low in card.lows:
            if holds(instrument, low, notes):
                yield Spot(notes, board_at(instrument, low))


def _lies_somewhere(card: Card, instrument: Instrument) -> bool:
    """Whether five of the frets hold the figure in any octave."""
    above = [note.semitones for note in card.figure]
    roots = range(card.chord.root.pitch_class, instrument.highest, _OCTAVE)
    there = (sounds(instrument, low, low + FRETS_ASKED - 1) for low in card.lows)
    return any(all(root + step in those for step in above) for those in there for root in roots)


def _lies_once(spot: Spot) -> bool:
    if isinstance(spot.board, Keys):
        return True
    opens, frets = spot.board.instrument.opens, range(spot.board.low, spot.board.high + 1)
    return all(sum(note.midi - string in frets for string in opens) == 1 for note in spot.notes)


def question(card: Card, chance: Random) -> Question:
    """The question of a card; ``chance`` picks where on the keyboard or on the neck."""
    chord = card.chord
    notes, bare = pick(_spots(card), chance)
    degrees = tuple(note.degree for note in card.figure)
    first, roles = notes[0], tuple(name_over(chord, note).role for note in notes)
    board = _marked(bare, Asked(0, chord, degrees[0], first), roles[0])
    about = facts(
        chord=chord, first=first, degree=degrees[0], notes=" ".join(map(str, notes[1:])),
        degrees=" ".join(map(str, degrees[1:])), **_told(board),
    )  # fmt: skip
    return Question(
        drill=SLUG,
        skill=f"{SLUG}/{chord.kind}/{'-'.join(map(str, degrees))}/{chord.root}",
        prompt=say(
            "{count} notes over {chord}, from the marked {first}. Play them, then tap the other {others} in order.",
            count=_COUNTS[len(notes)], others=_BUT_ONE[len(notes)], chord=chord, first=first.in_octave(None),
        ),
        given=facts(chord=chord, first=first),
        about=about,
        choices=_choices(about, notes),
        row=Row(notes, degrees, roles),
        board=board,
        heard=Heard(((chord, notes),)),
        asks="sound",
    )  # fmt: skip


def _marked(board: Board | Keys, first: Asked, role: str) -> Board | Keys:
    """The board with the figure's first note marked on it."""
    if isinstance(board, Keys):
        return Keys(board.low, board.high, (KeyMark(first.note.midi, say("{degree}", degree=first.degree), role),))
    return board_at(board.instrument, board.low, marked(board, first, role))


def _told(board: Board | Keys) -> dict[str, Fact]:
    """The facts that describe what is tapped."""
    if isinstance(board, Keys):
        return {"keyboard": f"{key_name(board.low)} to {key_name(board.high)}"}
    return {**told(board)}


def _choices(about: dict[str, Fact], notes: Sequence[Pitch]) -> tuple[Choice, ...]:
    """Step by step one choice for every key or place; a wrong one stands for the first mistake that leads there."""
    leads = [(key, frozenset(MISTAKES[key].values(about))) for key in MISTAKES_HERE]
    choices, spots = [], list(spots_in(about))
    for turn in turns_in(about):
        for spot, midi in spots:
            value = tapped(spot, turn.asked.step)
            note, degree = named_in(about, turn.asked, midi)
            gloss = say("{degree}", degree=degree)
            if turn.asked.is_at(midi):
                choices.append(Choice(value, _right(turn, notes), gloss))
                continue
            mistake = next(key for key, those in leads if value in those)
            choices.append(Choice(value, _wrong(turn, midi, note, degree, mistake), gloss, mistake))
    return tuple(choices)


# By the way from the note before: up (1), down (-1), or none at all.
_RIGHT = {
    1: "From {before} up {interval} to {note}, the {degree} of {chord}{onward}.",
    -1: "From {before} down {interval} to {note}, the {degree} of {chord}{onward}.",
}
_WRONG = {
    0: "{slip}. {note} is the {degree} of {chord}.",
    1: "{slip}. {note} is the {degree} of {chord}, {interval} up from {before}.",
    -1: "{slip}. {note} is the {degree} of {chord}, {interval} down from {before}.",
}


def _right(turn: Turn, notes: Sequence[Pitch]) -> Text:
    """Why a note is the next one: how far it is from the one before, what it is, and where it leads if not at rest."""
    asked = turn.asked
    return say(
        _RIGHT[_way(turn.leap)],
        before=turn.before.in_octave(None), interval=between(turn.before, asked.note), note=asked.note.in_octave(None),
        degree=degree_over(asked.chord, asked.degree), chord=asked.chord, onward=_onward(turn, notes),
    )  # fmt: skip


def _wrong(turn: Turn, midi: int, note: Pitch, degree: Degree, mistake: str) -> Text:
    """What a wrong note is, and how far from the note before it."""
    leap, chord = midi - turn.before.midi, turn.asked.chord
    interval = between(turn.before, note) if leap else say("")
    if mistake == "turned round" and interval != between(turn.before, turn.asked.note):
        # The same distance, but not with the same letters.
        interval = counted(abs(leap))
    return say(
        _WRONG[_way(leap)],
        slip=say(MISTAKES[mistake].says), note=note.in_octave(None), degree=degree_over(chord, degree), chord=chord,
        interval=interval, before=turn.before.in_octave(None),
    )  # fmt: skip


# By whether the first of two notes that enclose a third lies above it.
_ENCLOSED = {
    True: "; {one} and {other} enclose it, from above and below",
    False: "; {one} and {other} enclose it, from below and above",
}
_ENCLOSING = {
    True: "; {one} and {other} enclose {after}, the {there}, from above and below",
    False: "; {one} and {other} enclose {after}, the {there}, from below and above",
}


def _onward(turn: Turn, notes: Sequence[Pitch]) -> Text:
    """What a note is for: it is enclosed, or encloses one that follows, or leads on to the next tone of the chord."""
    chord, here = turn.asked.chord, turn.asked.step + 1
    for target in range(here, min(here + 3, len(notes))):
        if target >= 2 and _is_enclosed(chord, notes[target - 2 : target + 1]):
            one, other, after = (note.in_octave(None) for note in notes[target - 2 : target + 1])
            falls = notes[target - 2].midi > notes[target].midi
            if target == here:
                return say(_ENCLOSED[falls], one=one, other=other)
            return say(_ENCLOSING[falls], one=one, other=other, after=after, there=_degree_of(chord, after))
    if _rests(chord, turn.asked.note):
        return say("")
    rest = next((note.in_octave(None) for note in notes[here + 1 :] if _rests(chord, note)), None)
    return say("; it leads on to {after}, the {there}", after=rest, there=_degree_of(chord, rest)) if rest else say("")


def _is_enclosed(chord: Chord, notes: Sequence[Pitch]) -> bool:
    """Whether the last of three notes is a chord tone between the other two, each a whole step from it at most."""
    one, other, target = notes
    above, below = one.midi - target.midi, other.midi - target.midi
    near = above * below < 0 and max(abs(above), abs(below)) <= _WHOLE_STEP
    return near and _rests(chord, target) and not (_rests(chord, one) and _rests(chord, other))


def _rests(chord: Chord, note: Pitch) -> bool:
    return name_over(chord, note).role == CHORD_TONE


def _degree_of(chord: Chord, note: Pitch) -> Slot:
    return degree_over(chord, own_degree(chord, note))


def _way(leap: int) -> int:
    return (leap > 0) - (leap < 0)
