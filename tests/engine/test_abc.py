"""Lines in ABC: what is read, what is refused, and that what is written reads back as the same line."""

import re
from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import assume, given, seed, settings
from hypothesis import strategies as st

from engine.formats.abc import FileFault, read_abc, write_abc
from engine.lines.aiming import re_aimed
from engine.lines.line import Change, Line, Meter, Note, merged
from engine.lines.moving import moved_to, placed
from engine.theory.chord_symbol import parse_chord
from engine.theory.key import Key, parse_key
from engine.theory.pitch import Pitch, parse_pitch
from tests.engine.abc_examples import CHANGES, FAULTS, HEADER, READINGS
from tests.pace import SOON, paced


def whole(music: str) -> str:
    """A whole file: the music as it stands where it has a header."""
    return music if re.match(r"\s*[XK]:|%%", music) else HEADER + music


def one(music: str) -> Line:
    (line,) = read_abc(whole(music))
    return line


def told(line: Line) -> list[str]:
    return [f"{note.pitch} {note.start}+{note.length}" for note in line.notes]


def split(expected: str) -> list[str]:
    return re.split(r"\s{2,}", expected)


@pytest.mark.parametrize(("music", "notes"), READINGS.values(), ids=READINGS)
def test_notes_are_read(music: str, notes: str) -> None:
    assert told(one(music)) == split(notes)


@pytest.mark.parametrize(("music", "changes"), CHANGES.values(), ids=CHANGES)
def test_chords_are_read(music: str, changes: str) -> None:
    assert [f"{change.chord} {change.beat}" for change in one(music).changes] == split(changes)


@pytest.mark.parametrize(("text", "line", "column", "words"), FAULTS.values(), ids=FAULTS)
def test_a_fault_says_where_and_what(text: str, line: int, column: int, words: str) -> None:
    with pytest.raises(FileFault) as raised:
        read_abc(text)
    fault = raised.value
    assert (fault.line, fault.column) == (line, column)
    assert str(fault).startswith(f'line {line}, column {column}: "')
    assert words in str(fault)
    assert str(fault).endswith(".")
    assert "\n" not in str(fault)
    assert len(str(fault)) < 200


def test_a_fault_can_be_moved_within_its_line() -> None:
    fault = FileFault("h2", 5, 7, "is no note", "write b").moved(3)
    assert (fault.line, fault.column, str(fault)) == (5, 10, 'line 5, column 10: "h2" is no note; write b.')


@pytest.mark.parametrize(
    ("music", "begin", "end"),
    [
        ('"C"c8|d8|]', 0, 8),
        ('"C"c8|d6|]', 0, 7),
        ('G2|"C"c8|d6|]', -1, 7),
        ('z2G|"C"c8|', Fraction(-3, 2), 4),
        ('"C"c4|]', 0, 2),
        ('"C"c8|Z3|]', 0, 16),
    ],
)
def test_where_a_line_begins_and_ends(music: str, begin: Fraction, end: Fraction) -> None:
    assert (one(music).begin, one(music).end) == (begin, end)


@pytest.mark.parametrize(
    ("field", "tempo"),
    [
        ("1/4=120", 120), ("1/4 = 96", 96), ("120", 120), ("1/8=200", 100), ("1/2=75", 150), ("3/8=100", 150),
        ("1/4 1/8=60", 90), ('"Slow" 1/4=60', 60), ('1/4=60 "Slow"', 60), ('"Slow"', None), ("3/16=66", 50),
    ],
)  # fmt: skip
def test_a_tempo_is_in_quarter_notes(field: str, tempo: int | None) -> None:
    assert one(f'X:1\nQ:{field}\nK:C\n"C"c8|]').tempo == tempo


@pytest.mark.parametrize(
    ("field", "meter"),
    [("C", Meter(4, 4)), ("C|", Meter(2, 2)), ("3/4", Meter(3, 4)), ("12/8", Meter(12, 8)), (" 6 / 8 ", Meter(6, 8))],
)
def test_meters(field: str, meter: Meter) -> None:
    assert one(f'X:1\nM:{field}\nK:C\n"C"c|]').meter == meter


