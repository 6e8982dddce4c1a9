"""Which days each block takes: its own weeks while there is time, ever closer together if not.

A block stands in the fewest weeks, counted from the first day of the week in which it begins.
What was lost makes it run on into the days behind them, and the blocks that follow begin at once
until one ends within its own weeks again: a lost day costs a day, whatever the weeks look like.
"""

from bisect import bisect_left
from collections.abc import Iterator, Sequence
from datetime import date
from enum import IntEnum
from functools import cached_property

from msgspec import Struct
from msgspec.structs import replace

from domain.plan.inputs import ONE_DAY
from domain.plan.packing import LEAST_PIECE, BlockDays
from domain.plan.visits import Visit

MOST_DAYS = 24
"""So many days are looked at first for a block, before all there are."""


class Closeness(IntEnum):
    """What is given up for a block, each with all before it."""

    OWN_WEEKS = 0
    SHARED_WEEK = 1
    ANY_DAY = 2
    SHARED_DAY = 3
    SWEEP_DAYS = 4


class DaySlot(Struct, frozen=True, gc=False):
    """A day that blocks may take; `room` in hundredths of a second, `week` its week's first day.

    A `strict` day may not be run over: a sweep day, or what another block left of a day.
    """

    day: date
    week: date
    room: int
    strict: bool = False


class BlockTask(Struct, frozen=True, dict=True):
    """A block to be laid: the questions `left` by chapter id, the chapters' sizes as a `whole`.

    `pace` is in hundredths of a second. `since` is the day the block began, None before; `credit`
    is what its days so far left of their rooms. It begins on `opens` at the earliest, and where it
    `needs_sweep`, behind a sweep day that follows the subject's `previous` block to come and the
    day from which the subject is `open_from`. One that `is_pinned` begins on `opens` whatever else
    waits. It takes no day from `until` on. `is_late`: work on it was lost. `due` is the day it was
    to begin, where that was lost; its own weeks count from there.
    """

    visit: Visit
    pace: int
    left: tuple[tuple[str, tuple[int, ...]], ...]
    whole: tuple[int, ...]
    opens: date = date.min
    since: date | None = None
    credit: int = 0
    needs_sweep: bool = False
    previous: Visit | None = None
    open_from: date = date.min
    is_pinned: bool = False
    until: date = date.max
    is_late: bool = False
    due: date | None = None
    least_piece: int = LEAST_PIECE

    @cached_property
    def sizes(self) -> tuple[int, ...]:
        """Questions left, chapter by chapter."""
        return tuple(len(numbers) for _, numbers in self.left)

    @cached_property
    def questions(self) -> int:
        """Questions left."""
        return sum(self.sizes)

    def parted(self, questions: int) -> "tuple[BlockTask, BlockTask]":
        """The block up to so many of its questions, and the rest."""
        first, rest = [], []
        for chapter, numbers in self.left:
            first.append((chapter, numbers[:questions]))
            rest.append((chapter, numbers[questions:]))
            questions = max(0, questions - len(numbers))
        return replace(self, left=tuple(first)), replace(self, left=tuple(rest))


class BlockLayout(Struct, frozen=True, dict=True):
    """A block on its days; the slots' rooms are what the days have for it."""

    task: BlockTask
    slots: tuple[DaySlot, ...]
    stretch: float

    @cached_property
    def loads(self) -> list[int]:
        """Questions per day."""
        return _block_days(self.task, self.slots, self.stretch).pack()

    @property
    def last_week(self) -> date:
        """The first day of the last week with work."""
        if self.slots[0].week == self.slots[-1].week:
            return self.slots[-1].week
        return next(s.week for s in reversed(self.slots) if s.day == self.days[-1])

    @cached_property
    def days(self) -> list[date]:
        """The days with work."""
        return [slot.day for slot, load in zip(self.slots, self.loads, strict=True) if load]


