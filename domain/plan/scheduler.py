"""The plan's engine: from what is to be done and the time there is to a plan, day by day.

What cannot be kept is given up from the end of the plan backwards and only as far as needed:
even gaps and a day for each sweep, then a week for each block, its own weeks, its own days, and
last the minutes that sweeps leave of their days.
"""

from collections import Counter
from collections.abc import Collection, Iterator, Mapping, Sequence
from datetime import date
from itertools import permutations

from msgspec import Struct
from msgspec.structs import replace

from domain.plan.block_layout import BlockLayer, BlockLayout, BlockTask, Closeness
from domain.plan.inputs import ONE_DAY
from domain.plan.problem import PlanRequest, Problem
from domain.plan.sweep_layout import SweepLayout, SweepTask, lay_sweeps
from domain.plan.visits import Visit


class PlanDraft(Struct, frozen=True):
    """All visits on their days, and what finds none."""

    blocks: list[BlockLayout]
    blocks_left: list[BlockTask]
    sweeps: SweepLayout


def best_draft(problem: Problem) -> PlanDraft:
    """The draft that gives up least.

    Where none is complete, blocks take sweep days only if revision days don't hold them all.
    """
    complete = _first_complete(problem)
    if complete is None:
        if not problem.blocks_exceed_revision_days:
            without = _Manner().draft(problem, Closeness.SHARED_DAY)
            if not without.blocks_left:
                return without
        return _Manner().draft(problem, Closeness.SWEEP_DAYS)
    manner, level, best = complete
    count = len(problem.blocks)
    if level < (floor := problem.given_up):
        closer = manner.complete_draft(problem, [floor] * count)
        return closer if closer is not None else best
    high = level * count
    low = max(0, high - count, floor * count) + (high > floor * count)
    while low < high:
        middle = (low + high) // 2
        nearer = manner.complete_draft(problem, _levels(count, middle))
        if nearer is not None:
            high, best = middle, nearer
        else:
            low = middle + 1
    return best


def fits_before_exam(request: PlanRequest) -> bool:
    """Whether everything has its minutes before the exam: the plan's `feasible`."""
    return _first_complete(Problem(request)) is not None


def _first_complete(problem: Problem) -> "tuple[_Manner, Closeness, PlanDraft] | None":
    """The first complete draft of those that give up more and more."""
    if problem.is_beyond_all_minutes:
        return None
    for manner, level in _ways(problem):
        draft = manner.complete_draft(problem, [level] * len(problem.blocks))
        if draft is not None:
            return manner, level, draft
    return None


