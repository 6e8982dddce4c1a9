"""The evidence as one plain value: for the Progress screen, `report`, and its JSON and HTML."""

from collections import Counter
from collections.abc import Iterator, Mapping
from datetime import date, timedelta
from typing import TYPE_CHECKING

from msgspec import Struct

from banks.library import Library
from banks.planning.workload import PlanWorkload, banks_that_count
from banks.views.evidence_log import (
    BLANK,
    CONFIDENCES,
    PURPOSES,
    RIGHT,
    EvidenceLog,
    evidence_log,
)
from banks.views.exam import exam_blueprint
from banks.views.progress import (
    Coverage,
    DiaryDay,
    PlanCoverage,
    RoundCoverage,
    StudyCoverage,
    SweepCoverage,
    Week,
    diary,
    first_study,
    plan_coverage,
    weeks,
)
from banks.views.score import (
    PaperLine,
    ScoreView,
    exam_chances,
    exam_forecast,
    exam_questions,
    forecast_of,
    kept_plan_forecast,
    paper_lines,
    score_view,
    spread,
)
from banks.views.sweeping import candidates, exam_day, lookahead
from domain.chooser import worth_of_an_hour
from domain.evidence.calibration import STATED_ENOUGH, Calibration, calibration
from domain.evidence.forecast import Forecast, QuestionChances, score_of_one
from domain.evidence.intervals import PaceRange, Share, pace
from domain.evidence.memory.learning import mended
from domain.marking.blueprint import Blueprint
from domain.marking.schemes import break_even
from domain.responses import FirstStudyDone, PlanAccepted, Purpose, VisitBegun, VisitEnded
from domain.tiers import HARD_TIERS, Tier, WaitingState

if TYPE_CHECKING:
    from numpy import bool_, int_
    from numpy.typing import NDArray

WEEK = 7
HOUR = 3600
TRIED_ENOUGH = 0.5
"""The share of a subject or chapter that must be tried before its expected score is told."""


class Rate(Struct, frozen=True):
    """A share with its 95 % interval; without tries the three are None."""

    right: int
    of: int
    rate: float | None
    low: float | None
    high: float | None


class Readiness(Struct, frozen=True):
    """How many questions there are, and of these untried, in the hard-tiers, settled, waiting.

    `expected` of `best` marks is what they are expected to bring on the exam day if nothing more
    is revised; None where too few were tried to say.
    """

    questions: int
    untried: int
    hard: int
    settled: int
    waiting: int
    expected: float | None
    best: float


class SubjectEvidence(Struct, frozen=True):
    """Where one subject stands. `subject` is its key, "bank/subject", `bank` its bank's title.

    `hour` is the score that one more hour on it is worth; None before it is tried and without a
    model to tell.
    """

    subject: str
    title: str
    bank: str
    ready: Readiness
    pace: PaceRange | None
    hour: float | None


class ChapterEvidence(Struct, frozen=True):
    """Where one chapter stands. `subject` is the key of its subject."""

    subject: str
    title: str
    ready: Readiness


class CalibrationView(Struct, frozen=True):
    """Confidence against outcome, where said beforehand; see `domain.evidence.calibration`.

    `papers` and `drills` hold the levels apart: papers ask as the exam does, drills mostly what was
    missed before.
    """

    levels: dict[str, Rate]
    papers: dict[str, Rate]
    drills: dict[str, Rate]
    brier: float | None
    reliability: float | None
    resolution: float | None
    uncertainty: float | None


class GuessingView(Struct, frozen=True):
    """What guessing is worth in the exam.

    `break_even` and `random` are chances: from which one on answering pays, and that of a random
    pick among the bank's options.
    """

    break_even: float
    random: float


class CalibrationBin(Struct, frozen=True):
    """Held-out tries whose chance was put at about `stated`, and how many came right."""

    stated: float
    came: Rate


class Mends(Struct, frozen=True):
    """How often a miss was right the next time, with its 95 % interval."""

    mean: float
    low: float
    high: float


