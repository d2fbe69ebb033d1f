"""A second opinion on chords, intervals, keys, arpeggios and steps: music21, over the whole space of the drills.

Every disagreement stands in ``DISAGREEMENTS`` with its reason. One that is
not listed fails, and so does a listed one that is none any more.
"""

from collections.abc import Iterable
from itertools import pairwise

import pytest
from by_hand import LETTERS, ROOTS, letters_above
from music21 import chord, harmony, interval, key, note

from engine.drills import arpeggio_from_the_third, choose_the_resolution, find_the_note, guide_tones, name_the_degree
from engine.drills.landings import nearest
from engine.drills.options import Options
from engine.theory.arpeggio import arpeggio
from engine.theory.bad_input import BadInput
from engine.theory.chord import KINDS
from engine.theory.chord_symbol import parse_chord
from engine.theory.degree import DEGREES, Degree
from engine.theory.interval import interval_above
from engine.theory.key import MAJOR_KEYS, MINOR_KEYS, parse_key
from engine.theory.pitch import parse_pitch
from engine.theory.resolution import steps_into

_THREE_SIGNS = "music21 writes three signs, the contract respells with the fewest"
_ELEVENTH = "music21 keeps the natural 11 in a 13 chord; players leave it out beside a major third"
_CLASSICAL = "a name of classical harmony, which no player writes on a lead sheet"
DISAGREEMENTS: dict[str, dict[str, str]] = {
    "chord": {
        "B#+ B#aug B#+M7 B#augmaj7 B#7+ B#+7 B#aug7 B#+M9 B#augmaj9 B#9#5 B#+9 B#aug9 B#+M11 B#augmaj11 B#aug11"
        " Cbo7 Fbo7 Cbdim7 Fbdim7 Cbo9 Fbo9 Cbdim9 Fbdim9 Cbo11 Fbo11 Cbdim11 Fbdim11"
        " B#maj7#5 B#7#5 B#7#5#9 B#7#9 E#7#9 E#7#5#9": _THREE_SIGNS,
        "*M13 *Maj13 *13 *dom13 *+M13 *augmaj13 *+13 *aug13": _ELEVENTH,
        "*ob9": "here the ♭9 alters a triad, as in C(♭9); music21 adds the diminished seventh",
        "*+11": "here +11 is ♯11, as in C7+11; music21 reads an augmented eleventh chord",
        "C#m#7 D#m#7 E#m#7 F#m#7 G#m#7 A#m#7 B#m#7 Em#7 Bm#7": "music21 spells by sound: C over C♯m, E♭ over Em",
        "*dom7dim5": "a name that only music21 uses; players write 7♭5",
        "*N6 *It+6 *It *Fr+6 *Fr *Gr+6 *Ger": _CLASSICAL,
        "*tristan": _CLASSICAL,
        "*pedal *power": "words of music21; a player writes a bass note, or C5",
        "*dimMaj7 *7alt": "music21 does not read it",
    },
    "interval": {
        "Fb-B# B#-Fb": "here three steps away from perfect or major have no name, since nobody uses one",
    },
    "key": {},
    "arpeggio": {},
    "step": {},
}


def _listed(subject: str) -> set[str]:
    return {item for items in DISAGREEMENTS[subject] for item in items.split()}


def _agrees(subject: str, found: Iterable[str]) -> None:
    """Fails for a disagreement that is not listed, and for a listed one that is not found."""
    different = set(found)
    unlisted, settled = different - _listed(subject), _listed(subject) - different
    assert not unlisted, f"not listed: {' '.join(sorted(unlisted))}"
    assert not settled, f"listed, but both say the same: {' '.join(sorted(settled))}"


def _theirs(name: str) -> str:
    """music21 writes a flat as a minus."""
    return name[0] + name[1:].replace("b", "-")


def _ours(name: str) -> str:
    return name.replace("-", "b")


def _their_notes(root: str, suffix: str) -> set[str]:
    try:
        return {_ours(pitch.name) for pitch in harmony.ChordSymbol(_theirs(root) + suffix).pitches}
    except ValueError:
        return set()


def _our_notes(symbol: str) -> set[str]:
    try:
        return {str(tone) for tone in parse_chord(symbol).notes}
    except BadInput:
        return set()


# How music21 writes a kind of chord where it does not know our name.
THEIR_NAMES = {"maj": "", "aug": "+", "mMaj7": "mM7", "maj9": "M9", "6/9": "6add9", "maj7#5": "M7#5"}
THEIR_SPELLINGS = [spelling for _, spellings in harmony.CHORD_TYPES.values() for spelling in spellings]


def test_chords() -> None:
    """Every kind of chord here, and every spelling that music21 knows, over all roots."""
    figures = {kind: THEIR_NAMES.get(kind, kind) for kind in KINDS}
    figures |= {spelling: spelling for spelling in THEIR_SPELLINGS if not spelling.startswith("b")}
    found: set[str] = set()
    for ours, theirs in figures.items():
        suffix = "" if ours == "maj" else ours
        different = [root + suffix for root in ROOTS if _our_notes(root + suffix) != _their_notes(root, theirs)]
        found |= {f"*{suffix}"} if len(different) == len(ROOTS) else set(different)
    _agrees("chord", found)


