"""Hear the device: a stretch of a line over its chords, as it sounds; what does it do?"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import groupby
from random import Random

from engine.drills import line_material as material
from engine.drills import spot_the_device as by_eye
from engine.drills.line_material import Card, Stretch
from engine.drills.options import Options
from engine.drills.question import Heard, Question
from engine.lines.devices.device import Found
from engine.theory.chord import Chord
from engine.theory.pitch import Pitch
from engine.theory.wording import say

SLUG = "hear-the-device"
LEVELS = material.LEVELS
# What a note an octave away does to an arpeggio is for the eye: to the ear its four tones stay the same.
MISTAKES_HERE = ("another start", "sides confused", "scales confused", "figure misheard")
# What goes by in one breath of a few notes and is told from the others by its shape or by its sound.
_ASKED = ("arpeggio", "enclosure", "double approach", "scale run", "half-whole run", "altered run",
          "harmonic minor run")  # fmt: skip


def cards(options: Options) -> list[Card]:
    """Every device of the lines that an ear can tell from another."""
    return material.cards(SLUG, options, _fits)


def _fits(found: Found) -> bool:
    return found.name.startswith(_ASKED) and "," not in found.name


def question(card: Card, chance: Random) -> Question:
    """The question of a card; ``chance`` picks the wrong choices and the order."""
    stretch = material.stretch(card)
    asked = by_eye.asked_of(card, stretch, SLUG, MISTAKES_HERE, say("What does this line do?"), chance)
    return replace(asked, heard=Heard(tuple(_bars(stretch))), asks="sound")


def _bars(stretch: Stretch) -> Iterator[tuple[Chord, tuple[Pitch, ...]]]:
    for _, notes in groupby(stretch.heard, key=lambda one: one.place):
        together = list(notes)
        yield together[0].chord, tuple(one.pitch for one in together)
