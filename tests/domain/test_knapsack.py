"""The chooser on small cases against every choice there is."""

from itertools import product

from hypothesis import given
from hypothesis import strategies as st

from domain.knapsack import KnapsackItem, choose

ITEMS = st.tuples(st.integers(0, 30), st.integers(1, 20))


@given(
    groups=st.lists(st.lists(ITEMS, min_size=1, max_size=3), max_size=6),
    capacity=st.integers(0, 60),
)
def test_small_cases_with_groups_equal_the_best_of_all_choices(groups, capacity):
    items = [
        [KnapsackItem(i, float(v), float(w)) for v, w in group] for i, group in enumerate(groups)
    ]
    best = max(
        sum(one.value for one in chosen if one)
        for chosen in product(*([None, *group] for group in items))
        if sum(one.weight for one in chosen if one) <= capacity
    )

    found = choose(items, capacity)

    assert sum(item.value for item in found) == best
    assert sum(item.weight for item in found) <= capacity
    assert len({item.place for item in found}) == len(found)
