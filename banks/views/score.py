"""The predicted score and what it rests on: the bank's own questions, and papers sat elsewhere."""

import re
from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from datetime import date
from math import hypot
from weakref import WeakKeyDictionary

from msgspec import Struct
from msgspec.structs import replace

from banks.library import Library
from banks.lookup import titled
from banks.planning.workload import PlanWorkload
from banks.views.evidence_log import EvidenceLog
from banks.views.exam import exam_blueprint
from banks.views.papers import DrawnPaper, measuring_papers, papers_taken, papers_too_short
from banks.views.plan_worth import PlanWorth
from banks.views.sweeping import exam_day
from domain.errors import InputError, ResieveError
from domain.evidence.differences import planned_chances
from domain.evidence.forecast import (
    Forecast,
    OutsideResult,
    QuestionChances,
    ShiftedChances,
    exam_model,
    expected_mark,
    forecast,
    outside_shift,
)
from domain.evidence.memory.logistic import Logistic
from domain.evidence.memory.practice import UNSEEN, Cell, PracticeColumns, Trial
from domain.marking.blueprint import Blueprint, ExamBlueprint, Section, even_sections
from domain.marking.schemes import parse_scheme
from domain.responses import OutsidePaper

RECENT_DAYS = 70
"""A sample paper or rehearsal anchors the score for so long: plans have one every four weeks."""
PAPERS_NEEDED = 2
"""So many recent ones before a single score is told."""
LOG_ALONE = 0.3
"""How far chances from a log without as many papers may be off besides: a deviation in log odds
(from simulated candidates: the worst of seven laws of forgetting)."""


class ScoreRange(Struct, frozen=True):
    """A predicted score in marks with its 90 % range."""

    score: float
    low: float
    high: float


class SubjectGap(Struct, frozen=True):
    """Right in outside papers, and what the bank's own questions of the subject would have given:
    shares, 0 to 1, over so many questions.
    """

    subject: str
    questions: int
    outside: float
    bank: float


class ScoreView(Struct, frozen=True, kw_only=True):
    """What can be said of the exam's score on `day`, of `best` marks.

    `stop` and `keep` are on questions from the bank: if nothing more is revised, and if the plan
    is kept (None without a plan or a trusted model). They are anchored by `papers` recent sample
    papers and rehearsals; below `papers_needed` only their ranges may be told. `papers_too_short`
    more have too few questions marked. `outside` is of
    questions as in the outside papers; None before there is one. `next_paper` is the next planned.
    `target` is the score the candidate wants, if they named one.
    """

    day: date
    questions: int
    scheme: str
    best: float
    papers: int
    papers_needed: int
    papers_too_short: int
    next_paper: date | None
    stop: ScoreRange
    keep: ScoreRange | None
    has_model: bool
    untried: float
    outside: ScoreRange | None
    outside_papers: int
    gaps: list[SubjectGap]
    target: int | None = None

    @property
    def is_anchored(self) -> bool:
        """Whether a single score on the bank's questions may be told."""
        return self.papers >= self.papers_needed

    @property
    def predicted(self) -> ScoreRange | None:
        """The score to tell first: the exam's where outside papers tell of it, else the bank's."""
        if self.outside is not None:
            return self.outside
        return (self.keep or self.stop) if self.is_anchored else None


class OutsideFigures(Struct, frozen=True, kw_only=True):
    """What is told of an outside paper; see `domain.responses.OutsidePaper`."""

    day: date
    questions: int
    right: int
    wrong: int
    met: int | None = None
    by_subject: tuple[tuple[str, int, int, int], ...] = ()
    title: str = ""

    @property
    def blank(self) -> int:
        """What is left of the questions."""
        return self.questions - self.right - self.wrong

    def check(self, today: date) -> None:
        """Raises InputError for figures that can't be."""
        if self.day > today:
            raise InputError(f"{self.day}: is in the future; nothing was recorded")
        if self.questions < 1 or min(self.right, self.wrong) < 0:
            raise InputError("a paper has at least one question; nothing was recorded")
        if self.blank < 0:
            raise InputError(
                f"{self.right} right and {self.wrong} wrong are more than {self.questions} "
                "questions; nothing was recorded"
            )
        if self.met is not None and not 0 <= self.met <= self.questions:
            raise InputError(
                f"{self.met} met before are more than {self.questions} questions; "
                "nothing was recorded"
            )
        if sum(sum(counts) for _, *counts in self.by_subject) > self.questions:
            raise InputError(
                f"the subjects have more than {self.questions} questions; nothing was recorded"
            )


