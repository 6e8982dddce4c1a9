"""The finish day is a range, and on simulated candidates it holds as often as it says."""

from datetime import date, timedelta
from random import Random

import numpy as np
import pytest
from scipy.stats import multivariate_normal, norm

from domain.plan.outlook import (
    DEVIATIONS,
    DRIFT,
    LEVEL,
    LEVEL_DEVIATION,
    SPELLS,
    AskedDay,
    MeanShare,
    Work,
    finishes,
)

MONDAY = date(2027, 1, 4)
DAYS = [MONDAY + timedelta(days=n) for n in range(1200)]
SET_ASIDE = [AskedDay(day, *(90.0 if day.weekday() < 5 else 0.0,) * 2) for day in DAYS]
SHARES = [0.9, 0.7, 0.8, 1.0, 0.6, 0.85]


def test_no_range_is_told_before_three_weeks_are_known():
    assert finishes([0.8, 0.9], [Work(1, 900)], SET_ASIDE) == []
    assert finishes([0.0, 0.0, 0.0], [Work(1, 900)], SET_ASIDE) == []
    assert len(finishes(SHARES, [Work(1, 900)], SET_ASIDE)) == 1


def test_the_wider_range_holds_the_narrower_and_both_hold_the_likely_day():
    finish = finishes(SHARES, [Work(1, 3000)], SET_ASIDE)[0]
    days = [finish.most[0], finish.half[0], finish.likely, finish.half[1], finish.most[1]]
    assert days == sorted(days)
    assert finish.most[0] < finish.half[0] < finish.half[1] < finish.most[1]


def test_a_steady_candidate_likely_finishes_to_the_day_but_is_promised_no_single_day():
    few, many = (finishes([1.0] * n, [Work(1, 900)], SET_ASIDE)[0] for n in (4, 12))
    assert few.likely == many.likely == date(2027, 1, 15)
    assert few.most[0] <= many.most[0] <= many.likely <= many.most[1] <= few.most[1]


def test_the_rounds_last_sweep_comes_on_top():
    finish = finishes([1.0] * 5, [Work(1, 900, lag_days=8)], SET_ASIDE)[0]
    assert finish.likely == date(2027, 1, 23)


def test_a_candidate_who_may_never_get_there_is_told_no_last_day():
    finish = finishes([0.9, 0.0, 0.1, 0.0], [Work(1, 9000)], SET_ASIDE)[0]
    assert finish.most[1] is None
    assert finish.likely is not None


def test_the_quantiles_are_those_of_the_laws_averaged():
    """Every law as one multivariate normal over weeks known and to come: SciPy."""
    ahead, count = 7, len(SHARES)
    weeks = np.arange(count + ahead)
    mean_ahead = np.where(weeks >= count, 1 / ahead, 0)
    weights, laws = [], []
    for spell, prior in SPELLS:
        for deviation, likelihood in DEVIATIONS:
            correlation = np.power(spell, np.abs(weeks[:, None] - weeks))
            spread = deviation**2 * correlation + LEVEL_DEVIATION**2
            known, shared = spread[:count, :count], spread[:count] @ mean_ahead
            evidence = multivariate_normal([LEVEL] * count, known).pdf(SHARES)
            pull = np.linalg.solve(known, shared)
            variance = mean_ahead @ spread @ mean_ahead - shared @ pull
            off = pull @ (np.array(SHARES) - LEVEL)
            weights.append(prior * likelihood * evidence)
            drift = DRIFT * (count + ahead) / 2
            laws.append(norm(LEVEL + off, np.sqrt(variance + drift**2)))
    mean_share = MeanShare(SHARES, ahead)
    for share in (0.4, 0.7, 0.8, 0.9, 1.1):
        chances = [law.cdf(share) for law in laws]
        assert mean_share.chance(share) == pytest.approx(np.average(chances, weights=weights))
    assert mean_share.chance(mean_share.quantile(0.05)) == pytest.approx(0.05)


def test_what_days_leave_undone_moves_into_the_idle_minutes_of_those_after_them():
    week = [AskedDay(day, 90.0 if day.weekday() == 0 else 0.0, 90.0) for day in DAYS[:14]]
    full, half = ([1.0] * 4, [0.5] * 4)
    assert finishes(full, [Work(1, 180)], week)[0].likely == DAYS[7]
    some = [0.4] * 4
    assert finishes(some, [Work(1, 90 * 1.75)], week)[0].likely == DAYS[9]
    assert finishes(half, [Work(1, 90 * 2)], week)[0].likely == DAYS[8], "nothing else to do there"
    idle = [AskedDay(day, planned, planned, room - planned) for day, planned, room, _ in week]
    finish = finishes(half, [Work(1, 90 * 2)], idle)[0]
    assert (finish.likely, finish.half[1]) == (DAYS[8], None), "a sweep may need those minutes"
    without_room = [AskedDay(day, planned, planned) for day, planned, *_ in week]
    assert finishes(half, [Work(1, 90 * 1.75)], without_room)[0].likely is None


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
    done = [(day, minutes * next(share)) for day, minutes, *_ in SET_ASIDE]
    shares = [sum(m for _, m in done[7 * n : 7 * n + 7]) / 450 for n in range(weeks)]
    forecast = finishes(shares, [Work(1, work)], SET_ASIDE[7 * weeks :])[0]
    for day, minutes in done[7 * weeks :]:
        work -= minutes
        if work <= 0:
            return forecast, day
    raise AssertionError("the simulated candidate never finished")


def test_the_ranges_hold_at_least_as_often_as_they_say():
    rng, inside = Random(2027), {"half": 0, "most": 0}
    for _ in range(400):
        forecast, true = told_and_true(rng)
        for name in inside:
            first, last = getattr(forecast, name)
            inside[name] += first <= true <= (last or date.max)
    assert inside["most"] / 400 >= 0.85
    assert inside["half"] / 400 >= 0.45
