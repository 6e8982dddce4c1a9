"""What a new plan changes against the one before, and what the candidate changes in its inputs."""

from collections.abc import Sequence
from datetime import date

from msgspec import Struct
from msgspec.structs import replace

from domain.errors import InputError
from domain.plan.inputs import (
    DAYS_A_WEEK,
    LAST_DAYS,
    ONE_DAY,
    DayMinutes,
    PaperDay,
    Pin,
    PlanInputs,
    Use,
    monday,
)
from domain.plan.study_plan import EntryKind, ScheduledVisit, StudyPlan
from domain.plan.visits import Visit

RESERVE_WEEKS = 2
"""So many weeks of reserve days are offered at the start, where there are spare days for them."""


class PlanSummary(Struct, frozen=True):
    """What is compared of a plan; small enough to be kept."""

    feasible: bool
    slack_days: int
    shortfall_minutes: float
    unreached: int
    last_day: date | None
    visits: tuple[ScheduledVisit, ...]


class VisitShift(Struct, frozen=True):
    """A visit whose days changed; None where it has none before the exam."""

    visit: Visit
    before: tuple[date, date] | None
    after: tuple[date, date] | None

    @property
    def days(self) -> int | None:
        """By how many days its end moved, later positive; None where it came or went."""
        if self.before is None or self.after is None:
            return None
        return (self.after[1] - self.before[1]).days


class PlanDifference(Struct, frozen=True):
    """The difference between two plans. Pairs are (before, after)."""

    feasible: tuple[bool, bool]
    slack_days: tuple[int, int]
    shortfall_minutes: tuple[float, float]
    unreached: tuple[int, int]
    last_days: tuple[date | None, date | None]
    shifts: tuple[VisitShift, ...]


def summary_of(plan: StudyPlan) -> PlanSummary:
    """What is compared of a plan."""
    return PlanSummary(
        plan.feasible,
        plan.slack_days,
        plan.shortfall_minutes,
        sum(left.questions for left in plan.beyond),
        plan.last_day,
        plan.visits,
    )


def difference(before: PlanSummary, after: PlanSummary) -> PlanDifference:
    """What `after` changes. Visits that were finished in between are no change."""
    old = {scheduled.visit: (scheduled.first, scheduled.last) for scheduled in before.visits}
    new = {scheduled.visit: (scheduled.first, scheduled.last) for scheduled in after.visits}
    shifts = tuple(
        VisitShift(visit, old.get(visit), span)
        for visit, span in sorted(new.items(), key=lambda item: item[1])
        if old.get(visit, (None, None))[1] != span[1]
    )
    return PlanDifference(
        feasible=(before.feasible, after.feasible),
        slack_days=(before.slack_days, after.slack_days),
        shortfall_minutes=(before.shortfall_minutes, after.shortfall_minutes),
        unreached=(before.unreached, after.unreached),
        last_days=(before.last_day, after.last_day),
        shifts=shifts,
    )


# changes to inputs: each gives new inputs and touches nothing


def with_order_moved(
    inputs: PlanInputs, order: Sequence[str], subject: str, steps: int
) -> PlanInputs:
    """The subject so many positions later (earlier if negative) in the order, ends stop it."""
    kept = [other for other in order if other != subject]
    position = min(max(0, order.index(subject) + steps), len(kept))
    return replace(inputs, order=(*kept[:position], subject, *kept[position:]))


def with_neighbours_swapped(
    inputs: PlanInputs, plan: StudyPlan, subject: str, step: int
) -> PlanInputs:
    """The subject moved past the next one (step 1) or the one before (-1) that is still to come."""
    coming = {visit.subject for visit in plan.coming()}
    position = plan.order.index(subject) + step
    while 0 <= position < len(plan.order) and plan.order[position] not in coming:
        position += step
    return with_order_moved(inputs, plan.order, subject, position - plan.order.index(subject))


def with_day_off(inputs: PlanInputs, day: date) -> PlanInputs:
    """The day marked off, or no longer off if it was; a reserve day is taken so."""
    if day in inputs.reserve:
        return with_reserve_taken(inputs, day)
    return replace(inputs, off=tuple(sorted({*inputs.off} ^ {day})))


def with_week_off(inputs: PlanInputs, day: date) -> PlanInputs:
    """The seven days of the ISO week of `day` marked off, or no longer off if all of them were."""
    week = {monday(day) + step * ONE_DAY for step in range(DAYS_A_WEEK)}
    off = {*inputs.off}
    return replace(inputs, off=tuple(sorted(off - week if week <= off else off | week)))


def with_day_minutes(inputs: PlanInputs, day: date, parts: tuple[int, ...] | None) -> PlanInputs:
    """Other minutes on this one day; None gives it its weekday's minutes back."""
    others = [change for change in inputs.changed_days if change.day != day]
    if parts is not None:
        others.append(DayMinutes(day, parts))
    return replace(inputs, changed_days=tuple(sorted(others, key=lambda change: change.day)))