class MemoryView(Struct, frozen=True):
    """What gives the chances, and how it did on days kept apart; losses None if unchecked.

    `mends` is per tier, as the sweep counts on it.
    """

    uses: str
    sentence: str
    tries: int
    log_loss: float | None
    log_loss_one_rate: float | None
    log_loss_tier_rates: float | None
    calibration: list[CalibrationBin]
    mends: dict[str, Mends]


class ForecastView(Struct, frozen=True):
    """The mark to expect on `day` if nothing more is revised, with its 90 % range."""

    day: date
    scheme: str
    questions: int
    mark: float
    low: float
    high: float
    best: float
    untried: float
    sentence: str


class Evidence(Struct, frozen=True):
    """Everything that can be said of where the candidate stands, from the log alone; what they mix
    up aside, see `banks.views.confusions`.

    `questions`, `tried`, `waiting` and the standings of `weeks` are of the banks that count;
    `elsewhere` are the questions of the others.
    """

    today: date
    exam: date | None
    questions: int
    tried: int
    elsewhere: int
    responses: int
    forecast: ForecastView
    if_today: ForecastView
    score: ScoreView
    guessing: GuessingView
    waiting: WaitingState
    subjects: list[SubjectEvidence]
    chapters: list[ChapterEvidence]
    calibration: CalibrationView
    memory: MemoryView
    first_study: StudyCoverage
    rounds: list[RoundCoverage]
    sweeps: SweepCoverage | None
    weeks: list[Week]
    papers: list[PaperLine]
    diary: list[DiaryDay]


def evidence(library: Library) -> Evidence:
    """All of it. The first time on a day that takes seconds at 60,000 responses: ask for it in a
    thread.
    """
    read = evidence_log(library)
    paper, on = exam_blueprint(library, read), exam_day(library, read)
    asked = exam_questions(library, read, read.now.practice, on)
    on_exam = forecast_of(library, read, paper, asked)
    now = exam_forecast(library, read, paper, read.today)
    by_plan = _by_plan(library, read, paper)
    coverage = Coverage(by_plan.coverage, read)
    readiness = _ReadinessReader(library, read, paper, on_exam, asked)
    banks = banks_that_count(library)
    counting, waiting_days = read.of_banks(banks), library.history.rules.waiting_days
    questions = int(counting.sum())

    def forecast_at(day: date, until: date) -> Forecast:
        return now if day == read.today else exam_forecast(library, read, paper, day, until)

    return Evidence(
        today=read.today,
        exam=library.settings.plan.exam,
        questions=questions,
        tried=int((counting & read.now.practice.seen).sum()),
        elsewhere=len(read.ids) - questions,
        responses=len(read.responses.day),
        forecast=_forecast_view(on_exam, paper, on),
        if_today=_forecast_view(now, paper, read.today),
        score=score_view(library, read, on_exam, by_plan.keep),
        guessing=GuessingView(float(break_even(paper.marking().scheme)), read.guess),
        waiting=_waiting(read, counting, waiting_days),
        subjects=_subjects(library, read, readiness),
        chapters=readiness.chapters(),
        calibration=_calibration(read),
        memory=_memory(read),
        first_study=first_study(library, read, counting),
        rounds=coverage.rounds(),
        sweeps=coverage.sweeps(),
        weeks=weeks(
            read, counting, coverage, waiting_days, forecast_at,
            (paper, exam_chances(library, read), spread(library, read)),
        ),
        papers=paper_lines(library),
        diary=diary(read),
    )  # fmt: skip


class _ByPlan(Struct, frozen=True):
    """What rests on the plan, as of this morning."""

    coverage: PlanCoverage | None
    keep: Forecast | None


