"""Papers taken as in the exam: drawn, under way, awaiting their answer key, and their results."""

from collections import Counter
from collections.abc import Iterator, Sequence
from datetime import date, datetime, timedelta
from fractions import Fraction
from random import Random
from statistics import mean, stdev

from msgspec import Struct
from msgspec.structs import replace

from banks.library import Given, Library
from banks.planning.workload import counting_banks
from banks.views.drill import given_words, is_from_book, key_words, show_question
from banks.views.evidence_log import EvidenceLog
from banks.views.exam import at_most, drawable, exam_blueprint, minutes_of
from domain.errors import InputError
from domain.evidence.intervals import prediction_interval
from domain.history import Sitting
from domain.marking.blueprint import (
    Blueprint,
    DrawableQuestion,
    Section,
    draw_evenly,
    draw_paper,
)
from domain.marking.results import Answered, Result, result
from domain.marking.schemes import MultipleRule, share_right
from domain.questions import Kind, Question
from domain.responses import Medium, PaperKind, Purpose, Reason, Response
from domain.verdicts import Confidence, Verdict

SAMPLE_QUESTIONS = 100
"""Questions of a sample paper, where the bank holds so many."""
FEWEST_MARKED = 20
"""A paper with fewer questions marked tells nothing of the score."""


class DrawnPaper(Struct, frozen=True):
    """A paper that is drawn and not begun: question ids in the order in which they are asked."""

    kind: PaperKind
    questions: tuple[str, ...]
    blueprint: Blueprint

    @property
    def title(self) -> str:
        """ "Sample paper, 100 questions, 90 min"."""
        words = f"{len(self.questions)} questions, {self.blueprint.minutes} min"
        return f"{self.kind.capitalize()}, {words}"


class PaperSummary(Struct, frozen=True):
    """A paper that was handed in, in short. Marks are decimals."""

    sitting: str
    kind: PaperKind
    title: str
    at: datetime
    questions: int
    scheme: str
    marks: float
    best: float
    right: int
    wrong: int
    blank: int
    predicted: tuple[float, float] | None = None
    is_too_short: bool = False
    """Too few questions are marked for it to tell of the score."""


def draw(
    library: Library,
    reading: EvidenceLog,
    kind: PaperKind,
    seed: int,
    questions: int | None = None,
) -> DrawnPaper:
    """Draw a paper of this kind. Raises InputError where there is nothing to draw from.

    A mock paper comes from the questions that have an answer key, as it was set; a sample paper
    (of so many `questions`) from all of the banks that count, a rehearsal from all by the exam's
    blueprint. What is read in the printed bank is asked in its order, so that pages turn one way.
    """
    if kind is PaperKind.SAMPLE:
        return _sample(library, reading, seed, questions or SAMPLE_QUESTIONS)
    if kind is PaperKind.MOCK:
        blueprint = drawable(library, reading)
        return DrawnPaper(kind, _drawn(library, reading, blueprint, seed, keyed=True), blueprint)
    exam = exam_blueprint(library, reading)
    available = {key: subject.questions for key, subject in reading.subjects.items()}
    blueprint = replace(exam, sections=at_most(exam.sections, available))
    if not blueprint.sections:
        raise InputError("a rehearsal needs questions: import a bank, or describe the printed one")
    drawn = _drawn(library, reading, blueprint, seed, keyed=False)
    if is_from_book(library, drawn):
        chosen = frozenset(drawn)
        drawn = tuple(question for question in reading.ids if question in chosen)
    return DrawnPaper(kind, drawn, replace(blueprint, minutes=minutes_of(library, len(drawn))))


