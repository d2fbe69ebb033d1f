"""Chord symbols as musicians write them, and what is no chord symbol."""

import pytest
from by_hand import ROOTS, spell
from hypothesis import given
from hypothesis import strategies as st

from engine.theory.bad_input import BadInput
from engine.theory.chord import KINDS, chord_of
from engine.theory.chord_symbol import LONGEST, parse_chord, parse_kind
from engine.theory.pitch import parse_pitch

# What stands behind the root (several spellings, parted by two spaces or more): the degrees that it names.
SPELLINGS = """
M  maj  Maj  MAJ  ma  major                                        : 1 3 5
m  -  mi  min  Min  minor                                          : 1 b3 5
dim  °  o  º  Dim  diminished  m(b5)  m(♭5)                        : 1 b3 b5
+  aug  Aug  AUG  augmented  (#5)  (♯5)  maj(#5)  (+5)             : 1 3 #5
(b5)  (♭5)  M(b5)                                                  : 1 3 b5
5                                                                  : 1 5
sus  sus4  (sus4)  4                                               : 1 5 11
sus2  (sus2)                                                       : 1 5 9
sus24  sus2/4  sus4(add9)  sus(9)                                  : 1 5 9 11
add9  (add9)  add2  2  maj(add9)  (9)                              : 1 3 5 9
madd9  m(add9)  -add9  mi(add9)  madd2                             : 1 b3 5 9
add11  (add4)                                                      : 1 3 5 11
m(add11)  madd4                                                    : 1 b3 5 11
add#11  (add♯11)                                                   : 1 3 5 #11
no3  (no3)  omit3                                                  : 1 5
no5  (omit5)                                                       : 1 3

6  M6  maj6  ma6  add6                                             : 1 3 5 6
m6  -6  mi6  min6                                                  : 1 b3 5 6
6/9  69  6(9)  6add9  maj6/9  (6/9)                                : 1 3 5 6 9
m6/9  m69  -69  m6(9)  m6add9                                      : 1 b3 5 6 9
6/9#11  69(#11)  6/9(♯11)                                          : 1 3 5 6 9 #11
6sus4                                                              : 1 5 6 11

maj7  M7  ma7  Maj7  MA7  MAJ7  j7  Δ  △  ∆  Δ7  △7  7M  (maj7)    : 1 3 5 7
maj9  M9  ma9  Δ9  maj7(9)                                         : 1 3 5 7 9
maj13  M13  Δ13  maj9(13)                                          : 1 3 5 7 9 13
maj7add13  maj7(13)                                                : 1 3 5 7 13
maj7#11  maj7(#11)  M7#11  Δ#11  Δ7(♯11)  M7+11  maj7#4            : 1 3 5 7 #11
maj9#11  maj9(♯11)  M9#11  Δ9#11                                   : 1 3 5 7 9 #11
maj13#11  M13(#11)                                                 : 1 3 5 7 9 #11 13
maj7#5  maj7(#5)  maj7+5  M7♯5  Δ#5  Δ7(♯5)  +maj7  +M7  augmaj7  +Δ  aug(maj7)  : 1 3 #5 7
maj7b5  maj7(♭5)  M7b5  Δ(b5)                                      : 1 3 b5 7
maj7#9  maj7(#9)                                                   : 1 3 5 7 #9
maj7sus4  Δsus4  sus4(maj7)                                        : 1 5 7 11

m7  -7  mi7  min7  Min7  MI7  minor7                               : 1 b3 5 b7
m9  -9  mi9  min9  m7(9)  m7add9                                   : 1 b3 5 b7 9
m11  -11  mi11  min11                                              : 1 b3 5 b7 9 11
m13  -13  mi13                                                     : 1 b3 5 b7 9 11 13
m7add11  m7(11)  m7add4  m7/11                                     : 1 b3 5 b7 11
m7(b9)  m7b9                                                       : 1 b3 5 b7 b9
m7#5  m7+5  m7(♯5)                                                 : 1 b3 #5 b7
m7b13                                                              : 1 b3 5 b7 b13
m(b6)  mb6                                                         : 1 b3 5 b6
m7b5  m7(b5)  m7♭5  m7-5  -7b5  -7(♭5)  mi7b5  min7(b5)  ø  ø7  Ø  Ø7  : 1 b3 b5 b7
m9b5  ø9  m7b5(9)  ø7(9)                                           : 1 b3 b5 b7 9
m7b5b9  ø7(b9)  ø(♭9)                                              : 1 b3 b5 b7 b9
m7b5(11)  ø(add11)  ø7(11)                                         : 1 b3 b5 b7 11
m11b5  ø11                                                         : 1 b3 b5 b7 9 11
dim7  °7  o7  º7                                                   : 1 b3 b5 bb7
dim(maj7)  °maj7  °M7  °Δ7  dimMaj7                                : 1 b3 b5 7
mMaj7  mM7  m(maj7)  m(ma7)  m(M7)  mmaj7  -Δ  -Δ7  mΔ  -maj7  mi(maj7)  min(maj7)  m(Δ7)  m/maj7  m#7  : 1 b3 5 7
mMaj9  mM9  m(maj9)  -Δ9                                           : 1 b3 5 7 9

7  dom7                                                            : 1 3 5 b7
9  7(9)  7add9  7/9                                                : 1 3 5 b7 9
11                                                                 : 1 3 5 b7 9 11
13  9(13)  7(9,13)  7(9/13)                                        : 1 3 5 b7 9 13
7add13  7(13)  7/13                                                : 1 3 5 b7 13
7add11  7(add4)                                                    : 1 3 5 b7 11
7b5  7(b5)  7♭5  7-5                                               : 1 3 b5 b7
7#5  7(#5)  7♯5  7+5  7+  +7  aug7  7aug                           : 1 3 #5 b7
7b9  7(b9)  7♭9  7-9  7(-9)  7/b9  9b9                             : 1 3 5 b7 b9
7#9  7(#9)  7♯9  7+9  7(+9)                                        : 1 3 5 b7 #9
7#11  7(#11)  7♯11  7+11  7#4                                      : 1 3 5 b7 #11
7b13  7(b13)  7♭13  7b6                                            : 1 3 5 b7 b13
9#11  9(♯11)  9+11                                                 : 1 3 5 b7 9 #11
9b5  9(b5)                                                         : 1 3 b5 b7 9
9#5  9+5  +9  aug9                                                 : 1 3 #5 b7 9
9b13  13b13                                                        : 1 3 5 b7 9 b13
13#5  +13  13+5                                                    : 1 3 #5 b7 9 13
13sus2                                                             : 1 5 b7 9 13
13#11  13(♯11)                                                     : 1 3 5 b7 9 #11 13
13b9  13(♭9)  7(b9,13)  7b9/13  7(b9add13)                         : 1 3 5 b7 b9 13
13#9                                                               : 1 3 5 b7 #9 13
13b9#11  13(b9,#11)  13(#11,b9)                                    : 1 3 5 b7 b9 #11 13
7b9b13  7b13b9  7(b9,b13)  7(b9 b13)  7(♭9♭13)  7b9(b13)  7(b9)(b13)  7[b9,b13]  : 1 3 5 b7 b9 b13
7#9b13  7b13#9  7(♯9♭13)                                           : 1 3 5 b7 #9 b13
7#5#9  7#9#5  7+5+9  +7#9  +7(♯9)  7(#5,#9)                        : 1 3 #5 b7 #9
7#5b9  7b9#5  +7b9  7(b9,#5)                                       : 1 3 #5 b7 b9
7b5b9  7b9b5  7-5-9  7(b5,b9)                                      : 1 3 b5 b7 b9
7b5#9  7#9b5                                                       : 1 3 b5 b7 #9
7b9#9  7(b9,#9)                                                    : 1 3 5 b7 b9 #9
7b9#11  7#11b9  7(♭9,♯11)                                          : 1 3 5 b7 b9 #11
7#9#11  7#11#9                                                     : 1 3 5 b7 #9 #11
7#11b13                                                            : 1 3 5 b7 #11 b13
7alt  alt  7(alt)  7Alt                                            : 1 3 b5 #5 b7 b9 #9
7no5  7(omit5)                                                     : 1 3 b7
m7no5                                                              : 1 b3 b7
7sus4  7sus  sus7  7(sus4)                                         : 1 5 b7 11
7sus2                                                              : 1 5 b7 9
9sus4  9sus  sus9  9(sus4)                                         : 1 5 b7 9 11
13sus4  13sus  sus13                                               : 1 5 b7 9 11 13
7sus4(13)                                                          : 1 5 b7 11 13
7sus4b9  7susb9  7sus(b9)  7b9sus4  7b9sus  7(♭9)sus4              : 1 5 b7 b9 11
13susb9  13sus4(b9)                                                : 1 5 b7 b9 11 13
"""


