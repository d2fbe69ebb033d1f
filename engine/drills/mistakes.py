"""The mistakes that players really make, as a table.

Every wrong choice of every drill stands for one row. A row knows which values
the mistake leads to, from the facts of a question alone, and how to say it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from random import Random

from engine.drills.chance import shuffled
from engine.drills.question import Fact, Value
from engine.theory.arpeggio import arpeggio, chord_in_thirds
from engine.theory.bad_input import BadInput
from engine.theory.chord import Chord, chord_of
from engine.theory.chord_symbol import parse_chord
from engine.theory.degree import DEGREES, Degree
from engine.theory.family import family_of
from engine.theory.key import Key
from engine.theory.naming import name_over
from engine.theory.pitch import Pitch, parse_pitch
from engine.theory.wording import Text, say

Facts = Mapping[str, Fact]


@dataclass(frozen=True, slots=True)
class Mistake:
    """``says``: a template for what the player did, with the question's facts as slots.

    ``values``: what the mistake leads to. ``usable``: it may sound well all
    the same; where it does, it is called usable and not asked, never wrong.
    """

    says: str
    values: Callable[[Facts], Sequence[Value]]
    usable: bool = False


def chord_in(about: Facts, name: str = "chord") -> Chord:
    """The chord that is one of the facts; TypeError where it is not there."""
    fact = about.get(name)
    if not isinstance(fact, Chord):
        raise TypeError(f"{name} is no chord")
    return fact


def note_in(about: Facts) -> Pitch:
    """The note that is one of the facts; TypeError where it is not there."""
    fact = about.get("note")
    if not isinstance(fact, Pitch):
        raise TypeError("note is no pitch")
    return fact


def key_in(about: Facts) -> Key | None:
    """The key, where the facts have one."""
    fact = about.get("key")
    return fact if isinstance(fact, Key) else None


def degree_in(about: Facts) -> Degree:
    """The degree that is one of the facts; TypeError where it is not there."""
    fact = about.get("degree")
    if not isinstance(fact, Degree):
        raise TypeError("degree is no degree")
    return fact


# --- degrees, and the notes that they are ---------------------------------------------------------------


# The ``ask`` of a question that names the degree and wants the note; without it the degree is wanted.
THE_NOTE = "note"


def own_degree(chord: Chord, note: Pitch) -> Degree:
    """What the chord's symbol calls the note, however it is spelled; the usual name where it is no chord tone."""
    semitones = (note.pitch_class - chord.root.pitch_class) % 12
    named = [degree for degree in chord.degrees if degree.semitones == semitones]
    return named[0] if named else name_over(chord, note).degree


def _as_asked(about: Facts, degrees: Sequence[Degree]) -> list[Value]:
    """The degrees themselves, or the notes that they are over the chord, whichever the question wants."""
    if about.get("ask") == THE_NOTE:
        return [degree.over(chord_in(about).root) for degree in degrees]
    return list(degrees)


def _other_signs(about: Facts) -> list[Value]:
    """The same number with another sign, as far as players have a name for it."""
    asked = degree_in(about)
    others = [
        Degree(name)
        for name in DEGREES
        if name.lstrip("b#") == asked.name.lstrip("b#") and name != asked.name and "bb" not in name
    ]
    return _as_asked(about, others)


def _ladder(chord: Chord) -> list[Degree]:
    """The seven degrees of the chord's usual scale, by letter step; what the symbol names comes first."""
    family = family_of(chord)
    upper = dict(zip((1, 3, 5), family.upper, strict=True))
    by_step = {degree.steps: degree for degree in reversed(chord.degrees)}
    plain = {2: "3", 4: "5", 6: "7"}
    return [by_step.get(step) or Degree(upper.get(step) or plain.get(step, "1")) for step in range(7)]


def _letters_off(by: int) -> Callable[[Facts], list[Value]]:
    def values(about: Facts) -> list[Value]:
        ladder = _ladder(chord_in(about))
        return _as_asked(about, [ladder[(degree_in(about).steps + by) % 7]])

    return values


def _counted_down(about: Facts) -> list[Value]:
    """The interval taken from the root down, named as if it went up."""
    asked = degree_in(about)
    chord = chord_in(about)
    mirrored = chord.root.up((-asked.steps) % 7, (-asked.semitones) % 12)
    if about.get("ask") == THE_NOTE:
        return _as_asked(about, [own_degree(chord, mirrored)])
    return [name_over(chord, mirrored).degree]