class BlockCalendar(Struct, frozen=True, dict=True):
    """The days for blocks. `revision` are all revision days from the plan's start on, also past
    ones, to reckon back to a week's beginning; `first` is the first day that can be planned;
    `idle` are the sweep days ahead with what their sweeps leave, those that hold one first.
    """

    revision: tuple[DaySlot, ...]
    first: date
    stretch: float
    first_weekday: int
    sweep_days: tuple[date, ...] = ()
    idle: tuple[DaySlot, ...] = ()

    @cached_property
    def _dates(self) -> list[date]:
        return [slot.day for slot in self.revision]

    def since(self, day: date) -> tuple[DaySlot, ...]:
        """The revision days from a day on."""
        return self.revision[bisect_left(self._dates, day) :]

    def week_of(self, day: date) -> date:
        """The first day of the day's week."""
        return day - (day.weekday() - self.first_weekday) % 7 * ONE_DAY

    def week_behind(self, week: date) -> date:
        """The first revision day behind a week, by the week's first day."""
        return next((s.day for s in self.since(week) if s.week > week), date.max)

    def runs_on(self, task: BlockTask, begin: date, last: date) -> bool:
        """Whether a block that ends on the day `last` does so behind its own weeks."""
        own = self.last_own_week(task, begin)
        return own is not None and self.week_of(last) > own

    def last_own_week(self, task: BlockTask, begin: date) -> date | None:
        """The last of the fewest weeks that hold the whole block, None if none do.

        They count from the beginning of the week in which it begins, or from where it opens.
        """
        slots = self.since(max(self.week_of(begin), min(task.opens, begin)))
        for some in _ever_more(slots):
            rooms = [slot.room for slot in some]
            days = BlockDays(
                task.whole, task.pace, rooms, self.stretch, least=task.least_piece
            ).fewest()
            if days is not None:
                return slots[days - 1].week if days else self.week_of(begin)
        return None

    def keeps_its_weeks(self, task: BlockTask, day: date) -> bool:
        """Whether from the day on the block takes no more weeks than from a week's beginning."""
        slots = self.since(max(day, task.opens))
        own = self.last_own_week(task, slots[0].day) if slots else None
        if own is None:
            return False
        within = [slot for slot in slots[:MOST_DAYS] if slot.week <= own]
        if len(within) == MOST_DAYS:
            within = [slot for slot in slots if slot.week <= own]
        return _block_days(task, within, self.stretch).fewest() is not None


FinishedBlock = tuple[BlockTask, date, date]
"""The block that was finished last, with the day it began, or was due if earlier, and its last."""