def _by_plan(library: Library, read: EvidenceLog, paper: Blueprint) -> _ByPlan:
    """As it was kept, where banks, plan, models and what was done before today are the same."""

    def make() -> _ByPlan:
        workload = PlanWorkload(library)
        keep = kept_plan_forecast(library, read, paper, workload)
        return _ByPlan(plan_coverage(workload), keep)

    marks = library.store.bank_marks()
    if not all(marks.values()):
        return make()
    history, settings = library.history, library.settings
    visits = [
        record
        for kind in (VisitBegun, VisitEnded)
        for record in history.records_of(kind)
        if history.day(record.at) < read.today
    ]
    others = [
        record for kind in (PlanAccepted, FirstStudyDone) for record in history.records_of(kind)
    ]
    made_from = (
        read.today, marks, settings.plan, settings.exam, library.time_cap(), paper, visits, others,
        exam_chances(library, read), spread(library, read),
    )  # fmt: skip
    return read.kept("by-plan", _ByPlan, made_from, make)


def _waiting(read: EvidenceLog, counting: "NDArray[bool_]", after_days: int) -> WaitingState:
    """As `banks.views.triage.waiting_state` tells it of the banks that count."""
    today = read.today.toordinal()
    week_ago = read.stages.on(today - WEEK - 1)
    waiting, waited = (
        int((stood.waiting(day, after_days) & counting).sum())
        for stood, day in ((read.now, today), (week_ago, today - WEEK))
    )
    settled = int((read.now.settled & counting).sum())
    last_tried = read.today - timedelta(days=after_days)
    return WaitingState(waiting, waiting - waited, settled, last_tried)


def _calibration(read: EvidenceLog) -> CalibrationView:
    import numpy as np

    responses = read.responses
    counts = responses.stated & (responses.verdict != BLANK)
    in_papers = responses.purpose == PURPOSES.index(Purpose.PAPER)

    def levels(chosen: "NDArray[bool_]") -> Calibration:
        size, word = len(CONFIDENCES), responses.confidence[chosen]
        right = np.bincount(word, responses.verdict[chosen] == RIGHT, size)
        shares = zip(right.tolist(), np.bincount(word, minlength=size).tolist(), strict=True)
        return calibration(
            {
                word: Share(int(hits), of)
                for word, (hits, of) in zip(CONFIDENCES, shares, strict=True)
            }
        )

    every, papers, drills = map(levels, (counts, counts & in_papers, counts & ~in_papers))
    parts = every.parts
    return CalibrationView(
        _rates(every),
        _rates(papers),
        _rates(drills),
        every.brier,
        parts.reliability if parts else None,
        parts.resolution if parts else None,
        parts.uncertainty if parts else None,
    )


def _rates(stated: Calibration) -> dict[str, Rate]:
    return {word.value: rate(share) for word, share in stated.levels.items()}


def are_enough(levels: Mapping[str, Rate]) -> bool:
    """Whether so many responses had a confidence that their levels are shown."""
    return sum(level.of for level in levels.values()) >= STATED_ENOUGH


def rate(share: Share) -> Rate:
    """A share as it is shown."""
    low, high = share.interval or (None, None)
    return Rate(share.hits, share.of, share.rate, low, high)


def full_titles(report: Evidence) -> dict[str, str]:
    """The subjects' titles by key; with the bank's where two subjects share one."""
    shared = Counter(subject.title for subject in report.subjects)
    return {
        subject.subject: f"{subject.title} · {subject.bank}"
        if shared[subject.title] > 1
        else subject.title
        for subject in report.subjects
    }


def _forecast_view(ahead: Forecast, paper: Blueprint, day: date) -> ForecastView:
    low, high = ahead.interval()
    words = (
        f"Predicted score {ahead.mark:.0f} of {ahead.best:.0f} (90 % range {low:.0f} to {high:.0f})"
        " if you stop revising now"
    ).replace("-", "−")
    if ahead.untried:
        words += f"; {ahead.untried:.0%} of the paper was never tried and rests on assumptions"
    return ForecastView(
        day, paper.scheme, paper.questions, ahead.mark, low, high, ahead.best, ahead.untried,
        words + ".",
    )  # fmt: skip


