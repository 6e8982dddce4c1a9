"""Pictures in a few lines of text. Each glyph tells what it is without any colour."""

from collections.abc import Sequence

from textual.content import Content

AXIS = 7
"""Cells for the numbers at the left of a picture."""

Point = tuple[float, str, str]
"""A value, the glyph that stands for it, and the glyph's style."""


def interval_bar(rate: float, low: float, high: float, width: int) -> Content:
    """A share with its interval on a scale from 0 to 100 %: "···──●──···"."""
    last = width - 1
    start, middle, end = (round(share * last) for share in (low, rate, high))
    cells = ["·"] * width
    cells[start : end + 1] = "─" * (end - start + 1)
    cells[middle] = "●"
    return Content.assemble(
        ("".join(cells[:start]), "dim"),
        ("".join(cells[start : end + 1]), "bold $primary"),
        ("".join(cells[end + 1 :]), "dim"),
    )


def bar(share: float, width: int, style: str = "$primary") -> Content:
    """A filled bar: "█████·····"."""
    filled = round(min(max(share, 0.0), 1.0) * width)
    return Content.assemble(("█" * filled, style), ("·" * (width - filled), "dim"))


def over_time(
    columns: Sequence[Sequence[Point]],
    bands: Sequence[tuple[float, float] | None],
    span: tuple[float, float],
    width: int,
    height: int,
    unit: str = "",
) -> Content:
    """Points over time, a column each; a band draws its range as a stroke behind them."""
    low, high = span
    wide = _column_width(len(columns), width)

    def line_of(value: float) -> int:
        share = (value - low) / ((high - low) or 1)
        return height - 1 - round(min(max(share, 0.0), 1.0) * (height - 1))

    grid = [[(" ", "")] * len(columns) for _ in range(height)]
    for place, (points, band) in enumerate(zip(columns, bands, strict=True)):
        if band is not None:
            for line in range(line_of(band[1]), line_of(band[0]) + 1):
                grid[line][place] = ("│", "dim")
        for value, glyph, style in points:
            grid[line_of(value)][place] = (glyph, style)
    lines = []
    for line, row in enumerate(grid):
        value = high - (high - low) * line / (height - 1)
        label = f"{value:,.0f}{unit}" if line % 3 == 0 or line == height - 1 else ""
        cells = [(glyph + " " * (wide - 1), style) for glyph, style in row]
        lines.append(Content.assemble((f"{label:>{AXIS - 1}} ", "dim"), *cells))
    return Content("\n").join(lines)


def time_axis(labels: Sequence[str], width: int) -> Content:
    """The first and the last label under a picture of so many columns."""
    if not labels:
        return Content("")
    wide = _column_width(len(labels), width) * len(labels)
    gap = max(1, wide - len(labels[0]) - len(labels[-1]))
    text = labels[0] if len(labels) == 1 else labels[0] + " " * gap + labels[-1]
    return Content.styled(" " * AXIS + text, "dim")


def _column_width(count: int, width: int) -> int:
    return max(1, min(4, (width - AXIS) // max(1, count)))
