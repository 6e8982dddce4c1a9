"""The fullest day is as low as can be, against exhaustive search over every division."""

from fractions import Fraction
from itertools import accumulate, combinations_with_replacement, pairwise

from hypothesis import given
from hypothesis import strategies as st

from domain.plan.partition import days_to_fill, spread

SIZES = st.lists(st.integers(1, 30), min_size=1, max_size=7)
ROOMS = st.lists(st.integers(1, 40), min_size=1, max_size=5)


def fullest(sizes, rooms, counts):
    loads, begin = [], 0
    for count in counts:
        loads.append(sum(sizes[begin : begin + count]))
        begin += count
    return max(Fraction(load, room) for load, room in zip(loads, rooms, strict=True))


def best_by_trying_all(sizes, rooms):
    found = []
    for cuts in combinations_with_replacement(range(len(sizes) + 1), len(rooms) - 1):
        edges = [0, *cuts, len(sizes)]
        counts = [edges[n + 1] - edges[n] for n in range(len(rooms))]
        found.append(fullest(sizes, rooms, counts))
    return min(found)


@given(SIZES, ROOMS)
def test_no_division_has_a_less_full_fullest_day(sizes, rooms):
    counts = spread(sizes, rooms)
    assert sum(counts) == len(sizes)
    assert fullest(sizes, rooms, counts) == best_by_trying_all(sizes, rooms)


def test_every_small_case_with_equal_days_is_optimal():
    for total in range(1, 9):
        for days in range(1, 5):
            for cuts in combinations_with_replacement(range(1, total), 3):
                edges = sorted({0, *cuts, total})
                sizes = [b - a for a, b in pairwise(edges)]
                counts = spread(sizes, [1] * days)
                assert fullest(sizes, [1] * days, counts) == best_by_trying_all(sizes, [1] * days)


@given(SIZES, ROOMS, st.sampled_from([0.0, 0.15, 0.5]))
def test_the_days_to_fill_are_the_fewest_that_hold_everything(sizes, rooms, stretch):
    def holds(days):
        one, all_together = Fraction(str(stretch)), Fraction(str(stretch)) / 3
        if sum(rooms[:days]) * (1 + all_together) < sum(sizes):
            return False
        return best_by_trying_all(sizes, rooms[:days]) <= 1 + one

    fewest = next((days for days in range(1, len(rooms) + 1) if holds(days)), None)
    assert days_to_fill(sizes, rooms, stretch) == fewest


def test_nothing_to_do_takes_no_days():
    assert days_to_fill([], [5, 5], 0.1) == 0


def test_the_table_of_optima_for_one_to_nine():
    # The table that S. Skiena prints in The Algorithm Design Manual, from memory and recomputed.
    table = [[1, 3, 6, 10, 15, 21, 28, 36, 45], [1, 2, 3, 6, 9, 11, 15, 21, 24],
             [1, 2, 3, 4, 6, 9, 11, 15, 17]]  # fmt: skip
    for days, row in enumerate(table, 1):
        for count, optimum in enumerate(row, 1):
            sizes = list(range(1, count + 1))
            ends = [0, *accumulate(spread(sizes, [1] * days))]
            assert max(sum(sizes[a:b]) for a, b in pairwise(ends)) == optimum
