"""The Sweep screen: minutes in, picks with reasons, and into the drill."""

import pytest
from textual.pilot import Pilot

from banks.library import Library
from domain.responses import Purpose
from tests.banks.studied import studied
from tests.builders import bank, bares, library
from tests.tui.stage import Stage, messages_of, text_of
from tui.screens.drill import DrillScreen
from tui.screens.printed_marking import PrintedMarkingScreen
from tui.screens.sweep import SweepScreen


@pytest.fixture
def opened(tmp_path) -> Library:
    return studied(tmp_path / "store", days=40)


async def chosen(pilot: Pilot) -> str:
    """What the screen shows once the choice is made."""
    await pilot.app.workers.wait_for_complete()
    await pilot.pause()
    return text_of(pilot.app)


async def test_picks_say_where_they_stand_and_what_is_left_out(opened):
    app = Stage(opened, SweepScreen())
    async with app.run_test() as pilot:
        shown = await chosen(pilot)

    for words in ("30 minutes · all subjects", "Left out:", "do not fit", "last tried"):
        assert words in shown


async def test_minutes_subject_and_tiers_change_the_choice(opened):
    screen = SweepScreen()
    app = Stage(opened, screen)
    async with app.run_test() as pilot:
        await chosen(pilot)
        before = len(screen.view.picks)
        await pilot.press("plus")
        await chosen(pilot)
        assert len(screen.view.picks) > before
        await pilot.press("minus")
        await chosen(pilot)
        assert len(screen.view.picks) == before
        await pilot.press("s")
        assert "30 minutes · Clouds" in await chosen(pilot)
        await pilot.press("S")
        assert "30 minutes · all subjects" in await chosen(pilot)
        await pilot.press("3")
        await chosen(pilot)
        assert {pick.tier.word for pick in screen.view.picks} == {"hardest"}
        await pilot.press("3")
        assert "all tiers" in await chosen(pilot)


@pytest.mark.parametrize(("key", "word"), [("1", "hard"), ("2", "harder"), ("4", "clear")])
async def test_a_digit_takes_one_tier_alone(opened, key, word):
    screen = SweepScreen()
    app = Stage(opened, screen)
    async with app.run_test() as pilot:
        await chosen(pilot)
        await pilot.press(key)
        await chosen(pilot)

    assert {pick.tier.word for pick in screen.view.picks} == {word}


async def test_minutes_can_be_typed_and_nonsense_is_refused(opened):
    screen = SweepScreen()
    app = Stage(opened, screen)
    async with app.run_test() as pilot:
        await chosen(pilot)
        for text in ("7,5", "soon", "0", "5000"):
            await pilot.press("m")
            app.screen.query_one("Input").value = text
            await pilot.press("enter")
            await chosen(pilot)

    assert screen.view.minutes == 7.5


async def test_picks_that_are_only_in_the_book_are_marked_in_the_grid(opened):
    screen = SweepScreen()
    app = Stage(opened, screen)
    async with app.run_test() as pilot:
        await chosen(pilot)
        await pilot.press("enter")
        await pilot.pause()
        assert isinstance(app.screen, PrintedMarkingScreen)
        scope = app.screen.sitting.scope

    assert (scope.title, scope.purpose) == ("Sweep, 30 min", Purpose.SWEEP)
    assert set(scope.questions) == {pick.question.id for pick in screen.view.picks}


async def test_the_picks_are_drilled_as_a_sweep_where_one_says_so(opened):
    screen = SweepScreen()
    app = Stage(opened, screen)
    async with app.run_test() as pilot:
        await chosen(pilot)
        await pilot.press("down", "o")
        await pilot.pause()
        assert isinstance(app.screen, DrillScreen)
        sitting = app.screen.run.sitting.opened
        title = text_of(app).splitlines()[0]

    assert title.startswith(" Sweep, 30 min  ")
    assert sitting.purpose is Purpose.SWEEP
    assert sitting.questions == tuple(pick.question.id for pick in screen.view.picks)


async def test_the_sheet_is_written_where_one_says(opened, tmp_path):
    app = Stage(opened, SweepScreen())
    async with app.run_test() as pilot:
        await chosen(pilot)
        await pilot.press("P")
        app.screen.query_one("Input").value = str(tmp_path / "sweep.txt")
        await pilot.press("enter")
        await pilot.press("P")
        app.screen.query_one("Input").value = str(tmp_path / "sweep.doc")
        await pilot.press("enter")
        await pilot.pause()
        messages = messages_of(app)

    assert "hardest" in (tmp_path / "sweep.txt").read_text(encoding="utf-8")
    assert any("A sheet ends in" in message for message in messages)


async def test_with_nothing_to_sweep_no_key_does_harm(tmp_path):
    app = Stage(library(tmp_path, bank("Book", {"Wind": {"Force": bares(3)}})), SweepScreen())
    async with app.run_test() as pilot:
        await chosen(pilot)
        await pilot.press("enter", "P", "s", "minus", "minus", "minus")
        assert "Nothing to choose from" in await chosen(pilot)
