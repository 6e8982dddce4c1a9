"""What the harness of lived plans notices: faults put back, and nothing without them.

Each fault is one that a lived plan once had: what it did to the days is said beside it.
"""

import dataclasses
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path
from random import Random

import pytest
from msgspec.structs import replace

from banks.planning.workload import PlanWorkload
from banks.views import passes
from banks.views.today import DayLines, LineKind
from domain import chooser
from domain.chooser import NO_VISITS
from domain.plan import packing, scheduler
from domain.plan.inputs import ONE_DAY, PlanInputs, Role
from domain.plan.packing import BlockDays, BlockShape
from domain.plan.problem import Problem
from domain.plan.scheduler import fits_before_exam
from domain.plan.sweep_layout import lay_sweeps
from domain.plan.visits import SubjectTrack
from tests.builders import bank, bares
from tests.domain.plan.integer_program import can_fit
from tests.domain.plan.scenes import planned, subject, usual
from tests.domain.plan.test_fits import fits_as_minutes_grow, small_case
from tests.lived import living
from tests.lived.candidates import MONDAY, LivedCase
from tests.lived.living import Life


def case(*, misses: float, minutes: int = 8, last_chapter: int = 17) -> LivedCase:
    """Four subjects of two chapters, a block per week, sweeps in two parts of a Saturday."""
    shape = {
        f"S{number}": {"Chapter 1": bares(23), "Chapter 2": bares(last_chapter)}
        for number in range(1, 5)
    }
    return LivedCase(
        seed=1,
        bank=bank("Book", shape),
        inputs=PlanInputs(
            exam=MONDAY + timedelta(days=75),
            start=MONDAY,
            minutes=((minutes,),) * 5 + ((13, 13), ()),
            roles=(Role.REVISION,) * 5 + (Role.SWEEP, Role.REST),
            seconds=51.0,
            passes=False,
            papers=False,
        ),
        pace=51.0,
        miss_share=misses,
        again_share=misses,
        first_study=True,
        attendance=1.0,
        finishes_days=1.0,
    )


def with_minutes(lived: LivedCase, minutes: tuple[tuple[int, ...], ...]) -> LivedCase:
    return dataclasses.replace(lived, inputs=replace(lived.inputs, minutes=minutes))


def broken_in(lived: LivedCase, folder: Path) -> list[str]:
    life = Life(lived, folder)
    try:
        return life.live().judge()
    finally:
        life.close()


HARD = case(misses=0.8)
EASY = case(misses=0.0)
SHORT_BLOCKS = case(misses=0.8, minutes=12)
SHORT_SATURDAYS = with_minutes(HARD, ((12,),) * 5 + ((8,), ()))
UNEVEN_DAYS = with_minutes(
    case(misses=0.8, last_chapter=23), ((17,), (11,), (17,), (11,), (11,), (60,), ())
)

Fault = Callable[[pytest.MonkeyPatch], None]
"""Puts a fault back."""


@pytest.mark.parametrize("lived", [HARD, EASY, SHORT_BLOCKS, SHORT_SATURDAYS, UNEVEN_DAYS])
def test_without_a_fault_nothing_is_broken(lived: LivedCase, tmp_path: Path) -> None:
    assert broken_in(lived, tmp_path) == []


def short() -> LivedCase:
    """Comes on six days of ten, so that the plan turns short; passes and final revision are on."""
    lived = case(misses=0.5, minutes=12)
    inputs = replace(lived.inputs, exam=MONDAY + timedelta(days=32), passes=True, final_revision=14)
    return dataclasses.replace(lived, inputs=inputs, attendance=0.6, takes_final=True)


def test_a_plan_that_turns_short_is_lived_with_passes_and_final_revision(tmp_path: Path) -> None:
    life = Life(short(), tmp_path)
    try:
        assert life.live().judge() == []
        assert life.asked == 1
        assert life.library.settings.plan.final_from is not None
        assert any(page.kind is LineKind.PASS for page in life.visited.values())
    finally:
        life.close()


def asks_lately_tried(monkeypatch: pytest.MonkeyPatch) -> None:
    """A pass asks again what was tried yesterday."""
    monkeypatch.setattr(chooser, "REST_DAYS", 0)


def takes_passes_for_visits(monkeypatch: pytest.MonkeyPatch) -> None:
    """A pass asks of subjects that have their visit in the days to come."""
    monkeypatch.setattr(passes, "visits_ahead", lambda *_: NO_VISITS)


def chooses_anew(monkeypatch: pytest.MonkeyPatch) -> None:
    """The pass is chosen again at each look, from what is not done yet."""
    monkeypatch.setattr(passes, "pass_begun_on", lambda *_: None)
    monkeypatch.setattr(passes, "chosen_pass", lambda *_: None)
    plain = passes.candidates

    def as_of_now(library, read, *, this_morning):
        return plain(library, read)

    monkeypatch.setattr(passes, "candidates", as_of_now)