def _rows(table: str) -> list[tuple[str, str]]:
    """Each spelling with its degrees."""
    rows = []
    for line in table.splitlines():
        spellings, _, degrees = line.rpartition(":")
        rows += [(spelling.strip(), degrees.strip()) for spelling in spellings.split("  ") if spelling.strip()]
    return rows


TABLE = _rows(SPELLINGS)


def test_there_are_many_spellings() -> None:
    spellings = [spelling for spelling, _ in TABLE]
    assert len(spellings) == len(set(spellings)) >= 160


@pytest.mark.parametrize(("suffix", "degrees"), TABLE, ids=[spelling for spelling, _ in TABLE])
def test_a_spelling_names_its_degrees_over_every_root(suffix: str, degrees: str) -> None:
    for root in ROOTS:
        chord = parse_chord(root + suffix)
        assert str(chord.root) == root
        assert " ".join(degree.name for degree in chord.degrees) == degrees, root + suffix
        assert [str(note) for note in chord.notes] == [spell(root, degree) for degree in degrees.split()], root + suffix
        assert chord.bass is None


@pytest.mark.parametrize(
    ("symbol", "notes"),
    [
        ("C", "C E G"), ("Bb7", "Bb D F Ab"), ("B♭7", "Bb D F Ab"), ("F♯m7♭5", "F# A C E"), ("F#ø", "F# A C E"),
        ("Ebmaj7", "Eb G Bb D"), ("E♭△", "Eb G Bb D"), ("Abm(maj7)", "Ab Cb Eb G"), ("D7b9", "D F# A C Eb"),
        ("E7#9", "E G# B D F##"), ("Db7#11", "Db F Ab Cb G"), ("Gb7b9", "Gb Bb Db Fb Abb"), ("B7b13", "B D# F# A G"),
        ("Bdim7", "B D F Ab"), ("Ebdim7", "Eb Gb Bbb Dbb"), ("G#dim7", "G# B D F"), ("Caug", "C E G#"),
        ("G7alt", "G B Db D# F Ab A#"), ("A13", "A C# E G B F#"), ("D9sus4", "D A C E G"), ("C6/9", "C E G A D"),
        # a triple flat is respelled with the fewest signs
        ("Cbdim7", "Cb Ebb Gbb Ab"), ("Fbdim7", "Fb Abb Cbb Db"),
        ("Cb7b9", "Cb Eb Gb Bbb Dbb"), ("B#maj7", "B# D## F## A##"), ("B#7#9", "B# D## F## A# D#"),
    ],
)  # fmt: skip
def test_the_notes_of_a_chord_are_spelled_as_a_player_writes_them(symbol: str, notes: str) -> None:
    assert " ".join(str(note) for note in parse_chord(symbol).notes) == notes


