"""The candidate's history, question by question, and the standings that follow from it.

History is the truth, everything else is derived: the same records, in whatever order they were
read or merged, give the same history. Adding one record costs one question's fold.

Threads: one thread changes a history, any may read it meanwhile. The rule that makes it safe is
that nothing a reader goes through ever changes: a question's list is replaced by a longer one,
never added to, and the indexes are copied (one step of the interpreter) before they are gone
through. A standing is kept only if no change came between reading and folding. So a reader in the
background sees each question as it was at some moment, not all of them at the same moment: it
compares `version` before and after where that matters.
"""

from bisect import bisect_right
from collections.abc import Callable, Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from itertools import chain, pairwise
from operator import itemgetter
from threading import Lock, RLock
from typing import Any, Protocol, TypeGuard, TypeVar, cast

from msgspec.structs import replace

from domain.grading import Duplicates, grade
from domain.history_table import (
    MARKS,
    VISITS,
    HistoryTable,
    LinePlaces,
    Tallied,
    extended,
    id_mark,
    mark_of,
    microseconds,
    nowhere,
    table_of,
)
from domain.questions import Question
from domain.responses import (
    AnyRecord,
    BankSaved,
    Dispute,
    ExamTopic,
    FirstStudyDone,
    Flag,
    HandTier,
    Note,
    OutsidePaper,
    PlanAccepted,
    Purpose,
    ReadingTime,
    Reason,
    Record,
    Response,
    ResponseReason,
    SittingClosed,
    SittingOpened,
    VisitBegun,
    VisitEnded,
    Withdrawal,
    study_day,
)
from domain.tiers import HandSet, Judged, Standing, Step, TierRules, fold, trail, waiting_mornings
from domain.verdicts import Confidence, Verdict

R = TypeVar("R", bound=Record)

HistoryEvent = Response | HandTier
"""The records that a question's tier is read from."""


class KeptHistory(Protocol):
    """What was read of a log before: a question's own records are read when they are asked for."""

    table: HistoryTable

    def read(self, row: int) -> list[AnyRecord] | None:
        """The records of a row; None where they are not what they were."""

    def read_all(self) -> list[AnyRecord]:
        """Every record of the log as it is now."""


@dataclass(frozen=True)
class Sitting:
    """One sitting, seen through the history that it belongs to."""

    opened: SittingOpened
    history: "History" = field(repr=False)

    @property
    def closed(self) -> bool:
        """Whether it is over."""
        return self.history.is_closed(self.opened.id)

    @property
    def discarded(self) -> bool:
        """Whether it was ended without a result."""
        return self.history.is_discarded(self.opened.id)

    @property
    def given(self) -> dict[str, Response]:
        """The newest response to each question in this sitting, in the order they are taken."""
        return {
            question: response
            for question in self.opened.questions
            for response in self.history.responses(question)
            if response.sitting == self.opened.id and response.question == question
        }

    @property
    def left(self) -> list[str]:
        """The questions not yet responded to, in order."""
        given = self.given
        return [question for question in self.opened.questions if question not in given]


_RARE = VisitBegun | VisitEnded | PlanAccepted | OutsidePaper | FirstStudyDone | ExamTopic
"""The kinds of record that say nothing of one question and are few: kept whole, by kind."""


