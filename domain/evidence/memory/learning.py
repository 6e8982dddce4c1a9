"""Learning the memory model from the log, and checking it on days it has not seen.

The baselines that it must beat are one rate for all, and one rate per tier.
"""

from bisect import bisect_left
from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from itertools import pairwise
from math import sqrt
from operator import attrgetter
from typing import TYPE_CHECKING, Protocol

from msgspec import Struct

from domain.evidence.calibration import Bin, Stated, bins, brier, log_loss
from domain.evidence.intervals import Beta, t_quantile
from domain.evidence.memory.logistic import Logistic, feature_table, fit, fit_first
from domain.evidence.memory.practice import UNSEEN, Cell, Trial, TryColumns, tier_of
from domain.tiers import Tier

if TYPE_CHECKING:
    from numpy import float64, int_
    from numpy.typing import NDArray


class OneRate(Struct, frozen=True, tag=True):
    """The same chance for every question."""

    rate: Beta

    def chance(self, subject: str, cell: Cell) -> float:
        """The overall rate."""
        return self.rate.mean

    def variance(self, counts: Mapping[tuple[str, Cell], float]) -> float:
        """The variance of Σ count · chance."""
        return sum(counts.values()) ** 2 * self.rate.variance


class TierRates(Struct, frozen=True, tag=True):
    """A chance for each tier."""

    rates: dict[Tier, Beta]

    def chance(self, subject: str, cell: Cell) -> float:
        """The rate of the tier the question is in."""
        return self.rates[tier_of(cell)].mean

    def variance(self, counts: Mapping[tuple[str, Cell], float]) -> float:
        """The variance of Σ count · chance: tiers err independently."""
        by_tier: dict[Tier, float] = defaultdict(float)
        for (_, cell), count in counts.items():
            by_tier[tier_of(cell)] += count
        return sum(count**2 * self.rates[tier].variance for tier, count in by_tier.items())


def _one_rate(of: "NDArray[int_]", right: "NDArray[float64]") -> OneRate:
    """The overall rate where so many tries at each place were right (uniform prior)."""
    return OneRate(Beta().after(int(right.sum()), int(of.sum())))


def _tier_rates(columns: TryColumns, of: "NDArray[int_]", right: "NDArray[float64]") -> TierRates:
    """The same in each tier."""
    counts = {tier: [0, 0] for tier in Tier}
    for (_, cell), came, tries in zip(columns.places, right.tolist(), of.tolist(), strict=True):
        tally = counts[tier_of(cell)]
        tally[0] += int(came)
        tally[1] += tries
    return TierRates({tier: Beta().after(*tally) for tier, tally in counts.items()})


MENDED_PRIOR = Beta(4, 6)
"""How often a miss is right at the next try, before there is a log (common practice, no source:
of about 275 questions missed at first, 150 to 200 are missed again)."""


def was_missed(cell: Cell) -> bool:
    """Whether the last try at a question of this cell was a miss."""
    if cell == UNSEEN:
        return False
    _, misses, streak, *_ = cell
    return misses > 0 and streak == 0


def mended(trials: Iterable[Trial]) -> TierRates:
    """For each tier, how often a question that was missed last time was right the next time."""
    counts = {tier: [0, 0] for tier in Tier}
    for trial in trials:
        if was_missed(trial.cell):
            tally = counts[tier_of(trial.cell)]
            tally[0] += trial.right
            tally[1] += 1
    return TierRates({tier: MENDED_PRIOR.after(*tally) for tier, tally in counts.items()})


ENOUGH = 200
"""Tries below which the prior stands alone (common practice, no source)."""

CUTS = 0.4, 0.5, 0.6, 0.7, 0.8, 0.9
"""The check predicts the tries after each of these shares of the log from those before it."""


class Chances(Protocol):
    """Anything that gives a question its chance of being right."""

    def chance(self, subject: str, cell: Cell) -> float:
        """The chance, 0 to 1."""

    def variance(self, counts: Mapping[tuple[str, Cell], float]) -> float:
        """The variance of Σ count · chance that comes from having seen only so many tries."""


