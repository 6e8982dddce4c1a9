"""The plan and the replan: one pure function of the inputs, the subjects, what is done, today."""

from collections.abc import Sequence
from datetime import date, timedelta
from itertools import chain

from domain.errors import InputError
from domain.plan.bench import Bench, planned
from domain.plan.blocks import Laid
from domain.plan.days import OpenDay, Use, open_days
from domain.plan.draft import Draft, best_draft, lay_closely
from domain.plan.inputs import PlanInputs
from domain.plan.load import NOTHING, Done, Pace, SubjectLoad
from domain.plan.pairing import Visit, in_order, visits
from domain.plan.result import Piece, Plan, PlannedDay, Unplaced
from domain.plan.spans import placed_visits, round_spans

BEYOND_THE_EXAM = timedelta(days=3 * 366)
"""How far past the exam the days are counted that a plan would still need."""


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
    bench = Bench(inputs, subjects, done, pace or Pace(default=inputs.seconds))
    first = max(today, inputs.start or today)
    calendar = list(open_days(inputs, first, max(first, inputs.exam)))
    order = in_order(inputs, list(bench.subjects.values()), inputs.start or today)
    finished, coming = bench.split(visits(inputs, order))
    draft = best_draft(bench, coming, _begun(bench, finished, coming), calendar)
    blocks, unplaced = draft.blocks, _unswept_visits(bench, draft)
    beyond = 0
    if draft.blocks_left:
        blocks, cut_off, beyond = _up_to_the_exam(bench, coming, calendar)
        unplaced = cut_off + unplaced
    days = _whole_calendar(calendar, blocks, draft)
    placed = placed_visits(blocks, draft.sweeps, days)
    return Plan(
        first=first,
        exam=inputs.exam,
        order=tuple(order),
        days=days,
        rounds=round_spans(inputs.rounds, placed, done, days),
        placed=placed,
        unplaced=tuple(unplaced),
        days_needed=_working(days) + beyond + len(draft.sweeps_left),
        days_there_are=sum(day.use in (Use.REVISION, Use.SWEEP) for day in calendar),
        unswept={sweep.visit.subject: sweep.beyond for sweep in draft.sweeps if sweep.beyond},
    )


def fits(
    inputs: PlanInputs, subjects: Sequence[SubjectLoad], done: Done, pace: Pace, today: date
) -> bool:
    """Whether a plan with these inputs would be feasible; False for inputs with problems."""
    if inputs.problems(today):
        return False
    bench = Bench(inputs, subjects, done, pace)
    first = max(today, inputs.start or today)
    order = in_order(inputs, list(bench.subjects.values()), inputs.start or today)
    finished, coming = bench.split(visits(inputs, order))
    calendar = list(open_days(inputs, first, max(first, inputs.exam)))
    return best_draft(bench, coming, _begun(bench, finished, coming), calendar).complete


def _begun(bench: Bench, finished: Sequence[Visit], coming: Sequence[Visit]) -> int:
    """The last round in which something is done."""
    under_way = [visit.round for visit in coming if not visit.sweep][:1]
    rounds = [visit.round for visit in finished]
    if under_way and any(bench.is_begun(visit.subject) for visit in coming if not visit.sweep):
        rounds += under_way
    return max([*rounds, *bench.done.round_days], default=0)


def _unswept_visits(bench: Bench, draft: Draft) -> list[Unplaced]:
    left = []
    for visit in draft.sweeps_left:
        questions = bench.sweep_questions(visit.subject, fresh=False)
        left.append(Unplaced(visit, questions, bench.minutes(visit.subject, questions)))
    return left


def _up_to_the_exam(
    bench: Bench, coming: Sequence[Visit], calendar: list[OpenDay]
) -> tuple[list[Laid], list[Unplaced], int]:
    """Blocks up to the exam, what of them lies beyond, and how many days that takes at least."""
    exam = bench.inputs.exam
    longer = calendar + list(open_days(bench.inputs, exam, exam + BEYOND_THE_EXAM))
    laid = lay_closely(bench, coming, longer)
    kept, left, beyond = [], [], set()
    for block in laid:
        inside = tuple(day for day in block.days if day.day < exam)
        outside = [day for day in block.days if day.day >= exam]
        beyond.update(day.day for day in outside)
        if any(day.pieces for day in inside):
            kept.append(Laid(block.visit, inside))
        if any(day.pieces for day in outside):
            questions = sum(day.questions for day in outside)
            minutes = bench.minutes(block.visit.subject, questions)
            left.append(Unplaced(block.visit, questions, minutes))
    never = _never(bench, coming, laid)
    return kept, left + never, len(beyond) + len(never)


def _never(bench: Bench, coming: Sequence[Visit], laid: Sequence[Laid]) -> list[Unplaced]:
    """Blocks that found no day at all, not even long after the exam."""
    found, seen, left = {block.visit for block in laid}, set(), []
    for visit in coming:
        if visit.sweep:
            continue
        questions = bench.block_questions(visit.subject, visit.subject in seen)
        seen.add(visit.subject)
        if visit not in found:
            left.append(Unplaced(visit, questions, bench.minutes(visit.subject, questions)))
    return left


def _whole_calendar(
    calendar: Sequence[OpenDay], blocks: Sequence[Laid], draft: Draft
) -> tuple[PlannedDay, ...]:
    work: dict[date, list[Piece]] = {}
    rounds: dict[date, int] = {}
    for day in chain(*(block.days for block in blocks), draft.sweep_days):
        work.setdefault(day.day, []).extend(day.pieces)
        rounds.setdefault(day.day, day.round)
    return tuple(
        planned(day, rounds[day.day], pieces) if (pieces := work.get(day.day)) else _unplanned(day)
        for day in calendar
    )


def _unplanned(day: OpenDay) -> PlannedDay:
    resting = day.use in (Use.REST, Use.OFF)
    return PlannedDay(day.day, day.use if resting else Use.SLACK, day.parts)


def _working(days: Sequence[PlannedDay]) -> int:
    return sum(bool(day.pieces) for day in days)
