"""Which note a key of a keyboard is: its spelling over a chord, in a key, on the way to the note that follows."""

from __future__ import annotations

from engine.theory.chord import Chord
from engine.theory.degree import Degree
from engine.theory.family import family_of
from engine.theory.key import Key
from engine.theory.naming import EXTENSION, PASSING, name_over
from engine.theory.pitch import Pitch

# Every note name without two accidentals, a natural first.
_PLAIN = tuple(Pitch(letter, accidental) for accidental in (0, 1, -1) for letter in range(7))


def spelled(midi: int, chord: Chord, key: Key, rises: int = 0) -> Pitch:
    """The MIDI key ``midi`` as a note over ``chord`` in ``key``.

    A tone of the chord or of its usual scale, and one on a natural degree (the
    major seventh that passes), is written as that degree; any other as the key
    has it. One that the key does not have takes a sharp where it ``rises`` to the note
    that follows (1), a flat where it falls (-1), else it is written as its usual degree.
    """
    semitones = (midi - chord.root.pitch_class) % 12
    named = [degree for degree in chord.degrees if degree.semitones == semitones]
    usual = family_of(chord).names[semitones].replace("|", ",").split(",")
    degrees = [*named, *map(Degree, usual)]
    tone = degrees[0].over(chord.root)
    # The third of a leading chord is the one that the trade writes with a double sharp.
    tones = [tone if degrees[0].name == "3" and named else tone.readable()]
    if not (_is_settled(chord, named[0]) if named else _is_at_home(chord, tone, usual[0])):
        own = [note for note in key.scale if note.pitch_class == tone.pitch_class]
        # A sharp ninth mostly falls, so without a note that follows it is a flat.
        way = rises or (-1 if degrees[0].name == "#9" else 0)
        written = [*tones, *(degree.over(chord.root).readable() for degree in degrees), *_PLAIN]
        tones = own or [note for note in written if note.pitch_class == tone.pitch_class and note.accidental * way >= 0]
    return tones[0].in_octave((midi - tones[0].in_octave(0).midi) // 12)


def _is_settled(chord: Chord, degree: Degree) -> bool:
    """Whether a tone of the chord has one spelling: all but the sharp ninth and what an altered chord has both ways."""
    both_ways = degree.name.startswith("#") and len(chord.on_rung(degree.rung)) > 1
    return degree.name != "#9" and not both_ways


def _is_at_home(chord: Chord, tone: Pitch, name: str) -> bool:
    """Whether a tone that the chord does not name belongs to its usual scale, or to a natural degree."""
    return name.isdigit() or name_over(chord, tone).role in (EXTENSION, PASSING)
