"""Which day each sweep takes, and where the rest of a sweep goes that is more than its day holds.

One sweep stands on a sweep day, in its round and between its subject's other visits, so that the
gaps between a subject's visits are as even as can be: the smallest sum of squared gaps. Sweeps
keep their order, which is no loss: the cost of a gap grows ever faster, so of two sweeps the one
whose visits lie earlier is never better off behind the other.
"""

from bisect import bisect_right
from collections.abc import Mapping, Sequence
from datetime import date

from msgspec import Struct

from domain.plan.visits import Visit

LEAST_SPILL = 10
"""Fewer questions than this make no day of their own: idle minutes of another day take them."""

OUT_OF_ROUND = 10**6
"""What a day outside its round costs a sweep, against squared days of gaps."""


class SweepTask(Struct, frozen=True):
    """A sweep to be laid: questions expected, pace in hundredths of a second.

    It stands after the day `after` and before the day `before`, where the subject's visits around
    it are known; `previous` and `following` are their days, `span` the days of its round.
    """

    visit: Visit
    questions: int
    pace: int
    after: date
    before: date
    previous: date | None
    following: date | None
    span: tuple[date, date]


class SweepShare(Struct, frozen=True):
    """Questions of a sweep on a day; `spill` for what an earlier day left."""

    visit: Visit
    day: date
    questions: int
    pace: int
    spill: bool = False


class SweepRest(Struct, frozen=True):
    """Questions of a sweep that wait for minutes after a day."""

    visit: Visit
    questions: int
    pace: int
    after: date


class SweepLayout(Struct, frozen=True):
    """All shares by day, and what finds no minutes; `left` is what is left of each day, in
    hundredths of a second.
    """

    shares: tuple[SweepShare, ...]
    beyond: tuple[SweepRest, ...]
    left: dict[date, int]


def one_per_day(tasks: Sequence[SweepTask], days: Sequence[date]) -> list[date] | None:
    """The day of each sweep, one a day and in their order; None where that does not go.

    Among equally good ways sweeps come as early as can be.
    """
    if len(tasks) > len(days):
        return None
    count, spare = len(days), len(days) - len(tasks)
    following: list[int | None] = [0] * (count + 1)
    choices: list[list[int]] = []
    for place in range(len(tasks) - 1, -1, -1):
        task = tasks[place]
        best: list[int | None] = [None] * (count + 1)
        chosen = [count] * (count + 1)
        for index in range(place + spare, place - 1, -1):
            best[index], chosen[index] = best[index + 1], chosen[index + 1]
            behind, cost = following[index + 1], _cost(task, days[index])
            if behind is None or cost is None:
                continue
            known = best[index]
            if known is None or cost + behind <= known:
                best[index], chosen[index] = cost + behind, index
        following = best
        choices.append(chosen)
    if following[0] is None:
        return None
    picked, index = [], 0
    for chosen in reversed(choices):
        picked.append(days[chosen[index]])
        index = chosen[index] + 1
    return picked


