"""Lived under laws of forgetting: what settles, and what "waiting" says of the exam.

A short form of `memories.half_year`, with a fifth of the bank and of the minutes.
"""

from functools import cache

import pytest

from tests.domain.evidence.memories.half_year import Life, live
from tests.domain.evidence.memories.laws import LAWS, Law

QUESTIONS = 2_000
ENOUGH_WAITING = 100
EARLY = 120
"""Before this day the plain pattern finds what waits no less likely right under two of the laws
(two stores, three states): most of the others were just missed in their first block, and a look-up
is soon forgotten there. Through the plan, which sweeps more by then, it is less likely right on
every date (`test_worth`).
"""

each_law = pytest.mark.parametrize("law", LAWS, ids=lambda law: law.name)


@cache
def lived(law: type[Law], passes: bool) -> Life:
    return live(law, seed=1, passes=passes, questions=QUESTIONS)


@each_law
def test_the_twice_missed_settle_with_passes_and_near_none_without(law: type[Law]):
    without, with_passes = lived(law, False), lived(law, True)

    assert without.settled < 0.02
    assert with_passes.settled > 0.08
    assert with_passes.hard_tiers < without.hard_tiers - 0.08
    assert with_passes.score > without.score + 10


@each_law
def test_the_former_rule_brought_next_to_none_down(law: type[Law]):
    life = lived(law, True)

    assert life.former_came_down < 0.05 < life.settled
    assert life.former_hard_tiers > life.hard_tiers


@each_law
@pytest.mark.parametrize("passes", [False, True])
def test_what_waits_is_less_likely_right_in_the_exam(law: type[Law], passes: bool):
    days = [day for day in lived(law, passes).waiting if day.number >= ENOUGH_WAITING]

    assert any(day.day >= EARLY for day in days)
    assert all(day.chance < day.others - 0.03 for day in days if day.day >= EARLY)
    assert sum(day.others - day.chance for day in days) / len(days) >= 0.05


def test_on_the_eve_less_waits_after_passes():
    for law in LAWS:
        assert lived(law, True).waiting[-1].number < lived(law, False).waiting[-1].number / 2


def test_the_same_seed_lives_the_same_life():
    again = live(LAWS[0], seed=1, passes=True, questions=QUESTIONS)

    assert again == lived(LAWS[0], True)
