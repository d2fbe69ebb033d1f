"""The verb that asks a drill's questions."""

from __future__ import annotations

import argparse
from collections.abc import Iterator, Mapping
from dataclasses import replace

from engine.drills.catalogue import CATALOGUE, Stream, entry_for
from engine.drills.options import NECK, OPTIONS, Options, read_options
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
    typed = {option.name: text for option in OPTIONS if (text := getattr(given, option.name)) is not None}
    options = options_of(slug, typed)
    if given.line is not None:
        options = replace(options, line=one_line(slug, given.line))
    stream = Stream(slug, options)
    for index in range(options.count):
        yield as_json(stream[index])


def options_of(slug: str, typed: Mapping[str, str]) -> Options:
    """A drill's options from what was typed for each name; BadInput where one cannot be read or does not go with it."""
    entry, options = entry_for(slug), read_options(typed)
    for name in typed:
        if not entry.reads(name, options):
            on_neck = replace(options, on=NECK)
            those = [other.slug for other in CATALOGUE if other.reads(name, on_neck)]
            also = f"; with {slug} where it is --on {NECK}" if slug in those else ""
            listed = ", ".join(other for other in those if other != slug)
            raise BadInput(f"--{name}", 1, f"does not go with {slug}", f"it goes with {listed}{also}")
    return options


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
