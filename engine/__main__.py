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
from collections.abc import Iterator, Sequence
from typing import NoReturn

from engine.terminal import drill_verbs, finger_verb, line_verbs, theory_verbs
from engine.terminal.arguments import Answer, Word, words_of
from engine.theory.bad_input import BadInput


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


VERBS = {**theory_verbs.VERBS, **line_verbs.VERBS, **finger_verb.VERBS, **drill_verbs.VERBS}


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
        return ", ".join(f"{name} {_cell(fact)}" for name, fact in value.items())
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
                _one_call(name, [*words, *words_of(line)], printer, f"line {number}, ", line)
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
