"""Lines rewritten for another kind of chord: one altered degree, or a plain word that it does not do."""

import pytest

from engine.formats.abc import read_abc
from engine.lines.rewriting import rewritten
from engine.theory.wording import render

HEAD = "X:1\nL:1/8\nM:4/4\nK:C\n"
LINE = HEAD + '"Dm7"FAce dcBA|"G7"B4 z4|]\n'


@pytest.mark.parametrize(
    ("music", "place", "kind", "notes", "says"),
    [
        (LINE, 0, "7", "F#4 A4 C5 E5 D5 C5 B4 A4 B4", "Over D7 the ♭3 becomes the 3: F becomes F♯."),
        (LINE, 0, "m7b5", "F4 Ab4 C5 E5 D5 C5 B4 Ab4 B4", "the 5 becomes the ♭5: A becomes A♭"),
        (LINE, 0, "mMaj7", "F4 A4 C#5 E5 D5 C#5 B4 A4 B4", "the ♭7 becomes the 7: C becomes C♯"),
        (LINE, 1, "maj7", "F4 A4 C5 E5 D5 C5 B4 A4 B4", "does not play it: all notes stay"),
        (LINE, 1, "7", "F4 A4 C5 E5 D5 C5 B4 A4 B4", "is that kind already"),
    ],
)
def test_one_degree_is_altered(music: str, place: int, kind: str, notes: str, says: str) -> None:
    done = rewritten(read_abc(music)[0], place, kind)
    assert done.line is not None
    assert " ".join(str(note.pitch) for note in done.line.notes) == notes
    assert done.line.changes[place].chord.kind == kind
    assert says in render(done.text)


@pytest.mark.parametrize(("kind", "says"), [("maj7", "♭3 and ♭7 against 3 and 7"), ("7b9", "♭3 against 3 and ♭9")])
def test_more_than_one_tone_is_said_plainly(kind: str, says: str) -> None:
    done = rewritten(read_abc(LINE)[0], 0, kind)
    assert done.line is None
    assert says in render(done.text)


def test_there_is_no_such_chord() -> None:
    with pytest.raises(IndexError):
        rewritten(read_abc(LINE)[0], 2, "7")