def test_intervals() -> None:
    """The name and size of the interval from every root up to every other."""
    found = []
    for low in ROOTS:
        for high in ROOTS:
            octave = 4 + (LETTERS.index(high[0]) < LETTERS.index(low[0]))
            theirs = interval.Interval(note.Note(f"{_theirs(low)}4"), note.Note(f"{_theirs(high)}{octave}"))
            ours = interval_above(parse_pitch(low), parse_pitch(high))
            if (ours.name, ours.semitones) != (theirs.niceName.lower().replace("-", " "), theirs.semitones):
                found.append(f"{low}-{high}")
    _agrees("interval", found)


@pytest.mark.parametrize("name", DEGREES)
def test_degrees(name: str) -> None:
    """A degree is the interval that music21 measures from the root, a ninth where it is called 9."""
    ours = Degree(name).interval
    high = f"{_theirs(str(Degree(name).over(parse_pitch('C'))))}{5 if ours.steps >= 7 else 4}"
    theirs = interval.Interval(note.Note("C4"), note.Note(high))
    assert ours.name == theirs.niceName.lower()
    assert ours.semitones == theirs.semitones


def test_keys() -> None:
    found = []
    for name in (*MAJOR_KEYS, *MINOR_KEYS):
        tonic = _theirs(name.removesuffix("m"))
        theirs = key.Key(tonic.lower() if name.endswith("m") else tonic)
        if [str(tone) for tone in parse_key(name).scale] != [_ours(pitch.name) for pitch in theirs.pitches[:7]]:
            found.append(name)
    _agrees("key", found)


# What music21 calls the chords in thirds.
THEIR_KINDS = {
    "maj7": "major seventh chord",
    "m7": "minor seventh chord",
    "7": "dominant seventh chord",
    "m7b5": "half-diminished seventh chord",
    "dim7": "diminished seventh chord",
    "mMaj7": "minor-augmented tetrachord",
    "maj7#5": "augmented major tetrachord",
}


def _stacked(names: list[str]) -> list[str]:
    """The notes with octaves, each above the one before, for music21."""
    octave = 3
    stacked = [f"{_theirs(names[0])}{octave}"]
    for low, high in pairwise(names):
        octave += LETTERS.index(low[0]) + letters_above(low, high) >= 7
        stacked.append(f"{_theirs(high)}{octave}")
    return stacked


def test_arpeggios_from_the_third() -> None:
    """Every arpeggio that the drill asks for is, to music21, the chord that the drill calls it."""
    found = []
    cards = arpeggio_from_the_third.cards(Options(level=3))
    for shown, in_key in cards:
        ours = arpeggio(shown, 3, in_key)
        assert ours.own is not None
        theirs = chord.Chord(_stacked([str(tone) for tone in ours.notes]))
        said = (theirs.commonName, _ours(theirs.root().name), _ours(theirs.bass().name))
        if said != (THEIR_KINDS[ours.own.kind or ""], str(ours.own.root), str(ours.notes[0])):
            found.append(f"{shown.symbol}-in-{in_key}")
    assert len(cards) > 100
    _agrees("arpeggio", found)


def test_notes_of_the_degrees_that_are_asked() -> None:
    """Over every chord of the two drills the asked degree is the interval that music21 measures."""
    for shown, degree in [*name_the_degree.cards(Options(level=3)), *find_the_note.cards(Options(level=3))]:
        high = degree.over(shown.root)
        octave = 4 + (high.letter < shown.root.letter)
        theirs = interval.Interval(
            note.Note(f"{_theirs(str(shown.root))}4"), note.Note(f"{_theirs(str(high))}{octave}")
        )
        assert theirs.semitones % 12 == degree.semitones, (shown.symbol, degree)
        assert theirs.generic.simpleUndirected == degree.steps + 1, (shown.symbol, degree)


def test_steps_into_the_next_chord() -> None:
    """Every step of every change that the drill asks about is as far as music21 measures."""
    found = set()
    for card in choose_the_resolution.cards(Options(level=3)):
        for step in steps_into(card.note.in_octave(4), card.following):
            theirs = interval.Interval(note.Note(f"{_theirs(str(card.note))}4"), note.Note(_theirs(str(step.note))))
            if theirs.semitones != step.semitones:
                found.add(f"{card.note}-{step.note}")
    _agrees("step", found)


def test_lines_of_guide_tones() -> None:
    """Every next note of a line is, to music21, the nearer of the chord's third and seventh."""
    cards = guide_tones.cards(Options(level=3))
    for card in cards:
        following = card.chords[len(card.thread)]
        ours = nearest(card.thread[-1], following)
        assert ours is not None
        theirs = chord.Chord(_stacked([str(tone) for tone in following.notes[:4]]))
        assert theirs.third is not None
        assert theirs.seventh is not None
        leaving = note.Note(_theirs(str(card.thread[-1])))
        far = {}
        for guide in (theirs.third, theirs.seventh):
            semitones = interval.Interval(leaving, note.Note(guide.name)).semitones % 12
            far[_ours(guide.name)] = min(semitones, 12 - semitones)
        assert min(far, key=lambda name: far[name]) == str(ours.note), (card.row.name, str(card.key))
        assert far[str(ours.note)] == abs(ours.semitones)
    assert len(cards) > 300
