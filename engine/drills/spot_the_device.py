"""Spot the device: a stretch of a line over its chords; what does it do?"""

from __future__ import annotations

from collections.abc import Sequence
from random import Random

from engine.drills import line_material as material
from engine.drills.choices import arranged
from engine.drills.line_material import Card
from engine.drills.mistakes import MISTAKES, wrong_values
from engine.drills.options import Options
from engine.drills.question import Choice, Question, facts
from engine.lines.devices.device import Found
from engine.lines.devices.recognise import DEVICES
from engine.lines.reading import Heard, steps_of
from engine.theory.arpeggio import arpeggio
from engine.theory.bad_input import BadInput
from engine.theory.chord import Chord
from engine.theory.degree import Degree
from engine.theory.wording import Slot, Text, say

SLUG = "spot-the-device"
LEVELS = material.LEVELS
MISTAKES_HERE = ("another start", "another way", "sides confused", "scales confused", "colour for a run")

_ASKED = ("arpeggio", "enclosure", "double approach", "approach from", "scale run", "half-whole run", "altered run",
          "harmonic minor run", "landing on")  # fmt: skip

_TONES = {1: "root", 3: "third", 5: "fifth", 7: "seventh", 9: "ninth"}

# What a card says under a device's name.
_GLOSSES = {
    "enclosure": "from both sides", "double approach": "two from one side",
    "approach from below": "a half step below", "approach from above": "a half step above",
    "scale run": "the chord's scale", "half-whole run": "♭9 or ♯9, and 5 or 13", "altered run": "♭9 or ♯9, and ♭13",
    "harmonic minor run": "♭9, 3 and ♭13", "passing note off the beat": "between two tones",
    "flat-nine colour": "the ♭9 alone", "sharp-nine colour": "the ♯9 alone",
}  # fmt: skip
# Half steps above a dominant's root in the harmonic minor scale a fifth below.
_HARMONIC_MINOR = (0, 1, 4, 5, 7, 8, 10)
_HIDDEN = "{notes:row} over {chord}: {name}."
_WAYS = {", inverted": "begun elsewhere", ", one note an octave away": "one tone moved"}


def cards(options: Options) -> list[Card]:
    """Every device of the lines that is taken for another one."""
    return material.cards(SLUG, options, _fits)


def _fits(found: Found) -> bool:
    return found.name.startswith(_ASKED)


def question(card: Card, chance: Random) -> Question:
    """The question of a card; ``chance`` picks the wrong choices and the order."""
    stretch = material.stretch(card)
    prompt = _prompt(card.found.name, stretch.pitches, stretch.heard)
    return asked_of(card, stretch, SLUG, MISTAKES_HERE, prompt, chance)


def asked_of(
    card: Card, stretch: material.Stretch, slug: str, mistakes: Sequence[str], prompt: Text, chance: Random
) -> Question:
    """What the card's device is, asked by the drill ``slug`` with the ``mistakes`` that are made there."""
    heard = stretch.heard
    chord, name = stretch.chord, card.found.name
    following = next((one.chord for one in heard if one.place != heard[0].place), None)
    here = {found.name: found for found in stretch.analysis.devices if _is_there(found, stretch)}
    notes = " ".join(str(note) for note in stretch.pitches)
    about = facts(chord=chord, next=following, device=name, notes=notes, line=notes)
    # In a key with double sharps or flats the respelled notes may hide the device that they still are.
    text = here[name].text if name in here else say(_HIDDEN, notes=stretch.pitches, name=name, chord=chord)
    degrees = tuple(one.degree for one in heard)
    own = say("{degrees:run}", degrees=degrees) if name.startswith("arpeggio") else _gloss(name, heard)
    right = Choice(name, text, own)
    wrong = [
        _wrong(str(value), key, heard)
        for value, key in wrong_values(mistakes, about, chance)
        if value not in here and value != name and value in DEVICES and not _might_be(str(value), heard)
    ]
    return Question(
        drill=slug,
        skill=f"{slug}/{name}/{chord.kind}/{chord.root}",
        prompt=prompt,
        given=facts(chord=chord, next=following),
        about=about,
        choices=arranged(right, wrong, chance),
        row=stretch.row(),
    )


