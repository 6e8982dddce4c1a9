"""When each round will be finished, as a range, from how the weeks so far went.

Each week did some share of the minutes set aside for revision. The work of the weeks to come is
the sum of future shares, and its range is the prediction interval for the mean of m future
observations from n past ones, x ± t(n-1) s √(1/m + 1/n): G. J. Hahn and W. Q. Meeker,
Statistical Intervals (1991), chapter 4; for m = 1 the NIST/SEMATECH e-Handbook of Statistical
Methods. The finish is the first day on which that sum reaches the work that is left.
"""

from collections.abc import Callable, Iterable, Sequence
from datetime import date, timedelta
from itertools import accumulate
from math import sqrt
from statistics import fmean, stdev

from msgspec import Struct

from domain.evidence.special import t_quantile
from domain.plan.days import ONE_DAY
from domain.plan.inputs import DAYS_A_WEEK

FEWEST_WEEKS = 3
"""Complete weeks needed before a range is told."""


class Work(Struct, frozen=True):
    """What is left up to the end of a round: minutes of revision from now, and by how many days
    the round's last sweep follows its last block.
    """

    round: int
    minutes: float
    lag_days: int = 0


class Finish(Struct, frozen=True):
    """The days on which a round may be finished; None: not within the days looked at.

    `likely` is as likely too early as too late; the pairs hold with 50 % and with 90 %.
    """

    round: int
    likely: date | None
    half: tuple[date | None, date | None]
    most: tuple[date | None, date | None]


def weekly_shares(
    done: Iterable[tuple[date, float]], set_aside: Iterable[tuple[date, float]], today: date
) -> list[float]:
    """The share of the revision minutes set aside that was done, per complete week up to today.

    Both are (day, minutes); weeks count back from the day before `today`, the first may be left
    out as incomplete. Weeks with nothing set aside are left out. Oldest first.
    """
    planned, worked = _by_week(set_aside, today), _by_week(done, today)
    complete = sorted(planned, reverse=True)
    return [
        worked.get(week, (0, 0.0))[1] / minutes
        for week in complete
        for days, minutes in (planned[week],)
        if days == DAYS_A_WEEK and minutes
    ]


def finishes(
    shares: Sequence[float], works: Iterable[Work], ahead: Sequence[tuple[date, float]]
) -> list[Finish]:
    """The finish of each round. `ahead` is every day from today on with its revision minutes.

    Gives nothing while fewer than `FEWEST_WEEKS` weeks are complete or nothing was done in them.
    """
    if len(shares) < FEWEST_WEEKS or not any(shares) or not ahead:
        return []
    week = DAYS_A_WEEK * fmean(minutes for _, minutes in ahead)
    return [_finish(shares, work, ahead, week) for work in works]


def _finish(
    shares: Sequence[float], work: Work, ahead: Sequence[tuple[date, float]], week: float
) -> Finish:
    mean, spread, count = fmean(shares), stdev(shares), len(shares)
    weeks_of_work = work.minutes / week if week else float("inf")

    def day(sureness: float) -> date | None:
        t = 0.0 if sureness == 0.5 else _t(count - 1, sureness)

        def reached(weeks: float) -> float:
            return weeks * mean - t * spread * sqrt(weeks + weeks * weeks / count)

        return _first(ahead, week, reached, weeks_of_work, work.lag_days)

    return Finish(work.round, day(0.5), (day(0.25), day(0.75)), (day(0.05), day(0.95)))


def _first(
    ahead: Sequence[tuple[date, float]],
    week: float,
    reached: Callable[[float], float],
    weeks_of_work: float,
    lag: int,
) -> date | None:
    """The day before which the work is reached, and from which on it stays so."""
    if weeks_of_work <= 0:
        return ahead[0][0] + (lag - 1) * ONE_DAY
    passed = accumulate(minutes for _, minutes in ahead)
    for (day, minutes), so_far in zip(ahead, passed, strict=True):
        if minutes and reached(so_far / week) >= weeks_of_work:
            return day + timedelta(days=lag)
    return None


def _t(freedom: int, sureness: float) -> float:
    """Student's t at any sureness, negative below one half."""
    return t_quantile(freedom, sureness) if sureness > 0.5 else -t_quantile(freedom, 1 - sureness)


def _by_week(minutes: Iterable[tuple[date, float]], today: date) -> dict[int, tuple[int, float]]:
    """Days and minutes per week counted back from today: week 0 ends yesterday."""
    weeks: dict[int, tuple[int, float]] = {}
    for day, amount in minutes:
        back = (today - day).days - 1
        if back >= 0:
            days, total = weeks.get(back // DAYS_A_WEEK, (0, 0.0))
            weeks[back // DAYS_A_WEEK] = (days + 1, total + amount)
    return weeks
