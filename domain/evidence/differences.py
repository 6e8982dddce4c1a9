"""What a change of plan is worth: both plans lived through the fitted memory model.

Marks forecast from a log are often far off; the difference between two plans mostly isn't, as what
the model gets wrong, it gets wrong in both.
"""

from collections import Counter
from collections.abc import Iterator, Mapping, Sequence
from math import sqrt
from operator import mul
from statistics import NormalDist
from typing import TYPE_CHECKING

from msgspec import Struct

from domain.evidence.memory.logistic import NAMES, Logistic, solve
from domain.evidence.memory.practice import Cell, Practice, PracticeColumns, logs_of_days

if TYPE_CHECKING:
    from numpy import float64, int_
    from numpy.typing import NDArray

SMALLEST = 3.0
"""A difference below so many points of score is noise (from simulated candidates)."""

CERTAIN = 0.9
"""How certain the sign must be for a difference to be told."""

MOST_QUESTIONS = 1500
"""So many questions, evenly spaced, stand for all that differ."""

MOST_VISITS = 5
"""Of a question's visits the last so many are followed one by one."""

SURE_SHARE = 0.8
"""The share of right responses taken to be sure when looking ahead (common practice, no source)."""

_HIGHEST_TIER = 3
_STEP = 1e-3


class PlannedQuestion(Struct, frozen=True, gc=False):
    """A question and the days (ordinals) on which it would be answered under each of two plans.

    `worth` is the score between a right response and a miss times how often the exam asks it.
    """

    subject: str
    practice: Practice | None
    worth: float
    before: tuple[int, ...]
    after: tuple[int, ...]


class ScoreDifference(Struct, frozen=True):
    """The expected score under the changed plan less that under the plan kept so far."""

    score: float
    deviation: float

    @property
    def certainty(self) -> float:
        """How likely the difference has the sign it is given, .5 to 1."""
        return NormalDist().cdf(abs(self.score) / self.deviation) if self.deviation else 1.0

    @property
    def too_small(self) -> bool:
        """Whether it is too small, or its sign too uncertain, to be told."""
        return abs(self.score) < SMALLEST or self.certainty < CERTAIN


