"""What a plan is made of on a morning: the request, and what is still to come as tasks."""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from functools import cached_property

from msgspec import Struct
from msgspec.structs import replace

from domain.errors import InputError
from domain.plan.block_layout import BlockCalendar, BlockTask, Closeness, DaySlot, FinishedBlock
from domain.plan.inputs import ONE_DAY, OpenDay, PlanInputs, SubjectLoad, Use, open_days, week_begin
from domain.plan.packing import LEAST_PIECE, BlockDays
from domain.plan.sweep_layout import SweepRest
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
        Where the block before left no day of its week that the next could have begun on within
        its own weeks, nothing can be told: then those before tell.
        """
        finished, calendar = self._finished_blocks, self.revision_calendar
        followers = [(visit, begin) for visit, begin, _ in finished[1:]]
        under_way = (task for task in self.blocks if task.since is not None)
        followers += [(task.visit, task.due or task.since or date.max) for task in under_way][:1]
        for (visit, first, last), (follower, begin) in reversed(
            list(zip(finished, followers, strict=False))
        ):
            week = calendar.week_of(last)
            if calendar.week_of(begin) > week:
                earliest = self._due(follower, last + ONE_DAY)
                task = self._block(follower, fresh=True)
                if calendar.week_of(earliest) == week and calendar.keeps_its_weeks(task, earliest):
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
