"""Reading lines in ABC: files, tunes and their lines of text. The music itself is read by ``abc_music``."""

from __future__ import annotations

import re

from engine.formats.abc_fields import Header, check_instruction, read_field
from engine.formats.abc_music import Music
from engine.formats.file_fault import Token
from engine.lines.line import Line

_LINE_END = re.compile(r"\r\n?|\n")
# What stands before a comment; an escaped sign, such as that of a per cent in a title, starts none.
_CONTENT = re.compile(r"(?:[^\\%]|\\.)*\\?")
# A letter and a colon, unless they are a note and the repeat sign behind it.
_FIELD = re.compile(r"(?![A-Ga-gz]:\|)([A-Za-z+]):")


def read_abc(text: str) -> tuple[Line, ...]:
    """Every tune of a file in ABC 2.1, as a line each, in their order; FileFault where it cannot be read.

    Notes are at sounding pitch (``C`` is C4), times in quarter notes. An accidental
    holds for its letter in every octave to the end of the bar (the standard's default,
    section 11.3), and for one note over a tie into the next bar. A first bar that is
    too short, with music after it, is a pickup. The first chord holds from the
    beginning, even where it stands after the first note. Without M: the meter is 4/4.
    A tune ends at an empty line or at the next X:. What precedes the first X: holds
    for every tune.
    """
    tunes = _Tunes()
    for number, line in enumerate(_LINE_END.split(text.removeprefix("\ufeff")), 1):
        if line and not line.isspace():
            tunes.read(Token(line, number, 1))
        else:
            tunes.pause()
    return tunes.finished()


class _Tunes:
    """The tunes of a file, read line by line."""

    def __init__(self) -> None:
        self.lines: list[Line] = []
        self.defaults = Header()
        self.header = Header()
        # Where the tune that is being read starts, None before the first.
        self.start: Token | None = None
        self.music: Music | None = None
        self.ended = False
        self.first: Token | None = None
        self.numbers: set[int] = set()
        self.count = 0

    def pause(self) -> None:
        """Read an empty line: it ends a tune that has notes."""
        self.ended = self.ended or bool(self.music and self.music.items)

    def read(self, line: Token) -> None:
        """Read one line of the file, whole as typed."""
        if line.text.startswith("%%"):
            check_instruction(line.cut(2))
            return
        found = _CONTENT.match(line.text)
        content = line.cut(0, found.end() if found else None)
        if not content.text.strip():
            return
        content = content.stripped()
        self.first = self.first or content
        field = _FIELD.match(content.text)
        if field and field[1] == "X":
            self._new_tune(content)
        elif self.ended:
            self._after_the_end(content)
            return
        if field:
            self._field(content.cut(0, 2), content.cut(2))
        elif self.header.key is not None:
            self.music = self.music or Music(self.header)
            self.music.read(content)
        elif self.start or "|" in content.text:
            raise content.fault("comes before the key", "end the header with the key, such as K:C")

    def finished(self) -> tuple[Line, ...]:
        """The lines of all tunes."""
        if self.start or self.music or self.header.key:
            self._end_tune()
        if not self.lines:
            first = self.first or Token("", 1, 1)
            raise first.fault("holds nothing to play", "write a header such as X:1, M:4/4, K:C, then notes")
        return tuple(self.lines)

    def _new_tune(self, content: Token) -> None:
        if self.start or self.music:
            self._end_tune()
        else:
            self.defaults = self.header
        self.header = self.defaults.copied()
        self.header.title = ""
        self.start, self.music, self.ended = content, None, False

    def _end_tune(self) -> None:
        start = self.start or self.first or Token("", 1, 1)
        if self.header.key is None:
            raise start.fault("starts a tune without a key", "end its header with the key, such as K:C")
        if self.music is None:
            raise start.fault("starts a tune with nothing to play", "write notes below its K: line")
        number = 1 if self.header.number is None else self.header.number
        if number in self.numbers:
            raise start.fault("has the number of an earlier tune", "give each tune its own number")
        self.numbers.add(number)
        self.header.title = self.header.title or self.defaults.title
        self.lines.append(self.music.finished(start, number, self.count))
        self.count += len(self.music.items)

    def _field(self, name: Token, value: Token) -> None:
        if self.music is None:
            read_field(self.header, name, value, playing=False)
        else:
            self.music.field(name, value)

    def _after_the_end(self, content: Token) -> None:
        """Text after an empty line is a remark of the file's; music there would be lost, so it is a fault."""
        if "|" in content.text:
            problem = "stands after an empty line, which ends the tune"
            raise content.fault(problem, "take the empty line out, or start the next tune with X:")
