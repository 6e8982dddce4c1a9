"""The division of chapters over days against printed examples and an integer program.

Printed: S. Skiena, The Algorithm Design Manual (2nd ed. section 8.5, 3rd ed. section 10.7, Fig.
10.9); the eleven-number lists are public test values of the linear partition problem; the short
lists are the widely printed exercise "minimise the largest contiguous sum".
General reference: SciPy's HiGHS (`scipy.optimize.milp`).
"""

from itertools import pairwise
from random import Random

import numpy as np
import pytest
from scipy.optimize import Bounds, LinearConstraint, milp

from domain.plan.partition import spread

ELEVEN = [9, 2, 6, 3, 8, 5, 8, 1, 7, 3, 4]


def sums(sizes, counts):
    edges = np.cumsum([0, *counts])
    return [sum(sizes[a:b]) for a, b in pairwise(edges)]


@pytest.mark.parametrize(
    ("sizes", "days", "largest"),
    [
        (list(range(1, 10)), 3, 17),
        (list(range(100, 1000, 100)), 3, 1700),
        ([1] * 9, 3, 3),
        (ELEVEN, 3, 21),
        (ELEVEN, 4, 17),
        ([7, 2, 5, 10, 8], 2, 18),
        ([1, 2, 3, 4, 5], 2, 9),
        ([1, 4, 4], 3, 4),
        ([2, 4, 7, 3, 5], 3, 8),
        ([2, 4, 10, 1, 5], 2, 16),
    ],
)
def test_printed_examples_of_the_linear_partition_problem(sizes, days, largest):
    assert max(sums(sizes, spread(sizes, [1] * days))) == largest


def test_the_printed_division_of_one_to_nine_into_three_parts():
    assert spread(list(range(1, 10)), [1] * 3) == [5, 2, 2]
    assert spread(list(range(100, 1000, 100)), [1] * 3) == [5, 2, 2]


def integer_program_optimum(sizes, rooms):
    """The least largest fill: item i on day d or before it never follows a later item."""
    items, days = len(sizes), len(rooms)
    upto = items * days  # x[i, d] = 1: item i stands on day d or earlier; the last variable: fill
    cost = np.zeros(upto + 1)
    cost[-1] = 1
    rows, low, high = [], [], []

    def add(entries, least, most):
        row = np.zeros(upto + 1)
        for place, value in entries:
            row[place] += value
        rows.append(row)
        low.append(least)
        high.append(most)

    for item in range(items):
        add([(item * days + days - 1, 1)], 1, 1)
        for day in range(days - 1):
            add([(item * days + day, 1), (item * days + day + 1, -1)], -1, 0)
        if item:
            for day in range(days):
                add([(item * days + day, 1), ((item - 1) * days + day, -1)], -1, 0)
    for day in range(days):
        load = [(item * days + day, size) for item, size in enumerate(sizes)]
        before = [(item * days + day - 1, -size) for item, size in enumerate(sizes)] if day else []
        add([*load, *before, (upto, -rooms[day])], -np.inf, 0)
    kind = np.ones(upto + 1)
    kind[-1] = 0
    bounds = Bounds(np.zeros(upto + 1), np.append(np.ones(upto), np.inf))
    found = milp(
        cost, constraints=LinearConstraint(np.array(rows), low, high), integrality=kind,
        bounds=bounds, options={"mip_rel_gap": 0},
    )  # fmt: skip
    assert found.status == 0
    return found.fun


@pytest.mark.slow
def test_two_hundred_subjects_of_real_size_reach_the_integer_programs_optimum():
    rng = Random(20270104)
    for _ in range(200):
        sizes = [rng.randint(20, 110) for _ in range(rng.randint(6, 14))]
        rooms = [rng.choice([60, 90, 120, 150]) for _ in range(rng.randint(2, 7))]
        loads = sums(sizes, spread(sizes, rooms))
        ours = max(load / room for load, room in zip(loads, rooms, strict=True))
        assert ours == pytest.approx(integer_program_optimum(sizes, rooms), abs=1e-6)
