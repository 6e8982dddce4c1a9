"""Blocks laid on revision days: one subject after the other, chapter by chapter."""

import math
from collections.abc import Callable, Sequence
from datetime import date
from enum import Enum, auto
from itertools import islice

from msgspec import Struct

from domain.plan.bench import Bench, Item, revision_day, room
from domain.plan.days import OpenDay, monday
from domain.plan.pairing import Visit, heads
from domain.plan.partition import days_to_fill, spread
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


class Manner(Enum):
    """How closely blocks follow one another, the easiest first.

    WEEKLY leaves the rest of a week free where a block began and ended in it; IN_TURN begins
    the next block on the next day; SHARING on the same day where there is room left.
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
    ) -> tuple[Visit, list[Item], int] | None:
        """The first visit whose turn it can be today, its items and how many days it takes."""
        today = self._days[self._at].day
        following = heads(waiting)
        due = sorted((v for v in following if v in pins and pins[v] <= today), key=pins.__getitem__)
        barrier = min((pins[v] for v in following if v in pins and v not in due), default=date.max)
        for visit in [*due, *(visit for visit in following if visit not in pins)]:
            if self._opens(visit) > today:
                continue
            items, days = self._measure(visit, visit in fresh)
            if days is None:
                continue
            if visit in due or self._days[self._at + days - 1].day < barrier:
                return visit, items, days
        return None

    def _measure(self, visit: Visit, fresh: bool) -> tuple[list[Item], int | None]:
        """The items and the fewest days they take; chapters are cut no more than that needs.

        A chapter is cut for the longest day around where it alone is more; for a shorter day
        only if that saves days.
        """
        pace = self._bench.hundredths(visit.subject)
        rooms, stretch = self._rooms[self._at :], self._bench.inputs.stretch
        around = {max(1, room // pace) for room in rooms[:AROUND]}
        best: tuple[list[Item], int | None] = ([], None)
        for most in sorted(around, reverse=True):
            items = self._bench.items(visit.subject, fresh, most)
            days = days_to_fill([len(item.numbers) * pace for item in items], rooms, stretch)
            if days is not None and (best[1] is None or days < best[1]):
                best = items, days
        return best

    def _put(self, visit: Visit, items: list[Item], count: int) -> Laid:
        days = self._days[self._at : self._at + count]
        counts = spread([len(item.numbers) for item in items], [room(day) for day in days])
        work = iter(items)
        planned = tuple(
            revision_day(self._bench, visit, day, list(islice(work, taken)))
            for day, taken in zip(days, counts, strict=True)
        )
        self._at += count
        week = monday(self._since.get(visit, days[0].day))
        if self._manner is Manner.WEEKLY and week == monday(days[-1].day):
            self._go_to(lambda day: monday(day) > week)
        elif self._manner is Manner.SHARING:
            self._share(days[-1], planned[-1])
        return Laid(visit, planned)

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
