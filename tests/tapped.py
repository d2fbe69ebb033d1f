"""Questions on a neck, put together by hand, so that the page is tested on every board whatever the drills ask."""

from engine.drills.question import Board, Choice, Mark, Question, Tab, Tap
from engine.neck.instrument import GUITAR, INSTRUMENTS, Instrument, Place
from engine.practice.round import Answer, Plan, Round
from engine.theory.chord_symbol import parse_chord
from engine.theory.naming import name_over
from engine.theory.pitch import parse_pitch
from engine.theory.wording import say

BASS = INSTRUMENTS["bass"]
EIGHT = INSTRUMENTS["eight-string guitar"]
NOTES = ("C", "C#", "D", "Eb", "E", "F", "F#", "G", "G#", "A", "Bb", "B")


def tap_question(
    degrees: tuple[str, ...], instrument: Instrument = GUITAR, low: int = 5, high: int = 9, mark: Place | None = None
) -> Question:
    """Taps of these degrees over A7, one after the other; every octave of them within the frets is right."""
    chord = parse_chord("A7")
    root = (Mark(mark, say("1"), "chord tone"),) if mark else ()
    board = Board(instrument, low, high, root)
    choices = []
    for step, asked in enumerate(degrees):
        for place in board.places:
            note = parse_pitch(NOTES[(instrument.opens[place.string - 1] + place.fret) % 12])
            degree = name_over(chord, note).degree
            why = say("That is {note}, the {degree} of A7.", note=note, degree=degree)
            right = str(degree) == asked
            usable = str(degree) == "11"
            mistake = None if right else "another note"
            choices.append(Choice(Tap(place, step), why, say("{degree}", degree=degree), mistake, usable))
    given = {"chord": chord}
    about = {"chord": chord, "tuning": ",".join(str(note) for note in instrument.strings), "frets": f"{low} to {high}"}
    frets = say("{low} to {high}", low=low, high=high)
    prompt = say("Tap the {degrees} of A7 at frets {frets}.", degrees="–".join(degrees), frets=frets)
    return Question("name-the-degree", "by hand", prompt, given, about, tuple(choices), board=board, asks="tap")


def tab_question(notes: int, instrument: Instrument = GUITAR, low: int = 5) -> Question:
    """Four ways to play so many notes, from four places of the neck on."""
    strings = len(instrument.strings)
    choices = []
    for way in range(4):
        places = tuple(Place(strings - note % strings, low + 2 * way + note % 3) for note in range(notes))
        gloss = say("{shifts} shifts", shifts=way)
        choices.append(
            Choice(Tab(places), say("So it takes {shifts} shifts.", shifts=way), gloss, "another note" if way else None)
        )
    about = {"tuning": ",".join(str(note) for note in instrument.strings)}
    given = {"chord": parse_chord("Dm7"), "next": parse_chord("G7")}
    prompt = say("Which way takes the fewest shifts?")
    return Question("name-the-degree", "by hand", prompt, given, about, tuple(choices))


def a_round(*asked: Question, answers: tuple[Answer, ...] = ()) -> Round:
    """A round of these questions."""
    return Round(Plan("name-the-degree", "", 1, tuple(range(len(asked))), len(asked), len(asked)), asked, answers)
