"""The picture of a neck: true to scale, whole, and with the shapes of every picture."""

from __future__ import annotations

import re
from itertools import pairwise

import pytest

from engine.neck.instrument import GUITAR, INSTRUMENTS, Instrument, Place, tuned
from engine.theory.wording import Profile
from engine.view.marks import SHAPES
from engine.view.neck import SPOTS, WIDTH, Dot, Window, neck_svg

WINDOWS = [(0, 4), (0, 5), (1, 5), (2, 6), (5, 9), (10, 14), (12, 16), (3, 12), (0, 12), (18, 22), (7, 8), (0, 22)]
ROUNDED = 0.11  # coordinates have one decimal, so a difference of two is right to that


def drawn(low: int, high: int, dots: list[Dot] | None = None, instrument: Instrument = GUITAR) -> str:
    return neck_svg(instrument, low, high, dots or [], "n", "A neck", "With nothing on it.")


def everywhere(instrument: Instrument, low: int, high: int, label: str = "♭13") -> list[Dot]:
    roles = list(SHAPES)
    return [
        Dot(Place(string, fret), label, roles[(string + fret) % len(roles)], faint=fret % 2 == 0)
        for string in range(1, len(instrument.strings) + 1)
        for fret in range(low, high + 1)
    ]


def wires(svg: str) -> list[float]:
    found = re.search('class="wires" d="([^"]+)"', svg)
    assert found
    return [float(x) for x in re.findall(r"M([\d.]+) ", found[1])]


@pytest.mark.parametrize(("low", "high"), WINDOWS)
def test_frets_follow_the_twelfth_root_of_two(low: int, high: int) -> None:
    """Each space between two wires is as much narrower as a half step is higher."""
    svg = drawn(low, high)
    places = wires(svg)
    nut = re.findall(r'class="nut" d="M([\d.]+) ', svg)
    assert len(nut) == (low <= 1)
    places = [float(x) for x in nut] + places
    gaps = [right - left for left, right in pairwise(places)]
    assert len(gaps) == high - max(low, 1) + 1
    for wide, narrow in pairwise(gaps):
        assert narrow == pytest.approx(wide * 2 ** (-1 / 12), abs=2 * ROUNDED)


@pytest.mark.parametrize(("low", "high"), WINDOWS)
@pytest.mark.parametrize("name", INSTRUMENTS)
def test_every_dot_is_inside_and_between_its_wires(name: str, low: int, high: int) -> None:
    instrument = INSTRUMENTS[name]
    dots = everywhere(instrument, low, high)
    svg = drawn(low, high, dots, instrument)
    left, top, width, height = (float(part) for part in re.findall('viewBox="([^"]+)"', svg)[0].split())
    assert (left, top, width) == (0, 0, WIDTH)
    places = re.findall(r'class="mark ([a-z-]+)" transform="translate\(([\d.-]+) ([\d.-]+)\)"', svg)
    texts = re.findall(r'<text (?:class="below" )?x="([\d.]+)" y="([\d.]+)">♭13</text>', svg)
    assert len(places) == len(texts) == len(dots)
    window = Window(low, high, 22, WIDTH - 4)
    rows: dict[int, set[str]] = {}
    for dot, (shape, x, y), (text_x, text_y) in zip(dots, places, texts, strict=True):
        fret = dot.place.fret
        assert shape == SHAPES[dot.role]
        assert 7 <= float(x) <= width - 7 + 4
        assert 7 <= float(y) <= height - 18
        start, end = (window.wire(fret - 1), window.wire(fret)) if fret else (window.left, window.wire(0))
        assert start < float(x) < end
        assert start <= float(text_x) <= end
        assert float(text_y) <= height - 17
        rows.setdefault(dot.place.string, set()).add(y)
    # String 1 on top, a row a string.
    heights = [float(next(iter(rows[string]))) for string in sorted(rows)]
    assert all(len(ys) == 1 for ys in rows.values())
    assert heights == sorted(set(heights))


TUNINGS = ["E1,A1,D2,G2", "B0,E1,A1,D2,G2", "F#1,B1,E2,A2,D3,G3,B3,E4", "C2,G2,D3,A3,E4,B4,C5"]


@pytest.mark.parametrize("tuning", TUNINGS)
def test_any_tuning_shows_its_strings(tuning: str) -> None:
    instrument = tuned(tuning)
    svg = drawn(5, 9, [], instrument)
    names = re.findall("<text[^>]*>([^<]+)</text>", re.findall('<g class="names">.*?</g>', svg)[0])
    assert names == [note[:-1].replace("#", "♯") for note in reversed(tuning.split(","))]
    assert svg.count("stroke-width") == len(instrument.strings)


def test_strings_have_the_names_they_sound_whatever_part_is_read() -> None:
    svg = neck_svg(GUITAR, 0, 4, [], "n", "", "", Profile(part="Bb", names="german"))
    assert re.findall("<text[^>]*>([^<]+)</text>", svg)[:6] == ["E", "H", "G", "D", "A", "E"]


@pytest.mark.parametrize(("low", "high"), WINDOWS)
def test_numbers_have_room_and_stand_under_their_frets(low: int, high: int) -> None:
    numbers = re.findall(r'<text x="([\d.]+)" [^>]*>(\d+)</text>', drawn(low, high))
    shown = [int(fret) for _, fret in numbers]
    assert set(SPOTS) & set(range(low, high + 1)) <= set(shown)
    if high - low < 10:
        assert shown == list(range(max(low, 1), high + 1))
    for (left, _), (right, _) in pairwise(numbers):
        assert float(right) - float(left) > 12.5


def test_spots_are_where_instruments_have_them() -> None:
    spots = re.findall('class="spots" d="([^"]+)"', drawn(10, 14))
    assert spots[0].count("h0") == 2
    assert 'class="spots"' not in drawn(1, 2)
    assert re.findall('class="spots" d="([^"]+)"', drawn(3, 9))[0].count("h0") == 4


def test_a_dot_elsewhere_is_refused() -> None:
    for place in (Place(1, 4), Place(1, 10), Place(7, 5), Place(0, 5)):
        with pytest.raises(ValueError, match="not on this part"):
            drawn(5, 9, [Dot(place, "3", "chord tone")])
    for low, high in ((5, 4), (-1, 4), (0, 0)):
        with pytest.raises(ValueError, match="no window"):
            drawn(low, high)


def test_narrow_frets_have_their_labels_below() -> None:
    dot = [Dot(Place(2, 8), "♭13", "alteration")]
    assert 'class="below"' not in drawn(5, 9, dot)
    assert 'class="below"' in drawn(3, 14, dot)
    assert "<text" not in re.findall('<g class="dot.*', drawn(3, 14, [Dot(Place(2, 8), "", "note")]))[0]


@pytest.mark.parametrize("fret", [13, 14, 16, 18, 20])
def test_every_marked_fret_has_its_number_however_narrow_it_is(fret: int) -> None:
    dots = (Dot(Place(3, fret), "5", "chord tone"),)
    picture = neck_svg(GUITAR, 1, 22, dots, "neck", "The neck", "What is on it")
    numbers = re.findall(
        r'<text x="([\d.]+)"[^>]*>(\d+)</text>', picture.partition('class="numbers"')[2].partition("</g>")[0]
    )
    assert str(fret) in [number for _, number in numbers]
    at = sorted(float(x) for x, number in numbers if abs(int(number) - fret) <= 1)
    assert all(right - left >= 16 for left, right in pairwise(at)), "its neighbours leave it room"
