"""What a benchmark gives, and how it is timed and printed."""

import math
from collections.abc import Callable, Iterable, Sequence
from statistics import median, quantiles
from time import perf_counter

Row = tuple[str, float, str, float | None]
"""Name, measured, unit, goal: at most so much (None where there is none)."""


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


def printed(rows: Iterable[Row]) -> Iterable[str]:
    """A line each: name, what was measured, the goal, and whether it is kept."""
    for name, measured, unit, goal in rows:
        value = f"{measured:,.0f}" if measured >= 100 else f"{measured:.3g}"
        line = f"{name:<64} {value:>8} {unit:<10}"
        if goal is not None:
            line += f" goal ≤ {goal:g} {'kept' if measured <= goal else 'MISSED'}"
        yield line.rstrip()
