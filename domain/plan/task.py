"""What a plan has to solve: the visits that are still to come, and the days they may take."""

from collections.abc import Sequence
from datetime import date
from functools import cached_property

from msgspec import Struct

from domain.plan.bench import Bench
from domain.plan.days import OpenDay, Use, open_days
from domain.plan.inputs import PlanInputs
from domain.plan.load import Done, Pace, SubjectLoad
from domain.plan.pairing import Visit, in_order, visits


class Task(Struct, frozen=True, dict=True):
    """Everything that is given. `begun` is the last round under way or finished, 0 before one."""

    bench: Bench
    calendar: tuple[OpenDay, ...]
    order: tuple[str, ...]
    coming: tuple[Visit, ...]
    begun: int
    first: date

    @cached_property
    def blocks(self) -> list[Visit]:
        """The blocks to come, in order."""
        return [visit for visit in self.coming if not visit.sweep]

    @cached_property
    def sweeps(self) -> list[Visit]:
        """The sweeps to come, in order."""
        return [visit for visit in self.coming if visit.sweep]

    @cached_property
    def revision_days(self) -> list[OpenDay]:
        """The days for blocks."""
        return [day for day in self.calendar if day.use is Use.REVISION]

    @cached_property
    def sweep_days(self) -> list[OpenDay]:
        """The days for sweeps."""
        return [day for day in self.calendar if day.use is Use.SWEEP]


def set_out(
    inputs: PlanInputs, subjects: Sequence[SubjectLoad], done: Done, pace: Pace, today: date
) -> Task:
    """What is to be planned on this day; the inputs have an exam day."""
    bench = Bench(inputs, subjects, done, pace)
    first = max(today, inputs.start or today)
    order = in_order(inputs, list(bench.subjects.values()), inputs.start or today)
    finished, coming = bench.split(visits(inputs, order))
    return Task(
        bench=bench,
        calendar=tuple(open_days(inputs, first, max(first, inputs.exam))),
        order=tuple(order),
        coming=tuple(coming),
        begun=_begun(bench, finished, coming),
        first=first,
    )


def _begun(bench: Bench, finished: Sequence[Visit], coming: Sequence[Visit]) -> int:
    """The last round in which something is done."""
    blocks = [visit for visit in coming if not visit.sweep]
    rounds = [*(visit.round for visit in finished), *bench.done.round_days]
    if any(bench.is_begun(visit.subject) for visit in blocks):
        rounds.append(blocks[0].round)
    return max(rounds, default=0)
