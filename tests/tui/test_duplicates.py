"""Duplicates side by side, at 80x24."""

import pytest

from banks.library import Library
from domain.tiers import Tier
from tests.builders import bank, full, library, respond
from tests.tui.stage import Stage, settled
from tui.screens.duplicates import DuplicatesScreen

BOOK = {
    "Wind": {
        "Force": [
            full(1, "Which name belongs to force three?", ["breeze", "gale"], "a"),
            full(2, "Which name  belongs to force three?", ["breeze", "gale"], "a"),
            full(3, "Which of these is the name of a cloud?", ["cirrus", "gale"], "a"),
            full(4, "Which of these is the name of a cloud?", ["cirrus", "gale"], "b"),
        ]
    }
}
NAME = "observer/wind.force/{}"


@pytest.fixture
def opened(tmp_path) -> Library:
    made = library(tmp_path, bank("Observer", BOOK))
    respond(made, NAME.format(1), "wrong")
    respond(made, NAME.format(2), "wrong")
    return made


async def found(app: Stage, pilot) -> str:
    """The screen once the comparing thread is through."""
    await app.workers.wait_for_complete()
    return await settled(pilot)


def retired(opened: Library) -> list[int]:
    return [
        question.number
        for question in opened.banks["observer"].questions.values()
        if question.retired
    ]


async def test_pairs_stand_side_by_side_with_a_proposal(opened):
    app = Stage(opened, DuplicatesScreen("observer"))
    async with app.run_test() as pilot:
        shown = await found(app, pilot)

    assert "2 pairs" in shown
    assert "keys differ" in shown
    both = next(line for line in shown.splitlines() if "stays" in line)
    assert "is retired" in both


async def test_merging_joins_both_histories_and_undo_parts_them(opened):
    app = Stage(opened, DuplicatesScreen("observer"))
    async with app.run_test() as pilot:
        await found(app, pilot)
        await pilot.press("enter")
        await found(app, pilot)
        merged = retired(opened), opened.history.standing(NAME.format(1)).tier
        await pilot.press("u")
        shown = await found(app, pilot)

    assert merged == ([2], Tier.HARDER)
    assert retired(opened) == []
    assert opened.history.standing(NAME.format(1)).tier is Tier.HARD
    assert "2 pairs" in shown


async def test_tab_moves_to_a_long_text_and_the_arrows_scroll_it(tmp_path):
    stem = "\n".join(f"line {number}." for number in range(40))
    made = library(tmp_path, bank("Observer", {"Wind": {"Force": [full(1, stem), full(2, stem)]}}))
    app = Stage(made, DuplicatesScreen("observer"))
    async with app.run_test() as pilot:
        top = await found(app, pilot)
        await pilot.press("tab", "pagedown")
        left = await settled(pilot)
        await pilot.press("tab", "pagedown")
        both = await settled(pilot)

    assert top.count("line 8.") == 2
    assert left.count("line 8.") == 1
    assert both.count("line 8.") == 0


async def test_the_other_one_can_be_kept(opened):
    app = Stage(opened, DuplicatesScreen("observer"))
    async with app.run_test() as pilot:
        await found(app, pilot)
        await pilot.press("o", "enter")
        await found(app, pilot)

    assert retired(opened) == [1]


async def test_differing_keys_are_asked_about(opened):
    app = Stage(opened, DuplicatesScreen("observer"))
    async with app.run_test() as pilot:
        await found(app, pilot)
        await pilot.press("j", "enter")
        asked = await settled(pilot)
        await pilot.press("n")

    assert "Their answer keys differ" in asked
    assert retired(opened) == []


async def test_all_exact_pairs_whose_keys_agree_are_merged_at_once(opened):
    app = Stage(opened, DuplicatesScreen("observer"))
    async with app.run_test() as pilot:
        await found(app, pilot)
        await pilot.press("a", "y")
        shown = await found(app, pilot)

    assert retired(opened) == [2]
    assert "1 pair" in shown


async def test_what_is_not_the_same_leaves_the_list(opened):
    app = Stage(opened, DuplicatesScreen("observer"))
    async with app.run_test() as pilot:
        await found(app, pilot)
        await pilot.press("x", "x")
        shown = await settled(pilot)

    assert "No duplicates found" in shown
    assert retired(opened) == []
