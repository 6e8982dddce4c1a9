"""What passes, the chooser and the end of a plan are worth, by simulated candidates.

Long form: python -m tests.domain.evidence.worth [--seeds 3] [--attendance 1.0 0.8 0.65]. A bank
of a fifth of the practice's size with a fifth of its minutes: scores are shares, so they compare.
"""

import argparse
from collections.abc import Callable, Iterable, Sequence
from typing import NamedTuple

import numpy as np
from scipy.stats import spearmanr

from domain.chooser import Choosable, Lookahead, choose, closed_to_passes, worth_of_an_hour
from domain.evidence.forecast import Held, forecast
from domain.evidence.memory.learning import Memory, learn
from domain.evidence.memory.logistic import Logistic
from domain.evidence.memory.practice import UNSEEN, Practice, Trial
from domain.evidence.papers import PaperQuestion, ShiftedChances, sample_shift
from domain.marking.blueprint import Blueprint, even_sections
from tests.domain.evidence.memories.candidate import FIRST_DAY, Outcomes, SimulatedCandidate
from tests.domain.evidence.memories.laws import LAWS, Items, Law
from tests.domain.evidence.memories.signs import Signs

WEEKS, EXAM = 26, 26 * 7
SHARE = 5
QUESTIONS = 10_891 // SHARE
WEEKDAY, SATURDAY = 90 * 60 / SHARE, 300 * 60 / SHARE
SECONDS = 51.0
FIRST = FIRST_DAY.toordinal()


class Learner:
    """A candidate, the pencil's signs, and what the evidence makes of the log."""

    def __init__(self, law: type[Law], seed: int, questions: int = QUESTIONS) -> None:
        self.candidate = SimulatedCandidate(law, seed, questions)
        self.signs = Signs(questions)
        self.practices: list[Practice | None] = [None] * questions
        self.trials: list[Trial] = []
        self.memory: Memory | None = None
        self.learnt_on = -1000
        self.candidate.first_study()
        for outcomes in self.candidate.log:
            self._read(outcomes)

    def study(self, day: int, items: Items) -> float:
        """Answer the questions; the seconds they took."""
        outcomes = self.candidate.study(day, items)
        self._read(outcomes)
        return outcomes.seconds

    def _read(self, outcomes: Outcomes) -> None:
        self.signs.take(outcomes)
        day, tiers = FIRST + outcomes.day, self.signs.tier
        for item, right, sure in zip(
            outcomes.items.tolist(), outcomes.right.tolist(), outcomes.sure.tolist(), strict=True
        ):
            old = self.practices[item]
            cell = old.cell(day) if old else UNSEEN
            self.trials.append(Trial(self.subject(item), day, cell, right))
            old = old or Practice(0, 0, 0, False, 0, day, day)
            self.practices[item] = Practice(
                old.rights + right, old.misses + (not right), (old.streak + 1) * right, sure,
                int(tiers[item]), old.first, day,
            )  # fmt: skip

    def subject(self, item: int) -> str:
        """The question's subject as the evidence names it."""
        return f"{self.candidate.subject[item]:02}"

    def lookahead(self, day: int) -> Lookahead | None:
        """The model as it was learnt at most four weeks ago; None unless it is trusted."""
        if day - self.learnt_on >= 28:
            self.memory, self.learnt_on = learn(self.trials), day
        assert self.memory is not None
        if self.memory.check is None or not self.memory.check.trusted:
            return None
        assert isinstance(self.memory.chances, Logistic)
        return Lookahead(self.memory.chances, FIRST + day, FIRST + EXAM)

    def choosable(self, without: Items) -> list[Choosable]:
        """Every question but these as the chooser sees it."""
        left_out, chosen = set(without.tolist()), []
        signs, settled = self.signs.signs.tolist(), self.signs.settled.tolist()
        for item, practice in enumerate(self.practices):
            if practice is not None and item not in left_out:
                chosen.append(
                    Choosable(
                        question=str(item), subject=self.subject(item), since=practice.last,
                        worth=float(self.candidate.worth[item]), seconds=SECONDS,
                        practice=practice, signs=signs[item], settled=settled[item],
                    )
                )  # fmt: skip
        return chosen


class Moment(NamedTuple):
    """A time with minutes to fill: who, when, for how long, and which subjects take no pass."""

    learner: Learner
    day: int
    seconds: float
    done: Items
    closed: frozenset[str]


