"""What a note is over a chord: its degree, the other names for it, its role."""

import pytest
from by_hand import DEGREES, ROOTS, above, letters_above, spell
from hypothesis import given
from hypothesis import strategies as st

from engine.theory.chord import KINDS, chord_of
from engine.theory.chord_symbol import parse_chord
from engine.theory.naming import ROLES, name_over
from engine.theory.pitch import parse_pitch

# chord | note: degree (also) role
EXAMPLES = """
C7     | C: 1 chord tone
C7     | E: 3 chord tone
C7     | Bb: b7 chord tone
C7     | D: 9 extension
C7     | A: 13 extension
C7     | F: 11 (4) passing
C7     | Db: b9 alteration
C7     | C#: b9 alteration
C7     | D#: #9 (b3) alteration
C7     | Eb: #9 (b3) alteration
C7     | F#: #11 (b5) alteration
C7     | Gb: b5 (#11) alteration
C7     | Ab: b13 (#5) alteration
C7     | G#: #5 (b13) alteration
C7     | B: 7 outside
A7     | C: #9 (b3) alteration
A7     | B#: #9 (b3) alteration
E7     | G: #9 (b3) alteration
E7     | F##: #9 (b3) alteration
Bb7    | Db: #9 (b3) alteration
Bb7    | C#: #9 (b3) alteration
Eb7    | Db: b7 chord tone
Eb7    | C#: b7 chord tone
A7     | D4: 11 (4) passing
A7     | C#5: 3 chord tone

C9     | D: 9 chord tone
C13    | A: 13 chord tone
C11    | F: 11 (4) chord tone
C7b9   | Db: b9 chord tone
C7b9   | D: 9 outside
C7b9   | A: 13 extension
C7b9   | Eb: #9 (b3) alteration
C7#9   | Eb: #9 (b3) chord tone
C7#9   | D#: #9 (b3) chord tone
C7b13  | Ab: b13 (#5) chord tone
C7b13  | A: 13 outside
C7#5   | G#: #5 (b13) chord tone
C7#5   | Ab: b13 (#5) chord tone
C7#11  | F#: #11 (b5) chord tone
C7b5   | Gb: b5 (#11) chord tone
C7b5   | F#: #11 (b5) chord tone
C7alt  | Db: b9 chord tone
C7alt  | D#: #9 (b3) chord tone
C7alt  | G#: #5 (b13) chord tone
C7sus4 | F: 11 (4) chord tone
C7sus4 | E: 3 passing
C7sus4 | A: 13 extension
C7sus4 | Db: b9 alteration

Cmaj7  | B: 7 chord tone
Cmaj7  | F#: #11 (b5) extension
Cmaj7  | F: 11 (4) passing
Cmaj7  | D: 9 extension
Cmaj7  | A: 13 (6) extension
Cmaj7  | Bb: b7 outside
Cmaj7  | Db: b9 outside
Cmaj7  | Eb: b3 (#9) outside
Cmaj7#5 | G#: #5 chord tone
Cmaj9  | D: 9 chord tone
C6     | A: 6 (13) chord tone
C6     | D: 9 extension
C      | F: 11 (4) passing
C      | D: 9 extension

Cm7    | Eb: b3 chord tone
Cm7    | D: 9 extension
Cm7    | F: 11 (4) extension
Cm7    | A: 13 (6) extension
Cm7    | Ab: b13 (#5 b6) outside
Cm7    | E: 3 outside
Cm7    | B: 7 outside
Cm6    | A: 6 (13) chord tone
CmMaj7 | B: 7 chord tone
CmMaj7 | F: 11 (4) extension
CmMaj7 | A: 13 (6) extension

Cm7b5  | Gb: b5 chord tone
Cm7b5  | F#: b5 chord tone
Cm7b5  | Db: b9 extension
Cm7b5  | D: 9 extension
Cm7b5  | F: 11 (4) extension
Cm7b5  | Ab: b13 (b6) extension
Cm7b5  | A: 13 (6) outside
Cm7b5  | G: 5 outside
Bm7b5  | C: b9 extension
Bm7b5  | C#: 9 extension

Cdim7  | Bbb: bb7 (6) chord tone
Cdim7  | A: bb7 (6) chord tone
Cdim7  | Ab: b13 (b6) extension
Cbdim7 | Ab: bb7 (6) chord tone
Cbdim7 | Ebb: b3 chord tone
Csus2  | D: 9 chord tone
Csus4  | F: 11 (4) chord tone
"""


