"""Reading chord symbols as musicians write them.

A symbol is a root, at most one quality, at most one number, then modifiers in
any order and bracketing, then perhaps a bass. What is read is put together by
the usual rules of chord-symbol spelling: a number stands for the whole stack
of thirds below it; an altered tone takes the place of the natural one; the
natural 11 is left out of a 13 chord with a major third.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from engine.theory.bad_input import BadInput
from engine.theory.chord import Chord, chord_of
from engine.theory.degree import Degree
from engine.theory.pitch import LETTERS, TYPED_ACCIDENTALS, Pitch

CHORD_EXAMPLE = "write a chord such as Bb7, F#m7b5 or Cmaj7/E"
LONGEST = 40

_ROOT = re.compile(r"([A-G])([b#♭♯♮]?)")
_BASS = re.compile(r"/([A-G])([b#♭♯♮]?)$")
_MAJOR = r"maj(?:or)?|Maj|MAJ|[Mm]a(?!dd|j|ug)|MA(?!J)|M(?![aAiI])|j"
_DELTA = "[Δ△∆]"
# What may stand right after the root, first match wins.
QUALITIES = (
    ("minor", re.compile(r"min(?:or)?|Min|MIN|mi|Mi|MI|m(?!a(?:j|\d|$|[ (/]))|-(?![5])")),
    ("major", re.compile(_MAJOR)),
    ("delta", re.compile(_DELTA)),
    ("half-diminished", re.compile("[øØ]")),
    ("diminished", re.compile(r"dim(?:inished)?|Dim|DIM|[°º]|o(?!mit)")),
    ("augmented", re.compile(r"aug(?:mented)?|Aug|AUG|\+(?!5|11)")),
    ("dominant", re.compile(r"dom")),
)
# The major seventh behind a triad: Cm(maj7), C(maj7), Csus4(maj7).
_MAJOR_SEVENTH = re.compile(rf"(?:/?(?:{_MAJOR})|/?{_DELTA}|#)(?:7|(?=9|11|13)|(?<=[Δ△∆]))")
_NUMBER = re.compile(r"6/9|69|13|11|[679]")
_NUMBER_OF_TRIAD = re.compile("[245](?![0-9])")
_SUS = re.compile(r"sus(2/?4|4|2)?")
_ADD = re.compile(r"add([b#♭♯]?)(13|11|[2469])")
_NO = re.compile(r"(?:no|omit)([35])")
_ALTERED = re.compile(r"([b#♭♯+-])(13|11|[24-79])")
_NATURAL = re.compile(r"13|11|[69]")
ALTERATIONS = {
    "b2": "b9", "b5": "b5", "b6": "b6", "b9": "b9", "b13": "b13",
    "#4": "#11", "#5": "#5", "#9": "#9", "#11": "#11",
}  # fmt: skip
_SEPARATORS = {"(": ")", "[": "]"}


@dataclass
class _Reading:
    """What has been read so far, before it is put together."""

    quality: str = ""
    number: str = ""
    raised_seventh: bool = False
    sus: str | None = None
    alt: bool = False
    altered: set[str] = field(default_factory=set)
    added: set[str] = field(default_factory=set)
    left_out: set[str] = field(default_factory=set)


def parse_chord(symbol: str) -> Chord:
    """Read a chord symbol; BadInput, with its column, where it is none.

    Any of the 21 roots and basses with at most one accidental is read.
    """
    if len(symbol) > LONGEST:
        raise BadInput(symbol, 1, f"is longer than {LONGEST} signs", CHORD_EXAMPLE)
    found = _ROOT.match(symbol)
    if not found:
        raise _not_a_root(symbol)
    root = _pitch(found)
    bass = _BASS.search(symbol, found.end())
    end = bass.start() if bass else len(symbol)
    degrees = _together(_read(symbol, found.end(), end))
    return Chord(root, degrees, symbol[found.end() : end], _pitch(bass) if bass else None)


def parse_kind(text: str) -> str:
    """The ``KINDS`` name of a chord kind written as a suffix: ``ø`` is ``m7b5``, ``maj`` the triad."""
    try:
        chord = parse_chord("C" + text)
        kind = chord.kind if text and not chord.bass else None
    except BadInput:
        kind = None
    if kind is None:
        raise BadInput(text, 1, "is no kind of chord", "write kinds such as maj7,m7,7,m7b5")
    return kind


def _pitch(found: re.Match[str]) -> Pitch:
    return Pitch(LETTERS.index(found[1]), TYPED_ACCIDENTALS[found[2]])


def _not_a_root(symbol: str) -> BadInput:
    if not symbol.strip():
        return BadInput(symbol, 1, "is empty", CHORD_EXAMPLE)
    if symbol.upper().replace(".", "").startswith("NC"):
        return BadInput(symbol, 1, "means no chord", CHORD_EXAMPLE)
    if symbol[0] in "abcdefg":
        return BadInput(symbol, 1, "does not start with a capital letter", f"write {symbol[0].upper()}{symbol[1:]}")
    return BadInput(symbol, 1, "does not start with a root", CHORD_EXAMPLE)


def _read(symbol: str, at: int, end: int) -> _Reading:
    """Read everything between the root and the bass."""
    reading = _Reading()
    for quality, pattern in QUALITIES:
        found = pattern.match(symbol, at, end)
        if found:
            reading.quality = quality
            at = found.end()
            break
    if reading.quality in ("minor", "diminished", "augmented"):
        found = _MAJOR_SEVENTH.match(symbol, at, end)
        if found:
            reading.raised_seventh = True
            at = found.end()
    found = _NUMBER.match(symbol, at, end)
    if not found and not reading.quality:
        found = _NUMBER_OF_TRIAD.match(symbol, at, end)
    if found:
        reading.number = found[0]
        at = found.end()
        if reading.number == "7" and not reading.quality and symbol[at:end] == "M":
            reading.quality, at = "major", end
    open_brackets: list[tuple[str, int]] = []
    while at < end:
        at = _modifier(symbol, at, end, reading, open_brackets)
    if open_brackets:
        bracket, place = open_brackets[-1]
        raise BadInput(bracket, place + 1, "is never closed", f"close it with {_SEPARATORS[bracket]}")
    return reading


def _modifier(symbol: str, at: int, end: int, reading: _Reading, brackets: list[tuple[str, int]]) -> int:
    """Read one modifier, bracket or separator that starts at ``at``; return where it ends."""
    char = symbol[at]
    if char in _SEPARATORS:
        brackets.append((char, at))
        return at + 1
    if brackets and char == _SEPARATORS[brackets[-1][0]] and symbol[at - 1] not in "([":
        brackets.pop()
        return at + 1
    if char in ",/ " and (brackets or (char == "/" and at + 1 < end and symbol[at + 1] in "b#♭♯123456789")):
        return at + 1
    if found := _SUS.match(symbol, at, end):
        if reading.sus is not None:
            raise BadInput(found[0], at + 1, "suspends the third a second time", CHORD_EXAMPLE)
        reading.sus = found[1] or "4"
        late = None if reading.number or found[1] else re.compile("7|9|13").match(symbol, found.end(), end)
        if late:
            reading.number = late[0]
            return late.end()
        return found.end()
    if found := re.compile("alt|Alt|ALT").match(symbol, at, end):
        if reading.quality not in ("", "dominant") or reading.number not in ("", "7"):
            raise BadInput(found[0], at + 1, "goes with a dominant only", "write C7alt")
        reading.alt = True
        return found.end()
    if found := _ADD.match(symbol, at, end):
        sign = found[1].replace("♭", "b").replace("♯", "#")
        degree = ALTERATIONS.get(sign + found[2]) if sign else found[2]
        if degree:
            (reading.altered if sign else reading.added).add(degree)
            return found.end()
    if found := _NO.match(symbol, at, end):
        reading.left_out.add(found[1])
        return found.end()
    if (
        (found := _MAJOR_SEVENTH.match(symbol, at, end))
        and reading.quality in ("", "minor", "diminished", "augmented")
        and not (reading.raised_seventh or reading.number)
    ):
        reading.raised_seventh = True
        number = None if symbol[at : found.end()].endswith("7") else _NUMBER.match(symbol, found.end(), end)
        reading.number = number[0] if number else "7"
        return number.end() if number else found.end()
    if found := _ALTERED.match(symbol, at, end):
        sign = {"♭": "b", "-": "b", "♯": "#", "+": "#"}.get(found[1], found[1])
        degree = ALTERATIONS.get(sign + found[2])
        if degree:
            reading.altered.add(degree)
            return found.end()
    if (found := re.compile(r"\+|aug").match(symbol, at, end)) and not reading.quality:
        reading.altered.add("#5")
        return found.end()
    inside = bool(brackets) or symbol[at - 1] in ",/)]"
    if inside and (found := _NATURAL.match(symbol, at, end)):
        reading.added.add(found[0])
        return found.end()
    if char in ")]":
        empty = brackets and symbol[at - 1] in "(["
        problem = "closes nothing" if empty or not brackets else "closes another bracket"
        raise BadInput(char, at + 1, problem, CHORD_EXAMPLE)
    if char == "/":
        raise BadInput(symbol[at:end], at + 1, "is no bass note", "write a bass such as C/E or Am7/G")
    raise BadInput(symbol[at:end], at + 1, "is not part of a chord symbol", CHORD_EXAMPLE)


def _together(reading: _Reading) -> tuple[Degree, ...]:
    """Put what was read together: the degrees, thirds stacked upwards."""
    if reading.alt:
        return chord_of(Pitch(0), "7alt").degrees
    seventh = _seventh(reading)
    names = {"1"} | _third(reading) | _fifth(reading)
    if seventh:
        names.add(seventh)
    if reading.number in ("6", "6/9", "69"):
        names.add("6")
    minor_third = "b3" in names
    stack = {
        "6/9": {"9"}, "69": {"9"}, "2": {"9"}, "9": {"9"}, "11": {"9", "11"},
        "13": {"9", "13", "11"} if minor_third else {"9", "13"},
    }.get(reading.number, set())  # fmt: skip
    for natural, instead in (("9", {"b9", "#9"}), ("11", {"#11"}), ("13", {"b13"})):
        if reading.altered & instead:
            stack.discard(natural)
    names |= stack
    for degree in reading.altered - {"b5", "#5"}:
        names.add("b13" if degree == "b6" and seventh else degree)
    for degree in reading.added:
        names.add({"2": "9", "4": "11", "6": "13" if seventh else "6"}.get(degree, degree))
    names -= {name for name in names if name in ("3", "b3") and "3" in reading.left_out}
    names -= {name for name in names if name == "5" and "5" in reading.left_out}
    degrees = [Degree(name) for name in names]
    return tuple(sorted(degrees, key=lambda degree: (degree.rung, degree.semitones)))


def _third(reading: _Reading) -> set[str]:
    if reading.number == "4" and reading.sus is None:
        reading.sus = "4"
    if reading.sus is not None:
        return {"2": {"9"}, "4": {"11"}}.get(reading.sus, {"9", "11"})
    if reading.number == "5" and not reading.quality:
        return set()
    return {"b3"} if reading.quality in ("minor", "diminished", "half-diminished") else {"3"}


def _fifth(reading: _Reading) -> set[str]:
    own = {"diminished": "b5", "half-diminished": "b5", "augmented": "#5"}.get(reading.quality)
    altered = reading.altered & {"b5", "#5"}
    return (altered | {own}) if own else (altered or {"5"})


def _seventh(reading: _Reading) -> str | None:
    if reading.raised_seventh or reading.quality == "delta":
        return None if reading.number in ("6", "6/9", "69") else "7"
    if reading.quality == "half-diminished":
        return "b7"
    if reading.number in ("7", "9", "11", "13"):
        return {"major": "7", "diminished": "bb7"}.get(reading.quality, "b7")
    return None
