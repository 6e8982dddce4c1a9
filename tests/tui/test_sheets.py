"""Any list can be printed and keyed back: a sheet is a sitting over just that list."""

from datetime import date, timedelta

import pytest

from banks.library import Given, Library
from banks.sittings.printed_sheets import print_list
from banks.views.open_sittings import open_sittings
from domain.plan.inputs import PlanInputs
from domain.responses import Purpose, VisitBegun
from domain.verdicts import Verdict
from tests.banks.planned import accept
from tests.builders import FakeClock, bank, bares, library, respond
from tests.tui.marking_stage import type_keys
from tests.tui.stage import Stage, settled
from tui.cli import main
from tui.screens.bank import BankScreen
from tui.screens.printed_marking import PrintedMarkingScreen
from tui.screens.today import TodayScreen
from tui.screens.triage import TriageScreen

CHAPTERS = {"Clouds": {"Genera": bares(30), "Species": bares(20)}, "Wind": {"Force": bares(25)}}


@pytest.fixture
def opened(tmp_path) -> Library:
    made = library(tmp_path / "store", bank("Book", CHAPTERS))
    for number in (3, 7, 12):
        respond(made, f"book/clouds.genera/{number}", "wrong", "wrong")
        made.now.at -= timedelta(days=2)
    made.now.go_on(days=10)
    return made


async def printed_from(pilot, file, *keys: str) -> str:
    """Print to this file, and give the name that was offered."""
    await pilot.press(*keys)
    await pilot.pause()
    field = pilot.app.screen.query_one("Input")
    offered, field.value = field.value, str(file)
    await pilot.press("enter")
    await settled(pilot)
    return offered


async def test_a_list_of_triage_comes_back_as_a_line_of_today_and_is_entered_there(
    opened, tmp_path
):
    accept(opened, PlanInputs(exam=date(2026, 9, 1)))
    async with Stage(opened, TriageScreen()).run_test(size=(80, 24)) as pilot:
        await settled(pilot)
        await printed_from(pilot, tmp_path / "list.txt", "P")
    opened.now.go_on(days=1)
    async with Stage(opened, TodayScreen()).run_test(size=(80, 24)) as pilot:
        shown = await settled(pilot)
        await pilot.press("end", "enter")
        await settled(pilot)
        screen = pilot.app.screen
        await type_keys(pilot, "7 \n")
        await pilot.press("escape")
        after = await settled(pilot)

    assert "Enter sheet of Thu 12 Mar: The hard-tiers, all subjects" in shown
    assert "3 questions" in shown
    assert isinstance(screen, PrintedMarkingScreen)
    assert [q.number for q in screen.grid.slots] == [3, 7, 12]
    assert "Enter sheet" not in after
    assert opened.history.standing("book/clouds.genera/7").signs == 3


async def test_the_same_list_printed_again_is_the_same_sheet_and_a_part_entered_too(
    opened, tmp_path
):
    ids = [f"book/clouds.genera/{number}" for number in range(1, 6)]
    first = print_list(opened, tmp_path / "a.txt", "List", Purpose.SWEEP, ids)
    opened.now.go_on(seconds=60)
    again = print_list(opened, tmp_path / "b.txt", "List", Purpose.SWEEP, reversed(ids))
    opened.record([Given(question=ids[0], verdict=Verdict.RIGHT)], Purpose.REVISION)
    rest = print_list(opened, tmp_path / "c.txt", "List", Purpose.SWEEP, ids[1:])

    assert first == again == rest
    assert [(sheet.left, sheet.total) for sheet in open_sittings(opened)] == [(4, 5)]


async def test_a_sheets_questions_count_whichever_way_they_are_entered(opened, tmp_path):
    ids = [f"book/clouds.genera/{number}" for number in range(1, 4)]
    name = print_list(opened, tmp_path / "a.txt", "List", Purpose.SWEEP, ids)
    opened.now.go_on(seconds=60)
    opened.record([Given(question=ids[1], verdict=Verdict.WRONG)], Purpose.FREE)
    screen = PrintedMarkingScreen("List", Purpose.SWEEP, ids, name)
    async with Stage(opened, screen).run_test(size=(80, 24)) as pilot:
        shown = await settled(pilot)
        await type_keys(pilot, "\n")
        await pilot.press("escape")
        await settled(pilot)

    assert "1 of 3" in shown.splitlines()[0]
    assert opened.history.is_closed(name)
    assert len(opened.history.responses(ids[1])) == 1


async def test_a_line_of_today_is_printed_and_its_sweep_begins_with_just_that_list(
    tmp_path,
):
    clock = FakeClock()
    made = library(tmp_path / "store", bank("Book", CHAPTERS), clock=clock)
    accept(made, PlanInputs(exam=date(2026, 9, 1)))
    sheet = tmp_path / "day.txt"
    async with Stage(made, TodayScreen()).run_test(size=(80, 24)) as pilot:
        await settled(pilot)
        offered = await printed_from(pilot, sheet, "P")
        pilot.app.screen.ready()
        shown = await settled(pilot)

    assert "Enter sheet of Mon  2 Mar" in shown
    assert sheet.is_file()
    assert offered == "clouds-genera-1-30-2026-03-02.pdf"
    [sitting] = made.history.sittings.values()
    kinds = {record.kind for record in made.history.records_of(VisitBegun)}
    assert sitting.opened.sheet
    assert (sitting.opened.purpose is Purpose.SWEEP) == bool(kinds)


