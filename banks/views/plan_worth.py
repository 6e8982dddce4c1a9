"""What a change of plan is expected to bring in the exam: both plans lived through the model."""

from collections import defaultdict
from functools import cached_property
from statistics import fmean

from banks.library import Library
from banks.planning.workload import PlanWorkload, try_out
from banks.views.evidence_log import evidence_log
from banks.views.sweeping import candidates, exam_day, lookahead
from domain.chooser import Choosable, Pool, worth_per_second
from domain.evidence.differences import (
    MOST_QUESTIONS,
    AnswerDays,
    PlannedQuestion,
    ScoreDifference,
    score_difference,
)
from domain.evidence.memory.logistic import Logistic
from domain.evidence.memory.practice import UNSEEN
from domain.plan.answer_days import QuestionAhead, answer_days
from domain.plan.inputs import PlanInputs
from domain.plan.study_plan import StudyPlan


class PlanWorth:
    """Compares plans with the one that is kept, on this morning. Meant for a thread.

    The log is read and the model fitted when the first comparison is asked for.
    """

    def __init__(self, library: Library, workload: PlanWorkload) -> None:
        self._library, self._workload = library, workload

    def difference(self, after: StudyPlan) -> ScoreDifference | None:
        """What this plan brings against the kept one; None while no model can be trusted."""
        if self._model is None:
            return None
        planned = [
            PlannedQuestion(
                question.subject, question.practice, question.worth * self._stride, kept, new
            )
            for question, kept, new in zip(
                self._sample, self._kept_days, self._days(after), strict=True
            )
        ]
        return score_difference(planned, self._model, self._exam)

    def kept(self) -> list[AnswerDays] | None:
        """Questions evenly spaced over the book with the days on which the kept plan has them
        answered; None while no model can be trusted.
        """
        if self._model is None:
            return None
        return [
            AnswerDays(question.subject, question.practice, days)
            for question, days in zip(self._sample, self._kept_days, strict=True)
        ]

    def chapters(self) -> dict[str, float]:
        """What a question of each chapter is worth per second on average, by the chooser."""
        read = evidence_log(self._library)
        ahead = lookahead(self._library, read)
        worth = worth_per_second(self._pool, self._workload.today.toordinal(), ahead)
        worths: dict[str, list[float]] = defaultdict(list)
        numbered = self._workload.numbered(self._pool.names)
        for (chapter, _), each in zip(numbered, worth.tolist(), strict=True):
            worths[chapter].append(each)
        return {chapter: fmean(values) for chapter, values in worths.items()}

    def readiness(self) -> dict[str, float]:
        """Expected ÷ possible score in the exam by subject, if nothing more is revised."""
        chances = evidence_log(self._library).memory.chances
        expected: dict[str, list[float]] = defaultdict(list)
        for question in self._pool.choosables():
            cell = question.practice.cell(self._exam) if question.practice else UNSEEN
            expected[question.subject].append(chances.chance(question.subject, cell))
        return {subject: fmean(values) for subject, values in expected.items()}

    def of(self, inputs: PlanInputs) -> ScoreDifference | None:
        """What a plan with these inputs brings. Raises InputError where none can be made."""
        return self.difference(try_out(self._workload, inputs)) if self._model else None

    @cached_property
    def _exam(self) -> int:
        """The ordinal of the exam's day."""
        return exam_day(self._library, evidence_log(self._library)).toordinal()

    @cached_property
    def _model(self) -> Logistic | None:
        return evidence_log(self._library).memory.trusted_model

    @cached_property
    def _pool(self) -> Pool:
        every = candidates(self._library, evidence_log(self._library), this_morning=True)
        return every.only(lambda _, subject: subject in self._workload.locations)

    @property
    def _stride(self) -> int:
        return max(1, -(-self._pool.size // MOST_QUESTIONS))

    @cached_property
    def _sample(self) -> list[Choosable]:
        """Questions evenly spaced over the book, which stand for all."""
        return [*map(self._pool.choosable, range(0, self._pool.size, self._stride))]

    @cached_property
    def _kept_days(self) -> list[tuple[int, ...]]:
        return self._days(self._workload.plan())

    def _days(self, plan: StudyPlan) -> list[tuple[int, ...]]:
        workload = self._workload
        progress = workload.progress(workload.today)
        visited = [*progress.blocks, *progress.sweeps]
        return answer_days(
            plan, self._ahead, workload.own_seconds, visited, len(self._sample) / self._pool.size
        )

    @cached_property
    def _ahead(self) -> list[QuestionAhead]:
        numbered = self._workload.numbered(question.question for question in self._sample)
        return [
            QuestionAhead(
                question.subject,
                chapter,
                number,
                question.worth,
                question.since,
                question.signs,
                question.settled,
            )
            for question, (chapter, number) in zip(self._sample, numbered, strict=True)
        ]
