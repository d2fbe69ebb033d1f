"""All devices of a line, and what they make of its notes."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from engine.lines.devices import approaches, arpeggios, changes, colours, runs
from engine.lines.devices.device import Device, Found, Passage
from engine.lines.line import Line
from engine.lines.reading import Heard, read_line
from engine.theory.chord import Chord
from engine.theory.degree import Degree
from engine.theory.naming import name_over

# The families of devices; each has a page of the handbook by its name.
GROUPS = {
    "arpeggios": arpeggios.GROUP,
    "runs": runs.GROUP,
    "approaches": approaches.GROUP,
    "colours": colours.GROUP,
    "changes": changes.GROUP,
}
DEVICES: dict[str, Device] = {device.name: device for group in GROUPS.values() for device in group.devices}
# Notes before a change that lead to, or already are, a tone of the chord after it.
_AIMING = ("enclosure", "double approach", "approach from below", "approach from above", "anticipation")


@dataclass(frozen=True, slots=True)
class Aim:
    """A note that is better heard against the ``chord`` that follows at once: its ``degree`` there."""

    chord: Chord
    degree: Degree


@dataclass(frozen=True, slots=True)
class Analysis:
    """A line understood: its ``notes`` over their chords, their ``aims``, and its ``devices`` in order."""

    line: Line
    notes: tuple[Heard, ...]
    aims: tuple[Aim | None, ...]
    devices: tuple[Found, ...]


@lru_cache(maxsize=256)
def analyse(line: Line) -> Analysis:
    """Read a line: every note over its chord, and every device in it. The last few hundred are remembered."""
    notes = read_line(line)
    passage = Passage(line, notes)
    found = [device for group in GROUPS.values() for device in group.find(passage)]
    kept = _without_covered(found)
    return Analysis(line, notes, _aims(line, notes, kept), kept)


def _without_covered(found: list[Found]) -> tuple[Found, ...]:
    """Longest first: what a longer device covers is left out, unless it stands beside it."""
    kept: list[Found] = []
    for device in sorted(found, key=lambda one: -one.count):
        stands = DEVICES[device.name].stands
        if stands or not any(_covers(other, device) for other in kept if DEVICES[other.name].covers):
            kept.append(device)
    order = list(DEVICES)
    return tuple(sorted(kept, key=lambda one: (one.first, one.last, order.index(one.name))))


def _covers(longer: Found, device: Found) -> bool:
    """Whether a device's notes all lie in a longer one; of two and more that lead to a target, all but the target."""
    leads = device.target is not None and device.count > 2
    return longer.first <= device.first and device.last - leads <= longer.last


def _aims(line: Line, notes: tuple[Heard, ...], found: tuple[Found, ...]) -> tuple[Aim | None, ...]:
    aims: list[Aim | None] = [None] * len(notes)
    for device in found:
        if device.name not in _AIMING or device.target is None:
            continue
        place = notes[device.target].place + (device.name == "anticipation")
        for index in range(device.first, device.target + 1):
            if notes[index].place + 1 == place:
                chord = line.changes[place].chord
                aims[index] = Aim(chord, name_over(chord, notes[index].pitch).degree)
    return tuple(aims)
