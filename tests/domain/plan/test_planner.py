"""Blocks, chapters and parts of the day; what can't be planned is said and changes nothing."""

from datetime import date, timedelta
from random import Random

import pytest

from domain.errors import InputError
from domain.plan.days import Use
from domain.plan.inputs import DayMinutes
from domain.plan.load import Done, Pace
from domain.plan.planner import make_plan
from tests.domain.plan.scenes import EXAM, MONDAY, alike, subject, uneven, usual
from tests.domain.plan.test_partition import best_by_trying_all, fullest


def revision(plan):
    return [day for day in plan.days if day.use is Use.REVISION]


def test_the_largest_day_of_every_block_is_the_optimum_by_trying_all_divisions():
    subjects = uneven(14, Random(11))
    inputs = usual(minutes=((30, 60), (45,), (90,), (30, 60), (120,), (300,), ()))
    plan = make_plan(inputs, subjects, today=MONDAY)
    assert plan.feasible
    whole = 0
    for one in subjects:
        days = [day for day in revision(plan) if day.subject == one.id]
        sizes = [len(chapter.numbers) for chapter in one.chapters]
        counts = [len({piece.chapter for piece in day.pieces}) for day in days]
        rooms = [sum(day.parts) for day in days]
        if sum(counts) == len(sizes):
            whole += 1
            assert fullest(sizes, rooms, counts) == best_by_trying_all(sizes, rooms)
    assert whole >= 7, "most blocks need no cut chapter"


def test_chapters_stay_in_order_and_whole():
    plan = make_plan(usual(), uneven(10, Random(2)), today=MONDAY)
    for one in plan.order:
        days = [day for day in revision(plan) if day.subject == one]
        order = [piece.chapter for day in days for piece in day.pieces]
        assert order == sorted(order, key=lambda chapter: int(chapter.partition("/")[2]))
        held = [{piece.chapter for piece in day.pieces} for day in days]
        assert sum(map(len, held)) == len(set.union(*held)), "no chapter is on two days"


def test_a_chapter_of_three_thousand_questions_is_cut_at_question_numbers():
    plan = make_plan(usual(), [subject("giant", [3000])], today=MONDAY)
    days = [day for day in revision(plan) if day.pieces]
    assert plan.feasible
    assert len(days) == 29  # 3,000 questions at 105 a day
    assert max(day.questions for day in days) <= 105
    assert max(day.over for day in days) == 0
    numbers = [number for day in days for piece in day.pieces for number in piece.numbers]
    assert numbers == list(range(1, 3001))


def test_short_days_among_long_ones_are_used_by_cutting_a_chapter():
    inputs = usual(minutes=((30,), (30,), (30,), (30,), (120,), (300,), ()))
    plan = make_plan(inputs, [subject("one", [70, 70, 70, 70])], today=MONDAY)
    days = [day for day in revision(plan) if day.pieces]
    assert [day.day.weekday() for day in days] == [0, 1, 2, 3, 4]
    assert all(day.minutes <= sum(day.parts) * 1.15 for day in days)
    numbers = [(piece.chapter, number) for day in days for piece in day.pieces
               for number in piece.numbers]  # fmt: skip
    assert numbers == [(f"one/{c}", n) for c in range(1, 5) for n in range(1, 71)]


def test_chapters_are_not_cut_where_that_saves_no_day():
    inputs = usual(changed_days=(DayMinutes(MONDAY, (60,)),))
    plan = make_plan(inputs, [subject("one", [70, 70, 70])], today=MONDAY)
    held = [{piece.chapter for piece in day.pieces} for day in revision(plan) if day.pieces]
    assert held == [{"one/1"}, {"one/2"}, {"one/3"}]


def test_the_parts_of_a_day_divide_a_chapter_at_a_number():
    plan = make_plan(usual(minutes=((20, 20, 20),) * 7), [subject("one", [60])], today=MONDAY)
    parts = [(p.part, p.numbers[0], p.numbers[-1]) for p in plan.days[0].pieces]
    assert parts == [(0, 1, 23), (1, 24, 47), (2, 48, 60)]


def test_a_block_that_needs_fewer_days_leaves_them_as_slack_at_its_end():
    plan = make_plan(usual(), alike(4, questions=300, chapters=6), today=MONDAY)
    assert [day.use for day in plan.days[:5]] == [Use.REVISION] * 3 + [Use.SLACK] * 2
    first = next(placed for placed in plan.placed if not placed.visit.sweep)
    assert first.slack_days == 2


