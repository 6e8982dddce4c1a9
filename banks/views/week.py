"""The week that is over, beside what was planned for it, and what the next one holds."""

from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence, Set
from datetime import date
from itertools import groupby
from statistics import NormalDist

from msgspec import Struct
from msgspec.structs import replace

from banks.library import Library
from banks.planning.workload import PlanWorkload
from banks.views.plan_worth import PlanWorth
from banks.views.today import QUIET_DAYS, missed_before
from banks.views.triage import waiting_state
from domain.errors import InputError
from domain.evidence.intervals import Interval
from domain.marking.blueprint import ExamBlueprint
from domain.marking.schemes import parse_scheme
from domain.plan.inputs import DAYS_A_WEEK, ONE_DAY, week_begin
from domain.plan.study_plan import EntryKind, PlanEntry
from domain.plan.visits import PlanResponse
from domain.questions import bank_of
from domain.responses import Purpose, Reason, Response
from domain.tiers import WaitingState
from domain.verdicts import Verdict

FEWEST_FOR_MARKS = 100
"""From so many responses of a week on it is told what its misses would cost in the exam."""


class WeekVisit(Struct, frozen=True):
    """A visit of the week to come: the days it takes there, and its questions on them."""

    first: date
    last: date
    kind: EntryKind
    subject_title: str
    questions: int


class LostMarks(Struct, frozen=True):
    """Responses missed for one reason (None: not said), and the marks that as large a share of
    them would cost in the exam.
    """

    reason: Reason | None
    responses: int
    marks: float


class WeekView(Struct, frozen=True, kw_only=True):
    """The seven days from `first` to `last`; `ahead` are the seven from today on.

    `planned` and `done` count questions of visits, as planned on the first of the days;
    `days_planned` are days with a visit, `days_kept` those on which something was answered, whether
    planned for them or not, `longest_gap` the most planned days in a row without, those that led
    into the week among them: `gap_before` so many.
    `answered` and `minutes` are all that was answered, of whatever purpose.
    `settled` is how many more questions are settled than before (fewer if negative).
    `lost` is by the exam's scheme and its number of questions, `exam_questions`, which is 0 where
    nothing was said of the exam, or less than `FEWEST_FOR_MARKS` responses were given.
    `own_line` is what the candidate wrote to themselves.
    """

    first: date
    last: date
    exam: date
    days_planned: int
    days_kept: int
    longest_gap: int
    gap_before: int
    planned: int
    done: int
    answered: int
    minutes: float
    settled: int
    waiting: WaitingState
    lost: tuple[LostMarks, ...]
    exam_questions: int
    ahead: tuple[WeekVisit, ...]
    own_line: str


def week_due(library: Library) -> date | None:
    """The first day of the week to look back on, None where there is none or it was looked at.

    A week is over on its last day, when that is a day of rest, else on the day after.
    """
    inputs = library.settings.plan
    today = library.today()
    if inputs.exam is None or (inputs.exam - today).days <= QUIET_DAYS:
        return None
    first = last_week(library)
    seen = library.store.cache.load("week-seen", date)
    if first <= (inputs.start or today) - DAYS_A_WEEK * ONE_DAY or seen == first:
        return None
    return first if any(map(library.history.answered_on, _days(first))) else None


def last_week(library: Library) -> date:
    """The first day of the seven that are over by today."""
    inputs, today = library.settings.plan, library.today()
    tomorrow = week_begin(inputs, today + ONE_DAY)
    begin = tomorrow if tomorrow > today and _is_rest(library, today) else week_begin(inputs, today)
    return begin - DAYS_A_WEEK * ONE_DAY


def _is_rest(library: Library, day: date) -> bool:
    return not library.settings.plan.minutes[day.weekday()]


def remember_week(library: Library, first: date) -> None:
    """The candidate has looked at this week."""
    if not library.read_only:
        library.store.cache.save("week-seen", first)


def week_view(library: Library, workload: PlanWorkload) -> WeekView:
    """The week that is over by today. Raises InputError where no plan can be made."""
    first = last_week(library)
    last = first + (DAYS_A_WEEK - 1) * ONE_DAY
    morning = max(first, workload.inputs.start or first)
    asked = [
        entry
        for entry in workload.plan(morning).entries
        if entry.is_visit and morning <= entry.day <= last
    ]
    events = [event for event in workload.responses() if first <= event.day <= last]
    days = {entry.day for entry in asked}
    kept = workload.days_worked.intersection(_days(first))
    gap = _longest_gap({*missed_before(workload, first), *days}, kept)
    responses = list(_responses(library, first))
    exam = library.settings.exam
    assert workload.inputs.exam is not None
    return WeekView(
        first=first,
        last=last,
        exam=workload.inputs.exam,
        days_planned=len(days),
        days_kept=len(kept),
        longest_gap=len(gap),
        gap_before=sum(day < first for day in gap),
        planned=sum(entry.questions for entry in asked),
        done=_done(asked, events),
        answered=len(responses),
        minutes=_minutes(library, responses),
        settled=_settled_since(library, first),
        waiting=waiting_state(library, workload.inputs.banks),
        lost=tuple(_lost(library, responses)),
        exam_questions=exam.questions if exam and len(responses) >= FEWEST_FOR_MARKS else 0,
        ahead=tuple(_ahead(workload, workload.today)),
        own_line=library.settings.own_line,
    )


