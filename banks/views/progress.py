"""Progress: first study, rounds and sweeps, each apart; week by week; and the diary of days.

What was due is told by the plan as it was on its first day.
"""

from collections import Counter
from collections.abc import Callable
from datetime import date, timedelta
from typing import TYPE_CHECKING

from msgspec import Struct

from banks.library import Library
from banks.planning.workload import PlanWorkload
from banks.views.evidence_log import PURPOSES, RIGHT, EvidenceLog
from banks.views.sweeping import studied_on
from domain.errors import InputError
from domain.evidence.forecast import Forecast
from domain.plan.study_plan import EntryKind
from domain.responses import Purpose
from domain.tiers import Tier

if TYPE_CHECKING:
    from numpy import bool_, float64, int_
    from numpy.typing import NDArray


class RoundCoverage(Struct, frozen=True):
    """A round's revision blocks in questions: all of them, due by today, and done."""

    round: int
    planned: int
    due: int
    done: int


class SweepCoverage(Struct, frozen=True):
    """The sweeps of the first plan, how many of them were due before today, and those finished."""

    planned: int
    due: int
    done: int


class StudyCoverage(Struct, frozen=True):
    """The questions of the banks that count; those studied were tried or said to be studied."""

    questions: int
    studied: int


class PlanCoverage(Struct, frozen=True):
    """What the plan of the first day had: its blocks (day, round, questions), the days of its
    sweeps, and how many sweeps were finished before today.
    """

    blocks: tuple[tuple[date, int, int], ...]
    sweep_days: tuple[date, ...]
    sweeps_done: int


def plan_coverage(workload: PlanWorkload) -> PlanCoverage | None:
    """The plan of the first day; None where no exam day is set, or none could be made."""
    if not workload.library.settings.plan.is_set_up:
        return None
    first = min((event.day for event in workload.responses()), default=workload.today)
    try:
        plan = workload.plan(min(first, workload.inputs.start or first))
    except InputError:
        return None
    finished = workload.progress(workload.today).sweeps
    return PlanCoverage(
        tuple(
            (entry.day, entry.round or 1, entry.questions)
            for entry in plan.entries
            if entry.kind is EntryKind.BLOCK
        ),
        tuple(entry.day for entry in plan.entries if entry.kind is EntryKind.SWEEP),
        sum(map(len, finished.values())),
    )


class Coverage:
    """What was due and what is done, by day. `plan` is None where no exam day is set.

    Questions revised count once a block, questions swept once; first study apart.
    """

    def __init__(self, plan: PlanCoverage | None, read: EvidenceLog) -> None:
        self.today = read.today
        self.plan, self.blocks = plan, plan.blocks if plan else ()
        planned = sum(questions for _, _, questions in self.blocks)
        passes = max(1, round(planned / max(1, len(read.ids))))
        self._revised = _days(read, Purpose.REVISION, passes)
        self._swept = _days(read, Purpose.SWEEP, 1)

    def revised(self, day: date) -> int:
        """Questions revised in blocks up to a day."""
        return int(self._revised.searchsorted(day.toordinal(), "right"))

    def swept(self, day: date) -> int:
        """Questions taken in a sweep up to a day."""
        return int(self._swept.searchsorted(day.toordinal(), "right"))

    def due(self, day: date) -> int | None:
        """Questions that the first plan had revised in blocks by then; None without a plan."""
        if self.plan is None:
            return None
        return sum(questions for on, _, questions in self.blocks if on <= day)

    def rounds(self) -> list[RoundCoverage]:
        """Each round's blocks; what is done fills the rounds in their order."""
        planned, due = Counter[int](), Counter[int]()
        for on, number, questions in self.blocks:
            planned[number] += questions
            due[number] += questions if on <= self.today else 0
        left, rounds = self.revised(self.today), []
        for number in sorted(planned):
            done = min(left, planned[number])
            left -= done
            rounds.append(RoundCoverage(number, planned[number], due[number], done))
        return rounds

    def sweeps(self) -> SweepCoverage | None:
        """The plan's sweeps; None without a plan."""
        if self.plan is None:
            return None
        days = self.plan.sweep_days
        due = sum(day < self.today for day in days)
        return SweepCoverage(len(days), due, self.plan.sweeps_done)


def first_study(library: Library, read: EvidenceLog, counting: "NDArray[bool_]") -> StudyCoverage:
    """How far the first study is; `counting` are the questions of the banks that count."""
    is_studied = (studied_on(library, read) > 0)[read.chapter]
    studied = counting & (is_studied | (read.now.tiers != Tier.UNTRIED))
    return StudyCoverage(int(counting.sum()), int(studied.sum()))


