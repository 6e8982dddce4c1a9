"""What a change of plan is worth: both plans lived through the fitted memory model.

Marks forecast from a log are often far off; the difference between two plans mostly isn't, as what
the model gets wrong, it gets wrong in both.
"""

from collections import Counter
from collections.abc import Mapping, Sequence
from math import log1p, sqrt
from operator import mul
from statistics import NormalDist

from msgspec import Struct

from domain.evidence.memory.logistic import NAMES, Logistic, chance_of, solve
from domain.evidence.memory.practice import Cell, Practice, days_of, steps

SMALLEST = 3.0
"""A difference below so many points of score is noise (from simulated candidates)."""

CERTAIN = 0.9
"""How certain the sign must be for a difference to be told."""

MOST_QUESTIONS = 1500
"""So many questions, evenly spaced, stand for all that differ."""

MOST_VISITS = 5
"""Of a question's visits the last so many are followed one by one."""

_SURE_SHARE = 0.8
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


class _State(Struct, frozen=True, gc=False):
    """What counts of a practice, with `sure` as a chance."""

    seen: bool
    rights: int
    misses: int
    streak: int
    sure: float
    tier: int
    first: int
    last: int


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
    weights = list(model.weights)
    base = _difference(sample, model, weights, exam)
    slope = [0.0] * len(weights)
    for place in range(len(NAMES)):
        moved = [*weights]
        moved[place] += _STEP
        slope[place] = (_difference(sample, model, moved, exam) - base) / _STEP
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
    own = dict(zip(model.subjects, model.weights[len(NAMES) :], strict=True))

    def chances(weights: Sequence[float]) -> list[float]:
        known: dict[tuple[str, Practice | None, tuple[int, ...]], float] = {}
        chances_by_question = []
        for question in questions:
            key = question.subject, question.practice, question.days
            if key not in known:
                start = weights[0] + own.get(question.subject, 0.0)
                state = _state(question.practice)
                visits = question.days[-MOST_VISITS:]
                known[key] = _chance(state, visits, exam, start, weights, model.guess)
            chances_by_question.append(known[key])
        return chances_by_question

    base = chances(model.weights)
    columns = []
    for place in range(len(NAMES)):
        moved = [*model.weights]
        moved[place] += _STEP
        pairs = zip(chances(moved), base, strict=True)
        columns.append([(after - before) / _STEP for after, before in pairs])
    return PlannedChances(tuple(base), tuple(zip(*columns, strict=True)), model)


def _difference(
    sample: Sequence[PlannedQuestion], model: Logistic, weights: list[float], exam: int
) -> float:
    own = dict(zip(model.subjects, weights[len(NAMES) :], strict=True))
    total = 0.0
    known: dict[tuple[str, Practice | None, tuple[int, ...]], float] = {}
    for question in sample:
        chances = []
        for days in (question.before, question.after):
            key = question.subject, question.practice, days
            if key not in known:
                start = weights[0] + own.get(question.subject, 0.0)
                state = _state(question.practice)
                known[key] = _chance(state, days[-MOST_VISITS:], exam, start, weights, model.guess)
            chances.append(known[key])
        total += question.worth * (chances[1] - chances[0])
    return total


def _state(practice: Practice | None) -> _State:
    if practice is None:
        return _State(False, 0, 0, 0, 0.0, 0, 0, 0)
    return _State(
        True,
        practice.rights,
        practice.misses,
        practice.streak,
        float(practice.sure),
        max(practice.tier, 0),
        practice.first,
        practice.last,
    )


def _chance(
    state: _State,
    days: tuple[int, ...],
    exam: int,
    start: float,
    weights: Sequence[float],
    guess: float,
) -> float:
    """The chance of being right in the exam, over all that could come of the days before it."""
    day, later = (days[0], days[1:]) if days else (exam, ())
    right = guess + (1 - guess) * chance_of(_log_odds(state, day, start, weights))
    if not days:
        return right
    first = state.first if state.seen else day
    after_right = _State(
        True, state.rights + 1, state.misses, state.streak + 1, _SURE_SHARE, state.tier, first, day
    )
    after_miss = _State(
        True, state.rights, state.misses + 1, 0, 0.0, min(state.tier + 1, 3), first, day
    )
    if_right, if_missed = (
        _chance(after, later, exam, start, weights, guess) for after in (after_right, after_miss)
    )
    return right * if_right + (1 - right) * if_missed


def _log_odds(state: _State, day: int, start: float, weights: Sequence[float]) -> float:
    if not state.seen:
        return start
    return (
        start
        + weights[1]
        + weights[2] * log1p(state.rights)
        + weights[3] * log1p(state.misses)
        + weights[4] * log1p(state.streak)
        + weights[5] * state.sure
        + weights[6] * state.tier
        + weights[7] * days_of(steps(day - state.last))
        + weights[8] * days_of(steps(state.last - state.first))
    )