@pytest.mark.parametrize(
    ("field", "key"),
    [
        ("C", "C"), ("Bb", "Bb"), ("F#m", "F#m"), ("A minor", "Am"), ("EbMaj", "Eb"), ("G Major", "G"), ("DMin", "Dm"),
        ("C#", "C#"), ("B♭", "Bb"), ("Cion", "C"), ("Aaeolian", "Am"), ("Am clef=treble", "Am"), ("C treble", "C"),
        ("Gm octave=0 stafflines=5", "Gm"),
    ],
)  # fmt: skip
def test_keys(field: str, key: str) -> None:
    assert str(one(f'X:1\nK:{field}\n"C"c|]').key) == key


def test_texts_are_plain() -> None:
    line = one(
        "X:7\nT:<script>alert(1)</script> 50\\% \\\\ &amp; % no\nT:Second\nC:Me\nC:You\n+:too\n"
        'N:one\nN:\nN:two\nR:swing\nS:Far\nS:bar 3\nO:x\nZ:x\nG:still\n+:to study\nK:C\nN:three\n"C"c8|]'
    )
    assert line.title == "<script>alert(1)</script> 50% \\ &amp;"
    assert (line.number, line.composer, line.remarks) == (7, "Me, You too", ("one", "two", "three"))
    assert (line.source, line.group) == ("Far, bar 3", "still to study")


def test_all_tunes_of_a_file() -> None:
    text = 'L:1/4\nC:Me\n\nX:3\nT:One\nK:C\n"C"c4|]\n\nsome words\n\nX:5\nK:G\n"G"f4|]\nX:6\nL:1/8\nK:F\n"F"b8|]'
    lines = read_abc(text)
    assert [(line.number, line.title, line.composer, str(line.key)) for line in lines] == [
        (3, "One", "Me", "C"),
        (5, "", "Me", "G"),
        (6, "", "Me", "F"),
    ]
    assert [told(line) for line in lines] == [["C5 0+4"], ["F#5 0+4"], ["Bb5 0+4"]]


def test_a_title_before_the_first_tune_is_for_tunes_without_one() -> None:
    lines = read_abc('T:All\nX:1\nT:Own\nK:C\n"C"c8|]\nX:2\nK:C\n"C"c8|]')
    assert [line.title for line in lines] == ["Own", "All"]


def test_words_before_the_first_tune_are_no_fault() -> None:
    assert told(read_abc('\ufeffLines for a lesson\n\nX:1\nK:C\n"C"c8|]')[0]) == ["C5 0+4"]


def test_a_file_has_an_end() -> None:
    tune = "X:{}\nK:C\n" + '"C"' + "cdefgabc|" * 400 + "\n\n"
    with pytest.raises(FileFault, match="is one note too many; keep to 4000 notes in a file"):
        read_abc(tune.format(1) + tune.format(2))
    assert len(read_abc(tune.format(1))[0].notes) == 3200
    with pytest.raises(FileFault, match="too many bars"):
        read_abc(whole('"C"c8|' + "Z999|" * 5))


def line_of(notes: str, changes: str, begin: str = "0", end: str = "4", **more: object) -> Line:
    """A line from its notes and changes, written as in the tables of examples."""
    return Line(
        more.pop("key", Key(Pitch(0))),
        more.pop("meter", Meter()),
        tuple(
            Note(parse_pitch(name), *(Fraction(part) for part in times.split("+")))
            for name, times in (note.split() for note in split(notes))
        ),
        tuple(
            Change(parse_chord(name), Fraction(beat)) for name, beat in (change.split() for change in split(changes))
        ),
        Fraction(begin),
        Fraction(end),
        **more,
    )  # type: ignore[arg-type]