def _days(read: EvidenceLog, purpose: Purpose, passes: int) -> "NDArray[int_]":
    """The first days, at most so many, on which each question was taken for the purpose, sorted."""
    import numpy as np

    responses = read.responses
    question, day, _ = responses.on_days(responses.purpose == PURPOSES.index(purpose))
    begins = np.searchsorted(question, question)
    return np.sort(day[np.arange(len(question)) - begins < passes])


AT_MOST = 30
"""Points in time, however long the history; a longer one is looked at every second week, …"""


class Week(Struct, frozen=True):
    """The end of one week (or of today): where the questions stood, and the score predicted then.

    Of the questions of the banks that count `settled`, `waiting` and `untried` are three parts;
    the rest is under way. `revised` and `swept` are questions taken in blocks and in sweeps, `due`
    those that the first plan had revised by then (None without a plan). `mark` is what the exam's
    model of today says of the history up to then, as if the exam had been that day, `low` to `high`
    its 90 % range.
    """

    day: date
    settled: int
    waiting: int
    untried: int
    revised: int
    swept: int
    due: int | None
    mark: float
    low: float
    high: float


ScoreForecast = Callable[[date, date], Forecast]
"""Gives the score on a day by what was practised until the end of another."""


def weeks(
    read: EvidenceLog,
    counting: "NDArray[bool_]",
    coverage: Coverage,
    waiting_days: int,
    predict: ScoreForecast,
    made_from: object,
) -> list[Week]:
    """Week by week up to today, oldest first; empty without a history. `counting` are the questions
    of the banks that count, `made_from` is what `predict` depends on besides the log.
    """
    days = read.responses.day
    if not len(days):
        return []

    def week(day: date) -> Week:
        return _week(read, counting, coverage, day, waiting_days, predict)

    *past, today = ends(date.fromordinal(int(days.min())), read.today)
    basis = (read.today, waiting_days, counting.tobytes(), coverage.blocks, made_from)
    return [*read.kept("weeks", list[Week], basis, lambda: [*map(week, past)]), week(today)]


def ends(first: date, today: date) -> list[date]:
    """The Sundays from `first` on and today, at most `AT_MOST` of them, evenly thinned."""
    sunday = first + timedelta(days=6 - first.weekday())
    count = max(0, (today - sunday).days // 7 + 1)
    step = 1 + count // AT_MOST
    sundays = [sunday + timedelta(weeks=week) for week in range(count)]
    kept = sundays[::-1][::step][::-1]
    return kept if kept and kept[-1] == today else [*kept, today]


def _week(
    read: EvidenceLog,
    counting: "NDArray[bool_]",
    coverage: Coverage,
    day: date,
    waiting_days: int,
    predict: ScoreForecast,
) -> Week:
    stood = read.now if day == read.today else read.stages.on(day.toordinal())
    settled = stood.settled & (stood.tiers != Tier.UNTRIED)
    untried, waiting = stood.tiers == Tier.UNTRIED, stood.waiting(day.toordinal(), waiting_days)
    prediction = predict(day, day)
    low, high = prediction.interval()
    return Week(
        day,
        int((settled & counting).sum()),
        int((waiting & counting).sum()),
        int((untried & counting).sum()),
        coverage.revised(day),
        coverage.swept(day),
        coverage.due(day),
        prediction.mark,
        low,
        high,
    )


class DiaryDay(Struct, frozen=True):
    """A study day with responses: its questions, each once, those right at the day's first
    response, those missed, those it settled, and the minutes timed, thinking and reading.
    """

    day: date
    questions: int
    right_first: int
    missed: int
    settled: int
    minutes: float


def diary(read: EvidenceLog) -> list[DiaryDay]:
    """Every study day with a response, the newest first."""
    import numpy as np

    responses = read.responses
    if not len(responses.day):
        return []
    first_day = int(responses.day.min())
    size = int(responses.day.max()) - first_day + 1

    def per_day(days: "NDArray[int_]", weights: "NDArray[float64] | None" = None) -> list[float]:
        counts: list[float] = np.bincount(days - first_day, weights, size).tolist()
        return counts

    _, day, first = responses.on_days()
    is_right = responses.verdict == RIGHT
    _, missed_on, _ = responses.on_days(~is_right)
    settled_on = read.stages.settled_first()
    columns = (
        per_day(day),
        per_day(day[is_right[first]]),
        per_day(missed_on),
        per_day(settled_on[(settled_on >= first_day) & (settled_on < first_day + size)]),
        per_day(responses.day, responses.seconds),
    )
    return [
        DiaryDay(
            date.fromordinal(first_day + n),
            int(questions),
            int(right_first),
            int(missed),
            int(settled),
            round(seconds / 60, 1),
        )
        for n, (questions, right_first, missed, settled, seconds) in reversed(
            [*enumerate(zip(*columns, strict=True))]
        )
        if questions
    ]
