"""Settings: every line changes by key, rules show their effect first, keys are remapped."""

import re
from pathlib import Path

import pytest
from msgspec.structs import replace

from banks.library import Library
from domain.tiers import Tier, TierRules
from tests.builders import bank, bares, library, respond
from tests.tui.stage import Stage, messages_of, settled, text_of
from tui import keymap
from tui.base_app import SCREENS
from tui.screens.settings import SettingsScreen
from tui.screens.triage import TriageScreen

SIZE = (80, 24)
QUESTION = "book/clouds.one/1"


@pytest.fixture
def opened(tmp_path: Path) -> Library:
    made = library(tmp_path, bank("Book", {"Clouds": {"One": bares(5)}}))
    respond(made, QUESTION, "wrong", "right")
    made.now.go_on(days=2)
    respond(made, QUESTION, "right")
    return made


async def go_to(pilot, words: str) -> None:
    """Select the line with these words."""
    listed = pilot.app.screen.query_one("#settings")
    for place in range(listed.option_count):
        if words in str(listed.get_option_at_index(place).prompt):
            listed.highlighted = place
            return
    raise AssertionError(f"no line with {words!r}")


def said(app) -> list[str]:
    """What the app has told in passing."""
    return messages_of(app)


async def test_a_rule_shows_its_effect_before_it_is_used(opened: Library) -> None:
    assert opened.history.standing(QUESTION).tier is Tier.CLEAR
    async with Stage(opened, SettingsScreen()).run_test(size=SIZE) as pilot:
        await go_to(pilot, "Proof")
        await pilot.press("enter")
        await pilot.app.workers.wait_for_complete()
        await pilot.pause()
        shown = text_of(pilot.app)
        assert opened.history.standing(QUESTION).tier is Tier.CLEAR
        await pilot.press("y")
        await pilot.pause()

    assert "Under these rules:" in shown
    assert "hard            0 →        1   +1" in shown
    assert opened.settings.tier_rules == TierRules(strict=True)
    assert opened.history.standing(QUESTION).tier is Tier.HARD


async def test_a_rule_that_cannot_be_is_told_and_nothing_changes(opened: Library) -> None:
    before = opened.settings
    async with Stage(opened, SettingsScreen()).run_test(size=SIZE) as pilot:
        await go_to(pilot, "The numbers behind the proof")
        await pilot.press("enter")
        await go_to(pilot, "Clean days that settle a hard question")
        await pilot.press("enter", "end", "backspace", "9", "enter")
        refused = await settled(pilot)
        await pilot.press("backspace", "2", "enter")
        mended = await settled(pilot)

    assert "must not get fewer" in " ".join(refused.split())
    assert "must not get fewer" not in " ".join(mended.split())
    assert opened.settings == before


async def test_the_selected_line_is_marked_and_numbers_have_units(opened: Library) -> None:
    async with Stage(opened, SettingsScreen()).run_test(size=SIZE) as pilot:
        first = await settled(pilot)
        await go_to(pilot, "Waiting after")
        second = await settled(pilot)

    assert re.search(r"^> Proof +usual", first, re.MULTILINE)
    assert re.search(r"^  Proof", second, re.MULTILINE)
    assert re.search(r"^> Waiting after +60 days\b", second, re.MULTILINE)


async def test_the_numbers_of_the_proof_stand_behind_more(opened: Library) -> None:
    async with Stage(opened, SettingsScreen()).run_test(size=SIZE) as pilot:
        closed = await settled(pilot)
        await go_to(pilot, "The numbers behind the proof")
        await pilot.press("enter")
        unfolded = await settled(pilot)
        await pilot.press("enter")
        again = await settled(pilot)

    assert "Clean days" not in closed
    assert re.search(r"^> The numbers behind the proof +less", unfolded, re.MULTILINE)
    assert re.search(r"^  Clean days that settle a hard question +2 days\b", unfolded, re.MULTILINE)
    assert re.search(r"^  Minimum gap between clean days \(hardest\) +7 days", unfolded, re.M)
    assert "Clean days" not in again


async def test_a_choice_steps_on_at_enter(opened: Library) -> None:
    async with Stage(opened, SettingsScreen()).run_test(size=SIZE) as pilot:
        await go_to(pilot, "Colours")
        await pilot.press("enter", "enter")
        await pilot.pause()

    assert opened.settings.looks.theme == "daylight"


async def test_a_key_is_set_by_pressing_it_and_works_at_once(opened: Library) -> None:
    async with Stage(opened, SettingsScreen()).run_test(size=SIZE) as pilot:
        await go_to(pilot, "Reset the selected shortcut to its default")
        await pilot.press("enter", "ctrl+y")
        await pilot.pause()
        assert opened.settings.keys == {"settings.default": "ctrl+y"}
        await go_to(pilot, "Reset the selected shortcut to its default")
        await pilot.press("ctrl+y")
        await pilot.pause()

    assert opened.settings.keys == {}


async def test_words_that_name_a_key_name_the_one_that_is_set(opened: Library) -> None:
    keys = {"drill-form.clear": "ctrl+y", "triage.subject": "ctrl+g"}
    opened.save_settings(replace(opened.settings, keys=keys))
    async with Stage(opened, TriageScreen()).run_test(size=SIZE) as pilot:
        await pilot.press("c")
        chapter = said(pilot.app)
        await pilot.press("D", *["t"] * 5, "enter")
        none = said(pilot.app)[-1]

    assert chapter == ["Choose a subject first, with ctrl+g."]
    assert none == "No question meets all of that. ctrl+y drops every condition."


async def test_a_key_that_is_taken_is_refused_in_words(opened: Library) -> None:
    async with Stage(opened, SettingsScreen()).run_test(size=SIZE) as pilot:
        await go_to(pilot, "Reset the selected shortcut to its default")
        await pilot.press("enter", "j")
        await pilot.pause()
        shown = said(pilot.app)

    assert any("j already means" in words for words in shown)
    assert opened.settings.keys == {}


def test_every_action_of_every_screen_has_one_name_of_its_own() -> None:
    rows = list(keymap.rows())
    names = [row.identity for row in rows]

    assert len(set(names)) == len(names)
    assert {row.group for row in rows} >= {
        "Today",
        "Plan",
        "Triage",
        "Drill",
        "Marking",
        "Everywhere",
    }
    assert len(SCREENS) >= 9


def test_a_character_that_a_screen_takes_as_text_can_belong_to_no_action() -> None:
    undo = next(row for row in keymap.rows() if row.identity == "paper.undo")

    assert keymap.clash(undo, "b", {}) == "b is typed as text on this screen"
    assert keymap.clash(undo, "ctrl+y", {}) is None


async def test_on_a_narrow_terminal_every_setting_keeps_to_its_line(opened: Library) -> None:
    async with Stage(opened, SettingsScreen()).run_test(size=(60, 20)) as pilot:
        shown = await settled(pilot)

    lines = shown.splitlines()
    assert re.match(r"> Proof +usual", lines[2])
    assert re.match(r"  Waiting after +60 days", lines[4])
