"""How the weeks so far went against the plan, and the finish that follows."""

from datetime import timedelta

from banks.views.workload import Workload
from domain.plan.days import Use, open_days
from domain.plan.finish import Asked, Finish, Work, finishes
from domain.plan.inputs import DAYS_A_WEEK
from domain.plan.result import Plan, PlannedDay

MOST_WEEKS = 12
"""How many weeks back count."""

LOOKED_AHEAD = timedelta(days=3 * 366)
"""How far ahead a finish day is looked for."""


def weeks_so_far(workload: Workload) -> list[tuple[float, float]]:
    """(minutes done, minutes planned) of revision per complete week since the first day.

    Planned is what the plan asked for on the week's first morning; weeks without are left out.
    """
    begin = workload.inputs.start or workload.today
    weeks = (workload.today - begin).days // DAYS_A_WEEK
    mornings = [begin + timedelta(weeks=n) for n in range(max(0, weeks - MOST_WEEKS), weeks)]
    plans = [planner.plan(workload.inputs) for planner in workload.planners(mornings)]
    asked = [sum(map(_revision, plan.days[:DAYS_A_WEEK])) for plan in plans]
    done = dict.fromkeys(mornings, 0.0)
    for day, minutes in workload.minutes_done():
        morning = begin + timedelta(weeks=(day - begin).days // DAYS_A_WEEK)
        if morning in done:
            done[morning] += minutes
    return [(done[morning], ask) for morning, ask in zip(mornings, asked, strict=True) if ask]


def finishes_of(
    workload: Workload, plan: Plan, weeks: list[tuple[float, float]]
) -> tuple[Finish, ...]:
    """When each round that is not over will be finished, if the weeks to come are like these."""
    shares = [done / planned for done, planned in weeks]
    return tuple(finishes(shares, _works(plan), _ahead(workload, plan)))


def _works(plan: Plan) -> list[Work]:
    """The revision left up to the end of each round that is not finished."""
    works = []
    for span in plan.rounds:
        blocks = [
            placed.last
            for placed in plan.placed
            if placed.visit.round == span.round and not placed.visit.sweep
        ]
        if span.last_day and blocks:
            lag = max(0, (span.last_day - max(blocks)).days)
            works.append(Work(span.round, _minutes_up_to(plan, span.round), lag))
    return works


def _minutes_up_to(plan: Plan, number: int) -> float:
    """Minutes of revision left in the rounds up to this one, those without a day included."""
    placed = sum(_revision(day) for day in plan.days if day.round <= number)
    return placed + sum(
        left.minutes
        for left in plan.unplaced
        if left.visit.round <= number and not left.visit.sweep
    )


def _revision(day: PlannedDay) -> float:
    return day.minutes if day.use is Use.REVISION else 0.0


def _ahead(workload: Workload, plan: Plan) -> list[Asked]:
    """What each day from today on asks for; after the last block, all the time there is."""
    last = max((one.last for one in plan.placed if not one.visit.sweep), default=plan.first)
    found = []
    for day in open_days(workload.inputs, workload.today, workload.today + LOOKED_AHEAD):
        there_is = float(day.minutes) if day.use is Use.REVISION else 0.0
        planned = plan.on(day.day)
        asked = _revision(planned) if planned and day.day <= last else there_is
        found.append((day.day, asked))
    return found
