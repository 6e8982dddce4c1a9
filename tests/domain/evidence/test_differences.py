"""Differences between plans: by hand, and against candidates whose memory is known."""

from copy import deepcopy
from datetime import date

import numpy as np
import pytest

from domain.evidence.differences import (
    AnswerDays,
    PlannedQuestion,
    ScoreDifference,
    planned_chances,
    score_difference,
)
from domain.evidence.memory.learning import learn
from domain.evidence.memory.logistic import Logistic, fit
from domain.evidence.memory.practice import UNSEEN, Practice
from tests.domain.evidence.memories.laws import HalfLife, Law, PowerLaw, ThreeStates
from tests.domain.evidence.worth import EXAM, FIRST, Learner

DAY = date(2027, 3, 1).toordinal()
MODEL = fit([], ["wind"])
PRACTICE = Practice(1, 1, 0, False, 1, DAY - 40, DAY - 30)


def test_one_visit_more_is_the_hand_worked_difference():
    found = score_difference(
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
    assert found.score == pytest.approx(6 * (now * right + (1 - now) * missed - alone), rel=1e-3)
    assert found.deviation > 0


def test_the_same_plan_makes_no_difference():
    same = PlannedQuestion("wind", PRACTICE, 2.0, (DAY,), (DAY,))

    found = score_difference([same], MODEL, DAY + 60)

    assert (found.score, found.too_small) == (0.0, True)


def test_small_or_uncertain_differences_are_not_told():
    assert ScoreDifference(2.9, 0.1).too_small
    assert ScoreDifference(5.0, 5.0).too_small
    assert not ScoreDifference(-5.0, 1.0).too_small


def _plans(learner: Learner, day: int, dice: np.random.Generator) -> list[dict[int, list[int]]]:
    """Two plans for what is left: subjects on days, drawn at random and of different sizes."""
    plans = []
    for _ in range(2):
        plan: dict[int, list[int]] = {}
        for _ in range(int(dice.integers(1, 22))):
            subject = int(dice.integers(learner.candidate.subjects))
            plan.setdefault(int(dice.integers(day, EXAM)), []).append(subject)
        plans.append(plan)
    return plans


def _days(plan: dict[int, list[int]], subject: int) -> tuple[int, ...]:
    return tuple(sorted(FIRST + day for day, taken in plan.items() if subject in taken))


@pytest.mark.slow
@pytest.mark.parametrize("law", [PowerLaw, HalfLife, ThreeStates], ids=lambda law: law.name)
def test_the_sign_of_a_told_difference_is_right_nine_times_in_ten(law: type[Law]):
    start, right, told = 70, 0, 0
    learner = Learner(law, 4, questions=700)
    dice = np.random.default_rng(4)
    for day in range(0, start, 2):
        learner.study(day, dice.permutation(700)[:30])
    model = learn(learner.trials).chances
    assert isinstance(model, Logistic)
    subjects = learner.candidate.subject
    for _ in range(25):
        plans = _plans(learner, start, dice)
        questions = [
            PlannedQuestion(
                f"{subjects[item]:02}", practice, float(learner.candidate.worth[item]),
                _days(plans[0], subjects[item]), _days(plans[1], subjects[item]),
            )
            for item, practice in enumerate(learner.practices)
        ]  # fmt: skip
        found = score_difference(questions, model, FIRST + EXAM)
        if found.too_small:
            continue
        scores = []
        for plan in plans:
            candidate = deepcopy(learner.candidate)
            for day in sorted(plan):
                for subject in dict.fromkeys(plan[day]):
                    candidate.study(day, candidate.of(subject))
            scores.append(candidate.score(EXAM))
        told += 1
        right += (scores[1] - scores[0] > 0) == (found.score > 0)

    assert told >= 8
    assert right >= 0.9 * told


def test_a_plan_without_days_has_the_models_own_chances_and_their_variance():
    practices = [PRACTICE, None, Practice(0, 2, 0, False, 2, DAY - 9, DAY - 9)]
    planned = planned_chances([AnswerDays("wind", one, ()) for one in practices], MODEL, DAY + 60)
    cells = [one.cell(DAY + 60) if one else UNSEEN for one in practices]

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
    one = PlannedQuestion("wind", PRACTICE, 1.0, (), (DAY,))

    assert visited - alone == pytest.approx(score_difference([one], MODEL, DAY + 60).score)
