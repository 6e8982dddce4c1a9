"""The difference between two plans, before and after."""

from datetime import timedelta

from domain.plan.changes import compare
from domain.plan.edits import day_off
from domain.plan.load import Done
from domain.plan.planner import make_plan
from tests.domain.plan.scenes import MONDAY, alike, usual

SUBJECTS = alike(4)
INPUTS = usual(order=tuple(subject.id for subject in SUBJECTS))
PLAN = make_plan(INPUTS, SUBJECTS, today=MONDAY)


def test_a_plan_against_itself_changes_nothing():
    assert compare(PLAN, PLAN).is_none


def test_a_day_off_shifts_what_comes_after_and_costs_a_day():
    after = make_plan(day_off(INPUTS, MONDAY), SUBJECTS, today=MONDAY)
    change = compare(PLAN, after)
    assert change.slack_days == (PLAN.slack_days, PLAN.slack_days - 1)
    first = next(shift for shift in change.shifts if shift.visit.subject == "s01")
    assert first.days == 3  # from Friday to Monday
    assert first.before[1] == MONDAY + timedelta(days=4)


def test_what_found_no_day_any_more_has_no_after():
    short = make_plan(usual(exam=MONDAY + timedelta(days=12)), SUBJECTS, today=MONDAY)
    change = compare(PLAN, short)
    assert change.feasible == (True, False)
    lost = [shift for shift in change.shifts if shift.after is None]
    assert lost
    assert all(shift.days is None for shift in lost)


def test_a_visit_that_was_finished_in_between_is_no_change():
    done = Done(blocks={"s01": 1}, round_days={1: (MONDAY, MONDAY + timedelta(days=4))})
    later = MONDAY + timedelta(days=5)
    after = make_plan(INPUTS, SUBJECTS, done, today=later)
    assert "s01" not in {s.visit.subject for s in compare(PLAN, after).shifts if not s.visit.sweep}