_BY_SUBJECT = re.compile(r"(.+?)\s*[=:]?\s*(\d+)\s*/\s*(\d+)(?:\s*/\s*(\d+))?")


def parse_by_subject(read: EvidenceLog, text: str) -> tuple[tuple[str, int, int, int], ...]:
    """ "Clouds 12/4/2; Wind 9/1": right, wrong, blank by subject. Raises InputError."""
    titles = {key: subject.title for key, subject in read.subjects.items()}
    counts = []
    for part in filter(None, (part.strip() for part in text.split(";"))):
        match = _BY_SUBJECT.fullmatch(part)
        if match is None:
            raise InputError(
                f'"{part}" is no subject with its right/wrong/blank, such as Clouds 12/4/2'
            )
        fitting = {titles[key] for key in titled(match[1], titles)}
        title = fitting.pop() if len(fitting) == 1 else match[1]
        counts.append((title, int(match[2]), int(match[3]), int(match[4] or 0)))
    return tuple(counts)


class PaperLine(Struct, frozen=True):
    """A paper taken here or sat elsewhere, with what was predicted before it (in marks)."""

    day: date
    kind: str
    title: str
    questions: int
    right: int
    wrong: int
    blank: int
    marks: float
    best: float
    predicted: tuple[float, float] | None
    sitting: str = ""
    is_too_short: bool = False
    """Too few questions are marked for it to tell of the score."""


def score_view(
    library: Library, read: EvidenceLog, stop: Forecast, keep: Forecast | None
) -> ScoreView:
    """What can be said now. `stop` and `keep` are the forecasts of the exam's day if nothing more
    is revised, and if the plan is kept.
    """
    paper, day = exam_blueprint(library, read), exam_day(library, read)
    records = library.history.records_of(OutsidePaper)
    levels = _levels(library, read, records)
    outside = _outside(records, levels, paper, keep or stop)
    ahead = [
        paper_day.day
        for paper_day in library.settings.plan.paper_days
        if paper_day.day > read.today
    ]
    return ScoreView(
        day=day,
        questions=paper.questions,
        scheme=paper.scheme,
        best=stop.best,
        papers=_recent_papers(library, read),
        papers_needed=PAPERS_NEEDED,
        papers_too_short=_recent(read, papers_too_short(library)),
        next_paper=min(ahead, default=None),
        stop=_range(stop),
        keep=_range(keep) if keep else None,
        has_model=read.memory.trusted_model is not None,
        untried=stop.untried,
        outside=_range(outside) if outside else None,
        outside_papers=len(records),
        gaps=_gaps(library, read, records, levels),
        target=library.settings.exam.target if library.settings.exam else None,
    )


def _range(expected: Forecast) -> ScoreRange:
    low, high = expected.interval()
    return ScoreRange(expected.mark, low, high)


_models: WeakKeyDictionary[EvidenceLog, Logistic] = WeakKeyDictionary()


def exam_chances(library: Library, read: EvidenceLog) -> Logistic:
    """The model that the score rests on: of the full days before today, and of every paper."""
    model = _models.get(read)
    if model is None:
        papers = _paper_trials(library, read)

        def learn() -> Logistic:
            return exam_model(read.past_trials, papers, read.subjects, read.guess)

        model = _models[read] = read.kept("exam-model", Logistic, (papers, read.guess), learn)
    return model


def _paper_trials(library: Library, read: EvidenceLog) -> list[Trial]:
    """What sample papers and rehearsals asked, each question by what was practised before it."""
    trials = []
    for taken, verdicts in measuring_papers(library):
        day = taken.toordinal()
        before = read.stages.on(day - 1).practice
        for name, right in verdicts.items():
            if (number := read.numbers.get(name)) is not None:
                practice = before.practice(number)
                cell = practice.cell(day) if practice else UNSEEN
                trials.append(Trial(read.subject_of(number), day, cell, right))
    return trials


def _recent_papers(library: Library, read: EvidenceLog) -> int:
    return _recent(read, [taken for taken, _ in measuring_papers(library)])