def _sample(library: Library, reading: EvidenceLog, seed: int, count: int) -> DrawnPaper:
    counting = {bank.id for bank in counting_banks(library.settings.plan, library.banks)}
    pool = reading.of_banks(counting).nonzero()[0].tolist()
    if not pool:
        raise InputError("a sample paper needs questions: import a bank, or describe it")
    subjects = {reading.ids[number]: reading.subject_of(number) for number in pool}
    drawn = draw_evenly(tuple(subjects), count, Random(seed))
    exam = exam_blueprint(library, reading)
    schemes = {section.subject: section.scheme for section in exam.sections}
    sections = tuple(
        Section(subject, number, schemes.get(subject, ""))
        for subject, number in Counter(subjects[question] for question in drawn).items()
    )
    blueprint = Blueprint(
        sections=sections, minutes=minutes_of(library, len(drawn)), scheme=exam.scheme
    )
    return DrawnPaper(PaperKind.SAMPLE, drawn, blueprint)


def _drawn(
    library: Library, reading: EvidenceLog, paper: Blueprint, seed: int, *, keyed: bool
) -> tuple[str, ...]:
    history = library.history
    pool = [
        DrawableQuestion(
            question,
            reading.subject_of(number),
            history.standing(question).tier,
            1.0 + history.standing(question).missed_days,
        )
        for number, question in enumerate(reading.ids)
        if not keyed or reading.has_key[number]
    ]
    return draw_paper(paper, pool, Random(seed))


def begin(
    library: Library,
    paper: DrawnPaper,
    seed: int,
    medium: Medium = Medium.ON_SCREEN,
    predicted: tuple[float, float] | None = None,
) -> str:
    """Open the paper's sitting; on screen the clock runs from here. Its id.

    `predicted` is where its score is said to lie, to be kept with it.
    """
    paper.blueprint.check()
    return library.open_sitting(
        paper.title,
        Purpose.PAPER,
        paper.questions,
        seed,
        paper.blueprint,
        paper_kind=paper.kind,
        medium=medium,
        sheet=medium is Medium.PRINTED,
        predicted=predicted,
    )


def under_way(library: Library, kind: PaperKind | None = None) -> Sitting | None:
    """The newest paper (of this kind) that was begun and not handed in."""
    return next(
        (
            paper
            for paper in _papers(library)
            if not paper.closed and kind in (None, paper.opened.paper_kind)
        ),
        None,
    )


def paper_of(library: Library, kind: PaperKind, day: date) -> Sitting | None:
    """The newest paper of this kind that was begun on a study day."""
    papers = (paper for paper in _papers(library) if paper.opened.paper_kind is kind)
    return next((paper for paper in papers if library.history.day(paper.opened.at) == day), None)


def papers_to_finish(library: Library) -> list[Sitting]:
    """The papers begun and not handed in, or handed in without an answer key; newest first."""
    return [paper for paper in _papers(library) if not paper.closed or awaiting_key(library, paper)]


def awaiting_key(library: Library, sitting: Sitting) -> list[str]:
    """The ids of its questions that were answered and have no answer key to be marked by yet."""
    return [
        name for name, response in sitting.given.items() if library.history.awaits_key(response)
    ]


def blueprint(sitting: Sitting) -> Blueprint:
    """The paper's own blueprint. Raises ValueError for a sitting that is no paper."""
    if sitting.opened.paper is None:
        raise ValueError(f"{sitting.opened.title}: no paper")
    return sitting.opened.paper


def deadline(sitting: Sitting) -> datetime | None:
    """When the time is up: so many minutes after the paper was opened, whatever came between.

    None for a printed one: nobody here knows when it was taken.
    """
    if sitting.opened.medium is Medium.PRINTED:
        return None
    return sitting.opened.at + timedelta(minutes=blueprint(sitting).minutes)


def hand_in(library: Library, sitting: Sitting) -> Result:
    """Close the paper. Raises StoreError.

    What was passed over goes on record as blank; what lies behind the last answer was never
    reached: it earns nothing in this paper and changes no tier.
    """
    blanks = [Given(question=question, chosen=()) for question in _passed_over(sitting)]
    if blanks:
        library.record(blanks, Purpose.PAPER, sitting=sitting.opened.id, label="the paper")
    library.close_sitting(sitting.opened.id)
    return marked(library, sitting)


