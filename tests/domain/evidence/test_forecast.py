"""The forecast mark and the sweep chooser on candidates whose truth is known."""

import os
import random

import numpy as np
import pytest
from msgspec.structs import replace

from domain.evidence.forecast import (
    Held,
    QuestionChances,
    cells_on,
    expected_mark,
    forecast,
    worth_of_a_right,
)
from domain.evidence.intervals import Beta
from domain.evidence.memory.learning import OneRate, learn
from domain.evidence.memory.logistic import PRIOR, fit
from domain.evidence.memory.practice import UNSEEN, Practice, PracticeColumns
from domain.marking.blueprint import Blueprint, Section
from domain.tiers import Tier
from tests.domain.evidence.simulated import FIRST_DAY, SUBJECTS, Candidate

EXAM = FIRST_DAY + 120
PAPER = Blueprint(sections=tuple(Section(subject, 20) for subject in SUBJECTS), minutes=120)
CANDIDATES = 300 if os.environ.get("RESIEVE_EXPLORE") else 120
SHORT = Blueprint(sections=tuple(Section(subject, 10) for subject in SUBJECTS), minutes=60)


def _someone(seed: int, questions: int, uneven: float) -> Candidate:
    rng = random.Random(seed)
    weights = [rng.gauss(mean, deviation / 2) for mean, deviation in PRIOR.values()]
    candidate = Candidate(rng, weights, uneven)
    candidate.study(questions, range(0, 112, 3), share=0.13)
    return candidate


@pytest.mark.slow
def test_the_ninety_percent_range_holds_the_mark_of_nine_in_ten_candidates():
    held = 0
    for seed in range(CANDIDATES):
        # Questions differ among themselves by more than the model knows.
        candidate = _someone(seed, 15, uneven=0.4)
        memory = learn(candidate.trials, SUBJECTS)
        right = candidate.exam(10, EXAM)

        predicted = forecast(
            cells_on(candidate.held, EXAM), memory.chances, SHORT, day_spread=memory.day_spread
        )
        low, high = predicted.interval(0.9)

        held += low <= 4 * right - (60 - right) <= high

    assert 0.85 <= held / CANDIDATES <= 0.95


def test_questions_in_columns_are_forecast_as_those_in_cells_alone_and_beside_others():
    candidate = _someone(1, 15, uneven=0.4)
    model = fit(candidate.trials, SUBJECTS, guess=0.25)
    number = {subject: n for n, subject in enumerate(SUBJECTS)}
    own = np.array([number[held.subject] for held in candidate.held])
    practice = PracticeColumns.of([held.practice for held in candidate.held])
    is_other = own > 0

    cells = cells_on(candidate.held, EXAM)
    asked = QuestionChances.on(SUBJECTS, own, practice, EXAM, model)
    expected = forecast(cells, model, SHORT, 0.1, 0.2, 0.25)
    got = expected_mark(asked, SHORT, 0.1, 0.2, 0.25)
    assert got.parts == tuple(
        replace(part, marks=pytest.approx(part.marks), right=pytest.approx(part.right))
        for part in expected.parts
    )
    assert (got.mark, got.deviation) == pytest.approx((expected.mark, expected.deviation))

    first = QuestionChances.in_cells({SUBJECTS[0]: cells[SUBJECTS[0]]}, model)
    others = QuestionChances.on(SUBJECTS, own[is_other], practice.taken(is_other), EXAM, model)
    assert expected_mark(first.beside(others), SHORT).mark == pytest.approx(
        expected_mark(asked, SHORT).mark
    )


def test_a_forecast_is_the_hand_worked_one():
    known = OneRate(Beta(8e9, 2e9))  # right 80 % of the time, known exactly
    paper = Blueprint(sections=(Section("wind", 100),), minutes=60)

    predicted = forecast(cells_on([Held("wind", None)] * 3, EXAM), known, paper, blanks=0.5)

    # 80 right · 4, 10 wrong · −1, 10 blank · 0; a response has variance 12.9 − 3.1² = 3.29.
    assert predicted.mark == pytest.approx(310)
    assert predicted.deviation == pytest.approx(329**0.5, abs=1e-4)
    assert (predicted.best, predicted.untried) == (400, 1.0)
    assert predicted.interval() == pytest.approx((310 - 29.83, 310 + 29.83), abs=0.01)


def test_not_knowing_the_rate_widens_the_range():
    paper = Blueprint(sections=(Section("wind", 100),), minutes=60)
    held = [Held("wind", None)]

    known, guessed = (
        forecast(cells_on(held, EXAM), OneRate(Beta(4 * n, n)), paper).deviation for n in (10**9, 1)
    )

    assert guessed > 2 * known


def test_parts_add_up_and_tell_what_was_never_tried():
    practice = Practice(2, 1, 1, True, Tier.HARD, FIRST_DAY, FIRST_DAY + 9)
    held = [Held("wind", practice), Held("wind", None), Held("maps", practice)]
    paper = Blueprint(sections=(Section("wind", 30), Section("maps", 10)), minutes=40)

    predicted = forecast(cells_on(held, EXAM), OneRate(Beta()), paper)

    assert sum(part.marks for part in predicted.parts) == pytest.approx(predicted.mark)
    assert [part.untried for part in predicted.parts] == [0.5, 0.0]
    assert predicted.untried == pytest.approx(15 / 40)


def test_a_subject_without_questions_in_the_bank_adds_nothing():
    predicted = forecast(cells_on([], EXAM), OneRate(Beta()), PAPER)

    assert (predicted.mark, predicted.best) == (0, 480)


def test_a_right_response_is_worth_what_a_miss_would_have_cost():
    assert worth_of_a_right(PAPER.marking(), "wind") == 5
    assert worth_of_a_right(PAPER.marking(), "wind", blanks=1.0) == 4


def test_the_forecast_of_an_untried_bank_rests_on_the_prior_alone():
    chances = learn([], SUBJECTS).chances
    predicted = forecast(
        cells_on([Held(subject, None) for subject in SUBJECTS], EXAM), chances, PAPER
    )

    right = chances.chance("wind", UNSEEN)
    assert predicted.mark == pytest.approx(120 * (5 * right - 1))
    assert predicted.untried == 1.0
    low, high = predicted.interval()
    assert high - low > 150


def test_two_hundred_blind_guesses_have_the_mean_and_spread_of_the_arithmetic():
    # N = 200, +4/−1, p = 1/4: mean 50, deviation √(200 · 25 · 3/16) = 30.61862178.
    paper = Blueprint(sections=(Section("any", 200),), minutes=200)
    quarter = OneRate(Beta(1e12, 3e12))

    predicted = forecast(cells_on([Held("any", None)], 1), quarter, paper)

    assert predicted.mark == pytest.approx(50)
    assert predicted.deviation == pytest.approx(30.61862178, abs=1e-6)
