"""What a free drill draws: every condition alone and together, the number, the order."""

from random import Random

import pytest

from domain.drill_choice import DrillCandidate, DrillChoice, TierChoice, drawn, matching
from domain.responses import Reason
from domain.tiers import Tier

CANDIDATES = [
    DrillCandidate("q1", ("obs", "clouds", "genera"), Tier.HARDER, is_waiting=True),
    DrillCandidate("q2", ("obs", "clouds", "heights"), Tier.HARDEST, was_unsure=True),
    DrillCandidate("q3", ("obs", "wind", "force"), Tier.UNTRIED, is_flagged=True),
    DrillCandidate("q4", ("set", "wind", "force"), Tier.CLEAR, is_noted=True),
    DrillCandidate(
        "q5", ("obs", "clouds", "genera"), Tier.HARD, reasons=frozenset({Reason.SLIP}),
        is_flagged=True, has_text=True,
    ),
]  # fmt: skip


@pytest.mark.parametrize(
    ("conditions", "numbers"),
    [
        ({}, "12345"),
        ({"bank": "obs"}, "1235"),
        ({"bank": "obs", "subject": "clouds"}, "125"),
        ({"bank": "obs", "subject": "clouds", "chapter": "genera"}, "15"),
        ({"tier": TierChoice.UNTRIED}, "3"),
        ({"tier": TierChoice.REPEATEDLY_MISSED}, "12"),
        ({"tier": TierChoice.HARD_TIERS}, "125"),
        ({"waiting": True}, "1"),
        ({"unsure": True}, "2"),
        ({"reason": Reason.SLIP}, "5"),
        ({"noted": True}, "4"),
        ({"flagged": True}, "35"),
        ({"with_text": True}, "5"),
        ({"flagged": True, "tier": TierChoice.HARD}, "5"),
        ({"flagged": True, "waiting": True}, ""),
    ],
)
def test_a_question_has_to_meet_every_condition(conditions, numbers):
    matches = matching(CANDIDATES, DrillChoice(**conditions))
    assert [candidate.question for candidate in matches] == [f"q{n}" for n in numbers]


def test_at_most_so_many_are_drawn_in_book_order_or_shuffled():
    ids = [f"q{number}" for number in range(30)]
    in_order = DrillChoice(questions=4, in_random_order=False)
    shuffled = DrillChoice(questions=0)

    assert drawn(ids, in_order, Random(1)) == ids[:4]
    assert sorted(drawn(ids, shuffled, Random(1))) == sorted(ids)
    assert drawn(ids, shuffled, Random(1)) != ids
    assert len(drawn(ids, DrillChoice(questions=40), Random(1))) == 30