class _ReadinessReader:
    """Tells how ready the questions of each subject and chapter are for the exam day."""

    def __init__(
        self,
        library: Library,
        read: EvidenceLog,
        paper: Blueprint,
        on_exam: Forecast,
        asked: QuestionChances,
    ) -> None:
        self._read, self._marking = read, paper.marking()
        self._parts = {part.subject: part for part in on_exam.parts}
        stood = read.now
        waiting_days = library.history.rules.waiting_days
        self._columns = (
            stood.tiers == Tier.UNTRIED,
            stood.tiers > Tier.CLEAR,
            stood.settled,
            stood.waiting(read.today.toordinal(), waiting_days),
            asked.right,
        )

    def subjects(self) -> list[Readiness]:
        """Each subject's, by its number."""
        names = self._read.subject_names
        sums = self._sums(self._read.subject, len(names))
        return [self._of(name, 1.0, *own) for name, own in zip(names, sums, strict=True)]

    def chapters(self) -> list[ChapterEvidence]:
        """Each chapter's, in the banks' order."""
        read = self._read
        titles, subject_of = list(read.chapters.values()), read.subject_of_chapter.tolist()
        made = []
        for number, own in enumerate(self._sums(read.chapter, len(titles))):
            subject = read.subject_names[subject_of[number]]
            share = own[0] / read.subjects[subject].questions
            ready = self._of(subject, share, *own)
            made.append(ChapterEvidence(subject, titles[number], ready))
        return made

    def _sums(self, group: "NDArray[int_]", size: int) -> Iterator[tuple[float, ...]]:
        """Of each group how many questions it has, and the sums of all columns."""
        import numpy as np

        sums = [np.bincount(group, column, size).tolist() for column in self._columns]
        return zip(np.bincount(group, minlength=size).tolist(), *sums, strict=True)

    def _of(self, subject: str, share: float, questions: float, *sums: float) -> Readiness:
        """Of so many questions of one subject, which are this share of it."""
        untried, hard, settled, waiting, right = sums
        part, expected = self._parts.get(subject), None
        if part and untried <= (1 - TRIED_ENOUGH) * questions:
            each = score_of_one(self._marking, subject, right / questions, self._read.blanks)
            expected = part.questions * share * each
        return Readiness(
            int(questions), int(untried), int(hard), int(settled), int(waiting),
            expected, part.best * share if part else 0.0,
        )  # fmt: skip


def _subjects(
    library: Library, read: EvidenceLog, readiness: _ReadinessReader
) -> list[SubjectEvidence]:
    import numpy as np

    ahead, hours = lookahead(library, read), dict[str, float]()
    if ahead is not None:
        pool, today = candidates(library, read), read.today.toordinal()
        hours = worth_of_an_hour(pool, today, ahead, HOUR)
    responses = read.responses
    own = read.subject[responses.question]
    tried = np.bincount(own, minlength=len(read.subjects)).tolist()
    return [
        SubjectEvidence(
            subject.key, subject.title, library.banks[subject.bank].title, ready,
            pace(responses.seconds[own == n]), hours.get(subject.key) if tried[n] else None,
        )
        for n, (subject, ready) in enumerate(
            zip(read.subjects.values(), readiness.subjects(), strict=True)
        )
    ]  # fmt: skip


def _memory(read: EvidenceLog) -> MemoryView:
    memory, check = read.memory, read.memory.check
    mends = read.kept("mends", dict[str, Mends], (), lambda: _mends(read))
    if check is None:
        return MemoryView(memory.name, memory.sentence, 0, None, None, None, [], mends)
    return MemoryView(
        memory.name, memory.sentence, check.tries, check.model.log_loss, check.one_rate.log_loss,
        check.tier_rates.log_loss,
        [CalibrationBin(group.stated, rate(group.came)) for group in check.bins], mends,
    )  # fmt: skip


def _mends(read: EvidenceLog) -> dict[str, Mends]:
    rates = mended(read.past_trials).rates
    return {
        tier.word: Mends(rates[tier].mean, *rates[tier].interval())
        for tier in (Tier.CLEAR, *HARD_TIERS)
    }
