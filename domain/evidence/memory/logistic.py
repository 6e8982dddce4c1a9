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
from collections.abc import Collection, Iterable, Mapping, Sequence
from functools import lru_cache
from math import exp, log, log1p, sqrt
from operator import mul
from typing import TYPE_CHECKING, NamedTuple

from msgspec import Struct

from domain.evidence.memory.practice import (
    Cell,
    PracticeColumns,
    Trial,
    TryColumns,
    days_of,
    logs_of_days,
)

if TYPE_CHECKING:
    from numpy import float64, int_
    from numpy.typing import NDArray

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
_NOTHING = (0,) * 7  # of what a cell counts, in one that was never tried


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

    def chances(self, places: Collection[tuple[str, Cell]]) -> list[float]:
        """The chance at each of these places (subject, cell), computed together."""
        chances: list[float] = self.chances_at(Places.of(places)).tolist() if places else []
        return chances

    def chances_at(self, places: "Places") -> "NDArray[float64]":
        """The chance at each of these places."""
        chances: NDArray[float64] = self.guess + (1 - self.guess) * self._known(places)
        return chances

    def variance(self, counts: Mapping[tuple[str, Cell], float]) -> float:
        """The variance of Σ count · chance that comes from not knowing the weights better."""
        if not counts:
            return 0.0
        import numpy as np

        return self.variance_at(Places.of(counts), np.array(list(counts.values())))

    def variance_at(self, places: "Places", counts: "NDArray[float64]") -> float:
        """The same, for a count at each of these places."""
        return self.variance_of(places, self.chances_at(places), counts)

    def variance_of(
        self, places: "Places", chances: "NDArray[float64]", counts: "NDArray[float64]"
    ) -> float:
        """The same, where the chances at these places are known already."""
        import numpy as np

        # known · (1 − known), by the chances: right = guess + (1 − guess) · known.
        steep = counts * (chances - self.guess) * (1 - chances) / (1 - self.guess)
        # The last place is of the subjects that the model does not know.
        by_subject = np.bincount(self._own(places), steep, len(self.subjects) + 1)[:-1]
        slope = [*(steep @ places.table).tolist(), *by_subject.tolist()]
        variance: float = sum(map(mul, slope, solve(self.precision, slope)))
        return variance

    def _own(self, places: "Places") -> "NDArray[int_]":
        """The number that each place's subject has here."""
        import numpy as np

        number = {subject: n for n, subject in enumerate(self.subjects)}
        numbers = [number.get(subject, len(number)) for subject in places.subjects]
        own: NDArray[int_] = np.array(numbers, dtype=int)[places.own]
        return own

    def _known(self, places: "Places") -> "NDArray[float64]":
        """The chance that the question at each place is known."""
        import numpy as np

        weights = np.array([*self.weights, 0.0])
        log_odds = places.table @ weights[:_SIZE] + weights[_SIZE + self._own(places)]
        known: NDArray[float64] = 1 / (1 + np.exp(-np.clip(log_odds, -700, None)))
        return known


class Places(NamedTuple):
    """Where many questions stand: the number that each one's subject has among `subjects`, and the
    features of its practice, a row each.
    """

    subjects: Sequence[str]
    own: "NDArray[int_]"
    table: "NDArray[float64]"

    @classmethod
    def of(cls, places: Collection[tuple[str, Cell]]) -> "Places":
        """These subjects and cells."""
        import numpy as np

        number: dict[str, int] = {}
        numbers = (number.setdefault(subject, len(number)) for subject, _ in places)
        own = np.fromiter(numbers, dtype=int, count=len(places))
        return cls(tuple(number), own, feature_table([cell for _, cell in places]))

    @classmethod
    def on(
        cls, subjects: Sequence[str], own: "NDArray[int_]", practice: PracticeColumns, day: int
    ) -> "Places":
        """Where questions with this practice stand on a later day (an ordinal)."""
        import numpy as np

        table = np.empty((len(own), _SIZE))
        table[:, 1:] = 0.0
        table[:, 0] = 1.0
        seen = practice.seen
        columns = (
            seen, np.log1p(practice.rights), np.log1p(practice.misses), np.log1p(practice.streak),
            practice.sure, practice.tier, logs_of_days(day - practice.last),
            logs_of_days(practice.last - practice.first),
        )  # fmt: skip
        for n, column in enumerate(columns, 1):
            table[:, n] = np.where(seen, column, 0.0)
        return cls(subjects, own, table)


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
    if not trials and not papers:
        means, tight = _prior(names, guess)
        prior = [[0.0] * row + [sqrt(value)] for row, value in enumerate(tight)]
        return Logistic(names, tuple(means), prior, 0, guess)
    import numpy as np  # takes as long as a command's start: only where there is a log

    counts = _counts(trials, papers, names, weight)
    right, of = np.array(list(counts.values())).T
    own = np.array([subject for subject, _ in counts])
    table = feature_table([cell for _, cell in counts])
    return _fitted(names, own, table, right, of, len(trials) + len(papers), guess)


