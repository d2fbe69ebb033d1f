"""The verb that asks a drill's questions."""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from dataclasses import replace

from engine.drills.catalogue import CATALOGUE, Stream, entry_for
from engine.drills.options import OPTIONS, read_options
from engine.drills.question import as_json
from engine.lines.line import Line
from engine.terminal.arguments import Answer, Verb, exactly
from engine.terminal.line_verbs import only_line
from engine.theory.bad_input import BadInput


def _drill(given: argparse.Namespace) -> Iterator[Answer]:
    if given.list:
        for entry in CATALOGUE:
            yield {"slug": entry.slug, "title": entry.title, "asks": entry.asks}
        return
    slugs = ", ".join(entry.slug for entry in CATALOGUE)
    (slug,) = exactly(given.arguments, 1, "a drill", f"write one of {slugs}, or --list")
    entry_for(slug)
    typed = {option.name: getattr(given, option.name) for option in OPTIONS}
    options = read_options({name: text for name, text in typed.items() if text is not None})
    if given.line is not None:
        options = replace(options, line=one_line(slug, given.line))
    stream = Stream(slug, options)
    for index in range(options.count):
        yield as_json(stream[index])


def one_line(slug: str, path: str) -> Line:
    """The line in a file that a drill is to ask about; BadInput where it cannot be had, or the drill takes none."""
    takers = [entry.slug for entry in CATALOGUE if entry.takes_line]
    if slug not in takers:
        raise BadInput("--line", 1, f"does not go with {slug}", f"it goes with {', '.join(takers)}")
    return only_line(path)


_DRILL_OPTIONS = tuple((f"--{option.name}", {"metavar": option.example, "help": option.meaning}) for option in OPTIONS)
VERBS = {
    "drill": Verb(
        _drill, "questions of a drill", ("arguments", "SLUG"),
        (("--list", {"action": "store_true", "help": "list the drills"}), *_DRILL_OPTIONS,
         ("--line", {"metavar": "mine.abc", "help": "the line that the drills about lines ask about"})),
        reads_lines=False,
    ),
}  # fmt: skip
