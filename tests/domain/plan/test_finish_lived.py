"""The finish range holds for candidates who live with the plan, replanned every morning."""

from datetime import date, timedelta
from random import Random

import pytest
from msgspec.structs import replace

from domain.plan.days import ONE_DAY, Use, open_days
from domain.plan.finish import FEWEST_WEEKS, Finish, Work, finishes
from domain.plan.load import Pace
from domain.plan.pairing import visits
from domain.plan.planner import make_plan
from domain.plan.progress import Attempt, Progress
from tests.domain.plan.scenes import MONDAY, alike, usual

PACE = Pace()


def strengths(rng: Random):
    """How much of each day's minutes there is strength for: tired days, days away, illness."""
    usual_share, away = rng.uniform(0.6, 1.1), rng.uniform(0, 0.2)
    ill = 0
    while True:
        if rng.random() < 0.008:
            ill = rng.randint(2, 7)
        ill = max(0, ill - 1)
        yield 0.0 if ill or rng.random() < away else max(0.0, rng.gauss(usual_share, 0.2))


class Life:
    """One candidate, whose plan is made anew every morning from what is done."""

    def __init__(self, rng: Random, questions: int) -> None:
        self.subjects = alike(16, questions, chapters=questions * 9 // 525)
        inputs = usual(exam=MONDAY + timedelta(days=160), rounds=1)
        order = make_plan(inputs, self.subjects, today=MONDAY).order
        self.inputs = replace(inputs, order=order)
        self.visits = list(visits(self.inputs, order))
        self.progress = Progress(self.subjects, (), lambda subject, day: 1)
        self.strength, self.today = strengths(rng), MONDAY
        self.asked: list[float] = []
        self.did: list[float] = []

    def plan(self):
        done = self.progress.done(self.visits)
        return make_plan(self.inputs, self.subjects, done, PACE, today=self.today)

    def live_a_day(self) -> None:
        plan, strength = self.plan(), next(self.strength)
        if self.today.weekday() == 0:
            self.asked.append(sum(revision(day) for day in plan.days[:7]))
            self.did.append(0.0)
        today = plan.days[0]
        left = sum(today.parts) * strength if strength < 1 else today.minutes
        for piece in today.pieces:
            count = min(piece.questions, int(left * 60 / 51 + 1e-6)) if piece.numbers else 1
            left -= count * 51 / 60
            for number in piece.numbers[:count] or [1]:
                sweep = not piece.numbers
                attempt = Attempt(self.today, piece.subject, piece.chapter, number, sweep)
                self.progress.read([attempt] if count else [])
            if piece.numbers:
                self.did[-1] += count * 51 / 60
        self.today += ONE_DAY

    def told(self) -> Finish:
        plan = self.plan()
        left = sum(revision(day) for day in plan.days)
        last = max(placed.last for placed in plan.placed if not placed.visit.sweep)
        ahead = []
        for day in open_days(self.inputs, self.today, self.today + timedelta(days=900)):
            room = day.minutes if day.use is Use.REVISION else 0
            ahead.append((day.day, revision(plan.on(day.day)) if day.day <= last else float(room)))
        shares = [did / asked for did, asked in zip(self.did, self.asked, strict=True) if asked]
        return finishes(shares, [Work(1, left)], ahead)[0]

    @property
    def is_through(self) -> bool:
        return sum(self.progress.done(self.visits).blocks.values()) == 8


def revision(day) -> float:
    return day.minutes if day and day.use is Use.REVISION else 0.0


@pytest.mark.slow
def test_nine_in_ten_finish_within_the_range_whether_or_not_the_week_has_free_days():
    inside = told = 0
    for seed in range(40):
        rng = Random(seed)
        life = Life(rng, questions=525 if seed % 2 else 350)
        for _ in range(7 * rng.randint(FEWEST_WEEKS + 1, 5)):
            life.live_a_day()
        if life.is_through:
            continue
        told += 1
        first, last = life.told().most
        while not life.is_through:
            life.live_a_day()
        inside += first <= life.today - ONE_DAY <= (last or date.max)
    assert told > 35
    assert 0.85 <= inside / told <= 0.97