def _ways(problem: Problem) -> "Iterator[tuple[_Manner, Closeness]]":
    """Manners and closeness, by the order in which preferences are given up."""
    usual = _Manner()
    others = [_Manner(order) for order in _other_orders(problem.blocks)]
    if not problem.blocks_exceed_revision_days:
        for level in Closeness:
            if level < Closeness.SWEEP_DAYS:
                yield usual, level
        for manner in others:
            yield manner, Closeness.SHARED_DAY
    yield usual, Closeness.SWEEP_DAYS
    sweeps = len(problem.sweeps)
    reserves = {-(-sweeps // max(1, len(problem.sweep_rooms))), 0}
    for reserve in sorted(reserves, reverse=True):
        yield _Manner(reserve=reserve), Closeness.SWEEP_DAYS
    for manner in others:
        yield manner, Closeness.SWEEP_DAYS
        for reserve in sorted(reserves, reverse=True):
            yield _Manner(manner.order, reserve), Closeness.SWEEP_DAYS


MOST_REORDERED = 4
"""How many of the last blocks are tried in every order."""


def _other_orders(blocks: Sequence[BlockTask]) -> Iterator[tuple[int, ...]]:
    """Orders of the blocks other than theirs, those that change the fewest of the last first."""
    count = len(blocks)
    movable = [place for place, task in enumerate(blocks) if task.since is None]
    for number in range(2, min(MOST_REORDERED, len(movable)) + 1):
        front, tail = movable[:-number], movable[-number:]
        fixed = [place for place in range(count) if place not in tail and place not in front]
        for changed in permutations(tail):
            if changed[0] != tail[0] and _keeps_rounds(blocks, changed):
                yield (*fixed, *front, *changed)


def _keeps_rounds(blocks: Sequence[BlockTask], order: Sequence[int]) -> bool:
    """Whether each subject's blocks come round by round."""
    last: dict[str, int] = {}
    for visit in (blocks[place].visit for place in order):
        if visit.round < last.get(visit.subject, 0):
            return False
        last[visit.subject] = visit.round
    return True


def fits_at_own_pace(request: PlanRequest, seconds: Mapping[str, float]) -> bool:
    """Whether it does at measured seconds per question, by subject id."""
    return fits_before_exam(replace(request, seconds=seconds))


def _levels(count: int, given_up: int) -> list[Closeness]:
    """Each preference given up for ever more blocks from the end, one preference after another."""
    whole, rest = divmod(given_up, count) if count else (0, 0)
    return [Closeness(whole + (place >= count - rest)) for place in range(count)]


class _Manner(Struct, frozen=True):
    """How a draft is made: blocks in another `order` than theirs (their places), and blocks before
    sweeps, which keep only the minutes of `reserve` questions on each of their days.
    """

    order: tuple[int, ...] = ()
    reserve: int | None = None

    def draft(self, problem: Problem, level: Closeness) -> PlanDraft:
        """With the same closeness for all blocks, the last broken off where it is not whole."""
        tasks, levels = self._tasks(problem), [level] * len(problem.blocks)
        blocks = self._blocks(problem, tasks, levels, breaks_off=True)
        return _drafted(problem, blocks, _lay_sweeps(problem, blocks))

    def complete_draft(self, problem: Problem, levels: Sequence[Closeness]) -> PlanDraft | None:
        """Blocks, then sweeps around them; None where anything finds no minutes."""
        tasks = self._tasks(problem)
        blocks = self._blocks(problem, tasks, levels)
        if len(blocks) < len(tasks):
            return None
        sweeps = _lay_sweeps(problem, blocks)
        return None if sweeps.beyond else _drafted(problem, blocks, sweeps)

    def _tasks(self, problem: Problem) -> list[BlockTask]:
        return [problem.blocks[place] for place in self.order] or problem.blocks

    def _blocks(
        self,
        problem: Problem,
        tasks: Sequence[BlockTask],
        levels: Sequence[Closeness],
        *,
        breaks_off: bool = False,
    ) -> list[BlockLayout]:
        """The blocks on their days; once more where they take what sweeps leave."""
        if self.reserve is None:
            blocks = _lay_blocks(problem, tasks, levels, {}, breaks_off=breaks_off)
            if not _needs_idle(problem, blocks, levels):
                return blocks
            left = _lay_sweeps(problem, blocks).left
            idle = {day: left[day] for day in problem.sweep_rooms}
        else:
            kept = self.reserve * problem.longest_question
            idle = {day: max(0, room - kept) for day, room in problem.sweep_rooms.items()}
        return _lay_blocks(problem, tasks, levels, idle, breaks_off=breaks_off)


def _needs_idle(
    problem: Problem, blocks: Sequence[BlockLayout], levels: Sequence[Closeness]
) -> bool:
    """Whether blocks may take idle minutes of sweep days: when short, or for lost work."""
    if levels and levels[-1] is Closeness.SWEEP_DAYS:
        return True
    if not blocks or not levels:
        return False
    task = blocks[0].task
    if levels[0] > Closeness.OWN_WEEKS:
        return task.is_late
    # One that opens late in a week, behind a block in its own weeks, has lost nothing.
    before, calendar = problem.last_block, problem.revision_calendar
    is_behind = task.since is not None or task.due is not None
    is_behind = is_behind or (before is not None and calendar.runs_on(*before))
    return is_behind and _runs_on(problem, blocks[0])


def _runs_on(problem: Problem, layout: BlockLayout) -> bool:
    """Whether the block ends behind its own weeks."""
    begin = layout.task.due or layout.task.since or layout.slots[0].day
    own = problem.revision_calendar.last_own_week(layout.task, begin)
    return own is not None and layout.slots[-1].week > own


def _lay_blocks(
    problem: Problem,
    tasks: Sequence[BlockTask],
    levels: Sequence[Closeness],
    idle: Mapping[date, int],
    *,
    breaks_off: bool,
) -> list[BlockLayout]:
    layer = BlockLayer(problem.calendar(idle), problem.last_block, breaks_off=breaks_off)
    return layer.lay(tasks, levels)


def _drafted(problem: Problem, blocks: list[BlockLayout], sweeps: SweepLayout) -> PlanDraft:
    return PlanDraft(blocks, _left_of_blocks(problem, blocks), sweeps)


def _left_of_blocks(problem: Problem, blocks: Sequence[BlockLayout]) -> list[BlockTask]:
    """What the blocks leave: whole ones without days, and the rest of one that is broken off."""
    laid = {layout.task.visit: layout.task.questions for layout in blocks}
    return [
        task.parted(laid[task.visit])[1] if task.visit in laid else task
        for task in problem.blocks
        if laid.get(task.visit) != task.questions
    ]


def _lay_sweeps(problem: Problem, blocks: Sequence[BlockLayout]) -> SweepLayout:
    days = problem.done_days | {
        layout.task.visit: (layout.task.since or layout.days[0], layout.days[-1])
        for layout in blocks
    }
    tasks = _sweep_tasks(problem, days, {task.visit for task in _left_of_blocks(problem, blocks)})
    taken: Counter[date] = Counter()
    for layout in blocks:
        for slot, load in zip(layout.slots, layout.loads, strict=True):
            taken[slot.day] += load * layout.task.pace
    rooms = {day: room - taken[day] for day, room in problem.sweep_rooms.items()}
    ahead = [slot for slot in problem.revision if slot.day >= problem.request.first]
    spare = {slot.day: slot.room for slot in ahead if not taken[slot.day]}
    idle = {slot.day: max(0, slot.room - taken[slot.day]) for slot in ahead if taken[slot.day]}
    return lay_sweeps(tasks, list(problem.begun_sweeps.values()), rooms, spare, idle)


def _sweep_tasks(
    problem: Problem, days: Mapping[Visit, tuple[date, date]], not_whole: Collection[Visit]
) -> list[SweepTask]:
    """The sweeps to come; one that follows a block that is not whole finds no day."""
    request = problem.request
    begins = problem.round_begins(days)
    final = request.inputs.final_from or date.max
    ends = {number: begins.get(number + 1, request.end) for number in begins}
    tasks = []
    for visit in problem.sweeps:
        sequence = problem.sequences[visit.subject]
        place = sequence.index(visit)
        before, behind = sequence[:place], sequence[place + 1 :]
        previous = next((days[v][1] for v in reversed(before) if v in days), None)
        # A block that overtook its sweep no longer bounds it: the sweep is owed all the same.
        ahead = (days[v][0] for v in behind if v in days)
        following = next((day for day in ahead if day >= request.first), None)
        blocked = any(v in not_whole for v in before)
        opens = problem.opens.get(visit.subject, date.min)
        tasks.append(
            SweepTask(
                visit,
                problem.expected(visit),
                request.pace_of(visit.subject),
                after=date.max if blocked else max(previous or date.min, _eve(opens)),
                before=min(following or date.max, final),
                previous=previous,
                following=following,
                span=(begins[visit.round], max(ends[visit.round], begins[visit.round])),
            )
        )
    return sorted(tasks, key=_target)


def _eve(day: date) -> date:
    return day - ONE_DAY if day > date.min else day


def _target(task: SweepTask) -> tuple[int, int]:
    """Sweeps in the order of their rounds, and of where their gaps would be even."""
    known = [day.toordinal() for day in (task.previous, task.following) if day is not None]
    return task.visit.round, 2 * sum(known) // len(known) if known else 0
