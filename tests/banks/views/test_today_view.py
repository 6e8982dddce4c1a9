"""Today on the plan: its lines question by question, what is done of them, what has changed."""

from datetime import timedelta

import pytest

from banks.library import Library
from banks.planning.intents import begin_day, enough, shorten_day
from banks.planning.workload import PlanWorkload
from banks.views.today import LineKind, remember_seen, today_view
from domain.errors import InputError
from domain.plan.inputs import ONE_DAY, Use
from domain.responses import Purpose, VisitBegun, VisitEnd, VisitEnded
from domain.verdicts import Verdict
from tests.banks.planned import (
    answer,
    do_day,
    live_up_to_sweep,
    miss_twice,
    planned_library,
    printed_bank,
)
from tests.domain.plan.scenes import EXAM, MONDAY, usual
from tui.plan_words import absence_marks
from tui.widgets.marking_lines import next_words
from tui.widgets.upcoming import headline, upcoming


def sweep_line(library):
    return next(line for line in today_view(library).lines if line.kind is LineKind.SWEEP)


def test_without_a_plan_only_the_day_is_told(tmp_path, clock):
    library = Library.open(tmp_path / "empty", clock)
    view = today_view(library)
    library.close()
    assert (view.today, view.is_set_up, view.lines) == (MONDAY, False, ())


def test_the_day_is_told_at_a_glance(library):
    view = today_view(library)
    assert (view.exam, view.days_to_exam) == (EXAM, 182)
    assert (view.role, view.round, view.rounds) == (Use.REVISION, 1, 2)
    assert view.subject_title == "Clouds"
    assert view.next_sweep.subject_title in ("Tides", "Instruments")
    assert view.next_work.day == MONDAY + ONE_DAY
    assert view.attendance is not None


def test_each_line_names_its_part_chapter_numbers_and_questions(library):
    lines = today_view(library).lines
    assert [(line.part, line.chapter_title, line.round) for line in lines[:2]] == [
        ("Morning", "Chapter 1", 1),
        ("Evening", "Chapter 1", 1),
    ]
    assert lines[0].questions[0] == "book/clouds.chapter-1/1"
    assert lines[0].span == (1, 35)
    assert lines[1].span[0] == 36
    assert [line.part_minutes for line in lines[:2]] == [30, 60]


def test_what_is_answered_today_counts_as_done_and_leaves_the_days_plan_alone(library):
    before = today_view(library)
    answer(library, before.lines[0].questions[:10])
    after = today_view(library)
    assert [line.count for line in after.lines] == [line.count for line in before.lines]
    assert after.done == 10
    assert after.minutes_left == pytest.approx((after.count - 10) * 51 / 60)
    morning = [line for line in after.planned if line.part == "Morning"]
    assert sum(line.done for line in morning) == 10
    assert sum(line.count for line in morning) == 35


def test_free_drill_of_todays_questions_is_done_in_their_line_and_a_paper_is_not(library):
    line = today_view(library).lines[0]
    answer(library, line.questions[:3], Purpose.FREE)
    assert today_view(library).done == 3
    answer(library, ["book/wind.chapter-1/1"], Purpose.PAPER)
    view = today_view(library)
    assert view.done == 3
    assert view.also_done == 1


def test_a_day_done_as_planned_moves_nothing(library, clock):
    before = PlanWorkload(library).plan()
    remember_seen(library, before)
    do_day(library)
    clock.day += ONE_DAY
    view = today_view(library)
    assert view.change is None or not view.change.shifts
    assert view.lines[0].questions[0] not in [q for line in view.lines[1:] for q in line.questions]


def test_the_last_day_of_a_round_says_so(library, clock):
    view = today_view(library)
    while not view.ends_round:
        assert view.round == 1
        do_day(library)
        clock.day += ONE_DAY
        view = today_view(library)
    assert "done" not in headline(view, 80).plain.split("\n")[0]
    do_day(library)
    view = today_view(library)
    assert "round 1 of 2 done" in headline(view, 80).plain
    assert "All of today is done, and round 1 with it." in next_words(view)
    assert today_view(library, ahead=True).round == 2