def fit_first(columns: TryColumns, table: "NDArray[float64]", count: int, guess: float) -> Logistic:
    """As `fit` of the first so many tries. `table` holds the features of the columns' places."""
    import numpy as np

    of, right = columns.tally(0, count)
    places = columns.places[: int(columns.place[:count].max()) + 1]
    number = {name: n for n, name in enumerate(dict.fromkeys(subject for subject, _ in places))}
    own, size = np.array([number[subject] for subject, _ in places]), len(places)
    return _fitted(
        tuple(number), own, table[:size], right[:size], of[:size].astype(float), count, guess
    )


def _prior(names: Sequence[str], guess: float) -> tuple[list[float], list[float]]:
    """The means and precisions of all weights before any try."""
    means = [mean for mean, _ in PRIOR.values()] + [0.0] * len(names)
    means[0] = _known_log_odds(means[0], guess)
    tight = [1 / sd**2 for _, sd in PRIOR.values()] + [1 / SUBJECT_DEVIATION**2] * len(names)
    return means, tight


def _fitted(
    names: tuple[str, ...],
    own: "NDArray[int_]",
    table: "NDArray[float64]",
    right: "NDArray[float64]",
    of: "NDArray[float64]",
    tries: int,
    guess: float,
) -> Logistic:
    """By Newton's method, from how many tries at each place were right; it has a subject's number,
    `own`, and the features of its cell, a row of `table`.
    """
    import numpy as np

    means, tight = _prior(names, guess)
    posterior = _Posterior(own, table, right, of, means, tight, guess)
    weights = np.array(means)
    for _ in range(30):
        slope, curve = posterior.derivatives(weights)
        step = np.linalg.solve(curve, slope)
        furthest = float(np.abs(step).max())
        # From far away a full step can overshoot; two units of ln odds are plenty at a time.
        weights += step * (2 / max(2.0, furthest))
        if furthest < 1e-5:
            break
    lower = np.linalg.cholesky(curve).tolist()
    triangle = [row[: place + 1] for place, row in enumerate(lower)]
    return Logistic(names, tuple(weights.tolist()), triangle, tries, guess)


Counts = dict[tuple[int, Cell], list[float]]
"""Per subject and cell: how many tries were right, how many there were. All a fit needs."""


def _counts(
    trials: Iterable[Trial], papers: Iterable[Trial], names: Sequence[str], weight: float
) -> Counts:
    place = {name: n for n, name in enumerate(names)}
    counts: Counts = defaultdict(lambda: [0.0, 0.0])
    for tries, each in ((trials, weight), (papers, 1.0)):
        for trial in tries:
            tally = counts[place[trial.subject], trial.cell]
            tally[0] += each * trial.right
            tally[1] += each
    return counts


def feature_table(cells: Collection[Cell]) -> "NDArray[float64]":
    """The `features` of each cell, a row each."""
    import numpy as np

    counts = np.array([cell or _NOTHING for cell in cells], dtype=float).reshape(-1, len(_NOTHING))
    table = np.empty((len(cells), _SIZE))
    table[:, 0] = 1.0
    table[:, 1] = np.fromiter(map(bool, cells), dtype=float, count=len(cells))
    table[:, 2:5] = np.log1p(counts[:, :3])
    table[:, 5:7] = counts[:, 3:5]
    table[:, 7:] = counts[:, 5:] * days_of(1)
    return table


class _Posterior:
    """The log posterior of the weights: its slope and its curvature."""

    def __init__(
        self,
        own: "NDArray[int_]",
        table: "NDArray[float64]",
        right: "NDArray[float64]",
        of: "NDArray[float64]",
        means: Sequence[float],
        tight: Sequence[float],
        guess: float,
    ) -> None:
        import numpy as np

        self._own, self._table, self._right, self._of = own, table, right, of
        self._means, self._tight, self._guess = np.array(means), np.array(tight), guess

    def derivatives(
        self, weights: "NDArray[float64]"
    ) -> "tuple[NDArray[float64], NDArray[float64]]":
        """Slope and (negative, expected) curvature at these weights."""
        import numpy as np

        table, own, guess = self._table, self._own, self._guess
        subjects = len(weights) - _SIZE
        log_odds = table @ weights[:_SIZE] + weights[_SIZE + own]
        known = 1 / (1 + np.exp(-np.clip(log_odds, -700, None)))
        chance = guess + (1 - guess) * known
        # So much of a unit of ln odds of knowing is one of being right: all without guesses.
        share = known / chance
        surplus = (self._right - self._of * chance) * share
        steep = self._of * chance * (1 - chance) * share**2
        slope = self._tight * (self._means - weights)
        slope[:_SIZE] += table.T @ surplus
        slope[_SIZE:] += np.bincount(own, surplus, subjects)
        curve = np.diag(self._tight)
        scaled = table * steep[:, None]
        curve[:_SIZE, :_SIZE] += table.T @ scaled
        shared = np.array([np.bincount(own, column, subjects) for column in scaled.T])
        curve[:_SIZE, _SIZE:] += shared
        curve[_SIZE:, :_SIZE] += shared.T
        curve[_SIZE:, _SIZE:] += np.diag(np.bincount(own, steep, subjects))
        return slope, curve


def _known_log_odds(log_odds: float, guess: float) -> float:
    """ln odds of knowing where these are the ln odds of being right, guesses included."""
    if not guess:
        return log_odds
    known = (chance_of(log_odds) - guess) / (1 - guess)
    known = min(max(known, 0.01), 0.99)
    return log(known / (1 - known))


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
