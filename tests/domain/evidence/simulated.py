"""Candidates whose memory is known, because we made it: for checking what is learnt from logs."""

import random
from collections.abc import Sequence
from datetime import date
from functools import cache

from domain.evidence.forecast import Held
from domain.evidence.memory.logistic import PRIOR, Logistic, chance_of, features
from domain.evidence.memory.practice import UNSEEN, Cell, Practice, Trial, read
from domain.tiers import Judged, TierRules
from domain.verdicts import Confidence, Verdict

FIRST_DAY = date(2027, 1, 4).toordinal()
RULES = TierRules()
SUBJECTS = ("clouds", "wind", "pressure", "instruments", "morse", "maps")

DAYS = (0, 1, 3, 8, 21, 45, 60, 62, 66, 75, 90, 110)
"""Days on which there may be tries at a question."""


@cache
def _shared(weights: tuple[float, ...], cell: Cell) -> float:
    return sum(weight * value for weight, value in zip(weights, features(cell), strict=True))


class Candidate:
    """A candidate with true weights, true starts per subject, and (unknown) easier questions.

    `uneven` is the deviation, in ln odds, of the questions among themselves.
    """

    def __init__(self, rng: random.Random, weights: Sequence[float] = (), uneven: float = 0.0):
        self.rng = rng
        self.weights = tuple(weights) or tuple(mean for mean, _ in PRIOR.values())
        self.starts = {subject: rng.gauss(0, 0.5) for subject in SUBJECTS}
        self.uneven = uneven
        self.trials: list[Trial] = []
        self.held: list[Held] = []
        self.easier: list[float] = []

    def chance(self, subject: str, practice: Practice | None, day: int, easier: float) -> float:
        """The true chance of being right."""
        cell = practice.cell(day) if practice else UNSEEN
        return chance_of(self.starts[subject] + easier + _shared(self.weights, cell))

    def study(self, questions: int, days: Sequence[int] = DAYS, share: float = 0.4) -> None:
        """Try each of so many questions a subject on some of the days (offsets)."""
        for subject in SUBJECTS:
            for _ in range(questions):
                easier = self.rng.gauss(0, self.uneven)
                chosen = [FIRST_DAY + day for day in days if self.rng.random() < share]
                self._question(subject, easier, chosen)

    def _question(self, subject: str, easier: float, days: list[int]) -> None:
        history: list[Judged] = []
        trials: list[Trial] = []
        practice: Practice | None = None
        for day in days:
            right = self.rng.random() < self.chance(subject, practice, day, easier)
            sure = Confidence.SURE if self.rng.random() < 0.7 else Confidence.UNSURE
            verdict = Verdict.RIGHT if right else Verdict.WRONG
            history.append(Judged(date.fromordinal(day), verdict, sure))
            trials, stages = read(subject, history, RULES)
            practice = stages[-1].practice
        self.trials += trials
        self.held.append(Held(subject, practice))
        self.easier.append(easier)

    def exam(self, per_subject: int, day: int) -> int:
        """How many of a paper's questions, drawn from the bank, turn out right on the day."""
        right = 0
        for subject in SUBJECTS:
            pool = [
                (held, easier)
                for held, easier in zip(self.held, self.easier, strict=True)
                if held.subject == subject
            ]
            for held, easier in self.rng.sample(pool, per_subject):
                right += self.rng.random() < self.chance(subject, held.practice, day, easier)
        return right


def true_model(candidate: Candidate) -> Logistic:
    """The candidate's own weights in the model's form."""
    weights = candidate.weights + tuple(candidate.starts.values())
    return Logistic(tuple(candidate.starts), weights, [], 0)
