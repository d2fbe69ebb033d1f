"""Places of the neck as answers: the frets a question is about, and what each of its taps is."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import lru_cache

from engine.drills.facts import Facts, board_in
from engine.drills.mistakes import MISTAKES
from engine.drills.options import Options
from engine.drills.question import Board, Choice, Mark, Tap
from engine.drills.slips_on_the_neck import Asked, asked_in, named_at, right_places, sounding_places
from engine.drills.strings_out_of_step import odd_pair
from engine.neck.instrument import Instrument, Place
from engine.theory.bad_input import BadInput
from engine.theory.chord import Chord
from engine.theory.degree import Degree
from engine.theory.pitch import Pitch
from engine.theory.wording import Slot, Text, say

# Mistakes that lead to places, in the order in which they are tried: by the hand, by counting, by what the place is.
BY_HAND = (
    "strings out of step",
    "other sign",
    "a fret too low",
    "a fret too high",
    "a string too low",
    "a string too high",
)
BY_LETTER = ("a letter too far", "a letter short")
BY_WHAT_IT_IS = (
    "another tone of the chord",
    "an extension",
    "an alteration",
    "an avoid note",
    "a passing note",
    "another note",
)
# Where notes are tapped one after the other.
OUT_OF_ORDER = ("out of order", "out of order, in another octave")
# A question is about so many neighbouring frets: what a hand covers, and a fret that it reaches.
FRETS_ASKED = 5
# Where they begin, by level: around the fifth fret, from the nut to the octave, anywhere up to there.
LOWS: Mapping[int, Sequence[int]] = {1: (3, 5, 7), 2: (0, 1, 3, 5, 7, 8, 10, 11), 3: tuple(range(12))}
# No question of a drill's own goes further up; the option ``at`` does.
HIGHEST = 15
ROOT = say("root")


def lows_for(options: Options) -> tuple[int, ...]:
    """The frets that questions may begin at; BadInput where the neck has no five frets from ``options.at`` on."""
    last = last_low(options)
    return tuple(low for low in LOWS[options.level] if low <= last) if options.at is None else (options.at,)


def last_low(options: Options) -> int:
    """The last fret that a drill's own five begin at; BadInput where ``options.at`` leaves less than five."""
    last = options.instrument.frets - FRETS_ASKED + 1
    if options.at is not None and options.at > last:
        problem = f"leaves less than five of the neck's {options.instrument.frets} frets"
        raise BadInput(f"at {options.at}", 1, problem, f"begin at a fret from 0 to {last}")
    return min(last, HIGHEST - FRETS_ASKED + 1)


def board_at(instrument: Instrument, low: int, marks: tuple[Mark, ...] = ()) -> Board:
    """The five frets from ``low`` on, 0 being the open strings."""
    return Board(instrument, low, low + FRETS_ASKED - 1, marks)


@lru_cache(maxsize=256)
def sounds(instrument: Instrument, low: int, high: int) -> frozenset[int]:
    """What sounds on the frets from ``low`` to ``high``, as MIDI key numbers."""
    return frozenset(string + fret for string in instrument.opens for fret in range(low, high + 1))


def holds(instrument: Instrument, low: int, pitches: Iterable[Pitch]) -> bool:
    """Whether every one of these pitches lies on the five frets from ``low`` on."""
    there = sounds(instrument, low, low + FRETS_ASKED - 1)
    return all(pitch.midi in there for pitch in pitches)


def told(board: Board) -> dict[str, str]:
    """The facts that describe a board: the open strings and the frets."""
    return {"tuning": ",".join(map(str, board.instrument.strings)), "frets": f"{board.low} to {board.high}"}


def where(board: Board) -> Text:
    """The part of the neck in words, as the end of a sentence."""
    if board.low == 0:
        return say("between the open strings and fret {high}", high=board.high)
    return say("between frets {low} and {high}", low=board.low, high=board.high)


def marked(board: Board, asked: Asked, role: str) -> tuple[Mark, ...]:
    """A note marked from the start wherever it lies on the board, by its degree."""
    label = say("{degree}", degree=asked.degree)
    return tuple(Mark(place, label, role) for place in right_places(board, asked))


def degree_slot(degree: Degree) -> Slot:
    """A degree within a sentence: the 1 is called the root there."""
    return ROOT if degree.name == "1" else degree


def degree_over(chord: Chord, degree: Degree) -> Slot:
    """A degree of a chord within a sentence: where the chord itself has another seventh, the 7 is the major 7."""
    return say("major {degree}", degree=degree) if degree.name == "7" and not chord.has("7") else degree_slot(degree)


def right_here(asked: Asked, place: Place) -> Text:
    """Why a place is the next note of several that are asked for in order."""
    template = (
        "{note}, on string {string} at fret {fret}, is the {degree} of {chord}." if place.fret
        else "{note}, the open string {string}, is the {degree} of {chord}."
    )  # fmt: skip
    fret = {"fret": place.fret} if place.fret else {}
    return say(
        template, note=asked.note.in_octave(None), string=place.string,
        degree=degree_slot(asked.degree), chord=asked.chord, **fret,
    )  # fmt: skip


def taps(
    about: Facts,
    mistakes: Sequence[str],
    right_why: Callable[[Asked, Place], Text],
    wrong_why: Callable[[Asked, Place, str], Text],
) -> tuple[Choice, ...]:
    """The choices of a question that asks for taps: step by step one for every place of its board.

    A wrong place stands for the first of the ``mistakes`` that leads to it; the last one must lead everywhere.
    """
    board = board_in(about)
    leads = [(key, frozenset(MISTAKES[key].values(about))) for key in mistakes]
    choices = []
    for asked in asked_in(about):
        for place, midi in sounding_places(board).items():
            tap = Tap(place, asked.step)
            if asked.is_at(midi):
                gloss = say("{degree}", degree=asked.degree)
                choices.append(Choice(tap, right_why(asked, place), gloss))
                continue
            mistake = next(key for key, those in leads if tap in those)
            _, degree = named_at(about, asked, midi)
            usable = MISTAKES[mistake].usable
            gloss = say("{degree}", degree=degree)
            choices.append(Choice(tap, wrong_why(asked, place, mistake), gloss, mistake, usable))
    return tuple(choices)


def wrong_in_order(about: Facts, asked: Asked, place: Place, mistake: str) -> Text:
    """Why a place is not the next note of several that are asked for in order."""
    note, named = named_at(about, asked, sounding_places(board_in(about))[place])
    # A note that is right in the next octave, or that would do, is called usable.
    template = (
        "{slip}. Over {chord}, {note} is the {named}; the {asked} is {wanted}." if not MISTAKES[mistake].usable
        else "{slip}: usable, not asked. Over {chord}, {note} is the {named}." if mistake == "another octave"
        else "{slip}: usable, not asked. Over {chord}, {note} is the {named}; the {asked} is {wanted}."
    )  # fmt: skip
    facts: dict[str, Slot] = {"asked": degree_slot(asked.degree), "wanted": asked.note.in_octave(None)}
    return say(
        template, slip=slip(about, asked, place, mistake), chord=asked.chord, note=note, named=degree_slot(named),
        **({} if mistake == "another octave" else facts),
    )  # fmt: skip


def slip(about: Facts, asked: Asked, place: Place, mistake: str) -> Text:
    """What was done to end up there, as the start of a sentence."""
    if mistake == "strings out of step":
        return say(MISTAKES[mistake].says, **odd_pair(about, Tap(place, asked.step)))
    return say(MISTAKES[mistake].says)
