"""What sample papers and outside papers tell: by hand, and on papers whose truth is known."""

from math import log, sqrt

import numpy as np
import pytest

from domain.evidence.forecast import (
    Held,
    Shift,
    ShiftedChances,
    cells_on,
    exam_model,
    forecast,
    outside_shift,
    shifted,
)
from domain.evidence.intervals import Beta
from domain.evidence.memory.learning import OneRate
from domain.evidence.memory.practice import Practice, Trial
from domain.marking.blueprint import Blueprint, Section
from tests.domain.evidence.coverage import SIZES, live_briefly, outside_coverage
from tests.domain.evidence.memories.laws import LAWS


def test_a_shift_adds_to_log_odds():
    assert shifted(0.5, log(3)) == pytest.approx(0.75)
    assert shifted(0.75, 0.0) == pytest.approx(0.75)


def test_papers_weigh_fully_and_the_log_as_few_tries():
    cell = Practice(1, 0, 1, True, 0, 0, 0).cell(30)
    log = [Trial("wind", day, cell, True) for day in range(20_000)]
    papers = [Trial("wind", 30, cell, number < 120) for number in range(200)]

    plain, fitted = (exam_model(log, taken, ["wind"], 0.25) for taken in ([], papers))

    # 1,500 right of 1,500 and 120 of 200 are .953 of 1,700; what the prior holds is little.
    assert fitted.chance("wind", cell) == pytest.approx(1620 / 1700, abs=0.01)
    assert plain.chance("wind", cell) > 0.99
    assert fitted.chance("maps", cell) > 0.25


def test_what_a_day_may_be_off_widens_the_forecast():
    known = OneRate(Beta(8e9, 2e9))
    paper = Blueprint(sections=(Section("wind", 100),), minutes=60)
    held = [Held("wind", None)]

    plain = forecast(cells_on(held, 1), known, paper)
    widened = forecast(cells_on(held, 1), known, paper, day_spread=0.2)
    shifted_by = forecast(cells_on(held, 1), ShiftedChances(known, Shift(0.0, 0.2)), paper)

    # 500 score points per unit of chance: .2 in log odds are .2 · .8 · .2 of it.
    wider = sqrt(plain.deviation**2 + (500 * 0.2 * 0.16) ** 2)
    # Of what isn't known a quarter is right all the same: (.8 − .25) ÷ .75 is known.
    guessed = forecast(cells_on(held, 1), known, paper, day_spread=0.2, guess=0.25)
    less = sqrt(plain.deviation**2 + (500 * 0.2 * 0.55 / 0.75 * 0.2) ** 2)
    assert widened.mark == pytest.approx(plain.mark)
    assert widened.deviation == pytest.approx(wider, rel=1e-4)
    assert guessed.deviation == pytest.approx(less, rel=1e-4)
    assert shifted_by.deviation == pytest.approx(wider, rel=1e-4)


def test_without_outside_papers_nothing_is_said_of_the_exam():
    assert outside_shift([]) is None


def test_two_outside_papers_hold_the_exams_score_within_45_of_400():
    held, half = outside_coverage(400)

    assert held >= 0.85
    assert half <= 45


@pytest.mark.parametrize("questions", SIZES.values(), ids=SIZES)
def test_two_sample_papers_hold_the_score_under_every_law(questions: int):
    seeds = (1, 2) if questions < 1000 else (1,)
    lives = [live_briefly(law, seed, questions) for law in LAWS for seed in seeds]

    assert np.mean([life.held for life in lives]) >= 0.85
    errors, without = (
        np.mean([getattr(life, name) ** 2 for life in lives]) ** 0.5
        for name in ("error", "error_without")
    )
    assert errors <= 0.75 * without