def _is_there(found: Found, stretch: material.Stretch) -> bool:
    return stretch.first <= found.first and found.last <= stretch.last


def _prompt(name: str, notes: tuple[Slot, ...], heard: Sequence[Heard]) -> Text:
    """The notes by name; of an arpeggio also which way they go, without which an octave would not be heard."""
    if not name.startswith("arpeggio"):
        return say("{notes:row}: what does the line do?", notes=notes)
    ways = {step > 0 for step in steps_of(heard)}
    way = "with a turn" if len(ways) > 1 else "going up" if ways == {True} else "going down"
    return say("{notes:row}, {way}: what does the line do?", notes=notes, way=say(way))


def _might_be(name: str, heard: Sequence[Heard]) -> bool:
    """Whether a teacher would let this name pass too, so that it is no wrong choice.

    A half step into the last note is an approach of a kind; notes that all belong
    to the harmonic minor scale may be meant so where they do not show its third.
    """
    if name == "harmonic minor run":
        return all(one.is_over_dominant and one.above in _HARMONIC_MINOR for one in heard)
    step = heard[-1].midi - heard[-2].midi
    if name == "passing note off the beat":
        return len(heard) == 3 and step == heard[1].midi - heard[0].midi and abs(step) == 1
    return name == {1: "approach from below", -1: "approach from above"}.get(step)


def _gloss(name: str, heard: Sequence[Heard]) -> Text:
    """What the device is, in the fewest signs."""
    if name in _GLOSSES:
        return say(_GLOSSES[name])
    way = next((said for sign, said in _WAYS.items() if name.endswith(sign)), None)
    if way:
        return say(way)
    rung = next(number for number, tone in _TONES.items() if name.endswith(f"the {tone}"))
    if name.startswith("landing"):
        chord = heard[-1].chord
        return say("{degree} of {chord}", degree=_on_rung(chord, rung), chord=chord)
    tones = _stack(heard[0].chord, rung)
    return say("{tones:run}", tones=tones) if tones else say("from the {rung}", rung=rung)


def _on_rung(chord: Chord, rung: int) -> Slot:
    named = chord.on_rung(rung) or tuple(degree for degree in chord.degrees if degree.rung == 6 and rung == 7)
    return named[0] if named else rung


def _wrong(name: str, key: str, heard: Sequence[Heard]) -> Choice:
    degrees = tuple(one.degree for one in heard)
    chord = heard[0].chord
    if name.startswith("landing"):
        last = heard[-1]
        note = last.pitch.in_octave(None)
        why = say("The line comes to {note}, the {degree} of {chord}: no {name}.",
                  note=note, degree=last.degree, chord=last.chord, name=name)  # fmt: skip
        return Choice(name, why, _gloss(name, heard), key)
    start = next((number for number, tone in _TONES.items() if f"from the {tone}" in name), None)
    if key == "another start" and start:
        tones = _stack(chord, start)
        if tones:
            why = say("From the {tone} of {chord} it would be {tones:run}; this is {degrees:run}.",
                      tone=_TONES[start], chord=chord, tones=tones, degrees=degrees)  # fmt: skip
            return Choice(name, why, _gloss(name, heard), key)
    # Degrees of two chords in one row would contradict each other.
    here = tuple(one.degree for one in heard if one.place == heard[0].place)
    # What is asked of it in some places only is for the handbook; here two reasons stand below four cards on a phone.
    condition = DEVICES[name].condition.partition(";")[0].rstrip(".")
    why = say("No, {slip}. It would be {condition}.",
              slip=say(MISTAKES[key].says, degrees=here), condition=condition[0].lower() + condition[1:])  # fmt: skip
    return Choice(name, why, _gloss(name, heard), key)


def _stack(chord: Chord, start: int) -> tuple[Degree, ...]:
    try:
        return arpeggio(chord, start).degrees
    except BadInput:
        return ()
