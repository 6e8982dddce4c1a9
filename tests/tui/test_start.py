"""The form at the first start: it leads on, and never complains of what was not typed yet."""

from datetime import date, time, timedelta
from pathlib import Path

import pytest
from msgspec.structs import replace
from textual.pilot import Pilot

from banks.library import Library
from banks.planning.first_study import waiting_subjects
from banks.planning.set_up import SetUp
from banks.planning.workload import PlanWorkload
from banks.views.exam import told_exam
from banks.views.today import today_view
from domain.plan.inputs import PlanInputs
from domain.responses import FirstStudyDone
from tests.banks.planned import Clock, planned_library
from tests.builders import library
from tests.tui.stage import Stage, put_text, settled, type_text
from tui.screens.start import LINES, StartScreen, read_lines

SHAPE = "Clouds 60 45 62\nWind: Force 50, Direction 40"
FILE = "subject,chapter,questions\nClouds,1 Genera,60\nWind,1 Force,50\n"


@pytest.fixture
def empty(tmp_path: Path) -> Library:
    return library(tmp_path / "store")


async def type_lines(pilot: Pilot, text: str) -> None:
    """Type a text of several lines."""
    for number, line in enumerate(text.splitlines()):
        if number:
            await pilot.press("enter")
        await type_text(pilot, line)


def questions(opened: Library) -> int:
    return sum(len(bank.questions) for bank in opened.banks.values())


@pytest.mark.parametrize("size", [(80, 24), (120, 40)])
async def test_a_typed_shape_is_counted_live_and_kept_with_the_plan(empty, size):
    async with Stage(empty, StartScreen()).run_test(size=size) as pilot:
        first = await settled(pilot)
        await type_lines(pilot, SHAPE)
        counted = await settled(pilot)
        await pilot.press("tab")
        await type_text(pilot, "2027-05-15")
        planned = await settled(pilot)
        assert not empty.banks
        await pilot.press("ctrl+l")
        reserved = await settled(pilot)
        await pilot.press("ctrl+r")

    assert "ctrl+l names some of them as reserve days" in planned
    reserve = empty.settings.plan.reserve
    assert f"{len(reserve)} of them are reserve days" in reserved
    assert len(reserve) == 12 == sum(entry.reserve for entry in PlanWorkload(empty).plan().entries)
    assert "Welcome" in first.splitlines()[0]
    assert "Clouds: Genera 60, Species 45" in first
    assert "2 subjects, 5 chapters, 257 questions" in counted
    assert "Round 1: " in planned
    assert questions(empty) == 257
    assert today_view(empty).lines


async def test_what_cannot_be_read_is_named_by_line_but_not_the_line_being_typed(empty):
    async with Stage(empty, StartScreen()).run_test(size=(80, 24)) as pilot:
        await type_lines(pilot, "Clouds 60\nWind\nMa")
        shown = await settled(pilot)

    assert "1 subject, 1 chapter, 60 questions" in shown
    assert "line 2: 'Wind' has no number of questions yet" in shown
    assert "line 3" not in shown


@pytest.mark.parametrize("text", [
    FILE, "Clouds,1 Genera,60\nWind,1 Force,50", "Clouds\t1 Genera\t60\nWind\t1 Force\t50",
])  # fmt: skip
async def test_an_outline_is_pasted_with_or_without_its_header(empty, text):
    app = Stage(empty, StartScreen())
    async with app.run_test(size=(80, 24)) as pilot:
        app.screen.query_one("#bank").insert(text)
        shown = await settled(pilot)

    assert "2 subjects, 2 chapters, 110 questions" in shown


async def test_a_file_is_read_by_its_name(empty, tmp_path):
    file = tmp_path / "book.csv"
    file.write_text(FILE)
    async with Stage(empty, StartScreen()).run_test(size=(80, 24)) as pilot:
        await type_text(pilot, str(file))
        shown = await settled(pilot)
        await pilot.press("tab")
        await put_text(pilot, "2027-05-15")
        await pilot.press("ctrl+r")

    assert "book: 2 subjects, 2 chapters, 110 questions" in shown
    assert [bank.title for bank in empty.banks.values()] == ["book"]


async def test_all_of_it_is_one_act(empty):
    async with Stage(empty, StartScreen()).run_test(size=(80, 24)) as pilot:
        await put_text(pilot, SHAPE)
        await pilot.press("tab")
        await put_text(pilot, "2027-05-15")
        await pilot.press("tab")
        await put_text(pilot, "200 questions, 180 minutes, +4/-1, 10:00")
        await pilot.press("tab")
        await put_text(pilot, "Clouds")
        await pilot.press("tab")
        await put_text(pilot, "2026-12-01")
        await pilot.press("ctrl+r")

    assert told_exam(empty).text == "200 questions, 180 minutes, +4/−1, 10:00"
    assert [heading.subject for heading in empty.history.records_of(FirstStudyDone)] == ["clouds"]
    assert waiting_subjects(empty) == {"printed-bank/wind": date(2026, 12, 1)}
    empty.undo()
    assert (questions(empty), empty.settings.plan.exam) == (0, None)
    assert empty.newest is None


async def test_what_is_studied_is_asked_with_the_day_of_the_others(empty):
    async with Stage(empty, StartScreen()).run_test(size=(80, 24)) as pilot:
        await put_text(pilot, SHAPE)
        await pilot.press("tab")
        await put_text(pilot, "2027-05-15")
        await pilot.press("tab", "tab")
        await put_text(pilot, "Clouds")
        asked = await settled(pilot)
        await pilot.press("ctrl+r")

    assert "from which day can the subjects not studied yet be revised?" in asked
    assert not empty.banks


async def test_an_exam_day_that_is_none_is_named_with_an_example(empty):
    async with Stage(empty, StartScreen()).run_test(size=(80, 24)) as pilot:
        await put_text(pilot, SHAPE)
        await pilot.press("tab")
        await put_text(pilot, "in May")
        shown = await settled(pilot)

    assert 'Exam day: "in May" is no day: expected a date such as 2027-05-15' in shown


async def test_practice_brings_the_demos_banks(empty):
    async with Stage(empty, StartScreen()).run_test(size=(80, 24)) as pilot:
        await type_text(pilot, "practice")
        await pilot.press("tab")
        await put_text(pilot, "2027-05-15")
        await pilot.press("tab", "tab")
        await type_text(pilot, "all")
        shown = await settled(pilot)
        await pilot.press("ctrl+r")
        await settled(pilot)

    assert "Round 1" in shown
    subjects = empty.bank("observers-question-book").subjects
    assert len(empty.history.records_of(FirstStudyDone)) == len(subjects)
    assert len(empty.banks) == 2
    assert empty.settings.plan.banks == ("observers-question-book",)


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


def test_a_plan_that_needs_nearly_every_day_tells_what_80_of_100_would_give(tmp_path):
    opened = planned_library(tmp_path / "store", Clock())
    set_up, plan = SetUp(opened), opened.settings.plan
    near = replace(plan, exam=plan.exam - timedelta(days=110))
    spare = set_up.try_out(near, None)
    tight = set_up.try_out(replace(near, seconds=235.0), None)

    assert spare.plan.needs_attendance <= 80
    assert spare.unreached == 0
    assert tight.plan.feasible
    assert tight.unreached > 0


def test_times_that_are_emptied_are_the_usual_ones_again():
    before = PlanInputs(exam=date(2027, 5, 15), starts=(time(7, 15),))
    typed = {line.name: line.show(before) for line in LINES} | {"times": ""}

    assert read_lines(before, typed).starts == PlanInputs().starts
