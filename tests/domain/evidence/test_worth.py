"""Short form of `worth`: passes pay, and looking ahead pays no less than the rule."""

import numpy as np
import pytest

from tests.domain.evidence.memories.laws import Law, PowerLaw, ThreeStates
from tests.domain.evidence.worth import Life, by_lookahead, by_rule, by_truth, hour_worth, nothing

LAWS_TRIED = (PowerLaw, ThreeStates)


@pytest.mark.slow
def test_idle_minutes_used_are_worth_more_than_any_cleverness():
    scores = {
        policy: np.array([Life(law, 1, policy).score for law in LAWS_TRIED])
        for policy in (nothing, by_rule, by_lookahead)
    }

    assert (scores[by_rule] - scores[nothing]).min() > 12
    assert (scores[by_lookahead] - scores[nothing]).mean() > 30
    # Simulated luck differs by about 3 of 400 between two lives.
    assert (scores[by_lookahead] - scores[by_rule]).mean() > 0
    assert (scores[by_lookahead] - scores[by_rule]).min() > -3
    assert Life(PowerLaw, 1, by_truth).score - scores[by_lookahead][0] < 12


@pytest.mark.slow
@pytest.mark.parametrize("law", [PowerLaw], ids=lambda law: law.name)
def test_an_hour_gains_about_what_is_said(law: type[Law]):
    ratio, rank, trusted = hour_worth(law, [1])

    assert trusted == 1
    assert 0.7 <= ratio <= 1.4
    assert rank > 0.6
