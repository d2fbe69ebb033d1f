"""What the verbs of the command line have in common: arguments that know their column, and what a verb is."""

from __future__ import annotations

import argparse
import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any, TypeVar

from engine.theory.bad_input import BadInput

Answer = dict[str, Any]
T = TypeVar("T")


class Word(str):
    """An argument that knows where on its line it was typed: ``at`` signs from the start, 0 on the command line."""

    at = 0


def words_of(line: str) -> list[str]:
    """The words of a line, each of which knows where it stands."""
    words: list[str] = []
    for found in re.finditer(r"\S+", line):
        word = Word(found[0])
        word.at = found.start()
        words.append(word)
    return words


def read(parse: Callable[[str], T], word: str) -> T:
    """``parse(word)``, with a fault's column counted on the line that the word stands on."""
    try:
        return parse(word)
    except BadInput as bad:
        raise bad.moved(word.at if isinstance(word, Word) else 0) from bad


def several(arguments: Sequence[str], what: str, instead: str) -> list[str]:
    """One argument or more; BadInput where there is none."""
    return list(arguments) if arguments else exactly(arguments, 1, what, instead)


def exactly(arguments: Sequence[str], count: int, what: str, instead: str) -> list[str]:
    """Exactly so many arguments; BadInput says which is one too many, or what is missing."""
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
