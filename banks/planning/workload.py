"""What the planner needs of banks and log, read once: subjects, events, the candidate's pace."""

from bisect import bisect_left
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date
from functools import cached_property
from operator import itemgetter
from typing import TYPE_CHECKING, NamedTuple

from msgspec import convert
from msgspec.structs import replace

from banks.lookup import find_subject
from domain.errors import InputError
from domain.history_table import MARKS, HistoryTable, id_mark
from domain.marking.schemes import exam_weights
from domain.plan.changes import inputs_after_exam
from domain.plan.inputs import ChapterLoad, PlanInputs, SubjectLoad
from domain.plan.outlook import Pace, own_pace
from domain.plan.problem import PlanRequest
from domain.plan.study_plan import StudyPlan
from domain.plan.study_plan_writer import make_study_plan
from domain.plan.visits import (
    BegunVisit,
    ChapterNumber,
    EndedVisit,
    PlanEvent,
    PlanResponse,
    Visit,
    VisitFold,
    VisitProgress,
)
from domain.questions import Bank, Subject, bank_of
from domain.responses import PlanAccepted, Purpose, VisitBegun, VisitEnded, VisitKind
from domain.tiers import HARD_TIERS, Standing, Tier

if TYPE_CHECKING:
    from banks.contents import StoreContents

CREDITED = frozenset({Purpose.REVISION, Purpose.SWEEP, Purpose.FREE})
"""The purposes that bring a visit on; see `domain.plan.visits.VisitFold`."""
_CREDITED_CODES = {code: mark.purpose for code, mark in MARKS.items() if mark.purpose in CREDITED}


def counting_banks(inputs: PlanInputs, banks: Mapping[str, Bank]) -> list[Bank]:
    """The banks that are planned: those written down, else the one with the most questions."""
    if inputs.banks:
        return [banks[name] for name in inputs.banks if name in banks]
    return sorted(banks.values(), key=lambda bank: -len(bank.questions))[:1]


def banks_that_count(library: "StoreContents") -> frozenset[str]:
    """The ids of the banks that the plan is for."""
    return frozenset(bank.id for bank in counting_banks(library.settings.plan, library.banks))


def plan_inputs(library: "StoreContents") -> PlanInputs:
    """The plan's inputs as they are kept."""
    return library.settings.plan


def exam_is_over(library: "StoreContents") -> bool:
    """Whether the exam that was planned for lies in the past."""
    exam = library.settings.plan.exam
    return exam is not None and exam < library.today()


def inputs_to_change(library: "StoreContents") -> PlanInputs:
    """What a change of the plan begins from: the inputs kept, once the exam is over those without
    what was written for it.
    """
    inputs = library.settings.plan
    return inputs_after_exam(inputs, library.today()) if exam_is_over(library) else inputs


def planned_subject(library: "StoreContents", inputs: PlanInputs, name: str) -> str:
    """`<bank>/<subject>` of the planned subject meant by a title. Raises InputError."""
    problem: InputError | None = None
    for bank in counting_banks(inputs, library.banks):
        try:
            return f"{bank.id}/{find_subject(bank, name).id}"
        except InputError as failure:
            problem = problem or failure
    raise problem or InputError(f"{name}: there is no planned bank yet")


class _Located(NamedTuple):
    """A question's id, its subject's id, its chapter's id and its number."""

    question: str
    subject: str
    chapter: str
    number: int


