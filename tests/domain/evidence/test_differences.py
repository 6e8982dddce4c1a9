"""Differences between plans: by hand, and against candidates whose memory is known."""

import random
from datetime import date
from math import exp

import numpy as np
import pytest

from domain.evidence.differences import (
    AnswerDays,
    PlannedQuestion,
    ScoreDifference,
    planned_chances,
    score_difference,
)
from domain.evidence.memory.logistic import Logistic, fit
from domain.evidence.memory.practice import UNSEEN, Cell, Practice
from tests.domain.evidence.memories.laws import HalfLife, Law, PowerLaw, ThreeStates
from tests.domain.evidence.worth import signs_right

DAY = date(2027, 3, 1).toordinal()
MODEL = fit([], ["wind"])
PRACTICE = Practice(1, 1, 0, False, 1, DAY - 40, DAY - 30)


def test_one_visit_more_is_the_hand_worked_difference():
    difference = score_difference(
        [PlannedQuestion("wind", PRACTICE, 2.0, (), (DAY,))] * 3, MODEL, DAY + 60
    )

    now = MODEL.chance("wind", PRACTICE.cell(DAY))
    alone = MODEL.chance("wind", PRACTICE.cell(DAY + 60))
    missed = MODEL.chance("wind", Practice(1, 2, 0, False, 2, DAY - 40, DAY).cell(DAY + 60))
    sure, unsure = (
        MODEL.log_odds("wind", Practice(2, 1, 1, sure, 1, DAY - 40, DAY).cell(DAY + 60))
        for sure in (True, False)
    )
    right = 1 / (1 + np.exp(-(0.8 * sure + 0.2 * unsure)))
    assert difference.score == pytest.approx(
        6 * (now * right + (1 - now) * missed - alone), rel=1e-3
    )
    assert difference.deviation > 0


def test_the_same_plan_makes_no_difference():
    same = PlannedQuestion("wind", PRACTICE, 2.0, (DAY,), (DAY,))

    difference = score_difference([same], MODEL, DAY + 60)

    assert (difference.score, difference.too_small) == (0.0, True)


def test_small_or_uncertain_differences_are_not_told():
    assert ScoreDifference(2.9, 0.1).too_small
    assert ScoreDifference(5.0, 5.0).too_small
    assert not ScoreDifference(-5.0, 1.0).too_small


@pytest.mark.parametrize("guess", [0.0, 0.25])
def test_planned_chances_are_those_lived_through_visit_by_visit(guess: float):
    model = fit([], ["wind"], guess=guess)
    dice = random.Random(2)
    questions = [
        AnswerDays(
            dice.choice(("wind", "ice")),
            _random_practice(dice),
            tuple(sorted(DAY + dice.randrange(60) for _ in range(dice.randrange(5)))),
        )
        for _ in range(60)
    ]

    chances = planned_chances(questions, model, DAY + 60).chances

    for question, chance in zip(questions, chances, strict=True):
        expected = _lived(model, question.subject, question.practice, question.days, DAY + 60)
        assert chance == pytest.approx(expected)


def _random_practice(dice: random.Random) -> Practice | None:
    if dice.random() < 0.2:
        return None
    rights, misses, streak = dice.randrange(4), dice.randrange(4), dice.randrange(3)
    first = DAY - 40 - dice.randrange(40)
    return Practice(rights, misses, streak, False, dice.randrange(4), first, DAY - 5)


def _lived(
    model: Logistic, subject: str, practice: Practice | None, days: tuple[int, ...], exam: int
) -> float:
    """The chance of being right in the exam; a right response is sure with a chance of .8."""

    def known(cell: Cell, sure_share: float) -> float:
        odds = model.log_odds(subject, cell) + sure_share * model.by_name["sure"]
        return 1 / (1 + exp(-odds))

    def live(at: Practice | None, days: tuple[int, ...], sure_share: float) -> float:
        day = days[0] if days else exam
        cell = at.cell(day) if at else UNSEEN
        right = model.guess + (1 - model.guess) * known(cell, sure_share)
        if not days:
            return right
        rights, misses, streak, tier, first = (
            (at.rights, at.misses, at.streak, at.tier, at.first) if at else (0, 0, 0, 0, day)
        )
        if_right = Practice(rights + 1, misses, streak + 1, False, tier, first, day)
        if_missed = Practice(rights, misses + 1, 0, False, min(tier + 1, 3), first, day)
        return right * live(if_right, days[1:], 0.8) + (1 - right) * live(if_missed, days[1:], 0)

    return live(practice, days, 0)


@pytest.mark.slow
@pytest.mark.parametrize("law", [PowerLaw, HalfLife, ThreeStates], ids=lambda law: law.name)
def test_the_sign_of_a_told_difference_is_right_nine_times_in_ten(law: type[Law]):
    right, counted = signs_right(law, 4)

    assert counted >= 8
    assert right >= 0.9 * counted


def test_a_plan_without_days_has_the_models_own_chances_and_their_variance():
    practices = [PRACTICE, None, Practice(0, 2, 0, False, 2, DAY - 9, DAY - 9)]
    planned = planned_chances(
        [AnswerDays("wind", practice, ()) for practice in practices], MODEL, DAY + 60
    )
    cells = [practice.cell(DAY + 60) if practice else UNSEEN for practice in practices]

    assert planned.chances == pytest.approx([MODEL.chance("wind", cell) for cell in cells])
    by_place = {("wind", (place,)): 2.0 for place in range(3)}
    by_cell = {("wind", cell): 2.0 for cell in cells}
    assert planned.variance(by_place) == pytest.approx(MODEL.variance(by_cell), rel=0.02)
    assert planned.variance(by_cell) == pytest.approx(MODEL.variance(by_cell))


def test_a_planned_days_chance_is_the_difference_it_makes():
    visited, alone = (
        planned_chances([AnswerDays("wind", PRACTICE, days)], MODEL, DAY + 60).chances[0]
        for days in ((DAY,), ())
    )
    question = PlannedQuestion("wind", PRACTICE, 1.0, (), (DAY,))

    assert visited - alone == pytest.approx(score_difference([question], MODEL, DAY + 60).score)