def with_reserve(inputs: PlanInputs, day: date) -> PlanInputs:
    """The day named as a reserve day, or no longer one if it was."""
    return replace(inputs, reserve=tuple(sorted({*inputs.reserve} ^ {day})))


def with_spare_days_reserved(inputs: PlanInputs, plan: StudyPlan) -> PlanInputs:
    """Reserve days named among the plan's spare days, evenly over all of it: `RESERVE_WEEKS` weeks
    of them, of fewer spare days every other one; none on the day of a paper or in the last week.
    """
    last = plan.exam - LAST_DAYS * ONE_DAY
    spare = [
        day.day
        for day in plan.days(inputs)
        if day.day < last
        and day.role is Use.SLACK
        and not any(entry.kind is EntryKind.PAPER for entry in day.entries)
    ]
    study_days = sum(any(minutes) for minutes in inputs.minutes)
    count = min(RESERVE_WEEKS * study_days, len(spare) // 2)
    named = {spare[(2 * place + 1) * len(spare) // (2 * count)] for place in range(count)}
    return replace(inputs, reserve=tuple(sorted({*inputs.reserve} | named)))


def with_reserve_taken(inputs: PlanInputs, day: date) -> PlanInputs:
    """A reserve day taken: a day off from now on."""
    reserve = tuple(other for other in inputs.reserve if other != day)
    return replace(inputs, reserve=reserve, off=tuple(sorted({*inputs.off, day})))


def with_paper_moved(inputs: PlanInputs, papers: Sequence[PaperDay], day: date) -> PlanInputs:
    """The paper of that day put off: the plan has it on the next sweep day with room.

    Of these `papers` of a plan. Raises InputError where none is planned for the day.
    """
    paper = _paper_on(papers, day)
    # A day that is full, or has a paper already, gives it on to the next.
    later = [*(other for other in papers if other != paper), replace(paper, day=day + ONE_DAY)]
    return replace(inputs, paper_days=tuple(sorted(later, key=lambda paper: paper.day)))


def without_paper(inputs: PlanInputs, papers: Sequence[PaperDay], day: date) -> PlanInputs:
    """No paper on that day. Raises InputError where none is planned for it."""
    paper = _paper_on(papers, day)
    left = tuple(other for other in papers if other != paper)
    return replace(inputs, paper_days=left, papers=bool(left))


def without_papers(inputs: PlanInputs) -> PlanInputs:
    """No papers any more."""
    return replace(inputs, papers=False, paper_days=())


def _paper_on(papers: Sequence[PaperDay], day: date) -> PaperDay:
    paper = next((paper for paper in papers if paper.day == day), None)
    if paper is None:
        raise InputError(f"{day}: no paper is planned; nothing was changed")
    return paper


def with_pin(inputs: PlanInputs, plan: StudyPlan, subject: str, week: date) -> PlanInputs:
    """The subject's block pinned to the week of the day `week`; a second time frees it again.

    A subject whose block lies in the other half of the round pair changes places in the order,
    so that its block and its sweep still fall into different rounds.
    """
    pin = Pin(subject, monday(week))
    others = tuple(other for other in inputs.pins if other.subject != subject)
    if pin in inputs.pins:
        return replace(inputs, pins=others)
    order = _in_its_half(plan, subject, pin.week)
    return replace(inputs, pins=(*others, pin), order=order)


def _in_its_half(plan: StudyPlan, subject: str, week: date) -> tuple[str, ...]:
    """The order with the subject in the half that has its blocks in the round of that week."""
    half = (len(plan.order) + 1) // 2
    blocks_first = plan.order.index(subject) < half
    begun = [span.round for span in plan.rounds if span.first_day and span.first_day <= week]
    if max(begun, default=1) % 2 == int(blocks_first):
        return plan.order
    rest = [other for other in plan.order if other != subject]
    position = half - 1 if not blocks_first else half
    return (*rest[:position], subject, *rest[position:])


def inputs_after_exam(inputs: PlanInputs, today: date) -> PlanInputs:
    """What of a plan whose exam is over goes over to the plan for another one.

    The banks, the candidate's time and what they do without stay. All that was written for the
    days up to that exam goes, and the rounds begin anew today: what was revised for it is
    history, not a visit done.
    """
    return replace(
        inputs,
        exam=None,
        start=today,
        off=tuple(day for day in inputs.off if day >= today),
        changed_days=tuple(change for change in inputs.changed_days if change.day >= today),
        order=(),
        pins=(),
        papers=True,
        paper_days=(),
        final_from=None,
        final_declined=False,
        reserve=tuple(day for day in inputs.reserve if day >= today),
        left_out=(),
        unswept=(),
    )