def test_a_block_that_needs_more_days_takes_more():
    plan = make_plan(usual(), alike(2, questions=800, chapters=14), today=MONDAY)
    block = next(placed for placed in plan.placed if not placed.visit.sweep)
    assert (block.first, block.last) == (MONDAY, MONDAY + timedelta(days=9))


def test_the_candidates_own_pace_counts_per_subject():
    pace = Pace(default=51, own={"s01": 25.0})
    plan = make_plan(usual(), alike(2), pace=pace, today=MONDAY)
    quick = next(placed for placed in plan.placed if placed.visit.subject == "s01")
    assert quick.last == MONDAY + timedelta(days=2)


def test_work_done_is_not_planned_again():
    done = Done(covered={"s01/1": frozenset(range(1, 41)), "s01/2": frozenset(range(1, 59))})
    plan = make_plan(usual(order=("s01", "s02")), alike(2), done, today=MONDAY)
    first = plan.days[0].pieces[0]
    assert (first.chapter, first.numbers[0]) == ("s01/1", 41)
    planned = {(p.chapter, n) for p in plan.pieces() for n in p.numbers if p.subject == "s01"}
    assert len(planned) == 525 - 98


def test_a_half_day_gets_half_the_work():
    inputs = usual(changed_days=(DayMinutes(MONDAY, (45,)),))
    plan = make_plan(inputs, alike(2), today=MONDAY)
    assert 0 < plan.days[0].minutes <= 45 * 1.15


def test_a_sweep_larger_than_its_day_takes_what_fits_and_says_what_does_not():
    hard = subject("hard", [600], tried=600, hard=500)
    plan = make_plan(usual(), [subject("first", [100]), hard], today=MONDAY)
    day = next(day for day in plan.days if day.use is Use.SWEEP and day.subject == "hard")
    assert day.questions == 300 * 60 // 51
    assert plan.unswept == {"hard": 500 - 300 * 60 // 51}


def test_the_hard_set_is_what_is_marked_and_the_stated_share_of_what_is_untried():
    assert subject("some", [100], tried=40, hard=7).expected_hard(0.25) == 7 + 15
    assert subject("none", [100]).expected_hard(0.25) == 25
    assert subject("clean", [100], tried=100, hard=0).expected_hard(0.25) == 1


def test_a_plan_that_starts_later_begins_on_its_first_day():
    plan = make_plan(usual(start=MONDAY + timedelta(days=7)), alike(2), today=MONDAY)
    assert plan.first == MONDAY + timedelta(days=7)
    assert plan.on(MONDAY) is None
    assert plan.on(plan.first).pieces


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"exam": date(2026, 12, 1)}, "must come after the first day"),
        ({"minutes": ((),) * 7}, "No minutes"),
        ({"off": tuple(MONDAY + timedelta(days=n) for n in range(182))}, "Every day"),
        ({"exam": None}, "the day of the exam"),
    ],
)
def test_inputs_that_allow_no_plan_are_refused_in_one_sentence(changes, words):
    with pytest.raises(InputError, match=words):
        make_plan(usual(**changes), alike(2), today=MONDAY)


def test_a_plan_without_subjects_is_all_slack():
    plan = make_plan(usual(), [], today=MONDAY)
    assert plan.feasible
    assert plan.slack_days == plan.days_there_are


def test_too_little_time_says_by_how_many_minutes_and_days():
    exam = MONDAY + timedelta(days=28)
    plan = make_plan(usual(exam=exam), alike(6), today=MONDAY)
    assert not plan.feasible
    left = [unplaced for unplaced in plan.unplaced if not unplaced.visit.sweep]
    assert sum(unplaced.questions for unplaced in left) == 2 * 525
    assert plan.shortfall_minutes == pytest.approx(
        2 * 525 * 51 / 60 + sum(u.minutes for u in plan.unplaced if u.visit.sweep)
    )
    assert plan.days_needed - sum(bool(day.pieces) for day in plan.days) >= 2 * 5


def test_questions_that_left_the_bank_do_not_hold_a_block_open():
    covered = {f"s01/{chapter}": frozenset(range(1, 60)) for chapter in range(1, 10)}
    plan = make_plan(usual(), alike(1), Done(covered=covered), today=MONDAY)
    assert [placed.visit.sweep for placed in plan.placed] == [True]
    assert plan.exam == EXAM
