"""What the planner needs of banks and log, read once: subjects, events, the candidate's pace."""

from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import date
from functools import cached_property
from operator import itemgetter
from typing import TYPE_CHECKING

import msgspec
from msgspec import convert
from msgspec.structs import replace

from banks.kept_history import OfMorning, of_morning
from banks.lookup import find_subject
from banks.planning.tallies import SubjectTally, Tallier, Tallies, tallies_of
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
    SubjectTrack,
    Visit,
    VisitFold,
    VisitProgress,
)
from domain.questions import Bank, Subject, bank_of
from domain.responses import PlanAccepted, Purpose, VisitBegun, VisitEnded, VisitKind
from domain.tiers import HARD_TIERS, REPEATEDLY_MISSED

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
        self._is_of_library = banks is None
        self._tallier = Tallier(library, {bank.id: bank for bank in self.banks})
        self._table, self._visits = library.history.table, library.history.visit_records()
        self._tallies = self._tallied(self.today)
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
            self._progress[morning] = self._folded(morning, self._known_visits).progress(morning)
        return self._progress[morning]

    def _folded(self, morning: date, known: OfMorning | None) -> VisitFold:
        """What the events before a morning did, read on from what was known of another, if nothing
        was done from this one until then.
        """
        if known is None or self._table.names_between(morning, known.morning):
            fold, events = VisitFold(self.subjects), self.events
        else:
            fold = VisitFold(self.subjects, _TRACKS.decode(known.value))
            events = self._events_since(known.morning)
        fold.read(event for event in events if event.day < morning)
        return fold

    @cached_property
    def _known_visits(self) -> OfMorning | None:
        """What is done of the visits this morning."""
        if not self._is_of_library:
            return None

        def tracks(today: date, known: OfMorning | None) -> dict[str, SubjectTrack]:
            return self._folded(today, known).tracks

        request = f"{self.inputs.start} {' '.join(bank.id for bank in self.banks)}"
        return of_morning(self.library, "visits", tracks, request)

    @cached_property
    def events(self) -> Sequence[PlanEvent]:
        """All that brings visits on since the plan's first day, oldest first."""
        return self._events_since(self.inputs.start or date.min)

    def events_on(self, day: date) -> Sequence[PlanEvent]:
        """The events of a study day, oldest first."""
        return [event for event in self._events_since(day) if event.day == day]

    @cached_property
    def days_worked(self) -> frozenset[date]:
        """The days on which a planned question was answered, for whatever purpose."""
        begin, tallies = (self.inputs.start or date.min).toordinal(), self._tallied(date.max)
        numbers = {day for name in self.locations for day in _tally(tallies, name).answered}
        return frozenset(date.fromordinal(day) for day in numbers if day >= begin)

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
            (name, self.today, min(seconds, cap))
            for name in self.locations
            for seconds, count in _tally(self._tallies, name).seconds.items()
            if seconds
            for _ in range(count)
        )
        return own_pace(timings, self.inputs.seconds, cap)

    def responses(self) -> Iterator[PlanResponse]:
        """What brought visits on before today, oldest first."""
        return (
            event
            for event in self.events
            if event.day < self.today and isinstance(event, PlanResponse)
        )

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
        return sum(count for _, count in self._times())

    @property
    def timed(self) -> int:
        """How many responses before today were timed."""
        return sum(count for seconds, count in self._times() if seconds > 0)

    def _times(self) -> Iterator[tuple[float, int]]:
        """How many responses before today took so many seconds; 0 where not timed."""
        for name in self.locations:
            yield from _tally(self._tallies, name).seconds.items()

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
        tally = _tally(self._tallies, name)
        return SubjectLoad(
            name,
            subject.title,
            tuple(chapters),
            weight=weight,
            open_from=subject.open_from,
            tried=sum(tally.tiers.values()),
            hard=tally.in_tiers(HARD_TIERS),
            repeated=tally.in_tiers(REPEATEDLY_MISSED),
            tried_twice=tally.tried_twice,
        )

    def _tallied(self, morning: date) -> Tallies:
        """What the history comes to on this morning, or with `date.max` by now."""
        if self._is_of_library:
            return tallies_of(self.library, morning)
        return self._tallier.anew(morning)

    def _events_since(self, first: date) -> Sequence[PlanEvent]:
        """The events of the plan from a study day on, oldest first."""
        table, begin = self._table, max(first, self.inputs.start or date.min)
        events = list(self._visit_events(table, begin))
        for name in table.names_between(begin, date.max):
            located = self._tallier.located(name)
            if located is None:
                continue
            for place in table.span(table.rows[name]):
                day, purpose = table.days[place], _CREDITED_CODES.get(table.codes[place])
                if purpose is not None and day >= begin.toordinal():
                    event = PlanResponse(date.fromordinal(day), *located[1:], purpose)
                    events.append((day, table.ats[place], table.ties[place], event))
        events.sort(key=itemgetter(0, 1, 2))
        return [event for *_, event in events]

    def _visit_events(
        self, table: HistoryTable, begin: date
    ) -> Iterator[tuple[int, int, int, PlanEvent]]:
        for record in self._visits:
            day = self.library.history.day(record.at)
            if day < begin:
                continue
            event: PlanEvent
            if isinstance(record, VisitEnded):
                event = EndedVisit(day, record.visit, record.how.value)
            elif record.kind is VisitKind.PASS:
                continue
            else:
                event = self._begun(record, day)
            if (moment := table.visits.get(id_mark(record.id))) is not None:
                yield day.toordinal(), *moment, event

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


def _tally(tallies: Tallies, subject: str) -> SubjectTally:
    return tallies.get(subject) or SubjectTally()


_TRACKS = msgspec.msgpack.Decoder(dict[str, SubjectTrack])


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
