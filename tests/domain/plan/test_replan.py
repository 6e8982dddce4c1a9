"""Whatever happens, the next plan is sound: a thousand disturbed histories."""

from collections import Counter
from datetime import timedelta
from random import Random

import pytest
from msgspec.structs import replace

from domain.plan.changes import compare
from domain.plan.days import ONE_DAY, Use
from domain.plan.load import NOTHING, Pace
from domain.plan.pairing import visits
from domain.plan.planner import make_plan
from domain.plan.progress import Attempt, read_done
from domain.plan.remedies import Planner, without_a_week
from tests.domain.plan.scenes import EXAM, MONDAY, alike, subject, uneven, usual
from tests.domain.plan.soundness import check


class Candidate:
    """Lives through the plan day by day, doing more or less than it says."""

    def __init__(self, subjects, inputs, rng):
        self.subjects, self.inputs, self.rng = subjects, inputs, rng
        self.by_id = {subject.id: subject for subject in subjects}
        self.today, self.attempts = MONDAY, []
        self.inputs = replace(inputs, order=self.plan().order)

    def done(self):
        order = self.inputs.order or tuple(self.by_id)
        target = self.expected_hard
        return read_done(self.subjects, self.attempts, visits(self.inputs, order), target)

    def expected_hard(self, subject, _day):
        return self.by_id[subject].expected_hard(self.inputs.hard_share)

    def plan(self):
        pace = Pace(default=self.inputs.seconds)
        return make_plan(self.inputs, self.subjects, self.done(), pace, today=self.today)

    def live(self, days, share):
        """So many days, on each of which that share of the day's plan is done (2: tomorrow's)."""
        for _ in range(days):
            plan = self.plan()
            ahead = [day for day in plan.days if day.pieces][: 1 if share <= 1 else 2]
            for day in ahead:
                if day.day == self.today or share > 1:
                    self.work(day, min(1, share))
            self.today += ONE_DAY

    def work(self, day, share):
        for piece in day.pieces:
            numbers = piece.numbers or range(1, piece.questions + 1)
            for number in list(numbers)[: round(len(numbers) * share)]:
                sweep = not piece.chapter
                self.attempts.append(
                    Attempt(self.today, piece.subject, piece.chapter, number, sweep)
                )

    def disturb(self):
        event = self.rng.choice(["missed", "half", "overlong", "ill", "moved", "full", "off"])
        if event == "missed":
            self.today += ONE_DAY
        elif event == "ill":
            self.today += timedelta(days=14)
        elif event == "moved":
            moved = self.inputs.exam + timedelta(days=self.rng.randint(-21, 21))
            if moved > self.today:
                self.inputs = replace(self.inputs, exam=moved)
        elif event == "off":
            day = self.today + timedelta(days=self.rng.randint(0, 20))
            self.inputs = replace(self.inputs, off=(*self.inputs.off, day))
        else:
            self.live(self.rng.randint(1, 3), {"half": 0.5, "overlong": 2, "full": 1}[event])


@pytest.mark.slow
def test_a_thousand_disturbed_histories_are_replanned_soundly():
    outcomes = Counter()
    for seed in range(1000):
        rng = Random(seed)
        count = rng.randint(1, 5)
        exam = MONDAY + timedelta(days=rng.randint(count * 7, count * 7 + 40))
        candidate = Candidate(uneven(count, rng), usual(exam=exam), rng)
        for _ in range(3):
            candidate.disturb()
        plan = candidate.plan()
        check(plan, candidate.inputs, candidate.subjects, candidate.done())
        outcomes[plan.feasible] += 1
    assert min(outcomes.values()) > 50, "both feasible and infeasible plans were seen"


def test_nothing_changed_nothing_moves():
    candidate = Candidate(alike(21), usual(), Random(1))
    assert candidate.plan() == candidate.plan()
    assert compare(candidate.plan(), candidate.plan()).is_none


def test_a_day_lived_to_the_plan_changes_nothing_in_the_plan():
    candidate = Candidate(alike(9), usual(), Random(1))
    before = candidate.plan()
    candidate.live(9, 1)
    after = candidate.plan()
    assert compare(before, after).is_none
    assert after.days == before.days[9:]


