"""The evidence as one plain value: for the Progress screen, `report`, and its JSON and HTML."""

from collections import Counter
from collections.abc import Mapping, Sequence
from datetime import date
from functools import partial
from itertools import groupby

from msgspec import Struct

from banks.library import Library
from banks.planning.workload import PlanWorkload, banks_that_count
from banks.views.confusions import Confusion, confusions
from banks.views.evidence_log import EvidenceLog, Studied, evidence_log
from banks.views.exam import exam_blueprint
from banks.views.progress import (
    Coverage,
    DiaryDay,
    RoundCoverage,
    StudyCoverage,
    SweepCoverage,
    Week,
    diary,
    weeks,
)
from banks.views.score import (
    PaperLine,
    ScoreView,
    exam_chances,
    exam_forecast,
    paper_lines,
    score_view,
)
from banks.views.sweeping import candidates, exam_day, lookahead
from banks.views.triage import waiting_state
from domain.chooser import worth_of_an_hour
from domain.evidence.calibration import STATED_ENOUGH, Calibration, calibration
from domain.evidence.forecast import Forecast, Held, cells_on, expected_score
from domain.evidence.intervals import PaceRange, Share, pace
from domain.evidence.memory.learning import mended
from domain.evidence.memory.practice import Cell
from domain.marking.blueprint import Blueprint
from domain.marking.schemes import break_even
from domain.questions import bank_of
from domain.responses import Purpose
from domain.tiers import HARD_TIERS, Tier, WaitingState, is_waiting

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
    """Everything that can be said of where the candidate stands, from the log alone.

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
    mixed_up: tuple[Confusion, ...]
    diary: list[DiaryDay]


def evidence(library: Library) -> Evidence:
    """All of it. Takes some seconds at 60,000 responses: ask for it in a thread."""
    read = evidence_log(library)
    paper, on = exam_blueprint(library, read), exam_day(library, read)
    on_exam, now = (exam_forecast(library, read, paper, day) for day in (on, read.today))
    workload = PlanWorkload(library)
    coverage = Coverage(workload, read)
    readiness = _ReadinessReader(library, read, paper, on_exam, on)
    counting = banks_that_count(library)
    studied = [each for each in read.studied if bank_of(each.question.id) in counting]
    return Evidence(
        today=read.today,
        exam=library.settings.plan.exam,
        questions=len(studied),
        tried=sum(bool(each.stages) for each in studied),
        elsewhere=len(read.studied) - len(studied),
        responses=read.response_count,
        forecast=_forecast_view(on_exam, paper, on),
        if_today=_forecast_view(now, paper, read.today),
        score=score_view(library, read, workload),
        guessing=GuessingView(float(break_even(paper.marking().scheme)), read.guess),
        waiting=waiting_state(library, counting),
        subjects=_subjects(library, read, readiness),
        chapters=_chapters(read, readiness),
        calibration=_calibration(read),
        memory=_memory(read),
        first_study=coverage.first_study(),
        rounds=coverage.rounds(),
        sweeps=coverage.sweeps(),
        weeks=weeks(
            read,
            studied,
            coverage,
            library.history.rules.waiting_days,
            partial(exam_forecast, library, read, paper),
        ),
        papers=paper_lines(library),
        mixed_up=confusions(library),
        diary=diary(read),
    )


def _calibration(read: EvidenceLog) -> CalibrationView:
    stated = [response for response in read.responses if response.stated]
    in_papers = [response for response in stated if response.purpose is Purpose.PAPER]
    in_drills = [response for response in stated if response.purpose is not Purpose.PAPER]
    every, papers, drills = (
        calibration((response.confidence, response.verdict) for response in responses)
        for responses in (stated, in_papers, in_drills)
    )
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
    """Tells how ready the questions of a subject or chapter are for the exam day."""

    def __init__(
        self,
        library: Library,
        read: EvidenceLog,
        paper: Blueprint,
        on_exam: Forecast,
        exam_day: date,
    ) -> None:
        self._history, self._today, self._blanks = library.history, read.today, read.blanks
        self._chances, self._marking = exam_chances(library, read), paper.marking()
        self._exam_day = exam_day.toordinal()
        self._parts = {part.subject: part for part in on_exam.parts}

    def of(self, questions: Sequence[Studied], share: float = 1.0) -> Readiness:
        """Of these questions of one subject, which are this share of it."""
        subject = questions[0].subject
        waiting_days = self._history.rules.waiting_days
        standings = [self._history.standing(question.question.id) for question in questions]
        untried = sum(standing.tier is Tier.UNTRIED for standing in standings)
        part = self._parts.get(subject)
        expected = None
        if part and untried <= (1 - TRIED_ENOUGH) * len(questions):
            cells = self._cells(questions)[subject]
            expected = (
                part.questions
                * share
                * expected_score(subject, cells, self._marking, self._chances, self._blanks)
            )
        return Readiness(
            len(questions), untried,
            sum(standing.open for standing in standings),
            sum(standing.settled for standing in standings),
            sum(is_waiting(standing, self._today, waiting_days) for standing in standings),
            expected, part.best * share if part else 0.0,
        )  # fmt: skip

    def _cells(self, questions: Sequence[Studied]) -> dict[str, Counter[Cell]]:
        held = (Held(question.subject, question.practice()) for question in questions)
        return cells_on(held, self._exam_day)


def _subjects(
    library: Library, read: EvidenceLog, readiness: _ReadinessReader
) -> list[SubjectEvidence]:
    times = pace((response.subject, response.seconds) for response in read.responses)
    ahead, hours = lookahead(library, read), dict[str, float]()
    if ahead is not None:
        pool, today = candidates(library, read), read.today.toordinal()
        hours = worth_of_an_hour(pool, today, ahead, HOUR)
    studied = read.by_subject()
    tried = {response.subject for response in read.responses}
    return [
        SubjectEvidence(
            subject.key, subject.title, library.banks[subject.bank].title,
            readiness.of(studied[subject.key]), times.get(subject.key),
            hours.get(subject.key) if subject.key in tried else None,
        )
        for subject in read.subjects.values()
    ]  # fmt: skip


def _chapters(read: EvidenceLog, readiness: _ReadinessReader) -> list[ChapterEvidence]:
    chapters = []
    for subject, studied in read.by_subject().items():
        for chapter, questions in groupby(studied, lambda studied: studied.question.chapter):
            own = list(questions)
            title = read.chapters[f"{subject.partition('/')[0]}/{chapter}"]
            ready = readiness.of(own, len(own) / len(studied))
            chapters.append(ChapterEvidence(subject, title, ready))
    return chapters


def _memory(read: EvidenceLog) -> MemoryView:
    memory, check, rates = read.memory, read.memory.check, mended(read.past_trials).rates
    mends = {
        tier.word: Mends(rates[tier].mean, *rates[tier].interval())
        for tier in (Tier.CLEAR, *HARD_TIERS)
    }
    if check is None:
        return MemoryView(memory.name, memory.sentence, 0, None, None, None, [], mends)
    return MemoryView(
        memory.name, memory.sentence, check.tries, check.model.log_loss, check.one_rate.log_loss,
        check.tier_rates.log_loss,
        [CalibrationBin(group.stated, rate(group.came)) for group in check.bins], mends,
    )  # fmt: skip
