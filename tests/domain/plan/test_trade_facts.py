"""The arithmetic that candidates do on paper (common practice, no source), to the number."""

from datetime import date

import pytest

from domain.plan.days import Use
from domain.plan.planner import make_plan
from tests.domain.plan.scenes import MONDAY, alike, usual


@pytest.fixture(scope="module")
def plan():
    return make_plan(usual(), alike(21), today=MONDAY)


@pytest.fixture(scope="module")
def weeks(plan):
    return [plan.days[begin : begin + 7] for begin in range(0, len(plan.days), 7)]


def test_a_day_takes_two_chapters_the_last_of_a_block_one(weeks):
    chapters = [len({piece.chapter for piece in day.pieces}) for day in weeks[0][:5]]
    assert chapters == [2, 2, 2, 2, 1]


def test_a_day_has_105_questions_on_average_and_117_at_most(plan):
    counts = [day.questions for day in plan.days if day.use is Use.REVISION]
    assert sum(counts) / len(counts) == 105
    assert max(counts) == 117


def test_the_days_that_run_over_their_ninety_minutes_say_so(plan):
    revision = [day for day in plan.days if day.use is Use.REVISION]
    assert max(day.over for day in revision) == pytest.approx(117 * 51 / 60 - 90)
    assert all(day.over == pytest.approx(max(0, day.minutes - 90), abs=0.01) for day in revision)


def test_a_week_is_one_block_and_one_sweep_of_another_subject(weeks):
    for week in weeks[:21]:
        assert len({day.subject for day in week[:5]}) == 1
        assert week[6].use is Use.REST
    for number, week in enumerate(weeks[:22], 1):
        swept_or_free = Use.SLACK if number == 11 else Use.SWEEP
        assert week[5].use is swept_or_free
        assert week[5].subject != week[0].subject


def test_two_subjects_a_week_make_eight_in_four_weeks(weeks):
    for count, subjects in ((1, 2), (4, 8)):
        days = [day for week in weeks[:count] for day in week]
        assert len({day.subject for day in days if day.pieces}) == subjects


def test_a_round_takes_eleven_weeks_and_two_rounds_twenty_two(plan):
    first, second = plan.rounds
    assert (first.first_day, first.last_day) == (MONDAY, date(2027, 3, 19))
    assert (second.first_day, second.last_day) == (date(2027, 3, 22), date(2027, 6, 5))
    assert (second.last_day - MONDAY).days // 7 + 1 == 22


def test_twenty_six_weeks_leave_four_weeks_and_a_few_days_in_hand(plan):
    assert plan.feasible
    assert plan.days_there_are == 26 * 6 == 156
    assert plan.days_needed == 21 * 5 + 21 == 126
    assert plan.slack_days == 30
    assert [span.slack_days for span in plan.rounds] == [1, 29]


def test_every_question_is_revised_once_and_every_subject_swept_once(plan):
    revised = [(p.chapter, n) for p in plan.pieces() for n in p.numbers]
    assert len(revised) == len(set(revised)) == 21 * 525 == 11_025
    swept = [day.subject for day in plan.days if day.use is Use.SWEEP]
    assert len(swept) == len(set(swept)) == 21


def test_a_chapter_is_divided_between_morning_and_evening_at_a_number(weeks):
    day = weeks[0][0]
    morning = [piece for piece in day.pieces if piece.part == 0]
    evening = [piece for piece in day.pieces if piece.part == 1]
    assert [piece.numbers for piece in morning] == [tuple(range(1, 40))]
    assert [piece.numbers[0] for piece in evening] == [40, 1]
    assert sum(piece.questions for piece in morning) == round(116 * 30 / 90)


def test_a_subject_without_history_is_swept_for_as_many_as_are_missed_again(plan):
    """Of 525 a subject, 150 to 200 are missed again in revision (common practice, no source)."""
    sweeps = [day for day in plan.days if day.use is Use.SWEEP]
    assert all(150 <= day.questions <= 200 and not day.over for day in sweeps)