# The notes, the changes, begin and end: the music of the canonical text.
WRITTEN = [
    ("C4 0+1/2  D4 1/2+1/2  E4 1+1", "Dm7 0", "0", "4", '"Dm7"CD E2 z4 |]'),
    ("F#4 0+1  F#4 1+1  F4 2+1  F4 3+1", "C 0", "0", "4", '"C"^F2 F2 =F2 F2 |]'),
    ("F#4 0+1  F5 1+1  F#4 2+2", "C 0", "0", "4", '"C"^F2 =f2 ^F4 |]'),
    ("F#4 0+6  F#4 6+1  F4 7+1", "C 0", "0", "8", '"C"^F8- | F4 ^F2 =F2 |]'),
    ("C4 0+4", "Dm7 0  G7 2", "0", "4", '"Dm7"C4- "G7"C4 |]'),
    ("C4 3+1", "Dm7 0  G7 2", "0", "4", '"Dm7"z4 "G7"z2 C2 |]'),
    ("C4 0+1/3  D4 1/3+1/3  E4 2/3+1/3  F4 1+3", "C 0", "0", "4", '"C"(3CDE F6 |]'),
    ("C4 0+2/3  D4 2/3+2/3  E4 4/3+2/3  F4 2+2", "C 0", "0", "4", '"C"(3C2D2E2 F4 |]'),
    ("C4 0+2/3  D4 2/3+1/3  E4 1+3", "C 0", "0", "4", '"C"(3:2:2C2D E6 |]'),
    ("C4 0+1/6  D4 1/6+1/6  E4 1/3+1/6  F4 1/2+7/2", "C 0", "0", "4", '"C"(3C/2D/2E/2F7 |]'),
    ("C4 0+1/5  D4 1/5+1/5  E4 2/5+1/5  F4 3/5+1/5  G4 4/5+1/5", "C 0", "0", "1", '"C"(5:4:5C/2D/2E/2F/2G/2 |]'),
    ("C4 0+2/3  D4 2/3+1/5", "C 0", "0", "13/15", '"C"C4/3D2/5 |]'),
    ("B3 -1+1/2  B2 -1/2+1/2  C6 0+4", "C 0", "-1", "4", 'B,B,, | "C"c\'8 |]'),
    ("C4 0+4  D4 4+4  E4 8+4  F4 12+4  G4 16+4", "C 0", "0", "20", '"C"C8 | D8 | E8 | F8 |\nG8 |]'),
    ("A4 -1+1  C4 0+4  D4 4+4  E4 8+4  F4 12+4  G4 16+1", "C 0", "-1", "17", 'A2 | "C"C8 | D8 | E8 | F8 |\nG2 |]'),
    ("C4 0+1/2  D4 1/2+1  E4 3/2+1/2  F4 2+2", "C 0", "0", "4", '"C"CD2 E F4 |]'),
]


@pytest.mark.parametrize(("notes", "changes", "begin", "end", "music"), WRITTEN)
def test_what_is_written(notes: str, changes: str, begin: str, end: str, music: str) -> None:
    line = line_of(notes, changes, begin, end)
    assert write_abc(line) == f"X:1\nM:4/4\nL:1/8\nK:C\n{music}\n"
    assert read_abc(write_abc(line)) == (line,)


def test_compound_meters_are_beamed_in_threes() -> None:
    notes = "  ".join(f"{'CDEFGA'[index]}4 {Fraction(index, 2)}+1/2" for index in range(6))
    assert write_abc(line_of(notes, "C 0", end="3", meter=Meter(6, 8))).endswith('"C"CDE FGA |]\n')


def test_the_header_that_is_written() -> None:
    line = line_of(
        "Eb4 0+4", "Cm7 0", key=Key(Pitch(0), "minor"), title="50% \\%", number=12, composer="Me", tempo=96,
        remarks=("one", "two"), source="Far", group="new",
    )  # fmt: skip
    text = 'X:12\nT:50\\% \\\\\\%\nC:Me\nS:Far\nG:new\nM:4/4\nL:1/8\nQ:1/4=96\nN:one\nN:two\nK:Cm\n"Cm7"E8 |]\n'
    assert write_abc(line) == text
    assert read_abc(text) == (line,)


