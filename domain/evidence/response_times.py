"""Pace, per subject or whatever else the responses are grouped by."""

from collections import defaultdict
from collections.abc import Hashable, Iterable
from statistics import quantiles
from typing import TypeVar

from msgspec import Struct

Group = TypeVar("Group", bound=Hashable)


class PaceRange(Struct, frozen=True):
    """Seconds a question: the middle half of the measured times, and how many there are."""

    low: float
    median: float
    high: float
    measured: int


def pace(seconds: Iterable[tuple[Group, float]]) -> dict[Group, PaceRange]:
    """The pace of each group. Times of 0 were not measured and don't count."""
    measured: dict[Group, list[float]] = defaultdict(list)
    for group, value in seconds:
        if value > 0:
            measured[group].append(value)
    return {group: _pace(values) for group, values in measured.items()}


def _pace(values: list[float]) -> PaceRange:
    if len(values) == 1:
        return PaceRange(values[0], values[0], values[0], 1)
    low, middle, high = quantiles(values, n=4, method="inclusive")
    return PaceRange(low, middle, high, len(values))