def test_what_was_left_stands_before_the_next_days_load(library, clock):
    first = today_view(library).lines[0]
    answer(library, first.questions[:10])
    clock.day += ONE_DAY
    assert today_view(library).lines[0].questions[0] == first.questions[10]


def test_the_next_days_lines_come_with_one_call(library):
    do_day(library)
    ahead = today_view(library, ahead=True)
    assert ahead.is_ahead
    assert ahead.day == MONDAY + ONE_DAY
    answer(library, ahead.lines[0].questions)
    again = today_view(library, ahead=True)
    assert again.lines[0].questions != ahead.lines[0].questions


def test_lost_days_are_told_as_a_difference_from_the_plan_last_seen(library, clock):
    remember_seen(library, PlanWorkload(library).plan())
    do_day(library)
    clock.day += timedelta(days=12)
    view = today_view(library)
    assert view.away_days == 11
    before, after = view.change.slack_days
    assert after == view.slack_days < before


def test_what_lost_days_cost_is_not_told_on_a_day_of_rest(library, clock):
    remember_seen(library, PlanWorkload(library).plan())
    do_day(library)
    shown = {}
    for days in (12, 13):
        clock.day = MONDAY + timedelta(days=days)
        shown[today_view(library).role] = upcoming(today_view(library), 20, 80).plain

    assert "Welcome back after 11 days" in shown[Use.SWEEP]
    assert "fewer" in shown[Use.SWEEP]
    assert not any(word in shown[Use.REST] for word in ("Welcome", "fewer", "replanned"))


def test_a_sweep_puts_up_the_repeatedly_missed_and_takes_what_is_left_in_its_second_part(
    library, clock
):
    _, names = miss_twice(library, clock, range(1, 41))
    line = sweep_line(library)
    assert line.purpose is Purpose.SWEEP
    assert line.questions[:40] == tuple(names)
    answer(library, names[:15], Purpose.SWEEP)
    after = sweep_line(library)
    assert after.questions[:40] == tuple(names)
    assert after.done == 15
    begun = library.history.records_of(VisitBegun)
    assert [line.questions for line in begun] == [tuple(names)]


def test_what_is_swept_before_its_day_is_free_practice(library, clock):
    _, names = miss_twice(library, clock, range(1, 41))
    clock.day -= ONE_DAY
    answer(library, names[:5], Purpose.SWEEP)
    assert library.history.records_of(VisitBegun) == []
    clock.day += ONE_DAY
    assert sweep_line(library).left >= 35


def test_a_finished_sweep_is_not_planned_again_in_its_round(library, clock):
    subject, names = miss_twice(library, clock, range(1, 13))
    answer(library, names, Purpose.SWEEP)
    clock.day += ONE_DAY
    assert today_view(library).next_sweep.subject_title != subject


def test_undo_takes_the_beginning_of_a_sweep_back_too(library, clock):
    _, names = miss_twice(library, clock, range(1, 13))
    answer(library, names[:1], Purpose.SWEEP)
    library.undo()
    assert library.history.records_of(VisitBegun) == []
    assert sweep_line(library).done == 0


def test_enough_ends_a_sweep_and_can_be_undone(library, clock):
    subject, names = miss_twice(library, clock, range(1, 41))
    answer(library, names[:10], Purpose.SWEEP)
    assert enough(library, f"book/{subject.lower()}") == subject
    assert (sweep_line(library).count, sweep_line(library).left) == (10, 0)
    clock.day += ONE_DAY
    assert today_view(library).next_sweep.subject_title != subject
    clock.day -= ONE_DAY
    library.undo()
    assert sweep_line(library).left >= 30
    with pytest.raises(InputError, match="no sweep is due"):
        enough(library, "book/clouds")


def test_a_sweep_ended_before_it_began_leaves_no_line(library, clock):
    subject, _ = miss_twice(library, clock, range(1, 41))
    assert sweep_line(library).left >= 40
    enough(library, f"book/{subject.lower()}")
    assert not any(line.kind is LineKind.SWEEP for line in today_view(library).lines)


