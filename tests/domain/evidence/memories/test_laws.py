"""The laws of forgetting say what the practice's pencil says, and a candidate lives by them."""

import random
from datetime import date
from itertools import pairwise

import numpy as np
import pytest

from domain.tiers import TierRules, fold
from domain.verdicts import Confidence, Verdict
from tests.domain.evidence.memories.candidate import FIRST_DAY, LUCKY, Outcomes, SimulatedCandidate
from tests.domain.evidence.memories.laws import LAWS, Law, RisingAbility
from tests.domain.evidence.memories.signs import Signs

BANKS, CHAPTER = 40, 525


def _marked(candidate: SimulatedCandidate, day: int) -> np.ndarray:
    """Which questions are wrong or unsure on the day."""
    outcomes = candidate.study(day, candidate.all())
    return ~outcomes.sure


@pytest.mark.parametrize("law", LAWS, ids=lambda law: law.name)
def test_the_marks_of_the_first_two_meetings_are_the_practices(law: type[Law]):
    # Of 525 questions 278 are wrong or unsure at first study; six weeks later 177 of those are
    # again, and 73 to 93 others (common practice, no source).
    candidate = SimulatedCandidate(law, seed=5, questions=BANKS * CHAPTER, subjects=100)
    first = _marked(candidate, 0)
    if isinstance(candidate.memory, RisingAbility):
        candidate.memory.tries = CHAPTER  # 40 learners of one subject each, not one of 40
    second = _marked(candidate, 42)

    assert first.sum() / BANKS == pytest.approx(278, abs=12)
    assert second[first].mean() * 278 == pytest.approx(177, abs=6)
    assert 73 <= second[~first].mean() * 247 <= 93


@pytest.mark.parametrize("law", LAWS, ids=lambda law: law.name)
def test_memory_fades_and_study_helps(law: type[Law]):
    memory = law(np.linspace(-2, 2, 9))
    items = np.arange(9)
    memory.study(items, 0, np.array([True, False, True] * 3))

    chances = [memory.chance(items, day) for day in (1, 10, 50, 200)]
    left_alone = memory.chance(items, 200)

    assert all((sooner >= later).all() for sooner, later in pairwise(chances))
    assert all(((each >= 0) & (each <= 1)).all() for each in chances)
    now = memory.chance(items, 50)
    right, missed = (memory.after(items, 50, retrieved, 200) for retrieved in (True, False))
    assert (now * right + (1 - now) * missed >= left_alone - 1e-9).all()
    assert (memory.chance(items, 200) == left_alone).all(), "trying out changes nothing"


@pytest.mark.parametrize("law", LAWS, ids=lambda law: law.name)
def test_responses_come_as_often_as_the_chances_say(law: type[Law]):
    candidate = SimulatedCandidate(law, seed=3, questions=4_000, subjects=8)
    candidate.first_study()
    expected = candidate.right_on(30)

    outcomes = candidate.study(30, candidate.all())

    deviation = np.sqrt((expected * (1 - expected)).sum())
    assert abs(outcomes.right.sum() - expected.sum()) < 4 * deviation
    assert expected.min() >= LUCKY
    assert expected.max() <= 1


def test_the_same_seed_is_the_same_candidate_under_any_plan():
    first, other = (
        SimulatedCandidate(LAWS[0], seed=9, questions=300, subjects=3) for _ in range(2)
    )
    first.study(0, first.all())
    other.study(0, other.all()[::-1])

    assert (first.log[0].right == other.log[0].right[::-1]).all()
    assert first.score(50) == pytest.approx(other.score(50))


def test_the_gain_is_what_studying_brings_on_average():
    candidate = SimulatedCandidate(LAWS[1], seed=2, questions=20_000, subjects=4)
    candidate.study(0, candidate.all())
    before, promised = candidate.score(90), candidate.gain(candidate.all(), 40, 90).sum()

    candidate.study(40, candidate.all())

    assert candidate.score(90) - before == pytest.approx(promised, rel=0.03)


def test_a_log_reads_as_histories():
    candidate = SimulatedCandidate(LAWS[0], seed=1, questions=50, subjects=2)
    candidate.study(0, [3, 4])
    candidate.study(7, [3])

    history = candidate.history(3)

    assert [event.day for event in history] == [FIRST_DAY, date(2027, 1, 11)]
    assert history[0].verdict is (Verdict.RIGHT if candidate.log[0].right[0] else Verdict.WRONG)
    assert history[0].confidence in (Confidence.SURE, Confidence.UNSURE)
    assert len(candidate.histories()[4]) == 1


def test_signs_and_proof_by_hand():
    # Read from the rule: a miss, then clean on days that lie apart.
    signs = Signs(1)
    states = []
    for day, right, sure in [
        (0, False, False), (5, True, False), (6, True, True), (8, True, True), (9, True, True),
        (80, False, False), (81, True, True), (87, True, True), (88, True, True),
    ]:  # fmt: skip
        signs.take(Outcomes(np.array([0]), day, np.array([right]), np.array([sure])))
        states.append((int(signs.signs[0]), int(signs.tier[0]), bool(signs.settled[0])))

    assert states == [
        (1, 1, False), (1, 1, False), (1, 1, False), (1, 1, False), (1, 0, True),
        (2, 2, False), (2, 2, False), (2, 2, False), (2, 0, True),
    ]  # fmt: skip
    assert not signs.waiting(200)[0]


def test_waiting_is_tried_unsettled_and_sixty_days_unseen():
    candidate = SimulatedCandidate(LAWS[0], seed=1, questions=40, subjects=2)
    signs = Signs(40)
    signs.take(candidate.study(0, random.Random(1).sample(range(40), 20)))

    assert signs.waiting(59).sum() == 0
    assert signs.waiting(60).sum() == 20


def test_signs_and_tier_rules_agree_on_a_lived_history():
    candidate, signs = SimulatedCandidate(LAWS[4], seed=6, questions=300, subjects=3), Signs(300)
    dice = np.random.default_rng(6)
    for day in np.cumsum(dice.integers(1, 12, 40)).tolist():
        signs.take(candidate.study(day, dice.permutation(300)[:70]))

    for item, history in candidate.histories().items():
        standing = fold(history, TierRules())
        expected = (standing.signs, int(standing.tier), standing.settled)
        assert (signs.signs[item], signs.tier[item], signs.settled[item]) == expected
