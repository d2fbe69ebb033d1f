"""The verbs that name chords, notes, arpeggios and resolutions."""

from __future__ import annotations

import argparse
from collections.abc import Iterator

from engine.terminal.arguments import Answer, Verb, exactly, read, several
from engine.theory.arpeggio import STARTS, arpeggio
from engine.theory.bad_input import BadInput
from engine.theory.chord_symbol import CHORD_EXAMPLE, parse_chord
from engine.theory.family import family_of
from engine.theory.key import parse_key
from engine.theory.naming import name_over
from engine.theory.pitch import parse_pitch
from engine.theory.resolution import steps_into
from engine.theory.wording import render, say


def _chord(given: argparse.Namespace) -> Iterator[Answer]:
    for symbol in several(given.symbols, "a chord symbol", CHORD_EXAMPLE):
        try:
            chord = read(parse_chord, symbol)
        except BadInput as bad:
            yield {"symbol": symbol, "error": bad}
            continue
        tones = [{"degree": d.name, "note": str(n)} for d, n in zip(chord.degrees, chord.notes, strict=True)]
        yield {
            "symbol": symbol,
            "root": str(chord.root),
            "bass": str(chord.bass) if chord.bass else None,
            "tones": tones,
        }


def _degrees(given: argparse.Namespace) -> Iterator[Answer]:
    symbol, *typed = several(given.arguments, "a chord and its notes", "write for example A7 C# E")
    if not typed:
        raise BadInput(symbol, 1, "has no notes behind it", f"write for example {symbol} C# E")
    chord = read(parse_chord, symbol)
    notes: list[Answer] = []
    for text in typed:
        try:
            note = read(parse_pitch, text)
        except BadInput as bad:
            notes.append({"note": text, "error": bad})
            continue
        named = name_over(chord, note)
        also = [degree.name for degree in named.also]
        notes.append({"note": str(note), "degree": named.degree.name, "also": also, "role": named.role})
    yield {"chord": symbol, "notes": notes}


def _arpeggio(given: argparse.Namespace) -> Iterator[Answer]:
    (symbol,) = exactly(given.arguments, 1, "a chord", "write for example A7")
    start = read(_start, given.start)
    key = None if given.key is None else read(parse_key, given.key)
    chord = read(parse_chord, symbol)
    found = read(lambda _: arpeggio(chord, start, key), symbol)
    text = say("{notes:row} over {chord}: {degrees:run}.", notes=found.notes, chord=chord, degrees=found.degrees)
    if found.own:
        text = say("{own}: {text}", own=found.own, text=text)
    if "b9" in [d.name for d in found.degrees] and family_of(chord).name == "half-diminished":
        text = say("{text} A natural 9 is also usual.", text=text)
    yield {
        "chord": symbol,
        "from": found.start,
        "notes": [str(note) for note in found.notes],
        "degrees": [degree.name for degree in found.degrees],
        "name": found.own.symbol if found.own else None,
        "text": render(text),
    }


def _start(text: str) -> int:
    if text not in [str(start) for start in STARTS]:
        raise BadInput(text, 1, "is no tone to start from", "write --from 1, 3, 5 or 7")
    return int(text)


def _resolve(given: argparse.Namespace) -> Iterator[Answer]:
    symbol, following, text = exactly(
        given.arguments, 3, "a chord, the next chord and a note", "write for example G7 Cmaj7 F4"
    )
    chord, into = read(parse_chord, symbol), read(parse_chord, following)
    note = read(parse_pitch, text)
    steps = [
        {"note": str(step.note), "degree": step.degree.name, "semitones": step.semitones}
        for step in steps_into(note, into)
    ]
    start = {"note": str(note), "degree": name_over(chord, note).degree.name}
    yield {"chord": symbol, "next": following, "from": start, "to": steps}


VERBS = {
    "chord": Verb(_chord, "the tones of chord symbols", ("symbols", "SYMBOL")),
    "degrees": Verb(_degrees, "what notes are over a chord", ("arguments", "CHORD NOTE")),
    "arpeggio": Verb(
        _arpeggio, "the four-note arpeggio from a tone of a chord", ("arguments", "CHORD"),
        (("--from", {"dest": "start", "default": "3", "metavar": "3", "help": "the tone to start from: 1, 3, 5 or 7"}),
         ("--in", {"dest": "key", "metavar": "KEY", "help": "the key that decides the tones above the seventh"})),
    ),
    "resolve": Verb(_resolve, "where a note can go when the chord changes", ("arguments", "CHORD NEXT NOTE")),
}  # fmt: skip
