"""Consecutive items over consecutive days, the fullest day as low as can be: exact.

The linear partition problem (S. Skiena, The Algorithm Design Manual, section on partition
problems), here with days of unequal room: a day's fill is its load over its room.
"""

from collections.abc import Sequence
from itertools import islice

Fill = tuple[int, int]
"""Load over room, kept as two whole numbers so that comparing is exact."""


EMPTY: Fill = (0, 1)


def spread(sizes: Sequence[int], rooms: Sequence[int], allowed: Fill = EMPTY) -> list[int]:
    """How many of the items each day takes, in order, so that the fullest day is least full.

    Sizes and rooms are positive; early days fill first among equally good ways, and up to the
    fill that is `allowed` in any case. Filling each day up to a limit is best for that limit;
    when it fails, no limit below the least fill that was refused can do better, so that fill is
    the next limit to try.
    """
    limit = _fuller((sum(sizes), sum(rooms)), allowed)
    while True:
        counts, taken, refused = _fill(sizes, rooms, limit)
        if taken == len(sizes):
            return counts
        limit = refused


def fullest(sizes: Sequence[int], rooms: Sequence[int], counts: Sequence[int]) -> Fill:
    """The fill of the fullest day, when each day takes so many of the items."""
    most, item = EMPTY, iter(sizes)
    for room, count in zip(rooms, counts, strict=True):
        most = _fuller(most, (sum(islice(item, count)), room))
    return most


def holds(sizes: Sequence[int], rooms: Sequence[int], limit: Fill) -> bool:
    """Whether the days hold all the items without any day being fuller than the limit."""
    return _fill(sizes, rooms, limit)[1] == len(sizes)


def days_to_fill(sizes: Sequence[int], rooms: Sequence[int], stretch: float) -> int | None:
    """The fewest leading days that hold all items, or None where even all days don't.

    A single day may exceed its room by the share `stretch`, so that items need not be cut; all
    the days together by a third of that, so that a trifle does not cost a day.
    """
    total, days, load, room = sum(sizes) / (1 + stretch / 3) - 1e-9, 0, 0, 0
    item = 0
    while item < len(sizes) or room < total:
        if days == len(rooms):
            return None
        most, load = rooms[days] * (1 + stretch) + 1e-9, 0
        while item < len(sizes) and load + sizes[item] <= most:
            load += sizes[item]
            item += 1
        room += rooms[days]
        days += 1
    return days


def _fuller(one: Fill, other: Fill) -> Fill:
    return one if one[0] * other[1] >= other[0] * one[1] else other


def _fill(sizes: Sequence[int], rooms: Sequence[int], limit: Fill) -> tuple[list[int], int, Fill]:
    """Fill days up to the limit: items a day, items taken, the least fill that was refused."""
    most, over = limit
    counts, item, refused = [], 0, (1, 0)
    for room in rooms:
        load, first = 0, item
        while item < len(sizes) and (load + sizes[item]) * over <= most * room:
            load += sizes[item]
            item += 1
        counts.append(item - first)
        if item < len(sizes) and (load + sizes[item]) * refused[1] < refused[0] * room:
            refused = (load + sizes[item], room)
    return counts, item, refused
