"""The picture of a neck, or of a part of one, true to scale: strings, frets, and marks on its places.

The neck lies as the player looks down on it: string 1 on top, the nut on the left. For left-handed
players the style sheet turns it round; nothing here knows of them.
"""

from __future__ import annotations

from collections.abc import Sequence, Set
from dataclasses import dataclass
from functools import lru_cache

from engine.neck.instrument import Instrument, Place
from engine.theory.wording import USUAL, Profile
from engine.view.marks import SHAPES, mark
from engine.view.markup import number, plain

# Frets that instruments mark with a spot on the neck; at the octaves there are two.
SPOTS = (3, 5, 7, 9, 12, 15, 17, 19, 21, 24, 27)
_TWO_SPOTS = (12, 24)

WIDTH = 320
NAMES_WIDE = 22.0  # for the strings' names
OPEN_WIDE = 40.0  # between the names and the nut, where open strings are marked
_RIGHT = WIDTH - 4.0
_TOP = 15.0
_GAP = 27.0  # between two strings
_BELOW = 28.0  # under the last string: the fret numbers
_LABEL_HIGH = 10.0  # and a label above them
_MARK = 6.2  # half axis
# Where every fret is at least so wide, a label stands beside its mark, else below it.
_ROOMY = 38.0
# Narrower frets have no number, but for those with a spot or a mark.
_NUMBER_WIDE = 16.0


@dataclass(frozen=True, slots=True)
class Dot:
    """A mark on the neck: ``label`` is finished SVG text, ``role`` as in ``marks``; a ``faint`` one stands back.

    ``notes`` are the indexes of the line's notes that are played there, so that it shows which one sounds.
    """

    place: Place
    label: str
    role: str
    faint: bool = False
    notes: tuple[int, ...] = ()


@dataclass(frozen=True, slots=True)
class Window:
    """The frets from ``low`` (0: the open strings) to ``high``, drawn from x ``left`` to ``right``.

    ``opened``: how wide the place of the open strings is, where there is one. ValueError where it is no window.
    """

    low: int
    high: int
    left: float
    right: float
    opened: float = OPEN_WIDE

    def __post_init__(self) -> None:
        if not 0 <= self.low <= self.high or self.high == 0:
            raise ValueError(f"no window of a neck: {self.low} to {self.high}")

    @property
    def first(self) -> int:
        """The lowest fret that is not the open string."""
        return max(self.low, 1)

    def wire(self, fret: int) -> float:
        """The x of a fret's wire; 0 is the nut. A fret is 2 ** (-1 / 12) as wide as the one before it."""
        start = self.left + (self.opened if self.low == 0 else 0)
        whole = 1 - _left_of(self.high - self.first + 1)
        return start + (self.right - start) * (1 - _left_of(fret - self.first + 1)) / whole

    def x(self, fret: int) -> float:
        """Where the marks of a fret stand: midway between its wire and the one before, or beside the nut."""
        if fret == 0:
            return self.left + self.opened / 2
        return (self.wire(fret - 1) + self.wire(fret)) / 2


def _left_of(frets: int) -> float:
    """How much of a string's length is left so many frets further up."""
    return float(2 ** (-frets / 12))


# All pictures of a line have the same one, in every key that is fingered alike.
@lru_cache(maxsize=64)
def board(window: Window, ys: tuple[float, ...], reach: float) -> str:
    """Frets, spots and strings; ``ys``: the y of each string from string 1 on; ``reach``: how far the wires go on."""
    top, bottom = ys[0] - reach, ys[-1] + reach
    wires = "".join(
        f"M{number(window.wire(fret))} {number(top)}V{number(bottom)}"
        for fret in range(max(window.low - 1, 1), window.high + 1)
    )
    nut = ""
    if window.low <= 1:
        nut = f'<path class="nut" d="M{number(window.wire(0))} {number(top)}V{number(bottom)}"/>'
    middle, quarter = (ys[0] + ys[-1]) / 2, (ys[-1] - ys[0]) / 4
    # A stroke of no length is a round spot, in a picture that is stretched too.
    spots = "".join(
        f"M{number(window.x(fret))} {number(y)}h0"
        for fret in SPOTS
        if window.first <= fret <= window.high
        for y in ((middle - quarter, middle + quarter) if fret in _TWO_SPOTS else (middle,))
    )
    strings = "".join(
        f'<path d="M{number(window.left)} {number(y)}H{number(window.right)}" stroke-width="{number(1 + 0.3 * row)}"/>'
        for row, y in enumerate(ys)
    )
    spotted = f'<path class="spots" d="{spots}"/>' if spots else ""
    return f'{spotted}<path class="wires" d="{wires}"/>{nut}<g class="strings">{strings}</g>'


