"""The finish day is a range, and on simulated candidates it holds as often as it says."""

from datetime import date, timedelta
from math import sqrt
from random import Random
from statistics import fmean, stdev

import pytest
from scipy.stats import t as student

from domain.plan.finish import Work, finishes

MONDAY = date(2027, 1, 4)
DAYS = [MONDAY + timedelta(days=n) for n in range(1200)]
SET_ASIDE = [(day, 90.0 if day.weekday() < 5 else 0.0) for day in DAYS]
SHARES = [0.9, 0.7, 0.8, 1.0, 0.6, 0.85]


def test_no_range_is_told_before_three_weeks_are_known():
    assert finishes([0.8, 0.9], [Work(1, 900)], SET_ASIDE) == []
    assert finishes([0.0, 0.0, 0.0], [Work(1, 900)], SET_ASIDE) == []
    assert len(finishes(SHARES, [Work(1, 900)], SET_ASIDE)) == 1


def test_the_wider_range_holds_the_narrower_and_both_hold_the_likely_day():
    found = finishes(SHARES, [Work(1, 3000)], SET_ASIDE)[0]
    days = [found.most[0], found.half[0], found.likely, found.half[1], found.most[1]]
    assert days == sorted(days)
    assert found.most[0] < found.half[0] < found.half[1] < found.most[1]


def test_a_steady_candidate_likely_finishes_to_the_day_but_is_promised_no_single_day():
    few, many = (finishes([1.0] * n, [Work(1, 900)], SET_ASIDE)[0] for n in (4, 40))
    assert few.likely == many.likely == date(2027, 1, 15)
    assert few.most[0] < many.most[0] <= many.likely <= many.most[1] < few.most[1]


def test_the_rounds_last_sweep_comes_on_top():
    found = finishes([1.0] * 5, [Work(1, 900, lag_days=8)], SET_ASIDE)[0]
    assert found.likely == date(2027, 1, 23)


def test_a_candidate_who_may_never_get_there_is_told_no_last_day():
    found = finishes([0.9, 0.0, 0.1, 0.0], [Work(1, 9000)], SET_ASIDE)[0]
    assert found.most[1] is None
    assert found.likely is not None


@pytest.mark.parametrize(("confidence", "side", "pick"), [(0.95, -1, 1), (0.95, 1, 0)])
def test_the_ends_are_the_prediction_bounds_of_hahn_and_meeker(confidence, side, pick):
    """Statistical Intervals (1991), chapter 4; t from SciPy. m: the weeks at the mean share.

    The variance is pooled with a stated 0.2² for one week: Bayesian Data Analysis, section 2.6.
    """
    work, count = 2000.0, len(SHARES)
    quantile = student.ppf(confidence, count)
    deviation = sqrt(((count - 1) * stdev(SHARES) ** 2 + 0.2**2) / count)
    ahead = [(DAYS[n], 450 / 7) for n in range(1000)]
    found = finishes(SHARES, [Work(1, work)], ahead)[0]
    weeks = ((found.likely - MONDAY).days + 1) / 7
    per_week = fmean(SHARES) + side * quantile * deviation * sqrt(1 / weeks + 1 / count)
    days = (found.most[pick] - MONDAY).days + 1
    assert (days - 1) / 7 * per_week * 450 < work <= days / 7 * per_week * 450


def days_of_a_candidate(rng):
    """Shares done of one day after another: steady, tired, ill for days, or skipping."""
    usual, skipping, illness = rng.uniform(0.55, 0.95), rng.uniform(0, 0.25), rng.uniform(0, 0.02)
    ill = 0
    while True:
        if rng.random() < illness:
            ill = rng.randint(2, 8)
        ill = max(0, ill - 1)
        away = ill or rng.random() < skipping
        yield 0.0 if away else max(0.0, min(1.3, rng.gauss(usual, 0.2)))


def told_and_true(rng):
    share, weeks = days_of_a_candidate(rng), rng.randint(4, 14)
    work = 450 * rng.uniform(4, 16)
    done = [(day, minutes * next(share)) for day, minutes in SET_ASIDE]
    shares = [sum(m for _, m in done[7 * n : 7 * n + 7]) / 450 for n in range(weeks)]
    told = finishes(shares, [Work(1, work)], SET_ASIDE[7 * weeks :])[0]
    for day, minutes in done[7 * weeks :]:
        work -= minutes
        if work <= 0:
            return told, day
    raise AssertionError("the simulated candidate never finished")


def test_the_ranges_hold_as_often_as_they_say():
    rng, inside = Random(2027), {"half": 0, "most": 0}
    for _ in range(400):
        told, true = told_and_true(rng)
        for name in inside:
            first, last = getattr(told, name)
            inside[name] += first <= true <= (last or date.max)
    assert 0.85 <= inside["most"] / 400 <= 0.95
    assert 0.44 <= inside["half"] / 400 <= 0.58