def test_an_empty_sweep_is_done_on_its_morning_with_a_sentence(library, clock):
    swept = today_view(library).next_sweep.subject_title.lower()
    every = [f"book/{swept}.chapter-{c}/{n}" for c in (1, 2, 3, 4) for n in range(1, 81)]
    subject = live_up_to_sweep(library, clock, every, Purpose.STUDY, Verdict.RIGHT)
    begin_day(library)
    begin_day(library)
    assert today_view(library).emptied == (subject,)
    ended = library.history.records_of(VisitEnded)
    assert [line.how for line in ended] == [VisitEnd.EMPTY]
    clock.day += ONE_DAY
    assert today_view(library).next_sweep.subject_title != subject


def test_chapters_with_nothing_recorded_are_swept_with_the_book_open(library, clock):
    live_up_to_sweep(library, clock)
    line = sweep_line(library)
    assert line.items
    assert all(item.untried for item in line.items)


def test_a_plan_that_no_longer_fits_says_how_much_is_not_reached(tmp_path, clock):
    inputs = usual(exam=MONDAY + timedelta(days=15), papers=False)
    library = planned_library(tmp_path, clock, inputs, printed_bank(subjects=2, questions=100))
    assert today_view(library).feasible
    remember_seen(library, PlanWorkload(library).plan())
    clock.day += timedelta(days=9)
    view = today_view(library)
    library.close()
    assert not view.feasible
    assert view.shortfall_minutes > 0
    assert view.change.unreached[1] == view.beyond > 0


def test_after_the_exam_there_is_nothing_to_do(library, clock):
    clock.day = EXAM + ONE_DAY
    view = today_view(library)
    assert view.lines == ()
    assert view.days_to_exam == -1


def test_a_days_result_stands_beside_the_last_time_of_the_same_questions(library, clock):
    names = [f"book/clouds.chapter-1/{number}" for number in range(1, 5)]
    answer(library, names[:3], Purpose.FREE, Verdict.WRONG)
    clock.day += ONE_DAY
    answer(library, names[:1], Purpose.FREE)
    clock.day += ONE_DAY
    answer(library, names, Purpose.FREE)
    answer(library, names[:1], Purpose.FREE, Verdict.WRONG)
    result = today_view(library).result

    assert (result.questions, result.right_first) == (4, 4)
    assert (result.tried_before, result.right_before) == (3, 1)


def test_after_three_days_away_a_short_day_is_offered_and_replans_the_rest(library, clock):
    do_day(library)
    clock.day += 3 * ONE_DAY
    assert today_view(library).short_day == 0, "two days were missed"
    clock.day += 4 * ONE_DAY
    before = today_view(library)
    assert (before.away_days, before.short_day) == (6, 20)
    shorten_day(library, before.short_day)
    after = today_view(library)
    assert after.short_day == 0
    assert 0 < sum(line.minutes for line in after.planned) <= 20 * 1.15
    assert after.feasible
    library.undo()
    assert today_view(library).count == before.count
    answer(library, before.planned[0].questions[:1])
    assert today_view(library).short_day == 0, "the day is begun"


def test_an_absence_begins_with_the_first_visit_missed_and_ends_with_any_work(library, clock):
    do_day(library)
    clock.day += 5 * ONE_DAY
    do_day(library)
    assert clock.day.weekday() == 5
    clock.day += 5 * ONE_DAY
    back = today_view(library)
    assert (back.away_days, back.missed_days) == (3, 3), "the Sunday between was a day of rest"
    shown = upcoming(back, 9, 80, (0.4, 4.2)).plain
    assert "after 3 days: they cost about 0–4 marks. No need to catch up." in shown
    lines = upcoming(back, 9, 40, (0.4, 4.2)).plain.splitlines()
    assert len(lines) <= 9
    assert max(map(len, lines)) <= 40
    assert absence_marks((2.8, 3.3)) == "about 3 marks"
    answer(library, ["book/clouds.chapter-4/80"], Purpose.PASS)
    clock.day += ONE_DAY
    assert today_view(library).away_days == 0
