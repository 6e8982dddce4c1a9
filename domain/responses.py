"""What happened, as records: the candidate's responses and what they said about questions.

Records are only ever added. A correction or an undo is a further record. Every record has an
`id` (unique for ever, sortable by age), and `at`: when, with the offset of the candidate's own
clock, so that the study day it belongs to never changes.

Records written before format 2 decode as they are: old spellings and missing fields are read as
what they meant then.
"""

from datetime import date, datetime, timedelta
from enum import StrEnum
from typing import Annotated, Any

from msgspec import Meta, Struct, field
from msgspec.structs import force_setattr

from domain.marking.blueprint import Blueprint
from domain.tiers import Tier
from domain.verdicts import Confidence, Verdict

FIRST_YEAR, LAST_YEAR = 1970, 2999
"""No record is of an earlier or later year: day arithmetic never leaves the calendar."""

Seconds = Annotated[float, Meta(ge=0, le=10_000_000)]
Count = Annotated[int, Meta(ge=0, le=1_000_000)]


class Purpose(StrEnum):
    """Why the candidate was answering."""

    STUDY = "first study"
    REVISION = "revision"
    SWEEP = "sweep"
    PASS = "pass"
    PAPER = "paper"
    FREE = "free drill"

    @classmethod
    def _missing_(cls, value: object) -> "Purpose | None":
        return cls.PAPER if value == "mock paper" else None  # its spelling in format 1


class Reason(StrEnum):
    """Why a response was a miss or unsure, in the candidate's own judgement."""

    UNKNOWN = "didn't know"
    MIXED_UP = "mixed up"
    MISREAD = "misread"
    SLIP = "slip"


class Medium(StrEnum):
    """Where the questions of a sitting are read."""

    ON_SCREEN = "on screen"
    PRINTED = "printed"


class PaperKind(StrEnum):
    """What kind of paper a sitting with `Purpose.PAPER` is."""

    MOCK = "mock paper"
    SAMPLE = "sample paper"
    REHEARSAL = "rehearsal"


class VisitKind(StrEnum):
    """What was begun: a subject's block of days, one sweep, or a day's pass over many subjects."""

    BLOCK = "block"
    SWEEP = "sweep"
    PASS = "pass"


class VisitEnd(StrEnum):
    """How a visit ended: its list was done, the candidate said enough, or there was no list."""

    DONE = "done"
    ENOUGH = "enough"
    EMPTY = "empty"


class Record(Struct, frozen=True, kw_only=True, omit_defaults=True, gc=False, tag_field="what"):
    """What all records share.

    `act` names the first record of those that the candidate made in one go and that undo takes
    back together; "" where it is this one.
    """

    id: Annotated[str, Meta(min_length=1)]
    at: Annotated[datetime, Meta(tz=True)]
    act: str = ""


class Response(Record, frozen=True, kw_only=True, tag="response"):
    """What the candidate gave to one question at one moment.

    `chosen` holds option ids, or the text or number that was typed; None with a `verdict` when
    the candidate judged it themselves with the book open. `chosen` = () is a blank.
    `seconds` is thinking time, 0 where it was not measured; `reading` the seconds spent on the
    answer, where they were known at once (else a `ReadingTime` follows). `sitting` names the
    sitting it belongs to. `was_sure`: of a miss judged by themselves, they say that they had been
    sure; what `confidence` says of a choice.
    """

    question: str
    chosen: tuple[str, ...] | None = None
    verdict: Verdict | None = None
    confidence: Confidence = field(default=Confidence.SURE, name="sureness")
    seconds: Seconds = 0.0
    reading: Seconds = 0.0
    purpose: Purpose = Purpose.REVISION
    sitting: str = ""
    reason: Reason | None = None
    was_sure: bool = False


class Withdrawal(Record, frozen=True, kw_only=True, tag="withdrawal"):
    """The records named here never happened. Final: a withdrawal can't be withdrawn.

    With an `act`, they were replaced by the records of that act.
    """

    targets: tuple[str, ...]


class HandTier(Record, frozen=True, kw_only=True, tag="hand-tier"):
    """The candidate set the question's tier by hand, for a reason."""

    question: str
    tier: Tier
    reason: str


class Dispute(Record, frozen=True, kw_only=True, tag="dispute"):
    """The candidate believes another key. An empty `key` gives the bank's key its place back."""

    question: str
    key: tuple[str, ...]
    note: str = ""


class Note(Record, frozen=True, kw_only=True, tag="note"):
    """The candidate's own note on a question; the newest counts, an empty one removes it."""

    question: str
    text: str


class Flag(Record, frozen=True, kw_only=True, tag="flag"):
    """The candidate flagged the question to come back to it, or took the flag off."""

    question: str
    on: bool


class ResponseReason(Record, frozen=True, kw_only=True, tag="miss-reason"):
    """Why the response named was a miss, or unsure; the newest counts."""

    response: str
    reason: Reason


