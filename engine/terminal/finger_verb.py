"""The verb that fingers a line: the ways to play it on a neck, fewest shifts first."""

from __future__ import annotations

import argparse
import re
from collections.abc import Iterator

from engine.lines.line import Line
from engine.lines.moving import key_for, moved_to
from engine.neck.easier import easier
from engine.neck.fingering import Way, ways
from engine.neck.hand import WIDEST
from engine.neck.instrument import GUITAR, Instrument, instrument_of
from engine.neck.limits import Limits, check_stretch, parse_hold
from engine.neck.sentences import way_text
from engine.terminal.arguments import Answer, Verb, exactly, read
from engine.terminal.line_verbs import KEY, lines_in
from engine.theory.bad_input import BadInput
from engine.theory.key import parse_key
from engine.theory.wording import render


def _finger(given: argparse.Namespace) -> Iterator[Answer]:
    # Behind --hold several may stand in a row.
    more = [word for word in given.files if given.hold and re.fullmatch(r"\d+:\d+", word)]
    files = [word for word in given.files if word not in more]
    (path,) = exactly(files, 1, "a file with a line", "write for example finger mine.abc")
    key = None if given.key is None else read(parse_key, given.key)
    frets = None if given.frets is None else read(_whole, given.frets)
    instrument = read(lambda text: instrument_of(text, frets), GUITAR.name if given.tuning is None else given.tuning)
    low = 1 if given.low is None else read(_whole, given.low)
    high = None if given.high is None else read(_whole, given.high)
    holds = tuple(read(parse_hold, word) for word in [*(given.hold or ()), *more])
    limits = Limits(low, high, holds, WIDEST if given.stretch is None else read(_stretch, given.stretch))
    for line in lines_in(path):
        try:
            yield _answer(moved_to(line, key_for(line, key)) if key else line, instrument, limits, given)
        except BadInput as bad:
            yield {"title": line.title, "error": bad}


def _whole(word: str) -> int:
    if not re.fullmatch(r"\d{1,6}", word):
        raise BadInput(word, 1, "is no whole number", "write for example 12")
    return int(word)


def _stretch(word: str) -> int:
    stretch = _whole(word)
    check_stretch(stretch)
    return stretch


def _answer(line: Line, instrument: Instrument, limits: Limits, given: argparse.Namespace) -> Answer:
    found = [_for_data(way) if given.json else _for_people(line, way) for way in ways(line, instrument, limits)]
    answer: Answer = {"title": line.title, "ways": found}
    if given.easier:
        answer["easier"] = [
            {"note": saving.index, "octaves": saving.octaves, "shifts": saving.shifts, "cost": saving.cost,
             "text": render(saving.text)}
            for saving in easier(line, instrument, limits)
        ]  # fmt: skip
    return answer


def _for_data(way: Way) -> Answer:
    return {
        "places": way.places,
        "positions": way.positions,
        "shifts": way.shifts,
        "span": way.span,
        "cost": way.cost,
    }


def _for_people(line: Line, way: Way) -> Answer:
    """What it is like in a sentence, then string and fret of every note."""
    return {"text": render(way_text(line, way)), "places": [f"{string}/{fret}" for string, fret in way.places]}


VERBS = {
    "finger": Verb(
        _finger, "the ways to play a line on a neck, fewest shifts first", ("files", "FILE"),
        (("--tuning", {"metavar": "E2,A2,D3,G3,B3,E4", "help": "open strings from low to high, or a name: bass"}),
         ("--frets", {"metavar": "22", "help": "how many frets the neck has"}), KEY,
         ("--from", {"dest": "low", "metavar": "5", "help": "fretted notes lie at this fret or above"}),
         ("--to", {"dest": "high", "metavar": "9", "help": "fretted notes lie at this fret or below"}),
         ("--hold", {"action": "append", "metavar": "3:2", "help": "note 3, counted from 0, stays on string 2"}),
         ("--stretch", {"metavar": "4", "help": "the widest distance without moving: 3, 4 or 5 frets"}),
         ("--easier", {"action": "store_true", "help": "also what is easier with a note or the line an octave away"})),
        reads_lines=False,
    ),
}  # fmt: skip
