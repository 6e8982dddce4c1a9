"""The demo's log while it is written: records with sortable ids, and the clock of each day."""

from collections.abc import Callable, Sequence
from datetime import date, datetime, time, timedelta, tzinfo
from random import Random
from typing import Any

from banks.demo.candidate import Candidate, Gave
from domain.grading import number
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
"""Seconds between one go and the next that follows at once."""

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
                Response, question=question.id, chosen=chosen, verdict=verdict,
                confidence=gave.confidence, seconds=gave.seconds if timed else 0.0,
                purpose=purpose, sitting=sitting,
            )  # fmt: skip
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
