"""The engine at a terminal: ``python3 -m engine VERB …``.

Without ``--json`` a short aligned table for people, with it one JSON object a
line. A bad input gets one line on standard error and exit status 2; the other
inputs of the same call are still answered.
"""

from __future__ import annotations

import argparse
import json
import os
import re
import sys
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any, NoReturn, TypeVar

from engine.drills.catalogue import CATALOGUE, Stream, entry_for
from engine.drills.options import OPTIONS, read_options
from engine.drills.question import as_json
from engine.theory.arpeggio import STARTS, arpeggio
from engine.theory.bad_input import BadInput
from engine.theory.chord_symbol import CHORD_EXAMPLE, parse_chord
from engine.theory.family import family_of
from engine.theory.key import parse_key
from engine.theory.naming import name_over
from engine.theory.pitch import parse_pitch
from engine.theory.resolution import steps_into
from engine.theory.wording import render, say

Answer = dict[str, Any]
T = TypeVar("T")


class Word(str):
    """An argument that knows where on its line it was typed: ``at`` signs from the start, 0 on the command line."""

    at = 0


def _words(line: str) -> list[str]:
    words: list[str] = []
    for found in re.finditer(r"\S+", line):
        word = Word(found[0])
        word.at = found.start()
        words.append(word)
    return words


def _read(parse: Callable[[str], T], word: str) -> T:
    """``parse(word)``, with a fault's column counted on the line that the word stands on."""
    try:
        return parse(word)
    except BadInput as bad:
        raise bad.moved(word.at if isinstance(word, Word) else 0) from bad


class _Parser(argparse.ArgumentParser):
    """An option parser that never prints more than one sentence."""

    def error(self, message: str) -> NoReturn:
        known = [string for action in self._actions for string in action.option_strings if string.startswith("--")]
        if named := re.match(r"argument (\S+): (.*)", message):
            flag = named[1].split("/")[-1]
            example = next((action.metavar for action in self._actions if flag in action.option_strings), None)
            if example is None:
                raise BadInput(flag, 1, "takes no value", f"write {flag} alone")
            raise BadInput(flag, 1, "needs a value behind it", f"write for example {flag} {example}")
        token = message.partition(": ")[2].split(" ")[0]
        raise BadInput(token, 1, "is no option here", f"write one of {' '.join(known)}")


def _chord(given: argparse.Namespace) -> Iterator[Answer]:
    for symbol in _several(given.symbols, "a chord symbol", CHORD_EXAMPLE):
        try:
            chord = _read(parse_chord, symbol)
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
    symbol, *typed = _several(given.arguments, "a chord and its notes", "write for example A7 C# E")
    if not typed:
        raise BadInput(symbol, 1, "has no notes behind it", f"write for example {symbol} C# E")
    chord = _read(parse_chord, symbol)
    notes: list[Answer] = []
    for text in typed:
        try:
            note = _read(parse_pitch, text)
        except BadInput as bad:
            notes.append({"note": text, "error": bad})
            continue
        named = name_over(chord, note)
        also = [degree.name for degree in named.also]
        notes.append({"note": str(note), "degree": named.degree.name, "also": also, "role": named.role})
    yield {"chord": symbol, "notes": notes}


def _arpeggio(given: argparse.Namespace) -> Iterator[Answer]:
    (symbol,) = _exactly(given.arguments, 1, "a chord", "write for example A7")
    start = _read(_start, given.start)
    key = None if given.key is None else _read(parse_key, given.key)
    chord = _read(parse_chord, symbol)
    found = _read(lambda _: arpeggio(chord, start, key), symbol)
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
    symbol, following, text = _exactly(
        given.arguments, 3, "a chord, the next chord and a note", "write for example G7 Cmaj7 F4"
    )
    chord, into = _read(parse_chord, symbol), _read(parse_chord, following)
    note = _read(parse_pitch, text)
    steps = [
        {"note": str(step.note), "degree": step.degree.name, "semitones": step.semitones}
        for step in steps_into(note, into)
    ]
    start = {"note": str(note), "degree": name_over(chord, note).degree.name}
    yield {"chord": symbol, "next": following, "from": start, "to": steps}