class History:
    """An index over the effective records. `question` looks a question up, or gives None.

    `duplicates` gives the ids of the retired duplicates whose history counts for a question too;
    what was chosen there is judged by the question that stays, where that has such an option.
    """

    def __init__(
        self,
        records: Iterable[AnyRecord],
        question: Callable[[str], Question | None],
        rules: TierRules,
        turn_hour: int = 3,
        duplicates: Duplicates | None = None,
        kept: KeptHistory | None = None,
    ) -> None:
        """With `kept`, `records` are those that no row of its table holds."""
        self.rules = rules
        self.turn_hour = turn_hour
        self._question = question
        self._duplicates = duplicates or Duplicates(question)
        self._events: dict[str, list[HistoryEvent]] = {}
        self._disputes: dict[str, list[Dispute]] = {}
        self._notes: dict[str, list[Note]] = {}
        self._flags: dict[str, list[Flag]] = {}
        self._reasons: dict[str, list[ResponseReason]] = {}
        self._reading: dict[str, list[ReadingTime]] = {}
        self._rare: dict[type[Record], dict[str, Record]] = {}
        self._standings: dict[str, Standing] = {}
        self._sittings: dict[str, Sitting] = {}
        self._closings: dict[str, dict[str, SittingClosed]] = {}
        """By sitting, then by their own id: one may be closed on two machines."""
        self._keeping = Lock()
        self._changing, self._building = RLock(), RLock()
        self.version = 0
        self._kept = kept
        self._unread: dict[str, int] = {}
        self._late: dict[str, list[Response]] = {}
        """What came since to questions that are not read in, oldest first."""
        self._grown: set[str] = set()
        """The changed questions of which nothing has changed but that."""
        self._table: HistoryTable | None = None
        self._changed: dict[str, int] = {}
        """The version in which each question changed since the table was made."""
        self._added: dict[str, str] = {}
        """The question of each response that `add` took in, by the response's id."""
        self._dated: list[tuple[int, date]] = []
        """Versions with the study day that each changed, both ascending."""
        self._gather(list(records))
        self._dated.clear()
        if kept is not None:
            self._changed.clear()
            self._table = kept.table
            self._unread = kept.table.rows.copy()
            self._unread.pop(VISITS, None)

    # what there is

    def events(self, question_id: str) -> list[HistoryEvent]:
        """The responses to a question and the tiers set by hand, oldest first."""
        own = self._own(question_id)
        others = [
            event
            for duplicate in self._duplicates.of(question_id)
            for event in self._own(duplicate)
        ]
        return sorted([*own, *others], key=lambda event: (event.at, event.id)) if others else own

    def effective_events(self, question_id: str) -> list[HistoryEvent]:
        """What counts of it: in a paper a changed answer takes the earlier one's place, and one
        that awaits its answer key doesn't count yet.
        """
        taken = self.events(question_id)
        if not any(map(_in_paper, taken)):
            return taken
        last = {record.sitting: record.id for record in taken if _in_paper(record)}
        return [
            event
            for event in taken
            if not _in_paper(event)
            or (event.id == last[event.sitting] and not self.awaits_key(event))
        ]

    def responses(self, question_id: str) -> list[Response]:
        """The responses to a question, oldest first."""
        return [record for record in self.events(question_id) if isinstance(record, Response)]

    def questions(self) -> Iterator[str]:
        """The ids of all questions that have been responded to or set by hand, each once.

        A retired duplicate is counted as the question that stays.
        """
        return iter(dict.fromkeys(map(self._duplicates.stays, self.own_names())))

    def own_names(self) -> Iterator[str]:
        """The ids of all questions with events of their own, each once."""
        for name in dict.fromkeys([*self._unread.copy(), *self._events.copy()]):
            if name in self._unread or self._events.get(name):
                yield name

    def note(self, question_id: str) -> str:
        """The newest note, or ""."""
        notes = [
            note
            for name in (question_id, *self._duplicates.of(question_id))
            for note in self._notes.get(name, ())
        ]
        return max(notes, key=lambda note: (note.at, note.id)).text if notes else ""

    def noted(self) -> Iterator[str]:
        """The ids of all questions with a note, each once."""
        names = dict.fromkeys(map(self._duplicates.stays, self._notes.copy()))
        return (question for question in names if self.note(question))

    def dispute(self, question_id: str) -> Dispute | None:
        """The dispute in force, if any: the question's own, else that of a retired duplicate."""
        if not self._disputes:
            return None
        disputes = self._disputes.get(question_id)
        if not disputes:
            return next(self._disputes_of_duplicates(question_id), None)
        return disputes[-1] if disputes[-1].key else None

    def disputed(self) -> Iterator[str]:
        """The ids of all questions with a dispute in force, each once."""
        names = dict.fromkeys(map(self._duplicates.stays, self._disputes.copy()))
        return (question for question in names if self.dispute(question))

    def is_flagged(self, question_id: str) -> bool:
        """Whether the candidate flagged the question, or a retired duplicate of it."""
        flags = [
            flag
            for name in (question_id, *self._duplicates.of(question_id))
            for flag in self._flags.get(name, ())
        ]
        return bool(flags) and max(flags, key=lambda flag: (flag.at, flag.id)).on

    def reason(self, response: Response) -> Reason | None:
        """Why a response was a miss or unsure, if the candidate said so; the newest counts."""
        self._read_in_of(response)
        reasons = self._reasons.get(response.id)
        return reasons[-1].reason if reasons else response.reason

    def is_sure_miss(self, response: Response) -> bool:
        """Whether it was wrong though the candidate was sure: by a choice, or as they say."""
        is_stated = response.chosen is not None and response.confidence is Confidence.SURE
        is_sure = response.was_sure or is_stated
        return is_sure and self.verdict(response) is Verdict.WRONG

    def reading(self, response: Response) -> float:
        """The seconds spent on the answer to a response; 0 where they were not measured."""
        self._read_in_of(response)
        times = self._reading.get(response.id)
        return times[-1].seconds if times else response.reading

    def records_of(self, kind: type[R]) -> list[R]:
        """The records of one of the rare kinds, by age; see `_RARE`."""
        records = cast("dict[str, R]", self._rare.get(kind, {})).copy()
        return sorted(records.values(), key=lambda record: record.id)

    @property
    def sittings(self) -> dict[str, Sitting]:
        """Every sitting by its name, in the order in which they were recorded: a copy."""
        return self._sittings.copy()

    def is_closed(self, sitting: str) -> bool:
        """Whether the sitting of that name is over."""
        return bool(self._closings.get(sitting))

    def is_discarded(self, sitting: str) -> bool:
        """Whether the sitting of that name was ended without a result, and nowhere with one."""
        closings = self._closings.get(sitting, {}).values()
        return bool(closings) and all(closing.discarded for closing in closings)

    def reasons_by_day(self, question_id: str) -> dict[date, Reason]:
        """The newest reason said of a response of each study day, where one was said."""
        reasons = (
            (self.day(response.at), self.reason(response))
            for response in self.responses(question_id)
        )
        return {day: reason for day, reason in reasons if reason is not None}

    # what follows from it

    def day(self, at: datetime) -> date:
        """The study day of a moment."""
        return study_day(at, self.turn_hour)

    def verdict(self, response: Response) -> Verdict:
        """The verdict under the key in force now."""
        if response.chosen is None:
            return response.verdict or Verdict.BLANK
        question = self._question(response.question)
        if question is None:
            return response.verdict or Verdict.BLANK
        if question.same_as:
            question, response = self._duplicates.read(response, question)
        dispute = self.dispute(question.id)
        return grade(question, response, dispute.key if dispute else None)

    def awaits_key(self, response: Response) -> bool:
        """Whether it is a choice that neither an answer key nor the candidate has judged yet."""
        if response.verdict is not None or not "".join(response.chosen or ()).strip():
            return False
        question = self._question(response.question)
        if question is not None and question.same_as:
            question, _ = self._duplicates.read(response, question)
        if question is None:
            return False
        dispute = self.dispute(question.id)
        return not (dispute.key if dispute else question.answer_key)

    def chosen(self, response: Response) -> tuple[str, ...]:
        """What was chosen, as the question that stays names it; see `domain.grading`."""
        return self._duplicates.chosen(response)

    def standing(self, question_id: str) -> Standing:
        """Where a question stands. Folded once, then kept until its history changes."""
        if question_id not in self._changed:  # asked before the table: what changed is in either
            table = self._table
            row = table.rows.get(question_id) if table is not None else None
            if table is not None and row is not None:
                return table.standings[row]
        standing = self._standings.get(question_id)
        if standing is None:
            version = self.version
            standing = fold(self._tier_history(question_id), self.rules)
            with self._keeping:
                if version == self.version:
                    self._standings[question_id] = standing
        return standing

    def standing_by(self, question_id: str, own: Iterable[Judged | HandSet]) -> Standing:
        """The same while a table is made: `own` events are in its columns, duplicates' may not."""
        if self._duplicates.of(question_id) or question_id in self._standings:
            return self.standing(question_id)
        return fold(own, self.rules)

    def standing_before(self, question_id: str, day: date) -> Standing:
        """Where a question stood on the morning of a study day, under the keys of now."""
        standing = self.standing(question_id)
        if standing.last is not None and standing.last < day and not self._hand_set(question_id):
            return standing
        events = (event for event in self.judged(question_id) if event.day < day)
        return fold(events, self.rules)

    def waiting_mornings(self, question_id: str, day: date) -> Iterator[tuple[date, date | None]]:
        """When the question was waiting, as its events before a study day tell it; see
        `domain.tiers.waiting_mornings`.
        """
        longest = self.rules.waiting_days
        if (known := self._row(question_id)) and known[0].is_seen_within(known[1], longest):
            standing = self.standing_before(question_id, day)
            if standing.last is not None and not standing.settled:
                yield standing.last + timedelta(longest), None
            return
        events = (event for event in self.judged(question_id) if event.day < day)
        yield from waiting_mornings(events, self.rules)

    def _hand_set(self, question_id: str) -> bool:
        if known := self._row(question_id):
            table, row = known
            return row in table.hand_set
        return any(type(record) is HandTier for record in self.events(question_id))

    def judged(self, question_id: str) -> Iterator[Judged | HandSet]:
        """As `tier_events`, without the reasons of tiers set by hand."""
        if known := self._row(question_id):
            table, row = known
            return table.judged(row)
        return self.tier_events(question_id)

    def answered_on(self, day: date) -> set[str]:
        """The ids of the questions that were responded to on a study day."""
        table, number = self.table, day.toordinal()
        days, codes = table.days, table.codes
        return {
            self._duplicates.stays(table.names[row])
            for row in table.rows_with("days", number)
            if any(days[place] == number and codes[place] in MARKS for place in table.span(row))
        }

    def trail(self, question_id: str) -> list[Step]:
        """Every step that led to the standing."""
        return trail(self.tier_events(question_id), self.rules)

    def change_by(self, response: Response) -> tuple[Standing, Standing]:
        """Where its question stood just before a response and just after it."""
        events = self.effective_events(response.question)
        place = next((n for n, event in enumerate(events) if event.id == response.id), len(events))
        before, after = events[:place], events[: place + 1]
        return fold(self._read(before), self.rules), fold(self._read(after), self.rules)

    def _tier_history(self, question_id: str) -> Iterator[Judged | HandSet]:
        """As `tier_events`, from the columns where all else came since."""
        table = self._table
        if table is not None and (late := self.grown(question_id, table)) is not None:
            return chain(table.judged(table.rows[question_id]), self._read(late))
        return self.tier_events(question_id)

    def grown(self, question_id: str, table: HistoryTable) -> list[Response] | None:
        """The responses that came to a question since the table was made, oldest first; None where
        more has changed than that.
        """
        row, late = table.rows.get(question_id), self._late.get(question_id)
        if row is None or late is None or question_id not in self._grown:
            return None
        known = table.moments(row)
        newest = max((at for at, _ in known), default=-(1 << 62))
        late = [r for r in late if (microseconds(r.at), id_mark(r.id)) not in known]
        has_more = any(r.id in self._reasons or r.id in self._reading for r in late)
        if has_more or table.has_paper(row) or any(map(_in_paper, late)):
            return None
        return late if all(microseconds(response.at) > newest for response in late) else None

    def responses_on(self, question_id: str, day: date) -> list[Response]:
        """The responses to a question of a study day, oldest first; read from the log only where
        some of them are there.
        """
        with self._changing:
            row = None if self._duplicates.of(question_id) else self._unread.get(question_id)
            if row is None or self._kept is None or self._kept.table.is_of_day(row, day):
                responses = self.responses(question_id)
            else:
                responses = self._late.get(question_id, [])
        return [response for response in responses if self.day(response.at) == day]

    def change_on(self, question_id: str, day: date) -> tuple[Standing, Standing]:
        """Where a question stood before the first response of a study day and after the last."""
        if self._hand_set(question_id):
            responses = self.responses_on(question_id, day)
            return self.change_by(responses[0])[0], self.change_by(responses[-1])[1]
        evening = day + timedelta(1)
        return self.standing_before(question_id, day), self.standing_before(question_id, evening)

    def tier_events(self, question_id: str) -> Iterator[Judged | HandSet]:
        """The history as the tier rules read it, under the keys in force now."""
        return self._read(self.effective_events(question_id))

    def _read(self, events: Iterable[HistoryEvent]) -> Iterator[Judged | HandSet]:
        for record in events:
            day = study_day(record.at, self.turn_hour)
            if isinstance(record, Response):
                yield Judged(day, self.verdict(record), record.confidence)
            else:
                yield HandSet(day, record.tier, record.reason)

    def earliest_change(self, since: int) -> date:
        """The first study day on which something counts otherwise than it did at that version;
        date.max where all counts as it did.
        """
        with self._keeping:
            place = bisect_right(self._dated, since, key=itemgetter(0))
            return self._dated[place][1] if place < len(self._dated) else date.max

    # in columns

    @property
    def table(self) -> HistoryTable:
        """All events in columns, as they are now. Made once, then only what changed is read."""
        return self.table_with(nowhere)

    def table_with(self, place: LinePlaces) -> HistoryTable:
        """The same; what is read for it has the places of the records' lines."""
        with self._building:
            while True:
                with self._keeping:
                    table, version = self._table, self.version
                    changed = list(self._changed) if table is not None else []
                if table is not None and not changed:
                    return table
                if table is not None:
                    rows = [name for name in changed if self._is_row(name)]
                    made = extended(table, self, rows, place)
                else:
                    self.read_all()
                    made = table_of(self, self.own_names(), place)
                with self._keeping:
                    if self._table is not table:  # the whole log was read anew meanwhile
                        continue
                    self._table = made
                    later = self._changed.items()
                    self._changed = {name: changed for name, changed in later if changed > version}
                    return made

    def tallied(self, question_id: str) -> Iterator[Tallied]:
        """What counts of a question's history now, by age: from the columns where they tell it."""
        if known := self._row(question_id):
            table, row = known
            return table.tallied(row)
        return iter([self._tallied(record) for record in self.effective_events(question_id)])

    def _tallied(self, record: HistoryEvent) -> Tallied:
        day = self.day(record.at)
        if not isinstance(record, Response):
            return Tallied(day, record.tier, 0.0)
        seconds = record.seconds and record.seconds + self.reading(record)
        return Tallied(day, mark_of(record, self.verdict(record)), seconds)

    def _is_row(self, name: str) -> bool:
        if name == VISITS:
            return False
        return (self._table is not None and name in self._table.rows) or bool(self._own(name))

    def _row(self, question_id: str) -> tuple[HistoryTable, int] | None:
        """The row that says all of a question; None where it changed since, or has duplicates."""
        if question_id in self._changed or self._duplicates.of(question_id):
            return None
        table = self._table
        row = table.rows.get(question_id) if table is not None else None
        return None if table is None or row is None else (table, row)

    def stays(self, question_id: str) -> str:
        """The question that a retired duplicate turned out to be; any other id itself."""
        return self._duplicates.stays(question_id)

    def own_events(self, question_id: str) -> Sequence[HistoryEvent]:
        """The events of a question without those of its duplicates."""
        return self._own(question_id)

    def passed_over(self, question_id: str) -> Collection[str]:
        """The ids of its responses in papers that don't count; see `effective_events`."""
        stays = self._duplicates.stays(question_id)
        taken = self.events(stays)
        if not any(map(_in_paper, taken)):
            return ()
        counting = {event.id for event in self.effective_events(stays)}
        return {event.id for event in taken} - counting

    def own_remarks(self, question_id: str) -> list[ResponseReason | ReadingTime]:
        """What was said about a question's own responses."""
        remarks: list[ResponseReason | ReadingTime] = []
        for event in self._own(question_id):
            remarks += self._reasons.get(event.id, ())
            remarks += self._reading.get(event.id, ())
        return remarks

    def visit_records(self) -> list[VisitBegun | VisitEnded]:
        """When visits were begun and ended, oldest first."""
        made: list[VisitBegun | VisitEnded] = [*self.records_of(VisitBegun)]
        made += self.records_of(VisitEnded)
        return sorted(made, key=lambda record: (record.at, record.id))

    # what was read before

    def read_all(self) -> None:
        """Read the records of every question, where they were not needed until now."""
        while self._kept is not None and self._unread:
            version = self.version
            fresh = self._of(self._kept.read_all())
            with self._changing:
                if self.version == version:
                    self._take_over(fresh)

    def kept_records(self, record_ids: Collection[str]) -> dict[str, AnyRecord]:
        """Those of these records that are among the kept ones, by id."""
        if self._kept is None:
            return {}
        table, records = self._kept.table, list[AnyRecord]()
        for row in table.rows_with_any("ids", set(map(id_mark, record_ids))):
            name = table.names[row]
            records += self._own(name)
            records += self.own_remarks(name)
        return {record.id: record for record in records if record.id in record_ids}

    def _read_in_with(self, record_id: str) -> None:
        """Read in the question that has the record, where it was not needed until now."""
        if self._kept is not None and self._unread:
            table = self._kept.table
            for row in table.rows_with("ids", id_mark(record_id)):
                self._own(table.names[row])

    def _read_in_of(self, response: Response) -> None:
        """Read in what was said of a response, where that was not needed until now."""
        if response.id not in self._added:
            self._own(response.question)

    def _own(self, question_id: str) -> list[HistoryEvent]:
        if question_id in self._unread:
            self._read_in(question_id)
        return self._events.get(question_id, [])

    def _read_in(self, question_id: str) -> None:
        with self._changing:
            row = self._unread.get(question_id)
            if row is None or self._kept is None:
                return
            records = self._kept.read(row)
            if records is None:  # the log is not what it was: nothing that was kept holds
                self._take_over(self._of(self._kept.read_all()))
                with self._keeping:
                    self._bump(date.min)
                    self._table = None
                    self._standings.clear()
                return
            events: list[HistoryEvent] = []
            for record in records:
                if isinstance(record, Response | HandTier):
                    events.append(record)
                else:
                    index, key = self._shelf(record)
                    index[key] = _with(index.get(key, ()), record)
            events += self._late.pop(question_id, ())
            _put_in_order(events)
            self._events[question_id] = events
            del self._unread[question_id]

    def _of(self, records: list[AnyRecord]) -> "History":
        return History(records, self._question, self.rules, self.turn_hour, self._duplicates)

    def _take_over(self, fresh: "History") -> None:
        """Go on with the records of that history in the place of those that are held."""
        self._events, self._disputes = fresh._events, fresh._disputes
        self._notes, self._flags = fresh._notes, fresh._flags
        self._reasons, self._reading, self._rare = fresh._reasons, fresh._reading, fresh._rare
        self._sittings = {
            name: Sitting(sitting.opened, self) for name, sitting in fresh._sittings.items()
        }
        self._closings = fresh._closings
        self._unread, self._late = {}, {}

    # change

    def add(self, record: AnyRecord) -> None:
        """Take in one more record. For a withdrawal, `remove` what it names."""
        with self._changing:
            self._index(record)

    def remove(self, records: Iterable[AnyRecord]) -> None:
        """Take out records that were withdrawn: the history is as if they had never been."""
        with self._changing:
            for record in records:
                self._unindex(record)

    def reread(self, rules: TierRules, turn_hour: int) -> None:
        """Read the whole history again under other rules."""
        with self._building, self._keeping:
            self.rules, self.turn_hour = rules, turn_hour
            self._bump(date.min)
            self._table = None
            self._standings.clear()

    def regrade(self, question_ids: Iterable[str]) -> None:
        """Read these questions' histories again: their text or key has changed."""
        with self._keeping:
            self._bump(date.min)
            for question_id in question_ids:
                self._void(question_id)

    def _gather(self, log: list[AnyRecord]) -> None:
        """Take in a whole log, in whatever order: hundreds of thousands of records at once."""
        gone = {target for record in log if type(record) is Withdrawal for target in record.targets}
        taken = self._events
        for record in log:
            if record.id in gone:
                continue
            if type(record) is not Response:
                self._index(record)
            elif record.question in taken:
                taken[record.question].append(record)
            else:
                taken[record.question] = [record]
        for records in taken.values():
            _put_in_order(records)

    def _index(self, record: AnyRecord) -> None:
        match record:
            case SittingOpened():
                self._sittings[record.id] = Sitting(record, self)
                self._forget()
            case SittingClosed():
                self._closings.setdefault(record.sitting, {})[record.id] = record
                self._forget()
            case _ if isinstance(record, _RARE):
                self._rare.setdefault(type(record), {})[record.id] = record
                self._forget_visits(record)
            case Withdrawal() | BankSaved():
                return
            case Response() if record.question in self._unread:
                self._grow(record)
            case _:
                index, key = self._shelf(record)
                index[key] = _with(index.get(key, ()), record)
                if isinstance(record, Response):
                    self._added[record.id] = record.question
                self._forget_row(record, key)

    def _grow(self, response: Response) -> None:
        """Add a response to a question that need not be read in for it."""
        name = response.question
        has_only_grown = name not in self._changed or name in self._grown
        self._late[name] = _with(self._late.get(name, ()), response)
        self._added[response.id] = name
        self._forget_row(response, name)
        if has_only_grown and not self._duplicates.of(name) and self.stays(name) == name:
            self._grown.add(name)

    def _unindex(self, record: AnyRecord) -> None:
        match record:
            case SittingOpened():
                self._sittings.pop(record.id, None)
                self._forget()
            case SittingClosed():
                self._closings.get(record.sitting, {}).pop(record.id, None)
                self._forget()
            case _ if isinstance(record, _RARE):
                self._rare.get(type(record), {}).pop(record.id, None)
                self._forget_visits(record)
            case Withdrawal() | BankSaved():
                return
            case _:
                index, key = self._shelf(record)
                if isinstance(record, ResponseReason | ReadingTime):
                    self._read_in_with(key)  # or it would come with its question later
                index[key] = [kept for kept in index.get(key, ()) if kept.id != record.id]
                self._forget_row(record, key)

    def _disputes_of_duplicates(self, question_id: str) -> Iterator[Dispute]:
        """The disputes in force of the retired duplicates, with the key in this one's options."""
        for name in self._duplicates.of(question_id):
            newest = self._disputes.get(name, [])[-1:]
            for dispute in newest:
                if key := self._duplicates.key_here(dispute.key, name, question_id):
                    yield replace(dispute, question=question_id, key=key)

    def _forget(self, question_id: str = "", since: date = date.max) -> None:
        """What was folded of a question, and of those that are one with it, no longer holds.
        Nothing counts otherwise on the study days before `since`.
        """
        with self._keeping:
            self._bump(since)
            if question_id:
                self._void(question_id)

    def _forget_visits(self, record: Record) -> None:
        with self._keeping:
            self._bump(self.day(record.at))
            self._changed[VISITS] = self.version

    def _bump(self, since: date) -> None:
        """Another version, in which nothing has changed on the study days before `since`."""
        self.version += 1
        if since < date.max:
            while self._dated and self._dated[-1][1] >= since:
                self._dated.pop()
            self._dated.append((self.version, since))

    def _void(self, question_id: str) -> None:
        """Standings and rows of a question and of those that are one with it are not what they
        were.
        """
        stays = self._duplicates.stays(question_id)
        others = (*self._duplicates.of(question_id), *self._duplicates.of(stays))
        for name in (question_id, stays, *others):
            self._standings.pop(name, None)
            self._grown.discard(name)
            self._changed[name] = self.version

    def _forget_row(self, record: AnyRecord, key: str) -> None:
        """As `_forget`, for a record of a question or of one of its responses."""
        if not isinstance(record, ResponseReason | ReadingTime):
            self._forget(key, self._counts_from(record))
            return
        if self._table is None:
            self._forget(since=date.min)
            return
        self._forget()
        if key in self._added:
            names = [self._added[key]]
        else:
            names = [self._table.names[row] for row in self._table.rows_with("ids", id_mark(key))]
        for name in filter(None, names):
            days = [self.day(event.at) for event in self._own(name) if event.id == key]
            self._forget(name, min(days, default=date.max))

    def _counts_from(self, record: AnyRecord) -> date:
        """The first study day on which something counts otherwise by this record of a question."""
        match record:
            case Response() if _in_paper(record):
                stays = self._duplicates.stays(record.question)
                others = filter(_in_paper, self.events(stays))
                same = [other.at for other in others if other.sitting == record.sitting]
                return min(map(self.day, (record.at, *same)))
            case Response() | HandTier():
                return self.day(record.at)
            case Dispute():
                return date.min
        return date.max

    def _shelf(self, record: AnyRecord) -> tuple[dict[str, list[Any]], str]:
        match record:
            case Response() | HandTier():
                self._own(record.question)
                return self._events, record.question
            case Dispute():
                return self._disputes, record.question
            case Note():
                return self._notes, record.question
            case Flag():
                return self._flags, record.question
            case ResponseReason():
                return self._reasons, record.response
            case ReadingTime():
                return self._reading, record.response
        raise TypeError(record)


def _in_paper(record: HistoryEvent) -> TypeGuard[Response]:
    return type(record) is Response and record.purpose is Purpose.PAPER and record.sitting != ""


def _with(records: Iterable[Any], record: Any) -> list[Any]:
    """A new list in time order; a record is nearly always the newest."""
    made = [*records, record]
    if len(made) > 1 and not made[-2].at < record.at:
        _put_in_order(made)
    return made


def _put_in_order(records: list[Any]) -> None:
    """Each once, oldest first: they nearly always are already."""
    if all(earlier.at < later.at for earlier, later in pairwise(records)):
        return
    unique = {record.id: record for record in records}
    records[:] = sorted(unique.values(), key=lambda record: (record.at, record.id))
