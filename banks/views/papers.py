"""Mock papers: the one under way, and the results of those handed in."""

from collections.abc import Iterator, Sequence
from datetime import datetime, timedelta
from fractions import Fraction
from random import Random
from statistics import mean, stdev

from msgspec import Struct

from banks.library import Given, Library
from banks.views.evidence_log import EvidenceLog
from domain.evidence.intervals import prediction_interval
from domain.history import Sitting
from domain.marking.blueprint import Blueprint, DrawableQuestion, draw_paper
from domain.marking.results import Answered, Result, result
from domain.marking.schemes import MultipleRule, share_right
from domain.questions import Kind, Question
from domain.responses import Purpose
from domain.verdicts import Confidence, Verdict


class Sat(Struct, frozen=True):
    """A paper that was handed in, in short. Marks are decimals."""

    sitting: str
    title: str
    at: datetime
    questions: int
    scheme: str
    marks: float
    best: float
    right: int
    wrong: int
    blank: int


def begin(library: Library, reading: EvidenceLog, paper: Blueprint, seed: int) -> str:
    """Draw a paper and open its sitting: the clock runs from here. Raises InputError.

    A bare question can't come: it has nothing to be marked by.
    """
    paper.check()
    pool = [
        DrawableQuestion(
            one.question.id, one.subject, library.history.standing(one.question.id).tier,
            1.0 + library.history.standing(one.question.id).missed_days,
        )
        for one in reading.studied
        if library.answer_key(one.question)
    ]  # fmt: skip
    questions = draw_paper(paper, pool, Random(seed))
    title = f"Mock paper, {paper.questions} questions, {paper.minutes} min"
    return library.open_sitting(title, Purpose.PAPER, questions, seed, paper)


def under_way(library: Library) -> Sitting | None:
    """The newest paper that was begun and not handed in."""
    return next((one for one in _papers(library) if not one.closed), None)


def blueprint(sitting: Sitting) -> Blueprint:
    """The paper's own blueprint. Raises ValueError for a sitting that is no paper."""
    if sitting.opened.paper is None:
        raise ValueError(f"{sitting.opened.title}: no paper")
    return sitting.opened.paper


def deadline(sitting: Sitting) -> datetime:
    """When the time is up: so many minutes after the paper was opened, whatever came between."""
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
    """The paper's result under its own blueprint and the keys in force now."""
    paper = blueprint(sitting)
    answered = [
        _answered(library, sitting, question, paper)
        for question_id in sitting.opened.questions
        if (question := library.question(question_id)) is not None
    ]
    return result(answered, paper.marking())


def sat(library: Library) -> list[Sat]:
    """The papers handed in, oldest first."""
    return [_short(library, one) for one in _papers(library) if one.closed][::-1]


def next_mark(papers: Sequence[Sat]) -> tuple[float, float] | None:
    """Where the next paper's share of the best mark lies nine times in ten; None under two."""
    shares = [one.marks / one.best for one in papers if one.best]
    if len(shares) < 2:
        return None
    return prediction_interval(mean(shares), stdev(shares), len(shares))


def _papers(library: Library) -> Iterator[Sitting]:
    """All mock papers, the newest first."""
    found = [one for one in library.history.sittings.values() if one.opened.paper is not None]
    return iter(sorted(found, key=lambda one: one.opened.at, reverse=True))


def _short(library: Library, sitting: Sitting) -> Sat:
    found, opened = marked(library, sitting), sitting.opened
    return Sat(
        opened.id, opened.title, opened.at, len(opened.questions), blueprint(sitting).scheme,
        float(found.marks), float(found.best),
        sum(part.right for part in found.parts), sum(part.wrong for part in found.parts),
        sum(part.blank for part in found.parts),
    )  # fmt: skip


def _answered(library: Library, sitting: Sitting, question: Question, paper: Blueprint) -> Answered:
    """One question as it was handed in; without an answer it is blank."""
    given = [
        one
        for one in library.history.responses(question.id)
        if one.sitting == sitting.opened.id and one.question == question.id
    ]
    verdicts = [library.history.verdict(one) for one in given]
    return Answered(
        question=question.id,
        subject=f"{question.id.partition('/')[0]}/{library.location(question).subject.id}",
        verdict=verdicts[-1] if given else Verdict.BLANK,
        confidence=given[-1].confidence if given else Confidence.SURE,
        seconds=sum(one.seconds for one in given),
        earlier=tuple(verdicts[:-1]),
        share=_share(library, question, given[-1].chosen, paper) if given else None,
        options=_options(library, question),
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