@pytest.mark.parametrize(
    ("symbol", "degrees", "bass"),
    [
        ("C/E", "1 3 5", "E"), ("Am7/G", "1 b3 5 b7", "G"), ("D/F♯", "1 3 5", "F#"), ("Bb/C", "1 3 5", "C"),
        ("F#m7b5/C", "1 b3 b5 b7", "C"), ("Ebmaj7/Bb", "1 3 5 7", "Bb"), ("C6/9/E", "1 3 5 6 9", "E"),
        ("C7/Bb", "1 3 5 b7", "Bb"), ("G7#9/B", "1 3 5 b7 #9", "B"), ("Cm/maj7/Eb", "1 b3 5 7", "Eb"),
        ("C7(b9,#11)/Gb", "1 3 5 b7 b9 #11", "Gb"), ("Csus4/F", "1 5 11", "F"), ("B/A#", "1 3 5", "A#"),
    ],
)  # fmt: skip
def test_a_bass_stands_behind_a_slash(symbol: str, degrees: str, bass: str) -> None:
    chord = parse_chord(symbol)
    assert " ".join(degree.name for degree in chord.degrees) == degrees
    assert str(chord.bass) == bass
    assert chord.symbol == symbol.replace("♯", "#")


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_that_has_a_name_is_read_by_that_name(kind: str) -> None:
    for root in ROOTS:
        chord = chord_of(parse_pitch(root), kind)
        again = parse_chord(str(chord))
        assert (again.root, again.degrees, again.kind) == (chord.root, chord.degrees, kind)
    assert parse_kind(kind) == kind