class BlockLayer:
    """Lays blocks in their order, each as close to the one before as its closeness says.

    One that `breaks_off` gives the days that are left to the first block they don't hold whole:
    no day stands empty while questions wait.
    """

    def __init__(
        self,
        calendar: BlockCalendar,
        before: FinishedBlock | None = None,
        *,
        breaks_off: bool = False,
    ) -> None:
        self._calendar, self._breaks_off = calendar, breaks_off
        self._from, self._used = calendar.first, 0
        self._laid: dict[Visit, BlockLayout] = {}
        self._passed_week: date | None = None
        """The week that must pass before a block begins that has weeks of its own."""
        if before is not None and not calendar.runs_on(*before):
            self._passed_week = calendar.week_of(before[2])

    def lay(self, tasks: Sequence[BlockTask], levels: Sequence[Closeness]) -> list[BlockLayout]:
        """The blocks that find days, in the order of time; the first that doesn't ends it, broken
        off where that is asked for.

        A block that is not open yet lets those behind it pass.
        """
        waiting, layouts = list(tasks), list[BlockLayout]()
        for place, level in enumerate(levels):
            close = level > 0 or (place + 1 < len(levels) and levels[place + 1] > 0)
            task = self._whose_turn(waiting)
            layout = self._lay_before_pins(task, level, close, waiting)
            if layout is None:
                break
            layouts.append(layout)
            if layout.task not in waiting:
                break
            waiting.remove(layout.task)
            self._laid[layout.task.visit] = layout
        return layouts

    def _lay_before_pins(
        self, task: BlockTask, level: Closeness, close: bool, waiting: Sequence[BlockTask]
    ) -> BlockLayout | None:
        """The block, or the pinned one whose week it would run into."""
        state = self._from, self._used, self._passed_week
        layout = self._lay(task, level, close)
        pinned = min((t for t in waiting if t.is_pinned), key=self._opens, default=None)
        if pinned is None or task.is_pinned or task.since is not None:
            return layout
        if layout is not None and layout.days[-1] < self._opens(pinned):
            return layout
        self._from, self._used, self._passed_week = state
        return self._lay(pinned, level, close)

    def _whose_turn(self, waiting: Sequence[BlockTask]) -> BlockTask:
        slots = self._calendar.since(self._from)
        day = slots[0].day if slots else self._from
        is_open = [task for task in waiting if self._opens(task) <= day]
        pinned = (task for task in is_open if task.is_pinned)
        return next(pinned, None) or next(iter(is_open), None) or min(waiting, key=self._opens)

    def _opens(self, task: BlockTask) -> date:
        if not task.needs_sweep:
            return task.opens
        calendar = self._calendar
        behind = max(calendar.first, task.open_from)
        if task.previous is not None:
            previous = self._laid.get(task.previous)
            behind = max(behind, previous.days[-1] + ONE_DAY) if previous else date.max
        sweeps = calendar.sweep_days
        place = bisect_left(sweeps, behind)
        return max(task.opens, sweeps[place] + ONE_DAY) if place < len(sweeps) else date.max

    def _lay(self, task: BlockTask, level: Closeness, close: bool) -> BlockLayout | None:
        if task.since is None:
            self._go_to_turn(task, level)
        if self._from >= task.until:
            return None
        opens = self._opens(task)
        if opens > self._from:
            self._from, self._used = opens, 0
        if close:
            idle = self._calendar.idle
            if level < Closeness.SWEEP_DAYS:
                week = self._calendar.week_of(self._calendar.first)
                idle = tuple(slot for slot in idle if task.is_late and slot.week == week)
            return self._close(task, level, idle, follows_at_once=level >= Closeness.ANY_DAY)
        return self._in_own_weeks(task)

    def _go_to_turn(self, task: BlockTask, level: Closeness) -> None:
        if self._used and level < Closeness.SHARED_DAY:
            self._from, self._used = self._from + ONE_DAY, 0
        week = self._passed_week
        if week is None or level >= Closeness.ANY_DAY:
            return
        if level == Closeness.SHARED_WEEK and self._calendar.keeps_its_weeks(task, self._from):
            return
        if self._calendar.week_of(self._from) <= week:
            self._from, self._used = self._calendar.week_behind(week), 0

    def _in_own_weeks(self, task: BlockTask) -> BlockLayout | None:
        slots = self._slots(task)
        if not slots:
            return self._close(task, Closeness.OWN_WEEKS, (), follows_at_once=True)
        due = None if self._laid else task.due
        own = self._calendar.last_own_week(task, due or task.since or slots[0].day)
        if own is None:
            return self._close(task, Closeness.OWN_WEEKS, (), follows_at_once=True)
        window = [slot for slot in slots if slot.week <= own]
        idle = [
            slot
            for slot in self._calendar.idle
            if self._from <= slot.day < task.until and slot.week <= own
        ]
        for count in range(len(idle) + 1):
            usable = _in_time(window, idle[:count])
            if usable and self._block_days(task, usable).fewest() is not None:
                layout = self._layout(task, usable)
                self._passed_week = layout.last_week
                self._from, self._used = self._calendar.week_behind(layout.last_week), 0
                return layout
        return self._close(task, Closeness.OWN_WEEKS, idle, follows_at_once=True)

    def _close(
        self, task: BlockTask, level: Closeness, idle: Sequence[DaySlot], follows_at_once: bool
    ) -> BlockLayout | None:
        """The fewest days from here on, idle minutes of sweep days among them."""
        usable = [slot for slot in idle if self._from <= slot.day < task.until]
        slots = _in_time(self._slots(task), usable)
        if self._used and slots and slots[0].day == self._from:
            day, left = slots[0], max(0, slots[0].room - self._used)
            slots[0] = DaySlot(day.day, day.week, left, True)
        count = None
        for some in _ever_more(slots):
            days = self._block_days(task, some)
            if count := days.fewest():
                break
        if not count and slots and self._breaks_off and task.until == date.max:
            task = task.parted(days.most())[0]
            days = self._block_days(task, slots)
            count = days.fewest()
        if not count:
            return None
        taken, last = slots[:count], slots[count - 1]
        self._passed_week = None if follows_at_once else last.week
        if level < Closeness.SHARED_DAY:
            self._from, self._used = last.day + ONE_DAY, 0
            return self._layout(task, taken)
        rest = days.least_on_last(count) * task.pace
        before = self._used if last.day == self._from else 0
        self._from, self._used = last.day, before + rest
        return self._layout(task, [*taken[:-1], DaySlot(last.day, last.week, rest, True)])

    def _slots(self, task: BlockTask) -> Sequence[DaySlot]:
        """The revision days from here on that the block may take."""
        slots = self._calendar.since(self._from)
        if task.until == date.max:
            return slots
        return [slot for slot in slots if slot.day < task.until]

    def _block_days(self, task: BlockTask, slots: Sequence[DaySlot]) -> BlockDays:
        return _block_days(task, slots, self._calendar.stretch)

    def _layout(self, task: BlockTask, slots: Sequence[DaySlot]) -> BlockLayout:
        return BlockLayout(task, tuple(slots), self._calendar.stretch)


def _block_days(task: BlockTask, slots: Sequence[DaySlot], stretch: float) -> BlockDays:
    rooms = [slot.room for slot in slots]
    strict = [slot.strict for slot in slots]
    return BlockDays(task.sizes, task.pace, rooms, stretch, task.credit, strict, task.least_piece)


def _ever_more(slots: Sequence[DaySlot]) -> Iterator[Sequence[DaySlot]]:
    """The first days, which nearly always hold a block, then all of them."""
    yield slots[:MOST_DAYS]
    if len(slots) > MOST_DAYS:
        yield slots


def _in_time(window: Sequence[DaySlot], idle: Sequence[DaySlot]) -> list[DaySlot]:
    if not idle:
        return list(window)
    return sorted([*window, *idle], key=lambda slot: slot.day)