@pytest.mark.slow
@pytest.mark.parametrize("fault", [asks_lately_tried, takes_passes_for_visits, chooses_anew])
def test_a_fault_of_passes_is_noticed(
    fault: Fault, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    fault(monkeypatch)
    lived = case(misses=0.5, minutes=30)
    inputs = replace(lived.inputs, exam=MONDAY + timedelta(days=28), passes=True)
    broken = broken_in(dataclasses.replace(lived, inputs=inputs), tmp_path)
    assert any("pass" in rule for rule in broken)


def forgets_what_was_swept(monkeypatch: pytest.MonkeyPatch) -> None:
    """Each part of the day takes the first of the list, so the evening repeats the morning."""
    sweep = DayLines.sweep_lines

    def from_the_top(self, entry, parts, day):
        items = [replace(sweep_item, done=False) for sweep_item in self._sweep_items(entry, day)]
        for place, line in sweep(self, entry, parts, day):
            yield place, replace(line, items=tuple(items[: len(line.items)]))

    monkeypatch.setattr(DayLines, "sweep_lines", from_the_top)


def never_finishes_a_sweep(monkeypatch: pytest.MonkeyPatch) -> None:
    """A sweep done as planned falls short of a target of its own, and the next waits for it."""

    def only_noted(self, response) -> None:
        self.swept.add((response.chapter, -response.number))

    monkeypatch.setattr(SubjectTrack, "count_swept", only_noted)


def leaves_empty_sweeps_open(monkeypatch: pytest.MonkeyPatch) -> None:
    """A sweep with nothing to put up comes again on every sweep day."""
    monkeypatch.setattr(living, "begin_day", lambda library: PlanWorkload(library))


def begins_the_next_block_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Once a block is done the one behind it begins today, whatever was planned."""
    monkeypatch.setattr(Problem, "last_block", None)


def drops_what_a_sweep_day_does_not_hold(monkeypatch: pytest.MonkeyPatch) -> None:
    """What is more than a sweep's day holds finds no other day, and nothing says so."""
    monkeypatch.setattr("domain.plan.sweep_layout._SweepDays.spill", lambda *_: 0)


def skips_days_rather_than_cut(monkeypatch: pytest.MonkeyPatch) -> None:
    """A day that does not hold the whole next chapter stays empty inside the block."""
    uncached = packing.pack_stretch.__wrapped__  # nothing wrong is kept for other tests
    monkeypatch.setattr("domain.plan.packing.pack_stretch", uncached)
    monkeypatch.setattr(BlockShape, "too_big_for", lambda self, _: (1 << self.total + 1) - 1)


def keeps_strictly_to_minutes(monkeypatch: pytest.MonkeyPatch) -> None:
    """No day runs over its minutes, so that uneven chapters do not end in their week."""
    plain = BlockDays.__init__

    def strict(self, sizes, pace, rooms, stretch, *others, **named) -> None:
        plain(self, sizes, pace, rooms, 0.0, *others, **named)

    monkeypatch.setattr(BlockDays, "__init__", strict)


def lets_no_sweep_leave_its_round(monkeypatch: pytest.MonkeyPatch) -> None:
    """Sweeps stand in the days of their round or nowhere, so plans seem short that are not."""
    monkeypatch.setattr("domain.plan.scheduler.lay_sweeps", _only_in_round)


def _only_in_round(tasks, *others):
    within = [
        replace(task, after=max(task.after, begin - ONE_DAY), before=min(task.before, end))
        for task in tasks
        for begin, end in (task.span,)
    ]
    return lay_sweeps(within, *others)


def puts_fewest_weeks_first(monkeypatch: pytest.MonkeyPatch) -> None:
    """Every block keeps its own weeks, whatever finds no days then."""

    def only_own_weeks(problem):
        yield next(iter(ways(problem)))

    ways = scheduler.__dict__["_ways"]
    monkeypatch.setattr("domain.plan.scheduler._ways", only_own_weeks)


def weeks_lost(_: Path) -> list[str]:
    """The blocks that do not end in the week in which they begin.

    This one fills 149 of the week's 150 minutes; held to 35 questions a day it takes six days.
    """
    subjects = [subject("s1", [29, 35, 38, 31, 42])]
    plan = planned(usual(minutes=((30,),) * 5 + ((300,), ()), rounds=1), subjects)
    spans = [(visit.first, visit.last) for visit in plan.visits]
    return [f"{first} to {last}" for first, last in spans if (last - first).days > 6]


def untruly_short(_: Path) -> list[str]:
    """Small plans called short for which an integer program finds room."""
    cases = ((seed, small_case(Random(seed))) for seed in range(60))
    return [
        str(seed)
        for seed, request in cases
        if not fits_before_exam(request) and can_fit(request, share=0.95)
    ]


def hurt_by_minutes(_: Path) -> list[str]:
    """Plans that fit no longer when every day has more minutes."""
    fitting = ((seed, fits_as_minutes_grow(seed)) for seed in range(20))
    return [str(seed) for seed, fits in fitting if fits != sorted(fits)]


def life_of(lived: LivedCase) -> Callable[[Path], list[str]]:
    return lambda folder: broken_in(lived, folder)


FAULTS: tuple[tuple[Fault, Callable[[Path], list[str]]], ...] = (
    (forgets_what_was_swept, life_of(HARD)),
    (never_finishes_a_sweep, life_of(HARD)),
    (leaves_empty_sweeps_open, life_of(EASY)),
    (drops_what_a_sweep_day_does_not_hold, life_of(SHORT_SATURDAYS)),
    (begins_the_next_block_at_once, life_of(SHORT_BLOCKS)),
    (keeps_strictly_to_minutes, weeks_lost),
    (lets_no_sweep_leave_its_round, untruly_short),
    (puts_fewest_weeks_first, hurt_by_minutes),
    (skips_days_rather_than_cut, life_of(UNEVEN_DAYS)),
)
"""Faults that plans once had, each with what notices it and finds nothing without it."""


@pytest.mark.parametrize(("fault", "check"), FAULTS)
def test_a_fault_put_back_is_noticed(
    fault: Fault,
    check: Callable[[Path], list[str]],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    fault(monkeypatch)
    assert check(tmp_path)


@pytest.mark.parametrize("check", [weeks_lost, untruly_short, hurt_by_minutes])
def test_what_notices_a_fault_finds_nothing_without_it(
    check: Callable[[Path], list[str]], tmp_path: Path
) -> None:
    assert check(tmp_path) == []
