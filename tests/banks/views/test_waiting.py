"""What waits and what is settled: counted by subject, against a week ago, and listed."""

from datetime import timedelta
from pathlib import Path

import pytest

from banks.library import Library
from banks.views.triage import Filter, counts, rows, waiting_by_subject, waiting_state
from domain.tiers import Tier
from tests.builders import bank, bares, library, respond
from tui.tier_reasons import waiting_words

BOOK = {"Wind": {"Force": bares(3)}, "Sea": {"State": bares(3)}}
WIND, SEA = "book/wind.force/{}", "book/sea.state/{}"


@pytest.fixture
def opened(tmp_path: Path) -> Library:
    """Tried on days 0 to 3: wind 1 and sea 1 missed, wind 2 right; wind 3 settled; sea 2 late."""
    made = library(tmp_path, bank("Book", BOOK))
    respond(made, WIND.format(3), "right")
    respond(made, WIND.format(1), "wrong")
    respond(made, WIND.format(2), "right")
    respond(made, WIND.format(3), "right")
    respond(made, SEA.format(1), "wrong")
    made.now.go_on(days=25)
    respond(made, SEA.format(2), "right")  # day 30
    return made


def test_what_waits_is_counted_and_listed_and_the_settled_never_waits(opened: Library) -> None:
    opened.now.go_on(days=60 - 31 + 4)  # day 64
    waiting = rows(opened, Filter(waiting=True))

    assert {row.question.id for row in waiting} == {
        WIND.format(1), WIND.format(2), SEA.format(1)
    }  # fmt: skip
    counted = counts(rows(opened, Filter()))
    assert (counted.waiting, counted.settled, counted.total) == (3, 1, 6)
    assert counts(waiting).waiting == 3
    hard = rows(opened, Filter(waiting=True, tiers=frozenset({Tier.HARD})))
    assert {row.question.id for row in hard} == {WIND.format(1), SEA.format(1)}


def test_the_weeks_change_is_against_the_morning_a_week_ago(opened: Library) -> None:
    opened.now.go_on(days=60 - 31 + 4)
    state = waiting_state(opened)
    assert (state.waiting, state.change, state.settled) == (3, 3, 1)
    assert waiting_words(state) == "waiting 3 (3 more, unseen since March) · settled 1"

    opened.now.go_on(days=10)
    assert waiting_state(opened).change == 0
    respond(opened, WIND.format(1), "wrong")
    respond(opened, WIND.format(2), "right")
    state = waiting_state(opened)
    assert (state.waiting, state.change, state.settled) == (1, -2, 2)
    assert waiting_words(state) == "waiting 1 (2 fewer this week) · settled 2"


def test_by_subject_adds_up_and_leaves_out_other_banks(opened: Library) -> None:
    opened.now.go_on(days=60)
    by_subject = waiting_by_subject(opened)

    assert {key: state.waiting for key, state in by_subject.items()} == {
        ("book", "wind"): 2, ("book", "sea"): 2,
    }  # fmt: skip
    assert waiting_state(opened, ["another"]).waiting == 0


def test_a_tier_set_by_hand_since_is_not_carried_back_a_week(opened: Library) -> None:
    """Setting the settled one by hand makes it wait now, not a week ago."""
    opened.now.go_on(days=80)
    opened.set_tier(WIND.format(3), Tier.HARD, "not so sure any more")
    week_ago = opened.today() - timedelta(days=7)

    assert opened.history.standing_before(WIND.format(3), week_ago).settled
    assert not opened.history.standing(WIND.format(3)).settled
    assert waiting_state(opened).change == 1
