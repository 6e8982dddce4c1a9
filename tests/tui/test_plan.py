"""The Plan screen at 80x24, key by key: nothing is kept until Enter."""

import dataclasses
import re
from datetime import date, timedelta

import pytest
from msgspec.structs import replace

from banks.library import Library
from banks.planning.intents import accept
from banks.planning.workload import PlanWorkload
from banks.views.plan import PlanTurn, PlanWeek
from domain.plan.inputs import DayMinutes, Pin, PlanInputs
from domain.plan.study_plan import EntryKind, PlanEntry, PlanPart, StudyDay, Use
from domain.plan.visits import Visit
from tests.banks.planned import Clock, planned_library, printed_bank
from tests.domain.plan.scenes import MONDAY, usual
from tests.tui.stage import Stage, messages_of, settled, text_of, type_text
from tui.dialogs import PickDialog
from tui.plan_words import plain_day
from tui.screens.plan import PlanScreen
from tui.widgets.calendar import day_words, week_line
from tui.widgets.virtual_list import VirtualList

SHORT = usual(exam=MONDAY + timedelta(days=11), papers=False)


@pytest.fixture
def library(tmp_path):
    opened = planned_library(tmp_path, Clock())
    yield opened
    opened.close()


async def shown(pilot) -> str:
    """The screen once the plan has been read."""
    await pilot.app.workers.wait_for_complete()
    return await settled(pilot)


async def press(pilot, *keys: str) -> str:
    """The screen after these keys."""
    for key in keys:
        await pilot.press(key)
        await shown(pilot)
    return await shown(pilot)


def stage(library: Library) -> Stage:
    return Stage(library, PlanScreen())


def go_to(app: Stage, day: date) -> None:
    """Put the cursor on a day."""
    weeks = app.screen.query_one(VirtualList)
    weeks.selected, app.screen.weekday = divmod((day - MONDAY).days, 7)


async def test_the_calendar_shows_every_week_with_block_sweep_rest_slack_and_exam(library):
    app = stage(library)
    async with app.run_test() as pilot:
        text = await shown(pilot)
    weeks = [line for line in text.splitlines() if " R1 " in line or " R2 " in line]
    assert "[B]B B B · S –" in weeks[1]
    assert "Clouds" in weeks[1]
    assert "Tides" in weeks[1]
    assert "R1 4 Jan – 16 Jan" in text
    assert "Exam Mon 5 Jul, 182 days" in text
    assert "B block" in text
    assert all(len(line) <= 80 for line in text.splitlines())


async def test_the_day_under_the_cursor_is_told_part_by_part(library):
    app = stage(library)
    async with app.run_test() as pilot:
        text = await shown(pilot)
        assert "Monday 4 January · round 1 · 80 questions, 68 of 90 minutes" in text
        assert "* pinned" in text
        assert text.lower().count("fits") <= 1
        assert "Morning  Clouds: Chapter 1 1–35" in text
        assert "Evening  Clouds: Chapter 1 36–80" in text
        assert "Sunday 10 January · rest" in await press(pilot, *["right"] * 6)
        assert "Monday 11 January" in await press(pilot, "right")
        assert "Monday 4 January" in await press(pilot, *["left"] * 9)


async def test_a_day_off_is_tried_with_its_cost_and_kept_only_by_enter(library):
    app = stage(library)
    async with app.run_test() as pilot:
        await shown(pilot)
        slack = app.screen.trial.plan.slack_days
        text = await press(pilot, "x")
        assert f"Trying: spare {slack} → {slack - 1} days" in text
        assert "[x]" in text
        await app.workers.wait_for_complete()
        assert "The effect on the score can't be told yet." in await settled(pilot)
        await pilot.press("C")
        await app.workers.wait_for_complete()
        text = await settled(pilot)
        assert re.search(r"1 round \(\d+ spare days\) +can.t tell yet", text)
        assert "Passes off" in text
        await pilot.press("escape")
        assert library.settings.plan.off == ()
        await press(pilot, "enter")
    assert library.settings.plan.off == (MONDAY,)


async def test_escape_drops_what_is_tried_and_only_then_leaves(library):
    app = stage(library)
    async with app.run_test() as pilot:
        await shown(pilot)
        await press(pilot, "x")
        assert "Trying" not in await press(pilot, "escape")
        assert isinstance(app.screen, PlanScreen)
        await press(pilot, "escape")
        assert not isinstance(app.screen, PlanScreen)
    assert library.settings.plan.off == ()


