"""The options of a drill: one table that the command line, links and the docs all read."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Any
from urllib.parse import quote, unquote

from engine.lines.line import Line
from engine.neck.instrument import FRETS, GUITAR, INSTRUMENTS, Instrument, instrument_of, tuned, tuning_of
from engine.theory.bad_input import BadInput, shown
from engine.theory.chord_symbol import parse_kind
from engine.theory.pitch import Pitch, parse_pitch

MOST_QUESTIONS = 100_000
LARGEST_SEED = 2**53 - 1  # the largest whole number that JSON carries without loss
LONGEST_LINK = 2_000
VERSION = "1"  # of links, as their v


# What is tapped where both will do; the first is the usual one.
KEYBOARD, NECK = "keyboard", "neck"
ANSWERED_ON = (KEYBOARD, NECK)


@dataclass(frozen=True, slots=True)
class Options:
    """What a drill is asked to do. An empty ``keys`` or ``chords`` leaves the choice to the level.

    ``line``: the player's own line, for the drills about lines; it is ABC, which this folder does not read, so it is
    no row of ``OPTIONS``. ``tuning``, ``frets`` and ``at`` are for the drills on the neck: a name of ``INSTRUMENTS`` or
    open strings from low to high, the neck's frets (None: as many as is usual), the lowest fret asked about (None: the
    level's). ``on``: a row of ``ANSWERED_ON``, for the drills that can be answered on a keyboard or on the neck.
    """

    keys: tuple[Pitch, ...] = ()
    chords: tuple[str, ...] = ()
    level: int = 1
    count: int = 10
    seed: int = 1
    tuning: str = GUITAR.name
    frets: int | None = None
    at: int | None = None
    on: str = KEYBOARD
    line: Line | None = None

    @property
    def instrument(self) -> Instrument:
        """The instrument that ``tuning`` and ``frets`` describe."""
        return instrument_of(self.tuning, self.frets)


@dataclass(frozen=True, slots=True)
class Option:
    """One row of ``OPTIONS``.

    ``read`` takes what was typed and raises BadInput; ``write`` is its
    inverse. ``listed``: several values may stand there, parted by commas.
    """

    name: str
    example: str
    meaning: str
    read: Callable[[str], Any]
    write: Callable[[Any], str]
    listed: bool = False


def _whole(name: str, least: int, most: int, example: str) -> Callable[[str], int]:
    def read(text: str) -> int:
        digits = text.isascii() and text.isdigit() and len(text) < 18
        if not digits or not least <= int(text) <= most:
            raise BadInput(
                text, 1, f"is no {name}", f"write a whole number from {least} to {most}, for example {example}"
            )
        return int(text)

    return read


def _listed(read_one: Callable[[str], Any], what: str, example: str) -> Callable[[str], tuple[Any, ...]]:
    def read(text: str) -> tuple[Any, ...]:
        found: list[Any] = []
        at = 0
        for part in text.split(","):
            try:
                one = read_one(part)
            except BadInput as bad:
                raise BadInput(part, at + 1, f"is no {what}", f"write for example {example}") from bad
            if one not in found:
                found.append(one)
            at += len(part) + 1
        return tuple(found)

    return read


def _root(text: str) -> Pitch:
    pitch = parse_pitch(text)
    if pitch.octave is not None or abs(pitch.accidental) > 1:
        raise BadInput(text, 1, "is no root", "write a root such as Bb")
    return pitch


def _answered_on(text: str) -> str:
    if text not in ANSWERED_ON:
        raise BadInput(text, 1, "is nothing to answer on", f"write {' or '.join(ANSWERED_ON)}")
    return text


# As links and people write the names of instruments: seven-string-guitar.
_HYPHENED = {name.replace(" ", "-"): name for name in INSTRUMENTS}


def _tuning(text: str) -> str:
    """A name of ``INSTRUMENTS``, wherever its strings are meant; else the open strings from low to high."""
    named = _HYPHENED.get(text.strip().replace(" ", "-"))
    return named or tuning_of(tuned(text))


def _joined(values: Iterable[object]) -> str:
    return ",".join(str(value) for value in values)


_roots = _listed(_root, "root", "C,F,Bb")
_kinds = _listed(parse_kind, "kind of chord", "7,m7,maj7,m7b5")
OPTIONS = (
    Option("keys", "C,F,Bb", "roots of the chord that is shown; of a progression, its keys", _roots, _joined, True),
    Option("chords", "7,m7,maj7", "kinds of chord, maj for the triad", _kinds, _joined, True),
    Option("level", "2", "1: three common keys, 2: all twelve, 3: altered chords too", _whole("level", 1, 3, "2"), str),
    Option("count", "5", "how many questions", _whole("count", 1, MOST_QUESTIONS, "5"), str),
    Option("seed", "7", "the same seed asks the same questions", _whole("seed", 0, LARGEST_SEED, "7"), str),
    Option(
        "tuning", "E2,A2,D3,G3,B3,E4", "on the neck: open strings from low to high, or a name: bass",
        _tuning, lambda tuning: tuning.replace(" ", "-"),
    ),
    Option(
        "frets", "22", "on the neck: how many frets it has",
        _whole("number of frets", FRETS[0], FRETS[-1], "22"), str,
    ),
    Option(
        "at", "5", "on the neck: the lowest of the five frets asked about, 0 with the open strings",
        _whole("fret to begin at", 0, FRETS[-1], "5"), str,
    ),
    Option("on", "neck", "what a figure is tapped on: keyboard or neck", _answered_on, str),
)  # fmt: skip
BY_NAME = {option.name: option for option in OPTIONS}
# The rows that only the drills on the neck read, and those that only drills read which are also answered on a keyboard.
ON_THE_NECK = ("tuning", "frets", "at")
ON_EITHER = ("on",)


def read_options(typed: Mapping[str, str]) -> Options:
    """Options from what was typed for each name; BadInput at the first that cannot be read."""
    return replace(Options(), **{name: BY_NAME[name].read(text) for name, text in typed.items()})


@dataclass(frozen=True, slots=True)
class Link:
    """What the part of a link behind ``#`` says: ``options``, the names that were ``set``, and what was ``ignored``."""

    options: Options
    set: tuple[str, ...] = ()
    ignored: tuple[str, ...] = ()


