"""The plan's engine: from what is to be done and the time there is to a plan, day by day.

What cannot be kept is given up from the end of the plan backwards and only as far as needed:
even gaps and a day for each sweep, then a week for each block, its own weeks, its own days, and
last the minutes that sweeps leave of their days.
"""

from collections import Counter
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from datetime import date
from functools import cached_property
from itertools import permutations

from msgspec import Struct
from msgspec.structs import replace

from domain.errors import InputError
from domain.plan.block_layout import (
    BlockCalendar,
    BlockLayer,
    BlockLayout,
    BlockTask,
    Closeness,
    DaySlot,
    FinishedBlock,
)
from domain.plan.inputs import ONE_DAY, OpenDay, PlanInputs, SubjectLoad, Use, open_days, week_begin
from domain.plan.packing import LEAST_PIECE, BlockDays
from domain.plan.sweep_layout import SweepLayout, SweepRest, SweepTask, lay_sweeps
from domain.plan.visits import (
    NOTHING_DONE,
    Visit,
    VisitProgress,
    all_visits,
    opening_days,
    subject_order,
)

HUNDREDTHS = 6000
"""Loads and rooms are whole hundredths of a second, so that comparing them is exact."""


class PlanRequest(Struct, frozen=True, dict=True):
    """Everything a plan depends on, as of the morning of `today`.

    `seconds` per question by subject id stand in for the written ones; `rehearsal` are the
    questions and minutes of the exam's blueprint, where it is known.
    """

    inputs: PlanInputs
    exam: date
    today: date
    subjects: tuple[SubjectLoad, ...]
    progress: VisitProgress = NOTHING_DONE
    seconds: Mapping[str, float] = {}
    rehearsal: tuple[int, float] | None = None

    @classmethod
    def of(
        cls,
        inputs: PlanInputs,
        subjects: Iterable[SubjectLoad],
        today: date,
        progress: VisitProgress = NOTHING_DONE,
        seconds: Mapping[str, float] | None = None,
        rehearsal: tuple[int, float] | None = None,
    ) -> "PlanRequest":
        """The request, checked. Raises InputError where no plan can be made."""
        problems = inputs.problems(today)
        if problems or inputs.exam is None:
            raise InputError(" ".join(problems))
        counted = tuple(subject for subject in subjects if subject.questions)
        return cls(inputs, inputs.exam, today, counted, progress, seconds or {}, rehearsal)

    def changed(self, inputs: PlanInputs) -> "PlanRequest":
        """The same with other inputs, which have an exam day."""
        return replace(self, inputs=inputs, exam=inputs.exam or self.exam)

    @cached_property
    def first(self) -> date:
        """The first day that can be planned."""
        return max(self.today, self.inputs.start or self.today)

    @cached_property
    def end(self) -> date:
        """The first day behind those that visits may take: the exam, or its eve kept free."""
        end = self.exam - ONE_DAY if self.inputs.last_week else self.exam
        return max(self.first, end)

    @cached_property
    def calendar(self) -> tuple[OpenDay, ...]:
        """Every day from the plan's start, also past ones, up to the exam."""
        begin = min(self.inputs.start or self.first, self.first)
        return tuple(open_days(self.inputs, begin, max(self.first, self.exam)))

    @cached_property
    def order(self) -> tuple[str, ...]:
        """Subject ids as they take their turns."""
        return tuple(subject_order(self.inputs, self.subjects, self.inputs.start or self.today))

    @cached_property
    def by_id(self) -> dict[str, SubjectLoad]:
        """The subjects by id."""
        return {subject.id: subject for subject in self.subjects}

    @cached_property
    def pace(self) -> int:
        """Hundredths of a second per question, as written."""
        return max(1, round(self.inputs.seconds * 100))

    def pace_of(self, subject: str) -> int:
        """Hundredths of a second per question of a subject."""
        own = self.seconds.get(subject)
        return self.pace if own is None else max(1, round(own * 100))


