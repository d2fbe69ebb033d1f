"""What tests of the rhythm section share: progressions as stretches, and changes at random."""

from fractions import Fraction
from random import Random

from engine.lines.progression import PROGRESSIONS, Progression, in_key
from engine.sound.stretch import Stretch
from engine.theory.chord import KINDS, chord_of
from engine.theory.key import MAJOR_KEYS, MINOR_KEYS, Key, parse_key
from engine.theory.pitch import Pitch

ROOTS = tuple(parse_key(name).tonic for name in MAJOR_KEYS)


def stretches_of(progression: Progression, tempo: int = 140, loop: bool = True) -> list[Stretch]:
    """The changes of a progression with their ends and with what follows them."""
    changes = progression.changes
    ends = [*(change.beat for change in changes[1:]), progression.length]
    following = [*(change.chord for change in changes[1:]), changes[0].chord if loop else None]
    return [
        Stretch(change.chord, progression.key, change.beat, end, tempo, after)
        for change, end, after in zip(changes, ends, following, strict=True)
    ]


def everything() -> list[Progression]:
    """Every progression of the table in every key of its mode."""
    return [
        in_key(own, parse_key(key))
        for own in PROGRESSIONS.values()
        for key in (MAJOR_KEYS if own.key.mode == "major" else MINOR_KEYS)
    ]


def at_random(seed: int, lengths: tuple[int, ...] = (1, 2, 2, 4, 4, 8)) -> list[Stretch]:
    """Sixteen chords of any kind on any root, perhaps over another bass, one after the other."""
    chance = Random(seed)
    chords = []
    for _ in range(16):
        chord = chord_of(ROOTS[int(chance.random() * 12)], tuple(KINDS)[int(chance.random() * len(KINDS))])
        chords.append(chord)
    key = Key(Pitch(0), "major" if chance.random() < 0.5 else "minor")
    made, begin = [], Fraction(0)
    for place, chord in enumerate(chords):
        end = begin + lengths[int(chance.random() * len(lengths))]
        following = chords[place + 1] if place + 1 < len(chords) else None
        made.append(Stretch(chord, key, begin, end, 140, following))
        begin = end
    return made
