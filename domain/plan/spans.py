"""Where visits and rounds lie in a finished calendar, and the slack behind each."""

from bisect import bisect_left
from collections.abc import Sequence
from datetime import date

from domain.plan.blocks import Laid
from domain.plan.days import Use
from domain.plan.load import Done
from domain.plan.result import Placed, PlannedDay, RoundSpan
from domain.plan.sweeps import Swept


def placed_visits(
    blocks: Sequence[Laid], sweeps: Sequence[Swept], days: Sequence[PlannedDay]
) -> tuple[Placed, ...]:
    """Every visit with its days, by first day, and the revision slack behind each block."""
    free = [day.day for day in days if day.use is Use.SLACK]
    ends = [*(block.first for block in blocks[1:]), date.max][: len(blocks)]
    found = [Placed(sweep.visit, sweep.day, sweep.day, sweep.questions) for sweep in sweeps]
    for block, following in zip(blocks, ends, strict=True):
        questions = sum(day.questions for day in block.days)
        slack = _between(free, block.last, following)
        found.append(Placed(block.visit, block.first, block.last, questions, slack))
    return tuple(sorted(found, key=lambda visit: (visit.first, visit.visit.sweep)))


def round_spans(
    count: int, placed: Sequence[Placed], done: Done, days: Sequence[PlannedDay]
) -> tuple[RoundSpan, ...]:
    """The rounds' first and last day, done and planned, and the slack from each to the next."""
    free = [day.day for day in days if day.use is Use.SLACK]
    spans = [_span(number, placed, done) for number in range(1, count + 1)]
    begins = [first for first, _ in spans]
    found = []
    for number, (first, last) in enumerate(spans, 1):
        later = [begin for begin in begins[number:] if begin is not None]
        until = min(later, default=date.max)
        slack = _between(free, first, until) if first is not None else 0
        found.append(RoundSpan(number, first, last, slack))
    return tuple(found)


def _span(number: int, placed: Sequence[Placed], done: Done) -> tuple[date | None, date | None]:
    own = [visit for visit in placed if visit.visit.round == number]
    firsts = [visit.first for visit in own]
    lasts = [visit.last for visit in own]
    if number in done.round_days:
        begin, end = done.round_days[number]
        firsts.append(begin)
        lasts.append(end)
    return min(firsts, default=None), max(lasts, default=None)


def _between(free: Sequence[date], first: date, end: date) -> int:
    """How many of the free days lie from `first` up to, not including, `end`."""
    return bisect_left(free, end) - bisect_left(free, first)
