"""On which days a plan would have each question answered, passes included.

Two plans compare by it. What a sweep or a pass will hold is not known before its day: a sweep is
taken to ask the subject's most missed questions, a pass those of most worth by the chooser's plain
rule.
"""

from collections import defaultdict
from collections.abc import Sequence
from datetime import date
from heapq import nlargest

from msgspec import Struct

from domain.chooser import REST_DAYS, WITHOUT_SIGN
from domain.plan.inputs import Use
from domain.plan.study_plan import VISIT_AHEAD_DAYS, EntryKind, PlanEntry, StudyPlan


class QuestionAhead(Struct, frozen=True, gc=False):
    """A question as it stands on the plan's first morning.

    `worth` is its score in the exam; `last` the ordinal of the day of its last try, None for none.
    """

    subject: str
    chapter: str
    number: int
    worth: float
    last: int | None
    signs: int = 0
    settled: bool = False


def answer_days(
    plan: StudyPlan,
    questions: Sequence[QuestionAhead],
    seconds: float,
    visited: Sequence[str] = (),
    share: float = 1.0,
) -> list[tuple[int, ...]]:
    """For each question the days (ordinals) on which it would be answered, in order.

    The questions are a sample of so large a share of the bank, each taking so many seconds;
    `visited` names the subjects with a visit behind them.
    """
    lived = _LivedPlan(plan, questions, seconds, set(visited), share)
    for entry in plan.entries:
        lived.live(entry)
    return [tuple(days) for days in lived.days]


class _LivedPlan:
    """The plan while it is lived entry by entry."""

    def __init__(
        self,
        plan: StudyPlan,
        questions: Sequence[QuestionAhead],
        seconds: float,
        visited: set[str],
        share: float,
    ) -> None:
        self._plan, self._questions = plan, questions
        self._each, self._visited, self._share = seconds / 60, visited, share
        self.days: list[list[int]] = [[] for _ in questions]
        self._last = [question.last for question in questions]
        self._place = {
            (question.chapter, question.number): n for n, question in enumerate(questions)
        }
        by_subject: dict[str, list[int]] = defaultdict(list)
        for n, question in enumerate(questions):
            by_subject[question.subject].append(n)
        self._to_sweep = {
            subject: sorted(own, key=lambda n: (questions[n].settled, -questions[n].signs))
            for subject, own in by_subject.items()
        }
        self._swept: dict[tuple[int | None, str], int] = defaultdict(int)
        self._owed: dict[EntryKind, float] = defaultdict(float)

    def live(self, entry: PlanEntry) -> None:
        """Answer what the entry has."""
        match entry.kind:
            case EntryKind.BLOCK:
                for part in entry.parts:
                    for number in part.numbers:
                        n = self._place.get((part.chapter or "", number))
                        if n is not None:
                            self._answer(n, entry.day)
            case EntryKind.SWEEP:
                self._sweep(entry)
            case EntryKind.PASS:
                for n in self._chosen(entry):
                    self._answer(n, entry.day)

    def _answer(self, n: int, day: date) -> None:
        self._last[n] = day.toordinal()
        self.days[n].append(day.toordinal())

    def _of_sample(self, entry: PlanEntry, questions: float) -> int:
        """How many of the sample; what is not whole counts on for the next of its kind."""
        self._owed[entry.kind] += questions * self._share
        count = int(self._owed[entry.kind])
        self._owed[entry.kind] -= count
        return count

    def _sweep(self, entry: PlanEntry) -> None:
        subject = entry.subject or ""
        begin = self._swept[entry.round, subject]
        end = begin + self._of_sample(entry, entry.questions)
        for n in self._to_sweep.get(subject, [])[begin:end]:
            self._answer(n, entry.day)
        self._swept[entry.round, subject] = end

    def _chosen(self, entry: PlanEntry) -> list[int]:
        today, closed = entry.day.toordinal(), self._closed(entry)
        ranked = []
        for n, question in enumerate(self._questions):
            last = self._last[n]
            if last is None or today - last <= REST_DAYS or question.subject in closed:
                continue
            worth = question.worth * (1.0 if question.signs else WITHOUT_SIGN)
            rank = today - last if question.settled else (today - last) * worth
            ranked.append((not question.settled, rank, n))
        count = self._of_sample(entry, entry.minutes / self._each)
        return [n for *_, n in nlargest(count, ranked)]

    def _closed(self, entry: PlanEntry) -> set[str]:
        """As `closed_to_passes` has it, with the visits that the plan has up to the day."""
        day, visits = entry.day, self._plan.visits
        if entry.role is Use.FINAL:
            return set()
        ahead = [scheduled for scheduled in visits if scheduled.last >= day]
        near = {s.visit.subject for s in ahead if (s.first - day).days <= VISIT_AHEAD_DAYS}
        behind = self._visited | {s.visit.subject for s in visits if s.last < day}
        return near | ({s.visit.subject for s in ahead} - behind)
