"""What sample papers and outside papers tell: by hand, and on papers whose truth is known."""

from math import log, sqrt

import numpy as np
import pytest
from scipy.optimize import minimize_scalar

from domain.evidence.forecast import (
    EXTRA_DEVIATION,
    PRIOR_DEVIATION,
    Held,
    PaperQuestion,
    Shift,
    ShiftedChances,
    forecast,
    outside_shift,
    sample_shift,
    shifted,
)
from domain.evidence.intervals import Beta
from domain.evidence.memory.learning import OneRate
from domain.marking.blueprint import Blueprint, Section
from tests.domain.evidence.coverage import live_briefly, outside_coverage
from tests.domain.evidence.memories.laws import LAWS


def _paper(chance: float, right: int, questions: int = 100) -> list[PaperQuestion]:
    return [PaperQuestion(chance, number < right) for number in range(questions)]


def test_a_shift_adds_to_log_odds():
    assert shifted(0.5, log(3)) == pytest.approx(0.75)
    assert shifted(0.75, 0.0) == pytest.approx(0.75)


def test_without_papers_there_is_the_prior():
    assert sample_shift([]) == Shift(0.0, PRIOR_DEVIATION, 0)


def test_the_shift_is_the_most_plausible_one():
    papers = [_paper(0.7, 60), [*_paper(0.9, 35, 40), *_paper(0.4, 30, 60)]]

    found = sample_shift(papers)

    def loss(shift: float) -> float:
        total = shift**2 / (2 * PRIOR_DEVIATION**2)
        for question in (question for paper in papers for question in paper):
            chance = shifted(question.chance, shift)
            total -= log(chance if question.right else 1 - chance)
        return total

    assert found.mean == pytest.approx(minimize_scalar(loss).x, abs=1e-4)
    assert found.papers == 2
    assert 0.1 < found.deviation < PRIOR_DEVIATION


def test_only_the_two_latest_papers_count():
    old, *latest = _paper(0.7, 10), _paper(0.7, 75), _paper(0.7, 70)

    assert sample_shift([old, *latest]) == sample_shift(latest)


def test_the_shifts_uncertainty_widens_the_forecast():
    known = OneRate(Beta(8e9, 2e9))
    paper = Blueprint(sections=(Section("wind", 100),), minutes=60)
    held = [Held("wind", None)]

    plain = forecast(held, known, paper, 1)
    found = forecast(held, ShiftedChances(known, Shift(0.0, 0.2, 2)), paper, 1)

    # 500 score points per unit of chance: the shift's .2 · .8 · .2, and what remains.
    extra = 500 * sqrt((0.2 * 0.16) ** 2 + EXTRA_DEVIATION**2)
    assert found.mark == pytest.approx(plain.mark)
    assert found.deviation == pytest.approx(sqrt(plain.deviation**2 + extra**2), rel=1e-4)


def test_without_outside_papers_nothing_is_said_of_the_exam():
    assert outside_shift([]) is None


def test_two_outside_papers_hold_the_exams_score_within_45_of_400():
    held, half = outside_coverage(400)

    assert held >= 0.85
    assert half <= 45


def test_two_sample_papers_hold_the_score_under_every_law_after_1300_responses():
    found = [live_briefly(law, seed) for law in LAWS for seed in (1, 2, 3)]

    assert np.mean([one.held for one in found]) >= 0.85
    errors, without = (
        np.mean([getattr(one, name) ** 2 for one in found]) ** 0.5
        for name in ("error", "error_without")
    )
    assert errors <= 0.6 * without
