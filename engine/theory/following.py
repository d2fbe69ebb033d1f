"""Which chords usually follow: a table for each mode, and what each kind of chord does wherever it stands.

Source: the functional harmony of the usual jazz-theory textbooks: ii–V–I and its
minor form, secondary dominants, turnarounds, tritone substitutes, the blues.
"""

from __future__ import annotations

from dataclasses import replace

from engine.theory.chord import Chord
from engine.theory.chord_symbol import parse_chord
from engine.theory.family import family_of
from engine.theory.key import Key
from engine.theory.pitch import Pitch

# In C: a chord, and what follows it, the most usual first. The first row is what a line starts on.
MAJOR = (
    ("", "Dm7 G7 Cmaj7 C7 Am7 Fmaj7 Em7 A7"),
    ("Cmaj7", "Dm7 A7 Am7 Fmaj7 Em7 C7 G7 Ebdim7"),
    ("C7", "F7 Fmaj7 Gm7 A7 F#dim7 Fm7"),
    ("Dm7", "G7 G7b9 Db7 G7alt Dm7b5 Em7 Cmaj7"),
    ("D7", "Dm7 G7 Gmaj7 Am7 Db7"),
    ("Em7", "A7 Am7 Eb7 Ebdim7 Dm7 Fmaj7"),
    ("E7", "Am7 A7 Bm7b5 Fmaj7"),
    ("Fmaj7", "Fm6 Bb7 Em7 Dm7 F#dim7 G7 Cmaj7"),
    ("F7", "C7 Bb7 F#dim7 Em7 Cmaj7"),
    ("Fm7", "Bb7 Cmaj7 Em7"),
    ("Gm7", "C7 C7b9 Gb7 Fmaj7"),
    ("G7", "Cmaj7 C6 C7 Em7 Am7 A7 Cm7 Dm7"),
    ("Am7", "Dm7 D7 Abm7 Ab7 Fmaj7 Gm7"),
    ("A7", "Dm7 D7 Dm7b5 Ebdim7"),
    ("Bm7b5", "E7 E7b9 E7alt Bb7"),
    ("Bb7", "Cmaj7 Am7 A7 Em7"),
    ("Db7", "Cmaj7 C6 C7"),
)
MINOR = (
    ("", "Dm7b5 G7b9 Cm7 Cm6 CmMaj7 Fm7 Abmaj7 Ebmaj7"),
    ("Cm7", "Dm7b5 Fm7 F7 G7b9 Abmaj7 Am7b5 C7 Bb7"),
    ("C7", "Fm7 Fm6 F7 Gm7b5"),
    ("Dm7b5", "G7b9 G7 G7alt Db7"),
    ("D7", "G7 Dm7b5 Gm7 Ab7"),
    ("Ebmaj7", "Abmaj7 Dm7b5 Cm7 D7"),
    ("Fm7", "Bb7 G7b9 Dm7b5 Cm7"),
    ("F7", "Bb7 Fm7 Bbmaj7 Cm7"),
    ("G7", "Cm7 Cm6 CmMaj7 C7 Abmaj7 Cmaj7"),
    ("Abmaj7", "Dm7b5 G7b9 Db7 Fm7 Cm7"),
    ("Ab7", "G7b9 G7 Dm7b5 Cm6"),
    ("Am7b5", "D7b9 Abmaj7 Ab7 Dm7b5"),
    ("Bb7", "Ebmaj7 Eb7 Ebm7 Cm7"),
)
# Any other chord, on C: what its kind does wherever it stands.
ANYWHERE = (
    ("C7", "Fmaj7 Fm7 F7"),
    ("Cm7", "F7 F7b9 Bbmaj7"),
    ("Cm7b5", "F7b9 F7 F7alt"),
    ("Cmaj7", "Dm7 A7 Fmaj7 Cm7"),
    ("Cdim7", "Dbm7 Db7 Dbmaj7"),
)
# Families that do what another one does.
_AS = {
    "sixth": "major seventh", "major triad": "major seventh", "augmented major seventh": "major seventh",
    "minor sixth": "minor seventh", "minor triad": "minor seventh", "minor-major seventh": "minor seventh",
    "augmented dominant": "dominant", "suspended dominant": "dominant", "augmented triad": "dominant",
    "suspended": "dominant", "diminished triad": "diminished seventh", "diminished major seventh": "diminished seventh",
    "fifth alone": "major seventh",
}  # fmt: skip
_C = Pitch(0)


def following(chord: Chord | None, key: Key, most: int = 8) -> tuple[Chord, ...]:
    """Up to ``most`` chords that usually follow ``chord`` in ``key``, the most usual first.

    None asks for what a line starts on. Where the table has fewer, these come
    after them; ``chord`` itself is not among them.
    """
    rows = MAJOR if key.mode == "major" else MINOR
    found: list[Chord] = []
    if chord is not None:
        found = _row(rows, chord, key.tonic) or _row(ANYWHERE, chord, chord.root)
    found += [_moved(name, key.tonic) for name in rows[0][1].split()]
    own = chord.symbol if chord is not None else ""
    return tuple({other.symbol: other for other in found if other.symbol != own}.values())[:most]


def _row(rows: tuple[tuple[str, str], ...], chord: Chord, tonic: Pitch) -> list[Chord]:
    """What follows a chord by the rows of a table that is written in C; nothing where none is about it."""
    place = (chord.root.pitch_class - tonic.pitch_class) % 12, _family(chord)
    for name, others in rows:
        if name and (parse_chord(name).root.pitch_class, _family(parse_chord(name))) == place:
            return [_moved(other, tonic) for other in others.split()]
    return []


def _family(chord: Chord) -> str:
    name = family_of(chord).name
    return _AS.get(name, name)


def _moved(name: str, tonic: Pitch) -> Chord:
    """A chord of the table in another key."""
    chord = parse_chord(name)
    root = chord.root.up(tonic.letter - _C.letter, tonic.pitch_class)
    return replace(chord, root=root.readable())
