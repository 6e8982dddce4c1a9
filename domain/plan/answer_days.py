"""What passes leave to visits, and on which days a plan would have each question answered.

Two plans compare by it. What a sweep or a pass will hold is not known before its day: a sweep is
taken to ask the subject's most missed questions, a pass those of most worth by the chooser's plain
rule.
"""

from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence
from datetime import date
from heapq import nlargest

from msgspec import Struct
from msgspec.structs import replace

from domain.chooser import REST_DAYS, WITHOUT_SIGN, VisitsAhead
from domain.plan.inputs import Use
from domain.plan.study_plan import EntryKind, PlanEntry, ScheduledVisit, StudyPlan
from domain.plan.visits import VisitProgress
from domain.tiers import Tier

VISIT_AHEAD_DAYS = 7
"""A subject whose next visit is so near, or nearer, takes no pass."""

ASKED_AHEAD_DAYS = 70
"""What a visit so near, or nearer, will ask comes in passes behind what none will."""


def visits_ahead(plan: StudyPlan, progress: VisitProgress, day: date) -> VisitsAhead:
    """What passes of the plan's first day leave to visits; in final revision those under way.

    Only so does a pass stand in for no visit, and its minutes go to what none will ask.
    """
    under_way = frozenset(progress.since)
    if any(entry.role is Use.FINAL for entry in plan.on(day)):
        return VisitsAhead(under_way | {scheduled.visit.subject for scheduled in plan.visits})
    visits = _ahead(plan.visits, progress.blocks.keys() | progress.sweeps.keys(), day)
    return replace(visits, closed=visits.closed | under_way)


def _ahead(visits: Iterable[ScheduledVisit], visited: Collection[str], day: date) -> VisitsAhead:
    """Of visits that end before the day or are to come; `visited` have one behind them."""
    ahead = [scheduled for scheduled in visits if scheduled.last >= day]
    first = {scheduled.visit.subject for scheduled in ahead}.difference(visited)
    near, asked = (
        [scheduled.visit for scheduled in ahead if (scheduled.first - day).days <= days]
        for days in (VISIT_AHEAD_DAYS, ASKED_AHEAD_DAYS)
    )
    return VisitsAhead(
        frozenset(visit.subject for visit in near) | first,
        frozenset(visit.subject for visit in asked if not visit.sweep),
        frozenset(visit.subject for visit in asked if visit.sweep),
    )


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
        today, visits = entry.day.toordinal(), self._visits_ahead(entry)
        ranked: list[tuple[int, float, int]] = []
        for n, question in enumerate(self._questions):
            last, subject = self._last[n], question.subject
            if last is None or today - last <= REST_DAYS or subject in visits.closed:
                continue
            if question.settled:
                ranked.append((0, today - last, n))
                continue
            is_repeated = question.signs >= Tier.HARDER
            asked = subject in visits.blocks or (is_repeated and subject in visits.sweeps)
            worth = question.worth * (1.0 if question.signs else WITHOUT_SIGN)
            ranked.append((1 if asked else 2, (today - last) * worth, n))
        count = self._of_sample(entry, entry.minutes / self._each)
        return [n for *_, n in nlargest(count, ranked)]

    def _visits_ahead(self, entry: PlanEntry) -> VisitsAhead:
        """As `visits_ahead` has it, with the visits that the plan has up to the day."""
        if entry.role is Use.FINAL:
            return VisitsAhead()
        visits, day = self._plan.visits, entry.day
        behind = (scheduled.visit.subject for scheduled in visits if scheduled.last < day)
        return _ahead(visits, self._visited.union(behind), day)
