"""The information fields of ABC (section 3 of the standard): title, meter, tempo, key and so on."""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from fractions import Fraction

from engine.formats.file_fault import Token
from engine.lines.line import Meter
from engine.theory.key import Key
from engine.theory.pitch import LETTERS, TYPED_ACCIDENTALS, Pitch

# Facts about a tune that change no note: area, book, discography, history, words and so on.
IGNORED = frozenset("ABDEFHORUWZrw")
# Fields that would change what is played, with what to write.
# Texts that the fields of one letter say together, joined by commas.
JOINED = {"C": "composer", "S": "source", "G": "group"}
UNSUPPORTED = {
    "P": ("names parts, which a line does not have", "write the bars out in the order in which they are played"),
    "V": ("starts a voice, but a line has one only", "give each voice its own tune, with its own X:"),
    "m": ("defines a macro, which is not read", "write the notes out"),
    "s": ("is a line of symbols, which is not read", 'write chords in quotes before their notes, such as "Dm7"'),
}
COMMON_METERS = {"C": Meter(4, 4), "C|": Meter(2, 2)}
METER_EXAMPLE = "write a meter such as M:4/4"
UNIT_EXAMPLE = "write a note length such as L:1/8"
TEMPO_EXAMPLE = "write the quarter notes a minute, such as Q:1/4=120"
KEY_EXAMPLE = "write a key such as K:Eb, or K:Cm for minor"
FASTEST = 999

_METER = re.compile(r"([0-9]{1,2})\s*/\s*(1|2|4|8|16|32)")
_FRACTION = re.compile(r"([0-9]{1,3})\s*/\s*([0-9]{1,3})")
_QUOTED = re.compile(r'"[^"]*"')
_TEMPO = re.compile(r"(?:([0-9/\s]*)=)?\s*([0-9]{1,4})")
_TONIC = re.compile(r"([A-G])([b#♭♯]?)\s*([A-Za-z]*)")
_MODES = {"": "major", "maj": "major", "ion": "major", "m": "minor", "min": "minor", "aeo": "minor"}
# The degree of the major scale on which each other mode starts: letter steps and half steps above its tonic.
_OTHER_MODES = {"dor": (1, 2), "phr": (2, 4), "lyd": (3, 5), "mix": (4, 7), "loc": (6, 11)}
_HARMLESS = re.compile(
    r"(?:clef=)?(?:treble|bass[1-5]?|alto[1-4]?|tenor|soprano|mezzosoprano|baritone|none)|stafflines=[0-9]"
    r"|(?:octave|transpose)=[+-]?0"
)
_MOVING = re.compile(r"(?:clef=)?[a-z]+[1-5]?[+-](?:8|15)|(?:octave|transpose|middle|m|t)=.*")
_ESCAPED = re.compile(r"\\([\\%&])")
_PROPAGATION = re.compile(r"\s*propagate-accidentals\s+(?!pitch\b)(\S*)")


@dataclass
class Header:
    """What the fields of a tune have said so far; ``last`` is the field that a ``+:`` line goes on with."""

    number: int | None = None
    title: str = ""
    composer: str = ""
    source: str = ""
    group: str = ""
    meter: Meter = field(default_factory=Meter)
    unit: Fraction | None = None
    tempo: int | None = None
    remarks: list[str] = field(default_factory=list)
    key: Key | None = None
    last: str = ""

    @property
    def note_length(self) -> Fraction:
        """The unit note length in quarter notes; without L: a sixteenth below 3/4, else an eighth (section 3.1.7)."""
        if self.unit is not None:
            return self.unit
        return Fraction(1, 4) if self.meter.bar < 3 else Fraction(1, 2)

    def copied(self) -> Header:
        """A header of its own that starts with the same values."""
        return replace(self, remarks=[*self.remarks])


def read_field(header: Header, name: Token, value: Token, playing: bool) -> None:
    """Put the field ``name`` (such as ``M:``) into the header; FileFault where it cannot be.

    Once notes have been read (``playing``), a new meter, key or tempo is a fault,
    because a line has one of each. A second title is left out; composers, sources and groups are joined.
    """
    letter = name.text[0]
    value = value.stripped()
    text = plain(value.text)
    if letter == "T":
        header.title = header.title or text
    elif letter in JOINED:
        _add(header, JOINED[letter], ", ", text)
    elif letter == "N" and text:
        header.remarks.append(text)
    elif letter == "+":
        _go_on(header, text)
        return
    elif letter == "X":
        header.number = _number(name, value)
    elif letter == "L":
        header.unit = _unit(name, value)
    elif letter in ("M", "Q", "K"):
        _set_once(header, letter, name, value, playing)
    elif letter == "I":
        check_instruction(value)
    elif letter in UNSUPPORTED:
        raise name.fault(*UNSUPPORTED[letter])
    elif letter not in IGNORED and letter != "N":
        raise name.fault("is no field that is known here", "take the line out, or write N: for a remark")
    header.last = letter


def check_instruction(value: Token) -> None:
    """FileFault where an instruction changes how accidentals hold; all others change no note."""
    if _PROPAGATION.match(value.text):
        problem = "changes how long accidentals hold"
        raise value.fault(problem, "take it out: they hold to the end of the bar, in every octave")


