"""The plan and the replan: one pure function of the inputs, the subjects, what is done, today."""

from collections.abc import Sequence
from datetime import date
from itertools import chain

from domain.errors import InputError
from domain.plan.bench import planned
from domain.plan.days import OpenDay, Use
from domain.plan.draft import Draft, best_draft
from domain.plan.inputs import PlanInputs
from domain.plan.load import NOTHING, Done, Pace, SubjectLoad
from domain.plan.overflow import overflow
from domain.plan.result import Piece, Plan, PlannedDay
from domain.plan.spans import placed_visits, round_spans
from domain.plan.task import set_out


def make_plan(
    inputs: PlanInputs,
    subjects: Sequence[SubjectLoad],
    done: Done = NOTHING,
    pace: Pace | None = None,
    *,
    today: date,
) -> Plan:
    """The plan from today on. Finished work stays finished; the rest is laid out anew.

    Raises InputError when the inputs have problems.
    """
    if problems := inputs.problems(today):
        raise InputError(problems[0])
    task = set_out(inputs, subjects, done, pace or Pace(default=inputs.seconds), today)
    over = overflow(task, best_draft(task))
    days = _whole_calendar(task.calendar, over.draft)
    placed = placed_visits(over.draft.blocks, over.draft.sweeps, days)
    return Plan(
        first=task.first,
        exam=inputs.exam,
        order=task.order,
        days=days,
        rounds=round_spans(inputs.rounds, placed, done, days),
        placed=placed,
        unplaced=tuple(over.unplaced),
        days_needed=sum(bool(day.pieces) for day in days) + over.days,
        days_there_are=len(task.revision_days) + len(task.sweep_days),
        unswept={sweep.visit.subject: sweep.beyond for sweep in over.draft.sweeps if sweep.beyond},
    )


def fits(
    inputs: PlanInputs, subjects: Sequence[SubjectLoad], done: Done, pace: Pace, today: date
) -> bool:
    """Whether a plan with these inputs would be feasible; False for inputs with problems."""
    if inputs.problems(today):
        return False
    return best_draft(set_out(inputs, subjects, done, pace, today)).complete


def _whole_calendar(calendar: Sequence[OpenDay], draft: Draft) -> tuple[PlannedDay, ...]:
    work: dict[date, list[Piece]] = {}
    rounds: dict[date, int] = {}
    for day in chain(*(block.days for block in draft.blocks), draft.sweep_days):
        work.setdefault(day.day, []).extend(day.pieces)
        rounds.setdefault(day.day, day.round)
    return tuple(
        planned(day, rounds[day.day], pieces) if (pieces := work.get(day.day)) else _unplanned(day)
        for day in calendar
    )


def _unplanned(day: OpenDay) -> PlannedDay:
    resting = day.use in (Use.REST, Use.OFF)
    return PlannedDay(day.day, day.use if resting else Use.SLACK, day.parts)
