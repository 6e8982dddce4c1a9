"""Today on the plan: its lines, what is done of them, and what has changed since yesterday."""

from datetime import timedelta

import pytest

from banks.library import Library
from banks.views.today import progress_by_part, today_view
from domain.plan.days import ONE_DAY, Use
from domain.responses import Purpose
from domain.verdicts import Verdict
from tests.banks.planned import Clock, answer, planned_library, printed_bank
from tests.domain.plan.scenes import EXAM, MONDAY, usual


@pytest.fixture
def clock():
    return Clock()


@pytest.fixture
def library(tmp_path, clock):
    opened = planned_library(tmp_path, clock)
    yield opened
    opened.close()


def do_day(library, share=1.0):
    for line in today_view(library).lines:
        answer(library, line.questions[: round(line.count * share)])


def test_without_a_plan_only_the_day_is_told(tmp_path, clock):
    library = Library.open(tmp_path / "empty", clock)
    view = today_view(library)
    library.close()
    assert (view.today, view.is_set_up, view.lines) == (MONDAY, False, ())


def test_the_day_is_told_at_a_glance(library):
    view = today_view(library)
    assert (view.exam, view.days_to_exam) == (EXAM, 182)
    assert (view.use, view.round, view.rounds) == (Use.REVISION, 1, 2)
    assert view.subject_title == "Clouds"
    assert view.next_sweep.day == MONDAY + timedelta(days=5)
    assert view.next_sweep.subject_title == "Tides"
    assert view.next_work.day == MONDAY + ONE_DAY


def test_each_line_names_its_part_chapter_numbers_and_questions(library):
    lines = today_view(library).lines
    assert [(line.part, line.chapter_title, line.first, line.last) for line in lines] == [
        ("Morning", "Chapter 1", 1, 35),
        ("Evening", "Chapter 1", 36, 80),
    ]
    assert lines[0].questions[0] == "book/clouds.chapter-1/1"
    assert [len(line.questions) for line in lines] == [35, 45]
    assert [line.part_minutes for line in lines] == [30, 60]


def test_what_is_answered_today_counts_as_done_and_leaves_the_days_plan_alone(library):
    before = today_view(library)
    answer(library, before.lines[0].questions[:10])
    after = today_view(library)
    assert [line.count for line in after.lines] == [line.count for line in before.lines]
    assert [line.left for line in after.lines] == [25, 45]
    assert (after.done, after.count) == (10, 80)
    assert after.minutes_left == pytest.approx(70 * 51 / 60)
    assert progress_by_part(after) == {"Morning": (10, 35), "Evening": (0, 45)}


def test_only_revision_and_sweeps_count_towards_the_plan(library):
    answer(library, today_view(library).lines[0].questions, Purpose.FREE)
    assert today_view(library).done == 0


def test_a_day_done_as_planned_changes_nothing(library, clock):
    do_day(library)
    clock.day += ONE_DAY
    view = today_view(library)
    assert view.changed == ()
    assert view.lines[0].chapter_title == "Chapter 2"


def test_a_missed_week_is_told_kindly_with_what_is_in_hand(library, clock):
    clock.day += timedelta(days=5)
    before = today_view(library).slack_days
    clock.day += timedelta(days=2)
    view = today_view(library)
    assert view.feasible
    assert view.slack_days <= before
    assert all("miss" not in sentence and "fail" not in sentence for sentence in view.changed)


def test_work_that_moved_on_says_how_many_days_are_left(library, clock):
    clock.day += ONE_DAY
    view = today_view(library)
    lost = view.changed[0]
    assert lost.startswith(("What was left moved on", "The days ahead"))
    assert f"{view.slack_days} days in hand" in lost


def test_on_the_sweep_day_the_line_counts_swept_questions(library, clock):
    clock.day = MONDAY + timedelta(days=5)
    view = today_view(library)
    line = view.lines[0]
    assert view.use is Use.SWEEP
    assert line.is_sweep
    assert line.questions == ()
    swept = [f"book/{line.subject}.chapter-1/{number}" for number in range(1, 21)]
    answer(library, swept, Purpose.SWEEP, Verdict.WRONG)
    assert today_view(library).lines[0].done == 20


def test_a_finished_sweep_is_not_planned_again(library, clock):
    clock.day = MONDAY + timedelta(days=5)
    line = today_view(library).lines[0]
    swept = [f"book/{line.subject}.chapter-{n}/{number}" for n in (1, 2) for number in range(1, 81)]
    answer(library, swept, Purpose.SWEEP)
    clock.day += ONE_DAY
    assert today_view(library).next_sweep.subject_title != line.subject_title


def test_a_plan_that_no_longer_fits_says_by_how_much(tmp_path, clock):
    inputs = usual(exam=MONDAY + timedelta(days=15))
    library = planned_library(tmp_path, clock, inputs, printed_bank(subjects=2, questions=100))
    assert today_view(library).feasible
    clock.day += timedelta(days=9)
    view = today_view(library)
    library.close()
    assert not view.feasible
    assert view.shortfall_minutes > 0
    assert f"{round(view.shortfall_minutes)} minutes short" in view.changed[0]


def test_after_the_exam_there_is_nothing_to_do(library, clock):
    clock.day = EXAM + ONE_DAY
    view = today_view(library)
    assert view.lines == ()
    assert view.days_to_exam == -1
