"""What is made of measurements: medians, percentiles, ratios, limits. Nothing is measured here.

And that the places of a tablature are read as they are, and counted for everyone alike.
"""

import math
from typing import Any

import bench_heard
import bench_tab
import pytest
from bench_figures import Figure, holds, markdown_table, missed, percentile, plain_table, ratio, rows
from playwright.sync_api import Browser
from shift_counting import fewest_of_all, lowest_frets
from sound_numbers import Compared

from engine.neck.instrument import GUITAR, Place
from engine.neck.limits import Limits
from tests.engine.every_fingering import least
from tests.engine.short_lines import line_of, midis_at_random

STOCK = 4000.0
FIGURES = [
    Figure("stock start", (4100.0, 3900.0, 4000.0)),
    Figure("first visit", (2300.0, 2000.0, 9000.0), of_stock=0.55),
    Figure("return visit", (1000.0,), of_stock=0.35),
    Figure("bytes", (91.25,), "kB", at_most=90),
    Figure("never measured", (), of_stock=0.05),
]


@pytest.mark.parametrize(
    ("values", "middle"), [((3.0,), 3), ((9.0, 1.0, 2.0), 2), ((1.0, 2.0, 3.0, 10.0), 2.5), ((7.0, 7.0), 7)]
)
def test_the_median_stands_for_all(values: tuple[float, ...], middle: float) -> None:
    assert Figure("", values).middle == middle


@pytest.mark.parametrize(("share", "value"), [(0.95, 95), (0.951, 96), (0.5, 50), (1, 100), (0, 1), (0.001, 1)])
def test_a_percentile_is_a_value_that_was_measured(share: float, value: float) -> None:
    assert percentile([float(number) for number in range(100, 0, -1)], share) == value


def test_a_share_of_the_stock_start_is_told_only_where_it_is_a_limit() -> None:
    assert [ratio(figure, STOCK) for figure in FIGURES[:4]] == [None, 0.575, 0.25, None]


def test_limits_are_kept_missed_or_not_there() -> None:
    assert [holds(figure, STOCK) for figure in FIGURES] == [None, False, True, False, None]
    assert holds(Figure("", (90.0,), at_most=90), STOCK) is True
    assert holds(Figure("", (2200.0,), of_stock=0.55), STOCK) is True
    assert holds(Figure("", (2200.1,), of_stock=0.55), STOCK) is False


def test_every_missed_limit_is_said() -> None:
    assert missed(FIGURES, STOCK) == [
        "first visit: 2 300 ms, the limit is 0.55 × stock (2 200 ms)",
        "bytes: 91.2 kB, the limit is 90.0 kB",
    ]


def test_the_table_has_a_row_for_each_figure_and_columns_that_stand_in_line() -> None:
    lines = plain_table(FIGURES, STOCK).splitlines()
    assert len(lines) == 2 + len(FIGURES)
    column = lines[0].index("median")
    assert [line[column:].split("  ")[0].strip() for line in lines[2:]] == [
        "4 000 ms", "2 300 ms", "1 000 ms", "91.2 kB", "–",
    ]  # fmt: skip
    assert rows(FIGURES, STOCK)[1] == ("first visit", "2 300 ms", "2 000–9 000", "0.575", "0.55 × stock", "NO")


def test_the_page_has_the_same_cells() -> None:
    text = markdown_table(FIGURES, STOCK)
    for row in rows(FIGURES, STOCK):
        assert f'<th scope="row">{row[0]}</th><td>{row[1]}</td>' in text
    assert text.count("<tr>") == 1 + len(FIGURES)


def test_nothing_measured_is_no_number() -> None:
    assert math.isnan(Figure("", ()).middle)


# --- sound ------------------------------------------------------------------------

LOOP = {"loop": [1, 3], "events": [[0, 1], [1, 1], [2.5, 1], [3, 1]]}


def test_a_loop_begins_anew_at_its_begin_and_plays_nothing_after_its_end() -> None:
    assert bench_heard.laps(LOOP, 7.1) == [0, 1, 2.5, 3, 4.5, 5, 6.5, 7]
    assert bench_heard.laps(LOOP, 2) == [0, 1]