@pytest.mark.parametrize(
    ("typed", "kind"),
    [
        ("ø", "m7b5"),
        ("-7", "m7"),
        ("Δ", "maj7"),
        ("maj", "maj"),
        ("+7", "7#5"),
        ("°7", "dim7"),
        ("7sus", "7sus4"),
    ],
)
def test_a_kind_is_read_in_any_spelling(typed: str, kind: str) -> None:
    assert parse_kind(typed) == kind


@pytest.mark.parametrize("typed", ["", "m11", "x", "7/C", "/E", "H", "7,", " "])
def test_what_is_no_kind_is_refused(typed: str) -> None:
    with pytest.raises(BadInput, match="is no kind of chord"):
        parse_kind(typed)


# What is no chord symbol: the text, the column of the first bad sign, the bad part.
GARBAGE = [
    ("", 1, ""), (" ", 1, " "), ("   ", 1, "   "), ("\t", 1, "\t"),
    ("H7", 1, "H7"), ("h", 1, "h"), ("c7", 1, "c7"), ("bb7", 1, "bb7"), ("X", 1, "X"), ("7", 1, "7"), ("m7", 1, "m7"),
    ("-7", 1, "-7"), ("♭7", 1, "♭7"), ("#", 1, "#"), ("%", 1, "%"), ("?", 1, "?"), ("/", 1, "/"), ("/E", 1, "/E"),
    ("N.C.", 1, "N.C."), ("NC", 1, "NC"), ("do7", 1, "do7"), ("Ré", 1, "Ré"), (" C7", 1, " C7"), ("(C7)", 1, "(C7)"),
    ("ｃ7", 1, "ｃ7"), ("Ç7", 1, "Ç7"), ("١", 1, "١"), ("\u202eC7", 1, "\u202eC7"), ("\x00", 1, "\x00"),
    ("🎷", 1, "🎷"),
    ("C7x", 3, "x"), ("C8", 2, "8"), ("C10", 2, "10"), ("C15", 2, "15"), ("C1", 2, "1"), ("C3", 2, "3"), ("C0", 2, "0"),
    ("C77", 3, "7"), ("Cm77", 4, "7"), ("Cmaj77", 6, "7"), ("C7 ", 3, " "), ("C 7", 2, " 7"), ("C7\n", 3, "\n"),
    ("C##", 3, "#"), ("Cbb7", 3, "b7"), ("C𝄪", 2, "𝄪"), ("Cx7", 2, "x7"), ("C7#", 3, "#"), ("C7b", 3, "b"),
    ("C7b10", 3, "b10"), ("C7#3", 3, "#3"), ("C7b7", 3, "b7"), ("Cmm", 3, "m"), ("Cmajmin", 5, "min"),
    ("C7maj", 3, "maj"), ("C7dim", 3, "dim"), ("C°°", 3, "°"), ("C7(", 3, "("), ("C7(b9", 3, "("), ("C((b9)", 2, "("),
    ("C7)", 3, ")"), ("C7b9)", 5, ")"), ("C7()", 4, ")"), ("C7(b9]", 6, "]"), ("C7[b9)", 6, ")"), ("C7{b9}", 3, "{b9}"),
    ("C/", 2, "/"), ("C//E", 2, "/"), ("C/H", 2, "/H"), ("C/e", 2, "/e"), ("C/E/G", 2, "/E"), ("C/Em", 2, "/Em"),
    ("Am7/G7", 4, "/G7"), ("A7/C##", 3, "/C##"), ("C7/b", 4, "b"), ("C6/8", 4, "8"),
    ("Csus5", 5, "5"), ("Csus4sus2", 6, "sus2"), ("Cadd", 2, "add"), ("Cadd8", 2, "add8"), ("Cadd15", 2, "add15"),
    ("Cno7", 2, "no7"), ("Cno", 2, "no"), ("Comit", 2, "omit"), ("Cm7alt", 4, "alt"), ("C9alt", 3, "alt"),
    ("Cmajalt", 5, "alt"), ("C7alt.", 6, "."), ("C7sharp9", 3, "sharp9"), ("C7flat5", 3, "flat5"), ("Caug5", 5, "5"),
    ("Cdim5", 5, "5"), ("C;", 2, ";"), ("C7<b>", 3, "<b>"), ("C7|G7", 3, "|G7"), ("C7,G7", 3, ",G7"), ("C-m", 3, "m"),
    ("Cmajor7th", 8, "th"), ("Cminor seventh", 7, " seventh"), ("C7b9 #11", 5, " #11"), ("C7\u200b", 3, "\u200b"),
    ("C" * (LONGEST + 1), 1, "C" * (LONGEST + 1)),
]  # fmt: skip


