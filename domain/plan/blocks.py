"""Blocks laid on revision days: one subject after the other, chapter by chapter."""

import math
from collections.abc import Callable, Sequence
from datetime import date
from enum import Enum, auto
from itertools import islice

from msgspec import Struct

from domain.plan.bench import Bench, Item, revision_day, room
from domain.plan.days import OpenDay, Use, monday, open_days
from domain.plan.pairing import Visit, heads
from domain.plan.partition import EMPTY, Fill, days_to_fill, fullest, holds, spread
from domain.plan.result import PlannedDay

AROUND = 10
"""How many revision days ahead a block looks to see how long its days are."""

LEAST_SHARED = 15
"""Minutes a day must have left for another block to begin on it."""


class Laid(Struct, frozen=True):
    """A block on its days, in order. A day may be empty where no chapter fits it."""

    visit: Visit
    days: tuple[PlannedDay, ...]

    @property
    def first(self) -> date:
        """The first day with work."""
        return next(day.day for day in self.days if day.pieces)

    @property
    def last(self) -> date:
        """The last day with work."""
        return next(day.day for day in reversed(self.days) if day.pieces)


class Measured(Struct, frozen=True):
    """A block's items, cut to at most so many questions, and the days they take (None: more than
    there are); early days may be as full as `allowed`.
    """

    items: list[Item]
    most: int
    days: int | None
    allowed: Fill = EMPTY


class Manner(Enum):
    """How closely blocks follow one another, the easiest first.

    WEEKLY leaves the rest of a week free where a block began and ended in it, also one that is
    finished already; IN_TURN begins the next block on the next day; SHARING on the same day
    where there is room left.
    """

    WEEKLY = auto()
    IN_TURN = auto()
    SHARING = auto()


