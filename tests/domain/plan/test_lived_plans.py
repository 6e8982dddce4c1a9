"""Plans lived day by day: what stands still does, and feasible means finished."""

from random import Random

import pytest

from domain.plan.days import ONE_DAY
from tests.domain.plan.lives import PlanLife, random_inputs, random_subjects, standing


def life_of(seed: int) -> PlanLife:
    rng = Random(seed)
    inputs = random_inputs(rng)
    return PlanLife(inputs, random_subjects(rng, most=5), rng)


@pytest.mark.parametrize("seed", range(12))
def test_whoever_does_each_visit_on_its_day_sees_nothing_move(seed: int) -> None:
    life, before = life_of(seed), None
    finished = False
    for plan in life.mornings():
        assert plan.feasible
        now = standing(plan, life.today - ONE_DAY)
        assert before is None or now == before
        life.work(plan)
        before = standing(plan, life.today)
        finished = not any(plan.coming())
    assert finished
    for taken in life.put_up.values():
        assert len(taken) == len(set(taken))


@pytest.mark.parametrize("seed", range(12))
def test_feasible_means_finished_for_those_who_miss_days(seed: int) -> None:
    life, rng = life_of(seed), Random(seed)
    finished = False
    for plan in life.mornings():
        assert plan.feasible
        life.work(plan, share=rng.choice((0.0, 0.5, 1.0, 1.0, 1.0, 1.0)))
        finished = not any(plan.coming())
    assert finished
    for taken in life.put_up.values():
        assert len(taken) == len(set(taken))
