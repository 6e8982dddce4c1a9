"""What to sweep in the minutes there are: the questions with the most expected marks gained."""

from collections import defaultdict
from collections.abc import Iterable, Sequence

from msgspec import Struct

from domain.knapsack import KnapsackItem, choose
from domain.tiers import Tier

TOLERANCE = 0.01
"""The choice is worth at least 99 % of the best one there is."""

NEXT_SECONDS = 600
"""How much longer the look at what more time would add reaches: ten minutes."""


class Sweepable(Struct, frozen=True, kw_only=True, gc=False):
    """A question that could be swept.

    `chance` of being right in the exam and `mends`, the chance that a look turns a miss into a
    right response, are 0–1; `worth` is the marks that a right response adds there, times how
    likely the question is to come. `duplicates` names the group of near-duplicates it is in.
    """

    question: str
    subject: str
    tier: Tier
    missed_days: int = 0
    chance: float
    mends: float
    worth: float
    seconds: float
    duplicates: str = ""

    @property
    def gain(self) -> float:
        """Marks to expect from sweeping it."""
        return (1 - self.chance) * self.mends * self.worth

    @property
    def why(self) -> tuple[str, ...]:
        """What its place rests on, in words."""
        days = f"missed on {self.missed_days} day" + "s" * (self.missed_days != 1)
        return (
            f"{self.tier.word}, {days}",
            f"{1 - self.chance:.0%} likely to be missed in the exam",
            f"a look mends {self.mends:.0%} of such misses",
            f"{self.gain:.3f} marks in {self.seconds:.0f} s",
        )


class Sweep(Struct, frozen=True):
    """The picks, hardest tiers first, their marks to expect and seconds.

    `more` is what a choice with ten minutes more would take besides, `more_gain` the marks it
    would add.
    """

    picks: tuple[Sweepable, ...]
    gain: float
    seconds: float
    more: tuple[Sweepable, ...]
    more_gain: float


def choose_sweep(candidates: Iterable[Sweepable], seconds: float) -> Sweep:
    """The questions to sweep in so many seconds; of near-duplicates at most one."""
    # Among equals the order decides, so the hardest come first.
    ordered = sorted(candidates, key=lambda one: (-one.tier, -one.missed_days))
    picks, longer = (_chosen(ordered, time) for time in (seconds, seconds + NEXT_SECONDS))
    gain, taken = _gain(picks), {pick.question for pick in picks}
    return Sweep(
        picks,
        gain,
        sum(pick.seconds for pick in picks),
        tuple(pick for pick in longer if pick.question not in taken),
        max(0.0, _gain(longer) - gain),
    )


def worth_of_time(candidates: Iterable[Sweepable], seconds: float) -> dict[str, float]:
    """For each subject, the marks to expect from spending the seconds on it alone."""
    subjects: dict[str, list[Sweepable]] = defaultdict(list)
    for one in candidates:
        subjects[one.subject].append(one)
    return {subject: _gain(_chosen(own, seconds)) for subject, own in subjects.items()}


def _chosen(ordered: Sequence[Sweepable], seconds: float) -> tuple[Sweepable, ...]:
    groups: dict[str, list[KnapsackItem]] = {}
    for place, one in enumerate(ordered):
        name = f"duplicates {one.duplicates}" if one.duplicates else f"question {one.question}"
        groups.setdefault(name, []).append(KnapsackItem(place, one.gain, one.seconds))
    chosen = choose(list(groups.values()), seconds, TOLERANCE)
    return tuple(ordered[place] for place in sorted(item.place for item in chosen))


def _gain(picks: Iterable[Sweepable]) -> float:
    return sum(pick.gain for pick in picks)