async def test_undo_takes_the_last_kept_change_back(library):
    app = stage(library)
    async with app.run_test() as pilot:
        await shown(pilot)
        before = library.settings.plan
        await press(pilot, "x", "enter")
        assert library.settings.plan != before
        await press(pilot, "u")
        assert library.settings.plan.off == ()


async def test_a_trial_made_twice_is_no_trial(library):
    app = stage(library)
    async with app.run_test() as pilot:
        await shown(pilot)
        assert "Trying" not in await press(pilot, "x", "x")


async def test_the_days_minutes_are_asked_for_and_tried(library):
    app = stage(library)
    async with app.run_test() as pilot:
        await shown(pilot)
        await press(pilot, "m", "ctrl+u")
        await type_text(pilot, "60+40")
        assert "of 100 minutes" in await press(pilot, "enter")
        await press(pilot, "enter")
    assert library.settings.plan.changed_days == (DayMinutes(MONDAY, (60, 40)),)


async def test_a_week_off_is_one_key_and_a_reserve_day_another(library):
    app = stage(library)
    async with app.run_test() as pilot:
        await shown(pilot)
        await press(pilot, "X")
        week = app.screen.trial.inputs.off
        await press(pilot, "X")
        again = app.screen.trial.inputs.off
        plan = app.screen.trial.plan
        spare = next(entry.day for entry in plan.entries if entry.role is Use.SLACK)
        go_to(app, spare)
        text = await press(pilot, "r", "enter")

    assert week == tuple(MONDAY + timedelta(days=step) for step in range(7))
    assert again == ()
    assert library.settings.plan.reserve == (spare,)
    assert f"{spare:%A} {spare.day} {spare:%B} · spare, reserved" in text


async def test_a_subject_moves_earlier_past_its_neighbour(library):
    app = stage(library)
    async with app.run_test() as pilot:
        await shown(pilot)
        before = app.screen.trial.plan.order
        first, second = before[:2]
        own = next(
            entry.day
            for entry in app.screen.trial.plan.entries
            if entry.subject == second and entry.kind is EntryKind.BLOCK
        )
        go_to(app, own)
        assert "Trying" in await press(pilot, "left_square_bracket")
        await press(pilot, "enter")

    assert library.settings.plan.order == (second, first, *before[2:])


async def test_the_form_of_exam_and_time_is_one_key_away(library):
    app = stage(library)
    async with app.run_test() as pilot:
        await shown(pilot)
        before = library.settings.plan
        assert "Exam and time" in (await press(pilot, "e")).splitlines()[0]
        assert "Plan" in (await press(pilot, "escape")).splitlines()[0]
    assert library.settings.plan == before


async def test_minutes_that_cannot_be_read_are_told_and_change_nothing(library):
    app = stage(library)
    async with app.run_test() as pilot:
        await shown(pilot)
        await press(pilot, "M", "ctrl+u")
        await type_text(pilot, "mon-fri 30+")
        assert "Trying" not in await press(pilot, "enter")
        assert any("expected such as" in message for message in messages_of(app))


async def test_the_weeks_minutes_are_changed_in_one_line(library):
    app = stage(library)
    async with app.run_test() as pilot:
        await shown(pilot)
        await press(pilot, "M", "ctrl+u")
        await type_text(pilot, "mon-fri 120")
        await press(pilot, "enter", "enter")
    assert library.settings.plan.minutes[:5] == ((120,),) * 5


async def test_a_subject_moves_later_and_the_cursor_stays(library):
    app = stage(library)
    async with app.run_test() as pilot:
        await shown(pilot)
        text = await press(pilot, "right_square_bracket")
        assert "Trying" in text
        chosen = next(line for line in text.splitlines() if line.startswith(">"))
        assert "4 Jan" in chosen
        assert "Wind" in chosen
        await press(pilot, "enter")
    assert library.settings.plan.order[:2] == ("book/wind", "book/clouds")