Policy = Callable[[Moment], Items]


def nothing(moment: Moment) -> Items:
    """Leave the minutes idle, as the pencil does."""
    return np.zeros(0, dtype=np.int64)


def _chosen(moment: Moment, lookahead: Lookahead | None) -> Items:
    pool = moment.learner.choosable(moment.done)
    choice = choose(pool, moment.seconds, FIRST + moment.day, lookahead, moment.closed)
    return np.array([int(pick.question) for pick in choice.picks], dtype=np.int64)


def by_rule(moment: Moment) -> Items:
    """The chooser without a model: weight, days unseen, signs."""
    return _chosen(moment, None)


def by_lookahead(moment: Moment) -> Items:
    """The chooser with the model where it is trusted."""
    return _chosen(moment, moment.learner.lookahead(moment.day))


def by_tier(moment: Moment) -> Items:
    """Hardest tiers first, over all subjects."""
    signs = moment.learner.signs
    rank = signs.tier.astype(float)
    rank[moment.day - signs.last <= 1] = -9
    order = np.argsort(-rank, kind="stable")
    return np.sort(order[: int(moment.seconds / 60)])


def by_truth(moment: Moment) -> Items:
    """Who knows the true chances: most true gain per second."""
    candidate = moment.learner.candidate
    rested = moment.day - moment.learner.signs.last > 4
    closed = np.array([f"{n:02}" in moment.closed for n in range(candidate.subjects)])
    items = np.flatnonzero(rested & moment.learner.signs.tried & ~closed[candidate.subject])
    items = items[~np.isin(items, moment.done)]
    if not len(items):
        return items
    chance = candidate.memory.chance(items, moment.day)
    rate = candidate.gain(items, moment.day, EXAM) / (40 * chance + 70 * (1 - chance))
    return np.sort(items[np.argsort(-rate)][: max(1, int(moment.seconds / 60))])


class Life:
    """The two rounds as practised, with a policy for idle minutes and one for the last weeks.

    In a week one subject is revised and another swept on Saturday (repeatedly missed questions
    where it has been revised, else all that are open); in the second round they change roles.
    """

    def __init__(
        self,
        law: type[Law],
        seed: int,
        idle: Policy,
        attendance: float = 1.0,
        final: Policy | None = None,
        final_days: int = 21,
        until: int = EXAM,
    ) -> None:
        self.learner = Learner(law, seed)
        self.candidate = self.learner.candidate
        self.idle, self.final, self.final_days = idle, final, final_days
        order = np.argsort(-self.candidate.weights).tolist()
        first, second = order[0::2], order[1::2]
        self.blocks = [*first, *second]
        self.sweeps = [*second, *first]
        self.last_visit: dict[str, int] = {}
        self.rest = np.zeros(0, dtype=np.int64)
        self.under_way: str = ""
        dice = np.random.default_rng(seed + 1000)
        self.attended = [d for d in range(EXAM) if d % 7 < 6 and dice.random() < attendance]
        for day in self.attended:
            if day < until:
                self.live(day)

    @property
    def score(self) -> float:
        return self.candidate.score(EXAM)

    def live(self, day: int) -> None:
        """Do what the day has, then fill its minutes."""
        left = SATURDAY if day % 7 == 5 else WEEKDAY
        done = np.zeros(0, dtype=np.int64)
        ending = self.final is not None and day >= EXAM - self.final_days
        if not ending:
            done = self._sweep(day, left) if day % 7 == 5 else self._revise(day, left)
            left -= self.learner.study(day, done) if len(done) else 0
        policy = self.final if ending and self.final else self.idle
        while left >= SECONDS:
            closed = frozenset() if ending else self._closed(day)
            items = policy(Moment(self.learner, day, left, done, closed))
            if not len(items):
                break
            left -= self.learner.study(day, items)
            done = np.concatenate([done, items])

    def _revise(self, day: int, seconds: float) -> Items:
        if not len(self.rest):
            if not self.blocks or (len(self.attended) > 150 and day % 7 and self.last_visit):
                return self.rest
            self.rest = self.candidate.of(self.blocks[0])
            self.under_way = f"{self.blocks.pop(0):02}"
        count = max(1, round(seconds / SECONDS))
        today, self.rest = self.rest[:count], self.rest[count:]
        self.last_visit[self.under_way] = FIRST + day
        if not len(self.rest):
            self.under_way = ""
        return today

    def _sweep(self, day: int, seconds: float) -> Items:
        if not self.sweeps:
            return np.zeros(0, dtype=np.int64)
        subject = self.sweeps.pop(0)
        items, tiers = self.candidate.of(subject), self.learner.signs.tier
        least = 2 if f"{subject:02}" in self.last_visit else 1
        items = items[tiers[items] >= least]
        self.last_visit[f"{subject:02}"] = FIRST + day
        order = np.argsort(-tiers[items], kind="stable")
        return items[order][: int(seconds / 60)]

    def _closed(self, day: int) -> frozenset[str]:
        subjects = [f"{n:02}" for n in range(self.candidate.subjects)]
        coming = {f"{s:02}": FIRST + day + 7 for s in self.blocks[:1] + self.sweeps[:1]}
        under_way = {self.under_way} if self.under_way else set()
        return closed_to_passes(subjects, self.last_visit, coming, under_way, FIRST + day)


