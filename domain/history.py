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

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, field
from datetime import date, datetime
from itertools import pairwise, takewhile
from threading import Lock
from typing import Any, TypeGuard, TypeVar, cast

from msgspec.structs import replace

from domain.duplicates import Duplicates
from domain.grading import grade
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
from domain.tiers import HandSet, Judged, Standing, Step, TierRules, fold, is_waiting, trail
from domain.verdicts import Confidence, Verdict

R = TypeVar("R", bound=Record)

HistoryEvent = Response | HandTier
"""The records that a question's tier is read from."""


@dataclass(frozen=True)
class Sitting:
    """One go, seen through the history it belongs to."""

    opened: SittingOpened
    history: "History" = field(repr=False)

    @property
    def closed(self) -> bool:
        """Whether it is over."""
        return self.history.is_closed(self.opened.id)

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
        duplicates: Callable[[str], Iterable[str]] = lambda _: (),
    ) -> None:
        self.rules = rules
        self.turn_hour = turn_hour
        self._question = question
        self._duplicates = Duplicates(question, duplicates)
        self._events: dict[str, list[HistoryEvent]] = {}
        self._disputes: dict[str, list[Dispute]] = {}
        self._notes: dict[str, list[Note]] = {}
        self._flags: dict[str, list[Flag]] = {}
        self._reasons: dict[str, list[ResponseReason]] = {}
        self._reading: dict[str, list[ReadingTime]] = {}
        self._rare: dict[type[Record], dict[str, Record]] = {}
        self._standings: dict[str, Standing] = {}
        self._sittings: dict[str, Sitting] = {}
        self._closed_sittings: set[str] = set()
        self._keeping = Lock()
        self.version = 0
        self._gather(list(records))

    # what there is

    def events(self, question_id: str) -> list[HistoryEvent]:
        """The responses to a question and the tiers set by hand, oldest first."""
        own = self._events.get(question_id, [])
        others = [
            one
            for duplicate in self._duplicates.of(question_id)
            for one in self._events.get(duplicate, ())
        ]
        return sorted([*own, *others], key=lambda one: (one.at, one.id)) if others else own

    def effective_events(self, question_id: str) -> list[HistoryEvent]:
        """What counts of it: in a paper a changed answer takes the earlier one's place, and one
        that awaits its answer key doesn't count yet.
        """
        taken = self.events(question_id)
        if not any(map(_in_paper, taken)):
            return taken
        last = {record.sitting: record.id for record in taken if _in_paper(record)}
        return [
            one
            for one in taken
            if not _in_paper(one) or (one.id == last[one.sitting] and not self.awaits_key(one))
        ]

    def responses(self, question_id: str) -> list[Response]:
        """The responses to a question, oldest first."""
        return [record for record in self.events(question_id) if isinstance(record, Response)]

    def questions(self) -> Iterator[str]:
        """The ids of all questions that have been responded to or set by hand, each once.

        A retired duplicate is counted as the question that stays.
        """
        return iter(
            dict.fromkeys(
                self._duplicates.stays(name) for name, taken in self._events.copy().items() if taken
            )
        )

    def note(self, question_id: str) -> str:
        """The newest note, or ""."""
        notes = [
            one
            for name in (question_id, *self._duplicates.of(question_id))
            for one in self._notes.get(name, ())
        ]
        return max(notes, key=lambda one: (one.at, one.id)).text if notes else ""

    def dispute(self, question_id: str) -> Dispute | None:
        """The dispute in force, if any: the question's own, else that of a retired duplicate."""
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
        reasons = self._reasons.get(response.id)
        return reasons[-1].reason if reasons else response.reason

    def is_sure_miss(self, response: Response) -> bool:
        """Whether it was wrong though the candidate was sure: by a choice, or as they say."""
        is_stated = response.chosen is not None and response.confidence is Confidence.SURE
        is_sure = response.was_sure or is_stated
        return is_sure and self.verdict(response) is Verdict.WRONG

    def reading(self, response: Response) -> float:
        """The seconds spent on the answer to a response; 0 where they were not measured."""
        times = self._reading.get(response.id)
        return times[-1].seconds if times else response.reading

    def records_of(self, kind: type[R]) -> list[R]:
        """The records of one of the rare kinds, by age.

        Those of visits, accepted plans, outside papers and first studies.
        """
        records = cast("dict[str, R]", self._rare.get(kind, {})).copy()
        return sorted(records.values(), key=lambda record: record.id)

    @property
    def sittings(self) -> dict[str, Sitting]:
        """Every sitting by its name, in the order in which they were recorded: a copy."""
        return self._sittings.copy()

    def is_closed(self, sitting: str) -> bool:
        """Whether the sitting of that name is over."""
        return sitting in self._closed_sittings

    def reasons_by_day(self, question_id: str) -> dict[date, Reason]:
        """The newest reason said of a response of each study day, where one was said."""
        said = ((self.day(one.at), self.reason(one)) for one in self.responses(question_id))
        return {day: reason for day, reason in said if reason is not None}

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
        dispute = self.dispute(question.id) if self._disputes else None
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
        """What was chosen, as the question that stays names it; see `domain.duplicates`."""
        return self._duplicates.chosen(response)

    def standing(self, question_id: str) -> Standing:
        """Where a question stands. Folded once, then kept until its history changes."""
        found = self._standings.get(question_id)
        if found is None:
            version = self.version
            found = fold(self.tier_events(question_id), self.rules)
            with self._keeping:
                if version == self.version:
                    self._standings[question_id] = found
        return found

    def standing_before(self, question_id: str, day: date) -> Standing:
        """Where a question stood on the morning of a study day, under the keys of now."""
        standing = self.standing(question_id)
        if standing.last is not None and standing.last < day and not self._hand_set(question_id):
            return standing
        events = (event for event in self.tier_events(question_id) if event.day < day)
        return fold(events, self.rules)

    def was_waiting(self, question_id: str, day: date) -> bool:
        """Whether a question was waiting on the morning of a study day."""
        after_days = self.rules.waiting_days
        tried = (self.day(one.at) for one in self.responses(question_id))
        last = max((one for one in tried if one < day), default=None)
        if last is None or (day - last).days < after_days:
            return False  # most are told by their days alone, without a fold
        return is_waiting(self.standing_before(question_id, day), day, after_days)

    def _hand_set(self, question_id: str) -> bool:
        return any(type(record) is HandTier for record in self.events(question_id))

    def answered_on(self, day: date) -> set[str]:
        """The ids of the questions that were responded to on a study day."""
        return {
            self._duplicates.stays(name)
            for name, events in self._events.copy().items()
            if any(
                isinstance(event, Response) and self.day(event.at) == day
                for event in takewhile(lambda e: self.day(e.at) >= day, reversed(events))
            )
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

    # change

    def add(self, record: AnyRecord) -> None:
        """Take in one more record. For a withdrawal, `remove` what it names."""
        self._index(record)

    def remove(self, records: Iterable[AnyRecord]) -> None:
        """Take out records that were withdrawn: the history is as if they had never been."""
        for record in records:
            self._unindex(record)

    def reread(self, rules: TierRules, turn_hour: int) -> None:
        """Read the whole history again under other rules."""
        self.rules, self.turn_hour = rules, turn_hour
        with self._keeping:
            self.version += 1
            self._standings.clear()

    def regrade(self, question_ids: Iterable[str]) -> None:
        """Read these questions' histories again: their text or key has changed."""
        with self._keeping:
            self.version += 1
            for question_id in question_ids:
                self._standings.pop(question_id, None)

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
                self._closed_sittings.add(record.sitting)
                self._forget()
            case (
                VisitBegun()
                | VisitEnded()
                | PlanAccepted()
                | OutsidePaper()
                | FirstStudyDone()
                | ExamTopic()
            ):
                self._rare.setdefault(type(record), {})[record.id] = record
                self._forget()
            case Withdrawal() | BankSaved():
                return
            case _:
                index, key = self._shelf(record)
                index[key] = _with(index.get(key, ()), record)
                self._forget(key)

    def _unindex(self, record: AnyRecord) -> None:
        match record:
            case SittingOpened():
                self._sittings.pop(record.id, None)
                self._forget()
            case SittingClosed():
                self._closed_sittings.discard(record.sitting)
                self._forget()
            case (
                VisitBegun()
                | VisitEnded()
                | PlanAccepted()
                | OutsidePaper()
                | FirstStudyDone()
                | ExamTopic()
            ):
                self._rare.get(type(record), {}).pop(record.id, None)
                self._forget()
            case Withdrawal() | BankSaved():
                return
            case _:
                index, key = self._shelf(record)
                index[key] = [kept for kept in index.get(key, ()) if kept.id != record.id]
                self._forget(key)

    def _disputes_of_duplicates(self, question_id: str) -> Iterator[Dispute]:
        """The disputes in force of the retired duplicates, with the key in this one's options."""
        for name in self._duplicates.of(question_id):
            newest = self._disputes.get(name, [])[-1:]
            for dispute in newest:
                if key := self._duplicates.key_here(dispute.key, name, question_id):
                    yield replace(dispute, question=question_id, key=key)

    def _forget(self, question_id: str = "") -> None:
        """What was folded of a question, and of the one it turned out to be, no longer holds."""
        with self._keeping:
            self.version += 1
            if self._standings:
                self._standings.pop(question_id, None)
                self._standings.pop(self._duplicates.stays(question_id), None)

    def _shelf(self, record: AnyRecord) -> tuple[dict[str, list[Any]], str]:
        match record:
            case Response() | HandTier():
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