def _examples() -> list[tuple[str, str, str, str, str]]:
    found = []
    for line in EXAMPLES.splitlines():
        if not line.strip():
            continue
        chord, _, rest = line.partition("|")
        note, _, said = rest.partition(":")
        degree, _, role = said.strip().partition(" ")
        also = ""
        if role.startswith("("):
            also, _, role = role[1:].partition(") ")
        found.append((chord.strip(), note.strip(), degree, also, role))
    return found


@pytest.mark.parametrize(("chord", "note", "degree", "also", "role"), _examples())
def test_players_call_it(chord: str, note: str, degree: str, also: str, role: str) -> None:
    named = name_over(parse_chord(chord), parse_pitch(note))
    said = (named.degree.name, " ".join(other.name for other in named.also), named.role)
    assert said == (degree, also, role)


NOTES = tuple(letter + sign for letter in "CDEFGAB" for sign in ("bb", "b", "", "#", "##"))


@pytest.mark.parametrize("kind", KINDS)
def test_every_note_has_a_name_over_every_chord(kind: str) -> None:
    for root in ROOTS:
        chord = chord_of(parse_pitch(root), kind)
        tones = {DEGREES[degree][1] for degree in KINDS[kind].split()}
        for note in NOTES:
            named = name_over(chord, parse_pitch(note))
            half_steps = above(root, note)
            assert DEGREES[named.degree.name][1] == half_steps, (chord.symbol, note)
            assert all(DEGREES[other.name][1] == half_steps for other in named.also)
            assert named.degree not in named.also
            assert len(set(named.also)) == len(named.also)
            assert named.role in ROLES
            assert (named.role == "chord tone") == (half_steps in tones), (chord.symbol, note)


# The degrees that players use over each kind of chord under just that name.
USUAL = {
    "7": "1 b9 9 #9 3 11 #11 b5 5 #5 b13 13 b7 7", "7b9": "1 b9 #9 3 11 #11 5 b13 13 b7",
    "7#9": "1 b9 #9 3 #11 5 b13 13 b7", "7#11": "1 9 3 #11 5 13 b7", "7b13": "1 b9 9 3 11 5 b13 b7",
    "7b9b13": "1 b9 3 11 5 b13 b7", "7#5": "1 b9 9 #9 3 #11 #5 b7", "7b5": "1 b9 9 3 b5 13 b7",
    "7alt": "1 b9 #9 3 b5 #5 b7", "9": "1 9 3 11 #11 5 13 b7", "13": "1 9 3 11 #11 5 13 b7",
    "7sus4": "1 b9 9 11 5 b13 13 b7", "maj7": "1 9 3 11 #11 5 #5 13 7", "maj7#11": "1 9 3 #11 5 13 7",
    "maj7#5": "1 9 3 #11 #5 13 7", "6": "1 9 3 11 #11 5 6 7", "6/9": "1 9 3 #11 5 6 7",
    "m7": "1 9 b3 11 5 13 b7 7", "m9": "1 9 b3 11 5 13 b7", "m6": "1 9 b3 11 5 6 7", "mMaj7": "1 9 b3 11 5 b13 13 7",
    "m7b5": "1 b9 9 b3 11 b5 b13 b7", "dim7": "1 9 b3 11 b5 b13 bb7 7", "maj": "1 9 3 11 5 6 7",
    "m": "1 9 b3 11 5 6 b7 7", "dim": "1 9 b3 11 b5", "aug": "1 9 3 #11 #5", "sus4": "1 9 11 5", "sus2": "1 9 5",
}  # fmt: skip


@given(st.sampled_from(sorted(USUAL)), st.sampled_from(ROOTS), st.data())
def test_a_note_spelled_from_a_usual_degree_gets_that_degree_back(kind: str, root: str, data: st.DataObject) -> None:
    degree = data.draw(st.sampled_from(USUAL[kind].split()))
    note = spell(root, degree)
    if letters_above(root, note) + 1 != DEGREES[degree][0]:
        return  # three signs, so it stands on another letter
    assert name_over(chord_of(parse_pitch(root), kind), parse_pitch(note)).degree.name == degree
