"""The week's page: its figures against a record kept beside the store, and when it is shown.

`RESIEVE_EXPLORE=1` follows 50 candidates for 26 weeks.
"""

import os
import random
from collections import Counter
from datetime import timedelta

import pytest
from msgspec.structs import replace

from banks.library import Given
from banks.planning.intents import accept
from banks.planning.workload import PlanWorkload
from banks.views.plan import weeks_so_far
from banks.views.today import today_view
from banks.views.week import last_week, remember_week, week_due, week_view
from domain.marking.blueprint import ExamBlueprint
from domain.plan.inputs import ONE_DAY
from domain.responses import Purpose, Reason
from domain.verdicts import Verdict
from tests.banks.planned import Clock, answer, planned_library, printed_bank
from tests.domain.plan.scenes import MONDAY, usual
from tui.screens.week import done_lines

WEEK = 7 * ONE_DAY
CANDIDATES, WEEKS = (50, 26) if os.environ.get("RESIEVE_EXPLORE") else (6, 3)
REASONS = (None, Reason.MISREAD, Reason.MIXED_UP)


@pytest.fixture
def clock():
    return Clock()


@pytest.fixture
def library(tmp_path, clock):
    opened = planned_library(tmp_path, clock, planned=printed_bank(questions=40))
    yield opened
    opened.close()


def view_of(library):
    return week_view(library, PlanWorkload(library))


class Record:
    """What a candidate did, written down beside the store."""

    def __init__(self):
        self.days, self.seconds, self.answered = set(), 0.0, 0
        self.missed = Counter()

    def live(self, library, clock, rng, attendance):
        """A week, days left out at random, with misses for all sorts of reasons."""
        for _ in range(7):
            if rng.random() < attendance:
                self._day(library, clock, rng)
            clock.day += ONE_DAY

    def _day(self, library, clock, rng):
        for line in today_view(library).planned:
            given = []
            for question in line.questions[:: rng.choice((1, 2))]:
                verdict = Verdict.WRONG if rng.random() < 0.3 else Verdict.RIGHT
                reason = rng.choice(REASONS) if verdict is Verdict.WRONG else None
                seconds = float(rng.randint(20, 60))
                given.append(
                    Given(question=question, verdict=verdict, reason=reason, seconds=seconds)
                )
                self.seconds += seconds
                self.missed[reason] += verdict is Verdict.WRONG
            if given:
                library.record(given, line.purpose)
                self.days.add(clock.day)
                self.answered += len(given)


@pytest.mark.parametrize("seed", range(CANDIDATES))
def test_the_figures_are_those_of_a_record_kept_beside(library, clock, seed):
    rng = random.Random(seed)
    attendance = rng.choice((0.5, 0.8, 1.0))
    for _ in range(WEEKS):
        record = Record()
        record.live(library, clock, rng, attendance)
        view = view_of(library)
        assert view.first == clock.day - WEEK
        assert view.days_kept == len(record.days)
        assert view.answered == record.answered
        assert view.minutes == pytest.approx(record.seconds / 60)
        assert {each.reason: each.responses for each in view.lost} == +record.missed


def test_a_week_lived_as_planned_is_done_whole(library, clock):
    while clock.day < MONDAY + WEEK:
        for line in today_view(library).planned:
            answer(library, line.questions, line.purpose)
        clock.day += ONE_DAY
    view = view_of(library)
    assert view.done == view.planned > 0
    assert view.days_kept == view.days_planned
    assert view.longest_gap == 0


def test_planned_days_without_work_are_counted_in_a_row(library, clock):
    answer(library, today_view(library).lines[0].questions)
    clock.day += WEEK
    view = view_of(library)
    assert (view.days_kept, view.longest_gap) == (1, view.days_planned - 1)
    assert view.gap_before == 0
    assert 0 < view.done < view.planned
    clock.day += WEEK
    later = view_of(library)
    assert later.longest_gap >= view.longest_gap + later.days_planned
    assert later.gap_before == later.longest_gap - later.days_planned


def test_a_week_worked_whole_after_an_absence_says_that_the_absence_lies_before(library, clock):
    answer(library, today_view(library).lines[0].questions)
    clock.day += WEEK
    while clock.day < MONDAY + 2 * WEEK:
        for line in today_view(library).planned:
            answer(library, line.questions, line.purpose)
        clock.day += ONE_DAY
    view = view_of(library)
    assert view.days_kept == view.days_planned > 0
    assert view.gap_before == view.longest_gap == 5
    lines = [line.plain for line in done_lines(view, 76)]
    words = "5 planned days in a row without work before this week: replanned, no need to catch up."
    assert words in " ".join(lines)


def test_minutes_changed_now_leave_the_weeks_that_were_lived_alone(library, clock):
    answer(library, today_view(library).lines[0].questions)
    clock.day += WEEK
    before, workload = view_of(library), PlanWorkload(library)
    accept(library, replace(workload.inputs, minutes=((20,),) * 6 + ((),)))
    after, again = view_of(library), PlanWorkload(library)
    assert again.plan() != workload.plan()
    assert (after.planned, after.done) == (before.planned, before.done)
    assert weeks_so_far(again) == weeks_so_far(workload)
    library.undo()
    assert PlanWorkload(library).inputs_on(MONDAY) == workload.inputs


def test_marks_are_lost_by_the_exams_scheme_and_to_first_study_none(library, clock):
    library.save_settings(
        replace(library.settings, exam=ExamBlueprint(questions=200, scheme="+4/-1"))
    )
    answer(library, ["book/clouds.chapter-1/1"], Purpose.PAPER, Verdict.WRONG)
    answer(library, ["book/clouds.chapter-1/2"], Purpose.REVISION, Verdict.BLANK)
    answer(library, ["book/clouds.chapter-1/3"], Purpose.STUDY, Verdict.WRONG)
    answer(library, ["book/clouds.chapter-1/4", "book/clouds.chapter-1/5"])
    clock.day += WEEK
    (lost,) = view_of(library).lost
    assert (lost.reason, lost.responses, lost.marks) == (None, 2, (5 + 4) * 200 / 4)


def test_the_visits_of_the_next_seven_days_are_named(library, clock):
    clock.day += WEEK
    ahead = view_of(library).ahead
    entries = [
        entry
        for entry in PlanWorkload(library).plan().entries
        if entry.is_visit and entry.day < clock.day + WEEK
    ]
    assert sum(visit.questions for visit in ahead) == sum(entry.questions for entry in entries)
    assert [visit.first for visit in ahead] == sorted(visit.first for visit in ahead)


def test_a_week_is_due_once_and_only_after_one_with_work(library, clock):
    assert week_due(library) is None
    answer(library, today_view(library).lines[0].questions)
    assert week_due(library) is None
    clock.day = MONDAY + WEEK
    assert week_due(library) == MONDAY == last_week(library)
    remember_week(library, MONDAY)
    assert week_due(library) is None
    clock.day += WEEK
    assert week_due(library) is None, "nothing was answered in the week after"


def test_the_day_of_rest_that_ends_the_week_shows_it(library, clock):
    answer(library, today_view(library).lines[0].questions)
    clock.day = MONDAY + 6 * ONE_DAY
    assert week_due(library) == MONDAY


def test_no_week_is_looked_back_on_in_the_last_days(library, clock):
    clock.day = usual().exam - timedelta(days=10)
    answer(library, ["book/clouds.chapter-1/1"])
    clock.day = usual().exam - timedelta(days=3)
    assert week_due(library) is None
