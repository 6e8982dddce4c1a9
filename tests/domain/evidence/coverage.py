"""How often the 90 % range of a predicted score holds the exam, under laws of forgetting.

`python -m tests.domain.evidence.coverage [--seeds FROM TO] [--laws 0 1 …]`. A candidate lives the
project's own plan on a fifth of the practice's bank and sits a sample paper every fourth Saturday;
early, ten weeks and four weeks before the exam the score is predicted for whoever stops then, and
for whoever keeps the plan. The exam is a hundred questions drawn from the bank by weight.
"""

import argparse
from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import timedelta
from typing import NamedTuple

import numpy as np

from domain.evidence.differences import AnswerDays, planned_chances
from domain.evidence.forecast import (
    Forecast,
    Held,
    OutsideResult,
    PaperQuestion,
    Shift,
    ShiftedChances,
    forecast,
    forecast_of_cells,
    outside_shift,
    remaining,
    sample_shift,
    shifted,
)
from domain.evidence.intervals import Beta
from domain.evidence.memory.learning import Memory, OneRate, learn
from domain.evidence.memory.logistic import Logistic
from domain.evidence.memory.practice import UNSEEN, Cell
from domain.marking.blueprint import Blueprint, Section, even_sections
from domain.plan.answer_days import QuestionAhead, answer_days
from domain.plan.scheduler import PlanRequest
from domain.plan.study_plan_writer import make_study_plan
from tests.domain.evidence.memories.laws import LAWS, Items, Law
from tests.domain.evidence.worth import (
    EXAM,
    FIRST,
    FIRST_DAY,
    SECONDS,
    Learner,
    Life,
    by_rule,
)

MOMENTS = {"10 weeks": EXAM - 70, "4 weeks": EXAM - 28}
SMALL = 450
"""Questions of the bank on which a log of some 1,300 responses is left."""


class Prediction(NamedTuple):
    """A predicted score against the exam: its error, whether the range held it, the half width;
    and the error of the prediction without papers.
    """

    error: float
    held: bool
    half: float
    error_without: float
    held_without: bool


class SatPaper(NamedTuple):
    """A sample paper as it was: by question the subject, its cell before, and what came."""

    cells: list[tuple[str, Cell]]
    right: list[bool]

    def questions(self, memory: Memory) -> list[PaperQuestion]:
        """With the chances that today's memory gives to what was known then."""
        return [
            PaperQuestion(memory.chances.chance(*cell), right)
            for cell, right in zip(self.cells, self.right, strict=True)
        ]


def sit(learner: Learner, day: int, items: Items) -> SatPaper:
    """Sit a paper: it counts as practice, but nothing is learnt from it."""
    cells: list[tuple[str, Cell]] = []
    for item in items.tolist():
        practice = learner.practices[item]
        cells.append((learner.subject(item), practice.cell(FIRST + day) if practice else UNSEEN))
    tries = len(learner.trials)
    learner.study(day, items)
    del learner.trials[tries:]
    return SatPaper(cells, learner.candidate.log[-1].right.tolist())


class Exam:
    """The exam's blueprint, and sitting it."""

    def __init__(self, learner: Learner, dice: np.random.Generator) -> None:
        self.candidate, self._dice = learner.candidate, dice
        weights = [(f"{n:02}", weight) for n, weight in enumerate(self.candidate.weights)]
        self.blueprint = Blueprint(sections=even_sections(weights, 100), minutes=100)

    def sat(self, day: int) -> tuple[float, float]:
        """The expected score on a day as things stand, and one that was drawn."""
        chances = self.candidate.right_on(day)
        true = asked = 0.0
        for section in self.blueprint.sections:
            own = chances[self.candidate.of(int(section.subject))]
            true += section.questions * (5 * own.mean() - 1)
            right = self._dice.random(section.questions) < self._dice.choice(own, section.questions)
            asked += float((5 * right - 1).sum())
        return true, asked


class Predicted(NamedTuple):
    """What was predicted at one moment, with papers and without."""

    found: Forecast
    without: Forecast

    def against(self, true: float, asked: float) -> Prediction:
        low, high = self.found.interval()
        plain = self.without.interval()
        return Prediction(
            self.found.mark - true, low <= asked <= high, (high - low) / 2,
            self.without.mark - true, plain[0] <= asked <= plain[1],
        )  # fmt: skip


def stopping(
    learner: Learner, day: int, memory: Memory, shift: Shift, blueprint: Blueprint
) -> Predicted:
    """The score for whoever stops on that day."""
    held = [Held(learner.subject(item), kept) for item, kept in enumerate(learner.practices)]
    shifted = ShiftedChances(memory.chances, shift, remaining(EXAM - day))
    exam = FIRST + EXAM
    return Predicted(
        forecast(held, shifted, blueprint, exam),
        forecast(held, memory.chances, blueprint, exam, 0.0, memory.day_spread),
    )


def keeping(
    life: Life, day: int, model: Logistic, memory: Memory, shift: Shift, blueprint: Blueprint
) -> Predicted:
    """The score for whoever keeps the plan, passes included."""
    learner, today = life.learner, FIRST_DAY + timedelta(days=day)
    plan = make_study_plan(
        PlanRequest.of(life.inputs, life._loads(), today, life.fold.progress(today))
    )
    signs, settled = learner.signs.signs.tolist(), learner.signs.settled.tolist()
    ahead = [
        QuestionAhead(
            learner.subject(item), *life.place[item], float(learner.candidate.worth[item]),
            practice.last if practice else None, signs[item], settled[item],
        )
        for item, practice in enumerate(learner.practices)
    ]  # fmt: skip
    progress = life.fold.progress(today)
    visited = [*progress.blocks, *progress.sweeps]
    questions = [
        AnswerDays(one.subject, learner.practices[item], days)
        for item, (one, days) in enumerate(
            zip(ahead, answer_days(plan, ahead, SECONDS, visited), strict=True)
        )
    ]
    planned = planned_chances(questions, model, FIRST + EXAM)
    cells = planned.cells(questions)
    return Predicted(
        forecast_of_cells(cells, ShiftedChances(planned, shift), blueprint),
        forecast_of_cells(cells, planned, blueprint, 0.0, memory.day_spread),
    )