@pytest.mark.parametrize(
    "keys", [("x",), ("X",), ("r",), ("m", "9", "enter"), ("right_square_bracket",), ("p", "enter")]
)
async def test_the_cursor_stays_where_the_change_was_made(library, keys):
    """On a sweep day in the third week: tried, kept and undone."""
    app = stage(library)
    async with app.run_test() as pilot:
        await shown(pilot)
        await press(pilot, "down", "down", *["right"] * 5)
        for step in (keys, ("enter",), ("u",)):
            await press(pilot, *step)
            rows = app.screen.query_one(VirtualList)
            assert (rows.selected, app.screen.weekday) == (2, 5)
            assert "Saturday 23 January" in text_of(app)


@pytest.mark.parametrize(("width", "least"), [(77, 11), (117, 20)])
def test_both_titles_of_a_week_with_two_subjects_can_be_read(width, least):
    titles = ("Weather radar and satellites", "Weather reports and codes")
    blocks = tuple(PlanTurn(title, title, 250) for title in titles)
    sweeps = (PlanTurn("s", "Upper-air soundings", 173),)
    week = PlanWeek(MONDAY, (2,), (None,) * 7, blocks, sweeps, 380.0, 600)
    line = week_line(week, width, None).plain
    assert all(title[:least] in line for title in titles)
    assert sweeps[0].title[:16] in line
    assert len(line) <= width


async def test_a_subject_swept_before_its_block_says_when_that_comes(library):
    app = stage(library)
    async with app.run_test() as pilot:
        await shown(pilot)
        text = await press(pilot, *["right"] * 5)
        block = next(
            scheduled
            for scheduled in app.screen.trial.plan.visits
            if scheduled.visit == Visit(2, "book/tides", False)
        )
        assert "sweep Tides" in text
        words = f"swept first; Tides is revised from {plain_day(block.first)} on."
        assert words in text
        rows = app.screen.query_one(VirtualList)
        rows.selected = next(n for n, week in enumerate(rows.items) if 2 in week.rounds) + 1
        text = await shown(pilot)
        assert "sweep" in text
        assert "swept first" not in text


async def test_a_plan_with_plenty_to_spare_says_that_nothing_needs_to_change(library):
    """A subject takes four days of a week here, at fewer than 17 of 100 study days."""
    inputs = replace(library.settings.plan, minutes=((45,),) * 5 + ((300,), ()))
    accept(library, inputs)
    app = stage(library)
    async with app.run_test() as pilot:
        await shown(pilot)
        needs = app.screen.trial.plan.needs_attendance
        await press(pilot, "f")
        assert not isinstance(app.screen, PickDialog)
        words = " ".join(messages_of(app))
    assert needs < 50
    assert f"Fits if you keep {needs} of 100 planned days" in words
    assert "Nothing needs to change." in words


async def test_a_subject_is_pinned_to_the_week_under_the_cursor_and_freed_again(library):
    app = stage(library)
    async with app.run_test() as pilot:
        await shown(pilot)
        text = await press(pilot, "down", "down", "down", "p")
        assert "Which subject starts in the week of Mon 25 Jan?" in text
        text = await press(pilot, *"clo", "enter")
        assert "*Clouds" in text
        assert "Trying: " in text
        await press(pilot, "enter")
        assert library.settings.plan.pins == (Pin("book/clouds", date(2027, 1, 25)),)
        await press(pilot, "p", "enter", "enter")
    assert library.settings.plan.pins == ()


async def test_a_plan_that_does_not_fit_offers_what_would_and_tries_it(tmp_path):
    library = planned_library(tmp_path, Clock(), SHORT)
    app = stage(library)
    async with app.run_test() as pilot:
        text = await shown(pilot)
        assert "do not fit before the exam" in text
        assert "Each of these makes the plan fit" in await press(pilot, "f")
        text = await press(pilot, "down", "down")
        assert "Most valuable chapters first: 1,040 questions are not reached" in text
        await press(pilot, "up", "up")
        text = await press(pilot, "enter")
        assert "Trying: it fits" in text
        assert "Fits if you keep" in text
        await press(pilot, "enter")
        assert app.screen.trial.kept.plan.feasible
    library.close()


async def test_in_the_last_week_the_plan_is_still_shown(tmp_path):
    library = planned_library(tmp_path, Clock(), usual(exam=MONDAY + timedelta(days=6)))
    async with stage(library).run_test() as pilot:
        text = await shown(pilot)
        assert "Exam Sun 10 Jan, 6 days" in text
        assert "do not fit before the exam" in text
    library.close()


