"""A candidate whose memory follows a law: lives a plan, leaves responses, sits the exam.

Everything is in arrays, so that a half-year of 11,000 questions takes less than a second.
"""

from collections.abc import Iterator, Mapping, Sequence
from datetime import date
from typing import NamedTuple

import numpy as np

from domain.tiers import Judged
from domain.verdicts import Confidence, Verdict
from tests.domain.evidence.memories.laws import Flags, Floats, Items, Law

SUBJECTS, QUESTIONS = 21, 10_891
"""The practice's bank (common practice, no source)."""

FIRST_DAY = date(2027, 1, 4)
"""Day 0, a Monday; days before it are negative."""

LUCKY = 0.25
"""A guess among four options."""

SURE_IF_RETRIEVED, SURE_IF_LUCKY = 0.9, 0.1
"""How often a right response is said to be sure (common practice, no source)."""

SURE, UNSURE, MISSED = 36.0, 48.0, 72.0
"""Seconds for a response right and sure, right and unsure, missed and looked up (common practice,
no source)."""


class Outcomes(NamedTuple):
    """What came of one day's questions, in their order."""

    items: Items
    day: int
    right: Flags
    sure: Flags

    @property
    def seconds(self) -> float:
        """Time the questions took."""
        times = np.where(self.right, np.where(self.sure, SURE, UNSURE), MISSED)
        return float(times.sum())


class SimulatedCandidate:
    """One learner and the log left behind. `subject` gives each question's subject, 0 upwards.

    `law` makes the memory; the same `seed` gives the same questions and the same luck under every
    plan, as each question has its own random numbers, taken in turn at its tries.
    """

    MOST_TRIES = 40

    def __init__(
        self, law: type[Law], seed: int, questions: int = QUESTIONS, subjects: int = SUBJECTS
    ) -> None:
        rng = np.random.default_rng(seed)
        self.size, self.subjects = questions, subjects
        shares = rng.dirichlet(np.full(subjects, 12.0))
        self.subject = np.sort(rng.choice(subjects, questions, p=shares))
        self.weights = rng.dirichlet(np.full(subjects, 8.0))
        hardness = (
            rng.standard_normal(questions) * 0.94 + rng.normal(0, 0.34, subjects)[self.subject]
        )
        self.memory = law(hardness)
        self._luck = rng.random((questions, self.MOST_TRIES, 2), dtype=np.float32)
        self.tries = np.zeros(questions, dtype=np.int64)
        self.log: list[Outcomes] = []
        sizes = np.maximum(np.bincount(self.subject, minlength=subjects), 1)
        # Score points of 400 per unit of chance: five between right and wrong, 100 questions.
        self.worth = 500 * self.weights[self.subject] / sizes[self.subject]

    def all(self) -> Items:
        """Every question's number."""
        return np.arange(self.size)

    def of(self, subject: int) -> Items:
        """The subject's questions in book order."""
        return np.flatnonzero(self.subject == subject)

    def study(self, day: int, items: Items | Sequence[int]) -> Outcomes:
        """Answer the questions, each once, and look up what was missed."""
        items = np.asarray(items, dtype=np.int64)
        luck = self._luck[items, self.tries[items] % self.MOST_TRIES]
        chance = self.memory.chance(items, day)
        retrieved = luck[:, 0] < chance
        # What is left of the same number decides the guess.
        left = (luck[:, 0] - chance) / np.maximum(1 - chance, 1e-12)
        right = retrieved | (left < LUCKY)
        sure = right & (luck[:, 1] < np.where(retrieved, SURE_IF_RETRIEVED, SURE_IF_LUCKY))
        self.memory.study(items, day, retrieved)
        self.tries[items] += 1
        outcomes = Outcomes(items, day, right, sure)
        self.log.append(outcomes)
        return outcomes

    def first_study(self, last_day: int = -10, days: int = 140) -> None:
        """Study each subject for the first time, one after another, before the plan begins."""
        order = np.random.default_rng(self.subject[-1]).permutation(self.subjects)
        for place, subject in enumerate(order):
            self.study(last_day - days + round(days * place / self.subjects), self.of(int(subject)))

    def live(self, plan: Mapping[int, Items]) -> None:
        """Study what the plan has for each day, in order of days."""
        for day in sorted(plan):
            self.study(day, plan[day])

    def right_on(self, day: float, items: Items | None = None) -> Floats:
        """The chance of a right response in an exam on the day, guessing where nothing comes."""
        chance = self.memory.chance(self.all() if items is None else items, day)
        return chance + (1 - chance) * LUCKY

    def score(self, day: float) -> float:
        """The expected score of 400 (100 questions of the bank by weight, +4/−1)."""
        return float(self.worth @ self.right_on(day)) - 100

    def gain(self, items: Items, day: int, exam: float) -> Floats:
        """Score to expect in the exam from studying each question on the day, truly."""
        now, alone = self.memory.chance(items, day), self.memory.chance(items, exam)
        right = self.memory.after(items, day, True, exam)
        missed = self.memory.after(items, day, False, exam)
        return self.worth[items] * (1 - LUCKY) * (now * right + (1 - now) * missed - alone)

    def history(self, item: int) -> list[Judged]:
        """One question's responses as the tier rules read them, oldest first."""
        return self.histories([item])[item]

    def histories(self, items: Sequence[int] | None = None) -> dict[int, list[Judged]]:
        """The responses of many questions as the tier rules read them, oldest first."""
        histories: dict[int, list[Judged]] = {int(item): [] for item in items or range(self.size)}
        for day, item, right, sure in self.responses():
            if item in histories:
                verdict = Verdict.RIGHT if right else Verdict.WRONG
                confidence = Confidence.SURE if sure else Confidence.UNSURE
                histories[item].append(Judged(date.fromordinal(day), verdict, confidence))
        return histories

    def responses(self) -> Iterator[tuple[int, int, bool, bool]]:
        """Every response in order: day (an ordinal), question, right, sure."""
        for outcomes in self.log:
            day = FIRST_DAY.toordinal() + outcomes.day
            for item, right, sure in zip(
                outcomes.items.tolist(), outcomes.right.tolist(), outcomes.sure.tolist(),
                strict=True,
            ):  # fmt: skip
                yield day, item, right, sure
