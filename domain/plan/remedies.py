"""What would make a plan fit, and what a lost week costs: each found by planning again."""

from bisect import bisect_left
from collections.abc import Iterator, Sequence
from datetime import date
from enum import StrEnum

from msgspec import Struct
from msgspec.structs import replace

from domain.plan.days import ONE_DAY
from domain.plan.inputs import DAYS_A_WEEK, PlanInputs, Role
from domain.plan.load import Done, Pace, SubjectLoad
from domain.plan.pairing import need
from domain.plan.planner import fits, make_plan
from domain.plan.result import Plan

STEP_MINUTES = 5
MOST_EXTRA_STEPS = 48


class Means(StrEnum):
    """By what a plan is made to fit."""

    MINUTES = "more minutes a day"
    ROUNDS = "fewer rounds"
    SWEEP_ONLY = "sweep only"
    EARLIER = "earlier start"


class Remedy(Struct, frozen=True):
    """A change that makes the plan fit: by how much, the changed inputs, the plan they give.

    `amount` is minutes a day more, rounds that are left, strongest subjects that are only swept,
    or days earlier.
    """

    means: Means
    amount: int
    inputs: PlanInputs
    plan: Plan


class Planner(Struct, frozen=True):
    """Everything but the inputs that a plan depends on."""

    subjects: Sequence[SubjectLoad]
    done: Done
    pace: Pace
    today: date

    def plan(self, inputs: PlanInputs) -> Plan:
        """The plan with these inputs. Raises InputError."""
        return make_plan(inputs, self.subjects, self.done, self.pace, today=self.today)

    def fits(self, inputs: PlanInputs) -> bool:
        """Whether everything finds a day with these inputs."""
        return fits(inputs, self.subjects, self.done, self.pace, self.today)


def remedies(planner: Planner, inputs: PlanInputs) -> tuple[Remedy, ...]:
    """The smallest change of each kind that makes the plan fit; () where it fits already.

    Where no single change does, more minutes are tried together with one round.
    """
    if planner.fits(inputs):
        return ()
    candidates = [*_single(planner, inputs)]
    if not candidates and inputs.rounds > 1:
        candidates = [*_more_minutes(planner, replace(inputs, rounds=1))]
    found = [Remedy(*candidate, planner.plan(candidate[2])) for candidate in candidates]
    return tuple(remedy for remedy in found if remedy.plan.feasible)


def without_a_week(planner: Planner, inputs: PlanInputs) -> Plan | None:
    """The plan if the seven days from today were lost; None where that leaves no day."""
    lost = {planner.today + step * ONE_DAY for step in range(DAYS_A_WEEK)}
    changed = replace(inputs, off=tuple(sorted({*inputs.off, *lost})))
    return None if changed.problems(planner.today) else planner.plan(changed)


Candidate = tuple[Means, int, PlanInputs]


def _single(planner: Planner, inputs: PlanInputs) -> Iterator[Candidate]:
    yield from _more_minutes(planner, inputs)
    yield from _sweep_only(planner, inputs)
    yield from _fewer_rounds(planner, inputs)
    yield from _earlier(planner, inputs)


def _least(planner: Planner, changed: Sequence[PlanInputs]) -> int | None:
    """The first of ever stronger changes that fits, by halving; None where the last does not."""
    if not changed or not planner.fits(changed[-1]):
        return None
    return bisect_left(changed, True, hi=len(changed) - 1, key=planner.fits)


def _more_minutes(planner: Planner, inputs: PlanInputs) -> Iterator[Candidate]:
    changed = [with_more_minutes(inputs, n * STEP_MINUTES) for n in range(1, MOST_EXTRA_STEPS + 1)]
    if (found := _least(planner, changed)) is not None:
        yield Means.MINUTES, (found + 1) * STEP_MINUTES, changed[found]


def _sweep_only(planner: Planner, inputs: PlanInputs) -> Iterator[Candidate]:
    full = [s for s in planner.subjects if s.id not in inputs.sweep_only and s.questions]
    strongest = [subject.id for subject in sorted(full, key=need)]
    changed = [
        replace(inputs, sweep_only=(*inputs.sweep_only, *strongest[:count]))
        for count in range(1, len(strongest))
    ]
    if (found := _least(planner, changed)) is not None:
        yield Means.SWEEP_ONLY, found + 1, changed[found]


def _fewer_rounds(planner: Planner, inputs: PlanInputs) -> Iterator[Candidate]:
    changed = [replace(inputs, rounds=count) for count in range(inputs.rounds - 1, 0, -1)]
    if (found := _least(planner, changed)) is not None:
        yield Means.ROUNDS, changed[found].rounds, changed[found]


def _earlier(planner: Planner, inputs: PlanInputs) -> Iterator[Candidate]:
    if inputs.start is None or inputs.start <= planner.today:
        return
    days = (inputs.start - planner.today).days
    changed = [replace(inputs, start=inputs.start - n * ONE_DAY) for n in range(1, days + 1)]
    if (found := _least(planner, changed)) is not None:
        yield Means.EARLIER, found + 1, changed[found]


def with_more_minutes(inputs: PlanInputs, extra: int) -> PlanInputs:
    """The inputs with so many minutes more in the last part of every working weekday."""
    week = (
        (*parts[:-1], parts[-1] + extra) if parts and role is not Role.REST else parts
        for parts, role in zip(inputs.minutes, inputs.roles, strict=True)
    )
    return replace(inputs, minutes=tuple(week))
