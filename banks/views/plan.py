"""The whole plan as plain values: the days, the slack, what would make it fit, the finish."""

from collections.abc import Sequence
from datetime import date

from msgspec import Struct

from banks.library import Library
from banks.views.finish_forecast import finishes_of, weeks_so_far
from banks.views.workload import Workload
from domain.plan.finish import Finish
from domain.plan.inputs import DAYS_A_WEEK, PlanInputs
from domain.plan.remedies import Means, Remedy, remedies, without_a_week
from domain.plan.result import Plan


class Advice(Struct, frozen=True):
    """One thing that would make the plan fit, in words, and the inputs that do it."""

    words: str
    inputs: PlanInputs
    slack_days: int


class PlanView(Struct, frozen=True):
    """The plan of today. `titles` gives subjects and chapters by id.

    `without_a_week` is the slack that would be left if the next seven days were lost, None if the
    plan would not fit then; `share_done` the share of the planned minutes of revision that
    were done in the complete weeks so far (the last twelve), None before the first.
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

    @property
    def has_a_week(self) -> bool:
        """Whether more than a week is left, so that one could be lost."""
        return (self.plan.exam - self.today).days > DAYS_A_WEEK


def plan_view(library: Library) -> PlanView:
    """The plan and all that is said about it. Raises InputError when it is not set up."""
    return view_of(Workload(library))


def view_of(workload: Workload) -> PlanView:
    """The same from a workload that was read already."""
    inputs, today = workload.inputs, workload.today
    planner = workload.planner(today)
    plan = planner.plan(inputs)
    lost = without_a_week(planner, inputs)
    weeks = weeks_so_far(workload)
    found = () if plan.feasible else remedies(planner, inputs)
    return PlanView(
        today=today,
        inputs=inputs,
        plan=plan,
        titles=workload.titles,
        advice=tuple(_advice(remedy, inputs, workload.titles) for remedy in found),
        without_a_week=lost.slack_days if lost and lost.feasible else None,
        finishes=finishes_of(workload, plan, weeks),
        share_done=sum(done for done, _ in weeks) / sum(asked for _, asked in weeks)
        if weeks
        else None,
        seconds=planner.pace.default,
    )


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
