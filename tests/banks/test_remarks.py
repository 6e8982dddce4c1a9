"""What the candidate says about a question, as it is kept."""

import pytest

from banks.library import Library
from domain.errors import InputError
from domain.tiers import Tier
from tests.builders import bank, bares, library

NAME = "book/air.one/1"
PASTED = " See \x1b[31mpage\x1b[0m \u202e7\u202c\x07 "


@pytest.fixture
def opened(tmp_path) -> Library:
    return library(tmp_path, bank("Book", {"Air": {"One": bares(1)}}))


def test_remarks_are_kept_without_what_drives_a_terminal(opened: Library) -> None:
    opened.note(NAME, PASTED)
    opened.dispute(NAME, ("a",), PASTED)
    opened.set_tier(NAME, Tier.HARDER, PASTED)
    history = opened.history

    assert history.note(NAME) == "See page 7"
    assert history.dispute(NAME).note == "See page 7"
    assert history.trail(NAME)[0].event.reason == "See page 7"


def test_a_reason_of_nothing_visible_is_none(opened: Library) -> None:
    with pytest.raises(InputError, match="needs a reason"):
        opened.set_tier(NAME, Tier.HARD, " \x1b[0m ")

    assert opened.history.standing(NAME).tier is Tier.UNTRIED