@pytest.mark.parametrize(
    "music", [*(music for music, _ in READINGS.values()), *(music for music, _ in CHANGES.values())]
)
def test_examples_come_back_from_their_canonical_text(music: str) -> None:
    line = one(music)
    text = write_abc(line)
    assert read_abc(text) == (line,)
    assert write_abc(read_abc(text)[0]) == text


# Rhythms that fill a beat or more, and at the end some that leave a line off the beat.
CELLS = [
    [Fraction(part) for part in cell.split()]
    for cell in (
        "1/2 1/2", "1/2 1/2", "1", "2", "4", "3/2 1/2", "1/4 3/4", "1/4 1/4 1/4 1/4", "1/3 1/3 1/3", "2/3 1/3",
        "2/3 2/3 2/3", "1/6 1/6 1/6", "1/5 1/5 1/5 1/5 1/5", "2/5 2/5 2/5 2/5 2/5", "2/5 3/5", "1/8 7/8",
        "1/7 1/7 1/7 1/7 1/7 1/7 1/7", "4/9 5/9", "1/6 1/3 1/2", "7", "1/12 1/12 1/12", "1/2", "1/4", "1/3",
    )
]  # fmt: skip
METERS = [Meter(4, 4), Meter(4, 4), Meter(3, 4), Meter(6, 8), Meter(2, 2), Meter(5, 4), Meter(12, 8), Meter(7, 8)]
SYMBOLS = ["Dm7", "G7", "Cmaj7", "F#m7b5", "Bb7/D", "Eb6/9", "A7(b9,#11)", "C", "Gsus4", "Aø", "Db7"]
PITCHES = [
    pitch
    for octave in range(-1, 10)
    for letter in range(7)
    for accidental in range(-2, 3)
    if 0 <= (pitch := Pitch(letter, accidental, octave)).midi <= 127
]
CHORDS = {symbol: parse_chord(symbol) for symbol in SYMBOLS}
NEAR = [pitch for pitch in PITCHES if 4 <= (pitch.octave or 0) <= 5]
SOUNDING = st.sampled_from([*[None] * 20, *NEAR * 2, *PITCHES])
TEXTS = st.text(st.characters(exclude_categories=["Cs", "Cc", "Zl", "Zp"]), max_size=12).map(str.strip)


@st.composite
def lines(draw: st.DrawFn) -> Line:
    """Lines of up to some twenty notes, in any key, with or without pickup, chords anywhere."""
    meter = draw(st.sampled_from(METERS))
    lengths = [part for cell in draw(st.lists(st.sampled_from(CELLS), min_size=1, max_size=5)) for part in cell]
    total = sum(lengths, Fraction(0))
    begin = -draw(st.sampled_from([Fraction(0), Fraction(1), Fraction(1, 2), Fraction(2, 3), Fraction(5, 4)]))
    assume(-begin < total and -begin < meter.bar)
    at, notes = begin, []
    pitches = draw(st.lists(SOUNDING, min_size=len(lengths), max_size=len(lengths)))
    for pitch, length in zip(pitches, lengths, strict=True):
        if pitch:
            notes.append(Note(pitch, at, length))
        at += length
    assume(notes)
    end = at
    first = draw(st.sampled_from([Fraction(0), begin, begin / 2]))
    wanted = draw(st.lists(st.tuples(st.integers(0, 60), st.sampled_from([1, 2, 3, 0])), max_size=4))
    # At a beat, a half or a third of one, or with a note.
    places = {Fraction(count, part) if part else notes[count % len(notes)].start for count, part in wanted}
    beats = [first, *sorted(place for place in places if first < place < end)]
    symbols = draw(st.lists(st.sampled_from(SYMBOLS), min_size=5, max_size=5))
    changes = merged(tuple(Change(CHORDS[symbol], beat) for symbol, beat in zip(symbols, beats, strict=False)))
    key = Key(Pitch(draw(st.integers(0, 6)), draw(st.integers(-1, 1))), draw(st.sampled_from(["major", "minor"])))
    return Line(
        key, meter, tuple(notes), changes, begin, end, title="A line", tempo=draw(st.sampled_from([None, 60, 123])),
    )  # fmt: skip


