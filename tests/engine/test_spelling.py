"""Keys of a keyboard as notes: by the chord, the key and the way to the next note; and the chords that follow."""

import pytest

from engine.theory.chord import KINDS, chord_of
from engine.theory.chord_symbol import parse_chord
from engine.theory.following import ANYWHERE, MAJOR, MINOR, following
from engine.theory.key import MAJOR_KEYS, MINOR_KEYS, parse_key
from engine.theory.naming import CHORD_TONE, EXTENSION, name_over
from engine.theory.pitch import Pitch
from engine.theory.spelling import spelled

KEYS = (*MAJOR_KEYS, *MINOR_KEYS)
ROOTS = tuple(parse_key(name).tonic for name in MAJOR_KEYS)


# Chord, key, and the twelve keys from C: at rest, where a half step up follows, where a step down follows.
SPELLINGS = [
    ("G7", "C", "C C# D Eb E F F# G Ab A Bb B", "C C# D D# E F F# G G# A A# B", "C Db D Eb E F F# G Ab A Bb B"),
    ("G7", "Cm", "C C# D Eb E F F# G Ab A Bb B", "C C# D Eb E F F# G Ab A Bb B", "C Db D Eb E F F# G Ab A Bb B"),
    ("Dm7", "C", "C C# D Eb E F F# G Ab A Bb B", "C C# D D# E F F# G G# A A# B", "C C# D Eb E F F# G Ab A Bb B"),
    ("Cmaj7", "C", "C Db D Eb E F F# G G# A Bb B", "C C# D D# E F F# G G# A A# B", "C Db D Eb E F F# G Ab A Bb B"),
    ("A7", "D", "C C# D D# E F F# G G# A Bb B", "B# C# D D# E F F# G G# A A# B", "C C# D Eb E F F# G G# A Bb B"),
    ("Eb7", "Ab", "C Db D Eb Fb F Gb G Ab A Bb Cb", "C Db D Eb E F F# G Ab A Bb B", "C Db D Eb Fb F Gb G Ab A Bb Cb"),
    ("G7alt", "C", "C Db D D# E F F# G Ab A Bb B", "C Db D D# E F F# G Ab A A# B", "C Db D Eb E F F# G Ab A Bb B"),
    ("D#7", "G#m", *["B# C# D D# E E# F# F## G# A A# B"] * 3),
    ("Cdim7", "Bb", "C Db D Eb E F Gb G Ab A Bb B", "C C# D Eb E F Gb G Ab A Bb B", "C Db D Eb E F Gb G Ab A Bb B"),
]


@pytest.mark.parametrize(("symbol", "key", "rest", "up", "down"), SPELLINGS)
def test_keys_as_a_teacher_writes_them(symbol: str, key: str, rest: str, up: str, down: str) -> None:
    chord = parse_chord(symbol)
    for way, notes in ((0, rest), (1, up), (-1, down)):
        found = [spelled(midi, chord, parse_key(key), way) for midi in range(60, 72)]
        assert " ".join(str(note.in_octave(None)) for note in found) == notes


@pytest.mark.parametrize("kind", KINDS)
def test_every_key_sounds_as_itself_and_is_spelled_by_its_degree(kind: str) -> None:
    for root in ROOTS:
        chord = chord_of(root, kind)
        for name in ("C", "Gb", "E", "G#m"):
            for way in (-1, 0, 1):
                for midi in range(59, 73):
                    note = spelled(midi, chord, parse_key(name), way)
                    assert note.midi == midi
                    naming = name_over(chord, note)
                    plain = [degree.over(root) for degree in chord.degrees]
                    # No double accidental but the one that the trade writes.
                    assert abs(note.accidental) < 2 or (note.in_octave(None) in plain and naming.degree.name == "3")
                    if naming.role == EXTENSION:
                        assert note.in_octave(None) == naming.degree.over(root).readable()
                    if naming.role == CHORD_TONE and naming.degree.rung in (1, 3, 6, 7):
                        assert note.in_octave(None) in (naming.degree.over(root), naming.degree.over(root).readable())


@pytest.mark.parametrize("name", KEYS)
def test_a_chromatic_note_rises_with_a_sharp_and_falls_with_a_flat(name: str) -> None:
    key = parse_key(name)
    checked = 0
    for chord in following(None, key):
        for midi in range(60, 72):
            if any(note.pitch_class == midi % 12 for note in (*key.scale, *chord.notes)):
                continue
            usual = name_over(chord, spelled(midi, chord, key))
            if usual.degree.name.isdigit() or usual.role == EXTENSION:
                continue
            assert spelled(midi, chord, key, 1).accidental >= 0
            assert spelled(midi, chord, key, -1).accidental <= 0
            checked += 1
    assert checked > 10


# What a player would want to find, in C and moved.
FOLLOWING = [
    ("", "C", "Dm7 G7 Cmaj7"),
    ("", "Cm", "Dm7b5 G7b9 Cm7"),
    ("", "F#m", "G#m7b5 C#7b9 F#m7"),
    ("Dm7", "C", "G7 G7b9 Db7"),
    ("D-7", "C", "G7"),
    ("Ebm7", "Db", "Ab7"),
    ("G7", "C", "Cmaj7 C6 C7"),
    ("G13", "C", "Cmaj7 C6 C7"),
    ("C6", "C", "Dm7 A7 Am7"),
    ("F#7", "C", "Bmaj7 Bm7 B7"),
    ("Bb7", "F", "F7 Eb7"),
    ("Abm7", "C", "Db7"),
    ("D#7", "G#m", "G#m7 G#m6"),
    ("Gdim7", "Eb", "Abm7 Ab7"),
]


@pytest.mark.parametrize(("symbol", "key", "expected"), FOLLOWING)
def test_what_usually_follows_stands_first(symbol: str, key: str, expected: str) -> None:
    found = following(parse_chord(symbol) if symbol else None, parse_key(key))
    assert [chord.symbol for chord in found][: len(expected.split())] == expected.split()


@pytest.mark.parametrize("name", KEYS)
def test_there_is_always_something_to_go_on_with(name: str) -> None:
    key = parse_key(name)
    for root in (*ROOTS, Pitch(3, 1), Pitch(0, -1)):
        for kind in KINDS:
            chord = chord_of(root, kind)
            found = following(chord, key)
            assert len({one.symbol for one in found}) == len(found) == 8
            assert chord.symbol not in {one.symbol for one in found}
            assert all(parse_chord(one.symbol) == one for one in found)


@pytest.mark.parametrize("rows", [MAJOR, MINOR, ANYWHERE])
def test_the_table_can_be_read_and_has_each_chord_once(rows: tuple[tuple[str, str], ...]) -> None:
    chords = [parse_chord(name) for name, _ in rows if name]
    assert len({(chord.root, chord.kind) for chord in chords}) == len(chords)
    for name, others in rows:
        assert len(set(others.split())) == len(others.split())
        assert name not in others.split()
