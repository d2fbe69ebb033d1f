"""The music of a tune in ABC (section 4 of the standard): from signs to notes and chords in exact beats."""

from __future__ import annotations

import re
from dataclasses import dataclass
from fractions import Fraction

from engine.formats.abc_fields import Header, read_field
from engine.formats.abc_signs import (
    LONGEST_NUMBER,
    SIGN,
    TUPLETS,
    UNSUPPORTED,
    length_of,
    pitch_of,
)
from engine.formats.file_fault import FileFault, Token
from engine.lines.line import Change, Line, Note, merged
from engine.theory.bad_input import BadInput
from engine.theory.chord import Chord
from engine.theory.chord_symbol import parse_chord
from engine.theory.pitch import Pitch

MOST = 4000
LENGTH_EXAMPLE = f"write lengths such as c2, c/2 or c3/2, with numbers from 1 to {10**LONGEST_NUMBER - 1}"


@dataclass
class Item:
    """A note, or a rest (``pitch`` is None). ``length`` is in quarter notes, ``chord`` the one that starts here."""

    token: Token
    pitch: Pitch | None
    length: Fraction
    chord: Chord | None
    tied: bool = False
    whole_bars: int = 0
    broken: bool = False


@dataclass
class Tuplet:
    """A tuplet that is still open: each of the next ``left`` items lasts ``ratio`` of what is written."""

    token: Token
    ratio: Fraction
    left: int