def _drill(given: argparse.Namespace) -> Iterator[Answer]:
    if given.list:
        for entry in CATALOGUE:
            yield {"slug": entry.slug, "title": entry.title, "asks": entry.asks}
        return
    slugs = ", ".join(entry.slug for entry in CATALOGUE)
    (slug,) = _exactly(given.arguments, 1, "a drill", f"write one of {slugs}, or --list")
    entry_for(slug)
    typed = {option.name: getattr(given, option.name) for option in OPTIONS}
    options = read_options({name: text for name, text in typed.items() if text is not None})
    stream = Stream(slug, options)
    for index in range(options.count):
        yield as_json(stream[index])


def _several(arguments: Sequence[str], what: str, instead: str) -> list[str]:
    return list(arguments) if arguments else _exactly(arguments, 1, what, instead)


def _exactly(arguments: Sequence[str], count: int, what: str, instead: str) -> list[str]:
    if len(arguments) > count:
        extra = arguments[count]
        raise BadInput(extra, extra.at + 1 if isinstance(extra, Word) else 1, f"is one too many after {what}", instead)
    if len(arguments) < count:
        raise BadInput(" ".join(arguments), 1, f"is too little: give {what}", instead)
    return list(arguments)


@dataclass(frozen=True)
class Verb:
    """One verb: what it does, its arguments and options, and whether it reads lines when it gets no arguments."""

    answer: Callable[[argparse.Namespace], Iterator[Answer]]
    help: str
    arguments: tuple[str, str]
    options: tuple[tuple[str, dict[str, Any]], ...] = ()
    reads_lines: bool = True


_DRILL_OPTIONS = tuple((f"--{option.name}", {"metavar": option.example, "help": option.meaning}) for option in OPTIONS)
VERBS = {
    "chord": Verb(_chord, "the tones of chord symbols", ("symbols", "SYMBOL")),
    "degrees": Verb(_degrees, "what notes are over a chord", ("arguments", "CHORD NOTE")),
    "arpeggio": Verb(
        _arpeggio, "the four-note arpeggio from a tone of a chord", ("arguments", "CHORD"),
        (("--from", {"dest": "start", "default": "3", "metavar": "3", "help": "the tone to start from: 1, 3, 5 or 7"}),
         ("--in", {"dest": "key", "metavar": "KEY", "help": "the key that decides the tones above the seventh"})),
    ),
    "resolve": Verb(_resolve, "where a note can go when the chord changes", ("arguments", "CHORD NEXT NOTE")),
    "drill": Verb(
        _drill, "questions of a drill", ("arguments", "SLUG"),
        (("--list", {"action": "store_true", "help": "list the drills"}), *_DRILL_OPTIONS), reads_lines=False,
    ),
}  # fmt: skip


def _parser(name: str, with_help: bool = True) -> _Parser:
    verb = VERBS[name]
    parser = _Parser(prog=f"python3 -m engine {name}", description=verb.help, allow_abbrev=False, add_help=with_help)
    parser.add_argument(verb.arguments[0], nargs="*", metavar=verb.arguments[1])
    parser.add_argument("--json", action="store_true", help="one JSON object a line")
    for flag, settings in verb.options:
        parser.add_argument(flag, **settings)
    return parser


class _Printer:
    """Writes answers, and counts what went wrong."""

    def __init__(self, as_json_lines: bool) -> None:
        self.as_json_lines = as_json_lines
        self.failed = False

    def fail(self, bad: BadInput, place: str) -> str:
        self.failed = True
        message = f"{place}{bad}"
        print(message, file=sys.stderr)
        return message

    def answer(self, answer: Answer, place: str = "") -> None:
        """Print one answer; faults inside it are said on standard error and stand in their place."""
        for part in [answer, *answer.get("notes", ())]:
            if isinstance(part, dict) and isinstance(part.get("error"), BadInput):
                part["error"] = self.fail(part["error"], place)
        if self.as_json_lines:
            print(json.dumps(answer, ensure_ascii=False))
        elif "error" not in answer:
            print("\n".join(_table(answer)))