def mean_and_error(values: Sequence[float]) -> tuple[float, float]:
    """The mean and its standard error."""
    found = np.asarray(values, dtype=float)
    return float(found.mean()), float(found.std(ddof=1) / len(found) ** 0.5)


def idle_minutes(laws: Iterable[type[Law]], seeds: Sequence[int], attendance: float) -> None:
    """Print the score of each policy for idle minutes, law by law."""
    policies = {
        "pencil": nothing, "rule": by_rule, "lookahead": by_lookahead, "truth": by_truth,
    }  # fmt: skip
    print(f"\nIdle minutes, attendance {attendance:.0%}, of 400")
    for law in laws:
        scores = {
            name: np.array([Life(law, seed, policy, attendance).score for seed in seeds])
            for name, policy in policies.items()
        }
        gain, error = mean_and_error(scores["lookahead"] - scores["rule"])
        words = "  ".join(f"{name} {found.mean():5.1f}" for name, found in scores.items())
        print(f"{law.name:42} {words}  lookahead − rule {gain:+.1f} ± {error:.1f}", flush=True)


def last_weeks(laws: Iterable[type[Law]], seeds: Sequence[int], attendance: float) -> None:
    """Print what filling the last 21 days by worth brings over going on, law by law."""
    print(f"\nLast 21 days, attendance {attendance:.0%}, of 400, against going on with the plan")
    for law in laws:
        going_on = [Life(law, seed, by_lookahead, attendance).score for seed in seeds]
        words = []
        for name, final in (("worth", by_lookahead), ("tiers", by_tier), ("truth", by_truth)):
            found = [Life(law, seed, by_lookahead, attendance, final).score for seed in seeds]
            gain, error = mean_and_error(np.subtract(found, going_on).tolist())
            words.append(f"{name} {gain:+.1f} ± {error:.1f}")
        print(f"{law.name:42} {'  '.join(words)}", flush=True)


def hours(laws: Iterable[type[Law]], seeds: Sequence[int]) -> None:
    """Print predicted and true worth of an hour per subject, law by law, ten weeks before."""
    print("\nWorth of an hour (12 minutes of the small bank): predicted ÷ true, rank correlation")
    for law in laws:
        ratio, rank, trusted = hour_worth(law, seeds)
        print(f"{law.name:42} {ratio:.2f}  {rank:.2f}  trusted {trusted}", flush=True)


def hour_worth(law: type[Law], seeds: Sequence[int]) -> tuple[float, float, int]:
    """Predicted ÷ true gain of an hour, the mean rank correlation over subjects, and how often
    the model was trusted at all."""
    predicted: list[float] = []
    true: list[float] = []
    ranks = []
    for seed in seeds:
        day = EXAM - 70
        life = Life(law, seed, by_lookahead, until=day)
        learner = life.learner
        learner.learnt_on = -1000
        ahead = learner.lookahead(day)
        if ahead is None:
            continue
        pool = learner.choosable(np.zeros(0, dtype=np.int64))
        said = worth_of_an_hour(pool, FIRST + day, ahead, 3600 / SHARE)
        came = {}
        for subject in said:
            own = [one for one in pool if one.subject == subject]
            picks = choose(own, 3600 / SHARE, FIRST + day, ahead).picks
            items = np.array([int(pick.question) for pick in picks], dtype=np.int64)
            came[subject] = float(life.candidate.gain(items, day, EXAM).sum())
        predicted += said.values()
        true += came.values()
        ranks.append(spearmanr(list(said.values()), list(came.values())).statistic)
    if not ranks:
        return float("nan"), float("nan"), 0
    return sum(predicted) / sum(true), float(np.mean(ranks)), len(ranks)


