"""Plans lived day by day: what stands still does, and feasible means finished."""

import os
from datetime import timedelta
from random import Random

import pytest
from msgspec.structs import replace

from domain.plan.block_layout import Closeness
from domain.plan.inputs import ONE_DAY, PlanInputs, Role
from domain.plan.scheduler import Problem
from tests.domain.plan.lives import PlanLife, random_inputs, random_subjects, standing
from tests.domain.plan.scenes import MONDAY, alike, usual

LOST_LIVES = 300 if os.environ.get("RESIEVE_EXPLORE") else 15


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


@pytest.mark.parametrize("days", [9, 10, 16, 17, 23])
def test_what_a_plan_with_just_room_has_given_up_stays_given_up(days: int) -> None:
    """Five blocks of a day each share so many weeks; the last ones don't move apart again."""
    inputs = usual(exam=MONDAY + timedelta(days=days), rounds=1, minutes=((15,),) * 5 + ((60,), ()))
    life, before = PlanLife(inputs, alike(5, questions=12, chapters=1), Random(1)), None
    for plan in life.mornings():
        assert plan.feasible
        now = standing(plan, life.today - ONE_DAY)
        assert before is None or now == before
        life.work(plan)
        before = standing(plan, life.today)
    assert before == {}


def test_a_new_week_says_nothing_where_the_one_before_was_full_to_its_last_day() -> None:
    """Five blocks of a day shared the first week; that the sixth began the next is no wish kept."""
    inputs = usual(exam=MONDAY + timedelta(days=10), rounds=1, minutes=((15,),) * 5 + ((60,), ()))
    life = PlanLife(inputs, alike(7, questions=12, chapters=1), Random(1))
    given_up = {}
    for plan in life.mornings():
        given_up[(life.today - MONDAY).days] = Problem(life.request()).given_up
        life.work(plan)
    assert given_up[4] is given_up[8] is Closeness.SHARED_WEEK


@pytest.mark.parametrize("subjects", [8, 14])
def test_nothing_moves_where_sweeps_are_more_than_sweep_days(subjects: int) -> None:
    """Which of them have a day of their own was once settled anew each morning."""
    inputs = usual(exam=MONDAY + timedelta(days=60), rounds=3, minutes=((30,),) * 5 + ((120,), ()))
    life, before = PlanLife(inputs, alike(subjects, questions=24, chapters=1), Random(1)), None
    for plan in life.mornings():
        assert plan.feasible
        now = standing(plan, life.today - ONE_DAY)
        assert before is None or now == before
        life.work(plan)
        before = standing(plan, life.today)
    assert before == {}


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


def test_a_lost_day_costs_at_most_a_day() -> None:
    """One day in eight lost whole, all revision days alike. At most one lost day in twenty-five
    costs more than one spare day, where the cuts of chapters fall badly.
    """
    lost = dearer = 0
    for seed in range(LOST_LIVES):
        rng = Random(seed)
        inputs = with_equal_days(random_inputs(rng), rng.choice((45, 60, 90)))
        life = PlanLife(inputs, random_subjects(rng, most=8), rng)
        spare_before, is_lost = 0, False
        for plan in life.mornings():
            if is_lost:
                lost += 1
                dearer += plan.slack_days < spare_before - 1
            spare_before = plan.slack_days
            has_visits = any(entry.is_visit for entry in plan.on(life.today))
            is_lost = has_visits and rng.random() < 0.125
            if not is_lost:
                life.work(plan)
    assert lost > LOST_LIVES
    assert 25 * dearer <= lost


def with_equal_days(inputs: PlanInputs, minutes: int) -> PlanInputs:
    """The same week with revision days all alike, long sweep days and no days off."""
    lengths = {Role.REVISION: (minutes,), Role.SWEEP: (240,), Role.REST: ()}
    return replace(inputs, minutes=tuple(lengths[role] for role in inputs.roles), off=())