def _passed_over(sitting: Sitting) -> list[str]:
    given, questions = sitting.given, sitting.opened.questions
    reached = max((place for place, name in enumerate(questions) if name in given), default=0)
    return [question for question in questions[:reached] if question not in given]


def marked(library: Library, sitting: Sitting) -> Result:
    """The paper's result under its own blueprint and the keys in force now.

    What awaits its answer key is left out.
    """
    paper, without_key = blueprint(sitting), set(awaiting_key(library, sitting))
    answered = [
        _answered(library, sitting, question, paper)
        for question_id in sitting.opened.questions
        if question_id not in without_key
        and (question := library.question(question_id)) is not None
    ]
    return result(answered, paper.marking())


class PaperItem(Struct, frozen=True):
    """A question of a paper handed in: its place there (1 upwards), where it stands in the bank,
    what was given and the answer key in words, and what came of it.

    `verdict` is None while the answer awaits its key, `response` the id of the one that counts.
    """

    place: int
    question: str
    subject: str
    chapter: str
    number: int
    given: str
    answer_key: str
    verdict: Verdict | None
    confidence: Confidence
    seconds: float
    reason: Reason | None
    response: str


class PaperReport(Struct, frozen=True):
    """Everything about a paper handed in. `titles` are those of the subjects by key.

    `seconds` is the exam's time for a question.
    """

    title: str
    kind: PaperKind
    scheme: str
    result: Result
    titles: dict[str, str]
    seconds: float
    questions: tuple[PaperItem, ...]
    predicted: tuple[float, float] | None

    @property
    def marked(self) -> int:
        """How many questions were reached and have a key."""
        return sum(bool(item.response) and item.verdict is not None for item in self.questions)

    @property
    def is_too_short(self) -> bool:
        """Whether it would tell of the score, if more of it were marked."""
        return self.kind is not PaperKind.MOCK and self.marked < FEWEST_MARKED

    @property
    def missed(self) -> list[str]:
        """The ids of what was wrong or left blank."""
        return [
            question.question
            for question in self.questions
            if question.verdict in (Verdict.WRONG, Verdict.BLANK)
        ]


def paper_report(library: Library, sitting: Sitting) -> PaperReport:
    """The paper, under its own scheme and the keys in force now."""
    opened, paper, given = sitting.opened, blueprint(sitting), sitting.given
    titles: dict[str, str] = {}
    lines = []
    for place, name in enumerate(opened.questions, 1):
        if (question := library.question(name)) is None:
            continue
        location = library.location(question)
        titles[f"{location.bank.id}/{location.subject.id}"] = location.subject.title
        lines.append(_question_line(library, place, question, given.get(name)))
    allowed = paper.minutes * 60 / (len(opened.questions) or 1)
    return PaperReport(
        opened.title,
        opened.paper_kind or PaperKind.MOCK,
        paper.scheme,
        marked(library, sitting),
        titles,
        allowed,
        tuple(lines),
        opened.predicted,
    )


def _question_line(
    library: Library, place: int, question: Question, response: Response | None
) -> PaperItem:
    """The letters are those of the printed order."""
    shown = show_question(library, question, None)
    location, history = shown.location, library.history
    verdict: Verdict | None = Verdict.BLANK
    if response is not None:
        verdict = None if history.awaits_key(response) else history.verdict(response)
    return PaperItem(
        place,
        question.id,
        location.subject.title,
        location.chapter.title,
        question.number,
        given_words(shown, response) if response else "",
        key_words(shown),
        verdict,
        response.confidence if response else Confidence.SURE,
        response.seconds if response else 0.0,
        history.reason(response) if response else None,
        response.id if response else "",
    )


def papers_taken(library: Library, kind: PaperKind | None = None) -> list[PaperSummary]:
    """The papers (of this kind) handed in, oldest first."""
    return [
        _summary(library, paper)
        for paper in _papers(library)
        if paper.closed and kind in (None, paper.opened.paper_kind)
    ][::-1]