class PaperForecast(NamedTuple):
    """The forecast of a score with sample papers: its error, whether its 90 % range held the exam
    sat, its width; and the error without papers.
    """

    error: float
    held: bool
    width: float
    error_without: float


def sample_paper_forecast(law: type[Law], seed: int, days_before: int = 28) -> PaperForecast:
    """Live with passes and a sample paper every fourth Saturday, then stop so many days before."""
    day, dice = EXAM - days_before, np.random.default_rng(seed + 77)
    life = Life(law, seed, by_rule, until=0)
    learner, candidate = life.learner, life.candidate
    sat = [attended for attended in life.attended if attended % 28 == 26 and attended < day]
    papers = []
    for attended in life.attended:
        if attended >= day:
            break
        if attended in sat:
            papers.append(_sample_paper(learner, attended, dice.permutation(candidate.size)[:100]))
        else:
            life.live(attended)
    memory = learn(learner.trials)
    weights = [(f"{n:02}", weight) for n, weight in enumerate(candidate.weights)]
    blueprint = Blueprint(sections=even_sections(weights, 100), minutes=100)
    true = asked = 0.0
    chances = candidate.right_on(EXAM)
    for section in blueprint.sections:
        own = chances[candidate.of(int(section.subject))]
        true += section.questions * (5 * own.mean() - 1)
        right = dice.random(section.questions) < dice.choice(own, section.questions)
        asked += (5 * right - 1).sum()
    held = [Held(learner.subject(item), kept) for item, kept in enumerate(learner.practices)]
    shifted = ShiftedChances(memory.chances, sample_shift(papers))
    found = forecast(held, shifted, blueprint, FIRST + EXAM)
    without = forecast(held, memory.chances, blueprint, FIRST + EXAM, 0.0, memory.day_spread)
    low, high = found.interval()
    return PaperForecast(found.mark - true, low <= asked <= high, high - low, without.mark - true)


def _sample_paper(learner: Learner, day: int, items: Items) -> list[PaperQuestion]:
    """Sit a paper: it counts as practice, but not in the fit."""
    chances = learn(learner.trials).chances
    said = []
    for item in items.tolist():
        practice = learner.practices[item]
        cell = practice.cell(FIRST + day) if practice else UNSEEN
        said.append(chances.chance(learner.subject(item), cell))
    tries = len(learner.trials)
    learner.study(day, items)
    del learner.trials[tries:]
    right = learner.candidate.log[-1].right.tolist()
    return [PaperQuestion(chance, came) for chance, came in zip(said, right, strict=True)]


def scores(laws: Iterable[type[Law]], seeds: Sequence[int]) -> None:
    """Print how good the score is four weeks before the exam, with sample papers and without."""
    print("\nScore if you stop four weeks before: rmse of 400, coverage, width of the 90 % range")
    for law in laws:
        lives = [sample_paper_forecast(law, seed) for seed in seeds]
        errors, without, covered, width = (
            np.array([getattr(life, name) for life in lives], dtype=float)
            for name in ("error", "error_without", "held", "width")
        )
        print(
            f"{law.name:42} {(errors**2).mean() ** 0.5:.0f} (without papers "
            f"{(without**2).mean() ** 0.5:.0f})  {covered.mean():.2f}  {width.mean():.0f}",
            flush=True,
        )


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=int, default=3)
    parser.add_argument("--attendance", type=float, nargs="*", default=[1.0, 0.8, 0.65])
    parser.add_argument("--only", choices=("idle", "last", "hours", "scores"))
    arguments = parser.parse_args()
    numbers = range(1, arguments.seeds + 1)
    if arguments.only in (None, "hours"):
        hours(LAWS, numbers)
    if arguments.only in (None, "scores"):
        scores(LAWS, numbers)
    for share in arguments.attendance:
        if arguments.only in (None, "idle"):
            idle_minutes(LAWS, numbers, share)
        if arguments.only in (None, "last"):
            last_weeks(LAWS, numbers, share)
