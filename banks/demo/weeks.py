"""The demo's calendar: four months up to yesterday, with days off, missed days and an illness."""

from collections.abc import Iterator
from datetime import date, timedelta
from random import Random

from msgspec import Struct

from domain.plan.days import ONE_DAY, monday

HISTORY_DAYS = 120
"""How far back the history begins."""

REVISION_WEEKS = 10
"""Whole weeks since the plan began, the week of illness among them."""

ILL_WEEKS_AGO = 4
"""Which of them was lost to the illness; 1 is last week."""

_MISSED_DAYS = 6
_SATURDAY, _SUNDAY = 5, 6


class Workday(Struct, frozen=True):
    """A day on which the candidate worked. `week` counts the plan's worked weeks, from 0;
    None before the plan began.
    """

    day: date
    week: int | None

    @property
    def is_sweep(self) -> bool:
        """Whether it is the week's sweep day."""
        return self.day.weekday() == _SATURDAY


def plan_start(today: date) -> date:
    """The Monday on which the plan began."""
    return monday(today) - REVISION_WEEKS * 7 * ONE_DAY


def exam_day(today: date) -> date:
    """The exam: a Tuesday fourteen weeks on."""
    return monday(today) + (14 * 7 + 1) * ONE_DAY


def opening_day(today: date) -> date:
    """Next Monday: what is still without its first study can be revised from then on."""
    return monday(today) + 7 * ONE_DAY


def ill_days(today: date) -> list[date]:
    """The week of illness, Monday to Sunday."""
    first = monday(today) - ILL_WEEKS_AGO * 7 * ONE_DAY
    return [first + step * ONE_DAY for step in range(7)]


def workdays(today: date, rng: Random) -> list[Workday]:
    """The days worked on, oldest first: never a Sunday, none while ill, a few missed."""
    ill = set(ill_days(today))
    days = [day for day in _days(today) if day.weekday() != _SUNDAY and day not in ill]
    early = [
        day for day in days if day < monday(today) - 7 * ONE_DAY and day.weekday() != _SATURDAY
    ]
    missed = set(rng.sample(early, _MISSED_DAYS))
    return [Workday(day, _plan_week(day, today)) for day in days if day not in missed]


def _days(today: date) -> Iterator[date]:
    return (today - timedelta(days=back) for back in range(HISTORY_DAYS, 0, -1))


def _plan_week(day: date, today: date) -> int | None:
    weeks = (day - plan_start(today)).days // 7
    if weeks < 0:
        return None
    return weeks - (weeks > REVISION_WEEKS - ILL_WEEKS_AGO)