def next_mark(papers: Sequence[PaperSummary]) -> tuple[float, float] | None:
    """The 90 % range of the next paper's share of the best mark; None under two papers."""
    shares = [paper.marks / paper.best for paper in papers if paper.best]
    if len(shares) < 2:
        return None
    return prediction_interval(mean(shares), stdev(shares), len(shares))


def _papers(library: Library) -> Iterator[Sitting]:
    """All papers but those ended without a result, the newest first."""
    papers = [
        sitting
        for sitting in library.history.sittings.values()
        if sitting.opened.paper is not None and not sitting.discarded
    ]
    return iter(sorted(papers, key=lambda paper: paper.opened.at, reverse=True))


def _summary(library: Library, sitting: Sitting) -> PaperSummary:
    result, opened = marked(library, sitting), sitting.opened
    return PaperSummary(
        opened.id,
        opened.paper_kind or PaperKind.MOCK,
        opened.title,
        opened.at,
        len(opened.questions),
        blueprint(sitting).scheme,
        float(result.marks),
        float(result.best),
        sum(part.right for part in result.parts),
        sum(part.wrong for part in result.parts),
        sum(part.blank for part in result.parts),
        opened.predicted,
        opened.paper_kind is not PaperKind.MOCK and len(_right(library, sitting)) < FEWEST_MARKED,
    )


def measuring_papers(library: Library) -> list[tuple[date, dict[str, bool]]]:
    """The sample papers and rehearsals that tell of the score, oldest first: the study day, and
    which of the questions that were reached were right.
    """
    return [(day, right) for day, right in _measured(library) if len(right) >= FEWEST_MARKED]


def papers_too_short(library: Library) -> list[date]:
    """The study days of those that tell nothing of it, for too few questions are marked; without
    those that were never entered, or undone.
    """
    return [day for day, right in _measured(library) if 0 < len(right) < FEWEST_MARKED]


def _measured(library: Library) -> Iterator[tuple[date, dict[str, bool]]]:
    history = library.history
    for sitting in reversed(list(_papers(library))):
        if sitting.closed and sitting.opened.paper_kind is not PaperKind.MOCK:
            yield history.day(sitting.opened.at), _right(library, sitting)


def _right(library: Library, sitting: Sitting) -> dict[str, bool]:
    """Which of a paper's questions that were reached and have a key were right."""
    history = library.history
    return {
        name: history.verdict(response) is Verdict.RIGHT
        for name, response in sitting.given.items()
        if not history.awaits_key(response)
    }


def _answered(library: Library, sitting: Sitting, question: Question, paper: Blueprint) -> Answered:
    """One question as it was handed in; without an answer it is blank."""
    given = [
        response
        for response in library.history.responses(question.id)
        if response.sitting == sitting.opened.id and response.question == question.id
    ]
    verdicts = [library.history.verdict(response) for response in given]
    return Answered(
        question=question.id,
        subject=f"{question.id.partition('/')[0]}/{library.location(question).subject.id}",
        verdict=verdicts[-1] if given else Verdict.BLANK,
        confidence=given[-1].confidence if given else Confidence.SURE,
        seconds=sum(response.seconds for response in given),
        earlier=tuple(verdicts[:-1]),
        share=_share(library, question, given[-1].chosen, paper) if given else None,
        options=_options(library, question),
        reason=(library.history.reason(given[-1]) or "") if given else "",
    )


def _options(library: Library, question: Question) -> int:
    """How many options there were to guess among."""
    if question.kind not in (Kind.BEST, Kind.TRUE_FALSE):
        return 0
    return len(question.options) or library.location(question).bank.option_count


def _share(
    library: Library, question: Question, chosen: tuple[str, ...] | None, paper: Blueprint
) -> Fraction | None:
    if question.kind is not Kind.MULTIPLE or paper.multiple is MultipleRule.ALL_OR_NOTHING:
        return None
    options = [option.id for option in question.options]
    return share_right(paper.multiple, options, library.answer_key(question), chosen or ())