def neck_svg(
    instrument: Instrument,
    low: int,
    high: int,
    dots: Sequence[Dot],
    name: str,
    title: str,
    telling: str,
    profile: Profile = USUAL,
) -> str:
    """The frets ``low`` to ``high`` of a neck with marks, as an ``<svg>`` that is ``WIDTH`` units wide.

    ``low`` 0 shows the nut and the open strings. ``name`` is unique in the page; ``title`` and ``telling``
    are finished text: what the picture is, and what it shows. ValueError where a dot lies outside.
    """
    window = Window(low, high, NAMES_WIDE, _RIGHT)
    count = len(instrument.strings)
    ys = tuple(_TOP + _GAP * row for row in range(count))
    roomy = window.wire(high) - window.wire(high - 1) >= _ROOMY
    height = ys[-1] + _BELOW + (0 if roomy else _LABEL_HIGH)
    at = number(NAMES_WIDE / 2 - 2)
    names = "".join(
        f'<text x="{at}" y="{number(y + 4.5)}">{string_name(instrument, string, profile)}</text>'
        for string, y in enumerate(ys, 1)
    )
    numbers = "".join(
        f'<text x="{number(window.x(fret))}" y="{number(height - 5)}">{fret}</text>'
        for fret in _numbered(window, {dot.place.fret for dot in dots})
    )
    marks = "".join(_dot(dot, window, ys, roomy) for dot in dots)
    return (
        f'<svg class="neck-picture" viewBox="0 0 {WIDTH} {number(height)}" role="img"'
        f' aria-labelledby="{name}-title" aria-describedby="{name}-telling" focusable="false">'
        f'<title id="{name}-title">{title}</title><desc id="{name}-telling">{telling}</desc>'
        f'{board(window, ys, 4)}<g class="names">{names}</g><g class="numbers">{numbers}</g>{marks}</svg>'
    )


def _numbered(window: Window, marked: Set[int]) -> list[int]:
    """The frets that have a number: those with a mark, and of the others those that leave them room."""
    frets = range(window.first, window.high + 1)

    def has_room(fret: int) -> bool:
        return all(abs(window.x(other) - window.x(fret)) >= _NUMBER_WIDE for other in marked)

    wide = [fret for fret in frets if fret in SPOTS or window.wire(fret) - window.wire(fret - 1) >= _NUMBER_WIDE]
    return [fret for fret in frets if fret in marked or (fret in wide and has_room(fret))]


def string_name(instrument: Instrument, string: int, profile: Profile = USUAL) -> str:
    """A string's name: its open note without the octave. Strings sound as they are, whatever part is read."""
    sounding = Profile(signs=profile.signs, names=profile.names, sentences=profile.sentences)
    return plain(instrument.strings[-string].in_octave(None), sounding)


def _dot(dot: Dot, window: Window, ys: Sequence[float], roomy: bool) -> str:
    string, fret = dot.place
    if not (1 <= string <= len(ys) and window.low <= fret <= window.high):
        raise ValueError(f"string {string}, fret {fret} is not on this part of the neck")
    x, y = window.x(fret), ys[string - 1]
    indexes = f' data-index="{" ".join(map(str, dot.notes))}"' if dot.notes else ""
    kind = f'class="dot {SHAPES[dot.role]}-dot{" faint" if dot.faint else ""}"{indexes}'
    if not dot.label:
        return f"<g {kind}>{mark(dot.role, x, y, _MARK, _MARK)}</g>"
    # The mark and its label share the width of the fret.
    where = f'x="{number(x)}" y="{number(y + 4.7)}"' if roomy else f'class="below" x="{number(x)}" y="{number(y + 17)}"'
    at = x - 10 if roomy else x
    return f"<g {kind}>{mark(dot.role, at, y, _MARK, _MARK)}<text {where}>{dot.label}</text></g>"