def _table(answer: Answer) -> Iterator[str]:
    """An answer for people: its plain facts on one line, then a row for each member of its lists."""
    plain = {name: value for name, value in answer.items() if not isinstance(value, list) and name != "about"}
    lists = {name: value for name, value in answer.items() if isinstance(value, list) and value}
    short = [f"{name} {' '.join(value)}" for name, value in lists.items() if isinstance(value[0], str)]
    yield "  ".join([*(f"{name} {_cell(value)}" for name, value in plain.items() if value is not None), *short])
    for value in lists.values():
        if not isinstance(value[0], dict):
            continue
        rows = [[_cell(cell) for name, cell in row.items() if name != "value"] for row in value if "error" not in row]
        widths = [max(map(len, column)) for column in zip(*rows, strict=True)]
        for row in rows:
            yield "   " + "  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip()


def _cell(value: object) -> str:
    if isinstance(value, bool):
        return "right" if value else "-"
    if isinstance(value, dict):
        return ", ".join(f"{name} {fact}" for name, fact in value.items())
    return " ".join(value) if isinstance(value, list) else "-" if value is None else str(value)


def _one_call(name: str, words: list[str], printer: _Printer, place: str = "", line: str = "") -> None:
    """Answer one call; ``line`` is the line that it was typed on, "" on the command line."""
    try:
        for answer in VERBS[name].answer(_parsed(name, words, line)):
            printer.answer(answer, place)
    except BadInput as bad:
        message = printer.fail(bad, place)
        if printer.as_json_lines:
            typed = " ".join(line.split() or [word for word in words if word != "--json"])
            print(json.dumps({"input": typed, "error": message}, ensure_ascii=False))


def _parsed(name: str, words: list[str], line: str) -> argparse.Namespace:
    """The call's arguments; an option that is none is found again on its line."""
    try:
        return _parser(name, with_help=not line).parse_intermixed_args(words)
    except BadInput as bad:
        raise bad.moved(next((word.at for word in words if isinstance(word, Word) and word == bad.token), 0)) from bad


def main(arguments: Sequence[str]) -> int:
    """Run one call; returns the exit status."""
    if not arguments or arguments[0] in ("-h", "--help"):
        print("python3 -m engine VERB …\n")
        for name, verb in VERBS.items():
            print(f"  {name:9} {verb.help}")
        return 0 if arguments else 2
    name, words = arguments[0], list(arguments[1:])
    printer = _Printer("--json" in words)
    if name not in VERBS:
        printer.fail(BadInput(name, 1, "is no verb", f"write one of {', '.join(VERBS)}"), "")
        return 2
    if VERBS[name].reads_lines and _only_options(name, words) and not sys.stdin.isatty():
        for number, line in enumerate(sys.stdin, 1):
            if line.split():
                _one_call(name, [*words, *_words(line)], printer, f"line {number}, ", line)
    else:
        _one_call(name, words, printer)
    return 2 if printer.failed else 0


def _only_options(name: str, words: list[str]) -> bool:
    """Whether there are no arguments besides options and their values, so that lines are to be read."""
    if {"-h", "--help"} & set(words):
        return False
    try:
        given, unknown = _parser(name).parse_known_args(words)
    except BadInput:
        return False
    return not unknown and not getattr(given, VERBS[name].arguments[0])


if __name__ == "__main__":
    for stream in (sys.stdin, sys.stdout, sys.stderr):
        stream.reconfigure(encoding="utf-8", errors="backslashreplace")  # type: ignore[union-attr]
    try:
        status = main(sys.argv[1:])
        sys.stdout.flush()
    except BrokenPipeError:
        # The reader (head, say) has enough; what is left goes nowhere.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        status = 0
    sys.exit(status)
