"""Progress: first study, rounds and sweeps, each apart; week by week; and the diary of days.

What was due is told by the plan as it was on its first day.
"""

from bisect import bisect_right
from collections import Counter, defaultdict
from collections.abc import Callable, Sequence
from datetime import date, timedelta

from msgspec import Struct

from banks.planning.first_study import FirstStudies
from banks.planning.workload import PlanWorkload
from banks.views.evidence_log import EvidenceLog, Studied
from domain.errors import InputError
from domain.evidence.forecast import Forecast
from domain.evidence.memory.practice import StageColumns
from domain.plan.study_plan import EntryKind
from domain.responses import Purpose
from domain.tiers import Tier
from domain.verdicts import Verdict


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


class Coverage:
    """What was due and what is done, by day. `has_plan` is False where no exam day is set.

    Questions revised count once a block, questions swept once; first study apart.
    """

    def __init__(self, workload: PlanWorkload, reading: EvidenceLog) -> None:
        self.today = reading.today
        self._blocks: list[tuple[date, int, int]] = []
        self._sweep_days: list[date] = []
        self._sweeps_done = 0
        self._workload = workload
        self.has_plan = workload.library.settings.plan.is_set_up and self._plan()
        planned = sum(questions for _, _, questions in self._blocks)
        passes = max(1, round(planned / max(1, len(reading.studied))))
        self._revised = _days(reading, Purpose.REVISION, passes)
        self._swept = _days(reading, Purpose.SWEEP, 1)

    def _plan(self) -> bool:
        workload = self._workload
        first = min((event.day for event in workload.responses()), default=workload.today)
        try:
            plan = workload.plan(min(first, workload.inputs.start or first))
        except InputError:
            return False
        for entry in plan.entries:
            if entry.kind is EntryKind.BLOCK:
                self._blocks.append((entry.day, entry.round or 1, entry.questions))
            elif entry.kind is EntryKind.SWEEP:
                self._sweep_days.append(entry.day)
        finished = workload.progress(workload.today).sweeps
        self._sweeps_done = sum(map(len, finished.values()))
        return True

    def revised(self, day: date) -> int:
        """Questions revised in blocks up to a day."""
        return bisect_right(self._revised, day)

    def swept(self, day: date) -> int:
        """Questions taken in a sweep up to a day."""
        return bisect_right(self._swept, day)

    def due(self, day: date) -> int | None:
        """Questions that the first plan had revised in blocks by then; None without a plan."""
        if not self.has_plan:
            return None
        return sum(questions for on, _, questions in self._blocks if on <= day)

    def rounds(self) -> list[RoundCoverage]:
        """Each round's blocks; what is done fills the rounds in their order."""
        planned, due = Counter[int](), Counter[int]()
        for on, number, questions in self._blocks:
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
        if not self.has_plan:
            return None
        due = sum(day < self.today for day in self._sweep_days)
        return SweepCoverage(len(self._sweep_days), due, self._sweeps_done)

    def first_study(self) -> StudyCoverage:
        """How far the first study is."""
        history, studies = self._workload.library.history, FirstStudies(self._workload.library)
        questions = studied = 0
        for subject in self._workload.subjects:
            for chapter, _, question_id in self._workload.active_ids(subject.id):
                questions += 1
                studied += (
                    studies.day_of(subject.id, chapter) is not None
                    or history.standing(question_id).tier is not Tier.UNTRIED
                )
        return StudyCoverage(questions, studied)


def _days(reading: EvidenceLog, purpose: Purpose, passes: int) -> list[date]:
    """The first days, at most so many, on which each question was taken for the purpose, sorted."""
    days: dict[str, set[date]] = {}
    for response in reading.responses:
        if response.purpose is purpose:
            days.setdefault(response.question, set()).add(response.day)
    return sorted(day for own in days.values() for day in sorted(own)[:passes])


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
    reading: EvidenceLog,
    studied: Sequence[Studied],
    coverage: Coverage,
    waiting_days: int,
    predict: ScoreForecast,
) -> list[Week]:
    """Week by week up to today, oldest first; empty without a history. `studied` are the questions
    of the banks that count.
    """
    if not reading.responses:
        return []
    first = min(response.day for response in reading.responses)
    all_count = len(studied) == len(reading.studied)
    columns = reading.columns
    if not all_count:
        columns = StageColumns(
            [each.stages for each in studied], [each.subject for each in studied]
        )
    return [
        _week(columns, coverage, day, waiting_days, predict) for day in ends(first, reading.today)
    ]


def ends(first: date, today: date) -> list[date]:
    """The Sundays from `first` on and today, at most `AT_MOST` of them, evenly thinned."""
    sunday = first + timedelta(days=6 - first.weekday())
    count = max(0, (today - sunday).days // 7 + 1)
    step = 1 + count // AT_MOST
    sundays = [sunday + timedelta(weeks=week) for week in range(count)]
    kept = sundays[::-1][::step][::-1]
    return kept if kept and kept[-1] == today else [*kept, today]


def _week(
    columns: StageColumns, coverage: Coverage, day: date, waiting_days: int, predict: ScoreForecast
) -> Week:
    ordinal = day.toordinal()
    settled, waiting, untried = columns.standings(ordinal, waiting_days)
    prediction = predict(day, day)
    low, high = prediction.interval()
    return Week(
        day,
        settled,
        waiting,
        untried,
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


def diary(reading: EvidenceLog) -> list[DiaryDay]:
    """Every study day with a response, the newest first."""
    seconds: dict[date, float] = defaultdict(float)
    settled = Counter[date]()
    answered: dict[date, set[str]] = defaultdict(set)
    right_first = Counter[date]()
    missed: dict[date, set[str]] = {}
    for response in reading.responses:
        if response.question not in answered[response.day]:
            right_first[response.day] += response.verdict is Verdict.RIGHT
        answered[response.day].add(response.question)
        seconds[response.day] += response.seconds
        if response.verdict is not Verdict.RIGHT:
            missed.setdefault(response.day, set()).add(response.question)
    for studied in reading.studied:
        was_settled = False
        for stage in studied.stages:
            settled[date.fromordinal(stage.since)] += stage.settled and not was_settled
            was_settled = stage.settled
    return [
        DiaryDay(
            day,
            len(questions),
            right_first[day],
            len(missed.get(day, ())),
            settled[day],
            round(seconds[day] / 60, 1),
        )
        for day, questions in sorted(answered.items(), reverse=True)
    ]
