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
    ShiftedChances,
    cells_on,
    exam_model,
    forecast,
    outside_shift,
    shifted,
)
from domain.evidence.intervals import Beta
from domain.evidence.memory.learning import Memory, OneRate, learn
from domain.evidence.memory.logistic import Logistic
from domain.evidence.memory.practice import Trial
from domain.marking.blueprint import Blueprint, Section, even_sections
from domain.plan.answer_days import QuestionAhead, answer_days
from domain.plan.problem import PlanRequest
from domain.plan.study_plan_writer import make_study_plan
from tests.domain.evidence.memories.candidate import LUCKY
from tests.domain.evidence.memories.laws import LAWS, Floats, Items, Law
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
SIZES = {"1,300": 450, "8,500": 2940}
"""Questions of the bank on which a log of so many responses is left."""
DRAWN = 400
"""Exams drawn for each prediction."""


class Prediction(NamedTuple):
    """A predicted score against the exam: its error, how often the range held an exam drawn, the
    half width; and error and share of the prediction by the memory model alone.
    """

    error: float
    held: float
    half: float
    error_without: float
    held_without: float


def sit(learner: Learner, day: int, items: Items) -> list[Trial]:
    """Sit a paper: it counts as practice, but its tries are no part of the log's."""
    tries = len(learner.trials)
    learner.study(day, items)
    taken = learner.trials[tries:]
    del learner.trials[tries:]
    return taken


class Rest(NamedTuple):
    """What a prediction rests on: the landed memory model, and the exam's with papers."""

    memory: Memory
    model: Logistic

    @classmethod
    def of(cls, learner: Learner, papers: list[Trial]) -> "Rest":
        model = exam_model(learner.trials, papers, (), LUCKY)
        return cls(learn(learner.trials, guess=LUCKY), model)


class Exam:
    """The exam's blueprint, and sitting it."""

    def __init__(self, learner: Learner, dice: np.random.Generator) -> None:
        self.candidate, self._dice = learner.candidate, dice
        weights = [(f"{n:02}", weight) for n, weight in enumerate(self.candidate.weights)]
        self.blueprint = Blueprint(sections=even_sections(weights, 100), minutes=100)

    def sat(self, day: int) -> tuple[float, Floats]:
        """The expected score on a day as things stand, and scores of exams that were drawn."""
        chances = self.candidate.right_on(day)
        sections = self.blueprint.sections
        asked = np.array([section.questions for section in sections])
        mean = np.array(
            [chances[self.candidate.of(int(section.subject))].mean() for section in sections]
        )
        right = self._dice.binomial(asked, mean, (DRAWN, len(sections))).sum(axis=1)
        return float(5 * asked @ mean - asked.sum()), 5.0 * right - asked.sum()


class Predicted(NamedTuple):
    """What was predicted at one moment, with papers and without."""

    forecast: Forecast
    without: Forecast

    def against(self, true: float, drawn: Floats) -> Prediction:
        low, high = self.forecast.interval()
        shares = [
            float(np.mean((drawn >= least) & (drawn <= most)))
            for least, most in ((low, high), self.without.interval())
        ]
        return Prediction(
            self.forecast.mark - true, shares[0], (high - low) / 2,
            self.without.mark - true, shares[1],
        )  # fmt: skip


def stopping(learner: Learner, rest: Rest, blueprint: Blueprint) -> Predicted:
    """The score for whoever stops now."""
    held = [Held(learner.subject(item), kept) for item, kept in enumerate(learner.practices)]
    exam, spread = FIRST + EXAM, rest.memory.day_spread
    return Predicted(
        forecast(cells_on(held, exam), rest.model, blueprint, 0.0, spread, LUCKY),
        forecast(cells_on(held, exam), rest.memory.chances, blueprint, 0.0, spread),
    )


def keeping(life: Life, day: int, rest: Rest, blueprint: Blueprint) -> Predicted:
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
        AnswerDays(subject.subject, learner.practices[item], days)
        for item, (subject, days) in enumerate(
            zip(ahead, answer_days(plan, ahead, SECONDS, visited), strict=True)
        )
    ]
    landed = rest.memory.chances
    assert isinstance(landed, Logistic)

    def kept(model: Logistic) -> Forecast:
        planned, spread = planned_chances(questions, model, FIRST + EXAM), rest.memory.day_spread
        cells = planned.cells(questions)
        return forecast(cells, planned, blueprint, 0.0, spread, model.guess)

    return Predicted(kept(rest.model), kept(landed))


def live(law: type[Law], seed: int) -> dict[str, Prediction]:
    """One candidate's half-year: every prediction against the exam it is about."""
    dice = np.random.default_rng(seed + 77)
    life = Life(law, seed, by_rule, until=0)
    learner, exam = life.learner, Exam(life.learner, dice)
    papers: list[Trial] = []
    kept: dict[str, Predicted] = {}
    predictions: dict[str, Prediction] = {}
    for day in [*life.attended, EXAM]:
        for name, moment in MOMENTS.items():
            if day >= moment and f"stop, {name}" not in predictions:
                rest = Rest.of(learner, papers)
                stop = stopping(learner, rest, exam.blueprint)
                predictions[f"stop, {name}"] = stop.against(*exam.sat(EXAM))
                if isinstance(rest.memory.chances, Logistic):
                    kept[f"keep, {name}"] = keeping(life, day, rest, exam.blueprint)
        if day == EXAM:
            break
        if day % 28 == 26:
            items = np.sort(dice.permutation(learner.candidate.size)[:100])
            papers += sit(learner, day, items)
        else:
            life.live(day)
    return predictions | {
        name: kept_prediction.against(*exam.sat(EXAM)) for name, kept_prediction in kept.items()
    }


def live_briefly(law: type[Law], seed: int, questions: int) -> Prediction:
    """First study, a revision of half the bank per month for three months, two sample papers; then
    the score for whoever stops.
    """
    dice = np.random.default_rng(seed + 177)
    learner = Learner(law, seed, questions)
    exam, papers = Exam(learner, dice), list[Trial]()
    for week in range(14):
        day = week * 7
        order = np.argsort(-(day - learner.signs.last) * (1 + learner.signs.signs))
        learner.study(day, np.sort(order[: round(questions * 0.129)]))
        if week in (7, 13):
            papers += sit(learner, day + 3, np.sort(dice.permutation(questions)[:100]))
    rest = Rest.of(learner, papers)
    return stopping(learner, rest, exam.blueprint).against(*exam.sat(EXAM))


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
        shift = outside_shift([OutsideResult(200, hits, expected) for hits in right[:2]])
        assert shift is not None
        known = OneRate(Beta(expected * 1e9, (1 - expected) * 1e9))
        outside = forecast(
            cells_on([Held("wind", None)], 1), ShiftedChances(known, shift), blueprint
        )
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
            for name, prediction in live(law, seed).items():
                own[name].append(prediction)
            for responses, questions in SIZES.items():
                own[f"stop, {responses}"].append(live_briefly(law, seed, questions))
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
