"""Generated pages come in right or are told; the long form is `python -m tests.printed`."""

import random

import pytest

from banks.importers import printed
from banks.importers.common import Hints
from tests.printed.generator import DIMENSIONS, page, random_layout
from tests.printed.scoring import Score, score
from tests.printed.trial import trial

WAYS = [(name, way) for name, ways in DIMENSIONS.items() for way in ways]
PAGES = 6
CORRUPTIONS = 100


@pytest.mark.parametrize(("name", "way"), WAYS)
def test_each_way_of_printing_comes_in(name: str, way: str) -> None:
    total = Score()
    for seed in range(PAGES):
        total.add(trial("text", 100 + seed, {name: way})[1])
    assert total.wrong == []
    assert total.complete >= 0.9 * total.questions


@pytest.mark.parametrize("kind", ["pdf", "pdf in two columns", "side by side"])
def test_pages_and_columns_come_in(kind: str) -> None:
    total = Score()
    for seed in range(8):
        total.add(trial(kind, 300 + seed)[1])
    assert total.complete >= 0.8 * total.questions


def test_noise_costs_questions_but_no_key_goes_wrong_untold() -> None:
    total = Score()
    for seed in range(60):
        total.add(trial("noise", 500 + seed)[1])
    assert total.wrong == []
    assert total.complete >= 0.9 * total.questions


def test_a_key_an_option_or_a_stem_that_was_changed_is_noticed() -> None:
    """The scorer sees what it is there to see: 100 changes on purpose, none overlooked."""
    chance = random.Random(4)
    noticed = 0
    for at in range(CORRUPTIONS):
        made = page(random_layout(700 + at % 20, {"numbers": "1.", "options": "(a)"}))
        parsed = printed.parse(made.text.encode(), Hints())
        keyed = [draft for draft in parsed.drafts if draft.key]
        draft = chance.choice(keyed)
        if at % 3 == 0:
            draft.key = ((int(draft.key[0]) + 1) % len(draft.options),)
        elif at % 3 == 1:
            draft.options = draft.options[1:]
        else:
            draft.stem += " more"
        noticed += len(score(made, parsed).wrong) > 0 or bool(draft.to_check)
    assert noticed == CORRUPTIONS
