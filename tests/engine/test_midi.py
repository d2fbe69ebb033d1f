"""Lines as MIDI files, read back tick by tick."""

import io
import sys
from fractions import Fraction

import mido
import pytest

from engine.formats.cannot_write import CannotWrite
from engine.formats.midi import MOST_TICKS, USUAL_TICKS, ticks_per_beat, write_midi
from engine.lines.line import Change, Line, Meter, Note
from engine.theory.chord_symbol import parse_chord
from engine.theory.key import MAJOR_KEYS, MINOR_KEYS, parse_key
from engine.theory.pitch import parse_pitch
from tests.engine.lines_at_random import line_at_random


def line_of(notes: str, key: str = "C", begin: str = "0", **more: object) -> Line:
    """A line in four from notes as ``A4:1/2``, one after the other."""
    at = Fraction(begin)
    played = []
    for item in notes.split():
        name, length = item.split(":")
        played.append(Note(parse_pitch(name), at, Fraction(length)))
        at += Fraction(length)
    changes = (Change(parse_chord("Dm7"), Fraction(0)), Change(parse_chord("G7♭9"), Fraction(2)))
    end = -(-at // 4) * Fraction(4)
    return Line(parse_key(key), Meter(), tuple(played), changes, Fraction(begin), end, **more)  # type: ignore[arg-type]


def read(line: Line) -> mido.MidiFile:
    return mido.MidiFile(file=io.BytesIO(write_midi(line)), charset="utf-8")


def events(track: mido.MidiTrack) -> list[tuple[int, mido.Message]]:
    """Each event with its tick from the start."""
    at = 0
    found = []
    for message in track:
        at += message.time
        found.append((at, message))
    return found


def meta(file: mido.MidiFile, kind: str) -> list[tuple[int, mido.MetaMessage]]:
    return [(at, message) for track in file.tracks for at, message in events(track) if message.type == kind]


def test_a_thousand_lines_come_back_tick_by_tick() -> None:
    for seed in range(1000):
        line = line_at_random(seed)
        file = read(line)
        ticks = file.ticks_per_beat
        sounding: dict[int, int] = {}
        found = []
        for at, message in events(file.tracks[1]):
            if message.type == "note_on":
                assert not sounding, "one note at a time"
                assert message.velocity
                sounding[message.note] = at
            elif message.type == "note_off":
                start = sounding.pop(message.note)
                found.append((Fraction(start, ticks), Fraction(at - start, ticks), message.note))
        assert found == [(note.start - line.begin, note.length, note.pitch.midi) for note in line.notes], f"seed {seed}"
        assert [(Fraction(at, ticks), marker.text) for at, marker in meta(file, "marker")] == [
            (change.beat - line.begin, change.chord.symbol) for change in line.changes
        ]
        assert [Fraction(at, ticks) for at, _ in meta(file, "end_of_track")] == [line.end - line.begin] * 2


def test_the_head_of_the_file() -> None:
    line = line_of("A4:1", title="Über ♭9", tempo=174, key="Cm")
    data = write_midi(line)
    assert data[:14] == b"MThd" + bytes([0, 0, 0, 6, 0, 1, 0, 2]) + USUAL_TICKS.to_bytes(2, "big")
    file = read(line)
    assert [track.name for track in file.tracks] == ["Über ♭9", "Über ♭9"]
    ((_, tempo),) = meta(file, "set_tempo")
    assert round(mido.tempo2bpm(tempo.tempo)) == 174
    ((_, time),) = meta(file, "time_signature")
    assert (time.numerator, time.denominator) == (4, 4)
    assert [message.key for _, message in meta(file, "key_signature")] == ["Cm"]
    played = [message for message in file.tracks[1] if message.type == "note_on"]
    assert {message.channel for message in played} == {0}


def test_six_eight_and_no_tempo() -> None:
    line = line_of("A4:1")
    file = read(Line(line.key, Meter(6, 8), line.notes, line.changes, line.begin, Fraction(3)))
    ((_, time),) = meta(file, "time_signature")
    assert (time.numerator, time.denominator) == (6, 8)
    assert [message.tempo for _, message in meta(file, "set_tempo")] == [500_000]  # 120 a minute


@pytest.mark.parametrize("name", MAJOR_KEYS + MINOR_KEYS)
def test_every_key_has_its_signature(name: str) -> None:
    assert [message.key for _, message in meta(read(line_of("A4:1", key=name)), "key_signature")] == [name]


def test_a_key_with_eight_sharps_has_the_signature_of_its_twin() -> None:
    assert [message.key for _, message in meta(read(line_of("A4:1", key="G#")), "key_signature")] == ["Ab"]


def test_a_pickup_starts_at_once() -> None:
    file = read(line_of("A4:1/3 B4:1/3 C5:4", begin="-2/3"))
    starts = [at for at, message in events(file.tracks[1]) if message.type == "note_on"]
    assert starts == [0, 320, 640]
    assert [(at, marker.text) for at, marker in meta(file, "marker")] == [(640, "Dm7"), (640 + 1920, "G7♭9")]


# lengths | ticks of a beat
@pytest.mark.parametrize(
    ("length", "wanted"),
    [
        ("1/3", 960),
        ("1/5", 960),
        ("1/64", 960),
        ("1/7", 6720),
        ("1/9", 2880),
        ("1/128", 1920),
        ("1/77", 77),
        ("1/1001", 1001),
    ],
)
def test_ticks_are_as_many_as_make_every_length_exact(length: str, wanted: int) -> None:
    assert ticks_per_beat(line_of(f"A4:{length}")) == wanted <= MOST_TICKS


def test_lengths_that_no_ticks_make_exact_are_refused() -> None:
    with pytest.raises(CannotWrite) as refused:
        write_midi(line_of("A4:1/32771"))
    assert str(refused.value) == (
        "this line has lengths that only 1/32771 of a beat divides, finer than MIDI counts;"
        " at most 1/32767 of a beat can be written."
    )


@pytest.mark.parametrize("name", ["Cb-1", "G#9"])
def test_a_note_that_midi_has_no_number_for_is_refused(name: str) -> None:
    with pytest.raises(CannotWrite) as refused:
        write_midi(line_of(f"{name}:1"))
    assert str(refused.value) == f"{name} is no MIDI note; they go from C-1 to G9."


@pytest.mark.parametrize(("name", "number"), [("C-1", 0), ("G9", 127), ("B#3", 60), ("Cb5", 71)])
def test_the_outermost_notes_and_odd_spellings(name: str, number: int) -> None:
    file = read(line_of(f"{name}:1"))
    assert [message.note for message in file.tracks[1] if message.type == "note_on"] == [number]


def test_without_mido_one_sentence_says_how_to_get_it(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setitem(sys.modules, "mido", None)
    with pytest.raises(CannotWrite) as refused:
        write_midi(line_of("A4:1"))
    assert str(refused.value) == (
        'mido is missing, and without it no MIDI file can be written; "pip install mido" adds it.'
    )
