"""Plans lived day by day: what stands still does, and feasible means finished."""

import os
from datetime import date, timedelta
from math import ceil
from random import Random

import pytest
from msgspec.structs import replace

from domain.plan.block_layout import Closeness
from domain.plan.inputs import ONE_DAY, PlanInputs, Role
from domain.plan.problem import Problem
from domain.plan.study_plan import EntryKind, StudyPlan
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


def test_a_new_week_says_nothing_where_the_day_left_of_the_old_one_is_too_short() -> None:
    """Blocks of ten minutes share weeks whose Fridays have eight."""
    minutes = ((15,),) * 4 + ((8,), (60,), ())
    inputs = usual(exam=MONDAY + timedelta(days=11), rounds=1, minutes=minutes)
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


def test_a_block_whose_first_days_were_lost_takes_the_sweep_day_and_the_next_follows_at_once() -> (
    None
):
    """Two blocks of six days from a Thursday on, and three days lost: the first was to end in its
    second week, and is not set out over ten days anew because it had not begun.
    """
    inputs = usual(start=MONDAY + timedelta(days=3), rounds=1)
    life, before = PlanLife(inputs, alike(2, questions=630), Random(1)), None
    monday = MONDAY + timedelta(days=7)
    for plan in life.mornings():
        if life.today == MONDAY + timedelta(days=5):
            assert any(entry.is_visit for entry in plan.on(life.today)), "the sweep day is idle"
        if life.today < monday:
            continue
        now = standing(plan, life.today - ONE_DAY)
        if before is None:
            first, second = (visit for visit in plan.visits if not visit.visit.sweep)
            assert (first.first, first.last) == (monday, monday + timedelta(days=5))
            assert second.first == monday + timedelta(days=7)
        assert before is None or now == before
        life.work(plan)
        before = standing(plan, life.today)
    assert before == {}


def test_a_lost_day_costs_no_more_days_than_it_held() -> None:
    """One day in eight lost whole, all revision days alike. What a day held counts as a day for
    its sweep, and one for each revision day that its blocks fill: a sweep day may hold several,
    once it took lost work.

    At most one lost day in a hundred costs more: where a plan just has room, so that its blocks
    share weeks, and where a block has days left in its own week and takes one of them before a
    chapter is cut once more.
    """
    lost = dearer = 0
    for seed in range(LOST_LIVES):
        rng = Random(seed)
        inputs, minutes = random_inputs(rng), rng.choice((45, 60, 90))
        life = PlanLife(with_equal_days(inputs, minutes), random_subjects(rng, most=8), rng)
        spare_before, is_lost, held = 0, False, 0
        for plan in life.mornings():
            if is_lost:
                lost += 1
                dearer += plan.slack_days < spare_before - held
            spare_before, held = plan.slack_days, days_held(plan, life.today, minutes)
            is_lost = held > 0 and rng.random() < 0.125
            if not is_lost:
                life.work(plan)
    assert lost > LOST_LIVES
    assert 100 * dearer <= lost


def days_held(plan: StudyPlan, day: date, minutes: int) -> int:
    """How many days, of so many minutes where they are for revision, the day's work is worth."""
    kinds = [entry.kind for entry in plan.on(day)]
    on_blocks = sum(entry.minutes for entry in plan.on(day) if entry.kind is EntryKind.BLOCK)
    most = minutes * (1 + PlanInputs().stretch)
    return (EntryKind.SWEEP in kinds) + ceil(on_blocks / most - 1e-6)


def with_equal_days(inputs: PlanInputs, minutes: int) -> PlanInputs:
    """The same week with revision days all alike, long sweep days and no days off."""
    lengths = {Role.REVISION: (minutes,), Role.SWEEP: (240,), Role.REST: ()}
    return replace(inputs, minutes=tuple(lengths[role] for role in inputs.roles), off=())
