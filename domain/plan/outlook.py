"""How it went so far, and what that says: the candidate's own pace, and when rounds are finished.

A pause is not a slow answer drawn out: where someone leaves the desk the time says nothing about
the question. So times that reach the cap are left out instead of being drawn in to it, which a
trimmed mean does on one side only, where the stray values are (P. J. Huber, Robust Statistics,
1981, section 1.1, on gross errors; from memory).

Of each past week it is known what share of its planned minutes was done. The shares are taken as
a first-order autoregression around a level of the candidate's own, either week by week on its own
or in good and bad spells; the level, the spread and which of the two it is are weighed by how
well they account for the weeks so far (Bayesian model averaging: Hoeting et al. 1999, Statistical
Science 14(4); the forecast of an autoregression: Box, Jenkins and Reinsel, Time Series Analysis,
chapter 5; both from memory). That gives a distribution of the mean share over the weeks to come,
and the plan is lived through at its quantiles. A slow drift of the level widens it.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date
from functools import lru_cache
from itertools import pairwise
from math import exp, log, sqrt
from statistics import NormalDist, fmean, median
from typing import NamedTuple

from msgspec import Struct

from domain.plan.inputs import DAYS_A_WEEK, ONE_DAY

# the pace

LEAST_CAP, CAP_IN_MEDIANS = 300.0, 6.0
"""A question's time is cut off at the larger of 300 s and six times the own median."""

PAUSE_IN_MEDIANS = 4.5
"""From here on a time is a pause. Pauses themselves raise the median: with a fifth of them by at
most a third, so that six times the true median is still seen as one.
"""

BELIEF, ENOUGH_TIMED = 30, 200
"""How many questions the expected pace counts for at first; it fades until so many are timed."""

Timing = tuple[str, date, float]
"""Subject id, study day, seconds; 0 seconds where the time was not measured."""


class Pace(Struct, frozen=True, kw_only=True):
    """Seconds a question takes: `own` per subject id once measured, else `default`."""

    default: float = 51.0
    own: Mapping[str, float] = {}

    def of(self, subject: str) -> float:
        """Seconds per question in the subject."""
        return self.own.get(subject, self.default)


def own_pace(timings: Iterable[Timing], expected: float, capped: float = LEAST_CAP) -> Pace:
    """The pace from the log. A subject with few timings leans on the candidate's overall pace,
    and that on the `expected` seconds. Times of just `capped` seconds were cut off there.
    """
    by_subject: dict[str, list[float]] = {}
    for subject, _, seconds in timings:
        if seconds > 0:
            by_subject.setdefault(subject, []).append(seconds)
    whole = [seconds for seconds_of in by_subject.values() for seconds in seconds_of]
    longest = _pause(whole)

    def leaning(timed: Iterable[float], on: float) -> float:
        kept = [seconds for seconds in timed if seconds < longest and seconds != capped]
        belief = BELIEF * max(0.0, 1 - len(kept) / ENOUGH_TIMED)
        return (sum(kept) + belief * on) / (len(kept) + belief) if kept else on

    overall = leaning(whole, expected)
    own = {subject: leaning(timed, overall) for subject, timed in by_subject.items()}
    return Pace(default=overall, own=own)


def time_cap(seconds: Sequence[float], least: float = LEAST_CAP) -> float:
    """The most that one question's time may count, from the times measured so far."""
    return max(least, CAP_IN_MEDIANS * median(seconds)) if seconds else least


def _pause(seconds: Sequence[float]) -> float:
    return max(LEAST_CAP, PAUSE_IN_MEDIANS * median(seconds)) if seconds else LEAST_CAP


# the finish

FEWEST_WEEKS = 3
"""Weeks with work needed before a range is told."""

LEVEL, LEVEL_DEVIATION = 0.8, 0.2
"""The share that is assumed of a candidate before any week is known, and how far it may be off."""

SPELLS = ((0.0, 6.0), (0.8, 4.0), (0.9, 2.0))
DEVIATIONS = ((0.1, 0.3), (0.14, 1.0), (0.2, 3.0), (0.28, 1.0), (0.4, 0.6))
"""Autocorrelations and deviations of weekly shares, with the weight each has before any week is
known (common practice, no source; the range is backtested with them).
"""

DRIFT = 0.005
"""How far the level may drift in a week."""

HALF, MOST = (0.25, 0.75), (0.04, 0.89)
"""Quantiles of the mean share that bound the ranges: the late end is guarded more than the early
one.
"""


class AskedDay(NamedTuple):
    """A day to come: the minutes of revision planned on it, and those it has room for.

    `idle` minutes of a sweep day may take what days before it left, or hold what its sweep spills:
    they count for the early ends and the likely day, not for the late ends, of which the later
    one lets nothing be caught up in room that is not planned.
    """

    day: date
    planned: float
    room: float
    idle: float = 0.0


class Work(Struct, frozen=True):
    """What is left up to the end of a round: minutes of revision from now, and by how many days
    the round's last sweep follows its last block.
    """

    round: int
    minutes: float
    lag_days: int = 0


class Finish(Struct, frozen=True):
    """The days on which a round may be finished; None: not within the days looked at.

    `likely` is the day at the mean share, `left` the minutes it leaves undone on the day of the
    exam; the pairs hold with 50 % and with 90 %.
    """

    round: int
    likely: date | None
    half: tuple[date | None, date | None]
    most: tuple[date | None, date | None]
    left: float = 0.0


