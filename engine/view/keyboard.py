"""A stretch of a piano keyboard, and where its keys stand."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from engine.theory.keyboard import is_white
from engine.view.marks import mark
from engine.view.markup import number

# White keys from C on, by semitone: a whole number for a white key, between two for a black one. Black
# keys do not stand midway: those of a group lean apart.
_PLACES = (0, 0.42, 1, 1.58, 2, 3, 3.4, 4, 4.5, 5, 5.6, 6)
HEIGHT = 37.0
_BLACK_HEIGHT = 22.0
_BLACK_WIDTH = 0.58  # of a white key
_FEWEST = 10  # white keys: fewer would make them wider than they look right


@dataclass(frozen=True, slots=True)
class Keyboard:
    """``count`` white keys from the white key number ``first`` on (7 an octave), from x ``left`` on, ``wide`` each."""

    first: int
    count: int
    left: float
    wide: float

    def x(self, midi: int) -> float:
        """The middle of a key."""
        return self.left + (_white_place(midi) - self.first + 0.5) * self.wide


def _white_place(midi: int) -> float:
    octave, semitone = divmod(midi, 12)
    return 7 * octave + _PLACES[semitone]


def keyboard_for(keys: Sequence[int], left: float, right: float, fewest: int = _FEWEST) -> Keyboard:
    """The stretch between x ``left`` and ``right`` that holds these MIDI keys, with at least so many white ones."""
    first = int(_white_place(min(keys)))
    last = -int(-_white_place(max(keys)) // 1)
    while last - first + 1 < fewest:
        last += 1
    count = last - first + 1
    return Keyboard(first, count, left, (right - left) / count)


def keyboard(keys: Keyboard, notes: Sequence[tuple[int, str]], top: float) -> str:
    """The keys from y ``top`` down, with a mark on each of ``notes`` (MIDI key, role)."""
    right = keys.left + keys.count * keys.wide
    edges = "".join(
        f"M{number(keys.left + place * keys.wide)} {number(top)}v{number(HEIGHT)}" for place in range(1, keys.count)
    )
    parts = [
        f'<rect class="white" x="{number(keys.left)}" y="{number(top)}" width="{number(right - keys.left)}"'
        f' height="{number(HEIGHT)}" rx="2"/><path class="gaps" d="{edges}"/>'
    ]
    lowest, highest = 12 * (keys.first // 7), 12 * ((keys.first + keys.count) // 7 + 1)
    wide = _BLACK_WIDTH * keys.wide
    for midi in range(lowest, highest):
        x = keys.x(midi) - wide / 2
        if not is_white(midi) and keys.left <= x and x + wide <= right:
            parts.append(
                f'<rect class="black" x="{number(x)}" y="{number(top)}"'
                f' width="{number(wide)}" height="{number(_BLACK_HEIGHT)}"/>'
            )
    for midi, role in notes:
        kind = "on-white" if is_white(midi) else "on-black"
        y = top + (HEIGHT - 8 if is_white(midi) else _BLACK_HEIGHT - 7.5)
        parts.append(f'<g class="{kind}">{mark(role, keys.x(midi), y, 5.2, 5.2)}</g>')
    return f'<g class="keys">{"".join(parts)}</g>'
