"""Laws of forgetting: learners that the project's own memory model knows nothing of.

Every law holds the state of many questions in arrays and answers two calls: `chance` of retrieving
a response on a day, and `study`, which says that the questions were met on that day, retrieved or
not (then looked up). A response that isn't retrieved is guessed. All constants are calibrated to
the practice's figures (`test_laws`), the sources say where a form comes from; they are cited from
memory.
"""

from typing import ClassVar

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Flags = NDArray[np.bool_]
Items = NDArray[np.int64]


def logistic(log_odds: Floats) -> Floats:
    return 1 / (1 + np.exp(-np.clip(log_odds, -30, 30)))


class Law:
    """A learner's memory. `hardness` is each question's difficulty in standard deviations.

    Arrays of `state` have a row per question, so that a question can be tried out and put back.
    Days are numbers of any origin; `last` is NaN for what was never met.
    """

    name: ClassVar[str]

    def __init__(self, hardness: Floats) -> None:
        self.hardness = hardness
        self.state = {"last": np.full(len(hardness), np.nan)}
        self.prepare(len(hardness))

    def prepare(self, size: int) -> None:
        """Add the law's own state."""

    def chance(self, items: Items, day: float) -> Floats:
        """The chance of retrieving each response on the day."""
        raise NotImplementedError

    def study(self, items: Items, day: float, retrieved: Flags) -> None:
        """Meet the questions on the day: retrieved, or missed and looked up."""
        raise NotImplementedError

    def elapsed(self, items: Items, day: float) -> tuple[Floats, Flags]:
        """Days since each was met (0 where never), and which were never met."""
        last = self.state["last"][items]
        new = np.isnan(last)
        return np.where(new, 0.0, day - last), new

    def after(self, items: Items, day: float, retrieved: bool, later: float) -> Floats:
        """The chance on a later day if the questions were met on this one; nothing is kept."""
        kept = {name: values[items] for name, values in self.state.items()}
        self.study(items, day, np.full(len(items), retrieved))
        chance = self.chance(items, later)
        for name, values in kept.items():
            self.state[name][items] = values
        return chance


class PowerLaw(Law):
    """Odds of retrieval fall as (1 + days)^−decay; each success slows the decay.

    Wickelgren, Memory & Cognition 2 (1974); Wixted and Ebbesen, Psychological Science 2 (1991).
    """

    name = "power law with learning"
    start, spread, looked_up, success, decay, slowing = 0.035, 1.2, 2.806, 3.074, 0.8, 0.8
    again = 0.8

    def prepare(self, size: int) -> None:
        self.state["strength"] = self.start - self.spread * self.hardness
        self.state["decay"] = np.full(size, self.decay)

    def log_odds(self, items: Items, day: float) -> Floats:
        days, _ = self.elapsed(items, day)
        return self.state["strength"][items] - self.state["decay"][items] * np.log1p(days)

    def chance(self, items: Items, day: float) -> Floats:
        return logistic(self.log_odds(items, day))

    def study(self, items: Items, day: float, retrieved: Flags) -> None:
        now, before = self.log_odds(items, day), self.state["strength"][items]
        taught = self.looked_up - self.spread * self.hardness[items]
        # A success soon after another adds little: the strength had hardly fallen.
        new = np.isnan(self.state["last"][items])
        fallen = np.where(new, 1.0, np.clip(1 - np.exp(now - before), 0.0, 1.0))
        learnt = before + self.success * fallen
        looked_up = np.maximum(before + self.again * fallen, taught)
        self.state["strength"][items] = np.where(retrieved, learnt, looked_up)
        self.state["decay"][items] *= np.where(retrieved, self.slowing**fallen, 1)
        self.state["last"][items] = day


class RisingAbility(PowerLaw):
    """The power law of a learner whose grasp of every question rises with all that is studied.

    Growth of ability by practice as in item response models of learning: Fischer, "The linear
    logistic test model", Acta Psychologica 37 (1973).
    """

    name = "power law, rising ability"
    start, looked_up, success = 0.034, 2.763, 3.033
    rise, tries_to_rise = 1.0, 12_000.0

    def prepare(self, size: int) -> None:
        super().prepare(size)
        self.tries = 0

    def log_odds(self, items: Items, day: float) -> Floats:
        grown = self.rise * (1 - np.exp(-self.tries / self.tries_to_rise))
        return super().log_odds(items, day) + grown

    def study(self, items: Items, day: float, retrieved: Flags) -> None:
        super().study(items, day, retrieved)
        self.tries += len(items)

    def after(self, items: Items, day: float, retrieved: bool, later: float) -> Floats:
        tries = self.tries
        chance = super().after(items, day, retrieved, later)
        self.tries = tries
        return chance