def finishes(
    shares: Sequence[float],
    works: Iterable[Work],
    ahead: Sequence[AskedDay],
    exam: date = date.max,
) -> list[Finish]:
    """The finish of each round, from the weekly shares so far and every day from today on.

    Gives nothing while fewer than `FEWEST_WEEKS` weeks are known or nothing was done in them.
    """
    if len(shares) < FEWEST_WEEKS or not any(shares) or not ahead:
        return []
    return [_finish(shares, work, ahead, exam) for work in works]


def _finish(shares: Sequence[float], work: Work, ahead: Sequence[AskedDay], exam: date) -> Finish:
    with_idle = [day._replace(room=day.room + day.idle) for day in ahead]
    as_planned = [day._replace(room=day.planned) for day in ahead]
    share = fmean(shares)
    likely = _reached(share, work.minutes, with_idle)
    weeks = (((likely or ahead[-1].day) - ahead[0].day).days + 1) / DAYS_A_WEEK
    outlook = MeanShare(shares, max(1, round(weeks)))

    def ends(
        chances: tuple[float, float], until: Sequence[AskedDay]
    ) -> tuple[date | None, date | None]:
        late, early = map(outlook.quantile, chances)
        return (
            _with_lag(_reached(early, work.minutes, with_idle), work),
            _with_lag(_reached(late, work.minutes, until), work),
        )

    done = sum(minutes for day, _, minutes in _done(share, with_idle) if day.day < exam)
    return Finish(
        work.round,
        _with_lag(likely, work),
        ends(HALF, ahead),
        ends(MOST, as_planned),
        max(0.0, work.minutes - done),
    )


class MeanShare:
    """The mean share over so many weeks to come, as a mixture of normal distributions."""

    def __init__(self, shares: Sequence[float], weeks: int) -> None:
        forecasts = [
            (log(weight * likelihood), *_forecast(shares, weeks, spell, deviation))
            for spell, weight in SPELLS
            for deviation, likelihood in DEVIATIONS
        ]
        best = max(prior + evidence for prior, evidence, _ in forecasts)
        self._parts = [(exp(prior + known - best), normal) for prior, known, normal in forecasts]
        self._whole = sum(weight for weight, _ in self._parts)

    def chance(self, share: float) -> float:
        """The chance that the mean share is at most this."""
        return sum(weight * normal.cdf(share) for weight, normal in self._parts) / self._whole

    def quantile(self, chance: float) -> float:
        """The share that is not passed with this chance (by bisection), at least 0."""
        low, high = 0.0, 4.0
        for _ in range(40):
            middle = (low + high) / 2
            if self.chance(middle) < chance:
                low = middle
            else:
                high = middle
        return low


def _forecast(
    shares: Sequence[float], weeks: int, spell: float, deviation: float
) -> tuple[float, NormalDist]:
    """How well the law accounts for the shares (log likelihood), and what it forecasts."""
    count, fresh = len(shares), 1 - spell**2
    off = [share - LEVEL for share in shares]
    steps = [later - spell * earlier for earlier, later in pairwise(off)]
    scale = deviation**2 * fresh
    known = (fresh + (count - 1) * (1 - spell) ** 2) / scale
    pull = (fresh * off[0] + (1 - spell) * sum(steps)) / scale
    squares = (fresh * off[0] ** 2 + sum(step**2 for step in steps)) / scale
    precision = known + 1 / LEVEL_DEVIATION**2
    level = pull / precision
    evidence = -0.5 * (
        2 * count * log(deviation)
        + (count - 1) * log(fresh)
        + log(precision * LEVEL_DEVIATION**2)
        + squares
        - pull * level
    )
    carried, variance = _ahead_of(spell, weeks)
    mean = LEVEL + level * (1 - carried) + off[-1] * carried
    spread = deviation**2 * variance + (1 - carried) ** 2 / precision
    return evidence, NormalDist(mean, sqrt(spread + (DRIFT * (count + weeks) / 2) ** 2))


@lru_cache(maxsize=256)
def _ahead_of(spell: float, weeks: int) -> tuple[float, float]:
    """What of the last week carries into the mean of the weeks to come, and its variance."""
    ahead = range(1, weeks + 1)
    carried = sum(spell**week for week in ahead) / weeks
    together = sum(
        spell ** abs(week - other) - spell ** (week + other) for week in ahead for other in ahead
    )
    return carried, together / weeks**2


def _done(share: float, ahead: Iterable[AskedDay]) -> Iterator[tuple[AskedDay, float, float]]:
    """(day, minutes it asks for, minutes done) of the days that ask for any, at a constant share.

    A day asks for what is planned on it and, as far as it has room, for what days before it left.
    """
    behind = 0.0
    for day in ahead:
        if asked := max(day.planned, min(day.room, day.planned + behind)):
            done = max(0.0, share) * asked
            behind = max(0.0, behind + day.planned - done)
            yield day, asked, done


def _reached(share: float, minutes: float, ahead: Iterable[AskedDay]) -> date | None:
    """The day on which so many minutes are done, at a constant share of what each day asks.

    A share of what is left leaves a rest for ever: a day with nothing else to do ends it, where
    days are kept more often than not.
    """
    left = minutes - 1e-6
    for day, asked, done in _done(share, ahead):
        is_last = not day.planned and left <= asked and share >= 0.5
        left -= done
        if is_last or left <= 0:
            return day.day
    return None


def _with_lag(day: date | None, work: Work) -> date | None:
    return None if day is None else day + work.lag_days * ONE_DAY