def score_difference(
    questions: Sequence[PlannedQuestion], model: Logistic, exam: int
) -> ScoreDifference:
    """The expected difference in the exam's score and how uncertain it is.

    The uncertainty is that of the model's weights (the delta method), so it is as good as the
    model's form. A second at most.
    """
    differing = [
        question for question in questions if question.before != question.after and question.worth
    ]
    stride = max(1, -(-len(differing) // MOST_QUESTIONS))
    sample = differing[::stride]
    if not sample:
        return ScoreDifference(0.0, 0.0)
    scale = sum(question.worth for question in differing) / sum(
        question.worth for question in sample
    )
    worth = [question.worth for question in sample]
    ahead = [
        _Futures([(question.subject, question.practice, days) for question, days in planned], exam)
        for planned in (
            [(question, question.before) for question in sample],
            [(question, question.after) for question in sample],
        )
    ]

    def difference(weights: Sequence[float]) -> float:
        before, after = (futures.chances(model, weights) for futures in ahead)
        return float((after - before) @ worth)

    base = difference(model.weights)
    slope = [0.0] * len(model.weights)
    for place, moved in _moved(model):
        slope[place] = (difference(moved) - base) / _STEP
    variance = sum(map(mul, slope, solve(model.precision, slope)))
    return ScoreDifference(scale * base, scale * sqrt(max(variance, 0.0)))


class AnswerDays(Struct, frozen=True, gc=False):
    """A question and the days (ordinals) on which a plan would have it answered."""

    subject: str
    practice: Practice | None
    days: tuple[int, ...]


class PlannedChances(Struct, frozen=True):
    """The chances of questions in the exam if a plan is kept: `Chances` by the cell (place,).

    Other cells have the model's own chance: questions that the plan leaves as they are. `slopes`
    hold, by question, how its chance changes with each weight that subjects share.
    """

    chances: tuple[float, ...]
    slopes: tuple[tuple[float, ...], ...]
    model: Logistic

    def cells(self, questions: Sequence[AnswerDays]) -> dict[str, Counter[Cell]]:
        """The questions' own cells by subject, as a forecast takes them."""
        cells: dict[str, Counter[Cell]] = {}
        for place, question in enumerate(questions):
            cells.setdefault(question.subject, Counter())[(place,)] = 1
        return cells

    def chance(self, subject: str, cell: Cell) -> float:
        """The chance of the question at the place that the cell names."""
        return self.chances[cell[0]] if len(cell) == 1 else self.model.chance(subject, cell)

    def variance(self, counts: Mapping[tuple[str, Cell], float]) -> float:
        """The variance of Σ count · chance that comes from not knowing the weights better."""
        slope = [0.0] * len(self.model.weights)
        place_of = {name: len(NAMES) + n for n, name in enumerate(self.model.subjects)}
        for (subject, cell), count in counts.items():
            if len(cell) != 1:
                continue
            for n, value in enumerate(self.slopes[cell[0]]):
                slope[n] += count * value
            if subject in place_of:
                # A subject's own weight adds to the first that all share.
                slope[place_of[subject]] += count * self.slopes[cell[0]][0]
        variance: float = sum(map(mul, slope, solve(self.model.precision, slope)))
        left = {place: count for place, count in counts.items() if len(place[1]) != 1}
        return variance + (self.model.variance(left) if left else 0.0)


def planned_chances(questions: Sequence[AnswerDays], model: Logistic, exam: int) -> PlannedChances:
    """What each question's chance in the exam is if it is answered on its days."""
    futures = _Futures(
        [(question.subject, question.practice, question.days) for question in questions], exam
    )
    base = futures.chances(model, model.weights)
    slopes = [
        ((futures.chances(model, moved) - base) / _STEP).tolist() for _, moved in _moved(model)
    ]
    return PlannedChances(tuple(base.tolist()), tuple(zip(*slopes, strict=True)), model)


def gains_of_answering(
    subjects: Sequence[str],
    own: "NDArray[int_]",
    practice: PracticeColumns,
    model: Logistic,
    today: int,
    exam: int,
) -> "NDArray[float64]":
    """How the chance in the exam of each question changes if it is answered today.

    `own` is the number of each one's subject among `subjects`.
    """
    import numpy as np

    states = _clipped(practice)
    start = _starts(subjects, model, model.weights)[own]
    alone, answered = (
        _chances(states, days, exam, start, model.weights, model.guess)
        for days in ([], [np.full(len(own), today)])
    )
    gains: NDArray[float64] = answered - alone
    return gains


def _moved(model: Logistic) -> Iterator[tuple[int, list[float]]]:
    """The weights with each that subjects share moved a little, and the place of that."""
    for place in range(len(NAMES)):
        moved = [*model.weights]
        moved[place] += _STEP
        yield place, moved


class _Futures:
    """Questions, each with the days on which it would be answered before the exam."""

    def __init__(
        self, questions: Sequence[tuple[str, Practice | None, tuple[int, ...]]], exam: int
    ) -> None:
        import numpy as np  # takes as long as a command's start: only where it is needed

        self._subjects = [subject for subject, *_ in questions]
        self._exam = exam
        groups: dict[int, list[int]] = {}
        for place, (*_, days) in enumerate(questions):
            groups.setdefault(min(len(days), MOST_VISITS), []).append(place)
        self._groups = []
        for visits, places in groups.items():
            states = _clipped(PracticeColumns.of([questions[place][1] for place in places]))
            rows = [questions[place][2][len(questions[place][2]) - visits :] for place in places]
            columns = np.array(rows, dtype=int).reshape(len(rows), visits).T
            self._groups.append((np.array(places), states, list(columns)))

    def chances(self, model: Logistic, weights: Sequence[float]) -> "NDArray[float64]":
        """The chance of each question to be right in the exam, with these weights."""
        import numpy as np

        starts = _starts(self._subjects, model, weights)
        chances = np.empty(len(starts))
        for places, states, days in self._groups:
            start = starts[places]
            chances[places] = _chances(states, days, self._exam, start, weights, model.guess)
        return chances


def _starts(
    subjects: Sequence[str], model: Logistic, weights: Sequence[float]
) -> "NDArray[float64]":
    """What each subject adds to log odds, the common start among it."""
    import numpy as np

    own = dict(zip(model.subjects, weights[len(NAMES) :], strict=True))
    return np.array([weights[0] + own.get(subject, 0.0) for subject in subjects])


def _clipped(practice: PracticeColumns) -> PracticeColumns:
    """With the tier of what was set back to untried by hand as that of what is clear."""
    return practice._replace(tier=practice.tier.clip(0))


def _chances(
    states: PracticeColumns,
    days: "Sequence[NDArray[int_]]",
    exam: int,
    start: "NDArray[float64]",
    weights: Sequence[float],
    guess: float,
) -> "NDArray[float64]":
    """The chances of being right in the exam, over all that could come of the days before it."""
    import numpy as np

    day = days[0] if days else np.full(len(start), exam)
    log_odds = _log_odds(states, day, start, weights)
    right = guess + (1 - guess) / (1 + np.exp(-np.clip(log_odds, -700, None)))
    if not days:
        return right
    first = np.where(states.seen, states.first, day)
    seen, sure = np.ones_like(states.seen), np.full_like(states.sure, SURE_SHARE)
    after_right = PracticeColumns(
        seen, states.rights + 1, states.misses, states.streak + 1, sure, states.tier, first, day
    )
    worse, none = np.minimum(states.tier + 1, _HIGHEST_TIER), np.zeros_like(states.streak)
    after_miss = PracticeColumns(
        seen, states.rights, states.misses + 1, none, np.zeros_like(sure), worse, first, day
    )
    if_right, if_missed = (
        _chances(after, days[1:], exam, start, weights, guess)
        for after in (after_right, after_miss)
    )
    return right * if_right + (1 - right) * if_missed


def _log_odds(
    states: PracticeColumns,
    day: "NDArray[int_]",
    start: "NDArray[float64]",
    weights: Sequence[float],
) -> "NDArray[float64]":
    import numpy as np

    shared = (
        weights[1]
        + weights[2] * np.log1p(states.rights)
        + weights[3] * np.log1p(states.misses)
        + weights[4] * np.log1p(states.streak)
        + weights[5] * states.sure
        + weights[6] * states.tier
        + weights[7] * logs_of_days(day - states.last)
        + weights[8] * logs_of_days(states.last - states.first)
    )
    return start + np.where(states.seen, shared, 0.0)
