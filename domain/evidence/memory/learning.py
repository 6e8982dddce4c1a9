"""Learning the memory model from the log, and checking it on days it has not seen."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from typing import Protocol

from msgspec import Struct

from domain.evidence.memory.logistic import Logistic, fit
from domain.evidence.memory.practice import Cell, Trial
from domain.evidence.memory.rates import one_rate, tier_rates
from domain.evidence.scoring import Bin, Stated, bins, brier, log_loss

ENOUGH = 200
"""Tries below which the prior stands alone (common practice, no source)."""

HELD_OUT = 0.2
"""The share of the tries, the latest, that the check keeps apart."""


class Chances(Protocol):
    """Anything that gives a question its chance of being right."""

    def chance(self, subject: str, cell: Cell) -> float:
        """The chance, 0 to 1."""

    def variance(self, counts: Mapping[tuple[str, Cell], float]) -> float:
        """The variance of Σ count · chance that comes from having seen only so many tries."""


class PredictionScore(Struct, frozen=True):
    """How well chances foretold tries that they had not been learnt from: smaller is better."""

    log_loss: float
    brier: float


class Check(Struct, frozen=True):
    """The model against the baselines on held-out days.

    `first_day` is the ordinal of the first held-out day. `bins` are the model's.
    """

    first_day: int
    tries: int
    model: PredictionScore
    one_rate: PredictionScore
    tier_rates: PredictionScore
    bins: list[Bin]

    @property
    def trusted(self) -> bool:
        """Whether the model beat both baselines."""
        return self.model.log_loss < min(self.one_rate.log_loss, self.tier_rates.log_loss)


class Memory(Struct, frozen=True):
    """What gives chances, its name, and the check that chose it (None: too little to check)."""

    chances: Chances
    name: str
    check: Check | None

    @property
    def sentence(self) -> str:
        """In plain words, whether to trust the chances."""
        if self.check is None:
            return "Too few tries yet to learn from: the chances rest on stated assumptions."
        found = self.check
        tried = (
            f"Asked about the latest {found.tries:,} tries, which it had not seen, the memory model"
        )
        plain = "one rate for all and a rate per tier"
        numbers = (
            f"log loss, smaller is better: {found.model.log_loss:.3f} against "
            f"{found.one_rate.log_loss:.3f} and {found.tier_rates.log_loss:.3f}"
        )
        if found.trusted:
            return f"{tried} foretold better than {plain} ({numbers})."
        return f"{tried} did not beat {plain} ({numbers}), so {self.name} is used."


def learn(trials: Sequence[Trial], subjects: Iterable[str] = ()) -> Memory:
    """The memory model after these tries; where it does not beat a baseline, the baseline.

    Pure Python; 60,000 tries take about a second.
    """
    if len(trials) < ENOUGH:
        return Memory(fit([], subjects), "stated assumptions, as there are few tries yet", None)
    check = hold_out(trials)
    if check is None:
        return Memory(fit(trials, subjects), "the memory model, unchecked", None)
    if check.trusted:
        return Memory(fit(trials, subjects), "the memory model", check)
    if check.tier_rates.log_loss <= check.one_rate.log_loss:
        return Memory(tier_rates(trials), "the rate per tier", check)
    return Memory(one_rate(trials), "the overall rate", check)


def hold_out(trials: Sequence[Trial]) -> Check | None:
    """The check on the latest days, whole days only; None if all tries are of one day."""
    cut = sorted(trial.day for trial in trials)[int(len(trials) * (1 - HELD_OUT))]
    early = [trial for trial in trials if trial.day < cut]
    late = [trial for trial in trials if trial.day >= cut]
    if not early:
        return None
    model: Logistic = fit(early)
    said = stated(model, late)
    return Check(
        cut, len(late), _score(said), _score(stated(one_rate(early), late)),
        _score(stated(tier_rates(early), late)), bins(said),
    )  # fmt: skip


def stated(chances: Chances, trials: Iterable[Trial]) -> list[Stated]:
    """What the chances said of these tries, grouped by subject and cell."""
    counts: dict[tuple[str, Cell], list[int]] = defaultdict(lambda: [0, 0])
    for trial in trials:
        tally = counts[trial.subject, trial.cell]
        tally[0] += trial.right
        tally[1] += 1
    return [Stated(chances.chance(*place), *tally) for place, tally in counts.items()]


def _score(said: list[Stated]) -> PredictionScore:
    return PredictionScore(log_loss(said), brier(said))
