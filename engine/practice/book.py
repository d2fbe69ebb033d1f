"""The line book: what its index tells of each line, and what is found in it."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass

from engine.lines.devices.recognise import Analysis
from engine.lines.landing import landing_of
from engine.lines.use import use_of
from engine.theory.bad_input import BadInput
from engine.theory.degree import Degree, parse_degree

MOST_NEIGHBOURS = 4
# Players who count within the octave write these.
_LOWER = {"2": "9", "b2": "b9", "♭2": "b9", "#2": "#9", "♯2": "#9", "#4": "#11", "♯4": "#11"}
DEGREES_EXAMPLE = "write degrees such as 3 5 b7 9"


@dataclass(frozen=True, slots=True)
class Entry:
    """A line of the book.

    ``use`` is a row of ``USES``; ``degrees`` are those of its notes, in order;
    ``landing`` is a degree, empty where it has none; ``says`` is why it is worth keeping.
    """

    slug: str
    title: str
    key: str
    use: str
    devices: tuple[str, ...]
    degrees: tuple[str, ...]
    landing: str
    says: str

    @property
    def first(self) -> str:
        """The degree that it starts on."""
        return self.degrees[0]


def entry_of(slug: str, analysis: Analysis) -> Entry:
    """What the index tells of a line."""
    line = analysis.line
    landing = landing_of(line)
    return Entry(
        slug, line.title, str(line.key), use_of(line),
        tuple(dict.fromkeys(found.name for found in analysis.devices)),
        tuple(heard.degree.name for heard in analysis.notes),
        landing.degree.name if landing else "",
        " ".join(line.remarks),
    )  # fmt: skip


def as_data(book: Iterable[Entry]) -> str:
    """The entries as JSON text, for a page to carry."""
    return json.dumps([asdict(entry) for entry in book], ensure_ascii=False)


def from_data(text: str) -> tuple[Entry, ...]:
    """The inverse of ``as_data``."""
    return tuple(
        Entry(**{**row, "devices": tuple(row["devices"]), "degrees": tuple(row["degrees"])}) for row in json.loads(text)
    )


def chosen(book: Iterable[Entry], wanted: Mapping[str, str]) -> tuple[Entry, ...]:
    """The entries that have all that is ``wanted``: use, device, first, landing, degrees ("3 5 b7 9"); "" is no wish.

    BadInput where the degrees cannot be read.
    """
    run = read_degrees(wanted.get("degrees", ""))
    return tuple(
        entry
        for entry in book
        if wanted.get("use", "") in ("", entry.use)
        and wanted.get("device", "") in ("", *entry.devices)
        and wanted.get("first", "") in ("", entry.first)
        and wanted.get("landing", "") in ("", entry.landing)
        and _has(entry.degrees, run)
    )


def read_degrees(text: str) -> tuple[Degree, ...]:
    """Degrees as typed, with blanks, commas or dashes between them; BadInput names the first that is none."""
    found = []
    at = 0
    for part in text.replace(",", " ").replace("–", " ").replace("-", " ").split(" "):
        if part:
            try:
                found.append(parse_degree(_LOWER.get(part, part)))
            except BadInput as bad:
                raise BadInput(part, at + 1, "is no degree", DEGREES_EXAMPLE) from bad
        at += len(part) + 1
    return tuple(found)


def _has(degrees: Sequence[str], run: Sequence[Degree]) -> bool:
    """Whether a run of degrees occurs, note after note; 9 is as good as 2 there: what counts is the sound."""
    sounds = [Degree(name).semitones % 12 for name in degrees]
    sought = [degree.semitones % 12 for degree in run]
    return any(sounds[at : at + len(sought)] == sought for at in range(len(sounds) - len(sought) + 1))


def neighbours(
    book: Sequence[Entry], devices: Iterable[str], own: str = ""
) -> tuple[tuple[Entry, tuple[str, ...]], ...]:
    """The entries that share devices with a line, and which, the rarest first; ``own`` is the line's slug, left out."""
    common = Counter(device for entry in book for device in entry.devices)
    wanted = tuple(devices)
    shared = [
        (entry, tuple(device for device in wanted if device in entry.devices)) for entry in book if entry.slug != own
    ]
    ranked = sorted(
        (pair for pair in shared if pair[1]), key=lambda pair: -sum(1 / common[device] for device in pair[1])
    )
    return tuple(ranked[:MOST_NEIGHBOURS])