async def test_a_sheet_is_ended_by_one_key(opened, tmp_path):
    accept(opened, PlanInputs(exam=date(2026, 9, 1)))
    ids = [f"book/clouds.genera/{number}" for number in range(1, 4)]
    print_list(opened, tmp_path / "a.txt", "List", Purpose.SWEEP, ids)
    async with Stage(opened, TodayScreen()).run_test(size=(80, 24)) as pilot:
        await settled(pilot)
        await pilot.press("end", "x")
        shown = await settled(pilot)

    assert "Enter sheet" not in shown
    assert open_sittings(opened) == []


@pytest.mark.parametrize(
    "words",
    [
        ["triage", "--tier", "harder"],
        ["sweep", "--minutes", "10", "--subject", "Clouds"],
        ["today"],
    ],
)
def test_a_sheet_of_a_command_waits_on_today_too(opened, tmp_path, words, capsys):
    accept(opened, PlanInputs(exam=date(2026, 9, 1)))
    opened.close()
    store = ["--store", str(tmp_path / "store"), "--today", "2026-03-13"]

    assert main([*store, *words, "--sheet", str(tmp_path / "sheet.txt")]) == 0
    read = Library.open(tmp_path / "store", opened.now, read_only=True)
    assert open_sittings(read)
    assert all(sitting.is_sheet for sitting in open_sittings(read))


async def test_a_second_enter_on_today_opens_nothing_twice(opened):
    accept(opened, PlanInputs(exam=date(2026, 9, 1)))
    today = TodayScreen()
    async with Stage(opened, today).run_test(size=(80, 24)) as pilot:
        await settled(pilot)
        today.action_start()
        today.action_start()
        await settled(pilot)
        grids = [s for s in pilot.app.screen_stack if isinstance(s, PrintedMarkingScreen)]

    assert len(grids) == 1


async def test_two_fast_enters_open_the_grid_once_and_mark_nothing(opened):
    accept(opened, PlanInputs(exam=date(2026, 9, 1)))
    before = len(list(opened.history.questions()))
    async with Stage(opened, TodayScreen()).run_test(size=(80, 24)) as pilot:
        await settled(pilot)
        await pilot.press("enter", "enter")
        shown = await settled(pilot)
        grids = [s for s in pilot.app.screen_stack if isinstance(s, PrintedMarkingScreen)]

    assert len(grids) == 1
    assert len(list(opened.history.questions())) == before
    assert "Enter again: all" in shown


async def test_any_chapter_is_three_letters_away_and_yesterdays_comes_first(tmp_path):
    clock = FakeClock()
    made = library(tmp_path / "store", bank("Book", CHAPTERS), clock=clock)
    accept(made, PlanInputs(exam=date(2026, 9, 1)))
    clock.go_on(days=1)
    async with Stage(made, TodayScreen()).run_test(size=(80, 24)) as pilot:
        await settled(pilot)
        await pilot.press("ctrl+k")
        await pilot.pause()
        offered = await settled(pilot)
        await pilot.press(*"forc", "enter")
        any_chapter = (await settled(pilot)).splitlines()[0]
        await pilot.press("escape", "ctrl+k")
        await pilot.pause()
        await pilot.press("enter")
        yesterdays = (await settled(pilot)).splitlines()[0]

    first = next(line for line in offered.splitlines() if " · " in line and "yesterday" in line)
    assert "Clouds" in first
    assert "Wind · Force · 1–25" in any_chapter
    assert "revision, Mon  2 Mar (1 day ago)" in yesterdays


async def test_the_chapter_selected_in_the_bank_is_marked_from_there(opened):
    async with Stage(opened, BankScreen()).run_test(size=(100, 24)) as pilot:
        await settled(pilot)
        await pilot.press("down", "down", "down", "down", "ctrl+k")
        shown = await settled(pilot)

    assert "Clouds · Species · 1–20" in shown.splitlines()[0]


async def test_what_triage_lists_is_marked_for_the_plan_not_as_a_sweep(opened):
    accept(opened, PlanInputs(exam=date(2026, 9, 1)))
    async with Stage(opened, TriageScreen()).run_test(size=(80, 24)) as pilot:
        await settled(pilot)
        await pilot.press("ctrl+k")
        await settled(pilot)
        screen = pilot.app.screen

    assert isinstance(screen, PrintedMarkingScreen)
    assert screen.sitting.purpose is Purpose.REVISION


async def test_triage_lists_by_reason_and_what_was_sure_and_wrong(opened):
    names = [f"book/clouds.species/{number}" for number in (1, 2)]
    screen = PrintedMarkingScreen("Species", Purpose.REVISION, names)
    async with Stage(opened, screen).run_test(size=(80, 24)) as pilot:
        await settled(pilot)
        await type_keys(pilot, "mK")
    listed = {}
    triage = TriageScreen()
    async with Stage(opened, triage).run_test(size=(80, 24)) as pilot:
        for key in "mK0":
            await pilot.press("7")
            await pilot.pause()
            await pilot.press(key)
            await settled(pilot)
            listed[key] = [row.question.number for row in triage.rows.items]

    assert (listed["m"], listed["K"]) == ([1], [2])
    assert len(listed["0"]) == 5


async def test_what_bank_lists_is_printed_as_a_sheet_to_enter(opened, tmp_path):
    async with Stage(opened, BankScreen()).run_test(size=(80, 24)) as pilot:
        await settled(pilot)
        await pilot.press("down", "down", "down")
        offered = await printed_from(pilot, tmp_path / "list.txt", "P")

    assert offered.startswith("genera-")
    (sheet,) = open_sittings(opened)
    assert (sheet.title, sheet.total) == ("Genera", 30)
    assert " 30 " in (tmp_path / "list.txt").read_text(encoding="utf-8")
