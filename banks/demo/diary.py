"""The demo's log while it is written: records with sortable ids, and the clock of each day."""

from collections.abc import Callable, Iterator, Sequence
from datetime import date, datetime, time, timedelta, tzinfo
from random import Random
from typing import Any

from msgspec import Struct

from banks.demo.candidate import Candidate, Gave
from domain.grading import number
from domain.plan.inputs import ONE_DAY, monday
from domain.questions import Kind, Question
from domain.responses import (
    AnyRecord,
    Purpose,
    Reason,
    Response,
    ResponseReason,
    SittingClosed,
    SittingOpened,
    VisitBegun,
    VisitKind,
)
from domain.verdicts import Verdict

_PAUSE = 300
"""Seconds between one sitting and the next that follows at once."""

_REASONS = (Reason.UNKNOWN,) * 4 + (Reason.MIXED_UP,) * 3 + (Reason.MISREAD, Reason.SLIP)
_WHY_SHARE = 0.35
"""The share of drilled misses that the candidate gives a reason for."""

Give = Callable[[Question, Gave], tuple[tuple[str, ...] | None, Verdict | None]]


class Diary:
    """Writes the candidate's days. `records` is the log so far, in time order.

    Ids sort by age, and before any that a store gives.
    """

    def __init__(self, candidate: Candidate, rng: Random, zone: tzinfo) -> None:
        self.records: list[AnyRecord] = []
        self._candidate = candidate
        self._rng = rng
        self._zone = zone
        self._now = datetime.min.replace(tzinfo=zone)

    def mark(
        self, title: str, purpose: Purpose, day: date, begin: time, questions: Sequence[Question]
    ) -> list[Question]:
        """A go on paper, each question judged with the book open. Returns those not known."""
        return self._go(title, purpose, day, begin, questions, _judged)

    def drill(
        self, title: str, day: date, begin: time, questions: Sequence[Question], stop: int = 0
    ) -> list[Question]:
        """A free drill; with `stop`, left after so many. Returns those not known."""
        return self._go(title, Purpose.FREE, day, begin, questions, self._chosen, stop)

    def begin_sweep(
        self, bank: str, subject: str, day: date, begin: time, questions: Sequence[Question]
    ) -> None:
        """The planned sweep of a subject begins, with the list that is taken."""
        self._now = max(datetime.combine(day, begin, self._zone), self._now)
        self.say(
            VisitBegun,
            kind=VisitKind.SWEEP,
            bank=bank,
            subject=subject,
            round=1,
            planned=day,
            questions=tuple(question.id for question in questions),
        )

    def say(self, kind: type[AnyRecord], /, **fields: Any) -> str:
        """Add a record of this kind, of the present moment. Returns its id."""
        name = f"00demo{len(self.records) + 1:06d}"
        self.records.append(kind(id=name, at=self._now, **fields))
        return name

    def _go(
        self,
        title: str,
        purpose: Purpose,
        day: date,
        begin: time,
        questions: Sequence[Question],
        give: Give,
        stop: int = 0,
    ) -> list[Question]:
        start = datetime.combine(day, begin, self._zone)
        self._now = max(start, self._now + timedelta(seconds=_PAUSE))
        names = tuple(question.id for question in questions)
        sitting = self.say(SittingOpened, title=title, purpose=purpose, questions=names)
        unknown = self._answer(questions[: stop or None], purpose, sitting, give)
        if not stop:
            self.say(SittingClosed, sitting=sitting)
        return unknown

    def _answer(
        self, questions: Sequence[Question], purpose: Purpose, sitting: str, give: Give
    ) -> list[Question]:
        day = self._now.toordinal()
        start, spent = self._now, 0.0
        timed = purpose is not Purpose.STUDY
        unknown = []
        for question in questions:
            gave = self._candidate.answer(question.id, day)
            spent += gave.seconds
            chosen, verdict = give(question, gave)
            self._now = start + timedelta(seconds=int(spent))
            response = self.say(
                Response,
                question=question.id,
                chosen=chosen,
                verdict=verdict,
                confidence=gave.confidence,
                seconds=gave.seconds if timed else 0.0,
                purpose=purpose,
                sitting=sitting,
            )
            if not gave.right:
                unknown.append(question)
                if chosen and self._rng.random() < _WHY_SHARE:
                    self.say(ResponseReason, response=response, reason=self._rng.choice(_REASONS))
        return unknown

    def _chosen(
        self, question: Question, gave: Gave
    ) -> tuple[tuple[str, ...] | None, Verdict | None]:
        """What a candidate who fared so would have given to a question with its text."""
        if gave.right:
            return (
                question.answer_key if question.kind is Kind.MULTIPLE else question.answer_key[:1]
            ), None
        if gave.blank:
            return (), None
        if question.kind is Kind.MULTIPLE:
            return question.answer_key[1:], None
        if question.kind is Kind.NUMERIC:
            return (str((number(question.answer_key[0]) or 0) + 1),), None
        if question.kind is Kind.TEXT:
            return (question.answer_key[0][:-1] or "?",), None
        distractors = [
            option.id for option in question.options if option.id not in question.answer_key
        ]
        # A wrong idea is usually the same wrong idea.
        usual = distractors[len(question.stem) % len(distractors)]
        return (usual if self._rng.random() < 0.6 else self._rng.choice(distractors),), None