async def test_without_an_exam_day_the_screen_says_where_to_set_it(tmp_path):
    library = Library.open(tmp_path, Clock())
    library.save_bank(printed_bank())
    app = stage(library)
    async with app.run_test() as pilot:
        text = await shown(pilot)
        assert "The plan needs the day of the exam." in text
        assert "Press e" in text
        await press(pilot, "x", "p", "enter", "left", "f", "u")
    assert library.settings.plan == PlanInputs()
    library.close()


async def test_a_wide_terminal_shows_the_questions_beside_the_titles(library):
    app = stage(library)
    async with app.run_test(size=(120, 40)) as pilot:
        text = await shown(pilot)
    assert "Clouds 320" in text
    assert text.count("idle min") == 1
    assert "pass, 22 minutes" in text


async def test_brackets_in_a_title_are_shown_as_they_are(tmp_path):
    bank = printed_bank(subjects=1)
    subject = replace(bank.subjects[0], title="[b]Clouds[/b]")
    bank = dataclasses.replace(bank, subjects=(subject,))
    library = planned_library(tmp_path, Clock(), planned=bank)
    app = stage(library)
    async with app.run_test() as pilot:
        assert "[b]Clouds[/b]" in await shown(pilot)
    library.close()


async def test_the_longest_day_that_runs_over_is_told_on_a_line(tmp_path):
    tiring = usual(minutes=((20, 42),) * 5 + ((300,), ()), start=date(2027, 9, 1),
                   exam=date(2028, 3, 1))  # fmt: skip
    library = planned_library(tmp_path, Clock(date(2027, 9, 1)), tiring)
    async with stage(library).run_test() as pilot:
        text = await shown(pilot)
    assert "Wednesday 1 September · round 1 · " in text
    line = next(line for line in text.splitlines() if "Wednesday 1 September" in line)
    assert "over" in line
    library.close()


async def test_a_paper_is_moved_or_left_out_from_its_day_and_kept_only_by_enter(library):
    first, *others = library.settings.plan.paper_days
    app = stage(library)
    async with app.run_test() as pilot:
        await shown(pilot)
        assert not app.screen.check_action("paper", ())  # no paper on this day
        go_to(app, first.day)
        assert "sample paper" in await shown(pilot)
        moved = await press(pilot, "z", "l")
        (day,) = {paper.day for paper in app.screen.trial.plan.paper_days} - {
            paper.day for paper in library.settings.plan.paper_days
        }
        message = " ".join(messages_of(app))
        tried = library.settings.plan.paper_days
        await press(pilot, "enter")
        kept = library.settings.plan.paper_days
        await press(pilot, "z", "d", "enter")

    assert f"{day:%A} {day.day} {day:%B}" in moved
    assert f"Sample paper moved to {day:%A} {day.day} {day:%B}" in message
    assert tried == (first, *others)
    assert first.day not in {paper.day for paper in kept}
    assert len(kept) == len(tried)
    assert day not in {paper.day for paper in library.settings.plan.paper_days}


def test_a_subject_is_named_once_for_the_chapters_of_a_part_of_the_day(library):
    plan = PlanWorkload(library).plan()
    parts = tuple(
        PlanPart(part, chapter, (1, last), last, 1.0)
        for part, chapter, last in ((0, "force", 9), (0, "gusts", 5), (1, "gusts", 7))
    )
    block = PlanEntry(
        day=MONDAY, role=Use.REVISION, kind=EntryKind.BLOCK, round=1, subject="wind", parts=parts
    )
    day = StudyDay(MONDAY, Use.REVISION, (30, 60), (block,))
    week = PlanWeek(MONDAY, (1,), (day, *[None] * 6), (), ())
    titles = {"wind": "Wind", "force": "1 Force", "gusts": "2 Gusts"}

    _, *short = day_words(week, 0, plan, titles, 3).plain.splitlines()
    _, *long = day_words(week, 0, plan, titles, 9).plain.splitlines()
    assert short == ["Morning  Wind: 1 Force 1–9, 2 Gusts 1–5", "Evening  Wind: 2 Gusts 1–7"]
    assert [line.split(maxsplit=1)[-1] for line in long[:2]] == ["Wind: 1 Force 1–9", "2 Gusts 1–5"]
