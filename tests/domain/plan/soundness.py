"""What must hold of every plan, whatever led to it."""

from collections import Counter
from collections.abc import Sequence

from domain.plan.days import Use, open_days
from domain.plan.inputs import PlanInputs
from domain.plan.load import Done, SubjectLoad
from domain.plan.pairing import visits
from domain.plan.result import Plan


def check(plan: Plan, inputs: PlanInputs, subjects: Sequence[SubjectLoad], done: Done) -> None:
    """Nothing on a rest or off day, nothing too long unsaid, nothing lost, and fit or not said."""
    calendar = {day.day: day for day in open_days(inputs, plan.first, plan.exam)}
    assert [day.day for day in plan.days] == list(calendar)
    for day in plan.days:
        there_is = calendar[day.day]
        assert not day.pieces or day.use is there_is.use in (Use.REVISION, Use.SWEEP)
        assert day.minutes <= there_is.minutes + day.over + 0.01
        assert day.over <= inputs.stretch * there_is.minutes + 0.01
    check_nothing_lost_or_doubled(plan, inputs, subjects, done)
    check_no_sweep_before_its_block(plan)
    assert plan.feasible == (plan.shortfall_minutes == 0)
    assert plan.feasible or plan.days_needed > sum(bool(day.pieces) for day in plan.days)


def check_no_sweep_before_its_block(plan: Plan) -> None:
    """A sweep comes after the blocks that its subject has in earlier rounds, all of them."""
    open_ends = {left.visit for left in plan.unplaced}
    ends = {placed.visit: placed.last for placed in plan.placed if not placed.visit.sweep}
    for placed in plan.placed:
        if placed.visit.sweep:
            earlier = [
                visit
                for visit in plan.coming()
                if not visit.sweep
                and visit.subject == placed.visit.subject
                and visit.round < placed.visit.round
            ]
            assert all(visit not in open_ends and ends[visit] < placed.first for visit in earlier)


def check_nothing_lost_or_doubled(
    plan: Plan, inputs: PlanInputs, subjects: Sequence[SubjectLoad], done: Done
) -> None:
    """Every question is planned as often as blocks are to come, or counted as without a day."""
    coming = Counter(visit.subject for visit in visits(inputs, plan.order) if not visit.sweep)
    coming.subtract(done.blocks)
    planned, left = Counter(), Counter()
    for piece in plan.pieces():
        planned.update((piece.chapter, number) for number in piece.numbers)
    for unplaced in plan.unplaced:
        if not unplaced.visit.sweep:
            left[unplaced.visit.subject] += unplaced.questions
    for subject in subjects:
        found = gone = 0
        for chapter in subject.chapters:
            covered = done.covered.get(chapter.id, frozenset())
            gone += len(covered)
            for number in chapter.numbers:
                times = planned[chapter.id, number]
                assert times <= max(0, coming[subject.id] - (number in covered))
                found += times
        wanted = coming[subject.id] * subject.questions - gone
        assert found + left[subject.id] == max(0, wanted)
