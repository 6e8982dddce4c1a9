"""Half a year by the pencil alone: blocks, sweeps and, where wanted, passes in idle minutes.

A plain pattern stands in for the plan, so that the tier rules are tried without the project's
planner: one subject's block each week, another's sweep on Saturday, 21 weeks for both rounds.
`python -m tests.domain.evidence.memories.half_year` prints the figures at full size.
"""

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from tests.domain.evidence.memories.candidate import QUESTIONS, Outcomes, SimulatedCandidate
from tests.domain.evidence.memories.laws import LAWS, Flags, Items, Law
from tests.domain.evidence.memories.signs import Signs

EXAM = 26 * 7
DATES = (60, 90, 120, 150, EXAM)
"""Days at which waiting is looked at; the last is the exam's morning."""

REVISION, SWEEP = 90 * 60, 300 * 60
"""Seconds of a working day and of a Saturday for a bank of the practice's size."""

_EACH = 45.0
"""Seconds a question is expected to take."""
_AWAY = 11
"""Weeks from a subject's block to its sweep."""
_REST = 4
"""Days for which nothing tried is tried again in a pass."""


class FormerRule:
    """The rule before: a miss climbs a tier, 2, 3 or 3 clean days come down one."""

    RELEASE, SPACING = np.array([0, 2, 3, 3]), np.array([0, 1, 1, 2])

    def __init__(self, size: int) -> None:
        self.tier = np.full(size, -1)
        self.missed = np.zeros(size, dtype=np.int64)
        self.clean = np.zeros(size, dtype=np.int64)
        self.counted = np.full(size, -10_000)
        self.came_down = np.zeros(size, dtype=bool)

    def take(self, outcomes: Outcomes) -> None:
        """Read one day's responses."""
        items, day = outcomes.items, outcomes.day
        missed, doubted = items[~outcomes.right], items[outcomes.right & ~outcomes.sure]
        clean = items[outcomes.sure]
        self.missed[missed] += 1
        self.tier[missed] = np.minimum(np.maximum(self.tier[missed], 0) + 1, 3)
        self.tier[doubted] = np.maximum(self.tier[doubted], 1)
        for stopped in (missed, doubted):
            self.clean[stopped], self.counted[stopped] = 0, -10_000
        self.tier[clean] = np.maximum(self.tier[clean], 0)
        hard = clean[self.tier[clean] >= 1]
        counts = hard[day - self.counted[hard] >= self.SPACING[self.tier[hard]]]
        self.clean[counts] += 1
        self.counted[counts] = day
        down = counts[self.clean[counts] >= self.RELEASE[self.tier[counts]]]
        self.came_down[down] |= self.tier[down] >= 2
        self.tier[down] -= 1
        self.clean[down], self.counted[down] = 0, -10_000


class Waiting(NamedTuple):
    """On one date: how many wait, and the chance on exam day of these and of all others tried."""

    day: int
    number: int
    chance: float
    others: float


def waiting_on(candidate: SimulatedCandidate, signs: Signs, day: int) -> Waiting:
    """What waits on the day's morning, and how likely it is right in the exam as things are."""
    waits: Flags = signs.waiting(day)
    others = signs.tried & ~waits
    right = candidate.right_on(EXAM)
    means = [float(right[which].mean()) if which.any() else 0.0 for which in (waits, others)]
    return Waiting(day, int(waits.sum()), *means)


class Life(NamedTuple):
    """What came of a half-year. Shares are 0 to 1."""

    twice_missed: int
    settled: float
    hard_tiers: float
    former_came_down: float
    former_hard_tiers: float
    score: float
    waiting: list[Waiting]


