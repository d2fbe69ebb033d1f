"""What the measurements of bench.py become: medians, ratios, a table, and where a limit is missed."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

STOCK = "stock"


@dataclass(frozen=True)
class Figure:
    """One line of the table: what was measured, and what it may be at most.

    `at_most` is in the figure's own unit, `of_stock` a share of the stock start's median.
    """

    name: str
    values: tuple[float, ...]
    unit: str = "ms"
    at_most: float | None = None
    of_stock: float | None = None

    @property
    def middle(self) -> float:
        """The median; NaN where nothing was measured."""
        return median(self.values) if self.values else math.nan


def percentile(values: Sequence[float], share: float) -> float:
    """The smallest value that at least `share` of them all do not exceed."""
    ordered = sorted(values)
    return ordered[max(0, math.ceil(share * len(ordered)) - 1)]


def ratio(figure: Figure, stock: float) -> float | None:
    """The figure's share of the stock start, where it is a time of the same kind."""
    return figure.middle / stock if figure.of_stock is not None and stock > 0 else None


def limit(figure: Figure) -> str:
    """What the figure may be at most, as text."""
    if figure.of_stock is not None:
        return f"{figure.of_stock:.2f} × {STOCK}"
    return _shown(figure.at_most, figure.unit) if figure.at_most is not None else ""


def holds(figure: Figure, stock: float) -> bool | None:
    """Whether the figure keeps to its limit; None where it has none or nothing was measured."""
    share = ratio(figure, stock)
    if figure.of_stock is not None:
        return None if share is None or math.isnan(share) else share <= figure.of_stock
    if figure.at_most is None or math.isnan(figure.middle):
        return None
    return figure.middle <= figure.at_most


def rows(figures: Sequence[Figure], stock: float) -> list[tuple[str, str, str, str, str, str]]:
    """The table's cells: name, median, all values' span, ratio, limit, verdict."""
    made = []
    for figure in figures:
        share, kept = ratio(figure, stock), holds(figure, stock)
        span = f"{_number(min(figure.values))}–{_number(max(figure.values))}" if len(figure.values) > 1 else ""
        made.append(
            (
                figure.name,
                _shown(figure.middle, figure.unit),
                span,
                "" if share is None else f"{share:.3f}",
                limit(figure),
                {True: "yes", False: "NO", None: ""}[kept],
            )
        )
    return made


HEAD = ("measured", "median", "span", f"share of {STOCK}", "limit", "limit kept")


def plain_table(figures: Sequence[Figure], stock: float) -> str:
    """The table for a terminal."""
    cells = [HEAD, *rows(figures, stock)]
    widths = [max(len(row[column]) for row in cells) for column in range(len(HEAD))]
    lines = ["  ".join(cell.ljust(width) for cell, width in zip(row, widths, strict=True)).rstrip() for row in cells]
    return "\n".join([lines[0], "-" * len(lines[0]), *lines[1:]])


def markdown_table(figures: Sequence[Figure], stock: float) -> str:
    """The table for a page, as HTML that Markdown leaves as it is."""
    head = "".join(f'<th scope="col">{cell}</th>' for cell in HEAD)
    body = "".join(
        f'<tr><th scope="row">{row[0]}</th>' + "".join(f"<td>{cell}</td>" for cell in row[1:]) + "</tr>\n"
        for row in rows(figures, stock)
    )
    return f'<div class="papers"><table><thead><tr>{head}</tr></thead>\n<tbody>\n{body}</tbody></table></div>'


def missed(figures: Sequence[Figure], stock: float) -> list[str]:
    """A sentence for each limit that is missed."""
    return [
        f"{figure.name}: {_shown(figure.middle, figure.unit)}, the limit is {limit(figure)}"
        + (f" ({_shown(figure.of_stock * stock, figure.unit)})" if figure.of_stock is not None else "")
        for figure in figures
        if holds(figure, stock) is False
    ]


def _shown(value: float, unit: str) -> str:
    return "–" if math.isnan(value) else f"{_number(value)} {unit}"


def _number(value: float) -> str:
    return f"{value:.1f}" if abs(value) < 100 else f"{value:,.0f}".replace(",", " ")