def _counted_from(name_of_rung: int) -> Callable[[Facts], list[Value]]:
    """The asked note named from a wrong root, or the asked degree counted up from it."""

    def values(about: Facts) -> list[Value]:
        chord = chord_in(about)
        if about.get("ask") == THE_NOTE:
            starts = [start.over(chord.root) for start in chord.on_rung(name_of_rung)]
            return _as_asked(about, [own_degree(chord, degree_in(about).over(start)) for start in starts])
        try:
            inner = arpeggio(chord, name_of_rung).own
        except BadInput:
            inner = None
        return [name_over(inner, note_in(about)).degree] if inner else []

    return values


# --- arpeggios -------------------------------------------------------------

# The chord of the same root with the other third, and with the other seventh.
OTHER_THIRD = {"maj7": "m7", "m7": "7", "7": "m7", "m7b5": "7b9", "mMaj7": "maj7", "7b9": "m7", "maj7#5": "mMaj7"}
OTHER_SEVENTH = {"maj7": "7", "m7": "mMaj7", "7": "maj7", "mMaj7": "m7", "7b9": "maj7", "maj7#5": "7#5"}


def twin(chord: Chord, table: Mapping[str, str]) -> Chord | None:
    """The chord of the same root that a table has for this kind; altered dominants count as dominants."""
    kind = chord.kind or ""
    if kind not in table and family_of(chord).name == "dominant":
        kind = "7"
    return chord_of(chord.root, table[kind]) if kind in table else None


def _third_of_twin(table: Mapping[str, str]) -> Callable[[Facts], list[Value]]:
    def values(about: Facts) -> list[Value]:
        other = twin(chord_in(about), table)
        own = arpeggio(other, 3).own if other else None
        return [own] if own else []

    return values


def with_other_ninth(chord: Chord, key: Key | None) -> Chord:
    """The chord with the other of its two ninths named: A7 in D becomes A7b9, A7b9 becomes A9."""
    flat = arpeggio(chord, 3, key).degrees[3].name == "b9"
    suffix = chord.suffix.replace("b9", "").replace("7", "9", 1) if flat else chord.suffix + "b9"
    other = parse_chord(f"{chord.root}{suffix}")
    return chord_of(chord.root, other.kind) if other.kind else other


def _other_ninth(about: Facts) -> list[Value]:
    chord = chord_in(about)
    own = arpeggio(with_other_ninth(chord, key_in(about)), 3).own
    return [own] if own else []


def _arpeggio_from(start: int) -> Callable[[Facts], list[Value]]:
    def values(about: Facts) -> list[Value]:
        own = arpeggio(chord_in(about), start, key_in(about)).own
        return [own] if own else []

    return values


def _third_below(about: Facts) -> list[Value]:
    """The chord a third below that shares three tones: the relative chord."""
    chord = chord_in(about)
    major = chord.degrees[1].name == "3"
    root = chord.root.up(-2, -3 if major else -4)
    tones = [note.pitch_class for note in chord.notes[:3]]
    for kind in ("m7", "maj7", "m7b5", "7", "mMaj7", "maj7#5", "dim7"):
        candidate = chord_of(root, kind)
        if [note.pitch_class for note in candidate.notes[1:]] == tones:
            return [candidate] if abs(root.accidental) < 2 else []
    return []


# --- resolutions -----------------------------------------------------------


def _tone_of(chord_name: str, rung: int) -> Callable[[Facts], list[Value]]:
    def values(about: Facts) -> list[Value]:
        chord = chord_in(about, chord_name)
        return [degree.over(chord.root) for degree in chord.on_rung(rung)]

    return values


def _other_quality(rung: int, pair: tuple[str, str]) -> Callable[[Facts], list[Value]]:
    def values(about: Facts) -> list[Value]:
        following = chord_in(about, "next")
        own = {degree.name for degree in following.on_rung(rung)}
        return [Degree(name).over(following.root) for name in pair if name not in own] if own else []

    return values


def _guide_tones_after(about: Facts) -> list[Value]:
    """The 3 and 7 of the chord behind the next one, where there is one, unless the next chord has them too."""
    if "after" not in about:
        return []
    early = [value for rung in (3, 7) for value in _tone_of("after", rung)(about)]
    held = chord_in(about, "next").pitch_classes
    return [value for value in early if isinstance(value, Pitch) and value.pitch_class not in held]


def _stayed(about: Facts) -> list[Value]:
    return [note_in(about)]


