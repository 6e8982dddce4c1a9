"""The candidate's changes: move, day off, minutes, pin; each undone by its opposite."""

from datetime import timedelta

import pytest

from domain.plan.edits import day_minutes, day_off, moved, pinned, settled
from domain.plan.planner import make_plan
from tests.domain.plan.scenes import MONDAY, alike, usual

SUBJECTS = alike(8)
PLAN = make_plan(usual(), SUBJECTS, today=MONDAY)
BASE = settled(usual(), PLAN)


def block(plan, name):
    return next(p for p in plan.placed if p.visit.subject == name and not p.visit.sweep)


def again(inputs):
    return make_plan(inputs, SUBJECTS, today=MONDAY)


def test_a_subject_moved_earlier_takes_its_block_earlier():
    plan = again(moved(BASE, PLAN.order, "s03", -2))
    assert block(plan, "s03").first == MONDAY
    assert again(moved(moved(BASE, PLAN.order, "s03", -2), plan.order, "s03", 2)) == PLAN


def test_moving_past_the_ends_stops_there():
    assert moved(BASE, PLAN.order, "s02", -99).order[0] == "s02"
    assert moved(BASE, PLAN.order, "s02", 99).order[-1] == "s02"


def test_a_day_marked_off_twice_is_as_before():
    once = day_off(BASE, MONDAY)
    assert again(once).days[0].pieces == ()
    assert day_off(once, MONDAY) == BASE


def test_minutes_of_one_day_can_be_set_and_given_back():
    once = day_minutes(BASE, MONDAY, (10,))
    assert again(once).days[0].minutes <= 11.5
    assert day_minutes(once, MONDAY, None) == BASE


@pytest.mark.parametrize(("name", "weeks"), [("s03", 0), ("s03", 6), ("s07", 1), ("s07", 5)])
def test_a_pinned_subject_begins_its_block_in_that_week(name, weeks):
    week = MONDAY + timedelta(days=7 * weeks)
    plan = again(pinned(BASE, PLAN, name, week + timedelta(days=3)))
    assert plan.feasible
    assert block(plan, name).first == week


@pytest.mark.parametrize(("name", "weeks"), [("s03", 6), ("s07", 1)])
def test_a_pinned_subject_is_swept_in_the_other_round(name, weeks):
    plan = again(pinned(BASE, PLAN, name, MONDAY + timedelta(days=7 * weeks)))
    own = [p.visit for p in plan.placed if p.visit.subject == name]
    assert sorted(visit.round for visit in own) == [1, 2]


def test_pinning_a_second_time_frees_the_subject():
    once = pinned(BASE, PLAN, "s03", MONDAY)
    assert pinned(once, again(once), "s03", MONDAY).pins == ()


def test_a_long_block_does_not_run_into_a_pinned_week():
    subjects = [*alike(3, questions=1200, chapters=20), *alike(8)[3:]]
    plan = make_plan(usual(), subjects, today=MONDAY)
    week = MONDAY + timedelta(days=7)
    plan = make_plan(pinned(usual(), plan, "s05", week), subjects, today=MONDAY)
    assert block(plan, "s05").first == week
