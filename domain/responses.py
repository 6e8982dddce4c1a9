"""What happened, as records: the candidate's responses and what they said about questions.

Records are only ever added. A correction or an undo is a further record. Every record has an
`id` (unique for ever, sortable by age), and `at`: when, with the offset of the candidate's own
clock, so that the study day it belongs to never changes.
"""

from datetime import date, datetime, timedelta
from enum import StrEnum

from msgspec import Struct, field

from domain.marking.blueprint import Blueprint
from domain.tiers import Tier
from domain.verdicts import Confidence, Verdict


class Purpose(StrEnum):
    """Why the candidate was answering."""

    STUDY = "first study"
    REVISION = "revision"
    SWEEP = "sweep"
    MOCK = "mock paper"
    FREE = "free drill"


class Reason(StrEnum):
    """Why a question was missed, in the candidate's own judgement."""

    UNKNOWN = "didn't know"
    MIXED_UP = "mixed up"
    MISREAD = "misread"
    SLIP = "slip"


class Record(Struct, frozen=True, kw_only=True, omit_defaults=True, gc=False, tag_field="what"):
    """What all records share."""

    id: str
    at: datetime


class Response(Record, frozen=True, kw_only=True, tag="response"):
    """What the candidate gave to one question at one moment.

    `chosen` holds option ids, or the text or number that was typed; None with a `verdict` when
    the candidate judged it themselves with the book open. `chosen` = () is a blank.
    `seconds` is 0 where the time was not measured. `sitting` names the go it belongs to.
    """

    question: str
    chosen: tuple[str, ...] | None = None
    verdict: Verdict | None = None
    confidence: Confidence = field(default=Confidence.SURE, name="sureness")
    seconds: float = 0.0
    purpose: Purpose = Purpose.REVISION
    sitting: str = ""


class Withdrawal(Record, frozen=True, kw_only=True, tag="withdrawal"):
    """The records named here never happened. Final: a withdrawal can't be withdrawn."""

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


class ResponseReason(Record, frozen=True, kw_only=True, tag="miss-reason"):
    """Why the response named was a miss; the newest counts."""

    response: str
    reason: Reason


class SittingOpened(Record, frozen=True, kw_only=True, tag="sitting-opened"):
    """A go begins: `questions` in the order they are taken. The sitting's name is this id.

    A mock paper keeps its blueprint: its minutes run from `at`, its scheme marks it for ever.
    """

    title: str
    purpose: Purpose
    questions: tuple[str, ...]
    seed: int = 0
    paper: Blueprint | None = None


class SittingClosed(Record, frozen=True, kw_only=True, tag="sitting-closed"):
    """The go is over: nothing of it is to be resumed."""

    sitting: str


AnyRecord = (
    Response
    | Withdrawal
    | HandTier
    | Dispute
    | Note
    | ResponseReason
    | SittingOpened
    | SittingClosed
)


def study_day(at: datetime, turn_hour: int = 3) -> date:
    """The day as the candidate lives it: before `turn_hour` it is still the evening before.

    Total: the first day there is has no evening before.
    """
    day = at.date()
    return day - timedelta(days=1) if at.hour < turn_hour and day > date.min else day
