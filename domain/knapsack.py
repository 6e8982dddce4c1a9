"""Choosing the most valuable things that fit: the 0/1 knapsack problem, at most one a group.

Large choices: the order by value a weight, which the linear relaxation bounds from above
(G. B. Dantzig, "Discrete-variable extremum problems", Operations Research 5 (1957)). Where that
is not close enough: the list of undominated choices (G. L. Nemhauser and Z. Ullmann, Management
Science 15 (1969)), pruned by the same bound.
"""

from collections.abc import Sequence
from operator import attrgetter

from msgspec import Struct


class KnapsackItem(Struct, frozen=True, gc=False):
    """Something to choose: `place` says which, `weight` > 0 is what it takes."""

    place: int
    value: float
    weight: float


class _Increment(Struct, frozen=True, gc=False):
    """Taking `item` of a group instead of `instead` (or of nothing)."""

    group: int
    item: KnapsackItem
    instead: KnapsackItem | None
    value: float
    weight: float


class _Choice(Struct, frozen=True, gc=False):
    """An undominated choice: its totals, and the items as a chain."""

    weight: float
    value: float
    last: KnapsackItem | None = None
    before: "_Choice | None" = None


Group = Sequence[KnapsackItem]
_worth = attrgetter("value")


def choose(groups: Sequence[Group], capacity: float, tolerance: float = 0.0) -> list[KnapsackItem]:
    """Items, at most one a group, of most value within the capacity.

    The value is at least (1 − tolerance) of the optimum; with 0 it is the optimum. Items of equal
    value a weight come in the order given. Values and weights must be > 0 to be taken.
    """
    groups = [fitting for group in groups if (fitting := _fitting(group, capacity))]
    increments = sorted(_increments(groups), key=lambda one: -one.value / one.weight)
    picks, bound = _greedy(increments, capacity)
    value = sum(map(_worth, picks))
    if value >= (1 - tolerance) * bound * (1 - 1e-12):
        return picks
    better = _search(groups, increments, capacity, value, tolerance)
    return picks if better is None else better


def _fitting(group: Group, capacity: float) -> list[KnapsackItem]:
    return [item for item in group if item.value > 0 and 0 < item.weight <= capacity]


def _increments(groups: Sequence[Group]) -> list[_Increment]:
    """The steps along each group's upper hull: what the relaxation takes, best step first."""
    steps: list[_Increment] = []
    for number, group in enumerate(groups):
        if len(group) == 1:
            item = group[0]
            steps.append(_Increment(number, item, None, item.value, item.weight))
        else:
            steps += _hull(number, group)
    return steps


def _hull(number: int, group: Group) -> list[_Increment]:
    steps: list[_Increment] = []
    at: KnapsackItem | None = None
    while True:
        weight, value = (at.weight, at.value) if at else (0.0, 0.0)
        further = [item for item in group if item.weight > weight and item.value > value]
        if not further:
            return steps
        best = max(further, key=lambda item: (item.value - value) / (item.weight - weight))
        steps.append(_Increment(number, best, at, best.value - value, best.weight - weight))
        at = best


def _greedy(increments: list[_Increment], capacity: float) -> tuple[list[KnapsackItem], float]:
    """What taking step after step while it fits gives, and the relaxation's upper bound."""
    taken: dict[int, KnapsackItem] = {}
    left, bound, value = capacity, None, 0.0
    for step in increments:
        if step.weight <= left and taken.get(step.group) is step.instead:
            taken[step.group] = step.item
            left -= step.weight
            value += step.value
        elif bound is None:
            bound = value + left * step.value / step.weight
    return list(taken.values()), value if bound is None else bound


def _search(
    groups: Sequence[Group],
    increments: list[_Increment],
    capacity: float,
    least: float,
    tolerance: float,
) -> list[KnapsackItem] | None:
    """A choice worth more than `least`, the best within the tolerance; None if there is none."""
    order = list(dict.fromkeys(step.group for step in increments))
    rates = _best_rates(increments, order)
    choices, best, goal = [_Choice(0.0, 0.0)], None, least / (1 - tolerance)
    for group, rate in zip(order, rates, strict=True):
        alive = [one for one in choices if one.value + (capacity - one.weight) * rate > goal]
        if not alive:
            break
        choices = _undominated(alive, groups[group], capacity)
        top = max(choices, key=_worth)
        if top.value > least:
            best, least = top, top.value
            goal = max(goal, least / (1 - tolerance))
    return None if best is None else _items(best)


def _best_rates(increments: list[_Increment], order: list[int]) -> list[float]:
    """For each group in order, the best value a weight that it or any later group offers."""
    first: dict[int, float] = {}
    for step in increments:
        first.setdefault(step.group, step.value / step.weight)
    return [first[group] for group in order]


def _undominated(choices: list[_Choice], group: Group, capacity: float) -> list[_Choice]:
    """All choices with and without one of the group, less those that another one beats."""
    grown = list(choices)
    for item in group:
        room = capacity - item.weight
        grown += [
            _Choice(one.weight + item.weight, one.value + item.value, item, one)
            for one in choices
            if one.weight <= room
        ]
    grown.sort(key=lambda one: (one.weight, -one.value))
    kept: list[_Choice] = []
    most = -1.0
    for one in grown:
        if one.value > most:
            kept.append(one)
            most = one.value
    return kept


def _items(choice: _Choice) -> list[KnapsackItem]:
    found: list[KnapsackItem] = []
    at: _Choice | None = choice
    while at is not None and at.last is not None:
        found.append(at.last)
        at = at.before
    return found[::-1]
