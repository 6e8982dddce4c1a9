"""One way of laying all the work on the days there are, and the choice of the best way.

Ways are tried from the easiest week to the densest: a subject a week and a sweep a week; then
blocks that follow one another without waiting for the next week; then on the same day; and more
sweeps a sweep day where one is not enough.
"""

from collections.abc import Iterable, Iterator, Sequence
from datetime import date, timedelta
from functools import cache, cached_property

from msgspec import Struct

from domain.plan.blocks import BlockLayer, Laid, Manner
from domain.plan.days import ONE_DAY, monday
from domain.plan.pairing import Visit
from domain.plan.result import PlannedDay
from domain.plan.sweeps import Swept, lay_sweeps
from domain.plan.task import Task

SWEEPS_A_DAY = (1, 2, 3, 4, 6, 8, 12)
WEEK = timedelta(days=7)
NEVER = date.max


class Draft(Struct, frozen=True, dict=True):
    """All the work on its days: blocks, sweep days, sweeps, and what found no day."""

    blocks: list[Laid]
    blocks_left: list[Visit]
    sweep_days: list[PlannedDay]
    sweeps: list[Swept]
    sweeps_left: list[Visit]

    @property
    def complete(self) -> bool:
        """Whether everything found a day."""
        return not self.blocks_left and not self.sweeps_left

    @cached_property
    def out_of_turn(self) -> int:
        """Blocks that come before the same subject's sweep of an earlier round."""
        swept = {(sweep.visit.subject, sweep.visit.round): sweep.day for sweep in self.sweeps}
        return sum(
            day >= block.days[0].day
            for block in self.blocks
            if (day := swept.get((block.visit.subject, block.visit.round - 1)))
        )


def best_draft(task: Task) -> Draft:
    """The easiest way in which everything finds a day in its turn; else what places most."""
    return _best(_ways(task))


def with_blocks(task: Task, laid: list[Laid], left: list[Visit]) -> Draft:
    """The best way to lay the sweeps around blocks that are laid already."""
    not_before = _turns(task, laid)
    return _best(_draft(task, laid, left, not_before, most) for most in SWEEPS_A_DAY)


def _best(ways: Iterable[Draft]) -> Draft:
    tried = []
    for draft in ways:
        if draft.complete and not draft.out_of_turn:
            return draft
        tried.append(draft)
    return min(tried, key=_shortcomings)


def _shortcomings(draft: Draft) -> tuple[int, int]:
    return len(draft.blocks_left) + len(draft.sweeps_left), draft.out_of_turn


def _ways(task: Task) -> Iterator[Draft]:
    @cache
    def layout(manner: Manner) -> tuple[list[Laid], list[Visit], dict[Visit, date]]:
        laid, left = BlockLayer(task.bench, task.revision_days, manner).lay(task.blocks)
        return laid, left, _turns(task, laid)

    for most in SWEEPS_A_DAY:
        for manner in Manner:
            yield _draft(task, *layout(manner), most)


def _draft(
    task: Task, laid: list[Laid], left: list[Visit], not_before: dict[Visit, date], most: int
) -> Draft:
    def swept(evenly: bool) -> Draft:
        days, visits = task.sweep_days, task.sweeps
        return Draft(laid, left, *lay_sweeps(task.bench, days, visits, not_before, most, evenly))

    return _best(map(swept, (True, False) if most > 1 else (False,)))


def _turns(task: Task, laid: Sequence[Laid]) -> dict[Visit, date]:
    """The first day each sweep may take: its round has begun, its subject's block is over."""
    begins = _round_begins(task, laid)
    ends = {block.visit: block.last for block in laid}
    turns, previous = {}, {}
    for visit in task.coming:
        if not visit.sweep:
            previous[visit.subject] = ends.get(visit)
            continue
        end = previous.get(visit.subject, task.first - ONE_DAY)
        opens = task.bench.subjects[visit.subject].open_from or task.first
        free = NEVER if end is None else end + ONE_DAY
        turns[visit] = max(begins[visit.round], free, opens)
    return turns


def _round_begins(task: Task, laid: Sequence[Laid]) -> dict[int, date]:
    """The day each round begins: with its first block that is not pinned to a week, at the latest
    in the week after the blocks of the rounds before; a round that comes next begins at once.
    """
    pinned = {pin.subject for pin in task.bench.inputs.pins}
    begins: dict[int, date] = {}
    latest = task.first
    for number in sorted({visit.round for visit in task.coming}):
        if number > task.begun:
            latest = max(latest, _round_begin(task, laid, number, pinned))
        begins[number] = latest
    return begins


def _round_begin(task: Task, laid: Sequence[Laid], number: int, pinned: set[str]) -> date:
    own = [block for block in laid if block.visit.round == number]
    free = [block.first for block in own if block.visit.subject not in pinned]
    earlier = [block.last for block in laid if block.visit.round < number]
    week_after = monday(max(earlier)) + WEEK if earlier else task.first
    return min([*free, week_after])