def of_newer(text: str) -> list[str]:
    """A sentence where a link says that it is of a newer version than this site reads, else none."""
    versions = [value for name, _, value in (part.partition("=") for part in text.split("&")) if name == "v"]
    if all(value in ("", "0", VERSION) or not value.isascii() or not value.isdigit() for value in versions):
        return []
    return ["The link was made by a newer version of this site: what this one knows of it is used."]


def read_link(text: str) -> Link:
    """Options from a link, leniently: whatever cannot be read is left out and said in a sentence each."""
    options = Options()
    seen: list[str] = []
    ignored = of_newer(text.removeprefix("#"))
    if len(text) > LONGEST_LINK:
        return Link(options, (), (f"The link is longer than {LONGEST_LINK} signs; it was left out.",))
    for part in text.removeprefix("#").split("&"):
        name, _, value = part.partition("=")
        if not part or name == "v":
            continue
        option = BY_NAME.get(name)
        if option is None:
            ignored.append(f'"{shown(part)}" is no option of a drill and was left out.')
            continue
        if not value:
            ignored.append(f'"{shown(part)}" is empty and was left out.')
            continue
        readable = []
        for one in unquote(value).split(",") if option.listed else [unquote(value)]:
            try:
                option.read(one)
                readable.append(one)
            except BadInput as bad:
                ignored.append(f'"{shown(bad.token)}" {bad.problem} and was left out of {name}: {bad.instead}.')
        if readable:
            options = replace(options, **{name: option.read(",".join(readable))})
            seen.append(name)
    return Link(options, tuple(dict.fromkeys(seen)), tuple(ignored))


def write_link(options: Options, names: Iterable[str] | None = None) -> str:
    """The options as the part of a link behind ``#``; without ``names``, all that are not the usual ones."""
    usual = Options()
    wanted = (
        [o.name for o in OPTIONS if getattr(options, o.name) != getattr(usual, o.name)]
        if names is None
        else list(names)
    )
    parts = [f"{name}={quote(BY_NAME[name].write(getattr(options, name)), safe=',')}" for name in wanted]
    return "&".join([f"v={VERSION}", *parts])
