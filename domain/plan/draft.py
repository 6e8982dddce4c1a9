"""One way of laying all the work on a calendar, and the choice of the best way.

Ways are tried from the easiest week to the densest: a subject a week and a sweep a week; then
blocks that follow one another without waiting for the next week; then on the same day; and more
sweeps a sweep day where one is not enough.
"""

from collections.abc import Iterator, Sequence
from datetime import date, timedelta
from functools import cache, cached_property

from msgspec import Struct

from domain.plan.bench import Bench
from domain.plan.blocks import BlockLayer, Laid, Manner
from domain.plan.days import ONE_DAY, OpenDay, Use, monday
from domain.plan.pairing import Visit
from domain.plan.result import PlannedDay
from domain.plan.sweeps import Swept, lay_sweeps

SWEEPS_A_DAY = (1, 2, 3, 4, 6, 8, 12)
WEEK = timedelta(days=7)


class Draft(Struct, frozen=True, dict=True):
    """All the work on a calendar: blocks, sweep days, sweeps, and what found no day."""

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
            day >= block.first
            for block in self.blocks
            if (day := swept.get((block.visit.subject, block.visit.round - 1)))
        )


def best_draft(bench: Bench, coming: Sequence[Visit], begun: int, days: list[OpenDay]) -> Draft:
    """The easiest way in which everything finds a day in its turn; else what places most.

    `begun` is the last round that is under way or finished, 0 before the first.
    """
    if not days:
        blocks, sweeps = _by_kind(coming)
        return Draft([], blocks, [], [], sweeps)
    tried = []
    for draft in _ways(bench, coming, begun, days):
        if draft.complete and not draft.out_of_turn:
            return draft
        tried.append(draft)
    return min(tried, key=_shortcomings)


def lay_closely(bench: Bench, coming: Sequence[Visit], days: list[OpenDay]) -> list[Laid]:
    """The blocks laid as closely as can be, as far as the days reach."""
    revision = [day for day in days if day.use is Use.REVISION]
    return BlockLayer(bench, revision, Manner.SHARING).lay(_by_kind(coming)[0])[0]


def _shortcomings(draft: Draft) -> tuple[int, int]:
    return len(draft.blocks_left) + len(draft.sweeps_left), draft.out_of_turn


def _by_kind(coming: Sequence[Visit]) -> tuple[list[Visit], list[Visit]]:
    blocks = [visit for visit in coming if not visit.sweep]
    return blocks, [visit for visit in coming if visit.sweep]


def _ways(
    bench: Bench, coming: Sequence[Visit], begun: int, days: list[OpenDay]
) -> Iterator[Draft]:
    revision = [day for day in days if day.use is Use.REVISION]
    sweep_days = [day for day in days if day.use is Use.SWEEP]
    blocks, sweeps = _by_kind(coming)

    @cache
    def layout(manner: Manner) -> tuple[list[Laid], list[Visit], dict[Visit, date]]:
        laid, left = BlockLayer(bench, revision, manner).lay(blocks)
        return laid, left, _turns(bench, coming, begun, laid, days[0].day)

    for most in SWEEPS_A_DAY:
        for manner in Manner:
            laid, left, not_before = layout(manner)
            yield Draft(laid, left, *lay_sweeps(bench, sweep_days, sweeps, not_before, most))


def _turns(
    bench: Bench, coming: Sequence[Visit], begun: int, laid: list[Laid], first: date
) -> dict[Visit, date]:
    """The first day each sweep may take: its round has begun, its subject's block is over."""
    begins = _round_begins(bench, coming, begun, laid, first)
    ends = {block.visit: block.last for block in laid}
    turns, previous = {}, {}
    for visit in coming:
        subject = bench.subjects[visit.subject]
        if visit.sweep:
            block = previous.get(visit.subject)
            free = first if block is None else ends.get(block, date.max - ONE_DAY) + ONE_DAY
            turns[visit] = max(begins[visit.round], free, subject.open_from or first)
        else:
            previous[visit.subject] = visit
    return turns


def _round_begins(
    bench: Bench, coming: Sequence[Visit], begun: int, laid: list[Laid], first: date
) -> dict[int, date]:
    """The day each round begins: with its first block that is not pinned to a week, at the latest
    in the week after the blocks of the rounds before; a round that comes next begins at once.
    """
    pinned = {pin.subject for pin in bench.inputs.pins}
    begins: dict[int, date] = {}
    latest = first
    for number in sorted({visit.round for visit in coming}):
        own = [block for block in laid if block.visit.round == number]
        free = [block.first for block in own if block.visit.subject not in pinned]
        if number > begun:
            earlier = [block.last for block in laid if block.visit.round < number]
            week_after = monday(max(earlier)) + WEEK if earlier else first
            latest = max(latest, min([*free, week_after]))
        begins[number] = latest
    return begins
