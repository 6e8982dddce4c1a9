"""Choosing a sweep from a library."""

import pytest

from banks.library import Library
from banks.views.evidence_log import evidence_log
from banks.views.sweeping import candidates, sweep
from domain.tiers import Tier
from tests.banks.studied import choose, studied
from tests.builders import bank, full, library


@pytest.fixture(scope="module")
def opened(tmp_path_factory) -> Library:
    return studied(tmp_path_factory.mktemp("store"))


def test_the_minutes_are_kept_and_each_pick_says_where_it_stands(opened):
    view = sweep(opened, 20)

    assert 0 < view.seconds <= 1200
    assert view.picks
    for pick in view.picks:
        standing = opened.history.standing(pick.question.id)
        assert (pick.tier, pick.signs, pick.settled) == (
            standing.tier, standing.signs, standing.settled
        )  # fmt: skip
        assert pick.days == (opened.today() - standing.last).days > 4


def test_picks_come_in_book_order(opened):
    order = evidence_log(opened).ids

    places = [order.index(pick.question.id) for pick in sweep(opened, 60).picks]

    assert places == sorted(places)


def test_subject_and_tiers_narrow_the_choice(opened):
    only = sweep(opened, 60, "book/wind", (Tier.HARDEST,))

    assert only.picks
    assert {(pick.subject, pick.tier) for pick in only.picks} == {("Wind", Tier.HARDEST)}
    assert only.pool == candidates(opened, evidence_log(opened), "book/wind", (Tier.HARDEST,)).size


def test_a_gain_is_told_only_where_the_model_is_trusted(opened):
    check = evidence_log(opened).memory.check
    gains = [sweep(opened, minutes).gain for minutes in (30, 60, 120)]

    if check is not None and check.trusted:
        assert gains == sorted(gains)
    else:
        assert gains == [None, None, None]


def test_the_question_own_times_move_its_seconds(opened):
    picks = sweep(opened, 600).picks
    times = {pick.subject: pick.seconds for pick in picks}

    assert times["Clouds"] == pytest.approx(40, abs=2)
    assert times["Maps"] == pytest.approx(60, abs=2)


def test_two_copies_of_a_question_are_not_both_in(tmp_path):
    twin = [full(n, "Which cloud is high?", ["cirrus", "stratus"], "a") for n in (1, 2)]
    opened = library(tmp_path, bank("Book", {"Clouds": {"One": twin}}))
    for number in (1, 2):
        choose(opened, f"book/clouds.one/{number}", "b")

    assert len(sweep(opened, 60, "book/clouds").picks) == 1


STEM = "Which of these clouds is seen high above the others and made of {} of ice alone?"


def test_of_near_duplicates_only_one_is_in_and_a_single_turn_of_sense_makes_them_two(tmp_path):
    stems = [STEM.format(word) for word in ("crystals", "the crystals", "crystal", "no crystals")]
    questions = [full(n, stem, ["cirrus", "stratus"], "a") for n, stem in enumerate(stems, 1)]
    opened = library(tmp_path, bank("Book", {"Clouds": {"One": questions}}))
    for number in range(1, 5):
        choose(opened, f"book/clouds.one/{number}", "b")

    numbers = {pick.question.number for pick in sweep(opened, 60, "book/clouds").picks}

    assert len(numbers) == 2
    assert 4 in numbers


def test_nothing_tried_gives_nothing_to_sweep(tmp_path):
    opened = library(tmp_path, bank("Book", {"Wind": {"One": [full(1, "?", ["a", "b"])]}}))

    assert sweep(opened, 30).picks == ()
