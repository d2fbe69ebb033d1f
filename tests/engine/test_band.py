"""With the band: its set-up in a link, its arrangement, its file."""

import io
import sys
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise
from urllib.parse import quote

import mido
import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.formats.cannot_write import CannotWrite
from engine.lines.progression import KEY_ORDERS, PROGRESSIONS
from engine.lines.stock import stock
from engine.practice.band import (
    LONGEST,
    MOST_BARS,
    MOST_LINES,
    SETTINGS,
    Band,
    arranged,
    read_band,
    write_band,
)
from engine.practice.band_file import CHANNELS, TICKS, band_midi
from engine.practice.line_in_link import to_link
from engine.sound.arrangement import seconds
from engine.theory.bad_input import BadInput
from engine.theory.key import MAJOR_KEYS, MINOR_KEYS, parse_key

KEYS = tuple(map(parse_key, MAJOR_KEYS + MINOR_KEYS))
BANDS = st.builds(
    Band,
    over=st.sampled_from(["", *PROGRESSIONS, "Dm7 G7 | Cmaj7", "F7|Bb7|%", ["E♭△7 | A♭7♯11", " more"][0]]),
    keys=st.lists(st.sampled_from(KEYS), unique=True, max_size=4).map(tuple),
    order=st.sampled_from(KEY_ORDERS),
    tempo=st.integers(40, 320),
    rise=st.integers(0, 40),
    choruses=st.one_of(st.just(0), st.integers(1, 48)),
    response=st.booleans(),
    count_in=st.integers(0, 2),
    swing=st.one_of(st.none(), st.integers(100, 400).map(lambda hundredths: Fraction(hundredths, 100))),
    seed=st.integers(0, 2**53 - 1),
)


@given(BANDS)
def test_a_set_up_comes_back_from_its_link(band: Band) -> None:
    link = write_band(band)
    assert not set(link) & set(" |\"'<>*")
    found = read_band("#" + link)
    assert found.band == band
    assert not found.ignored
    assert set(found.set) == {part.partition("=")[0] for part in link.split("&")} - {"v"}


def test_lines_travel_along() -> None:
    band = Band(lines=stock()[:3], tempo=99)
    found = read_band(write_band(band))
    assert [line.notes for line in found.band.lines] == [line.notes for line in stock()[:3]]
    assert found.set == ("line", "tempo")


@pytest.mark.parametrize(
    ("part", "sentence"),
    [
        ("tempo=500", '"500" is no tempo and was left out of tempo: write a whole number from 40 to 320.'),
        ("tempo=39", '"39" is no tempo and was left out of tempo: write a whole number from 40 to 320.'),
        ("rise=x", '"x" is no rise in tempo and was left out of rise: write a whole number from 0 to 40.'),
        ("keys=C,H", '"H" is no key and was left out of keys: write a key such as Eb, or Cm for minor.'),
        ("over=" + quote("Dm7 | Hm7"),
         '"Hm7" in bar 2 does not start with a root and was left out of over: write a chord such as Bb7, F#m7b5 or'
         ' Cmaj7/E.'),
        ("swing=9", '"9" is no swing ratio and was left out of swing: write a number from 1 (straight) to 4, for'
         ' example 1.7.'),
        ("swing=1.", None), ("swing=0.5", None), ("swing=1e1", None), ("order=fifths", None), ("response=yes", None),
        ("count-in=3", None), ("choruses=0", None), ("seed=-1", None), ("line=x", None), ("tempo=", None),
        ("tune=9", '"tune" is nothing that the band knows and was left out of tune: set one of over, keys, order,'
         ' tempo, rise, choruses, response, count-in, swing, seed.'),
    ],
)  # fmt: skip
def test_what_cannot_be_read_is_said_and_the_rest_is_kept(part: str, sentence: str | None) -> None:
    found = read_band(f"v=1&{part}&seed=7")
    assert found.band == Band(seed=7)
    assert len(found.ignored) == 1
    assert sentence is None or found.ignored == (sentence,)
    assert len(found.ignored[0]) < 300


def test_one_line_too_many_and_a_link_too_long() -> None:
    link = "&".join(f"line={to_link(stock()[0])}" for _ in range(MOST_LINES + 1))
    found = read_band(link)
    assert len(found.band.lines) == MOST_LINES
    assert found.ignored == ('"line" is one too many and was left out of line: 6 lines are the most.',)
    assert read_band("#" + "x" * (LONGEST + 1)).ignored == (
        f"The link is longer than {LONGEST:,} signs; it was left out.",
    )


