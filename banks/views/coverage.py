"""First study, rounds and sweeps, each apart: what was due by when in the plan as it was on its
first day, and what is done.
"""

from collections import Counter
from datetime import date

from msgspec import Struct

from banks.library import Library
from banks.planning.first_study import FirstStudies
from banks.planning.workload import PlanWorkload
from banks.views.evidence_log import EvidenceLog
from domain.errors import InputError
from domain.plan.study_plan import EntryKind
from domain.responses import Purpose
from domain.tiers import Tier


class RoundCoverage(Struct, frozen=True):
    """A round's revision blocks in questions: all of them, due by today, and done."""

    round: int
    planned: int
    due: int
    done: int


class SweepCoverage(Struct, frozen=True):
    """The sweeps of the first plan, how many of them were due before today, and those finished."""

    planned: int
    due: int
    done: int


class StudyCoverage(Struct, frozen=True):
    """The questions of the banks that count; those studied were tried or said to be studied."""

    questions: int
    studied: int


class Coverage:
    """What was due and what is done, by day. `has_plan` is False where no exam day is set.

    Questions revised count once a block, questions swept once; first study apart.
    """

    def __init__(self, library: Library, reading: EvidenceLog) -> None:
        self.today = reading.today
        self._blocks: list[tuple[date, int, int]] = []
        self._sweep_days: list[date] = []
        self._sweeps_done = 0
        self._workload = PlanWorkload(library)
        self.has_plan = library.settings.plan.is_set_up and self._plan()
        planned = sum(questions for _, _, questions in self._blocks)
        passes = max(1, round(planned / max(1, len(reading.studied))))
        self._revised = _days(reading, Purpose.REVISION, passes)
        self._swept = _days(reading, Purpose.SWEEP, 1)

    def _plan(self) -> bool:
        workload = self._workload
        first = min((event.day for event in workload.responses()), default=workload.today)
        try:
            plan = workload.plan(min(first, workload.inputs.start or first))
        except InputError:
            return False
        for entry in plan.entries:
            if entry.kind is EntryKind.BLOCK:
                self._blocks.append((entry.day, entry.round or 1, entry.questions))
            elif entry.kind is EntryKind.SWEEP:
                self._sweep_days.append(entry.day)
        finished = workload.progress(workload.today).sweeps
        self._sweeps_done = sum(map(len, finished.values()))
        return True

    def revised(self, day: date) -> int:
        """Questions revised in blocks up to a day."""
        return sum(on <= day for on in self._revised)

    def swept(self, day: date) -> int:
        """Questions taken in a sweep up to a day."""
        return sum(on <= day for on in self._swept)

    def due(self, day: date) -> int | None:
        """Questions that the first plan had revised in blocks by then; None without a plan."""
        if not self.has_plan:
            return None
        return sum(questions for on, _, questions in self._blocks if on <= day)

    def rounds(self) -> list[RoundCoverage]:
        """Each round's blocks; what is done fills the rounds in their order."""
        planned, due = Counter[int](), Counter[int]()
        for on, number, questions in self._blocks:
            planned[number] += questions
            due[number] += questions if on <= self.today else 0
        left, found = self.revised(self.today), []
        for number in sorted(planned):
            done = min(left, planned[number])
            left -= done
            found.append(RoundCoverage(number, planned[number], due[number], done))
        return found

    def sweeps(self) -> SweepCoverage | None:
        """The plan's sweeps; None without a plan."""
        if not self.has_plan:
            return None
        due = sum(day < self.today for day in self._sweep_days)
        return SweepCoverage(len(self._sweep_days), due, self._sweeps_done)

    def first_study(self) -> StudyCoverage:
        """How far the first study is."""
        history, studies = self._workload.library.history, FirstStudies(self._workload.library)
        questions = studied = 0
        for subject in self._workload.subjects:
            for chapter, question in self._workload.active_questions(subject.id):
                questions += 1
                studied += (
                    studies.day_of(subject.id, chapter) is not None
                    or history.standing(question.id).tier is not Tier.UNTRIED
                )
        return StudyCoverage(questions, studied)


def _days(reading: EvidenceLog, purpose: Purpose, passes: int) -> list[date]:
    """The first days, at most so many, on which each question was taken for the purpose."""
    days: dict[str, set[date]] = {}
    for one in reading.responses:
        if one.purpose is purpose:
            days.setdefault(one.question, set()).add(one.day)
    return [day for own in days.values() for day in sorted(own)[:passes]]
