"""What the harness of lived plans notices: faults put back, and nothing without them.

Each fault is one that a lived plan once had: what it did to the days is said beside it.
"""

import dataclasses
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

import pytest
from msgspec.structs import replace

from banks.planning.workload import PlanWorkload
from banks.views import passes
from banks.views.today import DayLines, LineKind
from domain import chooser
from domain.plan.inputs import PlanInputs, Role
from domain.plan.scheduler import Problem
from domain.plan.visits import SubjectTrack
from tests.builders import bank, bares
from tests.lived import living
from tests.lived.candidates import MONDAY, LivedCase
from tests.lived.living import Life


def case(*, misses: float, minutes: int = 8) -> LivedCase:
    """Four subjects of forty questions, a block per week, sweeps in two parts of a Saturday."""
    shape = {
        f"S{number}": {"Chapter 1": bares(23), "Chapter 2": bares(17)} for number in range(1, 5)
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


def broken_in(lived: LivedCase, folder: Path) -> list[str]:
    life = Life(lived, folder)
    try:
        return life.live().judge()
    finally:
        life.close()


HARD = case(misses=0.8)
EASY = case(misses=0.0)
SHORT_BLOCKS = case(misses=0.8, minutes=12)


@pytest.mark.parametrize("lived", [HARD, EASY, SHORT_BLOCKS])
def test_without_a_fault_nothing_is_broken(lived: LivedCase, tmp_path: Path) -> None:
    assert broken_in(lived, tmp_path) == []


def short() -> LivedCase:
    """Comes on six days of ten, so that the plan turns short; passes and final revision are on."""
    lived = case(misses=0.5, minutes=12)
    inputs = replace(lived.inputs, exam=MONDAY + timedelta(days=30), passes=True, final_revision=14)
    return dataclasses.replace(lived, inputs=inputs, attendance=0.6)


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
    monkeypatch.setattr(passes, "closed_to_passes", lambda *_: frozenset())


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
    fault: Callable[[pytest.MonkeyPatch], None], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
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
        items = [replace(item, done=False) for item in self._sweep_items(entry, day)]
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


@pytest.mark.parametrize(
    ("fault", "lived"),
    [
        (forgets_what_was_swept, HARD),
        (never_finishes_a_sweep, HARD),
        (leaves_empty_sweeps_open, EASY),
        (begins_the_next_block_at_once, SHORT_BLOCKS),
    ],
)
def test_a_fault_put_back_is_noticed(
    fault: Callable[[pytest.MonkeyPatch], None],
    lived: LivedCase,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    fault(monkeypatch)
    assert broken_in(lived, tmp_path)