def sweep_days(
    tasks: Sequence[SweepTask], days: Sequence[date], rooms: Mapping[date, int]
) -> dict[SweepTask, date]:
    """The day of each sweep that finds one. While there are more sweeps than days, each day takes
    its part of them, as its room allows, until the rest can have one a day.

    What stands ahead of a day follows from what is left and from the days ahead alone, so that
    nothing moves for those who do each sweep on its day.
    """
    left, chosen = list(tasks), dict[SweepTask, date]()
    for place, day in enumerate(days):
        if (own_days := one_per_day(left, days[place:])) is not None:
            return chosen | dict(zip(left, own_days, strict=True))
        part, room, taken = -(-len(left) // len(days[place:])), rooms[day], 0
        for task in [task for task in left if task.after < day < task.before]:
            needed = task.questions * task.pace
            if taken and needed > room:
                continue
            chosen[task] = day
            left.remove(task)
            room, taken = room - needed, taken + 1
            if taken == part or _can_have_own_days(left, days[place + 1 :]):
                break
    return chosen


def _can_have_own_days(tasks: Sequence[SweepTask], days: Sequence[date]) -> bool:
    """Whether each sweep finds a day behind those before it."""
    place = 0
    for task in tasks:
        place = max(place, bisect_right(days, task.after))
        if place >= len(days) or days[place] >= task.before:
            return False
        place += 1
    return True


def _cost(task: SweepTask, day: date) -> int | None:
    """Squared gaps in days, None where the sweep may not stand there."""
    if not task.after < day < task.before:
        return None
    begin, end = task.span
    cost = OUT_OF_ROUND * (max(0, (begin - day).days) + max(0, (day - end).days + 1))
    if task.previous is not None:
        cost += (day - task.previous).days ** 2
    if task.following is not None:
        cost += (task.following - day).days ** 2
    return cost


def lay_sweeps(
    tasks: Sequence[SweepTask],
    begun: Sequence[SweepRest],
    rooms: Mapping[date, int],
    spare: Mapping[date, int],
    idle: Mapping[date, int],
) -> SweepLayout:
    """All sweeps on their days.

    `begun` are the rests of sweeps under way; `rooms` the sweep days, `spare` the revision days
    without a block, `idle` what blocks leave of the others, all in hundredths of a second.
    """
    layout = _laid_by_day(tasks, begun, rooms, spare, idle)
    if layout.beyond:
        thin = _laid_thinly(tasks, begun, rooms, spare, idle)
        return min(layout, thin, key=_missing)
    return layout


def _missing(layout: SweepLayout) -> tuple[int, int]:
    return sum(rest.questions * rest.pace for rest in layout.beyond), len(layout.beyond)


def _laid_by_day(
    tasks: Sequence[SweepTask],
    begun: Sequence[SweepRest],
    rooms: Mapping[date, int],
    spare: Mapping[date, int],
    idle: Mapping[date, int],
) -> SweepLayout:
    """Each sweep takes what its day holds, if it can a day of its own; the rest spills."""
    longest = max((task.pace for task in tasks), default=0)
    days = sorted(day for day, room in rooms.items() if room >= longest)
    chosen = sweep_days(tasks, days, rooms)
    laid = _SweepDays(rooms, spare, idle, frozenset(chosen.values()))
    rests = [*begun]
    for task, day in chosen.items():
        left = laid.take(task.visit, day, task.questions, task.pace)
        rests.append(SweepRest(task.visit, left, task.pace, day))
    beyond: list[SweepRest] = []
    others = [task for task in tasks if task not in chosen]
    for task in sorted(others, key=lambda task: task.before):
        rest = laid.among_others(task)
        (rests if rest.after < date.max else beyond).append(rest)
    for rest in sorted(rests, key=lambda rest: rest.after):
        if left := laid.spill(rest):
            beyond.append(SweepRest(rest.visit, left, rest.pace, rest.after))
    shares = sorted(laid.shares, key=lambda share: share.day)
    return SweepLayout(tuple(shares), tuple(beyond), laid.left)


def _laid_thinly(
    tasks: Sequence[SweepTask],
    begun: Sequence[SweepRest],
    rooms: Mapping[date, int],
    spare: Mapping[date, int],
    idle: Mapping[date, int],
) -> SweepLayout:
    """Each sweep begins as early as can be, with one question; the rests then share all minutes
    left.

    Those that begin last go first: their days are open to all others too.
    """
    left = {**idle, **spare, **rooms}
    taken: dict[tuple[Visit, date], int] = {}
    rests, beyond = list(begun), []
    for task in sorted(tasks, key=lambda task: task.before):
        first = min(1, task.questions)
        day = next(
            (
                day
                for day in sorted(rooms)
                if task.after < day < task.before and left[day] >= first * task.pace
            ),
            None,
        )
        if day is None:
            beyond.append(SweepRest(task.visit, task.questions, task.pace, date.max))
            continue
        left[day] -= first * task.pace
        taken[task.visit, day] = first
        rests.append(SweepRest(task.visit, task.questions - first, task.pace, day))
    begins = {rest.visit: rest.after for rest in rests}
    paces = {rest.visit: rest.pace for rest in rests}
    for rest in sorted(rests, key=lambda rest: rest.after, reverse=True):
        questions = rest.questions
        for day in sorted(day for day in left if day >= rest.after):
            count = min(questions, max(0, left[day]) // rest.pace)
            if count:
                key = rest.visit, day
                taken[key] = taken.get(key, 0) + count
                left[day] -= count * rest.pace
                questions -= count
        if questions:
            beyond.append(SweepRest(rest.visit, questions, rest.pace, rest.after))
    shares = [
        SweepShare(visit, day, count, paces[visit], day > begins[visit])
        for (visit, day), count in taken.items()
    ]
    shares.sort(key=lambda share: share.day)
    return SweepLayout(tuple(shares), tuple(beyond), left)


class _SweepDays:
    """Days with what is left of their minutes, while sweeps are put on them."""

    def __init__(
        self,
        rooms: Mapping[date, int],
        spare: Mapping[date, int],
        idle: Mapping[date, int],
        taken: frozenset[date],
    ) -> None:
        self.left = {**idle, **spare, **rooms}
        self.shares: list[SweepShare] = []
        self._sweep_days = sorted(rooms)
        self._spare = [*sorted(rooms.keys() - taken), *sorted(spare)]
        self._taken = sorted(taken)
        self._any = sorted(self.left)

    def take(self, visit: Visit, day: date, questions: int, pace: int, spill: bool = False) -> int:
        """Put as many of the questions on the day as it holds; how many that leaves."""
        taken = min(questions, max(0, self.left[day]) // pace)
        if spill and taken < min(LEAST_SPILL, questions):
            return questions
        self.left[day] -= taken * pace
        self.shares.append(SweepShare(visit, day, taken, pace, spill))
        return questions - taken

    def among_others(self, task: SweepTask) -> SweepRest:
        """The sweep on the first day that has room for it, else begun on the one with the most."""
        days = [day for day in self._sweep_days if task.after < day < task.before]
        needed = task.questions * task.pace
        whole = (day for day in days if self.left[day] >= needed)
        day = next(whole, None) or max(days, key=lambda day: self.left[day], default=None)
        if day is None or (needed and self.left[day] < task.pace):
            return SweepRest(task.visit, task.questions, task.pace, date.max)
        return SweepRest(
            task.visit, self.take(task.visit, day, task.questions, task.pace), task.pace, day
        )

    def spill(self, rest: SweepRest) -> int:
        """The rest on later days; how many questions find none."""
        left = rest.questions
        if left >= LEAST_SPILL:
            left = self._spill_over(self._spare, rest, left)
        if left >= LEAST_SPILL:
            left = self._spill_over(self._taken, rest, left)
        return self._spill_over(self._any, rest, left)

    def _spill_over(self, days: Sequence[date], rest: SweepRest, left: int) -> int:
        for day in days:
            if left and day > rest.after:
                left = self.take(rest.visit, day, left, rest.pace, spill=True)
        return left
