"""The Progress screen: every page at 80x24 and 120x40, with its numbers."""

from datetime import timedelta

import pytest
from msgspec.structs import replace
from textual.pilot import Pilot

from banks.library import Library
from domain.marking.blueprint import ExamBlueprint
from tests.banks.studied import choose, studied
from tests.builders import bank, bares, library
from tests.tui.stage import Stage, messages_of, settled, text_of
from tui.screens.progress import ProgressScreen
from tui.widgets.evidence_pages import PAGES

WORDS = {
    "Where I stand": [
        "Waiting ", "settled ", "under way", "of 124 tried", "Clouds", "Wind", "Maps", "+1 hour",
        " of ",
    ],
    "Score": ["90 % range", "of 400", "Not enough yet", "predicted before"],
    "Reliability": ["sure", "unsure", "guess", "break-even", "predicted"],
    "Diary": ["questions per day", "questions  right at first  missed  settled  minutes"],
    "Mixed up": ["2×", "Which sign is a church?", "“flag” for “cross” · Maps · Signs · 1", "✗ b"],
}  # fmt: skip


@pytest.fixture(scope="module")
def opened(tmp_path_factory) -> Library:
    made = studied(tmp_path_factory.mktemp("store"))
    made.save_settings(replace(made.settings, exam=ExamBlueprint(scheme="+4/−1")))
    choose(made, "book/maps.signs/1", "b", "b")
    return made


async def read(pilot: Pilot) -> None:
    """Wait until the evidence has been read behind the screen."""
    await pilot.app.workers.wait_for_complete()
    await pilot.pause()


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
async def test_every_page_shows_its_picture_and_its_numbers(opened, size):
    app = Stage(opened, ProgressScreen())
    async with app.run_test(size=size) as pilot:
        await read(pilot)
        for number, name in enumerate(PAGES, 1):
            await pilot.press(str(number))
            shown = await settled(pilot)
            for words in WORDS[name]:
                assert words in shown, (name, words)
            assert max(map(len, shown.split("\n"))) <= size[0]


@pytest.mark.parametrize(("size", "is_beside"), [((80, 24), False), ((120, 40), True)])
async def test_two_questions_that_are_confused_stand_side_by_side_and_are_drilled(
    opened, size, is_beside
):
    app = Stage(opened, ProgressScreen())
    async with app.run_test(size=size) as pilot:
        await read(pilot)
        await pilot.press("4", "down")
        lines = (await settled(pilot)).split("\n")
        await pilot.press("enter", "escape", "d")
        await settled(pilot)
        drilled = app.screen.run.sitting.opened.questions

    stems = [
        next(at for at, line in enumerate(lines) if f"sign is a {name}?" in line)
        for name in ("church", "golf course")
    ]
    assert any("“cross” and “flag”" in line for line in lines)
    assert (stems[0] == stems[1]) is is_beside
    assert drilled == ("book/maps.signs/1", "book/maps.signs/2")


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
async def test_chapters_are_shown_when_asked_for_with_all_their_figures(opened, size):
    app = Stage(opened, ProgressScreen())
    async with app.run_test(size=size) as pilot:
        await read(pilot)
        await pilot.press("3", "c")
        await pilot.pause()
        app.screen.query_one("#sheet").scroll_end(animate=False)
        await pilot.pause()
        shown = text_of(app)

    lines = [line for line in shown.split("\n") if "Signs" in line or "Chapter 2" in line]
    assert lines
    assert all("…" not in line for line in lines)


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
async def test_no_figure_nobody_can_use_is_shown(opened, size):
    app = Stage(opened, ProgressScreen())
    async with app.run_test(size=size) as pilot:
        await read(pilot)
        for number in range(1, len(PAGES) + 1):
            await pilot.press(str(number))
            await pilot.pause()
            assert not any(word in text_of(app) for word in ("log loss", "Brier", "review fixes"))


async def test_the_first_plan_is_a_named_line(opened, tmp_path):
    exam = opened.today() + timedelta(days=100)
    app = Stage(opened, ProgressScreen())
    plan, settings = opened.settings.plan, opened.settings
    opened.save_settings(replace(settings, plan=replace(plan, exam=exam)))
    try:
        async with app.run_test(size=(120, 40)) as pilot:
            await read(pilot)
            assert " due " in text_of(app)
            assert "against the first plan" in text_of(app)
    finally:
        opened.save_settings(settings)


async def test_the_arrows_turn_the_pages_in_a_ring(opened):
    app = Stage(opened, ProgressScreen())
    async with app.run_test() as pilot:
        await read(pilot)
        await pilot.press("left")
        assert "questions per day" in text_of(app)
        await pilot.press("right", "right")
        assert "On questions from your bank" in text_of(app)


async def test_an_empty_store_is_told_kindly(tmp_path):
    app = Stage(library(tmp_path, bank("Book", {"Wind": {"Force": bares(3)}})), ProgressScreen())
    async with app.run_test() as pilot:
        await read(pilot)
        assert "Nothing recorded yet" in text_of(app)
        await pilot.press("2")
        assert "Not enough yet" in text_of(app)
        await pilot.press("3")
        assert "so far 0" in text_of(app)
        await pilot.press("4")
        await pilot.pause()
        assert "Nothing confused" in text_of(app)


async def test_leaving_before_the_figures_are_there_does_no_harm(opened):
    app = Stage(opened, ProgressScreen())
    async with app.run_test() as pilot:
        await pilot.press("2", "escape")
        await read(pilot)
        assert not isinstance(app.screen, ProgressScreen)


async def test_the_report_is_written_where_one_says(opened, tmp_path):
    app = Stage(opened, ProgressScreen())
    async with app.run_test() as pilot:
        await read(pilot)
        await pilot.press("P")
        app.screen.query_one("Input").value = str(tmp_path / "mine.html")
        await pilot.press("enter")

    assert "Where you stand" in (tmp_path / "mine.html").read_text(encoding="utf-8")


async def test_a_report_that_cannot_be_written_is_a_message(opened, tmp_path):
    app = Stage(opened, ProgressScreen())
    async with app.run_test() as pilot:
        await read(pilot)
        await pilot.press("P")
        app.screen.query_one("Input").value = str(tmp_path / "no" / "mine.html")
        await pilot.press("enter")
        await pilot.pause()
        assert any("nothing was written" in message for message in messages_of(app))