def _other_way(about: Facts) -> list[Value]:
    """A step to a note of the following chord's scale that the chord itself does not have."""
    following, note = chord_in(about, "next"), note_in(about)
    scale = [degree.over(following.root) for degree in _ladder(following) if degree not in following.degrees]
    up = [tone for tone in scale if 0 < (tone.pitch_class - note.pitch_class) % 12 <= 2]
    down = [tone for tone in scale if 0 < (note.pitch_class - tone.pitch_class) % 12 <= 2]
    return [*up, *down]


# --- lines -----------------------------------------------------------------


def notes_in(about: Facts, name: str = "notes") -> tuple[Pitch, ...]:
    """The notes that are one of the facts, written one after the other; TypeError where they are not there."""
    fact = about.get(name)
    if not isinstance(fact, str):
        raise TypeError(f"{name} are no notes")
    return tuple(parse_pitch(word) for word in fact.split())


def _same_number(about: Facts) -> list[Value]:
    """The notes on the same number of the chord, with another sign."""
    root = chord_in(about).root
    return [degree.over(root) for degree in _other_signs(about) if isinstance(degree, Degree)]


def _beside_in_scale(by: int) -> Callable[[Facts], list[Value]]:
    def values(about: Facts) -> list[Value]:
        chord = chord_in(about)
        return [_ladder(chord)[(degree_in(about).steps + by) % 7].over(chord.root)]

    return values


def _third_off(by: int) -> Callable[[Facts], list[Value]]:
    """The neighbour in the chord's stack of thirds."""
    return _beside_in_scale(2 * by)


def _left_where_it_was(about: Facts) -> list[Value]:
    fact = about.get("old")
    return [fact] if isinstance(fact, Pitch) else []


def _old_sign(about: Facts) -> list[Value]:
    """The new letter with the accidental that the note had before."""
    old, new = about.get("old"), note_in(about)
    same = not isinstance(old, Pitch) or old.accidental == new.accidental
    return [] if same or not isinstance(old, Pitch) else [Pitch(new.letter, old.accidental)]


def _half_step_off(about: Facts) -> list[Value]:
    note = note_in(about)
    return [Pitch(note.letter, sign) for sign in (note.accidental + 1, note.accidental - 1) if abs(sign) < 2]


def _degrees_over(name: str) -> Callable[[Facts], list[Value]]:
    """The notes named over another chord than the one they are played over."""

    def values(about: Facts) -> list[Value]:
        other = about.get(name)
        return [tuple(name_over(other, note).degree for note in notes_in(about))] if isinstance(other, Chord) else []

    return values


def _from_first_note(about: Facts) -> list[Value]:
    """The first note taken for the root."""
    notes = notes_in(about)
    own = chord_in_thirds(notes) if len(notes) == 4 else None
    root = notes[0] if abs(notes[0].accidental) < 2 else notes[0].simplest()
    own = own or chord_of(root, chord_in(about).kind or "7")
    return [tuple(name_over(own, note).degree for note in notes)]


def _one_sign_off(about: Facts) -> list[Value]:
    """One of the degrees with another sign."""
    chord = chord_in(about)
    degrees = [name_over(chord, note).degree for note in notes_in(about)]
    found: list[Value] = []
    for place, degree in enumerate(degrees):
        for other in _other_signs({"degree": degree}):
            note = other.over(chord.root) if isinstance(other, Degree) else None
            if (
                isinstance(other, Degree)
                and note
                and name_over(chord, note).degree == other
                and abs(note.accidental) < 2
            ):
                found.append((*degrees[:place], other, *degrees[place + 1 :]))
    return found


# What a device is taken for, by the words in its name that tell it apart.
_TAKEN_FOR = {
    "another start": ("root", "third", "fifth", "seventh", "ninth"),
    "another way": ("", ", inverted", ", one note an octave away"),
}


def _another_start(about: Facts) -> list[Value]:
    name = str(about.get("device"))
    starts = _TAKEN_FOR["another start"][: 4 if name.startswith("arpeggio") else 5]
    own = next((start for start in starts if f"the {start}" in name), None)
    return [name.replace(f"the {own}", f"the {start}") for start in starts if start != own] if own else []


def _another_way(about: Facts) -> list[Value]:
    name = str(about.get("device"))
    if not name.startswith("arpeggio"):
        return []
    bare = name.split(",")[0]
    return [bare + way for way in _TAKEN_FOR["another way"] if bare + way != name]


def _among(*names: str) -> Callable[[Facts], list[Value]]:
    """The others of a handful of devices that are taken for each other."""

    def values(about: Facts) -> list[Value]:
        name = about.get("device")
        return [other for other in names if other != name] if name in names else []

    return values


# What a third, a seventh or a ninth is called in a sentence.
QUALITIES = {
    "3": "major", "b3": "minor", "7": "major", "b7": "minor", "bb7": "diminished",
    "9": "natural", "b9": "flat", "#9": "sharp",
}  # fmt: skip


