"""Arpeggios in thirds: from the root, third, fifth or seventh of a chord."""

import pytest
from by_hand import ROOTS, above, sound, spell

from engine.theory.arpeggio import STARTS, arpeggio
from engine.theory.bad_input import BadInput
from engine.theory.chord import KINDS, chord_of
from engine.theory.chord_symbol import parse_chord
from engine.theory.key import MINOR_KEYS, parse_key
from engine.theory.pitch import parse_pitch

# chord, the tone it starts from, the key ("" for none): notes, degrees, the chord that they are
EXAMPLES = [
    ("A7", 1, "", "A C# E G", "1 3 5 b7", "A7"),
    ("A7", 3, "", "C# E G B", "3 5 b7 9", "C#m7b5"),
    ("A7", 5, "", "E G B D", "5 b7 9 11", "Em7"),
    ("A7", 7, "", "G B D F#", "b7 9 11 13", "Gmaj7"),
    ("Cmaj7", 3, "", "E G B D", "3 5 7 9", "Em7"),
    ("Cmaj7", 5, "", "G B D F#", "5 7 9 #11", "Gmaj7"),
    ("Cmaj7", 7, "", "B D F# A", "7 9 #11 13", "Bm7"),
    ("Dm7", 3, "", "F A C E", "b3 5 b7 9", "Fmaj7"),
    ("Dm7", 5, "", "A C E G", "5 b7 9 11", "Am7"),
    ("Dm7", 7, "", "C E G B", "b7 9 11 13", "Cmaj7"),
    ("Bm7b5", 3, "", "D F A C", "b3 b5 b7 b9", "Dm7"),
    ("Bm7b5", 5, "", "F A C E", "b5 b7 b9 11", "Fmaj7"),
    ("Bm7b5", 7, "", "A C E G", "b7 b9 11 b13", "Am7"),
    ("CmMaj7", 3, "", "Eb G B D", "b3 5 7 9", "Ebmaj7#5"),
    ("CmMaj7", 5, "", "G B D F", "5 7 9 11", "G7"),
    ("CmMaj7", 7, "", "B D F A", "7 9 11 13", "Bm7b5"),
    ("Cmaj7#5", 3, "", "E G# B D", "3 #5 7 9", "E7"),
    # a diminished seventh repeats its own tones
    ("Cdim7", 3, "", "Eb Gb Bbb C", "b3 b5 bb7 1", "Ebdim7"),
    ("Cdim7", 5, "", "Gb Bbb C Eb", "b5 bb7 1 b3", "Gbdim7"),
    ("Cdim7", 7, "", "Bbb C Eb Gb", "bb7 1 b3 b5", "Adim7"),
    # alterations in the symbol win over the scale
    ("C7b9", 3, "", "E G Bb Db", "3 5 b7 b9", "Edim7"),
    ("C9", 3, "", "E G Bb D", "3 5 b7 9", "Em7b5"),
    ("C7#11", 5, "", "G Bb D F#", "5 b7 9 #11", "GmMaj7"),
    ("C7b13", 7, "", "Bb D F Ab", "b7 9 11 b13", "Bb7"),
    ("Cmaj7#11", 5, "", "G B D F#", "5 7 9 #11", "Gmaj7"),
    ("G7b9", 3, "C", "B D F Ab", "3 5 b7 b9", "Bdim7"),
    ("G9", 3, "Cm", "B D F A", "3 5 b7 9", "Bm7b5"),
    # no chord in thirds
    ("C7#9", 3, "", "E G Bb D#", "3 5 b7 #9", None),
    ("C7#5", 3, "", "E G# Bb D", "3 #5 b7 9", None),
    # the key wins where the symbol is silent
    ("G7", 3, "C", "B D F A", "3 5 b7 9", "Bm7b5"),
    ("G7", 3, "Cm", "B D F Ab", "3 5 b7 b9", "Bdim7"),
    ("G7", 7, "Cm", "F Ab C Eb", "b7 b9 11 b13", "Fm7"),
    ("E7", 3, "Am", "G# B D F", "3 5 b7 b9", "G#dim7"),
    ("Em7", 3, "C", "G B D F", "b3 5 b7 b9", "G7"),
    ("Bm7b5", 3, "C", "D F A C", "b3 b5 b7 b9", "Dm7"),
    ("Bm7b5", 3, "Am", "D F A C", "b3 b5 b7 b9", "Dm7"),
    ("Am7", 7, "C", "G B D F", "b7 9 11 b13", "G7"),
    ("Cmaj7", 5, "C", "G B D F", "5 7 9 11", "G7"),
    ("Fmaj7", 5, "C", "C E G B", "5 7 9 #11", "Cmaj7"),
    ("Dm7", 3, "C", "F A C E", "b3 5 b7 9", "Fmaj7"),
]


