"""What is made of measurements: medians, percentiles, ratios, limits. Nothing is measured here."""

import math

import pytest
from bench_figures import Figure, holds, markdown_table, missed, percentile, plain_table, ratio, rows

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
