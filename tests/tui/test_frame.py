"""The frame around every screen: the title, what is told in passing, the keys, the palette."""

from pathlib import Path

import pytest
from textual.content import Content

from banks.library import Library
from tests.builders import bank, bares, library
from tests.tui.stage import Stage, Wings, messages_of, settled, type_text
from tui.base_app import GLOBAL
from tui.base_screen import fit_title
from tui.dialogs import ChoiceDialog, PickDialog
from tui.screens.bank import BankScreen
from tui.screens.progress import ProgressScreen
from tui.screens.triage import TriageScreen

SIZE = (80, 24)


@pytest.fixture
def opened(tmp_path: Path) -> Library:
    return library(tmp_path, bank("Book", {"Clouds": {"One": bares(5)}}))


@pytest.mark.parametrize(
    ("left", "right", "shown"),
    [
        ("SI units · 5 Units", "revision, Wed 25 Nov · 7 of 28", None),
        ("Instruments · 5 Conversions · 1–28", "sweep, Wed 25 Nov · 7 of 28",
         ("Instruments · 5 Convers… · 1–28", "sweep, Wed 25 Nov · 7 of 28")),
        ("Wind · 12 Observations at sea and on the coast", "sweep, Wed 25 Nov · 7 of 28",
         ("Wind · 12 Observations at sea …", "sweep, Wed 25 Nov · 7 of 28")),
        ("Wind · 5 Observations", "revision, Wed 25 Nov (12 days ago) · 7 of 28 · 12:09 paused",
         ("Wind · 5 Observatio…", "revision, Wed 25 Nov (12 days ago) · …")),
    ],
)  # fmt: skip
def test_the_right_of_a_title_is_kept_while_the_left_has_a_third(left, right, shown):
    parts = tuple(part.plain for part in fit_title(left, right, 60))

    assert parts == (shown or (left, right))


async def test_a_message_stays_on_the_screen_that_it_was_told_on(opened):
    first = Wings()
    app = Stage(opened, first)
    async with app.run_test(size=SIZE) as pilot:
        first.notify("told [first]")
        lines = (await settled(pilot)).splitlines()
        assert lines[-2:] == [" told [first]", " esc Back   ? Help"]

        above = Wings()
        app.push_screen(above)
        above.tell("told before it is drawn")
        first.notify("told while covered")
        shown = await settled(pilot)
        assert messages_of(app) == ["told while covered", "told before it is drawn"]
        assert "told before it is drawn" in shown
        assert "covered" not in shown

        app.go_back()
        shown = await settled(pilot)
        assert "told while covered" in shown
        assert "drawn" not in shown

        app.push_screen(above := Wings())
        await settled(pilot)
        app.go_back()
        above.tell("told when it was left")
        assert "told when it was left" in await settled(pilot)

        app.notify("told for a moment", timeout=0.01)
        assert messages_of(app) == ["told for a moment"]
        await pilot.pause(0.05)
        assert "told for" not in await settled(pilot)
        assert messages_of(app) == []


async def test_while_text_is_typed_the_last_line_offers_no_key_that_would_become_text(opened):
    async with Stage(opened, BankScreen()).run_test(size=SIZE) as pilot:
        before = (await settled(pilot)).splitlines()[-1]
        await pilot.press("slash")
        typing = (await settled(pilot)).splitlines()[-1]

    assert "n New" in before
    assert "n New" not in typing
    assert "bksp" not in typing
    assert "f1 Help" in typing


async def test_function_keys_lead_to_the_main_screens_and_escape_back_to_the_first(opened):
    visits = {action.key: action.name for action in GLOBAL if action.name.startswith("visit(")}
    shown = {}
    app = Stage(opened, TriageScreen())
    async with app.run_test(size=SIZE) as pilot:
        for key in visits:
            await pilot.press(key)
            await app.workers.wait_for_complete()
            shown[key] = f"visit('{app.screen.NAME}')"
        await pilot.press("f4", "escape")
        last = app.screen.NAME

    at_the_bottom = {"f2": "visit('wings')"}  # where Today is in the app
    assert shown == visits | at_the_bottom
    assert last == "wings"


async def test_the_palette_finds_what_another_screen_does_and_goes_there(opened):
    async with Stage(opened, ProgressScreen()).run_test(size=SIZE) as pilot:
        await pilot.press("ctrl+p")
        await pilot.pause()
        await type_text(pilot, "mark the day off")
        await pilot.app.workers.wait_for_complete()
        await pilot.pause(0.3)
        shown = await settled(pilot)
        await pilot.press("enter")
        await pilot.pause()
        name = pilot.app.screen.NAME

    assert "On the Plan screen, key x." in shown
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


async def test_a_list_narrows_to_what_is_typed_with_its_keys_in_sight(opened):
    items = [f"Subject {number}" for number in range(1, 31)]
    got: list[str | None] = []
    async with Stage(opened, TriageScreen()).run_test(size=SIZE) as pilot:
        dialog = PickDialog("Which?", items, lambda item, _: Content(item), most_lines=14)
        pilot.app.push_screen(dialog, got.append)
        shown = await settled(pilot)
        await type_text(pilot, "sub 2")
        await pilot.press("down", "down", "up", "enter")

    assert "enter choose" in shown
    assert got == ["Subject 20"]