def live(law: type[Law], seed: int) -> dict[str, Prediction]:
    """One candidate's half-year: every prediction against the exam it is about."""
    dice = np.random.default_rng(seed + 77)
    life = Life(law, seed, by_rule, until=0)
    learner, exam = life.learner, Exam(life.learner, dice)
    papers: list[SatPaper] = []
    kept: dict[str, Predicted] = {}
    found: dict[str, Prediction] = {}
    for day in [*life.attended, EXAM]:
        for name, moment in MOMENTS.items():
            if day >= moment and f"stop, {name}" not in found:
                memory = learn(learner.trials)
                shift = sample_shift([paper.questions(memory) for paper in papers])
                stop = stopping(learner, day, memory, shift, exam.blueprint)
                found[f"stop, {name}"] = stop.against(*exam.sat(EXAM))
                if isinstance(memory.chances, Logistic):
                    model = memory.chances
                    kept[f"keep, {name}"] = keeping(life, day, model, memory, shift, exam.blueprint)
        if day == EXAM:
            break
        if day % 28 == 26:
            items = np.sort(dice.permutation(learner.candidate.size)[:100])
            papers.append(sit(learner, day, items))
        else:
            life.live(day)
    return found | {name: one.against(*exam.sat(EXAM)) for name, one in kept.items()}


def live_briefly(law: type[Law], seed: int) -> Prediction:
    """A small bank with some 1,300 responses: first study, a revision of a third a month, two
    sample papers; then the score for whoever stops.
    """
    dice = np.random.default_rng(seed + 177)
    learner = Learner(law, seed, SMALL)
    exam, papers = Exam(learner, dice), []
    for week in range(14):
        day = week * 7
        order = np.argsort(-(day - learner.signs.last) * (1 + learner.signs.signs))
        learner.study(day, np.sort(order[:58]))
        if week in (7, 13):
            papers.append(sit(learner, day + 3, np.sort(dice.permutation(SMALL)[:100])))
    memory = learn(learner.trials)
    shift = sample_shift([paper.questions(memory) for paper in papers])
    return stopping(learner, day, memory, shift, exam.blueprint).against(*exam.sat(EXAM))


def outside_coverage(exams: int, seed: int = 8) -> tuple[float, float]:
    """How often the range from two outside papers of 200 held an exam, and its mean half width of
    400. Questions never seen are right less often by .14 ± .06; 5 to 50 % of a paper is the
    bank's, and the bank's own level is known to .15 in log odds.
    """
    dice = np.random.default_rng(seed)
    blueprint = Blueprint(sections=(Section("wind", 200),), minutes=200)
    held, widths = 0, []
    for _ in range(exams):
        truth, gap = dice.uniform(0.7, 0.92), dice.normal(0.14, 0.06)
        expected = shifted(truth, dice.normal(0, 0.15))
        right = [int(dice.binomial(200, truth - gap * dice.uniform(0.5, 0.95))) for _ in range(3)]
        found = outside_shift([OutsideResult(200, one, expected) for one in right[:2]])
        assert found is not None
        known = OneRate(Beta(expected * 1e9, (1 - expected) * 1e9))
        outside = forecast([Held("wind", None)], ShiftedChances(known, found, 0.0), blueprint, 1)
        low, high = outside.interval()
        held += low <= 5 * right[2] - 200 <= high
        widths.append((high - low) / 4)  # half of it, of 400 instead of 800
    return held / exams, float(np.mean(widths))


def tell(laws: Iterable[type[Law]], seeds: Sequence[int]) -> dict[str, list[Prediction]]:
    """Print rmse, coverage and half width by law and claim; all predictions by claim."""
    every: dict[str, list[Prediction]] = defaultdict(list)
    for law in laws:
        own: dict[str, list[Prediction]] = defaultdict(list)
        for seed in seeds:
            for name, one in live(law, seed).items():
                own[name].append(one)
            own["stop, 1,300"].append(live_briefly(law, seed))
        for name, predictions in own.items():
            print(f"{law.name:40} {name:15} {words_of(predictions)}", flush=True)
            every[name] += predictions
    for name, predictions in every.items():
        print(f"{'all':40} {name:15} {words_of(predictions)}", flush=True)
    return every


def words_of(predictions: Sequence[Prediction]) -> str:
    """How many, rmse, coverage and half width; and the same without papers."""
    table = np.array(predictions, dtype=float)
    rmse, rmse_without = ((table[:, n] ** 2).mean() ** 0.5 for n in (0, 3))
    return (
        f"n {len(table):3} rmse {rmse:3.0f} bias {table[:, 0].mean():+4.0f} held "
        f"{table[:, 1].mean():.2f} ±{table[:, 2].mean():3.0f}   without papers rmse "
        f"{rmse_without:3.0f} held {table[:, 4].mean():.2f}"
    )


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=int, nargs=2, default=(1, 7), metavar=("FROM", "TO"))
    parser.add_argument("--laws", type=int, nargs="*", default=range(len(LAWS)))
    arguments = parser.parse_args()
    tell([LAWS[n] for n in arguments.laws], range(*arguments.seeds))
    share, half = outside_coverage(4000)
    print(f"two outside papers of 200: held {share:.2f} ±{half:.0f} of 400", flush=True)
