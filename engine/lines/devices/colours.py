"""Colours: a ♭9 or ♯9 over a dominant that belongs to nothing larger."""

from __future__ import annotations

from collections.abc import Iterator

from engine.lines.devices.device import Device, Found, Group, Passage
from engine.lines.use import use_of
from engine.theory.wording import say

_NAMES = {"b9": "flat-nine colour", "#9": "sharp-nine colour"}
_PULLS = "{note} is the {degree} of {chord}: a colour that wants to resolve."
_AT_HOME = "{note} is the {degree} of {chord}: the blue third, at home over the I of a blues."


def _find(passage: Passage) -> Iterator[Found]:
    line = passage.line
    blue = line.key.tonic.pitch_class if use_of(line) == "blues" else None
    for index, heard in enumerate(passage.notes):
        name = _NAMES.get(heard.degree.name)
        if name and heard.is_over_dominant:
            at_home = heard.degree.name == "#9" and heard.chord.root.pitch_class == blue
            template = _AT_HOME if at_home else _PULLS
            text = say(template, note=heard.pitch.in_octave(None), degree=heard.degree, chord=heard.chord)
            yield Found(name, index, index, text)


GROUP = Group(
    (
        Device("flat-nine colour", "The ♭9 over a dominant, in no larger device."),
        Device("sharp-nine colour", "The ♯9 over a dominant, in no larger device."),
    ),
    _find,
)
