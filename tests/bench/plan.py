"""How long a plan, a replan and its remedies take."""

from datetime import timedelta

from domain.plan.load import Done, Pace
from domain.plan.remedies import Planner, remedies
from tests.bench.table import Row, milliseconds
from tests.domain.plan.scenes import MONDAY, alike, usual


def rows() -> list[Row]:
    """The plan's figures, in milliseconds (median of several runs)."""
    small, large = _planner(21), _planner(60)
    two = usual()
    three = usual(exam=MONDAY + timedelta(days=3 * 366), rounds=3)
    short = usual(exam=MONDAY + timedelta(days=120))
    return [
        ("plan, 21 subjects × 2 rounds", milliseconds(lambda: small.plan(two), 9), "ms", 50),
        ("replan, 21 subjects × 2 rounds", milliseconds(lambda: _begun(21).plan(two), 9), "ms", 50),
        ("plan, 60 subjects × 3 rounds", milliseconds(lambda: large.plan(three), 9), "ms", 250),
        (
            "replan, 60 subjects × 3 rounds",
            milliseconds(lambda: _begun(60).plan(three), 9),
            "ms",
            250,
        ),
        ("plan that does not fit", milliseconds(lambda: small.plan(short), 9), "ms", 50),
        ("its remedies", milliseconds(lambda: remedies(small, short), 9), "ms", None),
    ]


def _planner(subjects: int) -> Planner:
    return Planner(alike(subjects), Done(), Pace(), MONDAY)


def _begun(subjects: int) -> Planner:
    """Five weeks in: five blocks and four sweeps done, a sixth block under way."""
    loads = alike(subjects)
    half = (subjects + 1) // 2
    done = Done(
        blocks={load.id: 1 for load in loads[:5]},
        sweeps={load.id: 1 for load in loads[half : half + 4]},
        covered={chapter.id: frozenset(chapter.numbers) for chapter in loads[5].chapters[:2]},
    )
    return Planner(loads, done, Pace(), MONDAY + timedelta(days=36))
