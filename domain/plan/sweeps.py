"""Sweeps laid on sweep days: one subject a day while there are days enough."""

from bisect import bisect_left
from collections.abc import Callable, Collection, Iterator, Mapping, Sequence
from datetime import date

from msgspec import Struct

from domain.plan.bench import Bench, planned, room
from domain.plan.days import OpenDay
from domain.plan.pairing import Visit, heads
from domain.plan.result import Piece, PlannedDay


class Swept(Struct, frozen=True):
    """A sweep on its day, with the hard-tier questions it takes and those it has no room for."""

    visit: Visit
    day: date
    questions: int
    beyond: int


def lay_sweeps(
    bench: Bench,
    days: Sequence[OpenDay],
    queue: Sequence[Visit],
    not_before: Mapping[Visit, date],
    most_a_day: int,
    evenly: bool = False,
) -> tuple[list[PlannedDay], list[Swept], list[Visit]]:
    """The sweep days, the sweeps on them in time order, and the visits that found no day.

    A visit takes its turn on a day after `not_before`. A day takes another subject while the
    whole of it fits; the day's first subject takes what there is room for. `evenly` spreads a
    round's visits over the days it has, instead of taking them as early as can be.
    """
    share = _even_share(days, not_before) if evenly else None
    waiting, planned_days, swept = list(queue), [], []
    fresh = set(queue).difference(heads(queue))
    for day in days:
        due = [visit for visit in waiting if not_before[visit] <= day.day]
        most = min(most_a_day, share(day.day, waiting)) if share else most_a_day
        taken = _take(bench, day, due[:most], fresh)
        swept.extend(taken)
        for sweep in taken:
            waiting.remove(sweep.visit)
        number = taken[0].visit.round if taken else 0
        planned_days.append(planned(day, number, list(_pieces(bench, day, taken))))
    return planned_days, swept, waiting


def _even_share(
    days: Sequence[OpenDay], not_before: Mapping[Visit, date]
) -> Callable[[date, Sequence[Visit]], int]:
    """How many visits a day takes, if those of the round are spread up to the next one's first."""
    dates = [day.day for day in days]

    def share(day: date, waiting: Sequence[Visit]) -> int:
        first = min((visit.round for visit in waiting), default=0)
        later = [not_before[visit] for visit in waiting if visit.round > first]
        own = len(waiting) - len(later)
        left = bisect_left(dates, min(later, default=date.max)) - bisect_left(dates, day)
        return -(-own // max(1, left))

    return share


def _take(
    bench: Bench, day: OpenDay, due: Sequence[Visit], fresh: Collection[Visit]
) -> list[Swept]:
    """The first of the visits that are due, as far as the day has room."""
    left, taken = room(day), []
    for visit in due:
        pace = bench.hundredths(visit.subject)
        wanted = bench.sweep_questions(visit.subject, visit in fresh)
        if taken and wanted * pace > left:
            break
        questions = min(wanted, max(1, left // pace))
        left -= questions * pace
        taken.append(Swept(visit, day.day, questions, wanted - questions))
    return taken


def _pieces(bench: Bench, day: OpenDay, taken: Sequence[Swept]) -> Iterator[Piece]:
    """The sweeps divided over the parts of the day by their minutes."""
    part, left = 0, float(day.parts[0])
    for sweep in taken:
        subject, rest = sweep.visit.subject, sweep.questions
        a_minute = 1 / bench.minutes(subject, 1)
        while rest:
            last = part == len(day.parts) - 1
            questions = rest if last else min(rest, int(left * a_minute))
            if questions:
                minutes = bench.minutes(subject, questions)
                yield Piece(part, subject, "", (), questions, minutes)
                rest, left = rest - questions, left - minutes
            if rest:
                part += 1
                left = float(day.parts[part])