def test_there_is_much_garbage() -> None:
    assert len({text for text, _, _ in GARBAGE}) == len(GARBAGE) >= 60


@pytest.mark.parametrize(("text", "column", "token"), GARBAGE, ids=[ascii(text) for text, _, _ in GARBAGE])
def test_garbage_is_refused_with_its_place(text: str, column: int, token: str) -> None:
    with pytest.raises(BadInput) as refused:
        parse_chord(text)
    assert (refused.value.column, refused.value.token) == (column, token)
    _is_one_sentence(refused.value, text)


def _is_one_sentence(bad: BadInput, text: str) -> None:
    said = str(bad)
    assert said.isprintable()
    assert said.startswith(f"column {bad.column}: ")
    assert said.endswith(".")
    assert len(said) < 200
    assert 1 <= bad.column <= max(1, len(text))
    assert text[bad.column - 1 :].startswith(bad.token)
    assert bad.problem
    assert bad.instead


# Pieces that chord symbols are made of, so that the search gets further than the first sign.
PIECES = st.sampled_from(
    [*"CDEFGAB", *"b#♭♯♮()[],/ -+°øΔM", "maj", "m", "min", "dim", "aug", "sus", "sus4", "sus2", "add", "no", "omit",
     "alt", "2", "3", "4", "5", "6", "7", "9", "11", "13", "6/9", "b9", "#9", "b5", "#5", "#11", "b13", "maj7", "7"]
)  # fmt: skip


@given(st.one_of(st.text(max_size=50), st.lists(PIECES, max_size=14).map("".join)))
def test_any_text_is_a_chord_or_a_sentence(text: str) -> None:
    try:
        chord = parse_chord(text)
    except BadInput as bad:
        _is_one_sentence(bad, text)
    else:
        assert chord.degrees[0].name == "1"
        assert len(set(chord.degrees)) == len(chord.degrees)
        assert parse_chord(chord.symbol).degrees == chord.degrees


@given(st.lists(PIECES, max_size=6).map("".join))
def test_a_kind_is_what_a_chord_without_its_root_is(text: str) -> None:
    try:
        chord = parse_chord("C" + text)
        expected = None if chord.bass or not text else chord.kind
    except BadInput:
        expected = None
    if expected is None:
        with pytest.raises(BadInput, match="is no kind of chord"):
            parse_kind(text)
    else:
        assert parse_kind(text) == expected


ALTERED = st.lists(st.sampled_from(["b5", "#5", "b9", "#9", "#11", "b13"]), unique=True, max_size=6)
SIGNS = {"typed": str, "printed": lambda text: text.replace("b", "♭").replace("#", "♯")}
BRACKETINGS = {
    "none": "".join,
    "one pair": lambda tones: f"({''.join(tones)})" if tones else "",
    "commas": lambda tones: f"({','.join(tones)})" if tones else "",
    "spaces": lambda tones: f"({' '.join(tones)})" if tones else "",
    "square": lambda tones: f"[{','.join(tones)}]" if tones else "",
    "each": lambda tones: "".join(f"({tone})" for tone in tones),
    "only the last": lambda tones: "".join(tones[:-1]) + "".join(f"({tone})" for tone in tones[-1:]),
}


@given(
    st.sampled_from(ROOTS),
    st.sampled_from(["7", "9", "13", "maj7", "m7", "7sus4", "6/9"]),
    ALTERED.flatmap(lambda tones: st.tuples(st.just(tones), st.permutations(tones))),
    st.sampled_from(sorted(BRACKETINGS)),
    st.sampled_from(sorted(SIGNS)),
)
def test_alterations_may_stand_in_any_order_and_bracketing(
    root: str, kind: str, tones: tuple[list[str], list[str]], bracketing: str, signs: str
) -> None:
    plain, mixed = tones
    written = BRACKETINGS[bracketing]([SIGNS[signs](tone) for tone in mixed])
    assert parse_chord(root + kind + written).degrees == parse_chord(root + kind + "".join(plain)).degrees
