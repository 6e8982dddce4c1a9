"""The app's frame: it opens its store, or says why not and what is possible instead."""

from functools import partial
from pathlib import Path

import pytest

from banks.library import Library
from domain.errors import StoreNewer
from tests.builders import FakeClock, bank, bares, library
from tests.tui.stage import settled, text_of
from tui.app import Resieve
from tui.dialogs import ChoiceDialog

SIZE = (80, 24)


async def until(pilot, condition) -> None:
    """Wait for a thread of the app; only a hang makes this fail."""
    for _ in range(600):
        if condition():
            return
        await pilot.pause(1 / 20)
    raise AssertionError(text_of(pilot.app))


def opening(folder: Path, read_only: bool) -> Library:
    return Library.open(folder, FakeClock(), read_only=read_only)


@pytest.fixture
def filled(tmp_path: Path) -> Path:
    library(tmp_path, bank("Book", {"Clouds": {"One": bares(5)}})).close()
    return tmp_path


async def test_a_store_that_is_free_is_opened_for_writing_and_let_go_at_the_end(filled):
    app = Resieve(partial(opening, filled))
    async with app.run_test(size=SIZE) as pilot:
        await until(pilot, lambda: app.is_ready)
        assert not app.library.store.read_only

    opening(filled, read_only=False).close()


async def test_a_store_held_by_another_can_be_looked_at(filled):
    holder = opening(filled, read_only=False)
    app = Resieve(partial(opening, filled))
    async with app.run_test(size=SIZE) as pilot:
        await until(pilot, lambda: isinstance(app.screen, ChoiceDialog))
        assert "Open read-only" in await settled(pilot)
        await pilot.press("l")
        await until(pilot, lambda: app.is_ready)
        assert app.library.store.read_only
        assert list(app.library.banks) == list(holder.banks)
    holder.close()


async def test_a_store_held_by_another_can_be_left_alone(filled):
    holder = opening(filled, read_only=False)
    app = Resieve(partial(opening, filled))
    async with app.run_test(size=SIZE) as pilot:
        await until(pilot, lambda: isinstance(app.screen, ChoiceDialog))
        await pilot.press("x")
        await pilot.pause()
        assert not app.is_ready
    assert app.return_code == 1
    holder.close()


async def test_a_store_of_a_newer_format_can_only_be_left(filled):
    def refuse(read_only: bool) -> Library:
        raise StoreNewer("format 99 is newer than this resieve knows")

    app = Resieve(refuse)
    async with app.run_test(size=SIZE) as pilot:
        await until(pilot, lambda: isinstance(app.screen, ChoiceDialog))
        shown = await settled(pilot)
        assert "format 99 is newer" in shown
        assert "Open read-only" not in shown
        await pilot.press("l")
        assert not app.is_ready