class PlanWorkload:
    """Banks and log as the planner sees them. Ids are `<bank>/<subject>` and `<bank>/<chapter>`.

    Whatever is asked of a day is as of its morning: what was done on the day itself does not
    change its plan.
    """

    def __init__(
        self,
        library: "StoreContents",
        inputs: PlanInputs | None = None,
        *,
        banks: Mapping[str, Bank] | None = None,
    ) -> None:
        """`banks` stand in for those of the library while they are only tried out."""
        self.library = library
        self.inputs = inputs or library.settings.plan
        self.today = library.today()
        self.banks = counting_banks(self.inputs, library.banks if banks is None else banks)
        self.titles: dict[str, str] = {}
        self.locations: dict[str, tuple[str, str]] = {}
        self._chapters = {
            f"{bank.id}/{chapter.id}": (bank, subject)
            for bank in self.banks
            for subject in bank.subjects
            for chapter in subject.chapters
        }
        self._names = {
            (bank.id, chapter.id): (f"{bank.id}/{subject.id}", f"{bank.id}/{chapter.id}")
            for bank in self.banks
            for subject in bank.subjects
            for chapter in subject.chapters
        }
        self._standings: dict[str, list[Standing]] = {}
        self.events: list[PlanEvent] = []
        self._days: list[date] = []
        self.days_worked: set[date] = set()
        """The days on which a planned question was answered, for whatever purpose."""
        self._table = library.history.table
        self._located_rows = list(map(self._located, self._table.names))
        self._read_history()
        loads = [
            self._subject_load(bank, subject, weights[subject.id])
            for bank in self.banks
            for weights in (exam_weights(bank),)
            for subject in bank.subjects
        ]
        self.subjects = [subject for subject in loads if subject.questions]
        self._plans: dict[date, StudyPlan] = {}
        self._progress: dict[date, VisitProgress] = {}

    # plans

    def request(
        self,
        day: date | None = None,
        inputs: PlanInputs | None = None,
    ) -> PlanRequest:
        """All that a plan made on that morning depends on. Raises InputError; see `PlanRequest`.

        Tiers are always this morning's, so that two mornings differ by the work done.
        """
        day = day or self.today
        exam = self.library.settings.exam
        return PlanRequest.of(
            inputs or self.inputs_on(day),
            today=day,
            subjects=self.subjects,
            progress=self.progress(day),
            rehearsal=(exam.questions, exam.minutes) if exam else None,
        )

    def inputs_on(self, day: date) -> PlanInputs:
        """What the plan rested on that day: before today what was accepted by then, so that what
        is changed now leaves the weeks that were lived alone. The first day is always today's.
        """
        if day >= self.today or not self._accepted:
            return self.inputs
        by_then = [inputs for accepted, inputs in self._accepted if accepted <= day]
        inputs = replace((by_then or [self._accepted[0][1]])[-1], start=self.inputs.start)
        is_usable = inputs.banks == self.inputs.banks and not inputs.problems(day)
        return inputs if is_usable else self.inputs

    @cached_property
    def _accepted(self) -> list[tuple[date, PlanInputs]]:
        """What was accepted, by the day, oldest first."""
        history = self.library.history
        return [
            (history.day(record.at), convert(record.after, PlanInputs))
            for record in history.records_of(PlanAccepted)
        ]

    def plan(self, day: date | None = None) -> StudyPlan:
        """The plan as of that morning (default today's). Raises InputError."""
        day = day or self.today
        if day not in self._plans:
            self._plans[day] = make_study_plan(self.request(day))
        return self._plans[day]

    def progress(self, morning: date) -> VisitProgress:
        """What is done of the visits on that morning."""
        if morning not in self._progress:
            fold = VisitFold(self.subjects)
            fold.read(self.events[: bisect_left(self._days, morning)])
            self._progress[morning] = fold.progress(morning)
        return self._progress[morning]

    def events_on(self, day: date) -> Sequence[PlanEvent]:
        """The events of a study day, oldest first."""
        begin = bisect_left(self._days, day)
        return [event for event in self.events[begin:] if event.day == day]

    @cached_property
    def measured(self) -> Mapping[str, float]:
        """Seconds per question by subject id, from what was timed before today."""
        return self._own_pace.own

    @cached_property
    def own_seconds(self) -> float:
        """Seconds per question over all subjects; while few are timed, near the written ones."""
        return self._own_pace.default

    @cached_property
    def _own_pace(self) -> Pace:
        cap = self.library.time_cap()
        timings = (
            (subject, self.today, min(seconds, cap))
            for subject, times in self.times.items()
            for seconds in times
            if seconds
        )
        return own_pace(timings, self.inputs.seconds, cap)

    def responses(self) -> Iterator[PlanResponse]:
        """What brought visits on before today, oldest first."""
        before = self.events[: bisect_left(self._days, self.today)]
        return (event for event in before if isinstance(event, PlanResponse))

    def block_minutes(self) -> Iterator[tuple[date, float]]:
        """(day, minutes) of each question that brought a block on, at the written pace.

        A question counts again once its subject's block was finished.
        """
        sizes = {subject.id: subject.questions for subject in self.subjects}
        covered: dict[str, set[ChapterNumber]] = {}
        for event in self.responses():
            if event.purpose is not Purpose.REVISION:
                continue
            done = covered.setdefault(event.subject, set())
            if (event.chapter, event.number) not in done:
                done.add((event.chapter, event.number))
                yield event.day, self.inputs.seconds / 60
            if len(done) >= sizes.get(event.subject, 0):
                done.clear()

    @property
    def tried(self) -> int:
        """How many responses there are from before today, for whatever purpose."""
        return sum(map(len, self.times.values()))

    @property
    def timed(self) -> int:
        """How many responses before today were timed."""
        return sum(seconds > 0 for times in self.times.values() for seconds in times)

    # questions

    def ids_of(self, chapter: str, numbers: Iterable[int]) -> Iterator[tuple[int, str]]:
        """(number, question id) of a chapter's active questions with these numbers, ascending."""
        index, chosen = self._chapters[chapter][0].index, frozenset(numbers)
        for row in index.rows_in(chapter.partition("/")[2]):
            if (number := index.numbers[row]) in chosen:
                yield number, index.ids[row]

    def active_ids(self, subject: str) -> Iterator[tuple[str, int, str]]:
        """(chapter id, number, question id) of a subject, in the order of the book."""
        bank_id, subject_id = self.locations[subject]
        bank = self.library.banks[bank_id]
        chapters = next(subject.chapters for subject in bank.subjects if subject.id == subject_id)
        for chapter in chapters:
            for row in bank.index.rows_in(chapter.id):
                yield f"{bank_id}/{chapter.id}", bank.index.numbers[row], bank.index.ids[row]

    def subject_of_chapter(self, chapter: str) -> str:
        """The id of the subject that holds a chapter ("bank/chapter"). Raises KeyError."""
        bank, subject = self._chapters[chapter]
        return f"{bank.id}/{subject.id}"

    def named(self, numbered: Iterable[ChapterNumber]) -> Iterator[tuple[str, int, str]]:
        """(chapter id, number, question id) in the order given, of the questions there are."""
        by_chapter: dict[str, list[int]] = {}
        listed = list(numbered)
        for chapter, number in listed:
            by_chapter.setdefault(chapter, []).append(number)
        ids = {
            (chapter, number): question_id
            for chapter, numbers in by_chapter.items()
            for number, question_id in self.ids_of(chapter, numbers)
        }
        return ((*name, ids[name]) for name in listed if name in ids)

    def numbered(self, question_ids: Iterable[str]) -> tuple[ChapterNumber, ...]:
        """Question ids as (chapter id, number); those that left the bank are left out."""
        banks, numbered = self.library.banks, list[ChapterNumber]()
        for name in question_ids:
            bank = banks.get(bank_of(name))
            if bank and (place := bank.index.place(name)):
                numbered.append((f"{bank.id}/{place.chapter}", place.number))
        return tuple(numbered)

    # reading

    def _subject_load(self, bank: Bank, subject: Subject, weight: float) -> SubjectLoad:
        name = f"{bank.id}/{subject.id}"
        self.titles[name] = subject.title
        self.locations[name] = (bank.id, subject.id)
        chapters = []
        for chapter in subject.chapters:
            chapter_name = f"{bank.id}/{chapter.id}"
            self.titles[chapter_name] = chapter.title
            numbers = tuple(bank.index.numbers_in(chapter.id))
            chapters.append(ChapterLoad(chapter_name, chapter.title, numbers))
        tried = self._standings.get(name, [])
        return SubjectLoad(
            name,
            subject.title,
            tuple(chapters),
            weight=weight,
            open_from=subject.open_from,
            tried=len(tried),
            hard=sum(standing.tier in HARD_TIERS for standing in tried),
            repeated=sum(standing.tier >= Tier.HARDER for standing in tried),
            tried_twice=sum(standing.days >= 2 for standing in tried),
        )

    def _read_history(self) -> None:
        """Go through what was answered, and nothing else, however large the banks are."""
        table, begin = self._table, (self.inputs.start or date.min).toordinal()
        days, codes, standings = table.days, table.codes, table.standings
        events: list[tuple[int, int, int, PlanEvent]] = list(self._visit_events(table))
        worked, counted = set[int](), set[str]()
        merged = {
            located.question
            for name, located in zip(table.names, self._located_rows, strict=True)
            if located and located.question != name
        }
        for row, located in enumerate(self._located_rows):
            if located is None:
                continue
            if located.question not in counted:
                counted.add(located.question)
                standing = self._standing(row, located.question, located.question in merged)
                if standing.tier is not Tier.UNTRIED:
                    self._standings.setdefault(located.subject, []).append(standing)
            last = standings[row].last
            if last is None or last.toordinal() < begin:
                continue
            for place in table.span(row):
                day, purpose = days[place], _CREDITED_CODES.get(codes[place])
                if day < begin:
                    continue
                if codes[place] in MARKS:
                    worked.add(day)
                if purpose is not None:
                    event = PlanResponse(date.fromordinal(day), *located[1:], purpose)
                    events.append((day, table.ats[place], table.ties[place], event))
        events.sort(key=itemgetter(0, 1, 2))
        self.events = [event for *_, event in events]
        self._days = [event.day for event in self.events]
        self.days_worked = set(map(date.fromordinal, worked))

    def _standing(self, row: int, question_id: str, is_merged: bool) -> Standing:
        """Where a question, of which this row holds events, stood this morning."""
        standing, table = self._table.standings[row], self._table
        is_of_today = standing.last is None or standing.last >= self.today
        if is_of_today or is_merged or row in table.hand_set:
            return self.library.history.standing_before(question_id, self.today)
        return standing

    def _located(self, question_id: str) -> "_Located | None":
        """Where the question that stays for this one stands; None where it is not active in a
        planned bank.
        """
        stays = self.library.stays(question_id)
        bank = self.library.banks.get(bank_of(stays))
        place = bank.index.place(stays) if bank else None
        names = self._names.get((bank.id, place.chapter)) if bank and place else None
        return _Located(stays, *names, place.number) if place and names else None

    @cached_property
    def times(self) -> dict[str, list[float]]:
        """Seconds of what was answered before today, by subject id; 0 where not timed."""
        times: dict[str, list[float]] = {}
        table, today = self._table, self.today.toordinal()
        for row, located in enumerate(self._located_rows):
            if located is not None:
                own = slice(table.begins[row], table.begins[row + 1])
                events = zip(table.seconds[own], table.days[own], table.codes[own], strict=True)
                times.setdefault(located.subject, []).extend(
                    seconds for seconds, day, code in events if day < today and code in MARKS
                )
        return times

    def _visit_events(self, table: HistoryTable) -> Iterator[tuple[int, int, int, PlanEvent]]:
        history, begin = self.library.history, self.inputs.start or date.min
        for begun in history.records_of(VisitBegun):
            day = history.day(begun.at)
            if day >= begin and begun.kind is not VisitKind.PASS:
                yield day.toordinal(), *table.visits[id_mark(begun.id)], self._begun(begun, day)
        for ended in history.records_of(VisitEnded):
            day = history.day(ended.at)
            event = EndedVisit(day, ended.visit, ended.how.value)
            yield day.toordinal(), *table.visits[id_mark(ended.id)], event

    def _begun(self, begun: VisitBegun, day: date) -> BegunVisit:
        is_sweep = begun.kind is VisitKind.SWEEP
        return BegunVisit(
            begun.id,
            day,
            Visit(begun.round, f"{begun.bank}/{begun.subject}", is_sweep),
            self.numbered(begun.questions),
            self.numbered(begun.also_open),
            self.numbered(begun.untried),
        )


def request_for(workload: PlanWorkload, inputs: PlanInputs) -> PlanRequest:
    """What a plan with these inputs depends on this morning. Raises InputError."""
    if [bank.id for bank in counting_banks(inputs, workload.library.banks)] != [
        bank.id for bank in workload.banks
    ]:
        workload = PlanWorkload(workload.library, inputs)
    return workload.request(inputs=inputs)


def try_out(workload: PlanWorkload, inputs: PlanInputs) -> StudyPlan:
    """The plan that these inputs would give today; nothing is changed. Raises InputError."""
    return make_study_plan(request_for(workload, inputs))
