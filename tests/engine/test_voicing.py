"""Voicings: what is in them, and how they are led."""

from fractions import Fraction
from itertools import pairwise, product

import pytest
from music21 import harmony

from engine.lines.progression import PROGRESSIONS
from engine.sound.stretch import Stretch
from engine.sound.voicing import BOTTOM, WIDEST_LEAP, candidates, voicings
from engine.theory.chord import KINDS, chord_of
from engine.theory.chord_symbol import parse_chord
from engine.theory.degree import Degree
from engine.theory.family import family_of
from engine.theory.key import parse_key
from tests.engine.band_parts import ROOTS, at_random, everything, stretches_of

NATURAL = {"9": ("b9", "#9"), "5": ("b5", "#5", "b13"), "11": ("#11",), "13": ("b13",)}


def stretch(symbol: str, following: str | None = None, key: str = "C") -> Stretch:
    chord = parse_chord(symbol)
    after = parse_chord(following) if following else None
    return Stretch(chord, parse_key(key), Fraction(0), Fraction(4), 140, after)


def test_no_voice_leaps_more_than_a_fifth() -> None:
    for notes in (3, 4):
        for progression in everything():
            led = voicings(stretches_of(progression), notes)
            for one, other in pairwise(led):
                assert max(abs(a - b) for a, b in zip(one.keys, other.keys, strict=True)) <= WIDEST_LEAP
        for seed in range(150):
            for one, other in pairwise(voicings(at_random(seed), notes)):
                assert max(abs(a - b) for a, b in zip(one.keys, other.keys, strict=True)) <= WIDEST_LEAP


def test_the_motion_is_the_least_that_there_is() -> None:
    own = stretches_of(PROGRESSIONS["two-five-one"], loop=False)
    led = voicings(own)
    cost = sum(sum(abs(a - b) for a, b in zip(one.keys, two.keys, strict=True)) for one, two in pairwise(led))
    every = product(*(candidates(one) for one in own))
    least = min(
        sum(sum(abs(a - b) for a, b in zip(one.keys, two.keys, strict=True)) for one, two in pairwise(path))
        for path in every
    )
    # The slight pull to the middle may cost a half step or two.
    assert least <= cost <= least + 2


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("notes", [3, 4])
def test_every_kind_is_voiced_as_its_symbol_says(kind: str, notes: int) -> None:
    for root, following in product(ROOTS[:4], (None, "Fmaj7", "Fm7")):
        chord = chord_of(root, kind)
        own = Stretch(chord, parse_key("C"), Fraction(0), Fraction(4), 140, following and parse_chord(following))
        offered = candidates(own, notes)
        assert offered
        for one in offered:
            names = set(one.degrees)
            assert len(one.keys) == len(one.degrees) == notes
            assert list(one.keys) == sorted(set(one.keys))
            assert one.keys[0] in BOTTOM
            assert one.keys[-1] <= 74
            assert [key % 12 for key in one.keys] == [Degree(name).over(root).pitch_class for name in one.degrees]
            # What names the chord is there.
            guides = {degree.name for degree in chord.degrees if degree.rung in (3, 6, 7)}
            assert guides <= names
            # No tone beside its own alteration, and none twice altered.
            for natural, altered in NATURAL.items():
                assert not (natural in names and any(chord.has(name) for name in altered if name != "b13"))
                assert len(names & {natural, *altered}) <= 1 or natural == "5"
            assert len({"5", "b5", "#5", "#11", "b13"} & names) <= 1
            # What the symbol does not name is usual over the chord.
            family = family_of(chord)
            heard = {degree.semitones for degree in chord.degrees} | family.extensions | family.alterations
            assert {Degree(name).semitones for name in names} <= heard


# symbol | following | key | a degree that every voicing has | one that none has
@pytest.mark.parametrize(
    ("symbol", "following", "key", "has", "has_not"),
    [
        ("G7", "Cmaj7", "C", "9", "b9"), ("G7", "Cm6", "Cm", "b9", "13"), ("A7", "Dm7", "C", "b9", "13"),
        ("G7b9", "Cmaj7", "C", "b9", "9"), ("G7#5", "Cmaj7", "C", "#5", "5"), ("G7#5", "Cm7", "Cm", "#5", "5"),
        ("G7alt", "Cm7", "Cm", "3", "5"), ("G7#11", "Cmaj7", "C", "#11", "5"), ("G13", "Cmaj7", "C", "13", "5"),
        ("Em7", "A7", "C", "b3", "9"), ("Dm7", "G7", "C", "9", "b9"), ("Dm7b5", "G7", "Cm", "b5", "9"),
        ("G7sus4", "Cmaj7", "C", "11", "3"), ("Cmaj7#11", None, "C", "#11", "5"), ("C11", "Fmaj7", "F", "11", "3"),
        ("F#dim7", "C7", "C", "bb7", "9"), ("Cm6", None, "Cm", "6", "b7"), ("G7b13", "Cm7", "Cm", "b13", "5"),
        ("Db7", "Cmaj7", "C", "9", "b9"), ("Cadd9", None, "C", "9", "7"),
    ],
)  # fmt: skip
def test_colours_are_those_that_fit(symbol: str, following: str | None, key: str, has: str, has_not: str) -> None:
    for one in candidates(stretch(symbol, following, key)):
        assert has in one.degrees
        assert has_not not in one.degrees


def test_no_voicing_of_an_altered_chord_has_two_fifths_or_two_ninths() -> None:
    for one in candidates(stretch("G7alt", "Cm7", "Cm")):
        assert len({"b9", "#9"} & set(one.degrees)) == 1
        assert len({"b5", "#5"} & set(one.degrees)) == 1


@pytest.mark.parametrize("key", ["C", "Eb", "B"])
def test_guide_tones_go_by_step_through_two_five_one(key: str) -> None:
    own = stretches_of(next(p for p in everything() if p.name == "two-five-one" and str(p.key) == key), loop=False)
    guides = []
    for led in voicings(own):
        tones = {Degree(name).rung: at for name, at in zip(led.degrees, led.keys, strict=True)}
        guides.append((tones[3], tones[7]))
    (two_third, two_seventh), (five_third, five_seventh), (one_third, one_seventh) = guides
    assert two_third == five_seventh
    assert 1 <= two_seventh - five_third <= 2
    assert 1 <= five_seventh - one_third <= 2
    assert five_third == one_seventh


def test_notes_are_spelled_over_their_chord() -> None:
    for own in everything()[::7]:
        for one, led in zip(stretches_of(own), voicings(stretches_of(own)), strict=True):
            pitches = led.pitches(one.chord)
            assert tuple(pitch.midi for pitch in pitches) == led.keys


# What music21 calls the kinds that a voicing of four notes has whole, the bass's root left out.
@pytest.mark.parametrize("figure", ["9", "maj9", "m9", "6/9", "dim7", "m7b5", "7#5#9"])
def test_music21_hears_the_same_notes(figure: str) -> None:
    written = {"maj9": "M9", "m7b5": "ø7", "dim7": "o7", "6/9": "6 add 9", "7#5#9": "7+ add #9"}.get(figure, figure)
    wanted = {pitch.pitchClass for pitch in harmony.ChordSymbol("C" + written).pitches}
    for one in candidates(stretch("C" + figure)):
        heard = {key % 12 for key in one.keys} | {0}
        if set(one.degrees) <= {degree.name for degree in parse_chord("C" + figure).degrees}:
            assert heard == wanted
