"""Answer records: what is kept of every answer, once and for good, and the file they travel in.

A record is one flat JSON object. ``SPEC`` lists its fields, ``ALSO`` those that only some have; a file of records
is ``{"format": "linekeeper-records", "v": 1, "records": [...], "lines": [...]}``;
``lines`` are the records of the player's own lines (``own_records``), and older files have none.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from typing import Any, NamedTuple

from engine.drills.catalogue import BY_SLUG
from engine.drills.question import Choice, Question, plain
from engine.practice import own_records
from engine.practice.round import Plan, Round
from engine.theory.bad_input import BadInput

VERSION = 1
FORMAT = "linekeeper-records"

# Field, the types that it may have in JSON, what it says.
SPEC: tuple[tuple[str, tuple[type, ...], str], ...] = (
    ("v", (int,), "version of this format"),
    ("round", (str,), "the round it was given in: a name made by chance"),
    ("place", (int,), "which question of that round, from 0; round and place together name the answer"),
    ("of", (str,), "what the round asked: a drill's slug, mixed or mixed-by-ear"),
    ("drill", (str,), "the drill that asked the question"),
    ("rev", (int,), "revision of that drill's questions"),
    ("options", (str,), "the round's options, as in a link"),
    ("seed", (int,), "seed of the round's questions"),
    ("index", (int,), "which question of that seed"),
    ("skill", (str,), "what a right answer shows"),
    ("choice", (int,), "which choice was taken, from 0"),
    ("value", (str,), "what that choice is: a note, a degree, a chord symbol"),
    ("right", (bool,), "whether it was the right one"),
    ("mistake", (str, type(None)), "the mistake it stands for, null where it was right"),
    ("ms", (int, type(None)), "milliseconds it took with the page in view, null where not known"),
    ("at", (int,), "when: milliseconds since 1970, UTC"),
)
# The same for fields that only some records have.
ALSO: tuple[tuple[str, tuple[type, ...], str], ...] = (
    ("heard", (int,), "by ear only: how often it was played before the answer"),
)
LONGEST_FILE = 64_000_000
# A file of records is three brackets deep. Far deeper ones would be the end of the interpreter in a browser.
DEEPEST_FILE = 20
_BRACKET_OR_STRING = re.compile(r'"[^"\\]*(?:\\.[^"\\]*)*"|[\[{]|[\]}]')


def question_facts(plan: Plan, place: int, question: Question) -> dict[str, Any]:
    """What a record says of its question, whatever is answered."""
    return {
        "v": VERSION,
        "of": plan.drill,
        "drill": question.drill,
        "rev": BY_SLUG[question.drill].rev,
        "options": plan.options,
        "seed": plan.seed,
        "index": plan.indexes[place],
        "skill": question.skill,
    }


def choice_facts(choice: Choice) -> dict[str, Any]:
    """What a record says of the choice that was taken."""
    value = plain(choice.value)
    return {
        "value": " ".join(value) if isinstance(value, list) else value,
        "right": choice.right,
        "mistake": choice.mistake,
    }


def records_of(round_: Round) -> list[dict[str, Any]]:
    """What the records of a round's answers say, in the order of its questions.

    Name of the round and time are the page's to add: they are no fact of the answer.
    """
    records = []
    for place, answer in sorted(round_.chosen.items()):
        question = round_.questions[place]
        if 0 <= answer.choice < len(question.choices):
            facts = {**question_facts(round_.plan, place, question), **choice_facts(question.choices[answer.choice])}
            records.append({**facts, "place": place, "choice": answer.choice, "ms": answer.ms})
    return records


class Found(NamedTuple):
    """What is in a file: ``records`` of answers and of own ``lines``; how many entries were none and ``left_out``.

    ``settings``: those in the file, as they stand there (engine.practice.settings reads them), or None.
    """

    records: list[dict[str, Any]]
    lines: list[dict[str, Any]]
    left_out: int
    settings: Any = None


def read_file(text: str) -> Found:
    """The records of a file.

    BadInput where the whole file is none of ours, or is of a later version.
    """
    instead = "choose a file that was saved here"
    if len(text) > LONGEST_FILE:
        raise BadInput("the file", 1, "is too large to be one of records", instead)
    try:
        found = json.loads(text) if _is_shallow(text) else None
    except ValueError as fault:
        raise BadInput(text[:12], 1, "is not the start of a file of records", instead) from fault
    if not isinstance(found, Mapping) or found.get("format") != FORMAT or not isinstance(found.get("records"), list):
        raise BadInput(text[:12], 1, "is not the start of a file of records", instead)
    if found.get("v") != VERSION:
        raise BadInput(str(found.get("v")), 1, "is a version that is not known here", f"versions up to {VERSION} are")
    entries, lines = found["records"], found.get("lines", [])
    if not isinstance(lines, list):
        lines = [lines]
    records = [_fields(entry) for entry in entries if _is_record(entry)]
    kept = [entry for entry in lines if own_records.is_record(entry)]
    return Found(records, kept, len(entries) - len(records) + len(lines) - len(kept), found.get("settings"))


def _fields(record: Mapping[str, Any]) -> dict[str, Any]:
    """What a record may have; of the fields that not all have, those of the right kind."""
    fields = {name: record[name] for name, _, _ in SPEC}
    return fields | {name: record[name] for name, kinds, _ in ALSO if _is_of(record.get(name), kinds)}


def _is_shallow(text: str) -> bool:
    depth = 0
    for found in _BRACKET_OR_STRING.finditer(text):
        depth += (found[0] in "[{") - (found[0] in "]}")
        if depth > DEEPEST_FILE:
            return False
    return True


def _is_record(entry: object) -> bool:
    if not isinstance(entry, Mapping):
        return False
    return all(name in entry and _is_of(entry[name], kinds) for name, kinds, _ in SPEC)


def _is_of(value: object, kinds: tuple[type, ...]) -> bool:
    # In JSON true is no number, though in Python it is one.
    return isinstance(value, kinds) and (bool in kinds or not isinstance(value, bool))


def as_file(records: list[dict[str, Any]], lines: list[dict[str, Any]], settings: Any = None) -> str:
    """A file of records, of answers and own lines, and of settings if there are any; ``read_file`` reads it back."""
    file = {"format": FORMAT, "v": VERSION, "records": records, "lines": lines}
    if settings:
        file["settings"] = settings
    return json.dumps(file, ensure_ascii=False, indent=1)
