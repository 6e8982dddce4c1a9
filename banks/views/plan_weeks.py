"""The plan week by week: the rows of the calendar."""

from collections.abc import Sequence
from datetime import date
from itertools import groupby

from msgspec import Struct

from domain.plan.days import ONE_DAY, Use, monday
from domain.plan.inputs import DAYS_A_WEEK, PlanInputs
from domain.plan.result import Plan, PlannedDay


class Turn(Struct, frozen=True):
    """A subject's turn in a week: its id, title, questions, and whether it is pinned there."""

    subject: str
    title: str
    questions: int
    pinned: bool = False


class PlanWeek(Struct, frozen=True):
    """One week. `days` run from Monday to Sunday, None outside the plan; `exam` is the weekday
    of the exam (0 for Monday) where it lies in this week. `rounds` are those worked on in it.
    """

    monday: date
    rounds: tuple[int, ...]
    days: tuple[PlannedDay | None, ...]
    blocks: tuple[Turn, ...]
    sweeps: tuple[Turn, ...]
    exam: int | None = None

    def day(self, weekday: int) -> date:
        """The date of a weekday."""
        return self.monday + weekday * ONE_DAY

    def subject_on(self, weekday: int) -> str:
        """The id of the day's subject, else of the week's block, else ""."""
        day = self.days[weekday]
        if day and day.subject:
            return day.subject
        return self.blocks[0].subject if self.blocks else ""


def plan_weeks(plan: Plan, inputs: PlanInputs, titles: dict[str, str]) -> list[PlanWeek]:
    """Every week from the plan's first day to the exam's."""
    pins = {(pin.subject, pin.week) for pin in inputs.pins}
    weeks = []
    begin = monday(plan.first)
    while begin <= monday(plan.exam):
        days = tuple(plan.on(begin + n * ONE_DAY) for n in range(DAYS_A_WEEK))
        weeks.append(_week(begin, days, plan, pins, titles))
        begin += DAYS_A_WEEK * ONE_DAY
    return weeks


def _week(
    begin: date,
    days: tuple[PlannedDay | None, ...],
    plan: Plan,
    pins: set[tuple[str, date]],
    titles: dict[str, str],
) -> PlanWeek:
    there = [day for day in days if day is not None]
    offset = (plan.exam - begin).days
    return PlanWeek(
        begin,
        tuple(sorted({day.round for day in there if day.pieces})),
        days,
        _turns(there, Use.REVISION, begin, pins, titles),
        _turns(there, Use.SWEEP, begin, pins, titles),
        offset if 0 <= offset < DAYS_A_WEEK else None,
    )


def _turns(
    days: Sequence[PlannedDay],
    use: Use,
    begin: date,
    pins: set[tuple[str, date]],
    titles: dict[str, str],
) -> tuple[Turn, ...]:
    pieces = [piece for day in days if day.use is use for piece in day.pieces]
    found = []
    for subject, own in groupby(pieces, key=lambda piece: piece.subject):
        pinned = use is Use.REVISION and (subject, begin) in pins
        questions = sum(piece.questions for piece in own)
        found.append(Turn(subject, titles[subject], questions, pinned))
    return tuple(found)


def week_of(weeks: Sequence[PlanWeek], subject: str) -> int:
    """The place of the first week with a block of the subject, else with its sweep, else 0."""
    for turns in ([week.blocks for week in weeks], [week.sweeps for week in weeks]):
        for place, there in enumerate(turns):
            if any(turn.subject == subject for turn in there):
                return place
    return 0