def _recent(read: EvidenceLog, days: Iterable[date]) -> int:
    return sum((read.today - day).days <= RECENT_DAYS for day in days)


def spread(library: Library, read: EvidenceLog) -> float:
    """How far the exam's day may lie off the model: a deviation in log odds."""
    is_anchored = _recent_papers(library, read) >= PAPERS_NEEDED
    return hypot(read.memory.day_spread, 0.0 if is_anchored else LOG_ALONE)


def exam_forecast(
    library: Library,
    read: EvidenceLog,
    paper: Blueprint,
    day: date,
    until: date | None = None,
) -> Forecast:
    """The score on a day by what was practised until the end of another, or until now."""
    stood = read.stages.on(until.toordinal()) if until else read.now
    questions = exam_questions(library, read, stood.practice, day)
    return forecast_of(library, read, paper, questions)


def forecast_of(
    library: Library, read: EvidenceLog, paper: Blueprint, questions: QuestionChances
) -> Forecast:
    """The score of a paper that asks these questions, with these chances."""
    guess = exam_chances(library, read).guess
    return expected_mark(questions, paper, read.blanks, spread(library, read), guess)


def exam_questions(
    library: Library, read: EvidenceLog, practice: PracticeColumns, day: date
) -> QuestionChances:
    """The chance of every question, with this practice, in an exam on that day."""
    model = exam_chances(library, read)
    return QuestionChances.on(read.subject_names, read.subject, practice, day.toordinal(), model)


def kept_plan_forecast(
    library: Library, read: EvidenceLog, paper: Blueprint, workload: PlanWorkload
) -> Forecast | None:
    """The score if the plan is kept, as of this morning; None without a plan, or while no model can
    be trusted.
    """
    inputs = library.settings.plan
    if not inputs.is_set_up or inputs.exam is None or inputs.exam <= read.today:
        return None
    try:
        questions = PlanWorth(library, workload).kept()
    except ResieveError:
        return None
    if questions is None:
        return None
    model = exam_chances(library, read)
    planned = planned_chances(questions, model, inputs.exam.toordinal())
    cells = planned.cells(questions)
    is_other = read.of_subjects(key for key in read.subjects if key not in cells)
    others = QuestionChances.on(
        read.subject_names,
        read.subject[is_other],
        read.morning.practice.taken(is_other),
        inputs.exam.toordinal(),
        model,
    )
    both = QuestionChances.in_cells(cells, planned).beside(others)
    return forecast_of(library, read, paper, both)


# outside papers


class _LevelChances(Struct, frozen=True):
    """One known chance for each subject."""

    levels: dict[str, float]

    def chance(self, subject: str, cell: Cell) -> float:
        return self.levels[subject]

    def variance(self, counts: Mapping[tuple[str, Cell], float]) -> float:
        return 0.0


def _outside(
    records: Sequence[OutsidePaper],
    levels: Mapping[date, Forecast],
    paper: Blueprint,
    basis: Forecast,
) -> Forecast | None:
    """The score if the exam's questions are like those of the outside papers; None without any."""
    missed = sum(record.wrong + record.blank for record in records)
    blanks = sum(record.blank for record in records) / missed if missed else 0.0
    return _like_papers(records, levels, basis, paper, blanks)


def _like_papers(
    records: Iterable[OutsidePaper],
    levels: Mapping[date, Forecast],
    basis: Forecast,
    paper: Blueprint,
    blanks: float,
) -> Forecast | None:
    """The score of a paper off from `basis` as these outside papers were; None without any.

    The bank's own range is no part of it: what its chances had wrong, the gap has in it.
    """
    gap = outside_shift(
        OutsideResult(record.questions, record.right, levels[record.day].mark)
        for record in records
        if record.questions
    )
    if gap is None:
        return None
    tried = {part.subject: part.right for part in basis.parts if part.right}
    cells = {subject: Counter({UNSEEN: 1}) for subject in tried}
    return forecast(cells, ShiftedChances(_LevelChances(tried), gap), paper, blanks)


def _levels(
    library: Library, read: EvidenceLog, records: Iterable[OutsidePaper]
) -> dict[date, Forecast]:
    """`_level_on` on the day of each of these papers."""
    return {day: _level_on(library, read, day) for day in {record.day for record in records}}


