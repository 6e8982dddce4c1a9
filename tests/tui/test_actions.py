"""Every action of every screen: in words, under keys that reach the app, and all of them shown."""

from datetime import date

import pytest
from msgspec.structs import replace

from banks.library import Library
from tests.builders import bank, bares, library
from tests.tui.stage import Stage, settled
from tui.actions import Action
from tui.base_app import GLOBAL, SCREENS
from tui.keymap import all_screens
from tui.widgets.virtual_list import MOVES

MULTIPLEXER = {f"ctrl+{letter}" for letter in "abogtpnshqc"}
"""Prefixes and mode keys of common terminal multiplexers, the palette, and leaving."""
CONTROL = {"ctrl+i", "ctrl+m", "ctrl+h", "ctrl+j", "ctrl+left_square_bracket"}
"""Sent by a terminal without extensions as tab, enter, backspace, newline and escape."""


EVERY = all_screens()
GOABLE = [screen for screen in EVERY if screen.NAME in SCREENS]
TO_GO = pytest.mark.parametrize("screen_class", GOABLE, ids=lambda each: each.NAME)
BY_NAME = pytest.mark.parametrize("screen", EVERY, ids=lambda screen: screen.NAME)


def keys(actions: tuple[Action, ...]) -> list[str]:
    return [key.strip() for action in actions for key in action.key.split(",")]


@BY_NAME
def test_every_action_has_words_and_a_method(screen):
    for action in screen.all_actions():
        name = action.name.partition("(")[0]

        assert action.description.endswith("."), action
        assert 0 < len(action.label) <= 16 or not action.footer, action
        assert name.startswith("app.") or hasattr(screen, f"action_{name}"), action


@BY_NAME
def test_no_key_has_two_meanings_on_a_screen(screen):
    pressed = keys(screen.all_actions())
    everywhere = set(keys(GLOBAL))

    assert len(pressed) == len(set(pressed))
    assert not everywhere & set(pressed)


@BY_NAME
def test_every_action_can_be_given_a_key_of_its_own(screen):
    names = [action.identity(screen.NAME) for action in screen.all_actions()]

    assert len(names) == len(set(names))


@BY_NAME
def test_keys_reach_the_app_through_any_terminal(screen):
    for key in keys(screen.all_actions()):
        assert key not in MULTIPLEXER, key
        assert key not in CONTROL, key
        assert not key.startswith(("alt+", "super+", "ctrl+shift+")), key


def test_screens_have_names_of_their_own():
    names = [screen.NAME for screen in EVERY]

    assert len(names) == len(set(names))


@pytest.fixture
def opened(tmp_path) -> Library:
    """A store that has been set up, so that no screen asks for more first."""
    made = library(tmp_path, bank("Observer", {"Wind": {"Force": bares(5)}}))
    plan = replace(made.settings.plan, exam=date(2026, 9, 1))
    made.save_settings(replace(made.settings, plan=plan))
    return made


@TO_GO
async def test_the_last_line_fits_80_cells_and_names_six_shortcuts_at_most(opened, screen_class):
    screen = screen_class()
    app = Stage(opened, screen)
    async with app.run_test(size=(80, 24)) as pilot:
        last = (await settled(pilot)).splitlines()[-1]
        await pilot.resize_terminal(200, 24)
        wide = (await settled(pilot)).splitlines()[-1]

    assert len(wide.strip().split("   ")) <= 6
    assert last.rstrip().endswith(("? Help", "f1 Help"))
    assert len(last) <= 80
    assert last.split()[0] not in ("?", "f1")


@TO_GO
async def test_the_help_lists_every_action(opened, screen_class):
    screen = screen_class()
    app = Stage(opened, screen)
    async with app.run_test(size=(80, 120)) as pilot:
        await pilot.press("f1")
        shown = " ".join((await settled(pilot)).replace("│", " ").split())

    for action in (*screen.all_actions(), *GLOBAL):
        assert action.description in shown


def test_moves_in_lists_have_words_and_keys_of_their_own():
    assert all(action.description for action in MOVES)
    assert len(keys(MOVES)) == len(set(keys(MOVES)))