@pytest.mark.parametrize(("symbol", "start", "key", "notes", "degrees", "name"), EXAMPLES)
def test_an_arpeggio(symbol: str, start: int, key: str, notes: str, degrees: str, name: str | None) -> None:
    found = arpeggio(parse_chord(symbol), start, parse_key(key) if key else None)
    assert " ".join(str(note) for note in found.notes) == notes
    assert " ".join(degree.name for degree in found.degrees) == degrees
    assert (found.own.symbol if found.own else None) == name


@pytest.mark.parametrize("minor", MINOR_KEYS)
def test_the_third_of_the_dominant_of_a_minor_key_carries_a_diminished_seventh(minor: str) -> None:
    dominant = spell(minor.removesuffix("m"), "5") + "7"
    found = arpeggio(parse_chord(dominant), 3, parse_key(minor))
    assert found.degrees[3].name == "b9"
    assert found.own is not None
    assert found.own.kind == "dim7"
    assert [above(str(low), str(high)) for low, high in zip(found.notes, found.notes[1:], strict=False)] == [3, 3, 3]


SEVENTH_CHORDS = [kind for kind, tones in KINDS.items() if {"b7", "7", "bb7"} & set(tones.split()) and "3" in tones]


def test_there_are_seventh_chords_of_every_sort() -> None:
    assert {"maj7", "m7", "7", "m7b5", "dim7", "mMaj7", "maj7#5", "7alt", "13"} <= set(SEVENTH_CHORDS)


@pytest.mark.parametrize("kind", SEVENTH_CHORDS)
@pytest.mark.parametrize("start", STARTS)
def test_every_arpeggio_is_four_notes_a_third_apart(kind: str, start: int) -> None:
    numbers = {"1": 1, "3": 3, "5": 5, "7": 7, "9": 9, "11": 11, "13": 13}
    for root in ROOTS:
        found = arpeggio(chord_of(parse_pitch(root), kind), start)
        names = [degree.name for degree in found.degrees]
        assert [str(note) for note in found.notes] == [spell(root, name) for name in names], root + kind
        if kind != "dim7":
            stacked = [numbers[name.lstrip("b#")] for name in names]
            assert stacked == [start, start + 2, start + 4, start + 6]
        if found.own:
            sounds = [sound(str(note)) for note in found.notes]
            assert [
                sound(spell(str(found.own.root), degree)) for degree in KINDS[found.own.kind or ""].split()
            ] == sounds
            assert sound(str(found.own.root)) == sounds[0]


@pytest.mark.parametrize(
    ("symbol", "missing"),
    [
        ("C", "no seventh"), ("Cm", "no seventh"), ("Cdim", "no seventh"), ("Caug", "no seventh"),
        ("Cadd9", "no seventh"), ("C6", "no seventh"), ("C6/9", "no seventh"), ("Cm6", "no seventh"),
        ("Csus4", "no third and no seventh"), ("Csus2", "no third and no seventh"), ("C7sus4", "no third"),
        ("C9sus4", "no third"), ("C5", "no third and no seventh"), ("C7no5", "no fifth"),
    ],
)  # fmt: skip
def test_a_chord_without_third_fifth_and_seventh_is_refused_in_one_sentence(symbol: str, missing: str) -> None:
    for start in STARTS:
        with pytest.raises(BadInput) as refused:
            arpeggio(parse_chord(symbol), start)
        assert (refused.value.token, refused.value.column) == (symbol, 1)
        assert str(refused.value).startswith(f'column 1: "{symbol}" has {missing}, so no 3–5–7–9; give a chord with')
        assert str(refused.value).isprintable()