def plain(text: str) -> str:
    """A text field with the escaped signs that would start a comment or an escape as themselves."""
    return _ESCAPED.sub(r"\1", text)


def _add(header: Header, name: str, between: str, text: str) -> None:
    setattr(header, name, between.join(part for part in (getattr(header, name), text) if part))


def _go_on(header: Header, text: str) -> None:
    if header.last == "T":
        _add(header, "title", " ", text)
    elif header.last in JOINED:
        _add(header, JOINED[header.last], " ", text)
    elif header.last == "N" and header.remarks:
        header.remarks[-1] = f"{header.remarks[-1]} {text}".strip()


def _set_once(header: Header, letter: str, name: Token, value: Token, playing: bool) -> None:
    """The fields of which a line has one value from its first note on."""
    old = (header.meter, header.tempo, header.key)
    if letter == "M":
        header.meter = _meter(name, value)
    elif letter == "Q":
        header.tempo = _tempo(name, value)
    else:
        header.key = _key(name, value)
    if playing and old != (header.meter, header.tempo, header.key):
        what = {"M": "meter", "Q": "tempo", "K": "key"}[letter]
        raise name.fault(f"changes the {what} inside the line", f"keep one {what}, or start a new tune with X: there")


def _number(name: Token, value: Token) -> int:
    if not re.fullmatch("[0-9]{1,6}", value.text):
        raise (value if value.text else name).fault("is no tune number", "write a number such as X:1")
    return int(value.text)


def _meter(name: Token, value: Token) -> Meter:
    if value.text in COMMON_METERS:
        return COMMON_METERS[value.text]
    if value.text in ("", "none"):
        raise (value if value.text else name).fault("is no meter that a line can have", METER_EXAMPLE)
    found = _METER.fullmatch(value.text)
    if not found or not int(found[1]):
        raise value.fault("is no meter", METER_EXAMPLE)
    return Meter(int(found[1]), int(found[2]))


def _unit(name: Token, value: Token) -> Fraction:
    """A note length in quarter notes."""
    if value.text == "1":
        return Fraction(4)
    found = _FRACTION.fullmatch(value.text)
    if not found or not (int(found[1]) and int(found[2])):
        raise (value if value.text else name).fault("is no note length", UNIT_EXAMPLE)
    return Fraction(4 * int(found[1]), int(found[2]))


def _tempo(name: Token, value: Token) -> int | None:
    """Quarter notes a minute, rounded; None for a tempo in words alone. A bare number counts quarter notes."""
    number = _QUOTED.sub(lambda found: " " * len(found[0]), value.text)
    if not number.strip():
        if not value.text:
            raise name.fault("has no tempo", TEMPO_EXAMPLE)
        return None
    found = _TEMPO.fullmatch(number.strip())
    beats = found[1].split() if found and found[1] is not None else ["1/4"]
    lengths = [_FRACTION.fullmatch(beat) for beat in beats]
    if not found or not beats or not all(length and int(length[2]) for length in lengths):
        raise value.fault("is no tempo", TEMPO_EXAMPLE)
    beat = sum((Fraction(4 * int(length[1]), int(length[2])) for length in lengths if length), Fraction(0))
    # Half a beat a minute is rounded up.
    tempo = int(beat * int(found[2]) + Fraction(1, 2))
    if not 1 <= tempo <= FASTEST:
        raise value.fault(f"is {tempo} quarter notes a minute", f"write a tempo from 1 to {FASTEST}")
    return tempo


def _key(name: Token, value: Token) -> Key:
    found = _TONIC.match(value.text)
    if not found:
        raise (value if value.text else name).fault("is no key that a line can have", KEY_EXAMPLE)
    tonic = Pitch(LETTERS.index(found[1]), TYPED_ACCIDENTALS[found[2]])
    end = found.end()
    word = found[3]
    # A clef may stand right behind the tonic, where a mode could be.
    if "=" in value.text[end : end + 1] or _HARMLESS.fullmatch(word) or _MOVING.fullmatch(value.text[found.start(3) :]):
        word, end = "", found.start(3)
    mode = _MODES.get(word.lower() if word == "m" or len(word) < 3 else word[:3].lower())
    if word == "M":
        mode = None
    other = _OTHER_MODES.get(word[:3].lower())
    if other:
        steps, half_steps = other
        same = tonic.up(-steps, -half_steps)
        raise value.cut(0, end).fault("is a mode that is not read", f"write the major key of its signature, K:{same}")
    if mode is None:
        raise value.cut(found.start(3), end).fault("is no mode", KEY_EXAMPLE)
    for setting in re.finditer(r"\S+", value.text[end:]):
        token = value.cut(end + setting.start(), end + setting.end())
        if _MOVING.fullmatch(token.text) and not _HARMLESS.fullmatch(token.text):
            raise token.fault("moves the notes away from where they sound", "write them as they sound, without it")
        if not _HARMLESS.fullmatch(token.text):
            raise token.fault("does not belong to a key", KEY_EXAMPLE)
    return Key(tonic, mode)