def _judged(_: Question, gave: Gave) -> tuple[None, Verdict]:
    if gave.right:
        return None, Verdict.RIGHT
    return None, Verdict.BLANK if gave.blank else Verdict.WRONG


HISTORY_DAYS = 120
"""How far back the history begins."""

REVISION_WEEKS = 10
"""Whole weeks since the plan began, the week of illness among them."""

ILL_WEEKS_AGO = 4
"""Which of them was lost to the illness; 1 is last week."""

_MISSED_DAYS = 6
_SATURDAY, _SUNDAY = 5, 6


class Workday(Struct, frozen=True):
    """A day on which the candidate worked. `week` counts the plan's worked weeks, from 0;
    None before the plan began.
    """

    day: date
    week: int | None

    @property
    def is_sweep(self) -> bool:
        """Whether it is the week's sweep day."""
        return self.day.weekday() == _SATURDAY


def plan_start(today: date) -> date:
    """The Monday on which the plan began."""
    return monday(today) - REVISION_WEEKS * 7 * ONE_DAY


def exam_day(today: date) -> date:
    """The exam: a Tuesday fourteen weeks on."""
    return monday(today) + (14 * 7 + 1) * ONE_DAY


def opening_day(today: date) -> date:
    """Next Monday: what is still without its first study can be revised from then on."""
    return monday(today) + 7 * ONE_DAY


def ill_days(today: date) -> list[date]:
    """The week of illness, Monday to Sunday."""
    first = monday(today) - ILL_WEEKS_AGO * 7 * ONE_DAY
    return [first + step * ONE_DAY for step in range(7)]


def workdays(today: date, rng: Random) -> list[Workday]:
    """The days worked on, oldest first: never a Sunday, none while ill, a few missed."""
    ill = set(ill_days(today))
    days = [day for day in _days(today) if day.weekday() != _SUNDAY and day not in ill]
    early = [
        day for day in days if day < monday(today) - 7 * ONE_DAY and day.weekday() != _SATURDAY
    ]
    missed = set(rng.sample(early, _MISSED_DAYS))
    return [Workday(day, _plan_week(day, today)) for day in days if day not in missed]


def _days(today: date) -> Iterator[date]:
    return (today - timedelta(days=back) for back in range(HISTORY_DAYS, 0, -1))


def _plan_week(day: date, today: date) -> int | None:
    weeks = (day - plan_start(today)).days // 7
    if weeks < 0:
        return None
    return weeks - (weeks > REVISION_WEEKS - ILL_WEEKS_AGO)