def _level_on(library: Library, read: EvidenceLog, day: date) -> Forecast:
    """The share right that the bank's questions would have given on a day, all in all and by
    subject, from what was practised before it.
    """
    paper = exam_blueprint(library, read)
    sections = tuple(Section(part.subject, part.questions) for part in paper.sections)
    each = replace(paper, sections=sections, scheme="+1/0")
    before = read.stages.on(day.toordinal() - 1).practice
    prediction = expected_mark(exam_questions(library, read, before, day), each)
    return replace(prediction, mark=prediction.mark / (each.questions or 1))


def _gaps(
    library: Library,
    read: EvidenceLog,
    records: Iterable[OutsidePaper],
    levels: Mapping[date, Forecast],
) -> list[SubjectGap]:
    """Over all outside papers that were told by subject, the widest gap first."""
    exam = {part.subject for part in exam_blueprint(library, read).sections}
    keys = {read.title(key): key for key in read.subjects if key in exam}
    asked, right = Counter[str](), Counter[str]()
    bank = defaultdict[str, float](float)
    for record in records:
        level = {part.subject: part.right for part in levels[record.day].parts}
        for title, *counts in record.by_subject:
            if title in keys and any(counts):
                asked[title] += sum(counts)
                right[title] += counts[0]
                bank[title] += level[keys[title]] * sum(counts)
    gaps = [
        SubjectGap(title, number, right[title] / number, bank[title] / number)
        for title, number in asked.items()
    ]
    return sorted(gaps, key=lambda gap: gap.outside - gap.bank)


def record_outside(library: Library, read: EvidenceLog, paper: OutsideFigures) -> OutsidePaper:
    """Put an outside paper on record, with what was predicted before it. Undone like any act.

    Raises InputError for figures that can't be.
    """
    paper.check(read.today)
    before = score_before(library, read, paper.day, paper.questions)
    return library.put_on_record(
        OutsidePaper,
        label="the outside paper",
        day=paper.day,
        questions=paper.questions,
        right=paper.right,
        wrong=paper.wrong,
        blank=paper.blank,
        met=paper.met,
        by_subject=paper.by_subject,
        title=paper.title,
        predicted=before,
    )


def score_before(
    library: Library, read: EvidenceLog, day: date, questions: int
) -> tuple[float, float] | None:
    """The range that earlier outside papers gave for one of so many questions on that day, in
    marks of the exam's scheme; None before there was one.
    """
    paper = exam_blueprint(library, read)
    shares = [(part.subject, float(part.questions)) for part in paper.sections]
    paper = replace(paper, sections=even_sections(shares, questions))
    earlier = [paper for paper in library.history.records_of(OutsidePaper) if paper.day < day]
    if not earlier:
        return None
    levels = _levels(library, read, earlier)
    papers = _like_papers(earlier, levels, _level_on(library, read, day), paper, read.blanks)
    return papers.interval() if papers else None


def predicted_for(
    library: Library, read: EvidenceLog, paper: DrawnPaper
) -> tuple[float, float] | None:
    """The 90 % range of a paper's score, to be kept before it is taken.

    None where too few questions were tried to say.
    """
    prediction = exam_forecast(library, read, paper.blueprint, read.today)
    return prediction.interval() if prediction.untried <= 0.5 else None


def paper_lines(library: Library) -> list[PaperLine]:
    """All papers, taken here or sat elsewhere, oldest first."""
    taken = [
        PaperLine(
            library.history.day(paper.at),
            paper.kind.value,
            paper.title,
            paper.questions,
            paper.right,
            paper.wrong,
            paper.blank,
            paper.marks,
            paper.best,
            paper.predicted,
            paper.sitting,
            paper.is_too_short,
        )
        for paper in papers_taken(library)
    ]
    scheme = parse_scheme((library.settings.exam or ExamBlueprint()).scheme)
    outside = [
        PaperLine(
            paper.day,
            "outside paper",
            paper.title or "Outside paper",
            paper.questions,
            paper.right,
            paper.wrong,
            paper.blank,
            float(scheme.sum_of(paper.right, paper.wrong, paper.blank)),
            float(scheme.sum_of(paper.questions)),
            paper.predicted,
        )
        for paper in library.history.records_of(OutsidePaper)
    ]
    return sorted([*taken, *outside], key=lambda line: line.day)
