"""Papers of a plan: drawn, taken, moved and left out from the day's line."""

from datetime import time, timedelta

import pytest
from msgspec.structs import replace

from banks.library import Library
from banks.planning.intents import drop_paper, move_paper, papers_off
from banks.planning.workload import PlanWorkload
from banks.sittings.paper_sitting import PaperSitting
from banks.views.evidence_log import evidence_log
from banks.views.papers import begin, draw, under_way
from banks.views.today import LineKind, TodayLine, today_view
from domain.errors import InputError
from domain.marking.blueprint import ExamBlueprint
from domain.plan.study_plan import EntryKind
from domain.responses import PaperKind, Purpose
from domain.verdicts import Verdict
from tests.banks.planned import Clock, answer, planned_library
from tui.plan_words import paper_words


@pytest.fixture
def clock() -> Clock:
    return Clock()


@pytest.fixture
def opened(tmp_path, clock):
    """A plan with papers, on the morning of the first of them."""
    library = planned_library(tmp_path, clock)
    clock.day = library.settings.plan.paper_days[0].day
    yield library
    library.close()


def paper_line(library: Library) -> TodayLine | None:
    lines = today_view(library).lines
    return next((line for line in lines if line.kind is LineKind.PAPER), None)


def test_a_planned_sample_paper_is_taken_from_its_line_and_done(opened):
    line = paper_line(opened)
    paper = draw(opened, evidence_log(opened), PaperKind(line.paper), 1, line.planned)
    begin(opened, paper, 1)
    exam = PaperSitting(opened, under_way(opened))
    exam.give(("a",))

    begun = paper_line(opened)
    exam.hand_in()

    assert (line.offer, line.items, line.count) == (True, (), len(paper.questions))
    assert (begun.count, begun.done) == (line.count, 1)
    assert set(begun.questions) == set(paper.questions)
    assert paper_line(opened).left == 0


def test_a_paper_is_moved_left_out_and_all_of_them_turned_off(opened, clock):
    before = opened.settings.plan.paper_days

    moved = move_paper(opened, clock.day)

    assert moved > clock.day
    assert len(opened.settings.plan.paper_days) == len(before)
    assert paper_line(opened) is None
    opened.undo()
    assert opened.settings.plan.paper_days == before
    drop_paper(opened, clock.day)
    assert opened.settings.plan.paper_days == before[1:]
    with pytest.raises(InputError, match="no paper is planned"):
        move_paper(opened, clock.day)
    papers_off(opened)
    assert PlanWorkload(opened).plan().paper_days == ()


def test_a_rehearsal_stands_at_the_exams_hour(opened):
    settings = opened.settings
    (first, *_), exam = settings.plan.paper_days, ExamBlueprint(hour=time(10))
    rehearsal = replace(first, kind=PaperKind.REHEARSAL)
    opened.save_settings(
        replace(settings, exam=exam, plan=replace(settings.plan, paper_days=(rehearsal,)))
    )

    assert paper_words(paper_line(opened)) == "rehearsal at 10:00"


def test_an_exam_that_was_told_has_rehearsals_in_its_last_ten_weeks(tmp_path, clock):
    library = planned_library(tmp_path, clock)
    exam = ExamBlueprint(questions=90, minutes=60)
    library.save_settings(replace(library.settings, exam=exam))
    inputs = replace(library.settings.plan, paper_days=())
    plan = PlanWorkload(library, inputs).plan()
    library.close()

    rehearsals = [day for day in plan.paper_days if day.kind == "rehearsal"]
    last_weeks = inputs.exam - timedelta(weeks=10)
    assert {(rehearsal.questions, rehearsal.minutes) for rehearsal in rehearsals} == {(90, 60)}
    assert all(rehearsal.day >= last_weeks for rehearsal in rehearsals)
    assert len(rehearsals) >= 3


def test_the_days_sweep_leaves_out_what_the_paper_has_asked(opened, clock):
    saturday = clock.day
    (sweep,) = (e for e in PlanWorkload(opened).plan().on(saturday) if e.kind is EntryKind.SWEEP)
    missed = [
        name
        for _, number, name in PlanWorkload(opened).active_ids(sweep.subject or "")
        if number <= 20
    ]
    for days in (3, 2):
        clock.day = saturday - timedelta(days=days)
        answer(opened, missed, Purpose.FREE, Verdict.WRONG)
    clock.day = saturday
    line = paper_line(opened)
    paper = draw(opened, evidence_log(opened), PaperKind(line.paper), 1, line.planned)
    begin(opened, paper, 1)
    exam = PaperSitting(opened, under_way(opened))
    for _ in paper.questions:
        exam.give(("a",))
        exam.go_on()
    asked = set(paper.questions) & set(missed)
    swept = [line for line in today_view(opened).lines if line.kind is LineKind.SWEEP]
    listed = {question for line in swept for question in line.questions}
    assert asked
    assert listed >= set(missed) - asked
    assert not listed & asked