class Music:
    """The notes of one tune, read sign by sign."""

    def __init__(self, header: Header) -> None:
        self.header = header
        self.items: list[Item] = []
        # Where each bar starts in ``items``; the last bar may still be empty.
        self.bars = [0]
        self.altered: dict[int, int] = {}  # by letter, in every octave
        self.chord: tuple[Token, Chord] | None = None
        self.tie: Token | None = None
        self.tuplet: Tuplet | None = None
        self.broken: Token | None = None
        # The last bar's fault if another bar follows: only the last may be short.
        self.short: FileFault | None = None
        self.pickup = Fraction(0)
        self.resting = 0

    def read(self, line: Token) -> None:
        """Read one line of music."""
        at, end = 0, len(line.text)
        while at < end:
            found = SIGN.match(line.text, at)
            if not found or not found.lastgroup:
                raise line.cut(at, at + 1).fault("is no sign of music", "write notes as A to G or a to g, rests as z")
            kind = found.lastgroup
            if kind != "skipped":
                token = Token(found[0], line.line, line.column + at)
                if kind in UNSUPPORTED:
                    raise token.fault(*UNSUPPORTED[kind])
                getattr(self, f"_{kind}")(token, found)
            at = found.end()

    def field(self, name: Token, value: Token) -> None:
        """A field between the notes."""
        if name.text[0] == "X":
            raise name.fault("starts a new tune inside a line of music", "start a tune on a line of its own")
        read_field(self.header, name, value, bool(self.items))

    def finished(self, start: Token, number: int, earlier: int) -> Line:
        """The line; ``start`` is where the tune starts, ``earlier`` how many notes stand before it in the file."""
        self._end_bar()
        if len(self.bars) <= 2:
            # A bar with no other after it is no pickup.
            self.pickup = Fraction(0)
        if self.tie:
            raise self.tie.fault("ties the last note to nothing", "take it out, or write the note that it leads to")
        if self.chord:
            raise self.chord[0].fault("is a chord before no note", "write it before a note or a rest, such as z4")
        if not any(item.pitch for item in self.items):
            raise start.fault("starts a tune with nothing to play", "write notes below its K: line")
        if not any(item.chord for item in self.items):
            first = self.items[0].token
            raise first.fault("has no chord", 'write a chord in quotes before the first note, such as "Dm7"')
        if earlier + len(self.items) > MOST:
            raise self.items[MOST - earlier].token.fault("is one note too many", f"keep to {MOST} notes in a file")
        return self._line(number)

    def _line(self, number: int) -> Line:
        header = self.header
        beat = begin = -self.pickup
        notes: list[Note] = []
        changes: list[Change] = []
        tied = False
        for item in self.items:
            if item.chord:
                changes.append(Change(item.chord, beat))
            if item.pitch and tied:
                notes[-1] = Note(notes[-1].pitch, notes[-1].start, notes[-1].length + item.length)
            elif item.pitch:
                notes.append(Note(item.pitch, beat, item.length))
            tied = item.tied
            beat += item.length
        # The first chord holds from the beginning.
        changes[0] = Change(changes[0].chord, min(changes[0].beat, Fraction(0)))
        if header.key is None:
            raise ValueError("a tune is read after its key")
        return Line(
            header.key, header.meter, tuple(notes), merged(tuple(changes)), begin, beat,
            header.title, number, header.composer, header.tempo, tuple(header.remarks), header.source, header.group,
        )  # fmt: skip

    def _append(self, token: Token, pitch: Pitch | None, length: Fraction, whole_bars: int = 0) -> None:
        if self.short:
            raise self.short
        if len(self.items) == MOST:
            raise token.fault("is one note too many", f"keep to {MOST} notes in a file")
        if self.tuplet:
            length *= self.tuplet.ratio
            self.tuplet.left -= 1
            if not self.tuplet.left:
                self.tuplet = None
        item = Item(token, pitch, length, self.chord[1] if self.chord else None, whole_bars=whole_bars)
        if self.broken:
            self._break(self.items[-1], item, self.broken)
        self.items.append(item)
        self.chord = self.tie = self.broken = None

    def _break(self, first: Item, second: Item, sign: Token) -> None:
        """Lengthen one note and shorten the other (section 4.4): ``>`` to 3/2 and 1/2, ``>>`` to 7/4 and 1/4."""
        if first.broken:
            raise sign.fault("breaks a note for the second time", "write these lengths out, such as c3/2 d/2")
        short = Fraction(1, 2 ** len(sign.text))
        long = 2 - short
        first.length *= long if ">" in sign.text else short
        second.length *= short if ">" in sign.text else long
        second.broken = True

    def _note(self, token: Token, found: re.Match[str]) -> None:
        length = self._length(token, found["length"])
        written, letter, octave = pitch_of(found)
        place = (letter, octave)
        held = self.items[-1].pitch if self.tie else None
        if written is not None:
            self.altered[letter] = written
            accidental = written
        elif held and (held.letter, held.octave) == place:
            accidental = held.accidental
        elif letter in self.altered:
            accidental = self.altered[letter]
        else:
            accidental = self.header.key.on_letter(letter).accidental if self.header.key else 0
        pitch = Pitch(letter, accidental, octave)
        if not 0 <= pitch.midi <= 127:
            raise token.fault("is out of the range of MIDI", "write a note from C,,,,, to g'''''")
        if held and pitch != held:
            problem = f"is tied to {held}, another note"
            raise token.fault(problem, "tie a note to the same note, or write a slur ( ) instead")
        self._append(token, pitch, length)

    def _rest(self, token: Token, found: re.Match[str]) -> None:
        self._no_tie(token)
        self._append(token, None, self._length(token, found["silence"]))

    def _bars_of_rest(self, token: Token, found: re.Match[str]) -> None:
        self._no_tie(token)
        if self.tuplet:
            raise token.fault("rests for whole bars inside a tuplet", "write z for a rest in it")
        count = self._length(token, found["count"]) / self.header.note_length
        if count.denominator != 1:
            raise token.fault("is no number of bars", "write Z for a bar, Z4 for four")
        self.resting += int(count)
        if self.resting > MOST:
            raise token.fault("rests for too many bars", f"keep to {MOST} bars of rest")
        self._append(token, None, count * self.header.meter.bar, int(count))

    def _no_tie(self, token: Token) -> None:
        if self.tie:
            raise token.fault("is a rest, and a note is tied to it", "tie a note to the same note")

    def _length(self, token: Token, text: str) -> Fraction:
        length = length_of(text)
        if not length:
            raise token.fault("has no length that can be read", LENGTH_EXAMPLE)
        return length * self.header.note_length

    def _tie(self, token: Token, _: re.Match[str]) -> None:
        if not self.items or not self.items[-1].pitch or self.tie:
            raise token.fault("ties no note", "write a tie right behind its note")
        self.items[-1].tied = True
        self.tie = token

    def _broken(self, token: Token, _: re.Match[str]) -> None:
        if len(self.items) == self.bars[-1] or self.broken:
            raise token.fault("stands between no two notes of a bar", "write it between two notes, such as c>d")
        if len(token.text) > 3 or self.items[-1].whole_bars:
            raise token.fault("breaks a note too far", "write >, >> or >>> between two notes")
        self.broken = token

    def _tuplet(self, token: Token, found: re.Match[str]) -> None:
        if self.tuplet:
            raise token.fault("starts a tuplet inside another", f"end {self.tuplet.token.text} first")
        count = int(found["p"])
        meter = self.header.meter
        compound = meter.beats % 3 == 0 and meter.beats > 3
        usual = TUPLETS.get(count, 3 if compound else 2)
        time, left = int(found["q"] or usual), int(found["r"] or count)
        if not (count and time and left) or (count > 9 and not found["q"]) or count == 1:
            raise token.fault("is no tuplet", "write (3 for a triplet, or such as (5:4:5")
        self.tuplet = Tuplet(token, Fraction(time, count), left)

    def _quoted(self, token: Token, _: re.Match[str]) -> None:
        inside = token.cut(1, -1)
        if len(token.text) < 2 or token.text[-1] != '"':
            raise token.fault("is a quote that is never closed", 'close it with ", as in "Dm7"')
        if inside.text[:1] in tuple("^_<>@"):
            return
        inside = inside.stripped()
        try:
            chord = parse_chord(inside.text)
        except BadInput as fault:
            column = inside.column + fault.column - 1
            raise FileFault(fault.token, inside.line, column, fault.problem, fault.instead) from None
        if self.chord and self.chord[1] != chord:
            problem = f"stands at the same note as {self.chord[1]}"
            raise inside.fault(problem, "write each chord before its own note or rest")
        self.chord = (inside, chord)

    def _decoration(self, token: Token, _: re.Match[str]) -> None:
        name = token.text.strip("!").lower().replace(".", "")
        if len(token.text) < 2 or not token.text.endswith("!"):
            raise token.fault("is a decoration that is never closed", "close it, as in !trill!")
        if name.startswith(("dc", "ds", "dacapo", "dacoda")):
            raise token.fault("sends the player back", "write the bars out in the order in which they are played")

    def _inline(self, token: Token, _: re.Match[str]) -> None:
        if not token.text.endswith("]"):
            raise token.fault("is a field that is never closed", "close it with ]")
        self.field(token.cut(1, 3), token.cut(3, -1))

    def _bar(self, token: Token, _: re.Match[str]) -> None:
        if ":" in token.text:
            raise token.fault("is a repeat, which a line does not have", "write the bars out")
        self._end_bar()

    def _end_bar(self) -> None:
        """Check the bar that ends here, if anything stands in it."""
        if self.tuplet:
            raise self.tuplet.token.fault("is a tuplet that the bar cuts off", "write all of its notes in one bar")
        if self.broken:
            raise self.broken.fault("stands between no two notes of a bar", "write it between two notes, such as c>d")
        self.altered.clear()
        items = self.items[self.bars[-1] :]
        if not items:
            return
        meter = self.header.meter
        length = sum((item.length for item in items), Fraction(0))
        # Whole bars of rest stand alone, as one bar of the text.
        right = meter.bar * max(1, items[0].whole_bars if len(items) == 1 else 1)
        if length != right:
            fault = self._wrong_bar(items, length)
            if length > right:
                raise fault
            if len(self.bars) > 1:
                self.short = fault
            else:
                self.pickup = length
        self.bars.append(len(self.items))

    def _wrong_bar(self, items: list[Item], length: Fraction) -> FileFault:
        meter = self.header.meter
        first = items[0].token
        typed = " ".join(item.token.text for item in items)
        beats = length * meter.unit / 4
        problem = f"is a bar of {_mixed(beats)} {'beat' if beats == 1 else 'beats'}"
        instead = f"a bar of {meter} has {meter.beats}, of which each is a 1/{meter.unit} note"
        return Token(typed, first.line, first.column).fault(problem, instead)


def _mixed(number: Fraction) -> str:
    """A number of beats as a player says it: 3 1/2; one that nobody could count is rounded."""
    if number.denominator > 999:
        return f"about {float(number):.2f}"
    whole, rest = divmod(number, 1)
    return " ".join(str(part) for part in (whole, rest) if part) or "0"
