"""The Progress screen: every page at 80x24 and 120x40, with its numbers."""

from datetime import timedelta

import pytest
from msgspec.structs import replace
from textual.pilot import Pilot

from banks.library import Library
from banks.views.evidence import evidence
from banks.views.triage import Filter
from domain.marking.blueprint import ExamBlueprint
from tests.banks.studied import choose, studied
from tests.builders import bank, bares, library
from tests.tui.stage import Stage, messages_of, settled, text_of
from tui.screens.progress import ProgressScreen
from tui.sweep_words import hour_figure, hour_words
from tui.widgets.evidence_pages import PAGES
from tui.widgets.text_block import ScrollText
from tui.widgets.virtual_list import VirtualList

WORDS = {
    "Where I stand": [
        "Waiting ", "settled ", "under way", "of 124 tried", "Revised and swept",
        "questions per day", "q  right  missed  settled   min",
    ],
    "What is weak": [
        "ne more hour ", "+1 hour", "Clouds", "Wind", "Maps", "Mixed up: ",
    ],
    "How sure it is": [
        "90 % range", "of 400", "Not enough yet", "predicted before", "break-even", "sure",
        "unsure", "guess", "predicted", "What it rests on",
    ],
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


@pytest.mark.parametrize(
    ("hours", "words", "figures"),
    [
        ((None, None), "Not enough responses yet to say where one more hour adds most.", "– –"),
        (
            (0.02, None),
            "One more hour now adds less than 0.1 marks in any subject.",
            "<0.1 –",
        ),
        ((0.02, 0.34), "One more hour adds most in Wind: about 0.3 marks.", "<0.1 0.3"),
    ],
)
def test_an_hour_worth_next_to_nothing_is_not_told_in_figures(opened, hours, words, figures):
    two = evidence(opened).subjects[:2]
    subjects = [
        replace(subject, title=title, hour=hour)
        for subject, title, hour in zip(two, ("Clouds", "Wind"), hours, strict=True)
    ]
    assert hour_words(subjects) == words
    assert " ".join(map(hour_figure, hours)) == figures


@pytest.mark.parametrize("size", [(80, 24), (112, 32), (120, 40)])
async def test_every_page_shows_its_picture_and_its_numbers(opened, size):
    app = Stage(opened, ProgressScreen())
    async with app.run_test(size=size) as pilot:
        await read(pilot)
        for number, name in reversed([*enumerate(PAGES, 1)]):
            await pilot.press(str(number))
            shown = await settled(pilot)
            page = app.screen.query_one("#sheet", ScrollText)
            whole = shown
            while page.display and page.lines_below:
                page.turn(1)
                whole += await settled(pilot)
            for words in WORDS[name]:
                assert words in whole, (name, words)
            assert not any(word in whole for word in ("log loss", "Brier", "review fixes"))
            assert max(map(len, shown.split("\n"))) <= size[0]


async def test_a_subject_shows_its_chapters_and_what_is_mixed_up_its_questions(opened):
    app = Stage(opened, ProgressScreen())
    async with app.run_test(size=(80, 24)) as pilot:
        await read(pilot)
        await pilot.press("2")
        listed = app.screen.query_one(VirtualList)
        while listed.item.title != "Maps":
            await pilot.press("down")
        chapters = await settled(pilot)
        await pilot.press("enter")
        await settled(pilot)
        triage, filtered = app.screen.NAME, app.screen.wanted
        await pilot.press("escape", "d")
        refused = messages_of(app)
        await pilot.press("7", "down")
        above = await settled(pilot)
        await pilot.press("space")
        below = await settled(pilot)
        await pilot.press("space")
        again = await settled(pilot)
        await pilot.press("enter", "escape", "d")
        await settled(pilot)
        drilled = app.screen.run.sitting.opened.questions

    assert all(words in chapters for words in ("Chapter 1", "Chapter 2", "Signs"))
    assert (triage, filtered) == ("triage", Filter(bank="book", subject="maps"))
    assert any("with 7" in message for message in refused)
    assert all(words in above for words in ("“cross” and “flag”", "sign is a church?"))
    assert "sign is a golf course?" in below
    assert again == above
    assert drilled == ("book/maps.signs/1", "book/maps.signs/2")


async def test_all_that_is_mixed_up_is_drilled_and_a_long_page_scrolled(opened):
    app = Stage(opened, ProgressScreen())
    async with app.run_test(size=(80, 24)) as pilot:
        await read(pilot)
        first = await settled(pilot)
        await pilot.press("j")
        further = await settled(pilot)
        await pilot.press("k")
        back = await settled(pilot)
        await pilot.press("7")
        await read(pilot)
        await pilot.press("a")
        await settled(pilot)
        drilled = app.screen.run.sitting.opened

    assert first == back != further
    assert drilled.title.startswith("Mixed up")
    assert set(drilled.questions) >= {"book/maps.signs/1", "book/maps.signs/2"}


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
        assert "On questions from your bank" in text_of(app)
        await pilot.press("right", "right")
        await pilot.pause()
        assert "+1 hour" in text_of(app)


async def test_an_empty_store_is_told_kindly(tmp_path):
    app = Stage(library(tmp_path, bank("Book", {"Wind": {"Force": bares(3)}})), ProgressScreen())
    async with app.run_test() as pilot:
        await read(pilot)
        assert "Nothing recorded yet" in text_of(app)
        await pilot.press("2")
        await pilot.pause()
        assert "Nothing recorded yet" in text_of(app)
        await pilot.press("3")
        await pilot.pause()
        assert "Not enough yet" in text_of(app)
        assert "so far 0" in text_of(app)


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
