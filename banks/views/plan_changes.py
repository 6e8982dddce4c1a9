"""What a plan changes against yesterday's, in kind words."""

from datetime import date

from banks.views.workload import Workload
from domain.errors import InputError
from domain.plan.changes import Change, compare
from domain.plan.days import Use
from domain.plan.result import Plan


def changed_since(workload: Workload, day: date, plan: Plan) -> tuple[str, ...]:
    """What is different from the plan as it stood on the morning of an earlier day."""
    if day < (workload.inputs.start or workload.today):
        return ()
    try:
        before = workload.planner(day).plan(workload.inputs)
    except InputError:
        return ()
    return tuple(_sentences(compare(before, plan), before, day))


def _sentences(change: Change, before: Plan, day: date) -> list[str]:
    if not change.feasible[1]:
        return [_short(change)]
    found = []
    if not change.feasible[0]:
        found.append("The plan fits again.")
    lost = _study_days_lost(change, before, day)
    if lost > 0:
        found.append(
            f"What was left moved on: {_days(change.slack_days[1])} in hand now, {lost} fewer."
        )
    elif lost < 0:
        found.append(f"You are ahead: {_days(change.slack_days[1])} in hand, {-lost} more.")
    elif change.shifts:
        found.append(f"The days ahead were dealt out anew; {_days(change.slack_days[1])} in hand.")
    return found


def _study_days_lost(change: Change, before: Plan, day: date) -> int:
    """How many days of slack went, apart from a free day that simply passed."""
    passed = before.on(day)
    free = passed is not None and passed.use is Use.SLACK
    return change.slack_days[0] - free - change.slack_days[1]


def _short(change: Change) -> str:
    minutes = round(change.shortfall_minutes[1])
    if change.feasible[0]:
        return f"The plan is {minutes} minutes short now. The Plan screen shows what makes it fit."
    grown = minutes - round(change.shortfall_minutes[0])
    if grown <= 0:
        return f"The plan is {minutes} minutes short."
    return f"The plan is {minutes} minutes short, {grown} more than yesterday."


def _days(count: int) -> str:
    return f"{count} day" + ("" if count == 1 else "s")
