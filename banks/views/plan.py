"""The whole plan as plain values: the days, the slack, what would make it fit, the finish."""

from collections.abc import Sequence
from datetime import date, timedelta

from msgspec import Struct

from banks.library import Library
from banks.views.workload import Workload
from domain.plan.days import Use, open_days
from domain.plan.finish import Finish, Work, finishes, weekly_shares
from domain.plan.inputs import PlanInputs
from domain.plan.remedies import Means, Remedy, remedies, without_a_week
from domain.plan.result import Plan

LOOKED_AHEAD = timedelta(days=3 * 366)
"""How far ahead a finish day is looked for."""


class Advice(Struct, frozen=True):
    """One thing that would make the plan fit, in words, and the inputs that do it."""

    words: str
    inputs: PlanInputs
    slack_days: int


class PlanView(Struct, frozen=True):
    """The plan of today. `titles` gives subjects and chapters by id.

    `without_a_week` is the slack that would be left if the next seven days were lost, None if the
    plan would not fit then; `share_done` the share of the minutes set aside that were used in the
    complete weeks so far, None before the first.
    """

    today: date
    inputs: PlanInputs
    plan: Plan
    titles: dict[str, str]
    advice: tuple[Advice, ...]
    without_a_week: int | None
    finishes: tuple[Finish, ...]
    share_done: float | None
    seconds: float


def plan_view(library: Library) -> PlanView:
    """The plan and all that is said about it. Raises InputError when it is not set up."""
    return view_of(Workload(library))


def view_of(workload: Workload) -> PlanView:
    """The same from a workload that was read already."""
    inputs, today = workload.inputs, workload.today
    planner = workload.planner(today)
    plan = planner.plan(inputs)
    lost = without_a_week(planner, inputs)
    shares = _shares(workload)
    found = () if plan.feasible else remedies(planner, inputs)
    return PlanView(
        today=today,
        inputs=inputs,
        plan=plan,
        titles=workload.titles,
        advice=tuple(_advice(remedy, inputs, workload.titles) for remedy in found),
        without_a_week=lost.slack_days if lost.feasible else None,
        finishes=tuple(finishes(shares, _works(plan), _ahead(inputs, today))),
        share_done=sum(shares) / len(shares) if shares else None,
        seconds=planner.pace.default,
    )


def _shares(workload: Workload) -> list[float]:
    inputs = workload.inputs
    days = open_days(inputs, inputs.start or workload.today, workload.today)
    set_aside = [(day.day, _revision_minutes(day.use, day.minutes)) for day in days]
    return weekly_shares(workload.minutes_done(), set_aside, workload.today)


def _ahead(inputs: PlanInputs, today: date) -> list[tuple[date, float]]:
    days = open_days(inputs, today, today + LOOKED_AHEAD)
    return [(day.day, _revision_minutes(day.use, day.minutes)) for day in days]


def _revision_minutes(use: Use, minutes: int) -> float:
    return float(minutes) if use is Use.REVISION else 0.0


def _works(plan: Plan) -> list[Work]:
    """The revision left up to the end of each round that is not finished."""
    works = []
    for span in plan.rounds:
        left = sum(
            day.minutes for day in plan.days if day.use is Use.REVISION and day.round <= span.round
        )
        left += sum(
            unplaced.minutes
            for unplaced in plan.unplaced
            if unplaced.visit.round <= span.round and not unplaced.visit.sweep
        )
        blocks = [
            placed.last
            for placed in plan.placed
            if placed.visit.round == span.round and not placed.visit.sweep
        ]
        if left and span.last_day and blocks:
            works.append(Work(span.round, left, max(0, (span.last_day - max(blocks)).days)))
    return works


def _advice(remedy: Remedy, before: PlanInputs, titles: dict[str, str]) -> Advice:
    return Advice(_words(remedy, before, titles), remedy.inputs, remedy.plan.slack_days)


def _words(remedy: Remedy, before: PlanInputs, titles: dict[str, str]) -> str:
    match remedy.means:
        case Means.ROUNDS:
            return f"{_count(remedy.amount, 'round')} instead of {before.rounds}"
        case Means.SWEEP_ONLY:
            return f"Only sweep {_named(remedy.inputs.sweep_only, titles)}"
        case Means.EARLIER:
            return f"Start {_count(remedy.amount, 'day')} earlier, on {remedy.inputs.start}"
    more = f"{remedy.amount} minutes more on every working day"
    if remedy.inputs.rounds == before.rounds:
        return more
    return f"{_count(remedy.inputs.rounds, 'round')} instead of {before.rounds} and {more}"


def _named(subjects: Sequence[str], titles: dict[str, str]) -> str:
    """Up to three subjects by title, more of them by their number."""
    if len(subjects) <= 3:
        return ", ".join(titles[subject] for subject in subjects)
    return f"the {len(subjects)} strongest subjects"


def _count(number: int, word: str) -> str:
    return f"{number} {word}" + ("" if number == 1 else "s")
