"""When time is too short: what is done up to the exam, and what finds no day before it."""

from collections.abc import Iterable, Sequence
from datetime import date, timedelta

from msgspec import Struct
from msgspec.structs import replace

from domain.plan.bench import Bench
from domain.plan.blocks import BlockLayer, Laid, Manner
from domain.plan.days import Use, open_days
from domain.plan.draft import Draft, with_blocks
from domain.plan.pairing import Visit, heads
from domain.plan.result import Unplaced
from domain.plan.task import Task

LOOKED_BEYOND = timedelta(days=3 * 366)
"""How far past the exam days are counted that the work would still need."""


class Overflow(Struct, frozen=True):
    """The work up to the exam, what is left of it, and the days that would take at least."""

    draft: Draft
    unplaced: list[Unplaced]
    days: int


def overflow(task: Task, draft: Draft) -> Overflow:
    """The draft as it is, if all its blocks found days; else with its blocks laid closely."""
    if not draft.blocks_left:
        return Overflow(draft, _sweeps_left(task.bench, draft), len(draft.sweeps_left))
    laid = _on_and_on(task)
    exam = task.bench.inputs.exam
    outside = {day.day for block in laid for day in block.days if day.day >= exam}
    cut_off, never = _cut_off(task.bench, laid, exam), _never(task, laid)
    late = [unplaced.visit for unplaced in cut_off]
    over = with_blocks(task, [block for block in laid if block.visit not in late], late)
    unplaced = [*cut_off, *never, *_sweeps_left(task.bench, over)]
    days = len(outside) + len(never) + len(over.sweeps_left)
    return Overflow(replace(over, blocks=_before(laid, exam)), unplaced, days)


def _on_and_on(task: Task) -> list[Laid]:
    """The blocks laid as closely as can be, on past the exam."""
    inputs = task.bench.inputs
    beyond = open_days(inputs, inputs.exam, inputs.exam + LOOKED_BEYOND)
    days = [*task.revision_days, *(day for day in beyond if day.use is Use.REVISION)]
    return BlockLayer(task.bench, days, Manner.SHARING).lay(task.blocks)[0]


def _before(laid: Iterable[Laid], exam: date) -> list[Laid]:
    """The blocks' days before the exam; without those that have no work there."""
    cut = (Laid(block.visit, tuple(d for d in block.days if d.day < exam)) for block in laid)
    return [block for block in cut if any(day.pieces for day in block.days)]


def _cut_off(bench: Bench, laid: Sequence[Laid], exam: date) -> list[Unplaced]:
    """What of each block lies on the exam day or after."""
    found = []
    for block in laid:
        questions = sum(day.questions for day in block.days if day.day >= exam)
        if questions:
            found.append(_unplaced(bench, block.visit, questions))
    return found


def _never(task: Task, laid: Sequence[Laid]) -> list[Unplaced]:
    """Blocks that found no day at all, not even long after the exam."""
    found, begun = {block.visit for block in laid}, set(heads(task.blocks))
    return [
        _unplaced(task.bench, visit, task.bench.block_questions(visit.subject, visit not in begun))
        for visit in task.blocks
        if visit not in found
    ]


def _sweeps_left(bench: Bench, draft: Draft) -> list[Unplaced]:
    return [
        _unplaced(bench, visit, bench.sweep_questions(visit.subject, fresh=False))
        for visit in draft.sweeps_left
    ]


def _unplaced(bench: Bench, visit: Visit, questions: int) -> Unplaced:
    return Unplaced(visit, questions, bench.minutes(visit.subject, questions))
