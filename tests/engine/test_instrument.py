"""Instruments: their rows, any tuning, and one sentence for what is none."""

from __future__ import annotations

import pytest

from engine.neck.instrument import FRETS, GUITAR, INSTRUMENTS, Place, instrument_of, tuned
from engine.theory.bad_input import BadInput
from engine.theory.pitch import parse_pitch


def test_the_rows() -> None:
    strings = {name: (len(instrument.strings), instrument.frets) for name, instrument in INSTRUMENTS.items()}
    assert strings == {
        "guitar": (6, 22),
        "guitar in drop D": (6, 22),
        "seven-string guitar": (7, 24),
        "eight-string guitar": (8, 24),
        "bass": (4, 20),
        "five-string bass": (5, 24),
    }


def test_the_guitar_is_tuned_in_fourths_and_one_third() -> None:
    assert [str(string) for string in GUITAR.strings] == ["E2", "A2", "D3", "G3", "B3", "E4"]
    low = [instrument.strings[0] for instrument in INSTRUMENTS.values()]
    assert [str(string) for string in low] == ["E2", "D2", "B1", "F#1", "E1", "B0"]


def test_string_1_is_the_highest() -> None:
    assert GUITAR.places(parse_pitch("E4").midi) == (
        Place(1, 0), Place(2, 5), Place(3, 9), Place(4, 14), Place(5, 19),
    )  # fmt: skip
    assert GUITAR.places(GUITAR.lowest) == (Place(6, 0),)
    assert GUITAR.places(GUITAR.highest) == (Place(1, 22),)
    assert GUITAR.places(GUITAR.highest + 1) == GUITAR.places(GUITAR.lowest - 1) == ()


@pytest.mark.parametrize("name", INSTRUMENTS)
def test_every_place_has_its_pitch(name: str) -> None:
    instrument = INSTRUMENTS[name]
    places = [(place, midi) for midi in range(128) for place in instrument.places(midi)]
    assert len(places) == len(instrument.strings) * (instrument.frets + 1)
    for (string, fret), midi in places:
        assert instrument.strings[len(instrument.strings) - string].midi + fret == midi


@pytest.mark.parametrize("tuning", ["D2,G2,C3,F3,A3,D4", "C#2,F#2,B2,E3", "E2, A2, D3, G3, C4, F4", "B♭1,E♭2,A♭2,D♭3"])
def test_any_tuning_that_rises_is_an_instrument(tuning: str) -> None:
    instrument = tuned(tuning, 19)
    assert len(instrument.strings) == tuning.count(",") + 1
    assert instrument.frets == 19


def test_a_name_is_an_instrument_and_may_have_other_frets() -> None:
    assert instrument_of("bass") == INSTRUMENTS["bass"]
    assert instrument_of("bass", 21).frets == 21
    assert instrument_of("E1,A1,D2,G2").frets == 22


@pytest.mark.parametrize("frets", [FRETS[0], FRETS[-1]])
def test_twelve_to_twenty_seven_frets(frets: int) -> None:
    assert tuned("E2,A2,D3,G3", frets).frets == frets


@pytest.mark.parametrize(
    ("tuning", "frets", "says"),
    [
        ("", 22, 'column 1: "" is no note for a string; write notes from low to high, such as E2,A2,D3,G3,B3,E4.'),
        ("ukulele", 22, 'column 1: "ukulele" is no note for a string; write notes from low to high, such as '
                        'E2,A2,D3,G3,B3,E4.'),
        ("E2,A2,,G3", 22, 'column 7: "" is no note for a string; write notes from low to high, such as '
                          'E2,A2,D3,G3,B3,E4.'),
        ("E2,A2, D,G3", 22, 'column 8: "D" has no octave; write D2 or the octave it sounds in; C4 is middle C.'),
        ("E2,A2,D3", 22, 'column 1: "E2,A2,D3" has 3 strings; give 4 to 8 strings, such as E2,A2,D3,G3,B3,E4.'),
        ("E2", 22, 'column 1: "E2" has 1 string; give 4 to 8 strings, such as E2,A2,D3,G3,B3,E4.'),
        ("E1,A1,D2,G2,C3,F3,A3,D4,G4", 22, 'column 1: "E1,A1,D2,G2,C3,F3,A3,D4…" has 9 strings; give 4 to 8 strings, '
                                           'such as E2,A2,D3,G3,B3,E4.'),
        ("E4,B3,G3,D3", 22, 'column 4: "B3" does not lie above E4 before it; give the strings from low to high.'),
        ("E2,A2,A2,G3", 22, 'column 7: "A2" does not lie above A2 before it; give the strings from low to high.'),
        ("E2,A2,D3,G9", 22, 'column 10: "G9" is no pitch for an open string; give strings from C0 to C6.'),
        ("C-1,A2,D3,G3", 22, 'column 1: "C-1" is no pitch for an open string; give strings from C0 to C6.'),
        ("E2,A2,D3,G3", 0, 'column 1: "0" is no number of frets for a neck; give 12 to 27.'),
        ("E2,A2,D3,G3", 28, 'column 1: "28" is no number of frets for a neck; give 12 to 27.'),
        ("bass", 11, 'column 1: "11" is no number of frets for a neck; give 12 to 27.'),
    ],
)  # fmt: skip
def test_what_is_no_instrument_is_said_in_one_sentence(tuning: str, frets: int, says: str) -> None:
    with pytest.raises(BadInput) as bad:
        instrument_of(tuning, frets)
    assert str(bad.value) == says
