"""The form at the first start: it leads on, and never complains of what was not typed yet."""

from datetime import time
from pathlib import Path

import pytest

from banks.library import Library
from tests.banks.planned import Clock, planned_library
from tests.builders import library
from tests.tui.stage import Stage, settled, type_text
from tui.plan_form import LINES
from tui.screens.start import StartScreen

OUTLINE = "subject,chapter,questions\nClouds,1 Genera,60\nWind,1 Force,50\n"


@pytest.fixture
def outline(tmp_path: Path) -> Path:
    file = tmp_path / "book.csv"
    file.write_text(OUTLINE)
    return file


@pytest.fixture
def empty(tmp_path: Path) -> Library:
    return library(tmp_path / "store")


@pytest.mark.parametrize("size", [(80, 24), (60, 20)])
async def test_the_bank_is_looked_at_brought_in_and_the_exam_day_asked_for(empty, outline, size):
    async with Stage(empty, StartScreen()).run_test(size=size) as pilot:
        first = await settled(pilot)
        await type_text(pilot, str(outline))
        await pilot.press("enter")
        looked = await settled(pilot)
        await pilot.press("enter")
        brought = await settled(pilot)

    assert "Welcome" in first.splitlines()[0]
    assert "subject,chapter,questions" in first
    assert "book: 110 questions in 2 subjects" in looked
    assert "In the store: 110 questions. Now the exam day." in brought
    assert "needed" not in brought
    assert sum(len(bank.questions) for bank in empty.banks.values()) == 110


async def test_an_exam_day_that_is_none_is_named_with_an_example(empty, outline):
    async with Stage(empty, StartScreen()).run_test(size=(80, 24)) as pilot:
        await type_text(pilot, str(outline))
        await pilot.press("enter", "enter")
        await type_text(pilot, "in May")
        shown = await settled(pilot)

    assert "exam day: expected a date such as 2027-05-15, not 'in May'" in shown


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
async def test_every_line_and_the_plan_that_follows_are_in_sight(tmp_path, size):
    opened = planned_library(tmp_path / "store", Clock())
    async with Stage(opened, StartScreen()).run_test(size=size) as pilot:
        shown = await settled(pilot)

    assert all(line.label in shown for line in LINES)
    assert "06:30, 19:00, 21:30" in shown
    assert "spare days" in shown


async def test_when_the_parts_of_a_day_begin_is_kept(tmp_path):
    opened = planned_library(tmp_path / "store", Clock())
    async with Stage(opened, StartScreen()).run_test(size=(80, 24)) as pilot:
        pilot.app.screen.query_one("#times").value = "5:45, 20:15"
        await pilot.press("ctrl+r")

    assert opened.settings.plan.starts == (time(5, 45), time(20, 15))