def chances_of(chances: Chances, places: Collection[tuple[str, Cell]]) -> list[float]:
    """The chance at each of these places (subject, cell)."""
    if isinstance(chances, Logistic):
        return chances.chances(places)
    return [chances.chance(*place) for place in places]


class PredictionScore(Struct, frozen=True):
    """How well chances predicted tries that they had not been learnt from: smaller is better."""

    log_loss: float
    brier: float


FEWEST_DAYS = 3
"""Held-out days with tries below which nothing is told from chance."""

BEYOND_CHANCE = 0.975
"""How certain it must be that the model predicts better than a baseline."""


DAY_SPREAD = 0.3, 2
"""The deviation of a day's luck in log odds before held-out days tell it, and how many days that
is worth (common practice, no source)."""


class Check(Struct, frozen=True):
    """The model against the baselines on held-out days.

    `tries` were held out. `bins` are the model's. `trusted`: the model beat each baseline by more
    than the days differ among themselves, so it may be used. `day_spread` is the deviation, in log
    odds, by which whole days come out better or worse than the chances that are used say.
    """

    tries: int
    model: PredictionScore
    one_rate: PredictionScore
    tier_rates: PredictionScore
    bins: list[Bin]
    trusted: bool
    day_spread: float


class Memory(Struct, frozen=True):
    """What gives chances, its name, and the check that chose it (None: too little to check)."""

    chances: Chances
    name: str
    check: Check | None

    @property
    def trusted_model(self) -> Logistic | None:
        """The memory model; None while it was not checked, or may not be used."""
        is_trusted = self.check is not None and self.check.trusted
        return self.chances if is_trusted and isinstance(self.chances, Logistic) else None

    @property
    def day_spread(self) -> float:
        """How far a day, such as the exam's, may lie off the chances: a deviation in log odds."""
        return self.check.day_spread if self.check else DAY_SPREAD[0]

    @property
    def sentence(self) -> str:
        """In plain words, whether to trust the chances."""
        if self.check is None:
            return "Too few responses yet: predictions rest on stated assumptions."
        check = self.check
        tried = f"The memory model predicted your latest {check.tries:,} responses"
        plain = "an overall rate and a per-tier rate"
        if check.trusted:
            return f"{tried} better than {plain}."
        return f"{tried} no better than {plain}, beyond chance; {self.name} is used."


def learn(trials: Sequence[Trial], subjects: Iterable[str] = (), *, guess: float = 0.0) -> Memory:
    """The memory model after these tries, or the better baseline where it does not beat both.

    With few tries it is the prior, unchecked. `subjects` names further subjects to have a start of
    their own, `guess` is the chance of a random pick: without it what is forgotten seems to come
    back as often as it is guessed, so that forgetting, and what a try gains, look too small.
    60,000 tries take about half a second.
    """
    if len(trials) < ENOUGH:
        assumed = fit([], subjects, guess=guess)
        return Memory(assumed, "stated assumptions, as there are few responses yet", None)
    check = hold_out(trials, guess)
    if check is None:
        return Memory(fit(trials, subjects, guess=guess), "the memory model, unchecked", None)
    if check.trusted:
        return Memory(fit(trials, subjects, guess=guess), "the memory model", check)
    columns = TryColumns(trials)
    tally = columns.tally(0, len(trials))
    if check.tier_rates.log_loss <= check.one_rate.log_loss:
        return Memory(_tier_rates(columns, *tally), "the rate per tier", check)
    return Memory(_one_rate(*tally), "the overall rate", check)