def absence_cost(library: Library, workload: PlanWorkload, days: int) -> Interval | None:
    """The 90 % range of the marks that so many planned days without work cost in the exam.

    It is what as many from today on would cost under the plan as it is; None while no model can be
    trusted, and where no plan can be made without them. Takes a second or two.
    """
    visits = dict.fromkeys(entry.day for entry in workload.plan().entries if entry.is_visit)
    lost = list(visits)[:days]
    inputs = replace(workload.inputs, off=tuple(sorted({*workload.inputs.off, *lost})))
    try:
        difference = PlanWorth(library, workload).of(inputs)
    except InputError:
        return None
    if difference is None:
        return None
    half = NormalDist().inv_cdf(0.95) * difference.deviation
    return max(0.0, -difference.score - half), max(0.0, -difference.score + half)


def _done(asked: Sequence[PlanEntry], events: Sequence[PlanResponse]) -> int:
    """How many of the questions asked for were answered: of a block those very numbers, of a
    sweep as many.
    """
    revised = {(event.chapter, event.number) for event in events}
    swept = {
        (event.subject, event.chapter, event.number)
        for event in events
        if event.purpose is Purpose.SWEEP
    }
    by_subject = Counter(subject for subject, _, _ in swept)
    expected: Counter[str] = Counter()
    done = 0
    for entry in asked:
        if entry.kind is EntryKind.SWEEP:
            expected[entry.subject or ""] += entry.questions
        else:
            done += sum(
                (part.chapter or "", number) in revised
                for part in entry.parts
                for number in part.numbers
            )
    return done + sum(min(count, by_subject[subject]) for subject, count in expected.items())


def _longest_gap(planned: set[date], kept: Set[date]) -> list[date]:
    """The most planned days in a row that were not kept."""
    gap, longest = list[date](), list[date]()
    for day in sorted(planned):
        gap = [] if day in kept else [*gap, day]
        longest = max(longest, gap, key=len)
    return longest


def _days(first: date) -> list[date]:
    """The seven days from `first` on."""
    return [first + number * ONE_DAY for number in range(DAYS_A_WEEK)]


def _responses(library: Library, first: date) -> Iterator[Response]:
    """All that was answered in the seven days from `first` on."""
    history, days = library.history, _days(first)
    for question in set[str]().union(*map(history.answered_on, days)):
        for response in history.responses(question):
            if response.question == question and days[0] <= history.day(response.at) <= days[-1]:
                yield response


def _minutes(library: Library, responses: list[Response]) -> float:
    cap, reading = library.time_cap(), library.history.reading
    return sum(min(each.seconds + reading(each), cap) for each in responses) / 60


def _settled_since(library: Library, day: date) -> int:
    """How many more questions are settled now than on that morning."""
    history = library.history
    return sum(
        history.standing(question).settled - history.standing_before(question, day).settled
        for question in history.questions()
        if bank_of(question) in library.banks
    )


def _lost(library: Library, responses: Sequence[Response]) -> Iterator[LostMarks]:
    """The week's misses by reason, the most frequent first, those without one last; first study is
    left out.
    """
    history, exam = library.history, library.settings.exam or ExamBlueprint()
    scheme = parse_scheme(exam.scheme)
    tried = [response for response in responses if response.purpose is not Purpose.STUDY]
    counts: Counter[Reason | None] = Counter()
    marks: dict[Reason | None, float] = defaultdict(float)
    for response in tried:
        verdict = history.verdict(response)
        if verdict is not Verdict.RIGHT:
            reason = history.reason(response)
            counts[reason] += 1
            marks[reason] += float(scheme.right - scheme.marks(verdict))
    for reason, missed in sorted(counts.items(), key=lambda count: (count[0] is None, -count[1])):
        yield LostMarks(reason, missed, marks[reason] * exam.questions / len(tried))


def _ahead(workload: PlanWorkload, first: date) -> Iterator[WeekVisit]:
    """The visits of the seven days from `first` on, in order."""
    end = first + DAYS_A_WEEK * ONE_DAY
    entries = [entry for entry in workload.plan().entries if first <= entry.day < end]
    visits = sorted((entry for entry in entries if entry.is_visit), key=_visit_key)
    runs = [list(run) for _, run in groupby(visits, key=_visit_key)]
    for run in sorted(runs, key=lambda run: run[0].day):
        yield WeekVisit(
            run[0].day,
            run[-1].day,
            run[0].kind,
            workload.titles.get(run[0].subject or "", ""),
            sum(entry.questions for entry in run),
        )


def _visit_key(entry: PlanEntry) -> tuple[str, str]:
    return entry.subject or "", entry.kind.value
