"""Both rounds against the plan as it was on its first day: what was due by when, what is done."""

from collections import Counter
from datetime import date

from msgspec import Struct

from banks.library import Library
from banks.planning.workload import PlanWorkload
from banks.views.evidence_log import EvidenceLog
from domain.errors import InputError
from domain.plan.study_plan import EntryKind
from domain.responses import Purpose


class RoundCoverage(Struct, frozen=True):
    """A round's revision blocks in questions: all of them, due by today, and done."""

    round: int
    planned: int
    due: int
    done: int


class Coverage:
    """What was due and what is done, by day. `has_plan` is False where no exam day is set.

    Questions revised count once a block, questions swept once; first study apart.
    """

    def __init__(self, library: Library, reading: EvidenceLog) -> None:
        self.today = reading.today
        self._blocks: list[tuple[date, int, int]] = []
        self._sweeps: list[tuple[date, int]] = []
        self.has_plan = library.settings.plan.is_set_up and self._plan(library)
        planned = sum(questions for _, _, questions in self._blocks)
        passes = max(1, round(planned / max(1, len(reading.studied))))
        self._revised = _days(reading, Purpose.REVISION, passes)
        self._swept = _days(reading, Purpose.SWEEP, 1)

    def _plan(self, library: Library) -> bool:
        workload = PlanWorkload(library)
        first = min((event.day for event in workload.responses()), default=workload.today)
        try:
            plan = workload.plan(min(first, workload.inputs.start or first))
        except InputError:
            return False
        for entry in plan.entries:
            if entry.kind is EntryKind.BLOCK:
                self._blocks.append((entry.day, entry.round or 1, entry.questions))
            elif entry.kind is EntryKind.SWEEP:
                self._sweeps.append((entry.day, entry.questions))
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


def _days(reading: EvidenceLog, purpose: Purpose, passes: int) -> list[date]:
    """The first days, at most so many, on which each question was taken for the purpose."""
    days: dict[str, set[date]] = {}
    for one in reading.responses:
        if one.purpose is purpose:
            days.setdefault(one.question, set()).add(one.day)
    return [day for own in days.values() for day in sorted(own)[:passes]]
