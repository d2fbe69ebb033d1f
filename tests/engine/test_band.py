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
    Arranged,
    Band,
    arranged,
    read_band,
    through,
    with_chords,
    with_keys,
    write_band,
)
from engine.practice.band_file import CHANNELS, TICKS, band_midi
from engine.practice.line_in_link import to_link
from engine.practice.own_lines import deleted, fold, saved
from engine.sound.arrangement import seconds
from engine.sound.bass import FEELS
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
    bass=st.sampled_from(FEELS),
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
        ("tempo=500", "The tempo 500 of the link is not used: 40 to 320 are possible."),
        ("tempo=39", "The tempo 39 of the link is not used: 40 to 320 are possible."),
        ("rise=x", "The rise in tempo x of the link is not used: 0 to 40 are possible."),
        ("keys=C,H", "The key H of the link is not used: write a key such as Eb, or Cm for minor."),
        ("over=" + quote("Dm7 | Hm7"),
         '"Hm7" in bar 2 does not start with a root, so that part of the link is not used: write a chord such as'
         ' Bb7, F#m7b5 or Cmaj7/E.'),
        ("swing=9",
         "The swing ratio 9 of the link is not used: write a number from 1 (straight) to 4, for example 1.7."),
        ("swing=1.", None), ("swing=0.5", None), ("swing=1e1", None), ("order=fifths", None), ("response=yes", None),
        ("count-in=3", None), ("choruses=0", None), ("seed=-1", None), ("line=x", None), ("tempo=", None),
        ("tune=9", "The setting tune of the link is not used: over, keys, order, tempo, rise, choruses, response,"
         " count-in, swing, bass, seed are possible."),
        ("bass=three", "The way for the bass three of the link is not used: write one of auto, two, four."),
        ("id=abc", '"abc" names a line that is not on this device, so that part of the link is not used: ask for'
         ' a link that carries the line itself.'),
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
    assert found.ignored == ('"line" is one too many, so that part of the link is not used: 6 lines are the most.',)
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


def test_keys_come_in_the_order_of_the_link_unless_it_names_another() -> None:
    for link, keys in (
        ("keys=Eb,C,Ab", ["Eb", "C", "Ab"]),
        ("keys=Eb,C,Ab&order=fourths", ["Eb", "Ab", "C"]),
        ("keys=F%23,C", ["Gb", "C"]),
        ("choruses=3", ["C", "F", "Bb"]),
        ("over=minor-blues&keys=G,Cm", ["Gm", "Cm"]),
    ):
        band = with_chords(read_band("v=1&" + link).band)
        assert [str(key) for key in through(band)][:3] == keys
        assert [str(key) for key in arranged(band).keys] == keys
        played = arranged(band).arrangement.chapters
        assert list(dict.fromkeys(str(one.key) for one in played)) == keys


def test_keys_that_are_chosen_later_come_later() -> None:
    band = Band(keys=KEYS[:3])
    chosen = (KEYS[5], KEYS[2], KEYS[1])
    assert with_keys(replace(band, keys=chosen), band.keys).keys == (KEYS[1], KEYS[2], KEYS[5])
    assert with_keys(replace(band, keys=()), band.keys).keys == ()


def test_what_is_too_much_or_does_not_fit_is_said() -> None:
    many = arranged(Band(over="aaba", choruses=48))
    assert many.said == ("48 choruses of 32 bars are too many at once; the band plays 15 and begins anew.",)
    assert many.arrangement.length <= 4 * (MOST_BARS + 1)
    titled = replace(stock()[0], title="Mine")
    waltz = arranged(Band(lines=(titled,), over="waltz", choruses=1, bass="two"))
    assert waltz.said == (
        "Mine is in 4/4 and was left out, the band plays in 3/4.",
        "A bar of 3/4 has no two halves, so the bass walks.",
    )
    with pytest.raises(BadInput, match="nothing to play"):
        arranged(Band())


def test_lines_whose_chords_do_not_come_are_named() -> None:
    major, minor = replace(stock()[0], title="Mine"), replace(stock()[3], title="Other")
    assert arranged(Band(lines=(major,), over="blues")).said == ()
    told = "The chords of Other do not come in this progression, so it is not played."
    both = arranged(Band(lines=(major, minor), over="two-five-one", choruses=3))
    assert both.said == (told,)
    assert {chapter.line for chapter in both.arrangement.chapters} == {0, None}
    assert arranged(Band(lines=(major, minor))).said == (told,)
    strange = arranged(Band(lines=(major, minor), over="Ebm7 | Ab7sus4", choruses=2))
    assert strange.said == tuple(
        f"The chords of {name} do not come in this progression, so it is played from the first bar on."
        for name in ("Mine", "Other")
    )
    assert {chapter.line for chapter in strange.arrangement.chapters} == {0, 1, None}


def test_parts_come_one_at_a_time_and_add_up() -> None:
    band = Band(lines=stock()[:2], over="aaba", rise=2, seed=9)
    made = Arranged(band)
    # A part in the middle brings those before it along.
    third = made.part(2)
    assert [made.is_last(number) for number in range(12)] == [False] * 11 + [True]
    whole = made.arrangement
    assert whole == arranged(band).arrangement
    assert third.events == Arranged(band).part(2).events
    assert [event for number in range(12) for event in made.part(number).events] == list(whole.events)
    with pytest.raises(BadInput, match="no part of what is played"):
        made.part(12)
    assert Arranged(replace(band, choruses=1, seed=9)).is_last(0)


# --- lines of this device in a link ---------------------------------------------------------


def test_a_line_of_this_device_is_found_by_its_id_in_its_place() -> None:
    records = [saved(replace(stock()[1], title="Mine", remarks=("hard",)), 5, 1)]
    own = fold(records)
    name = own.lines[0].id
    found = read_band(f"v=1&line={to_link(stock()[0])}&id={name}&tempo=99", own)
    assert found.ignored == ()
    assert [line.notes for line in found.band.lines] == [line.notes for line in stock()[:2]]
    assert (found.band.lines[1].title, found.band.lines[1].remarks) == ("Mine", ())
    handed = write_band(found.band)
    assert "id=" not in handed
    # Whoever has that link needs nothing of this device.
    assert read_band(handed).band == read_band(handed, own).band
    assert [line.notes for line in read_band(handed).band.lines] == [line.notes for line in found.band.lines]


def test_a_line_that_cannot_be_had_by_its_id_is_told() -> None:
    line = replace(stock()[0], title="Mine")
    record = saved(line, 5, 1)
    gone = fold([record, deleted(fold([record]).lines[0], 6)])
    unread = fold([record | {"abc": "X:1\nK:C\n???"}])
    first = replace(line.notes[0], length=Fraction(1))
    many = tuple(replace(first, start=Fraction(beat)) for beat in range(300))
    long = fold([saved(replace(line, notes=many, end=Fraction(300)), 5, 1)])
    for own, told in (
        (gone, "names a line that was deleted"), (unread, "names a line whose text cannot be read"),
        (long, "too many to hand on"),
    ):  # fmt: skip
        found = read_band(f"v=1&id={record['id']}&tempo=99", own)
        assert (found.band.lines, found.band.tempo) == ((), 99)
        assert told in found.ignored[0]
        assert len(found.ignored) == 1


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