def quality_on(chord: Chord, rung: int) -> Text:
    """The quality of the chord's third, seventh or ninth in a word: "minor"."""
    return say(QUALITIES[chord.on_rung(rung)[0].name])


MISTAKES: dict[str, Mistake] = {
    # which degree is it?
    "other sign": Mistake("Right number, other sign", _other_signs),
    "a letter too far": Mistake("One letter counted too many", _letters_off(1)),
    "a letter short": Mistake("One letter counted too few", _letters_off(-1)),
    "counted down": Mistake("Counted from {root} down instead of up", _counted_down),
    "counted from the third": Mistake("Counted from the third instead of the root", _counted_from(3)),
    "counted from the fifth": Mistake("Counted from the fifth instead of the root", _counted_from(5)),
    # which arpeggio from the third?
    "other third": Mistake("it starts from the {quality} third", _third_of_twin(OTHER_THIRD)),
    "other seventh": Mistake("it has the {quality} seventh", _third_of_twin(OTHER_SEVENTH)),
    "other ninth": Mistake("it has the {quality} ninth", _other_ninth, usable=True),
    "from the fifth": Mistake("it starts from the fifth", _arpeggio_from(5), usable=True),
    "from the seventh": Mistake("it starts from the seventh", _arpeggio_from(7), usable=True),
    "a third below": Mistake("a third below the root instead of above", _third_below, usable=True),
    # where does the note go?
    "third of the other quality": Mistake("the chord has the {quality} third", _other_quality(3, ("b3", "3"))),
    "seventh of the other quality": Mistake("the chord has the {quality} seventh", _other_quality(7, ("b7", "7"))),
    "root of the next chord": Mistake("the root is safe and says little", _tone_of("next", 1), usable=True),
    "fifth of the next chord": Mistake("the fifth does not tell the chord's kind", _tone_of("next", 5), usable=True),
    "third of the next chord": Mistake("a guide tone, but the other one", _tone_of("next", 3), usable=True),
    "seventh of the next chord": Mistake("a guide tone, but the other one", _tone_of("next", 7), usable=True),
    "third of the chord before": Mistake("the third of {chord}, the chord before", _tone_of("chord", 3)),
    "seventh of the chord before": Mistake("the seventh of {chord}, the chord before", _tone_of("chord", 7)),
    "guide tone of the chord after": Mistake("a guide tone of {after}, a chord too early", _guide_tones_after),
    "stayed": Mistake("the note has not moved", _stayed),
    "other way": Mistake("a step, but to no chord tone", _other_way),
    # which note is missing? where does it go in another key?
    "same number, other sign": Mistake("the right number, another sign", _same_number),
    "a step above": Mistake("the step above", _beside_in_scale(1)),
    "a step below": Mistake("the step below", _beside_in_scale(-1)),
    "a third above": Mistake("the next third of the chord", _third_off(1)),
    "a third too low": Mistake("the third below", _third_off(-1)),
    "not moved": Mistake("the note of the old key", _left_where_it_was),
    "old sign": Mistake("the new letter with the old sign", _old_sign),
    "a half step off": Mistake("a half step off", _half_step_off),
    # which degrees?
    "counted from the next chord": Mistake("counted over {next}, the chord that comes", _degrees_over("next")),
    "counted from the key": Mistake("counted from the tonic of the key", _degrees_over("tonic")),
    "first note as root": Mistake("the first note taken for the root", _from_first_note),
    "one sign off": Mistake("one sign is another", _one_sign_off),
    # which device?
    "another start": Mistake("another tone to start from", _another_start),
    "another way": Mistake("{degrees:run} stand in another order", _another_way),
    "sides confused": Mistake(
        "mind the sides",
        _among("enclosure", "double approach", "approach from above", "approach from below"),
    ),
    "scales confused": Mistake(
        "another scale than {degrees:run}",
        _among("scale run", "half-whole run", "altered run", "harmonic minor run"),
    ),
    "colour for a run": Mistake(
        "one note taken for all of them, {degrees:run}", _among("altered run", "flat-nine colour", "sharp-nine colour")
    ),
}


def wrong_values(keys: Sequence[str], about: Facts, chance: Random) -> list[tuple[Value, str]]:
    """Every value that the mistakes of ``keys`` lead to, each with its key, in a random order."""
    found: list[tuple[Value, str]] = []
    for key in keys:
        found += [(value, key) for value in MISTAKES[key].values(about)]
    return shuffled(found, chance)