def test_every_setting_reads_its_example() -> None:
    for setting in SETTINGS:
        value = setting.read(setting.example)
        assert setting.write(value) == setting.example
        assert hasattr(Band(), setting.field)


def test_what_is_played_is_what_was_set() -> None:
    band = Band(
        lines=stock()[:1], over="two-five-one", keys=KEYS[:3], order="chromatic", tempo=80, rise=10, choruses=6,
        count_in=2, swing=Fraction(2), seed=3,
    )  # fmt: skip
    found = arranged(band)
    assert not found.said
    played = found.arrangement
    assert [tempo for _, tempo in played.tempos] == [80, 90, 100, 110, 120, 130]
    assert [str(one.key) for one in played.chapters if one.chord.suffix == "m7"][1:] == ["C", "F", "Bb"] * 2
    assert played.loop == (8, 8 + 6 * 16)
    assert {event.beat % 1 for event in played.events} == {Fraction(0), Fraction(2, 3)}


def test_what_is_too_much_or_does_not_fit_is_said() -> None:
    many = arranged(Band(over="aaba", choruses=48))
    assert many.said == ("48 choruses of 32 bars are too many at once; the band plays 15 and begins anew.",)
    assert many.arrangement.length <= 4 * (MOST_BARS + 1)
    titled = replace(stock()[0], title="Mine")
    waltz = arranged(Band(lines=(titled,), over="waltz", choruses=1))
    assert waltz.said == ("Mine is in 4/4 and was left out, the band plays in 3/4.",)
    with pytest.raises(BadInput, match="nothing to play"):
        arranged(Band())


def read_back(band: Band) -> tuple[mido.MidiFile, Fraction]:
    played = arranged(band).arrangement
    return mido.MidiFile(file=io.BytesIO(band_midi(played, "Über ♭9")), charset="utf-8"), played.length


def test_the_file_has_every_note_where_it_is_played() -> None:
    band = Band(lines=stock()[:2], over="blues", keys=KEYS[:2], tempo=120, rise=15, count_in=2)
    played = arranged(band).arrangement
    file, length = read_back(band)
    assert (file.type, file.ticks_per_beat) == (1, TICKS)
    assert [track.name for track in file.tracks] == ["Über ♭9", "Line", "Piano", "Bass", "Drums"]
    found = []
    for track in file.tracks[1:]:
        at = 0
        sounding: dict[tuple[int, int], int] = {}
        for message in track:
            at += message.time
            if message.type == "note_on":
                assert (message.channel, message.note) not in sounding
                sounding[message.channel, message.note] = at
            elif message.type == "note_off":
                begin = sounding.pop((message.channel, message.note))
                found.append((begin, at, message.channel, message.note))
        assert not sounding
        assert at == length * TICKS
    wanted = []
    for event in played.events:
        channel, _, drum = CHANNELS[event.instrument]
        pitch = drum if event.pitch is None else event.pitch
        wanted.append((round(event.beat * TICKS), round(event.end * TICKS), channel, pitch))
    assert sorted(found) == sorted(wanted)
    drums = {message.channel for message in file.tracks[-1] if message.type == "note_on"}
    assert drums == {9}


def test_the_file_lasts_as_long_as_the_page_plays() -> None:
    band = Band(lines=stock()[:1], keys=KEYS[:4], tempo=101, rise=9, count_in=1)
    played = arranged(band).arrangement
    file, _ = read_back(band)
    last = max(start + length for start, length in seconds(played))
    assert abs(file.length - last) < 0.2
    tempos = [message for message in file.tracks[0] if message.type == "set_tempo"]
    assert [round(mido.tempo2bpm(message.tempo)) for message in tempos] == [101, 110, 119, 128]
    chords = [message.text for message in file.tracks[0] if message.type == "marker"]
    assert chords[:4] == ["Dm7", "G7", "Cmaj7", "Gm7"]
    assert all(one.beat < two.beat for one, two in pairwise(played.chapters))


def test_without_mido_one_sentence_says_how_to_get_it(monkeypatch: pytest.MonkeyPatch) -> None:
    played = arranged(Band(over="blues", choruses=1)).arrangement
    monkeypatch.setitem(sys.modules, "mido", None)
    with pytest.raises(CannotWrite, match="pip install mido"):
        band_midi(played)
