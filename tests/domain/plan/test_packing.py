"""A block's days against exhaustive search over every way to cut it."""

from collections.abc import Iterator, Sequence
from fractions import Fraction
from itertools import pairwise
from random import Random

import pytest

from domain.plan.packing import LEAST_PIECE, BlockDays

STRETCH = 0.15


def every_way(
    sizes: Sequence[int], rooms: Sequence[int]
) -> Iterator[tuple[tuple[object, ...], list[int]]]:
    """Each way to take the chapters on the days, with its rank by the order of wishes."""
    edges = [sum(sizes[:place]) for place in range(len(sizes) + 1)]
    total = edges[-1]
    insides = {
        position
        for begin, end in pairwise(edges)
        for position in range(begin + LEAST_PIECE, end - LEAST_PIECE + 1)
    }

    def next_piece(position: int) -> int:
        left = min(edge for edge in edges if edge > position) - position
        return LEAST_PIECE if left >= 2 * LEAST_PIECE else left

    def go_on(
        day: int, begin: int, loads: list[int], skipped: int, cuts: int
    ) -> Iterator[tuple[tuple[object, ...], list[int]]]:
        if day == len(rooms):
            last = max((n for n, load in enumerate(loads) if load), default=-1)
            if begin == total and total <= sum(rooms[: last + 1]):
                shares = [Fraction(load, room) for load, room in zip(loads, rooms, strict=True)]
                fuller_first = [-load for load in loads]
                yield (skipped, cuts, sorted(shares, reverse=True), fuller_first), loads
            return
        holds = int(rooms[day] * (1 + STRETCH) + 1e-9)
        for end in range(begin, min(total, begin + holds) + 1):
            is_cut = end not in edges
            if end > begin and is_cut and (end not in insides or end - begin < LEAST_PIECE):
                continue
            empty = end == begin
            skips = empty and begin < total and next_piece(begin) <= holds
            cut = is_cut and not empty
            yield from go_on(day + 1, end, [*loads, end - begin], skipped + skips, cuts + cut)

    yield from go_on(0, 0, [], 0, 0)


@pytest.mark.parametrize("seed", range(60))
def test_a_block_is_packed_as_exhaustive_search_packs_it(seed: int) -> None:
    rng = Random(seed)
    for _ in range(5):
        sizes = [rng.randint(1, 45) for _ in range(rng.randint(1, 4))]
        rooms = [rng.choice([8, 12, 20, 25, 30, 40]) for _ in range(rng.randint(1, 4))]
        days = BlockDays(sizes, 1, rooms, STRETCH)
        best = min(every_way(sizes, rooms), default=None)
        if sum(sizes) > sum(rooms) or best is None:
            assert days.fewest() is None
        else:
            assert days.fewest() is not None
            assert days.pack() == best[1]


def test_the_fewest_days_are_those_that_exhaustive_search_needs() -> None:
    rng = Random(7)
    for _ in range(100):
        sizes = [rng.randint(1, 35) for _ in range(rng.randint(1, 3))]
        rooms = [rng.choice([8, 12, 20, 30]) for _ in range(4)]
        holding = (
            count
            for count in range(1, 5)
            if sum(sizes) <= sum(rooms[:count]) and next(every_way(sizes, rooms[:count]), None)
        )
        assert BlockDays(sizes, 1, rooms, STRETCH).fewest() == next(holding, None)


def test_the_stretch_is_no_capacity() -> None:
    assert BlockDays([11], 1, [10], STRETCH).fewest() is None
    assert BlockDays([11], 1, [10, 1], STRETCH).fewest() is None
    assert BlockDays([21, 12], 1, [20, 13], STRETCH).pack() == [21, 12]
    assert BlockDays([34], 1, [30, 10], STRETCH).pack() == [24, 10]


def test_an_even_day_may_be_skipped_where_the_next_piece_does_not_fit() -> None:
    """Chapters of 15 can't be cut: a day for 6 or for 10 between two for 15 makes no difference."""
    for middle in (6, 10):
        assert BlockDays([15, 15], 1, [15, middle, 15], 0.0).pack() == [15, 0, 15]


def test_what_is_left_is_packed_as_it_was_before() -> None:
    """A block done as planned keeps its numbers: the rest of the best way is the best way of the
    rest, once what the days so far left of their rooms is counted.
    """
    rng = Random(3)
    for _ in range(60):
        sizes = [rng.randint(5, 80) for _ in range(6)]
        rooms = [rng.choice([40, 60, 90]) for _ in range(6)]
        if BlockDays(sizes, 1, rooms, STRETCH).fewest() is None:
            continue
        loads = BlockDays(sizes, 1, rooms, STRETCH).pack()
        left, rest = loads[0], list(sizes)
        while left and rest[0] <= left:
            left -= rest.pop(0)
        if left:
            rest[0] -= left
        after = BlockDays(rest, 1, rooms[1:], STRETCH, credit=rooms[0] - loads[0])
        assert after.fewest() is not None or not rest
        assert after.pack() == loads[1:]


def test_a_last_day_that_is_needed_for_its_minutes_alone_takes_a_question() -> None:
    # The second day could hold all 107, but the first three together have no minutes for them.
    rooms = [4_500, 540_000, 4_600, 540_000]
    days = BlockDays([107], 5_100, rooms, 0.15)
    assert days.fewest() == 4
    rest = days.least_on_last(4)
    assert rest >= 1
    shared = BlockDays([107], 5_100, [*rooms[:3], rest * 5_100], 0.15, strict=[False] * 3 + [True])
    assert sum(shared.pack()) == 107
