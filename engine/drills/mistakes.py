"""The mistakes that players really make, as a table.

Every wrong choice of every drill stands for one row. A row knows which values
the mistake leads to, from the facts of a question alone, and how to say it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from importlib import import_module
from random import Random
from types import ModuleType

from engine.drills import slips_in_counting as counting
from engine.drills import slips_in_lines as lines
from engine.drills.chance import shuffled
from engine.drills.facts import Facts, chord_in, key_in, note_in
from engine.drills.question import Value
from engine.drills.slips_in_counting import THE_PLACE
from engine.theory.arpeggio import arpeggio
from engine.theory.chord import Chord, chord_of
from engine.theory.chord_symbol import parse_chord
from engine.theory.degree import Degree
from engine.theory.family import family_of
from engine.theory.key import Key
from engine.theory.pitch import Pitch
from engine.theory.wording import Text, say


@dataclass(frozen=True, slots=True)
class Mistake:
    """``says``: a template for what the player did, with the question's facts as slots.

    ``values``: what the mistake leads to. ``usable``: it may sound well all
    the same; where it does, it is called usable and not asked, never wrong.
    """

    says: str
    values: Callable[[Facts], Sequence[Value]]
    usable: bool = False


# --- the neck ---------------------------------------------------------------


# Loaded when a drill on the neck or by ear wants them: the others are there the sooner.
_ON_THE_NECK, _IN_FINGERING, _ACROSS = "slips_on_the_neck", "slips_in_fingering", "strings_out_of_step"
_IN_HEARING, _IN_COPYING = "slips_in_hearing", "slips_in_copying"


def _later(module: str) -> ModuleType:
    return import_module(f"engine.drills.{module}")


def _neck(slip: str, module: str = _ON_THE_NECK) -> Callable[[Facts], Sequence[Value]]:
    """What a function of such a module leads to."""

    def values(about: Facts) -> Sequence[Value]:
        found: Sequence[Value] = getattr(_later(module), slip)(about)
        return found

    return values


def _counting(notes: Callable[[Facts], Sequence[Value]]) -> Callable[[Facts], Sequence[Value]]:
    """What a slip in counting leads to; where places are asked, every place of that note."""

    def values(about: Facts) -> Sequence[Value]:
        if about.get("ask") != THE_PLACE:
            return notes(about)
        found: Sequence[Value] = _later(_ON_THE_NECK).all_places(about, notes)
        return found

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
    scale = [degree.over(following.root) for degree in counting.ladder(following) if degree not in following.degrees]
    up = [tone for tone in scale if 0 < (tone.pitch_class - note.pitch_class) % 12 <= 2]
    down = [tone for tone in scale if 0 < (note.pitch_class - tone.pitch_class) % 12 <= 2]
    return [*up, *down]


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
    "other sign": Mistake("Right number, other sign", _counting(counting.other_signs)),
    "a letter too far": Mistake("One letter counted too many", _counting(counting.letters_off(1))),
    "a letter short": Mistake("One letter counted too few", _counting(counting.letters_off(-1))),
    "counted down": Mistake("Counted from {root} down instead of up", _counting(counting.counted_down)),
    "counted from the third": Mistake(
        "Counted from the third instead of the root", _counting(counting.counted_from(3))
    ),
    "counted from the fifth": Mistake(
        "Counted from the fifth instead of the root", _counting(counting.counted_from(5))
    ),
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
    "same number, other sign": Mistake("the right number, another sign", lines.same_number),
    "a step above": Mistake("the step above", lines.beside_in_scale(1)),
    "a step below": Mistake("the step below", lines.beside_in_scale(-1)),
    "a third above": Mistake("the next third of the chord", lines.third_off(1)),
    "a third too low": Mistake("the third below", lines.third_off(-1)),
    "not moved": Mistake("the note of the old key", lines.left_where_it_was),
    "old sign": Mistake("the new letter with the old sign", lines.old_sign),
    "a half step off": Mistake("a half step off", lines.half_step_off),
    # which degrees?
    "counted from the next chord": Mistake("counted over {next}, the chord that comes", lines.degrees_over("next")),
    "counted from the key": Mistake("counted from the tonic of the key", lines.degrees_over("tonic")),
    "first note as root": Mistake("the first note taken for the root", lines.from_first_note),
    "one sign off": Mistake("one sign is different", lines.one_sign_off),
    # which device?
    "another start": Mistake("another tone to start from", lines.another_start),
    "another way": Mistake("here it is {degrees:run}", lines.another_way),
    "sides confused": Mistake(
        "watch which side each note comes from",
        lines.among(
            "enclosure", "double approach", "approach from above", "approach from below", "passing note off the beat"
        ),
    ),
    "scales confused": Mistake(
        "{degrees:run} is of another scale",
        lines.among("scale run", "half-whole run", "altered run", "harmonic minor run"),
    ),
    "colour for a run": Mistake(
        "one note of {degrees:run} is taken for the whole",
        lines.among("altered run", "flat-nine colour", "sharp-nine colour"),
    ),
    # where on the neck? Of these rows and those on counting the first that leads to a place stands for it.
    "another octave": Mistake("The right note in another octave", _neck("other_octaves"), usable=True),
    "the root left out": Mistake("This arpeggio leaves out the root", _neck("root_left_out"), usable=True),
    "out of order": Mistake("One of the notes, but not the next one", _neck("out_of_order")),
    "out of order, in another octave": Mistake(
        "One of the notes, but in another octave, and not the next one", _neck("in_another_octave")
    ),
    "strings out of step": Mistake(
        "String {higher} is tuned {interval} above string {lower}, not {usual}", _neck("out_of_step", _ACROSS)
    ),
    "a fret too low": Mistake("A fret too low", _neck("a_fret_low")),
    "a fret too high": Mistake("A fret too high", _neck("a_fret_high")),
    "a string too low": Mistake("The right fret, but a string too low", _neck("a_string_low")),
    "a string too high": Mistake("The right fret, but a string too high", _neck("a_string_high")),
    "another tone of the chord": Mistake("Another tone of the chord", _neck("chord_tones")),
    "an extension": Mistake("An extension of the chord, not asked", _neck("extensions")),
    "an alteration": Mistake("An alteration, not asked", _neck("alterations")),
    "an avoid note": Mistake("An avoid note, for passing only: it rubs against the 3", _neck("avoid_notes")),
    "a passing note": Mistake("A passing note: neither in the chord nor an extension", _neck("passing_notes")),
    "another note": Mistake("Neither in the chord nor in its usual scale", _neck("anything_else")),
    # which way stays in position?
    "lowest frets": Mistake("Every note at its lowest fret", _neck("lowest_frets", _IN_FINGERING)),
    "along one string": Mistake("Along one string", _neck("one_string", _IN_FINGERING)),
    "nearest frets": Mistake("Every note at the fret nearest to the one before", _neck("nearest_frets", _IN_FINGERING)),
    "begun elsewhere": Mistake("Begun in one position and ended in another", _neck("begun_elsewhere", _IN_FINGERING)),
    "one note out": Mistake("One note out of position", _neck("one_note_out", _IN_FINGERING)),
    # what was heard?
    "a half step misheard": Mistake("A half step beside it", _neck("half_steps", _IN_HEARING)),
    "a whole step misheard": Mistake("A whole step beside it", _neck("whole_steps", _IN_HEARING)),
    "a chord tone misheard": Mistake("A tone of the chord, but another one", _neck("chord_tones", _IN_HEARING)),
    "other third misheard": Mistake("The third of the other quality", _neck("other_third", _IN_HEARING)),
    "third misheard": Mistake("here the third is different", _neck("third", _IN_HEARING)),
    "fifth misheard": Mistake("here the fifth is different", _neck("fifth", _IN_HEARING)),
    "seventh misheard": Mistake("here {tone} sounds", _neck("seventh", _IN_HEARING)),
    "colour misheard": Mistake("here {tone} sounds", _neck("colour", _IN_HEARING)),
    "two tones misheard": Mistake("here two of the tones are different", _neck("two_tones", _IN_HEARING)),
    "figure misheard": Mistake("that is another figure", _neck("other_figures", _IN_HEARING)),
    # which note came next? The first row that leads to a key or a place stands for it.
    "the note before again": Mistake("The note before, once more", _neck("same_again", _IN_COPYING)),
    "an octave off": Mistake("The right note, but an octave off", _neck("octave_off", _IN_COPYING)),
    "out of turn": Mistake("A note of the figure, but not the next one", _neck("out_of_turn", _IN_COPYING)),
    "a half step beside": Mistake("A half step off the right note", _neck("half_step_beside", _IN_COPYING)),
    "a scale step beside": Mistake("The scale note next to the right one", _neck("scale_step_beside", _IN_COPYING)),
    "turned round": Mistake("The right interval, but the other way", _neck("turned_round", _IN_COPYING)),
    "another chord tone": Mistake("A tone of the chord, but another one", _neck("another_chord_tone", _IN_COPYING)),
    "another interval": Mistake("Right direction, wrong interval", _neck("another_interval", _IN_COPYING)),
    "another way round": Mistake("The figure goes the other way here", _neck("another_way_round", _IN_COPYING)),
}


def wrong_values(keys: Sequence[str], about: Facts, chance: Random) -> list[tuple[Value, str]]:
    """Every value that the mistakes of ``keys`` lead to, each with its key, in a random order."""
    found: list[tuple[Value, str]] = []
    for key in keys:
        found += [(value, key) for value in MISTAKES[key].values(about)]
    return shuffled(found, chance)
