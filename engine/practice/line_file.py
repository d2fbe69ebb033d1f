"""A line as a file to take away."""

from __future__ import annotations

import re
from base64 import b64encode
from collections.abc import Callable, Mapping
from dataclasses import dataclass

from engine.formats.abc import write_abc
from engine.formats.midi import write_midi
from engine.formats.musicxml import write_musicxml
from engine.formats.text import write_text
from engine.lines.line import Line
from engine.theory.bad_input import BadInput
from engine.theory.pitch import LETTERS


@dataclass(frozen=True, slots=True)
class Format:
    """One row of ``FORMATS``: how a line is written, the ending of a file's name, and its media type."""

    write: Callable[[Line], str | bytes]
    ending: str
    media_type: str


FORMATS: Mapping[str, Format] = {
    "abc": Format(write_abc, "abc", "text/vnd.abc"),
    "musicxml": Format(write_musicxml, "musicxml", "application/vnd.recordare.musicxml+xml"),
    "midi": Format(write_midi, "mid", "audio/midi"),
    "text": Format(write_text, "txt", "text/plain"),
}
_LONGEST_NAME = 60
_SIGNS = {-1: "-flat", 0: "", 1: "-sharp"}


def line_file(line: Line, to: str) -> dict[str, str]:
    """The line as a file: its ``name``, its media ``type``, and ``text`` or ``base64``.

    BadInput for a format that is none of ``FORMATS``, CannotWrite as its writer says.
    """
    how = FORMATS.get(to)
    if how is None:
        raise BadInput(to, 1, "is no format to write", f"ask for one of {', '.join(FORMATS)}")
    content = how.write(line)
    body = {"text": content} if isinstance(content, str) else {"base64": b64encode(content).decode("ascii")}
    return {"name": f"{_name(line)}.{how.ending}", "type": how.media_type, **body}


def _name(line: Line) -> str:
    """A name that every system takes: the title's letters and digits and the key, in lower case, with hyphens."""
    title = "-".join(re.findall(r"\w+", line.title.lower()))[:_LONGEST_NAME] or "line"
    tonic = LETTERS[line.key.tonic.letter].lower() + _SIGNS[line.key.tonic.accidental]
    return f"{title}-in-{tonic}" + "-minor" * (line.key.mode == "minor")