class BlockLayer:
    """Lays visits on revision days in their order; whoever is pinned to a week begins in it."""

    def __init__(self, bench: Bench, days: Sequence[OpenDay], manner: Manner) -> None:
        self._bench = bench
        self._days = list(days)
        self._rooms = [room(day) for day in days]
        self._manner = manner
        self._since: dict[Visit, date] = {}
        self._at = 0

    def lay(self, queue: Sequence[Visit]) -> tuple[list[Laid], list[Visit]]:
        """The blocks that found days, in time order, and the visits that did not."""
        waiting, laid = list(queue), []
        pins = _pins(self._bench, waiting)
        fresh = set(waiting).difference(heads(waiting))
        since = self._bench.done.since
        self._since = {v: since[v.subject] for v in heads(waiting) if v.subject in since}
        if self._manner is Manner.WEEKLY and not self._since and self._bench.done.last_block:
            self._rest_after(*self._bench.done.last_block)
        while waiting and self._at < len(self._days):
            found = self._next(waiting, pins, fresh)
            if found is not None:
                waiting.remove(found[0])
                laid.append(self._put(*found))
            elif not self._skip(waiting, pins):
                break
        return laid, waiting

    def _next(
        self, waiting: list[Visit], pins: dict[Visit, date], fresh: set[Visit]
    ) -> tuple[Visit, Measured] | None:
        """The first visit whose turn it can be today, and what it takes."""
        today = self._days[self._at].day
        following = heads(waiting)
        due = sorted((v for v in following if v in pins and pins[v] <= today), key=pins.__getitem__)
        barrier = min((pins[v] for v in following if v in pins and v not in due), default=date.max)
        for visit in [*due, *(visit for visit in following if visit not in pins)]:
            if self._opens(visit) > today:
                continue
            found = self._as_begun(visit, self._measure(visit, visit in fresh))
            if found.days is None:
                continue
            if visit in due or self._days[self._at + found.days - 1].day < barrier:
                return visit, found
        return None

    def _measure(self, visit: Visit, fresh: bool, passed: Sequence[int] = ()) -> Measured:
        """The items and the fewest days they take; chapters are cut no more than that needs.

        A chapter is cut for the longest day around where it alone is more; for a shorter day
        only if that saves days. `passed` are the rooms of days before those ahead.
        """
        rooms, stretch = [*passed, *self._rooms[self._at :]], self._bench.inputs.stretch
        pace = self._bench.hundredths(visit.subject)
        around = {max(1, room // pace) for room in rooms[: len(passed) + AROUND]}
        best = Measured([], 0, None)
        for most in sorted(around, reverse=True):
            items = self._bench.items(visit.subject, fresh, most)
            days = days_to_fill(self._sizes(visit, items), rooms, stretch)
            if days is not None and (best.days is None or days < best.days):
                best = Measured(items, most, days)
        return best

    def _as_begun(self, visit: Visit, left: Measured) -> Measured:
        """What is left of a block under way: by the division it was begun with while that holds,
        so that a day done as planned changes nothing; else as it was measured.
        """
        if visit not in self._since:
            return left
        before = open_days(self._bench.inputs, self._since[visit], self._days[0].day)
        passed = [room(day) for day in before if day.use is Use.REVISION]
        whole = self._measure(visit, True, passed)
        days = (whole.days or 0) - len(passed)
        if days < 1 or (left.days is not None and left.days < days):
            return left
        sizes, rooms = self._sizes(visit, whole.items), [*passed, *self._rooms[self._at :]]
        rooms = rooms[: whole.days]
        allowed = fullest(sizes, rooms, spread(sizes, rooms))
        items = self._bench.items(visit.subject, False, whole.most)
        fits = holds(self._sizes(visit, items), rooms[len(passed) :], allowed)
        return Measured(items, whole.most, days, allowed) if fits else left

    def _sizes(self, visit: Visit, items: Sequence[Item]) -> list[int]:
        pace = self._bench.hundredths(visit.subject)
        return [len(item.numbers) * pace for item in items]

    def _put(self, visit: Visit, found: Measured) -> Laid:
        days = self._days[self._at : self._at + found.days]
        rooms = [room(day) for day in days]
        counts = spread(self._sizes(visit, found.items), rooms, found.allowed)
        work = iter(found.items)
        planned = tuple(
            revision_day(self._bench, visit, day, list(islice(work, taken)))
            for day, taken in zip(days, counts, strict=True)
        )
        self._at += found.days
        if self._manner is Manner.WEEKLY:
            self._rest_after(self._since.get(visit, days[0].day), days[-1].day)
        elif self._manner is Manner.SHARING:
            self._share(days[-1], planned[-1])
        return Laid(visit, planned)

    def _rest_after(self, first: date, last: date) -> None:
        """Leave the rest of the week free, if the block began and ended in it."""
        if monday(first) == monday(last):
            self._go_to(lambda day: monday(day) > monday(last))

    def _share(self, day: OpenDay, taken: PlannedDay) -> None:
        """Go back to a day that has room left, with what is left of it."""
        free = math.floor(day.minutes - taken.minutes)
        if free >= LEAST_SHARED:
            self._at -= 1
            self._days[self._at] = OpenDay(day.day, day.use, _last_minutes(day.parts, free))
            self._rooms[self._at] = room(self._days[self._at])

    def _skip(self, waiting: list[Visit], pins: dict[Visit, date]) -> bool:
        """Leave days free until a pinned week begins or a subject opens; False if none does."""
        today = self._days[self._at].day
        turns = (max(pins.get(visit, date.min), self._opens(visit)) for visit in waiting)
        ahead = [day for day in turns if day > today]
        if ahead:
            self._go_to(lambda day: day >= min(ahead))
        return bool(ahead)

    def _go_to(self, wanted: Callable[[date], bool]) -> None:
        while self._at < len(self._days) and not wanted(self._days[self._at].day):
            self._at += 1

    def _opens(self, visit: Visit) -> date:
        return self._bench.subjects[visit.subject].open_from or date.min


def _last_minutes(parts: Sequence[int], free: int) -> tuple[int, ...]:
    """The last `free` minutes of a day, by its parts: work fills the early parts first."""
    left = []
    for part in reversed(parts):
        left.append(min(part, free))
        free -= left[-1]
    return tuple(reversed(left))


def _pins(bench: Bench, waiting: Sequence[Visit]) -> dict[Visit, date]:
    """The week of each pinned visit: the first block of its subject that is still to come."""
    first = {visit.subject: visit for visit in heads(waiting)}
    return {first[pin.subject]: pin.week for pin in bench.inputs.pins if pin.subject in first}
