"""The calendar the plan is laid on: which days there are, what they are for, how long they are."""

from collections.abc import Iterator
from datetime import date, timedelta
from enum import StrEnum

from msgspec import Struct

from domain.plan.inputs import PlanInputs, Role

ONE_DAY = timedelta(days=1)


class Use(StrEnum):
    """What a day of the plan is used for."""

    REVISION = "revision"
    SWEEP = "sweep"
    SLACK = "slack"
    REST = "rest"
    OFF = "off"
    FINAL = "final"


class OpenDay(Struct, frozen=True):
    """A calendar day before anything is planned on it; `parts` are minutes per part of the day."""

    day: date
    use: Use
    parts: tuple[int, ...]

    @property
    def minutes(self) -> int:
        """All the day's minutes."""
        return sum(self.parts)


def open_days(inputs: PlanInputs, first: date, end: date) -> Iterator[OpenDay]:
    """Every day from `first` up to, not including, `end`. A day without minutes is a rest."""
    off = frozenset(inputs.off)
    changed = {change.day: change.minutes for change in inputs.changed_days}
    for step in range((end - first).days):
        day = first + step * ONE_DAY
        if day in off:
            yield OpenDay(day, Use.OFF, ())
            continue
        role = inputs.roles[day.weekday()]
        parts = changed.get(day, inputs.minutes[day.weekday()])
        if role is Role.REST or not sum(parts):
            yield OpenDay(day, Use.REST, ())
        else:
            yield OpenDay(day, Use.SWEEP if role is Role.SWEEP else Use.REVISION, parts)


def monday(day: date) -> date:
    """The Monday of the day's ISO 8601 week."""
    return day - day.weekday() * ONE_DAY


def week_begin(inputs: PlanInputs, day: date) -> date:
    """The first day of the day's week: the seven days after the pattern's last rest day."""
    rests = [weekday for weekday, role in enumerate(inputs.roles) if role is Role.REST]
    begin = (rests[-1] + 1) % 7 if rests else 0
    return day - (day.weekday() - begin) % 7 * ONE_DAY
