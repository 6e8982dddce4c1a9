"""The baselines that the fitted model must beat: one rate for all, or one a tier."""

from collections import defaultdict
from collections.abc import Iterable, Mapping

from msgspec import Struct

from domain.evidence.intervals import Beta
from domain.evidence.memory.practice import UNSEEN, Cell, Trial, tier_of
from domain.tiers import Tier


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


def one_rate(trials: Iterable[Trial]) -> OneRate:
    """The overall rate of these tries (uniform prior)."""
    outcomes = [trial.right for trial in trials]
    return OneRate(Beta().after(sum(outcomes), len(outcomes)))


def tier_rates(trials: Iterable[Trial]) -> TierRates:
    """The rate in each tier of these tries (uniform prior)."""
    counts = {tier: [0, 0] for tier in Tier}
    for trial in trials:
        tally = counts[tier_of(trial.cell)]
        tally[0] += trial.right
        tally[1] += 1
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