@seed(1959)
@settings(max_examples=1000, database=None)
@given(lines())
def test_a_line_comes_back_from_its_text(line: Line) -> None:
    text = write_abc(line)
    (back,) = read_abc(text)
    assert back == line
    assert write_abc(back) == text


@seed(1960)
@settings(max_examples=200, database=None)
@given(st.lists(TEXTS, min_size=4, max_size=4), st.lists(TEXTS.filter(bool), max_size=3), st.integers(0, 999_999))
def test_any_title_comes_back(texts: list[str], remarks: list[str], number: int) -> None:
    title, composer, source, group = texts
    line = replace(one('"C"c8|]'), title=title, composer=composer, source=source, group=group)
    line = replace(line, remarks=tuple(remarks), number=number)
    assert read_abc(write_abc(line)) == (line,)


def test_what_is_said_of_a_line_stays_when_it_is_moved() -> None:
    line = one('X:1\nC:Me\nS:Far\nG:still to study\nN:slow\nK:C\n"Dm7"F8|"G7"E8|]')
    moved = [moved_to(line, parse_key("Eb")), placed(line), re_aimed(line, parse_chord("Cm7")).line]
    assert {(one.composer, one.source, one.group, one.remarks) for one in moved} == {
        ("Me", "Far", "still to study", ("slow",))
    }


@seed(1961)
@settings(max_examples=300, database=None)
@given(st.text(st.sampled_from("ABcd^_=,'/23z|[]:\"-<>()!{}~%\\ \nXKMLQ"), max_size=60), st.booleans())
def test_any_text_is_a_line_or_a_sentence(text: str, headed: bool) -> None:
    sentence, read = "", ()
    try:
        read = read_abc(HEADER + '"C"' + text if headed else text)
    except FileFault as fault:
        sentence = str(fault)
    assert read or re.fullmatch(r'line \d+, column \d+: ".*" .+; .+\.', sentence)
    assert [read_abc(write_abc(line))[0] for line in read] == list(read)


MEGABYTE = 1_000_000
GARBAGE = {
    "quotes": '"' * MEGABYTE,
    "notes": "c" * MEGABYTE,
    "letters": "X" * MEGABYTE,
    "slurs": "(" * MEGABYTE,
    "slurs closed": ")" * MEGABYTE,
    "spacers": "y1" * (MEGABYTE // 2),
    "bar lines": "| " * (MEGABYTE // 2),
    "annotations": '"^a"' * (MEGABYTE // 4),
    "fields": "[N:a]" * (MEGABYTE // 5),
    "open brackets": "[" * MEGABYTE,
    "marks": "!a!" * (MEGABYTE // 3),
    "octaves": "c" + "'" * MEGABYTE,
    "slashes": "c" + "/" * MEGABYTE,
    "digits": "c" + "9" * MEGABYTE,
    "backslashes": "\\ " * (MEGABYTE // 2),
    "per cents": "%" * MEGABYTE,
    "line ends": "\n" * MEGABYTE,
    "bytes": "".join(chr(33 + index * 7919 % 300) for index in range(MEGABYTE)),
    "primes": "".join(f"c/{number}" for number in range(3, 1000)) * 4,
}


@pytest.mark.parametrize("headed", [False, True], ids=["alone", "as music"])
@pytest.mark.parametrize("garbage", GARBAGE.values(), ids=GARBAGE)
def test_a_megabyte_of_garbage_gets_one_sentence_soon(garbage: str, headed: bool) -> None:
    def refusal() -> str:
        with pytest.raises(FileFault) as raised:
            read_abc(HEADER + garbage if headed else garbage)
        return str(raised.value)

    told, took = paced(refusal)
    assert took < SOON
    assert re.fullmatch(r'line \d+, column \d+: ".*" .+; .+\.', told)
    assert len(told) < 250