class HalfLife(Law):
    """Chance 2^(−days / half-life); a success multiplies the half-life, the more the longer it was.

    Form: Settles and Meeder, ACL 2016, P16-1174. Spacing: Cepeda, Vul, Rohrer, Wixted and Pashler,
    Psychological Science 19 (2008).
    """

    name = "half-life with spacing"
    start, spread, looked_up, known, growth, share = 0.033, 1.2, 32.63, 84.14, 14.0, 0.3
    again = 1.6

    def prepare(self, size: int) -> None:
        self.state["half_life"] = np.full(size, 1.0)

    def chance(self, items: Items, day: float) -> Floats:
        days, new = self.elapsed(items, day)
        first = logistic(self.start - self.spread * self.hardness[items])
        return np.where(new, first, 0.5 ** (days / self.state["half_life"][items]))

    def study(self, items: Items, day: float, retrieved: Flags) -> None:
        _, new = self.elapsed(items, day)
        survived, before = 1 - self.chance(items, day), self.state["half_life"][items]
        easier = np.exp(-self.share * self.spread * self.hardness[items])
        right = np.where(new, self.known * easier, before * (1 + self.growth * survived))
        again = np.maximum(self.looked_up * easier, before * self.again)
        wrong = np.where(new, self.looked_up * easier, again)
        self.state["half_life"][items] = np.clip(np.where(retrieved, right, wrong), 0.5, 2000)
        self.state["last"][items] = day


class Activation(Law):
    """Activation ln Σ weight · t^−d, a meeting's d being higher the more active the memory was.

    Pavlik and Anderson, Cognitive Science 29 (2005): d = c · e^m + a; retrieval logistic in m.
    Time is in 1/20 days, as theirs is slowed between sessions.
    """

    name = "activation with spacing-dependent decay"
    threshold, noise, spread, looked_up, success = -1.332, 0.255, 0.49, 0.747, 0.777
    scale, floor, lecture, meetings, per_day = 0.15, 0.25, 10.0, 24, 20.0

    def prepare(self, size: int) -> None:
        self.state["days"] = np.full((size, self.meetings), np.inf)
        self.state["decays"] = np.full((size, self.meetings), self.floor)
        self.state["weights"] = np.zeros((size, self.meetings))
        self.state["count"] = np.zeros(size, dtype=np.int64)

    def activation(self, items: Items, day: float) -> Floats:
        most = int(self.state["count"][items].max(initial=0))
        ago = np.maximum(day - self.state["days"][items, :most], 0.0) * self.per_day + 1
        met = self.state["weights"][items, :most] * ago ** -self.state["decays"][items, :most]
        # The lecture before the first study: as far back as `lecture` days from then on.
        days, _ = self.elapsed(items, day)
        lecture = ((self.lecture + days) * self.per_day) ** -self.floor
        return np.log(met.sum(axis=1) + lecture) - self.spread * self.hardness[items]

    def chance(self, items: Items, day: float) -> Floats:
        return logistic((self.activation(items, day) - self.threshold) / self.noise)

    def study(self, items: Items, day: float, retrieved: Flags) -> None:
        active = np.exp(self.activation(items, day) + self.spread * self.hardness[items])
        place = np.minimum(self.state["count"][items], self.meetings - 1)
        self.state["days"][items, place] = day
        self.state["decays"][items, place] = self.floor + self.scale * np.minimum(active, 2.0)
        self.state["weights"][items, place] = np.where(retrieved, self.success, self.looked_up)
        self.state["count"][items] += 1
        self.state["last"][items] = day


