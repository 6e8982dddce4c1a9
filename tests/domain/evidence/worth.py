"""What passes, the chooser and the end of a plan are worth, by simulated candidates.

Long form: python -m tests.domain.evidence.worth [--seeds 3] [--attendance 1.0 0.8 0.65]. A bank
of a fifth of the practice's size with a fifth of its minutes: scores are shares, so they compare.
"""

import argparse
from collections.abc import Callable, Iterable, Sequence
from copy import deepcopy
from datetime import date, timedelta
from typing import NamedTuple

import numpy as np
from msgspec.structs import replace
from scipy.stats import spearmanr

from domain.chooser import REST_DAYS, Choosable, Lookahead, VisitsAhead, choose, worth_of_an_hour
from domain.evidence.differences import PlannedQuestion, score_difference
from domain.evidence.memory.learning import Memory, learn
from domain.evidence.memory.logistic import Logistic
from domain.evidence.memory.practice import UNSEEN, Practice, Trial
from domain.plan.answer_days import visits_ahead
from domain.plan.inputs import ChapterLoad, PlanInputs, SubjectLoad
from domain.plan.problem import PlanRequest
from domain.plan.study_plan import EntryKind, PassKind, PlanEntry, StudyPlan
from domain.plan.study_plan_writer import make_study_plan
from domain.plan.visits import (
    BegunVisit,
    PlanResponse,
    SweepCandidate,
    Visit,
    VisitFold,
    VisitProgress,
    sweep_list,
)
from domain.responses import Purpose
from domain.tiers import Tier
from tests.domain.evidence.memories import half_year
from tests.domain.evidence.memories.candidate import (
    FIRST_DAY,
    LUCKY,
    Outcomes,
    SimulatedCandidate,
)
from tests.domain.evidence.memories.laws import LAWS, Items, Law
from tests.domain.evidence.memories.signs import WAITING_DAYS, Signs

WEEKS, EXAM = 26, 26 * 7
SHARE = 5
QUESTIONS = 10_891 // SHARE
WEEKDAY, SATURDAY = 90 * 60 // SHARE, 300 * 60 // SHARE
SECONDS = 51.0
CHAPTERS = 3
"""Chapters of each subject."""
FIRST = FIRST_DAY.toordinal()
FINAL_DAYS = 21
"""A short plan may take final revision so many days before the exam."""
ILL_FROM = 100
"""The first day of an illness, where there is one."""


class Learner:
    """A candidate, the signs by the rule and the tiers by the former one, and the evidence."""

    def __init__(self, law: type[Law], seed: int, questions: int = QUESTIONS) -> None:
        self.candidate = SimulatedCandidate(law, seed, questions)
        self.signs, self.former = Signs(questions), half_year.FormerRule(questions)
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
        self.former.take(outcomes)
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
            self.memory, self.learnt_on = learn(self.trials, guess=LUCKY), day
        assert self.memory is not None
        model = self.memory.trusted_model
        return Lookahead(model, FIRST + day, FIRST + EXAM) if model else None

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
    """A time with minutes to fill: who, when, for how long, what is done today, what is left to
    visits, and whether what would wait on the eve comes first.
    """

    learner: Learner
    day: int
    seconds: float
    done: Items
    visits: VisitsAhead
    waiting_first: bool

    @property
    def free(self) -> Items:
        """What was tried, isn't done today, and is of no subject that takes no pass."""
        learner, closed = self.learner, self.visits.closed
        subjects = learner.candidate.subjects
        is_open = np.array([f"{n:02}" not in closed for n in range(subjects)])
        items = np.flatnonzero(learner.signs.tried & is_open[learner.candidate.subject])
        return items[~np.isin(items, self.done)]


Policy = Callable[[Moment], Items]


def nothing(moment: Moment) -> Items:
    """Leave the minutes idle, as the pencil does."""
    return np.zeros(0, dtype=np.int64)


def _chosen(moment: Moment, lookahead: Lookahead | None) -> Items:
    pool = moment.learner.choosable(moment.done)
    since = FIRST + EXAM - 1 - WAITING_DAYS if moment.waiting_first else 0
    choice = choose(pool, moment.seconds, FIRST + moment.day, lookahead, moment.visits, since)
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
    return np.sort(order[: int(moment.seconds / SECONDS)])


