"""Short form of `worth`: passes pay, and looking ahead pays no less than the rule."""

import os

import numpy as np
import pytest

from tests.domain.evidence.memories.half_year import DATES, Waiting
from tests.domain.evidence.memories.laws import Law, PowerLaw, ThreeStates
from tests.domain.evidence.worth import (
    EXAM,
    FINAL_DAYS,
    Life,
    Standings,
    by_lookahead,
    by_rule,
    by_truth,
    hour_worth,
    nothing,
)

LAWS_TRIED = (PowerLaw, ThreeStates) if os.environ.get("RESIEVE_EXPLORE") else (PowerLaw,)


@pytest.mark.slow
def test_idle_minutes_used_are_worth_more_than_any_cleverness():
    lives = {
        policy: [Life(law, 1, policy) for law in LAWS_TRIED]
        for policy in (nothing, by_rule, by_lookahead)
    }
    scores = {policy: np.array([life.score for life in own]) for policy, own in lives.items()}

    assert (scores[by_rule] - scores[nothing]).min() > 12
    assert (scores[by_lookahead] - scores[nothing]).mean() > 30
    # Simulated luck differs by about 3 of 400 between two lives.
    assert (scores[by_lookahead] - scores[by_rule]).mean() > 0
    assert (scores[by_lookahead] - scores[by_rule]).min() > -3
    assert Life(PowerLaw, 1, by_truth).score - scores[by_lookahead][0] < 12
    for idle, filled in zip(lives[nothing], lives[by_lookahead], strict=True):
        _check_standings(idle.standings(), filled.standings())
        _check_waiting(idle.waits)
        _check_waiting(filled.waits)


def _check_standings(idle: Standings, filled: Standings) -> None:
    """Only used minutes settle the twice-missed; by the former rule next to none came down."""
    assert idle.settled < 0.02
    assert filled.settled > 0.08
    assert filled.came_down < 0.05
    assert filled.hard_tiers < min(idle.hard_tiers, filled.former_hard_tiers) - 0.03


def _check_waiting(waits: list[Waiting]) -> None:
    """What waits is less likely right in the exam than what doesn't, on every date."""
    compared = [wait for wait in waits if wait.number >= 100]

    assert [case.day for case in compared] == [*DATES]
    assert all(case.chance < case.others for case in compared)
    assert sum(case.others - case.chance for case in compared) / len(compared) >= 0.05


@pytest.mark.slow
@pytest.mark.parametrize("law", [PowerLaw], ids=lambda law: law.name)
def test_an_hour_gains_about_what_is_said(law: type[Law]):
    worth = hour_worth(law, [1])

    assert worth.trusted == 1
    assert 0.7 <= worth.ratio <= 1.4
    assert worth.rank > 0.6


@pytest.mark.slow
def test_the_end_of_a_short_plan_is_chosen_by_a_model_that_is_trusted():
    life = Life(PowerLaw, 1, by_lookahead, 0.65, until=EXAM - FINAL_DAYS)
    going_on = life.ended(None)

    assert going_on.is_short
    assert life.learner.lookahead(EXAM - FINAL_DAYS) is not None
    # By the rule it loses about three of 400.
    assert life.ended(by_lookahead).score > going_on.score + 1