def test_a_sound_that_is_beside_its_time_or_late_is_told() -> None:
    starts = bench_heard.laps(LOOP, 20)
    begun = [[5 + start + (0.002 if place == 7 else 0), 4.9 + start] for place, start in enumerate(starts)]
    drift, late = bench_heard._drifted("", LOOP, begun, 20)
    assert drift.middle == pytest.approx(2)
    assert (holds(drift, STOCK), late.middle, holds(late, STOCK)) == (False, 0, True)
    begun[9][1] = begun[9][0]
    assert bench_heard._drifted("", LOOP, begun, 20)[1].middle == 1


def test_an_onset_without_a_counterpart_misses_every_limit() -> None:
    there = Figure("", (bench_heard._worst(Compared((0.5, -2.0), 0, 0)),), at_most=5)
    assert (there.middle, holds(there, STOCK)) == (2, True)
    for missing, extra in ((1, 0), (0, 1)):
        figure = Figure("", (bench_heard._worst(Compared((0.5, -2.0), missing, extra)),), at_most=5)
        assert holds(figure, STOCK) is False
        assert "inf ms" in markdown_table([figure], STOCK)


# --- tablature ----------------------------------------------------------------------

UP_AND_DOWN = line_of([40, 45, 52, 64, 67, 63])


def test_places_are_read_from_a_tablature() -> None:
    notes = [[5, 0], [4, 0], [3, 2], None, [0, 0], [0, 3], [1, 4]]
    assert bench_tab.places_of(notes, UP_AND_DOWN) == ((6, 0), (5, 0), (4, 2), (1, 0), (1, 3), (2, 4))


@pytest.mark.parametrize(
    "notes",
    [
        [], [[5, 0]], [[5, 0], [4, 0], [3, 2], [0, 0], [0, 3], [1, "?"]], [[5, 0], [4, 0], [3, 2], [0, 0], [0, 3], [0, 4]],
        [[5, 12], [4, 12], [3, 14], [0, 12], [0, 15], [1, 16]],
    ],
    ids=["none", "too few", "no fret", "another pitch", "an octave higher"],
)  # fmt: skip
def test_a_tablature_of_other_notes_is_none(notes: list[Any]) -> None:
    assert bench_tab.places_of(notes, UP_AND_DOWN) is None


def test_all_are_counted_alike_and_what_cannot_be_compared_is_left_out() -> None:
    line = line_of([64, 71, 64])
    far, near = (Place(5, 19), Place(1, 7), Place(5, 19)), (Place(1, 0), Place(1, 7), Place(1, 0))
    result = bench_tab.compared([line, line, line], [far, None, near])
    assert (result.lines, result.left_out, result.beaten) == (2, 1, 0)
    assert result.shifts == {"engine": 0, "abcjs": 2, "lowest frets": 0, "nearest frets": 0}


def test_a_line_on_which_the_engine_is_beaten_is_counted(monkeypatch: pytest.MonkeyPatch) -> None:
    worse = bench_tab.ways(line_of([64, 71]), GUITAR)[0]
    monkeypatch.setattr(bench_tab, "fewest_shifts", lambda places: int(places == worse.places))
    monkeypatch.setattr(bench_tab, "lowest_frets", lambda *_: ())
    assert bench_tab.compared([line_of([64, 71])], [()]).beaten == 1


@pytest.mark.parametrize("stretch", [3, 4, 5])
@pytest.mark.parametrize("seed", range(8))
def test_the_fewest_shifts_of_all_placements_are_those_of_every_one(seed: int, stretch: int) -> None:
    line = line_of(midis_at_random(seed, 5, GUITAR, widest=30))
    assert fewest_of_all(line, GUITAR, stretch) == least(line, GUITAR, Limits(stretch=stretch))


@pytest.mark.browser
def test_what_abcjs_draws_is_read(chromium: Browser) -> None:
    lines = [UP_AND_DOWN, line_of([61, 66, 70, 75]), line_of([30, 40])]
    page = chromium.new_page()
    try:
        first, second, none = bench_tab.tablature(page, lines)
    finally:
        page.close()
    assert (first, second) == (lowest_frets(lines[0], GUITAR), lowest_frets(lines[1], GUITAR))
    assert none is None, "below the guitar"
