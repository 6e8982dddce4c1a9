"""Pictures in text, finer than a cell: bars in eighths, lines in braille dots, areas in eighths.

Each reads without colour too: by shape, by density, and by a name at its end.
"""

import os
from collections.abc import Iterator, Sequence
from datetime import date, timedelta
from math import ceil, floor, log10
from typing import NamedTuple

from textual.content import Content

LABEL = 7
"""Cells for the numbers at the left of a picture."""
_EIGHTHS = " ▏▎▍▌▋▊▉"
_RISING = " ▁▂▃▄▅▆▇"
_ACROSS, _DOWN = 2, 4
"""Braille dots of a cell."""
_DOTS = ((0x01, 0x08), (0x02, 0x10), (0x04, 0x20), (0x40, 0x80))
_HAS_BRAILLE = os.environ.get("TERM") != "linux"
"""The console of Linux has no braille; a line is then a bullet per cell."""
_FILL = "$rule"
_DASH = 3
"""Dots of a dash, and of the gap after it."""
_TICK_ROWS = 3
"""Rows from one number at the left to the next, at least."""


def bar(share: float, width: int, style: str = "$mark") -> Content:
    """A filled bar to an eighth of a cell: "███▍·····"."""
    eighths = round(min(max(share, 0.0), 1.0) * width * 8)
    filled = "█" * (eighths // 8) + _EIGHTHS[eighths % 8].strip()
    return Content.assemble((filled, style), ("·" * (width - len(filled)), "$rule"))


def interval_bar(
    rate: float, low: float, high: float, width: int, expected: float | None = None
) -> Content:
    """A share with its interval on a scale from 0 to 100 %: "···╶──●──···".

    The ends are true to half a cell. `expected` is what was said before, drawn as "│".
    """
    last = width - 1
    cells = [("·", "$rule")] * width
    start, end = round(2 * low * last), round(2 * high * last)
    for index in range(start // 2, end // 2 + 1):
        cells[index] = ("─", "bold $mark")
    if start % 2:
        cells[start // 2] = ("╶", "bold $mark")
    if expected is not None:
        cells[round(expected * last)] = ("│", "bold $foreground")
    cells[round(rate * last)] = ("●", "bold $accent")
    return Content.assemble(*cells)


def round_ticks(low: float, high: float, at_most: int, *, enclosing: bool = False) -> list[float]:
    """Numbers 1, 2 or 5 times a power of ten apart, as close as their number allows.

    They lie within `low` and `high`; with `enclosing` the first and the last are just outside.
    """
    first, last = (floor, ceil) if enclosing else (ceil, floor)
    length = (high - low) or 1.0
    power = 10.0 ** floor(log10(length / at_most))
    for step in (factor * power for factor in (1, 2, 5, 10, 20, 50)):
        numbers = range(first(low / step), last((low + length) / step) + 1)
        if len(numbers) <= at_most:
            break
    return [step * number for number in numbers]


class Layer(NamedTuple):
    """One part of a whole over time: what each day had of it, and how its area is filled."""

    name: str
    values: Sequence[float]
    glyph: str
    style: str


class Curve(NamedTuple):
    """A line over time, None where there is nothing to draw; `band` its range on each day.

    A later one lies on top of those before.
    """

    name: str
    values: Sequence[float | None]
    style: str
    dashed: bool = False
    band: Sequence[tuple[float, float]] = ()


def stacked_areas(layers: Sequence[Layer], days: Sequence[date], width: int, rows: int) -> Content:
    """The layers over time, the first at the bottom, each named at its end with its last count."""
    whole = max(
        1.0, *(sum(values) for values in zip(*(layer.values for layer in layers), strict=True))
    )
    names = [f"{layer.name} {layer.values[-1]:,.0f}" for layer in layers]
    columns = _columns(width, names)
    cells = [[(" ", "")] * columns for _ in range(rows)]
    tops = [[0.0] * columns]
    for layer in layers:
        own = _over_columns(layer.values, days, columns)
        tops.append([below + value for below, value in zip(tops[-1], own, strict=True)])
    for column in range(columns):
        for layer, bottom, top in zip(layers, tops, tops[1:], strict=False):
            start, end = (round(edge[column] / whole * rows * 8) for edge in (bottom, top))
            for row in range(start // 8, ceil(end / 8)):
                # A cell that two layers share belongs to the lower one, cut off at its height.
                glyph = layer.glyph
                if row == end // 8 and glyph == "█":
                    glyph = _RISING[end % 8]
                if row > start // 8 or start % 8 == 0:
                    cells[rows - 1 - row][column] = (glyph, layer.style)
    last = [edge[-1] / whole * rows for edge in tops]
    ends = [
        (rows - 1 - int((low + high) / 2 - 1e-9), name, layer.style)
        for layer, name, low, high in zip(layers, names, last, last[1:], strict=False)
        if high > low
    ]
    ticks = {
        rows - 1 - min(rows - 1, int(tick / whole * rows)): tick
        for tick in round_ticks(0, whole, max(3, rows // _TICK_ROWS + 1))
    }
    return _framed(cells, ticks, _spread(ends, rows), days)


def curves(
    drawn: Sequence[Curve],
    days: Sequence[date],
    span: tuple[float, float],
    width: int,
    rows: int,
) -> Content:
    """Lines over time in braille dots, each named at its end.

    The scale goes from a round number below the `span` to one above it; up to so many `rows`.
    """
    ticks = round_ticks(*span, max(3, rows // _TICK_ROWS + 1), enclosing=True)
    low, high, gaps = ticks[0], ticks[-1], len(ticks) - 1
    rows = max(1, (rows - 1) // gaps) * gaps + 1
    columns = _columns(width, [curve.name for curve in drawn])
    canvas = _Canvas(columns, rows)

    def height(value: float) -> int:
        share = min(max((value - low) / (high - low), 0.0), 1.0)
        return 1 + round((1 - share) * (rows - 1) * _DOWN)

    for curve in drawn:
        if curve.band:
            edges = (
                _over_columns([bounds[edge] for bounds in curve.band], days, columns * _ACROSS)
                for edge in (0, 1)
            )
            canvas.fill([(height(up), height(down)) for down, up in zip(*edges, strict=True)])
    ends = []
    for curve in drawn:
        known = [
            (day, value) for day, value in zip(days, curve.values, strict=True) if value is not None
        ]
        if known:
            own_days, values = zip(*known, strict=True)
            path = _over_columns(values, own_days, columns * _ACROSS, (days[0], days[-1]))
            start, end = (
                _column(day, days, columns * _ACROSS) for day in (known[0][0], known[-1][0])
            )
            heights = [height(value) for value in path[start : end + 1]]
            canvas.line(start, heights, curve.style, dashed=curve.dashed)
            ends.append((height(values[-1]) // _DOWN, curve.name, curve.style))
    rows_of = {height(tick) // _DOWN: tick for tick in ticks}
    return _framed(canvas.cells(set(rows_of)), rows_of, _spread(ends, rows), days)


class _Canvas:
    """Dots in cells; a cell holds its dots and one style. Lines lie over fills."""

    def __init__(self, columns: int, rows: int) -> None:
        self._columns, self._rows = columns, rows
        self._dots: dict[tuple[int, int], int] = {}
        self._styles: dict[tuple[int, int], str] = {}

    def fill(self, ranges: Sequence[tuple[int, int]]) -> None:
        """Every second dot from the upper to the lower height of each column of dots."""
        for x, (upper, lower) in enumerate(ranges):
            for y in range(upper, lower + 1):
                if x % 2 == 0 and y % 2 == 0:
                    self._set(x, y, _FILL)

    def line(self, start: int, heights: Sequence[int], style: str, *, dashed: bool) -> None:
        """A line through the heights, one for each column of dots from `start` on."""
        before = heights[0]
        for x, y in enumerate(heights, start):
            if not dashed or x // _DASH % 2 == 0:
                for step in range(min(before, y), max(before, y) + 1):
                    self._set(x, step, style)
            before = y

    def _set(self, x: int, y: int, style: str) -> None:
        cell = (y // _DOWN, x // _ACROSS)
        if self._styles.get(cell) == _FILL and style != _FILL:  # a line lies on a clear ground
            self._dots[cell] = 0
        self._styles[cell] = style
        self._dots[cell] = self._dots.get(cell, 0) | _DOTS[y % _DOWN][x % _ACROSS]

    def cells(self, guided: set[int]) -> list[list[tuple[str, str]]]:
        """The glyphs with their styles; the rows of round numbers have a quiet guide."""
        cells = []
        for row in range(self._rows):
            blank = ("┈", "$rule") if row in guided else (" ", "")
            line = [blank] * self._columns
            for column in range(self._columns):
                if dots := self._dots.get((row, column)):
                    glyph = chr(0x2800 + dots) if _HAS_BRAILLE else "•"
                    line[column] = (glyph, self._styles[row, column])
            cells.append(line)
        return cells


def _column(day: date, days: Sequence[date], columns: int) -> int:
    """The column in which a day lies."""
    return (day - days[0]).days * (columns - 1) // max(1, (days[-1] - days[0]).days)


def _columns(width: int, names: Sequence[str]) -> int:
    """Cells left for the picture between the numbers and the names at its end."""
    return max(8, width - LABEL - max((len(name) + 1 for name in names if name), default=0))


def _over_columns(
    values: Sequence[float],
    days: Sequence[date],
    columns: int,
    span: tuple[date, date] | None = None,
) -> list[float]:
    """The values between their days, evenly over the columns of `span` (their own, if None)."""
    first, last = span or (days[0], days[-1])
    length = max(1, (last - first).days)
    column_values, index = [], 0
    for column in range(columns):
        at = length * column / max(1, columns - 1)
        while index + 1 < len(days) and (days[index + 1] - first).days <= at:
            index += 1
        value = values[index]
        if index + 1 < len(days):
            start, end = ((days[place] - first).days for place in (index, index + 1))
            value += (values[index + 1] - value) * min(max((at - start) / (end - start), 0.0), 1.0)
        column_values.append(value)
    return column_values


def _spread(ends: Sequence[tuple[int, str, str]], rows: int) -> dict[int, tuple[str, str]]:
    """A row of its own for each name, as near to its end as the others leave."""
    placed: dict[int, tuple[str, str]] = {}
    for row, name, style in sorted(ends):
        free = sorted((abs(row - at_row), at_row) for at_row in range(rows) if at_row not in placed)
        below = [at_row for _, at_row in free if not placed or at_row > max(placed)]
        if free and name:
            placed[below[0] if below else free[0][1]] = (name, style)
    return placed


def _framed(
    cells: Sequence[Sequence[tuple[str, str]]],
    ticks: dict[int, float],
    names: dict[int, tuple[str, str]],
    days: Sequence[date],
) -> Content:
    lines = []
    for row, line in enumerate(cells):
        label = f"{ticks[row]:,.10g}" if row in ticks else ""
        name, style = names.get(row, ("", ""))
        lines.append(
            Content.assemble((f"{label:>{LABEL - 1}} ", "$muted"), *line, (f" {name}", style))
        )
    lines.append(_time_axis(days, len(cells[0])))
    return Content("\n").join(lines)


def _time_axis(days: Sequence[date], columns: int) -> Content:
    """The months under a picture, each where it begins; the first day alone where that is all."""
    text = f"{days[0].day} {days[0]:%b}".ljust(columns)[:columns]
    for day in _month_starts(days[0], days[-1]):
        column = _column(day, days, columns)
        label = f"{day:%b}"
        if text[max(0, column - 1) : column + len(label)].isspace():
            text = (text[:column] + label + text[column + len(label) :])[:columns]
    return Content.styled(" " * LABEL + text.rstrip(), "$muted")


def _month_starts(first: date, last: date) -> Iterator[date]:
    day = (first.replace(day=1) + timedelta(days=32)).replace(day=1)
    while day <= last:
        yield day
        day = (day + timedelta(days=32)).replace(day=1)
