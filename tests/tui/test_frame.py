"""The frame around every screen: what is told in passing, the last line, the palette."""

from pathlib import Path

import pytest

from banks.library import Library
from tests.builders import bank, bares, library
from tests.tui.stage import Stage, settled, type_text
from tui.dialogs import ChoiceDialog
from tui.screens.bank import BankScreen
from tui.screens.progress import ProgressScreen
from tui.screens.triage import TriageScreen

SIZE = (80, 24)


@pytest.fixture
def opened(tmp_path: Path) -> Library:
    return library(tmp_path, bank("Book", {"Clouds": {"One": bares(5)}}))


async def test_what_is_told_takes_the_last_line_and_only_the_newest_stands(opened):
    async with Stage(opened, TriageScreen()).run_test(size=SIZE, notifications=True) as pilot:
        before = await settled(pilot)
        pilot.app.screen.tell("The first thing.")
        pilot.app.screen.tell("The second thing.")
        for _ in range(100):  # both may stand for one painting on a busy machine
            after = await settled(pilot)
            if "second thing" in after and "first thing" not in after:
                break

    assert after.splitlines()[-1].strip() == "The second thing."
    assert after.splitlines()[:-1] == before.splitlines()[:-1]


async def test_while_text_is_typed_the_last_line_offers_no_key_that_would_become_text(opened):
    async with Stage(opened, BankScreen()).run_test(size=SIZE) as pilot:
        before = (await settled(pilot)).splitlines()[-1]
        await pilot.press("slash")
        typing = (await settled(pilot)).splitlines()[-1]

    assert "x Retire" in before
    assert "x Retire" not in typing
    assert "bksp" not in typing
    assert "f1 Help" in typing


async def test_the_palette_finds_what_another_screen_does_and_goes_there(opened):
    async with Stage(opened, ProgressScreen()).run_test(size=SIZE) as pilot:
        await pilot.press("ctrl+p")
        await pilot.pause()
        await type_text(pilot, "mark the day off")
        await pilot.app.workers.wait_for_complete()
        await pilot.pause(0.3)
        found = await settled(pilot)
        await pilot.press("enter")
        await pilot.pause()
        name = pilot.app.screen.NAME

    assert "On the Plan screen, key x." in found
    assert name == "plan"


async def test_the_palette_lists_an_action_once(opened):
    async with Stage(opened, TriageScreen()).run_test(size=SIZE) as pilot:
        titles = [entry.help for entry in pilot.app.get_system_commands(pilot.app.screen)]

    assert len(titles) == len(set(titles))


async def choose(opened: Library, *keys: str) -> str | None:
    got: list[str | None] = []
    async with Stage(opened, TriageScreen()).run_test(size=SIZE) as pilot:
        pilot.app.push_screen(ChoiceDialog("Which?", [("1", "one"), ("2", "two")]), got.append)
        await pilot.pause()
        await pilot.press(*keys)
        await pilot.pause()
    return got[0] if got else "still asked"


@pytest.mark.parametrize(
    ("keys", "chosen"),
    [
        (["2"], "2"),
        (["down", "enter"], "1"),
        (["down", "down", "enter"], "2"),
        (["up", "enter"], "2"),
        (["enter"], "still asked"),
        (["escape"], None),
    ],
)
async def test_a_choice_is_made_by_its_key_or_by_arrows_and_enter(opened, keys, chosen):
    assert await choose(opened, *keys) == chosen
