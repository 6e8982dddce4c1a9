"""The fitted model: logistic on counts, with odds that fall as a power of the time since.

ln odds = start(subject) + Σ weight · feature, the features being ln(1 + count) of rights, misses
and streak, the tier, ln(1 + days) since the last try and between first and last.
Logistic on counts of successes and failures: Pavlik, Cen and Koedinger, "Performance factors
analysis", AIED 2009. Forgetting as a power of time: Wickelgren 1974; Wixted and Ebbesen 1991.
Where options are guessed among, these are the odds of knowing, and the chance of being right is
guess + (1 − guess) · known, as in Birnbaum's three-parameter model (Lord and Novick, "Statistical
Theories of Mental Test Scores", 1968, ch. 17; from memory).
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from functools import lru_cache
from math import exp, log, log1p, sqrt
from operator import mul

from msgspec import Struct

from domain.evidence.memory.practice import Cell, Trial, days_of

Matrix = list[list[float]]

PRIOR = {
    "start": (0.1, 1.0),
    "seen": (0.6, 1.0),
    "rights": (0.5, 0.5),
    "misses": (-0.6, 0.5),
    "streak": (0.6, 0.5),
    "sure": (0.6, 0.5),
    "tier": (-0.2, 0.3),
    "days since": (-0.2, 0.2),
    "days between": (0.1, 0.2),
}
"""Mean and deviation of each weight before there is a log. Stated, not measured: about half of a
bank is right at first sight and two thirds of the misses are missed again in revision (common
practice, no source)."""

SUBJECT_DEVIATION = 0.5
"""How much subjects differ in ln odds before there is a log (common practice, no source)."""

NAMES = tuple(PRIOR)
_SIZE = len(NAMES)


@lru_cache(maxsize=1 << 16)
def features(cell: Cell) -> tuple[float, ...]:
    """The features of a cell, in the order of `NAMES`."""
    if not cell:
        return (1.0,) + (0.0,) * (_SIZE - 1)
    rights, misses, streak, sure, tier, lag, span = cell
    return (
        1.0,
        1.0,
        log1p(rights),
        log1p(misses),
        log1p(streak),
        float(sure),
        float(tier),
        days_of(lag),
        days_of(span),
    )


def chance_of(log_odds: float) -> float:
    """The chance whose ln odds these are."""
    if log_odds < -700:
        return 0.0
    return 1 / (1 + exp(-log_odds))


class Logistic(Struct, frozen=True, tag=True):
    """Weights (one a name, then one a subject) and the triangle of their precision.

    `guess` is the chance that what isn't known is right.
    """

    subjects: tuple[str, ...]
    weights: tuple[float, ...]
    precision: Matrix
    trials: int
    guess: float = 0.0

    @property
    def by_name(self) -> dict[str, float]:
        """The weights that all subjects share."""
        return dict(zip(NAMES, self.weights, strict=False))

    def deviations(self) -> list[float]:
        """How uncertain each weight is."""
        size = len(self.weights)
        units = [[float(i == j) for j in range(size)] for i in range(size)]
        return [sqrt(solve(self.precision, unit)[i]) for i, unit in enumerate(units)]

    def log_odds(self, subject: str, cell: Cell) -> float:
        """ln odds that a question in the cell is known."""
        own = self.weights[_SIZE + self.subjects.index(subject)] if subject in self.subjects else 0
        shared: float = sum(map(mul, self.weights, features(cell)))
        return own + shared

    def chance(self, subject: str, cell: Cell) -> float:
        """The chance that a question in the cell is right."""
        return self.guess + (1 - self.guess) * chance_of(self.log_odds(subject, cell))

    def variance(self, counts: Mapping[tuple[str, Cell], float]) -> float:
        """The variance of Σ count · chance that comes from not knowing the weights better."""
        slope = [0.0] * len(self.weights)
        for (subject, cell), count in counts.items():
            known = chance_of(self.log_odds(subject, cell))
            steep = count * (1 - self.guess) * known * (1 - known)
            for i, value in enumerate(features(cell)):
                slope[i] += steep * value
            if subject in self.subjects:
                slope[_SIZE + self.subjects.index(subject)] += steep
        variance: float = sum(map(mul, slope, solve(self.precision, slope)))
        return variance


Counts = dict[Cell, dict[int, list[float]]]
"""Per cell and subject: how many tries were right, how many there were. All a fit needs."""


def fit(
    trials: Sequence[Trial],
    subjects: Iterable[str] = (),
    *,
    guess: float = 0.0,
    weight: float = 1.0,
    papers: Sequence[Trial] = (),
) -> Logistic:
    """The most plausible weights after these tries, by Newton's method from the prior.

    Without tries it is the prior. `subjects` names further subjects to have a start of their own.
    Each try counts `weight` times, each in `papers` once.
    """
    names = tuple(dict.fromkeys([*subjects, *(trial.subject for trial in [*trials, *papers])]))
    counts: Counts = defaultdict(dict)
    for tries, each in ((trials, weight), (papers, 1.0)):
        _count(counts, tries, names, each)
    means = [mean for mean, _ in PRIOR.values()] + [0.0] * len(names)
    means[0] = _known_log_odds(means[0], guess)
    tight = [1 / sd**2 for _, sd in PRIOR.values()] + [1 / SUBJECT_DEVIATION**2] * len(names)
    weights = list(means)
    for _ in range(30):
        slope, curve = _derivatives(counts, weights, means, tight, guess)
        lower = cholesky(curve)
        step = solve(lower, slope)
        # From far away a full step can overshoot; two units of ln odds are plenty at a time.
        scale = 2 / max(2.0, *map(abs, step))
        weights = [value + scale * change for value, change in zip(weights, step, strict=True)]
        if max(map(abs, step)) < 1e-5:
            break
    return Logistic(names, tuple(weights), lower, len(trials) + len(papers), guess)


def _known_log_odds(log_odds: float, guess: float) -> float:
    """ln odds of knowing where these are the ln odds of being right, guesses included."""
    if not guess:
        return log_odds
    known = (chance_of(log_odds) - guess) / (1 - guess)
    known = min(max(known, 0.01), 0.99)
    return log(known / (1 - known))


def _count(counts: Counts, trials: Iterable[Trial], names: tuple[str, ...], weight: float) -> None:
    place = {name: i for i, name in enumerate(names)}
    for trial in trials:
        tally = counts[trial.cell].setdefault(place[trial.subject], [0.0, 0.0])
        tally[0] += weight * trial.right
        tally[1] += weight


def _derivatives(
    counts: Counts, weights: list[float], means: list[float], tight: list[float], guess: float
) -> tuple[list[float], Matrix]:
    """Slope and (negative, expected) curvature of the log posterior at these weights."""
    size = len(weights)
    slope = [tight[i] * (means[i] - weights[i]) for i in range(size)]
    curve = [[0.0] * size for _ in range(size)]
    for i in range(size):
        curve[i][i] = tight[i]
    for cell, subjects in counts.items():
        x = features(cell)
        shared = sum(map(mul, weights, x))
        surplus = spread = 0.0
        for subject, (right, of) in subjects.items():
            own = _SIZE + subject
            known = chance_of(shared + weights[own])
            chance = guess + (1 - guess) * known
            # So much of a unit of ln odds of knowing is one of being right: all without guesses.
            share = known / chance if chance else 1.0
            over, steep = (right - of * chance) * share, of * chance * (1 - chance) * share**2
            slope[own] += over
            curve[own][own] += steep
            row = curve[own]
            for i, value in enumerate(x):
                row[i] += steep * value
            surplus += over
            spread += steep
        for i, value in enumerate(x):
            slope[i] += surplus * value
            if value:
                row, scaled = curve[i], spread * value
                for j in range(i + 1):
                    row[j] += scaled * x[j]
    return slope, curve


def cholesky(matrix: Matrix) -> Matrix:
    """The lower triangle L with L·Lᵀ = matrix (symmetric, positive definite)."""
    lower: Matrix = []
    for i, row in enumerate(matrix):
        made: list[float] = []
        for j in range(i):
            made.append((row[j] - sum(map(mul, made, lower[j]))) / lower[j][j])
        made.append(sqrt(row[i] - sum(value * value for value in made)))
        lower.append(made)
    return lower


def solve(lower: Matrix, right: list[float]) -> list[float]:
    """x with L·Lᵀ·x = right, from the lower triangle L."""
    size = len(right)
    forward: list[float] = []
    for i in range(size):
        forward.append((right[i] - sum(map(mul, lower[i], forward))) / lower[i][i])
    back = [0.0] * size
    for i in reversed(range(size)):
        known = sum(lower[k][i] * back[k] for k in range(i + 1, size))
        back[i] = (forward[i] - known) / lower[i][i]
    return back