def by_truth(moment: Moment) -> Items:
    """Who knows the true chances: most true gain per second."""
    candidate, items = moment.learner.candidate, moment.free
    items = items[moment.day - moment.learner.signs.last[items] > REST_DAYS]
    if not len(items):
        return items
    chance = candidate.memory.chance(items, moment.day)
    rate = candidate.gain(items, moment.day, EXAM) / (40 * chance + 70 * (1 - chance))
    return np.sort(items[np.argsort(-rate)][: int(moment.seconds / SECONDS)])


def by_waiting(moment: Moment) -> Items:
    """What would wait on the eve, the longest unseen first; once there is none, by lookahead."""
    learner, items = moment.learner, moment.free
    items = items[learner.signs.waiting(EXAM - 1)[items]]
    if not len(items):
        return by_lookahead(moment)
    order = np.argsort(learner.signs.last[items], kind="stable")
    return np.sort(items[order[: int(moment.seconds / SECONDS)]])


class Standings(NamedTuple):
    """How many questions have two signs or more, and the shares that settled, that stand in the
    hard-tiers, and by the former rule came down a tier and stand there.
    """

    twice_missed: int
    settled: float
    hard_tiers: float
    came_down: float
    former_hard_tiers: float


class Life:
    """The project's own plan lived day by day, with a policy for idle minutes and one for the end.

    Two rounds are replanned each morning. With a policy for the end, a plan that is short so many
    days before the exam takes final revision; `is_short` tells whether it was. `waiting` counts
    what waits eight weeks before the exam and on the eve, `waits` compares it with the others on
    the dates of `half_year`.
    """

    def __init__(
        self,
        law: type[Law],
        seed: int,
        idle: Policy,
        attendance: float = 1.0,
        final: Policy | None = None,
        until: int = EXAM,
        ill: int = 0,
    ) -> None:
        self.learner = Learner(law, seed)
        self.candidate = self.learner.candidate
        self.idle, self.final = idle, final
        self.final_from = FIRST_DAY + timedelta(days=EXAM - FINAL_DAYS)
        self.is_short: bool | None = None
        self.inputs = PlanInputs(
            exam=FIRST_DAY + timedelta(days=EXAM), start=FIRST_DAY, papers=False, seconds=SECONDS,
            minutes=((WEEKDAY // 60,),) * 5 + ((SATURDAY // 60,), ()),
        )  # fmt: skip
        self.items = {
            f"{n:02}": {f"{n:02}/{part}": own for part, own in enumerate(self._chapters(n))}
            for n in range(self.candidate.subjects)
        }
        self.place = {
            int(item): (chapter, number)
            for chapters in self.items.values()
            for chapter, own in chapters.items()
            for number, item in enumerate(own, 1)
        }
        self.chapters = {
            name: tuple(
                ChapterLoad(chapter, chapter, tuple(range(1, len(own) + 1)))
                for chapter, own in chapters.items()
            )
            for name, chapters in self.items.items()
        }
        self.fold = VisitFold(self._loads())
        dice = np.random.default_rng(seed + 1000)
        comes = [d for d in range(EXAM) if d % 7 < 6 and dice.random() < attendance]
        self.attended = [d for d in comes if not ILL_FROM <= d < ILL_FROM + ill]
        self.waiting: dict[int, int] = {}
        self.waits: list[half_year.Waiting] = []
        self._dates = [*half_year.DATES]
        self._lived = 0
        self.go_on(until)

    def go_on(self, until: int = EXAM) -> None:
        """Live the days left before this one."""
        for day in self.attended:
            if self._lived <= day < until:
                self._look(day)
                if day >= EXAM - 56:
                    self.waiting.setdefault(EXAM - 56, self._waiting(day))
                self.live(day)
        self._lived = until
        self._look(until)
        if until == EXAM:
            self.waiting[EXAM - 1] = self._waiting(EXAM - 1)

    def ended(self, final: Policy | None, days: int | None = None) -> "Life":
        """A copy that goes on to the exam, with this policy for the end of a short plan.

        With `days`, for the end of any plan, so many days before the exam.
        """
        life = deepcopy(self)
        life.final = final
        if days is not None:
            life.go_on(EXAM - days)
            life.is_short = False
            life.inputs = replace(life.inputs, final_from=FIRST_DAY + timedelta(EXAM - days))
        life.go_on()
        return life

    def _look(self, day: int) -> None:
        while self._dates and day >= self._dates[0]:
            date_reached = self._dates.pop(0)
            self.waits.append(
                half_year.waiting_on(self.candidate, self.learner.signs, date_reached)
            )

    def _waiting(self, day: int) -> int:
        return int(self.learner.signs.waiting(day).sum())

    def _chapters(self, subject: int) -> list[Items]:
        return np.array_split(self.candidate.of(subject), CHAPTERS)

    @property
    def score(self) -> float:
        return self.candidate.score(EXAM)

    def standings(self) -> Standings:
        """What the rule and the former one make of the log."""
        signs, former = self.learner.signs, self.learner.former
        twice = signs.signs >= 2
        return Standings(
            int(twice.sum()), float(signs.settled[twice].mean()), float(signs.open.mean()),
            float(former.came_down[former.missed >= 2].mean()), float((former.tier > 0).mean()),
        )  # fmt: skip

    def _loads(self) -> list[SubjectLoad]:
        """The subjects as the plan sees them this morning."""
        signs, tries = self.learner.signs, self.candidate.tries
        return [
            SubjectLoad(
                name,
                name,
                self.chapters[name],
                weight=float(self.candidate.weights[int(name)]),
                repeated=int((signs.tier[self.candidate.of(int(name))] >= Tier.HARDER).sum()),
                tried_twice=int((tries[self.candidate.of(int(name))] >= 2).sum()),
            )
            for name in self.items
        ]

    def live(self, day: int) -> None:
        """Do what the morning's plan has for the day, then fill its minutes."""
        today = FIRST_DAY + timedelta(days=day)
        progress = self.fold.progress(today)
        plan = self._planned(today, progress)
        left = SATURDAY if day % 7 == 5 else WEEKDAY
        done = np.zeros(0, dtype=np.int64)
        for entry in plan.on(today):
            if entry.is_visit:
                items = self._visited(entry, progress, left)
                left -= self.learner.study(day, items) if len(items) else 0
                self._credit(entry, items)
                done = np.concatenate([done, items])
        is_final = self.final is not None and self.inputs.final_from is not None
        policy = self.final if self.final and is_final else self.idle
        visits = visits_ahead(plan, progress, today)
        waiting = any(entry.pass_kind is PassKind.WAITING for entry in plan.on(today))
        while left >= SECONDS:
            items = policy(Moment(self.learner, day, left, done, visits, waiting))
            if not len(items):
                break
            left -= self.learner.study(day, items)
            done = np.concatenate([done, items])

    def _planned(self, today: date, progress: VisitProgress) -> StudyPlan:
        request = PlanRequest.of(self.inputs, self._loads(), today, progress)
        plan = make_study_plan(request)
        if self.is_short is None and today >= self.final_from:
            self.is_short = not plan.feasible
            if self.is_short and self.final is not None:
                self.inputs = replace(self.inputs, final_from=today)
                plan = make_study_plan(request.changed(self.inputs))
        return plan

    def _visited(self, entry: PlanEntry, progress: VisitProgress, seconds: float) -> Items:
        """The questions of a visit that the day takes."""
        chapters = self.items[entry.subject or ""]
        if entry.kind is EntryKind.BLOCK:
            rows = [
                chapters[part.chapter or ""][n - 1] for part in entry.parts for n in part.numbers
            ]
            return np.array(rows, dtype=np.int64)
        under_way = progress.open_sweeps.get(entry.subject or "")
        if under_way is not None:
            names = under_way.left + under_way.also_left
        else:
            signs = self.learner.signs
            candidates = [
                SweepCandidate(
                    *self.place[item],
                    Tier(int(signs.tier[item])),
                    FIRST_DAY + timedelta(int(signs.last[item])),
                )
                for own in chapters.values()
                for item in own.tolist()
            ]
            listed = sweep_list(candidates, int(seconds / SECONDS))
            names = listed.questions + listed.also_open
            visit = Visit(entry.round or 1, entry.subject or "", True)
            name = f"{entry.day}/{entry.subject}"
            self.fold.read([BegunVisit(name, entry.day, visit, listed.questions, listed.also_open)])
        taken = names[: max(0, int(seconds / SECONDS))]
        return np.array([chapters[chapter][n - 1] for chapter, n in taken], dtype=np.int64)

    def _credit(self, entry: PlanEntry, items: Items) -> None:
        purpose = Purpose.SWEEP if entry.kind is EntryKind.SWEEP else Purpose.REVISION
        self.fold.read(
            PlanResponse(entry.day, entry.subject or "", *self.place[item], purpose)
            for item in items.tolist()
        )


def mean_and_error(values: Sequence[float]) -> tuple[float, float]:
    """The mean and its standard error."""
    array = np.asarray(values, dtype=float)
    return float(array.mean()), float(array.std(ddof=1) / len(array) ** 0.5)


def idle_minutes(laws: Iterable[type[Law]], seeds: Sequence[int], attendance: float) -> None:
    """Print the score of each policy for idle minutes, law by law."""
    policies = {
        "plan alone": nothing, "rule": by_rule, "lookahead": by_lookahead, "truth": by_truth,
    }  # fmt: skip
    print(f"\nIdle minutes, attendance {attendance:.0%}, of 400")
    for law in laws:
        lives = {
            name: [Life(law, seed, policy, attendance) for seed in seeds]
            for name, policy in policies.items()
        }
        scores = {name: np.array([life.score for life in own]) for name, own in lives.items()}
        early, eve = (
            np.mean([life.waiting[day] for life in lives["lookahead"]])
            for day in (EXAM - 56, EXAM - 1)
        )
        pencils = (
            half_year.live(law, seed, passes=False, questions=QUESTIONS, attendance=attendance)
            for seed in seeds
        )
        pencil = np.mean([life.score for life in pencils])
        gain, error = mean_and_error(scores["lookahead"] - scores["rule"])
        words = "  ".join(f"{name} {score.mean():5.1f}" for name, score in scores.items())
        print(
            f"{law.name:42} pencil {pencil:5.1f}  {words}  lookahead − rule {gain:+.1f} ± "
            f"{error:.1f}  waiting {early:.0f} → {eve:.0f} of {QUESTIONS}",
            flush=True,
        )


def last_weeks(
    laws: Iterable[type[Law]], seeds: Sequence[int], attendance: float, ill: int
) -> None:
    """Print what filling the last 21 days by worth brings over going on, law by law."""
    print(f"\nLast 21 days at {attendance:.0%}, ill for {ill} days: of 400, against going on")
    ends = {"worth": by_lookahead, "tiers": by_tier, "truth": by_truth}
    for law in laws:
        gains: dict[str, list[float]] = {name: [] for name in ends}
        short = 0
        for seed in seeds:
            life = Life(law, seed, by_lookahead, attendance, until=EXAM - FINAL_DAYS, ill=ill)
            going_on = life.ended(None)
            short += going_on.is_short is True
            for name, final in ends.items():
                gains[name].append(life.ended(final).score - going_on.score)
        words = []
        for name, own in gains.items():
            gain, error = mean_and_error(own)
            words.append(f"{name} {gain:+.1f} ± {error:.1f}")
        print(f"{law.name:42} {'  '.join(words)}  short {short} of {len(seeds)}", flush=True)


def ends(laws: Iterable[type[Law]], seeds: Sequence[int], attendance: float) -> None:
    """Print what the last days of any plan bring instead of its visits, and what waits then."""
    print(f"\nLast days without visits, attendance {attendance:.0%}: of 400 / waiting on the eve")
    tried: dict[str, tuple[Policy, int]] = {
        **{f"{days} days by worth": (by_lookahead, days) for days in (21, 42, 56)},
        "56 days by what waits": (by_waiting, 56),
    }
    for law in laws:
        for seed in seeds:
            life = Life(law, seed, by_lookahead, attendance, until=EXAM - 56)
            going_on = life.ended(None)
            before, eve = (going_on.waiting[day] for day in (EXAM - 56, EXAM - 1))
            words = [f"going on {going_on.score:.1f} / {before} → {eve}"]
            for name, (policy, days) in tried.items():
                end = life.ended(policy, days)
                gain, eve = end.score - going_on.score, end.waiting[EXAM - 1]
                words.append(f"{name} {gain:+.1f} / {eve}")
            print(f"{law.name:42} {'  '.join(words)}", flush=True)


def settling(laws: Iterable[type[Law]], seeds: Sequence[int], attendance: float) -> None:
    """Print what settles and what waits, by the rule and by the former one, law by law."""
    print(f"\nSigns and proof, attendance {attendance:.0%}; on each date waiting / chance / others")
    for law in laws:
        for name, policy in (("without", nothing), ("with", by_lookahead)):
            for seed in seeds:
                life = Life(law, seed, policy, attendance)
                stands = life.standings()
                dates = "  ".join(
                    f"{wait.day}: {wait.number}/{wait.chance:.2f}/{wait.others:.2f}"
                    for wait in life.waits
                )
                print(
                    f"{law.name:42} {name:7} passes  score {life.score:.0f}  twice missed "
                    f"{stands.twice_missed}: settled {stands.settled:.1%} (former rule: came down "
                    f"{stands.came_down:.1%})  hard-tiers {stands.hard_tiers:.0%} (former "
                    f"{stands.former_hard_tiers:.0%})  {dates}",
                    flush=True,
                )


def lost_days(laws: Iterable[type[Law]], seeds: Sequence[int], attendance: float) -> None:
    """Print what a week ill in mid-plan and a last week at rest cost of 400, law by law."""
    print(f"\nDays without work, attendance {attendance:.0%}: a week ill / the last week at rest")
    for law in laws:
        for seed in seeds:
            kept = Life(law, seed, by_rule, attendance).score
            ill = Life(law, seed, by_rule, attendance, ill=7).score - kept
            rest = Life(law, seed, by_rule, attendance, until=EXAM - 7).score - kept
            print(f"{law.name:42} {ill:+.1f} / {rest:+.1f}", flush=True)


def hours(laws: Iterable[type[Law]], seeds: Sequence[int]) -> None:
    """Print predicted and true worth of an hour per subject, law by law, ten weeks before."""
    print("\nWorth of an hour (12 minutes of the small bank): predicted ÷ true, rank correlation")
    for law in laws:
        worth = hour_worth(law, seeds)
        print(
            f"{law.name:42} {worth.ratio:.2f}  {worth.rank:.2f} (who knows the best questions: "
            f"{worth.rank_of_best:.2f})  trusted {worth.trusted}",
            flush=True,
        )


class HourWorth(NamedTuple):
    """Predicted ÷ true gain of an hour, and the mean rank correlation of both over subjects.

    `rank_of_best` is that of the true gain with what the truly best questions of each subject
    would bring; `trusted` counts the lives in which the model was trusted at all.
    """

    ratio: float
    rank: float
    rank_of_best: float
    trusted: int


def hour_worth(law: type[Law], seeds: Sequence[int]) -> HourWorth:
    """What the model says of an hour on each subject, and what it truly brings."""
    predicted: list[float] = []
    true: list[float] = []
    ranks, ranks_of_best = [], []
    for seed in seeds:
        day = EXAM - 70
        life = Life(law, seed, by_lookahead, until=day)
        learner, candidate = life.learner, life.candidate
        learner.learnt_on = -1000
        ahead = learner.lookahead(day)
        if ahead is None:
            continue
        pool = learner.choosable(np.zeros(0, dtype=np.int64))
        by_subject = worth_of_an_hour(pool, FIRST + day, ahead, 3600 / SHARE)
        came, best = [], []
        for subject in by_subject:
            own = [question for question in pool if question.subject == subject]
            picks = choose(own, 3600 / SHARE, FIRST + day, ahead).picks
            items = np.array([int(pick.question) for pick in picks], dtype=np.int64)
            came.append(float(candidate.gain(items, day, EXAM).sum()))
            rested = candidate.of(int(subject))
            rested = rested[day - learner.signs.last[rested] > REST_DAYS]
            gains = np.sort(candidate.gain(rested, day, EXAM))
            best.append(float(gains[len(gains) - len(items) :].sum()))
        expected = list(by_subject.values())
        predicted += expected
        true += came
        ranks.append(spearmanr(expected, came).statistic)
        ranks_of_best.append(spearmanr(best, came).statistic)
    if not ranks:
        return HourWorth(float("nan"), float("nan"), float("nan"), 0)
    means = (float(np.mean(each)) for each in (ranks, ranks_of_best))
    return HourWorth(sum(predicted) / sum(true), *means, len(ranks))


def signs(laws: Iterable[type[Law]], seeds: Sequence[int]) -> None:
    """Print how often a told difference between two plans has the right sign, law by law."""
    print("\nDifferences between plans: sign right of those told, of 25 pairs per life")
    for law in laws:
        counts = [signs_right(law, seed) for seed in seeds]
        right, counted = (sum(column) for column in zip(*counts, strict=True))
        print(f"{law.name:42} {right} of {counted}", flush=True)


def signs_right(law: type[Law], seed: int, pairs: int = 25) -> tuple[int, int]:
    """Of the differences told between random plans for what is left: sign right, and how many."""
    start, questions, right, counted = 70, 700, 0, 0
    learner = Learner(law, seed, questions)
    dice = np.random.default_rng(seed)
    for day in range(0, start, 2):
        learner.study(day, dice.permutation(questions)[:30])
    model = learn(learner.trials, guess=LUCKY).chances
    if not isinstance(model, Logistic):
        return 0, 0
    for _ in range(pairs):
        before, after = (_random_plan(learner, start, dice) for _ in range(2))
        planned = [
            PlannedQuestion(
                learner.subject(item), practice, float(learner.candidate.worth[item]),
                _days(learner, before, item), _days(learner, after, item),
            )
            for item, practice in enumerate(learner.practices)
        ]  # fmt: skip
        difference = score_difference(planned, model, FIRST + EXAM)
        if difference.too_small:
            continue
        truth = _lived_score(learner, after) - _lived_score(learner, before)
        counted += 1
        right += (truth > 0) == (difference.score > 0)
    return right, counted


SubjectsByDay = dict[int, list[int]]
"""A plan for what is left: the subjects answered whole on each day."""


def _random_plan(learner: Learner, first_day: int, dice: np.random.Generator) -> SubjectsByDay:
    plan: SubjectsByDay = {}
    for _ in range(int(dice.integers(1, 22))):
        subject = int(dice.integers(learner.candidate.subjects))
        plan.setdefault(int(dice.integers(first_day, EXAM)), []).append(subject)
    return plan


def _days(learner: Learner, plan: SubjectsByDay, item: int) -> tuple[int, ...]:
    subject = learner.candidate.subject[item]
    return tuple(sorted(FIRST + day for day, taken in plan.items() if subject in taken))


def _lived_score(learner: Learner, plan: SubjectsByDay) -> float:
    candidate = deepcopy(learner.candidate)
    for day in sorted(plan):
        for subject in dict.fromkeys(plan[day]):
            candidate.study(day, candidate.of(subject))
    return candidate.score(EXAM)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=int, default=3)
    parser.add_argument("--attendance", type=float, nargs="*", default=[1.0, 0.8, 0.65])
    parser.add_argument(
        "--only", choices=("idle", "last", "ends", "hours", "signs", "settling", "lost")
    )
    parser.add_argument("--ill", type=int, default=0, help="days of illness in the last weeks' run")
    parser.add_argument("--laws", type=int, nargs="*", default=range(len(LAWS)))
    arguments = parser.parse_args()
    numbers = range(1, arguments.seeds + 1)
    laws = [LAWS[number] for number in arguments.laws]
    if arguments.only in (None, "hours"):
        hours(laws, numbers)
    if arguments.only in (None, "signs"):
        signs(laws, numbers)
    for share in arguments.attendance:
        if arguments.only in (None, "idle"):
            idle_minutes(laws, numbers, share)
        if arguments.only in (None, "ends"):
            ends(laws, numbers, share)
        if arguments.only in (None, "settling"):
            settling(laws, numbers, share)
        if arguments.only in (None, "lost"):
            lost_days(laws, numbers, share)
        if arguments.only in (None, "last"):
            last_weeks(laws, numbers, share, arguments.ill)
