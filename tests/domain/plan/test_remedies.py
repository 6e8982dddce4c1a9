"""What would make a plan fit is found by planning again, and is the least that does."""

from datetime import timedelta

import pytest
from msgspec.structs import replace

from domain.plan.load import NOTHING, Pace
from domain.plan.remedies import Means, Planner, remedies, with_more_minutes
from tests.domain.plan.scenes import MONDAY, alike, usual

PLANNER = Planner(alike(12), NOTHING, Pace(), MONDAY)
SHORT = usual(exam=MONDAY + timedelta(days=70), start=MONDAY + timedelta(days=7))


@pytest.fixture(scope="module")
def found():
    return {remedy.means: remedy for remedy in remedies(PLANNER, SHORT)}


def test_a_plan_that_fits_needs_no_remedy():
    assert remedies(PLANNER, usual()) == ()


def test_every_remedy_was_planned_and_fits(found):
    assert {Means.MINUTES, Means.SWEEP_ONLY, Means.ROUNDS} <= set(found)
    for remedy in found.values():
        assert remedy.plan.feasible
        assert PLANNER.plan(remedy.inputs) == remedy.plan


def test_five_minutes_less_would_not_fit(found):
    amount = found[Means.MINUTES].amount
    assert not PLANNER.fits(with_more_minutes(SHORT, amount - 5))


def test_one_strong_subject_fewer_would_not_fit(found):
    remedy = found[Means.SWEEP_ONLY]
    assert len(remedy.inputs.sweep_only) == remedy.amount
    assert not PLANNER.fits(replace(SHORT, sweep_only=remedy.inputs.sweep_only[:-1]))


def test_one_round_more_would_not_fit(found):
    assert not PLANNER.fits(replace(SHORT, rounds=found[Means.ROUNDS].amount + 1))


def test_an_earlier_start_is_offered_where_it_is_enough():
    late = usual(exam=MONDAY + timedelta(days=91), start=MONDAY + timedelta(days=14))
    earlier = [r for r in remedies(PLANNER, late) if r.means is Means.EARLIER]
    assert [r.plan.feasible for r in earlier] == [True]
    assert not PLANNER.fits(replace(late, start=earlier[0].inputs.start + timedelta(days=1)))


def test_where_no_single_change_does_more_minutes_and_one_round_are_tried_together():
    tiny = usual(exam=MONDAY + timedelta(days=26), minutes=((30,),) * 5 + ((60,), ()))
    assert [(r.means, r.inputs.rounds) for r in remedies(PLANNER, tiny)] == [(Means.MINUTES, 1)]


def test_where_nothing_helps_nothing_is_promised():
    assert remedies(PLANNER, usual(exam=MONDAY + timedelta(days=3))) == ()


def test_a_rest_day_gets_no_minutes():
    assert with_more_minutes(usual(), 10).minutes == ((30, 70),) * 5 + ((310,), ())
