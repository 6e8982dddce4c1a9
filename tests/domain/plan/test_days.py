"""The calendar under the plan: roles, days off, single days that differ."""

from datetime import date, timedelta

from domain.plan.inputs import DayMinutes, Use, monday, open_days
from tests.domain.plan.scenes import MONDAY, usual

WEEK = MONDAY + timedelta(days=7)


def uses(**changes):
    return [day.use for day in open_days(usual(**changes), MONDAY, WEEK)]


def test_the_usual_week_is_five_revision_days_a_sweep_and_a_rest():
    assert uses() == [Use.REVISION] * 5 + [Use.SWEEP, Use.REST]


def test_a_day_off_is_off_whatever_its_role():
    assert uses(off=(MONDAY, WEEK - timedelta(days=1)))[0] is Use.OFF
    assert uses(off=(MONDAY, WEEK - timedelta(days=1)))[6] is Use.OFF


def test_a_working_day_without_minutes_is_a_rest():
    assert uses(changed_days=(DayMinutes(MONDAY, ()),))[0] is Use.REST


def test_a_single_day_may_have_other_minutes():
    changed = usual(changed_days=(DayMinutes(MONDAY, (20,)),))
    assert next(open_days(changed, MONDAY, WEEK)).minutes == 20


def test_the_monday_of_a_week_goes_back_over_the_new_year():
    assert monday(date(2027, 1, 3)) == date(2026, 12, 28)
