"""The verbs that read lines: ``line`` understands and moves them, ``export`` writes them."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path

from engine.formats.abc import read_abc
from engine.lines.aiming import Proposal, re_aimed
from engine.lines.devices.recognise import Analysis, analyse
from engine.lines.landing import landing_of
from engine.lines.line import Line
from engine.lines.moving import in_all_keys, key_for, moved_to
from engine.practice.line_file import FORMATS
from engine.terminal.arguments import Answer, Verb, exactly, read
from engine.theory.bad_input import BadInput
from engine.theory.chord_symbol import parse_chord
from engine.theory.key import parse_key
from engine.theory.wording import Text, render

_FILE = "write for example line mine.abc"
_MOST_BYTES = 2_000_000


def lines_in(path: str) -> tuple[Line, ...]:
    """The lines of an ABC file. BadInput where it cannot be had, FileFault where it cannot be read."""
    size = 0
    try:
        size = Path(path).stat().st_size
        text = Path(path).read_bytes().decode("utf-8-sig") if size <= _MOST_BYTES else ""
    except UnicodeDecodeError:
        raise BadInput(path, 1, "is no text in UTF-8", "save it as UTF-8, or give an ABC file") from None
    except (OSError, ValueError) as bad:
        reason = getattr(bad, "strerror", None) or "no such file"
        raise BadInput(path, 1, f"cannot be read ({reason.lower()})", "give the path of an ABC file") from None
    if size > _MOST_BYTES:
        raise BadInput(path, 1, f"has {size:,} bytes, too many for a file of lines", "give a file of a few lines")
    return read_abc(text)


def _line(given: argparse.Namespace) -> Iterator[Answer]:
    (path,) = exactly(given.files, 1, "a file with a line", _FILE)
    key = None if given.key is None else read(parse_key, given.key)
    following = None if given.next is None else read(parse_chord, given.next)
    if key and given.all_keys:
        raise BadInput("--key", 1, "does not go with --all-keys", "give one of them")
    for line in lines_in(path):
        proposal, changed = None, None
        if following:
            aimed = re_aimed(line, following)
            line, proposal, changed = aimed.line, aimed.proposal, aimed.text
        lines = in_all_keys(line) if given.all_keys else [moved_to(line, key_for(line, key)) if key else line]
        for moved in lines:
            yield answer_for(analyse(moved), proposal, changed)


def only_line(path: str) -> Line:
    """The one line in a file; BadInput where it cannot be had, or is not alone."""
    first, *others = lines_in(path)
    if others:
        raise BadInput(path, 1, f"has {len(others) + 1} lines", "give a file with one line")
    return first


def answer_for(analysis: Analysis, proposal: Proposal | None = None, changed: Text | None = None) -> Answer:
    """An analysed line as the command line gives it."""
    line = analysis.line
    notes = [
        {
            "note": str(heard.pitch),
            "start": beats(heard.note.start),
            "length": beats(heard.note.length),
            "chord": heard.chord.symbol,
            "degree": heard.degree.name,
            "role": heard.naming.role,
            "aims": {"chord": aim.chord.symbol, "degree": aim.degree.name} if aim else None,
        }
        for heard, aim in zip(analysis.notes, analysis.aims, strict=True)
    ]
    devices = [
        {"name": found.name, "first": found.first, "last": found.last, "text": render(found.text)}
        for found in analysis.devices
    ]
    answer: Answer = {
        "key": str(line.key),
        "title": line.title,
        "bars": [{"chord": change.chord.symbol, "beat": beats(change.beat)} for change in line.changes],
        "notes": notes,
        "devices": devices,
        "landing": _landing(line, proposal),
    }
    return answer if changed is None else {**answer, "changed": [render(changed)]}


def _landing(line: Line, proposal: Proposal | None) -> Answer | None:
    landing = landing_of(line)
    if landing:
        return {"index": landing.index, "degree": landing.degree.name, "semitones": landing.semitones}
    if proposal:
        note = str(proposal.note)
        return {"index": None, "degree": proposal.degree.name, "semitones": proposal.semitones, "note": note}
    return None


def beats(value: Fraction) -> int | float | str:
    """Beats as a number where a few binary digits say it exactly, else as ``"1/3"``."""
    if value.denominator == 1:
        return int(value)
    return float(value) if value.denominator in (2, 4, 8, 16, 32, 64) else str(value)


def _export(given: argparse.Namespace) -> Iterator[Answer]:
    (path,) = exactly(given.files, 1, "a file with a line", "write for example export mine.abc --to musicxml")
    kind = given.to
    if kind not in FORMATS:
        raise BadInput(kind or "", 1, "is no format to write", f"write --to {', '.join(FORMATS)}")
    key = None if given.key is None else read(parse_key, given.key)
    lines = [moved_to(line, key_for(line, key)) if key else line for line in lines_in(path)]
    if len(lines) > 1 and kind in ("musicxml", "midi"):
        raise BadInput(path, 1, f"has {len(lines)} lines, and a {kind} file holds one", "give a file with one line")
    written = [FORMATS[kind].write(line) for line in lines]
    texts = [one for one in written if isinstance(one, str)]
    content = "\n".join(texts) if texts else written[0]
    if given.out is not None:
        _save(given.out, content)
        if given.json:
            yield {"to": kind, "out": given.out}
    elif given.json and isinstance(content, str):
        yield {"to": kind, "file": content}
    else:
        sys.stdout.flush()
        data = content if isinstance(content, bytes) else content.encode()
        sys.stdout.buffer.write(data)
        sys.stdout.buffer.flush()


def _save(path: str, content: str | bytes) -> None:
    try:
        Path(path).write_bytes(content.encode() if isinstance(content, str) else content)
    except OSError as bad:
        reason = (bad.strerror or "it failed").lower()
        raise BadInput(path, 1, f"cannot be written ({reason})", "give a path in a folder that is there") from None


KEY = ("--key", {"metavar": "K", "help": "move it to this key; its mode stays"})
VERBS = {
    "line": Verb(
        _line, "a line understood: degrees, devices, landing, in any key", ("files", "FILE"),
        (KEY,
         ("--all-keys", {"action": "store_true", "help": "in the twelve keys, round the cycle of fourths"}),
         ("--next", {"metavar": "SYMBOL", "help": "another chord in the last one's place; the landing follows"})),
        reads_lines=False,
    ),
    "export": Verb(
        _export, "a line as a file", ("files", "FILE"),
        (("--to", {"metavar": "abc", "help": "abc, musicxml, midi or text"}), KEY,
         ("--out", {"metavar": "PATH", "help": "write the file there"})),
        reads_lines=False,
    ),
}  # fmt: skip