@pytest.mark.parametrize("seconds", [46.0, 49.67, 51.0, 53.0])
@pytest.mark.parametrize("sizes", [(58, 59, 58, 59, 58, 58, 59, 58, 58), (60, 20, 75, 50, 90, 40)])
def test_whoever_does_every_day_as_planned_never_sees_the_plan_move(sizes, seconds):
    subjects = [subject(f"s{number}", sizes) for number in range(6)]
    candidate = Candidate(subjects, usual(seconds=seconds), Random(1))
    first = candidate.plan()
    for day in range(1, 50):
        candidate.live(1, 1)
        assert candidate.plan().days == first.days[day:]


def test_whoever_did_more_than_planned_gets_no_fuller_days_for_it():
    candidate = Candidate(alike(2), usual(), Random(1))
    before = candidate.plan()
    candidate.live(1, 2)
    after = candidate.plan()
    assert max(day.over for day in after.days[:4]) <= max(day.over for day in before.days[:5])
    assert sum(day.questions for day in after.days[:4]) == 525 - 117 - 116


def test_a_lost_week_comes_out_of_the_slack_first():
    planner = Planner(alike(21), NOTHING, Pace(), MONDAY)
    before, after = planner.plan(usual()), without_a_week(planner, usual())
    assert (before.slack_days, after.slack_days) == (30, 24)
    assert after.feasible
    change = compare(before, after)
    assert {shift.days for shift in change.shifts} == {7}
    assert len(change.shifts) == 42


def test_a_missed_day_does_not_cost_a_week():
    candidate = Candidate(alike(21), usual(), Random(1))
    before = candidate.plan()
    candidate.today += ONE_DAY
    after = candidate.plan()
    assert after.feasible
    assert before.slack_days - after.slack_days <= 2


def test_a_chapter_left_over_from_last_week_does_not_cost_this_week():
    candidate = Candidate(alike(21), usual(), Random(1))
    slack = candidate.plan().slack_days
    candidate.live(4, 1)
    candidate.live(3, 0)  # the last chapter of the first block was not done on Friday
    plan = candidate.plan()
    assert [day.subject for day in plan.days[:2]] == ["s01", "s02"]
    assert slack - plan.slack_days <= 2


def test_a_free_friday_stays_free_while_the_week_goes_as_planned():
    candidate = Candidate(alike(8, questions=400, chapters=8), usual(), Random(1))
    before = candidate.plan()
    candidate.live(2, 1)
    assert candidate.plan().days == before.days[2:]
    assert before.days[4].use is Use.SLACK


def test_when_the_slack_is_gone_the_blocks_close_up_before_the_plan_fails():
    subjects = alike(8, questions=400, chapters=8)  # four days' work, a day free in each week
    easy = make_plan(usual(exam=MONDAY + timedelta(days=70)), subjects, today=MONDAY)
    tight = make_plan(usual(exam=MONDAY + timedelta(days=47)), subjects, today=MONDAY)
    assert easy.feasible
    assert tight.feasible
    assert easy.days[4].use is Use.SLACK
    assert tight.days[4].use is Use.REVISION


def test_sweeps_double_up_when_sweep_days_run_short():
    subjects = alike(6, questions=90, chapters=3)
    plan = make_plan(usual(exam=MONDAY + timedelta(days=20)), subjects, today=MONDAY)
    assert plan.feasible
    swept = [{piece.subject for piece in day.pieces} for day in plan.days if day.use is Use.SWEEP]
    assert max(map(len, swept)) > 1


def test_a_round_with_days_enough_keeps_one_sweep_a_day_though_the_next_is_short_of_them():
    plan = make_plan(usual(exam=MONDAY + timedelta(days=91)), alike(21), today=MONDAY)
    sweeps = [day for day in plan.days if day.use is Use.SWEEP]
    assert {len(day.subjects) for day in sweeps if day.round == 1} == {1}
    assert {len(day.subjects) for day in sweeps if day.round == 2} == {2}


def test_a_lost_week_never_leaves_more_days_in_hand():
    for weeks in range(22, 27):
        inputs = usual(exam=MONDAY + timedelta(weeks=weeks))
        planner = Planner(alike(21), NOTHING, Pace(), MONDAY)
        left = without_a_week(planner, inputs)
        assert not left.feasible or left.slack_days < planner.plan(inputs).slack_days


def test_a_plan_from_the_exam_day_on_says_what_was_left():
    plan = make_plan(usual(), alike(2), today=EXAM)
    assert plan.days == ()
    assert not plan.feasible
    assert sum(left.questions for left in plan.unplaced if not left.visit.sweep) == 2 * 525