class ReadingTime(Record, frozen=True, kw_only=True, tag="reading"):
    """The seconds spent on the answer to the response named; the newest counts."""

    response: str
    seconds: Seconds


class SittingOpened(Record, frozen=True, kw_only=True, tag="sitting-opened"):
    """A sitting begins: `questions` in the order they are taken. Its name is this id.

    A paper keeps its blueprint: its minutes run from `at`, its scheme marks it for ever; and
    `predicted`, where its score was said to lie before it was taken (90 % range, in marks).
    `visit` names the `VisitBegun` it serves. `sheet`: its list was printed, so it is kept even
    without responses. `minutes` is the time that was set for it, 0 for none.
    """

    title: str
    purpose: Purpose
    questions: tuple[str, ...]
    seed: int = 0
    paper: Blueprint | None = None
    paper_kind: PaperKind | None = None
    medium: Medium | None = None
    visit: str = ""
    sheet: bool = False
    predicted: tuple[float, float] | None = None
    minutes: Count = 0

    def __post_init__(self) -> None:
        """Read what format 1 did not say: a printed sitting had a prefix to its title then."""
        if self.medium is None:
            is_printed = self.title.startswith(_PRINTED)
            force_setattr(self, "medium", Medium.PRINTED if is_printed else Medium.ON_SCREEN)
            force_setattr(self, "title", self.title.removeprefix(_PRINTED))
        if self.purpose is Purpose.PAPER and self.paper_kind is None:
            force_setattr(self, "paper_kind", PaperKind.MOCK)


_PRINTED = "Paper · "


class SittingClosed(Record, frozen=True, kw_only=True, tag="sitting-closed"):
    """The sitting is over, not to be resumed; a paper `discarded` has no result."""

    sitting: str
    discarded: bool = False


class VisitBegun(Record, frozen=True, kw_only=True, tag="visit-begun"):
    """A planned visit to a subject begins, or the day's pass; its name is this id.

    `planned` is its day in the plan. The lists are fixed now: `questions` the repeatedly missed
    in order, `also_open` and `untried` what is offered beside them. A pass has only `questions`,
    and "" for bank and subject.
    """

    kind: VisitKind
    bank: str
    subject: str
    round: Count
    planned: date
    questions: tuple[str, ...] = ()
    also_open: tuple[str, ...] = ()
    untried: tuple[str, ...] = ()


class VisitEnded(Record, frozen=True, kw_only=True, tag="visit-ended"):
    """The visit named is over."""

    visit: str
    how: VisitEnd


class PlanAccepted(Record, frozen=True, kw_only=True, tag="plan-accepted"):
    """The plan's inputs as written at acceptance, and what they replaced (None: none before).

    Both are `PlanInputs` as plain JSON values, so that a later resieve reads an older one's.
    """

    before: dict[str, Any] | None
    after: dict[str, Any]


class OutsidePaper(Record, frozen=True, kw_only=True, tag="outside-paper"):
    """The result of a paper sat elsewhere on `day`: how many questions, right, wrong and blank.

    `met` is how many of them the candidate had met before, None if unknown; `by_subject` holds
    (subject title, right, wrong, blank). `predicted` is where the score was said to lie before it
    (90 % range, in marks of the exam's scheme).
    """

    day: date
    questions: Count
    right: Count
    wrong: Count
    blank: Count
    met: Count | None = None
    by_subject: tuple[tuple[str, Count, Count, Count], ...] = ()
    title: str = ""
    predicted: tuple[float, float] | None = None


class ExamTopic(Record, frozen=True, kw_only=True, tag="exam-topic"):
    """What came in the exam: the title of a subject or chapter, or free words."""

    text: str


class FirstStudyDone(Record, frozen=True, kw_only=True, tag="first-study"):
    """A chapter, or with "" the whole subject, is said to be studied by `day`."""

    bank: str
    subject: str
    day: date
    chapter: str = ""


class BankSaved(Record, frozen=True, kw_only=True, tag="bank-saved"):
    """A bank was changed by an edit or import that can be undone; `label` says by which.

    `before` is the file name of the kept former version ("": there was no such bank), `after`
    the check sum of the version saved.
    """

    bank: str
    label: str
    before: str = ""
    after: str = ""


AnyRecord = (
    Response
    | Withdrawal
    | HandTier
    | Dispute
    | Note
    | Flag
    | ResponseReason
    | ReadingTime
    | SittingOpened
    | SittingClosed
    | VisitBegun
    | VisitEnded
    | PlanAccepted
    | OutsidePaper
    | ExamTopic
    | FirstStudyDone
    | BankSaved
)


def study_day(at: datetime, turn_hour: int = 3) -> date:
    """The day as the candidate lives it: before `turn_hour` it is still the evening before.

    Total: the first day there is has no evening before.
    """
    day = at.date()
    return day - timedelta(days=1) if at.hour < turn_hour and day > date.min else day
