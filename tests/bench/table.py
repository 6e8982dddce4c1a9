"""What a benchmark gives, and how it is timed and printed."""

import math
from collections.abc import Callable, Iterable, Sequence
from itertools import starmap
from statistics import median, quantiles
from time import perf_counter
from typing import Any, NamedTuple


class Row(NamedTuple):
    """A line of the table; `goal` is the most it may be, `worst` the highest of several runs."""

    name: str
    measured: float
    unit: str
    goal: float | None = None
    worst: float | None = None


def row_of(name: str, taken: Sequence[float], base: float, unit: str, goal: float | None) -> Row:
    """Median and worst of several runs, in times `base`."""
    return Row(name, median(taken) / base, unit, goal, max(taken) / base)


def milliseconds(run: Callable[[], object], times: int = 5) -> float:
    """The median of several runs."""
    taken = []
    for _ in range(times):
        begin = perf_counter()
        run()
        taken.append((perf_counter() - begin) * 1000)
    return median(taken)


def p95(times: Sequence[float]) -> float:
    """What 95 in 100 stay below."""
    return quantiles(times, n=20)[-1]


def exponent(sizes: Sequence[float], taken: Sequence[float]) -> float:
    """How the time grows: 1 in step with the size, 0 not at all (least squares in logarithms)."""
    xs, ys = [math.log(size) for size in sizes], [math.log(time) for time in taken]
    mean_x, mean_y = sum(xs) / len(xs), sum(ys) / len(ys)
    over = sum((x - mean_x) * (y - mean_y) for x, y in zip(xs, ys, strict=True))
    return over / sum((x - mean_x) ** 2 for x in xs)


def printed(rows: Iterable[Sequence[Any]]) -> Iterable[str]:
    """A line for each row: name, median, worst, the goal, and whether the median keeps it."""
    for row in starmap(Row, rows):
        worst = f"(worst {_figure(row.worst)})" if row.worst is not None else ""
        line = f"{row.name:<58} {_figure(row.measured):>8} {row.unit:<10} {worst:<15}"
        if row.goal is not None:
            line += f" goal ≤ {row.goal:g} {'kept' if row.measured <= row.goal else 'MISSED'}"
        yield line.rstrip()


def _figure(value: float) -> str:
    return f"{value:,.0f}" if value >= 100 else f"{value:.3g}"
