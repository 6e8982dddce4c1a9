"""When each round will be finished, as a range, from how the weeks so far went.

Of each past week it is known what share of its planned minutes was done. The mean share over the
weeks to come lies in the prediction interval for the mean of m future observations from n past
ones, x ± t(n-1) s √(1/m + 1/n): G. J. Hahn and W. Q. Meeker, Statistical Intervals (1991),
chapter 4; for m = 1 the NIST/SEMATECH e-Handbook of Statistical Methods. The plan is then lived
through at that share of what each day asks.

A few weeks that all went well say little about the bad ones to come, so s is the weeks' deviation
pooled with a stated one, as with the scaled inverse-χ² prior of Gelman et al., Bayesian Data
Analysis, section 2.6.
"""

from collections.abc import Iterable, Sequence
from datetime import date
from math import sqrt
from statistics import fmean, stdev

from msgspec import Struct

from domain.evidence.special import t_quantile
from domain.plan.days import ONE_DAY
from domain.plan.inputs import DAYS_A_WEEK

FEWEST_WEEKS = 3
"""Weeks with work needed before a range is told."""

STATED_DEVIATION, STATED_WEEKS = 0.2, 1
"""How much weeks differ before any is known, and how many weeks that counts for (common practice,
no source; the range is backtested with it)."""

Asked = tuple[date, float]
"""A day to come and the minutes of revision it asks for."""


class Work(Struct, frozen=True):
    """What is left up to the end of a round: minutes of revision from now, and by how many days
    the round's last sweep follows its last block.
    """

    round: int
    minutes: float
    lag_days: int = 0


class Finish(Struct, frozen=True):
    """The days on which a round may be finished; None: not within the days looked at.

    `likely` is the day at the mean share; the pairs hold with 50 % and with 90 %.
    """

    round: int
    likely: date | None
    half: tuple[date | None, date | None]
    most: tuple[date | None, date | None]


def finishes(
    shares: Sequence[float], works: Iterable[Work], ahead: Sequence[Asked]
) -> list[Finish]:
    """The finish of each round, from the weekly shares so far and every day from today on.

    Gives nothing while fewer than `FEWEST_WEEKS` weeks are known or nothing was done in them.
    """
    if len(shares) < FEWEST_WEEKS or not any(shares) or not ahead:
        return []
    return [_finish(shares, work, ahead) for work in works]


def _finish(shares: Sequence[float], work: Work, ahead: Sequence[Asked]) -> Finish:
    mean, count = fmean(shares), len(shares)
    likely = _reached(mean, work.minutes, ahead)
    weeks = (((likely or ahead[-1][0]) - ahead[0][0]).days + 1) / DAYS_A_WEEK
    known = count - 1 + STATED_WEEKS
    spread = _deviation(shares) * sqrt(1 / weeks + 1 / count)

    def end(confidence: float, side: int) -> date | None:
        share = mean + side * t_quantile(known, confidence) * spread
        return _with_lag(_reached(share, work.minutes, ahead), work)

    return Finish(
        work.round,
        _with_lag(likely, work),
        (end(0.75, +1), end(0.75, -1)),
        (end(0.95, +1), end(0.95, -1)),
    )


def _deviation(shares: Sequence[float]) -> float:
    """The deviation of the weeks, pooled with the stated one."""
    known = len(shares) - 1
    squares = known * stdev(shares) ** 2 + STATED_WEEKS * STATED_DEVIATION**2
    return sqrt(squares / (known + STATED_WEEKS))


def _reached(share: float, minutes: float, ahead: Iterable[Asked]) -> date | None:
    """The day on which so many minutes are done, at a constant share of what each day asks."""
    done = 0.0
    for day, asked in ahead:
        done += max(0.0, share) * asked
        if asked and done >= minutes - 1e-6:
            return day
    return None


def _with_lag(day: date | None, work: Work) -> date | None:
    return None if day is None else day + work.lag_days * ONE_DAY
