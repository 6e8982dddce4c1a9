"""The chooser under a budget against published instances with known optimum."""

import random

import numpy as np
import pytest
from scipy.optimize import Bounds, LinearConstraint, milp

from domain.knapsack import KnapsackItem, choose

# D. L. Kreher and D. R. Stinson, Combinatorial Algorithms (1998), and J. Burkardt's collection
# KNAPSACK_01 (Florida State University): capacity, weights, profits, optimum.
INSTANCES = {
    "P01": (165, "23 31 29 44 53 38 63 85 89 82", "92 57 49 68 60 43 67 84 87 72", 309),
    "P02": (26, "12 7 11 8 9", "24 13 23 15 16", 51),
    "P03": (190, "56 59 80 64 75 17", "50 50 64 46 50 5", 150),
    "P04": (50, "31 10 20 19 4 3 6", "70 20 39 37 7 5 10", 107),
    "P05": (104, "25 35 45 5 25 3 2 2", "350 400 450 20 70 8 5 5", 900),
    "P06": (170, "41 50 49 59 55 57 60", "442 525 511 593 546 564 617", 1735),
    "P07": (
        750, "70 73 77 80 82 87 90 94 98 106 110 113 115 118 120",
        "135 139 149 150 156 163 173 184 192 201 210 214 221 229 240", 1458,
    ),
    "X1": (67, "23 26 20 18 32 27 29 26 30 27", "505 352 458 220 354 414 498 545 473 543", 1270),
    "X2": (20, "10 9 4 2 1 20", "175 90 20 50 10 200", 275),
}  # fmt: skip


def _instance(name: str) -> tuple[list[list[KnapsackItem]], int, int]:
    capacity, weights, profits, optimum = INSTANCES[name]
    pairs = zip(profits.split(), weights.split(), strict=True)
    return (
        [[KnapsackItem(i, float(p), float(w))] for i, (p, w) in enumerate(pairs)],
        capacity,
        optimum,
    )


@pytest.mark.parametrize("name", INSTANCES)
def test_published_instances_are_solved_to_their_optimum(name):
    groups, capacity, optimum = _instance(name)

    found = choose(groups, capacity)

    assert sum(item.value for item in found) == optimum
    assert sum(item.weight for item in found) <= capacity


@pytest.mark.parametrize("name", INSTANCES)
def test_within_one_percent_is_within_one_percent(name):
    groups, capacity, optimum = _instance(name)

    assert sum(item.value for item in choose(groups, capacity, 0.01)) >= 0.99 * optimum


@pytest.mark.parametrize("seed", range(6))
def test_real_sizes_are_within_one_percent_of_the_integer_program(seed):
    # SciPy's HiGHS: exact optimum of a sweep over 400 questions in five to twenty-five minutes.
    rng = random.Random(seed)
    groups = [[KnapsackItem(i, rng.random() ** 2, rng.uniform(20, 110))] for i in range(400)]
    capacity = 300.0 * (seed % 5 + 1)
    values = np.array([group[0].value for group in groups])
    weights = np.array([group[0].weight for group in groups])
    exact = milp(
        -values, constraints=LinearConstraint(weights[None, :], ub=capacity),
        integrality=np.ones(400), bounds=Bounds(0, 1),
    )  # fmt: skip

    found = sum(item.value for item in choose(groups, capacity, 0.01))

    assert -0.99 * exact.fun - 1e-9 <= found <= -exact.fun + 1e-6