class TwoStores(Law):
    """A fast trace, gone in days, feeds a slow one that lasts about a year.

    Murre and Chessa, Psychonomic Bulletin & Review 18 (2011); Murre, Meeter and Chessa (2007):
    chance 1 − e^(−intensity). Meetings refill the fast trace; only what has faded is fed anew.
    """

    name = "two stores"
    start, spread, looked_up, success = 0.626, 1.6, 1.479, 2.417
    fast, slow, feed, share = 1 / 4, 1 / 365, 0.06, 0.15

    def prepare(self, size: int) -> None:
        # From the lecture: half of it lasting, half about to go.
        from_lecture = self.start * np.exp(-self.spread * self.hardness) / 2
        self.state["quick"], self.state["lasting"] = from_lecture.copy(), from_lecture

    def traces(self, items: Items, day: float) -> tuple[Floats, Floats]:
        days, _ = self.elapsed(items, day)
        quick, lasting = self.state["quick"][items], self.state["lasting"][items]
        fast, slow = np.exp(-self.fast * days), np.exp(-self.slow * days)
        fed = self.feed * quick * (slow - fast) / (self.fast - self.slow)
        return quick * fast, lasting * slow + fed

    def chance(self, items: Items, day: float) -> Floats:
        quick, lasting = self.traces(items, day)
        return 1 - np.exp(-(quick + lasting))

    def study(self, items: Items, day: float, retrieved: Flags) -> None:
        quick, lasting = self.traces(items, day)
        easier = np.exp(-self.share * self.spread * self.hardness[items])
        full = np.where(retrieved, self.success, self.looked_up) * easier
        self.state["quick"][items] = np.maximum(quick, full)
        self.state["lasting"][items] = lasting
        self.state["last"][items] = day


class ThreeStates(Law):
    """Unknown, known for a time, known for good, with chances of passing between them.

    Atkinson, Journal of Experimental Psychology 96 (1972). Held as the chances of being in each
    state given all that was seen, which makes the same responses as drawing the states would.
    """

    name = "three states"
    start, spread, lasting_share, looked_up, settling, fading = (
        0.033,
        1.2,
        0.25,
        0.259,
        0.467,
        1 / 25,
    )

    def prepare(self, size: int) -> None:
        known = logistic(self.start - self.spread * self.hardness)
        self.state["brief"] = known * (1 - self.lasting_share)
        self.state["lasting"] = known * self.lasting_share

    def chance(self, items: Items, day: float) -> Floats:
        days, _ = self.elapsed(items, day)
        return (
            self.state["brief"][items] * np.exp(-self.fading * days) + self.state["lasting"][items]
        )

    def study(self, items: Items, day: float, retrieved: Flags) -> None:
        known = np.maximum(self.chance(items, day), 1e-12)
        lasting = self.state["lasting"][items] / known
        easier = logistic(-self.spread * self.hardness[items]) * 2
        passes = np.clip(self.settling * easier, 0.0, 0.95)
        taught = np.clip(self.looked_up * easier, 0.0, 0.95)
        lasting = np.where(retrieved, lasting + (1 - lasting) * passes, taught)
        self.state["lasting"][items] = lasting
        self.state["brief"][items] = 1 - lasting
        self.state["last"][items] = day


class CountsAndTime(Law):
    """Logistic in ln(1 + successes) and ln(1 + misses), with a power of the days since the last.

    Pavlik, Cen and Koedinger, AIED 2009. Close to the project's own model, so never used alone.
    """

    name = "logistic on counts"
    start, spread, success, looked_up, decay = 0.034, 1.2, 4.763, 3.457, 0.7

    def prepare(self, size: int) -> None:
        self.state["successes"] = np.zeros(size)
        self.state["misses"] = np.zeros(size)

    def chance(self, items: Items, day: float) -> Floats:
        days, _ = self.elapsed(items, day)
        met = self.success * np.log1p(self.state["successes"][items])
        met += self.looked_up * np.log1p(self.state["misses"][items])
        easy = self.start - self.spread * self.hardness[items]
        return logistic(easy + met - self.decay * np.log1p(days))

    def study(self, items: Items, day: float, retrieved: Flags) -> None:
        self.state["successes"][items] += retrieved
        self.state["misses"][items] += ~retrieved
        self.state["last"][items] = day


LAWS: tuple[type[Law], ...] = (
    PowerLaw, HalfLife, Activation, TwoStores, ThreeStates, CountsAndTime, RisingAbility,
)  # fmt: skip