class Problem:
    """The visits that are still to come as tasks, and the days they may take."""

    def __init__(self, request: PlanRequest) -> None:
        self.request = request
        inputs, progress = request.inputs, request.progress
        self.opens = opening_days(inputs, request.subjects)
        self.pins = {pin.subject: pin.week for pin in inputs.pins}
        reserve = frozenset(inputs.reserve)
        usable = [day for day in request.calendar if day.parts and day.day not in reserve]
        self.revision = tuple(
            DaySlot(day.day, week_begin(inputs, day.day), day.minutes * HUNDREDTHS)
            for day in usable
            if day.use is Use.REVISION and day.day < request.end
        )
        self.sweep_rooms = {
            day.day: day.minutes * HUNDREDTHS
            for day in usable
            if day.use is Use.SWEEP and request.first <= day.day < request.end
        }
        self.sequences: dict[str, list[Visit]] = {}
        self.visits = all_visits(inputs, request.order)
        for visit in self.visits:
            self.sequences.setdefault(visit.subject, []).append(visit)
        self.done_days: dict[Visit, tuple[date, date]] = {}
        self.void: set[Visit] = set()
        """Blocks of which nothing is left to do."""
        self._read_done(progress)
        self.blocks = self._blocks()
        self.sweeps = [
            visit
            for visit in self.visits
            if visit.sweep and visit not in self.done_days and visit not in self.begun_sweeps
        ]

    def _read_done(self, progress: VisitProgress) -> None:
        seen: Counter[tuple[str, bool]] = Counter()
        self.begun_sweeps: dict[Visit, SweepRest] = {}
        yesterday = self.request.first - ONE_DAY
        for visit in self.visits:
            kind = (visit.subject, visit.sweep)
            if span := progress.finished(visit, seen[kind]):
                self.done_days[visit] = (span.first, span.last)
                seen[kind] += 1
            elif visit.sweep and visit.subject in progress.open_sweeps:
                begun = progress.open_sweeps[visit.subject]
                if not any(v.subject == visit.subject for v in self.begun_sweeps):
                    pace = self.request.pace_of(visit.subject)
                    self.begun_sweeps[visit] = SweepRest(visit, len(begun.left), pace, yesterday)
                    self.done_days.setdefault(visit, (begun.day, begun.day))

    def _blocks(self) -> list[BlockTask]:
        begun: set[str] = set()
        tasks = []
        for visit in self.visits:
            if visit.sweep or visit in self.done_days:
                continue
            fresh = visit.subject in begun
            begun.add(visit.subject)
            task = self._block(visit, fresh)
            if task.questions:
                tasks.append(task)
            else:
                self.void.add(visit)
        turn = self._next_turn(tasks)
        tasks = [self._with_lost_work(task, is_turn=task is turn) for task in tasks]
        return sorted(tasks, key=lambda task: not self._is_under_way(task))

    def _next_turn(self, tasks: Sequence[BlockTask]) -> BlockTask | None:
        """The block begun first, else the one that may begin now."""
        begun = [task for task in tasks if task.since is not None]
        if begun:
            return min(begun, key=lambda task: task.since or date.max)
        first = self.request.first
        may_begin = [task for task in tasks if task.opens <= first and not task.needs_sweep]
        return next((task for task in may_begin if task.is_pinned), next(iter(may_begin), None))

    def _with_lost_work(self, task: BlockTask, *, is_turn: bool) -> BlockTask:
        """The block with the day it was due, where it was its turn and days since were lost."""
        if is_turn:
            due = self._due(task.visit, self._turn_behind_finished)
            if due < (task.since or self.request.first):
                task = replace(task, due=due)
        return replace(task, is_late=True) if self._is_late(task) else task

    def _is_late(self, task: BlockTask) -> bool:
        """Whether the block now needs a later day than it did when it began, or was due."""
        begin = task.due or task.since
        if begin is None:
            return False
        request = self.request
        done = request.progress.done_on.get(task.visit.subject, {})
        then = [slot for slot in self.revision if slot.day >= begin]
        rooms = [slot.room for slot in then]
        if task.due is None and rooms and then[0].day == task.since:
            rooms[0] = min(rooms[0], done.get(task.since, 0) * task.pace)
        now = [slot for slot in then if slot.day >= request.first]
        stretch = request.inputs.stretch
        before = BlockDays(task.whole, task.pace, rooms, stretch, least=task.least_piece).fewest()
        after = BlockDays(
            task.sizes,
            task.pace,
            [slot.room for slot in now],
            stretch,
            task.credit,
            least=task.least_piece,
        ).fewest()
        return bool(before and after) and now[(after or 1) - 1].day > then[(before or 1) - 1].day

    def _is_under_way(self, task: BlockTask) -> bool:
        """Whether so much of the block is done that it comes before all others.

        Before final revision all blocks do that are begun: they are finished inside it.
        """
        if task.since is not None and self.request.inputs.final_from is not None:
            return True
        return task.since is not None and 4 * task.questions <= 3 * sum(task.whole)

    def _block(self, visit: Visit, fresh: bool) -> BlockTask:
        request, name = self.request, visit.subject
        left_out = frozenset(request.inputs.left_out)
        chapters = [c for c in request.by_id[name].chapters if c.id not in left_out]
        covered: Mapping[str, frozenset[int]] = {} if fresh else request.progress.covered
        left = tuple(
            (chapter.id, numbers)
            for chapter in chapters
            if (numbers := _without(chapter.numbers, covered.get(chapter.id)))
        )
        opens = self.opens.get(name, date.min)
        pinned = None if fresh else self.pins.get(name)
        since = None if fresh else request.progress.since.get(name)
        final = request.inputs.final_from
        return BlockTask(
            visit,
            request.pace_of(name),
            left,
            tuple(len(chapter.numbers) for chapter in chapters),
            max(opens, pinned or opens),
            since,
            0 if fresh else self._credit(name),
            *self._sweep_before(visit),
            opens,
            is_pinned=pinned is not None and since is None,
            until=date.max if final is None or since is not None else final,
            least_piece=self._least_piece(request.pace_of(name)),
        )

    def _least_piece(self, pace: int) -> int:
        """The fewest questions in a piece: at most half a day's, so that any chapter can be cut."""
        longest = max((slot.room for slot in self.revision), default=0)
        holds = int(longest * (1 + self.request.inputs.stretch) / pace)
        return max(1, min(LEAST_PIECE, (holds + 1) // 2))

    def _sweep_before(self, block: Visit) -> tuple[bool, Visit | None]:
        """Whether a sweep to come stands before the block, and the block to come before that."""
        sequence = self.sequences[block.subject]
        before = sequence[: sequence.index(block)]
        if not before or not before[-1].sweep or before[-1] in self.done_days:
            return False, None
        blocks = [
            v for v in before if not v.sweep and v not in self.done_days and v not in self.void
        ]
        return True, blocks[-1] if blocks else None

    def _credit(self, subject: str) -> int:
        """What the days of the block under way left of their rooms. A day counts as run over by
        no more than days may be planned over: what was done beyond that was done ahead.
        """
        done = self.request.progress.done_on.get(subject)
        if not done:
            return 0
        pace, stretch = self.request.pace_of(subject), self.request.inputs.stretch
        return sum(
            max(slot.room - done[slot.day] * pace, -round(stretch * slot.room))
            for slot in self.revision
            if slot.day in done and slot.day < self.request.first
        )

    @cached_property
    def longest_question(self) -> int:
        """The most that a question of a sweep to come takes."""
        paces = (self.request.pace_of(visit.subject) for visit in self.sweeps)
        return max(paces, default=0)

    @cached_property
    def _block_minutes(self) -> int:
        """What blocks need beyond what their own days have left."""
        return sum(max(0, task.questions * task.pace - task.credit) for task in self.blocks)

    @cached_property
    def _revision_minutes(self) -> int:
        return sum(slot.room for slot in self.revision if slot.day >= self.request.first)

    @property
    def blocks_exceed_revision_days(self) -> bool:
        """Whether blocks need more minutes than revision days have."""
        return self._block_minutes > self._revision_minutes

    @property
    def is_beyond_all_minutes(self) -> bool:
        """Whether all visits need more minutes than there are."""
        pace_of = self.request.pace_of
        sweeps = sum(self.expected(visit) * pace_of(visit.subject) for visit in self.sweeps)
        sweeps += sum(rest.questions * rest.pace for rest in self.begun_sweeps.values())
        there_are = self._revision_minutes + sum(self.sweep_rooms.values())
        return self._block_minutes + sweeps > there_are

    @cached_property
    def _finished_blocks(self) -> list[tuple[Visit, date, date]]:
        """The finished blocks in the order of time, with the day each began, or was due where days
        were lost before it began, and its last.
        """
        blocks = [(v, *days) for v, days in self.done_days.items() if not v.sweep]
        blocks.sort(key=lambda block: (block[2], block[1]))
        turn, finished = self.request.inputs.start or self.request.first, []
        for visit, first, last in blocks:
            begin = min(first, self._due(visit, turn))
            finished.append((visit, begin, last))
            turn = self._turn_behind(visit, begin, last)
        return finished

    @property
    def _turn_behind_finished(self) -> date:
        """The day on which the block behind all finished ones may begin."""
        if self._finished_blocks:
            return self._turn_behind(*self._finished_blocks[-1])
        return self.request.inputs.start or self.request.first

    def _turn_behind(self, visit: Visit, begin: date, last: date) -> date:
        """The day on which the next block may begin: at once where this one ran on."""
        calendar = self.revision_calendar
        if calendar.runs_on(self._block(visit, fresh=True), begin, last):
            return last + ONE_DAY
        return calendar.week_behind(calendar.week_of(last))

    def _due(self, visit: Visit, turn: date) -> date:
        """The revision day on which a block was to begin at the latest whose turn came then."""
        name = visit.subject
        sequence = self.sequences[name]
        done = [self.done_days[v] for v in sequence[: sequence.index(visit)] if v in self.done_days]
        behind = (first + ONE_DAY for first, _ in done)
        may = max(turn, self.opens.get(name, date.min), self.pins.get(name, date.min), *behind)
        return next((slot.day for slot in self.revision if slot.day >= may), date.max)

    @cached_property
    def last_block(self) -> FinishedBlock | None:
        """The block finished last, with its days."""
        if not self._finished_blocks:
            return None
        visit, begin, last = self._finished_blocks[-1]
        return self._block(visit, fresh=True), begin, last

    @cached_property
    def given_up(self) -> Closeness:
        """What the block finished last or under way did without, as it followed the one before.

        What stands behind it does without it too, or the rest of a plan that has just room would
        move apart as soon as less of it is left. Running on after lost work gives up nothing.
        Where the block before took its week's last day nothing can be told: then those before
        tell.
        """
        finished, calendar = self._finished_blocks, self.revision_calendar
        begins = [first for _, first, _ in finished[1:]]
        begins += [task.due or task.since for task in self.blocks if task.since is not None][:1]
        for (visit, first, last), begin in reversed(list(zip(finished, begins, strict=False))):
            week = calendar.week_of(last)
            if calendar.week_of(begin) > week:
                between = (slot for slot in self.revision if last < slot.day < begin)
                if any(slot.week == week for slot in between):
                    return Closeness.OWN_WEEKS
                continue
            own = calendar.last_own_week(self._block(visit, fresh=True), first)
            if own is None or week > own:
                return Closeness.OWN_WEEKS
            return Closeness.SHARED_DAY if begin <= last else Closeness.SHARED_WEEK
        return Closeness.OWN_WEEKS

    @cached_property
    def revision_calendar(self) -> BlockCalendar:
        """The days for blocks while none takes a sweep day."""
        return self.calendar({})

    def calendar(self, idle: Mapping[date, int]) -> BlockCalendar:
        """The days for blocks, with what sweeps leave of theirs."""
        inputs, first = self.request.inputs, self.request.first
        slots = [
            DaySlot(day, week_begin(inputs, day), room, True)
            for day, room in sorted(idle.items())
            if room > 0
        ]
        slots.sort(key=lambda slot: (slot.room == self.sweep_rooms[slot.day], slot.day))
        weekday = week_begin(inputs, first).weekday()
        sweep_days = tuple(sorted(self.sweep_rooms))
        return BlockCalendar(
            self.revision, first, inputs.stretch, weekday, sweep_days, tuple(slots)
        )

    def expected(self, visit: Visit) -> int:
        """Repeatedly missed questions that a sweep to come is expected to take."""
        subject = self.request.by_id[visit.subject]
        return subject.expected_repeated(self.request.inputs.hard_share)

    def round_begins(self, days: Mapping[Visit, tuple[date, date]]) -> dict[int, date]:
        """The first day of each round: of its first block, else behind the blocks before."""
        request = self.request
        begins: dict[int, date] = {}
        latest = request.inputs.start or request.first
        for number in range(1, request.inputs.rounds + 1):
            firsts = [span[0] for v, span in days.items() if v.round == number and not v.sweep] + [
                task.since
                for task in self.blocks
                if task.since is not None and task.visit.round == number
            ]
            earlier = [span[1] for v, span in days.items() if v.round < number and not v.sweep]
            fallback = max(earlier) + ONE_DAY if earlier and number > 1 else latest
            latest = max(latest, min(firsts, default=fallback)) if number > 1 else latest
            begins[number] = latest
        return begins


def _without(numbers: tuple[int, ...], gone: frozenset[int] | None) -> tuple[int, ...]:
    return tuple(number for number in numbers if number not in gone) if gone else numbers


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
    if blocks and blocks[0].task.is_late and levels[0] > Closeness.OWN_WEEKS:
        return True
    return (
        bool(blocks)
        and bool(levels)
        and levels[0] is Closeness.OWN_WEEKS
        and (_runs_on(problem, blocks[0]))
    )


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
    rests = (task.parted(laid.get(task.visit, 0))[1] for task in problem.blocks)
    return [rest for rest in rests if rest.questions]


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
