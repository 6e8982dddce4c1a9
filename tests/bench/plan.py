"""How long a plan, a replan, its levers and advice take."""

from datetime import timedelta

from msgspec.structs import replace

from domain.plan import packing
from domain.plan.inputs import PlanInputs, SubjectLoad
from domain.plan.levers import LeverBasis, advice_of, levers_of
from domain.plan.problem import PlanRequest
from domain.plan.study_plan_writer import make_study_plan
from domain.plan.visits import DaySpan, VisitProgress
from tests.bench.table import Row, milliseconds
from tests.domain.plan.scenes import MONDAY, alike, usual
from tests.domain.plan.test_study_plans import uneven_bank


def rows() -> list[Row]:
    """The plan's figures, in milliseconds (median of several runs), nothing remembered."""
    two = usual()
    three = usual(exam=MONDAY + timedelta(days=3 * 366), rounds=3)
    short = usual(exam=MONDAY + timedelta(days=95))
    small, large = uneven_bank(1), uneven_bank(2, 60)
    short_request = PlanRequest.of(short, small, MONDAY)
    advised = PlanRequest.of(usual(minutes=((30, 50),) * 5 + ((300,), ())), alike(21), MONDAY)
    return [
        ("plan, 21 subjects × 2 rounds", milliseconds(lambda: _plan(two, small), 9), "ms", 50),
        ("replan, 21 subjects × 2 rounds", milliseconds(lambda: _replan(two, small), 9), "ms", 50),
        ("plan, 60 subjects × 3 rounds", milliseconds(lambda: _plan(three, large), 9), "ms", 250),
        (
            "replan, 60 subjects × 3 rounds",
            milliseconds(lambda: _replan(three, large), 9),
            "ms",
            250,
        ),
        ("plan that does not fit", milliseconds(lambda: _plan(short, small), 9), "ms", 50),
        (
            "its levers",
            milliseconds(lambda: levers_of(short_request, LeverBasis()), 3),
            "ms",
            1000,
        ),
        ("advice", milliseconds(lambda: advice_of(advised), 3), "ms", 1000),
    ]


def _plan(inputs: PlanInputs, subjects: list[SubjectLoad]) -> None:
    packing.pack_stretch.cache_clear()
    make_study_plan(PlanRequest.of(inputs, subjects, MONDAY))


def _replan(inputs: PlanInputs, subjects: list[SubjectLoad]) -> None:
    """Five weeks in: five blocks and five sweeps done, a sixth block under way since yesterday."""
    packing.pack_stretch.cache_clear()
    order = [subject.id for subject in subjects]
    half = (len(order) + 1) // 2
    weeks = [MONDAY + timedelta(weeks=number) for number in range(6)]
    begun = subjects[5]
    progress = VisitProgress(
        blocks={
            name: (DaySpan(week, week + timedelta(days=4)),)
            for name, week in zip(order[:5], weeks, strict=False)
        },
        sweeps={
            name: (DaySpan(week + timedelta(days=5), week + timedelta(days=5)),)
            for name, week in zip(order[half : half + 5], weeks, strict=False)
        },
        covered={begun.chapters[0].id: frozenset(begun.chapters[0].numbers)},
        since={begun.id: weeks[5]},
        done_on={begun.id: {weeks[5]: len(begun.chapters[0].numbers)}},
    )
    today = weeks[5] + timedelta(days=1)
    make_study_plan(PlanRequest.of(replace(inputs, order=tuple(order)), subjects, today, progress))