def live(
    law: type[Law],
    seed: int,
    *,
    passes: bool,
    questions: int = QUESTIONS,
    attendance: float = 1.0,
) -> Life:
    """Live from the first study to the exam; a smaller bank gets as much less time."""
    candidate = SimulatedCandidate(law, seed, questions)
    pencil = _Pencil(candidate)
    candidate.first_study()
    for outcomes in candidate.log:
        pencil.read(outcomes)
    comes = np.random.default_rng([seed, 1]).random(EXAM) < attendance
    waiting = []
    for day in range(EXAM):
        if day in DATES:
            waiting.append(waiting_on(candidate, pencil.signs, day))
        if comes[day] and day % 7 < 6:
            pencil.work(day, passes=passes)
    waiting.append(waiting_on(candidate, pencil.signs, EXAM))
    signs, former = pencil.signs, pencil.former
    twice = signs.signs >= 2
    return Life(
        int(twice.sum()), float(signs.settled[twice].mean()), float(signs.open.mean()),
        float(former.came_down[former.missed >= 2].mean()), float((former.tier > 0).mean()),
        candidate.score(EXAM), waiting,
    )  # fmt: skip


class _Pencil:
    """Works through the days and keeps what the pencil left, by both rules."""

    def __init__(self, candidate: SimulatedCandidate) -> None:
        self.candidate = candidate
        self.signs, self.former = Signs(candidate.size), FormerRule(candidate.size)
        self._share = candidate.size / QUESTIONS
        self._order = np.argsort(-candidate.weights)
        self._begun = -1
        self._block: Items = np.array([], dtype=np.int64)
        self._swept = -1

    def read(self, outcomes: Outcomes) -> None:
        self.signs.take(outcomes)
        self.former.take(outcomes)

    def work(self, day: int, *, passes: bool) -> None:
        """One day: its block, else its sweep, then passes."""
        week, is_saturday = day // 7, day % 7 == 5
        seconds = (SWEEP if is_saturday else REVISION) * self._share
        for subject in range(self._begun + 1, min(week + 1, len(self._order))):
            self._block = np.append(self._block, self.candidate.of(int(self._order[subject])))
            self._begun = subject
        if is_saturday and week < len(self._order):
            subject = int(self._order[(week + _AWAY) % len(self._order)])
            seconds = self._take(day, self._sweep(subject), seconds)[1]
        elif not is_saturday:
            taken, seconds = self._take(day, self._block, seconds)
            self._block = self._block[taken:]
        if passes:
            self._take(day, self._pass(day), seconds)

    def _take(self, day: int, items: Items, seconds: float) -> tuple[int, float]:
        """Study from the front while there is time: how many, and the seconds left."""
        taken = 0
        while taken < len(items) and seconds >= _EACH:
            chunk = items[taken : taken + max(1, int(seconds / _EACH / 2))]
            outcomes = self.candidate.study(day, chunk)
            self.read(outcomes)
            seconds -= outcomes.seconds
            taken += len(chunk)
        return taken, seconds

    def _sweep(self, subject: int) -> Items:
        """The repeatedly missed of the subject, then its other open questions."""
        own = self.candidate.of(subject)
        tier = self.signs.tier[own]
        return own[np.argsort(-tier, kind="stable")][: int((tier >= 1).sum())]

    def _pass(self, day: int) -> Items:
        """What isn't settled first, by weight × days unseen × (1 with a sign, else .35)."""
        signs = self.signs
        unseen = day - signs.last
        under_way = np.isin(self.candidate.subject, self.candidate.subject[self._block])
        free = np.flatnonzero(signs.tried & (unseen > _REST) & ~under_way)
        worth = self.candidate.worth * unseen * np.where(signs.signs > 0, 1.0, 0.35)
        rank = np.where(signs.settled, unseen - 1e6, worth)
        return free[np.argsort(-rank[free], kind="stable")]


def _lines(seed: int = 1) -> Iterator[str]:
    for law in LAWS:
        for passes, attendance in ((False, 1.0), (True, 1.0), (True, 0.8)):
            life = live(law, seed, passes=passes, attendance=attendance)
            dates = " ".join(
                f"{day.day}:{day.number}/{day.chance:.2f}/{day.others:.2f}" for day in life.waiting
            )
            yield (
                f"{law.name:26} passes {passes!s:5} at {attendance:.0%}: "
                f"{life.twice_missed} twice missed, {life.settled:.1%} settled, "
                f"hard-tiers {life.hard_tiers:.0%} "
                f"(former: came down {life.former_came_down:.1%}, {life.former_hard_tiers:.0%}), "
                f"score {life.score:.0f}; waiting {dates}"
            )


if __name__ == "__main__":
    for line in _lines():
        print(line, flush=True)