def hold_out(trials: Sequence[Trial], guess: float = 0.0) -> Check | None:
    """The check by whole days, each part of the later tries predicted from all that came before it.

    None if all tries are of one day.
    """
    columns = TryColumns(sorted(trials, key=attrgetter("day")))
    days = columns.days.tolist()
    cuts = sorted({bisect_left(days, days[int(len(days) * share)]) for share in CUTS} - {0})
    if not cuts:
        return None
    stated: list[list[Stated]] = [[], [], []]
    losses: list[DayLosses] = [{}, {}, {}]
    models: dict[int, list[Chances]] = {}
    table = feature_table([cell for _, cell in columns.places])
    for first, last in pairwise([*cuts, len(days)]):
        early = columns.tally(0, first)
        models[first] = [
            fit_first(columns, table, first, guess),
            _one_rate(*early),
            _tier_rates(columns, *early),
        ]
        for n, chances in enumerate(models[first]):
            predicted = _Predicted(chances, columns, first, last)
            stated[n] += predicted.stated()
            losses[n] |= predicted.losses_by_day()
    model, overall, by_tier = (PredictionScore(log_loss(own), brier(own)) for own in stated)
    lost, *baselines = losses
    trusted = all(_lower_beyond_chance(lost, baseline) for baseline in baselines)
    used = 0 if trusted else 1 if overall.log_loss < by_tier.log_loss else 2
    # The latest fifth at once, from weeks before, as an exam is predicted.
    latest = cuts[-2:][0]
    spread = _Predicted(models[latest][used], columns, latest, len(days)).day_spread()
    tries = len(days) - cuts[0]
    return Check(tries, model, overall, by_tier, bins(stated[0]), trusted, spread)


DayLosses = dict[int, tuple[float, int]]
"""The log loss of each day's tries together, and how many they were."""


class _Predicted:
    """The tries from `first` up to `last`, and the chances that they were given before."""

    def __init__(self, chances: Chances, columns: TryColumns, first: int, last: int) -> None:
        import numpy as np

        self._of, self._came = columns.tally(first, last)
        self._met = np.flatnonzero(self._of)
        self._chance = np.zeros(len(columns.places))
        self._chance[self._met] = chances_of(chances, [columns.places[n] for n in self._met])
        self._right, self._each = columns.right[first:last], self._chance[columns.place[first:last]]
        self._days, self._day = np.unique(columns.days[first:last], return_inverse=True)

    def stated(self) -> Iterable[Stated]:
        """The chance at each place, and how often it came true."""
        columns = (column[self._met].tolist() for column in (self._chance, self._came, self._of))
        return (Stated(chance, int(came), of) for chance, came, of in zip(*columns, strict=True))

    def losses_by_day(self) -> DayLosses:
        """What each day's tries lost, and how many they were."""
        import numpy as np

        chance = self._each.clip(1e-9, 1 - 1e-9)
        lost = -np.log(np.where(self._right > 0, chance, 1 - chance))
        of_day = np.bincount(self._day, lost).tolist(), np.bincount(self._day).tolist()
        return dict(zip(self._days.tolist(), zip(*of_day, strict=True), strict=True))

    def day_spread(self) -> float:
        """The deviation, in log odds, by which whole days lie off the chances beyond their luck.

        By moments: a day's surplus of rights has the variance Σ p(1 − p) of its luck, plus
        (Σ p(1 − p))² times what is sought; drawn towards `DAY_SPREAD`.
        """
        import numpy as np

        surplus = np.bincount(self._day, self._right - self._each)
        luck = np.bincount(self._day, self._each * (1 - self._each))
        scale, excess = float(np.sum(luck**2)), float(np.sum(surplus**2 - luck))
        measured = max(0.0, excess / scale) if scale else 0.0
        assumed, weight = DAY_SPREAD
        return sqrt((weight * assumed**2 + len(luck) * measured) / (weight + len(luck)))


def _lower_beyond_chance(model: DayLosses, baseline: DayLosses) -> bool:
    """Whether the model lost less per try, in a paired t-test over days.

    Tries of one day share its luck, so the day is the unit: the ratio of what the model gained
    to the tries, with the spread of a ratio estimate (Cochran, Sampling Techniques, 3rd ed., 6.3;
    from memory).
    """
    days = len(model)
    if days < FEWEST_DAYS:
        return False
    gained = [(baseline[day][0] - loss, tries) for day, (loss, tries) in model.items()]
    total = sum(gain for gain, _ in gained)
    each = total / sum(tries for _, tries in gained)
    spread = sum((gain - each * tries) ** 2 for gain, tries in gained) * days / (days - 1)
    return total > t_quantile(days - 1, BEYOND_CHANCE) * sqrt(spread)
