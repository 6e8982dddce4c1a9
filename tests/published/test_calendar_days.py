"""The plan's calendar against NumPy's business-day functions and ISO 8601 week dates.

NumPy reference, docstring examples of `busday_count` and `is_busday`; ISO 8601 week dates as
listed with the standard (2008-12-29 = 2009-W01-1, 2010-01-03 = 2009-W53-7, 2005-01-01 =
2004-W53-6).
"""

from datetime import date, timedelta
from random import Random

import numpy as np
import pytest

from domain.plan.inputs import PlanInputs, Role, Use, monday, open_days
from domain.plan.parsing import WEEKDAYS
from tests.domain.plan.scenes import alike, planned


def test_monday_to_saturday_from_january_to_july_are_156_study_days():
    inputs = PlanInputs(exam=date(2027, 7, 5), start=date(2027, 1, 4), last_week=False)
    counted = np.busday_count("2027-01-04", "2027-07-05", weekmask="1111110")
    plan = planned(inputs, alike(3), date(2027, 1, 4))
    assert plan.study_days == counted == 156


@pytest.mark.parametrize(
    ("begin", "end", "mask", "expected"),
    [
        ("2011-01-01", "2011-02-01", "1111100", 21),
        ("2011-01-01", "2012-01-01", "1111100", 260),
        ("2011-01-01", "2012-01-01", "0000010", 53),
    ],
)
def test_printed_counts_of_business_days(begin, end, mask, expected):
    roles = tuple(Role.REVISION if day == "1" else Role.REST for day in mask)
    inputs = PlanInputs(roles=roles, minutes=((60,),) * 7)
    days = open_days(inputs, date.fromisoformat(begin), date.fromisoformat(end))
    assert sum(day.use is Use.REVISION for day in days) == expected


def test_random_weeks_and_days_off_count_as_numpy_counts_them():
    rng = Random(5545)
    for _ in range(100):
        begin = date(2026, 1, 1) + timedelta(days=rng.randrange(2000))
        end = begin + timedelta(days=rng.randrange(1, 400))
        working = [rng.random() < 0.7 for _ in WEEKDAYS]
        if not any(working):
            continue
        off = tuple(begin + timedelta(days=rng.randrange(400)) for _ in range(rng.randrange(30)))
        roles = tuple(Role.REVISION if works else Role.REST for works in working)
        inputs = PlanInputs(roles=roles, minutes=((60,),) * 7, off=off)
        days = [day for day in open_days(inputs, begin, end) if day.use is Use.REVISION]
        assert len(days) == np.busday_count(begin, end, weekmask=working, holidays=list(off))
        assert all(np.is_busday(day.day, weekmask=working, holidays=list(off)) for day in days)


@pytest.mark.parametrize(
    ("day", "week_begins"),
    [
        (date(2008, 12, 29), date(2008, 12, 29)),
        (date(2010, 1, 3), date(2009, 12, 28)),
        (date(2005, 1, 1), date(2004, 12, 27)),
        (date(2007, 12, 31), date(2007, 12, 31)),
    ],
)
def test_weeks_are_those_of_iso_8601(day, week_begins):
    assert monday(day) == week_begins
    assert monday(day) == date.fromisocalendar(*day.isocalendar()[:2], 1)
