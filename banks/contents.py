"""What a store holds, loaded into the domain: banks, settings and history, to be read.

`banks.library.Library` adds what puts something on record.
"""

from collections.abc import Iterable, Iterator
from datetime import date, datetime
from pathlib import Path
from typing import Any

from msgspec import Struct

from banks.clock import Clock, local_now
from banks.kept_history import OfMorning, read_history
from banks.store.folder import Store
from domain.history import Sitting
from domain.history_table import Mark
from domain.questions import Bank, Chapter, Question, Subject, bank_of
from domain.responses import Response


class Location(Struct, frozen=True):
    """Where a question stands in the banks."""

    bank: Bank
    subject: Subject
    chapter: Chapter


FEWEST_FOR_CAP, TIMED_FOR_CAP = 30, 400
"""From so many of the newest times the own median is taken."""


class StoreContents:
    """Banks, settings and history of one store."""

    def __init__(self, store: Store, clock: Clock = local_now) -> None:
        self.store = store
        self.now = clock
        self._others_logs = store.others_logs()
        self.settings = store.settings()
        self.banks: dict[str, Bank] = {bank.id: bank for bank in store.load_banks()}
        self.history, self.history_basis = read_history(self)
        self.mornings: dict[str, OfMorning] = {}
        """What was made of the history before a morning, by name."""

    @property
    def read_only(self) -> bool:
        """Whether nothing can be recorded."""
        return self.store.read_only

    @property
    def folder(self) -> Path:
        """The store's folder."""
        return self.store.folder

    @property
    def version(self) -> int:
        """Another number after every record that comes or goes."""
        return self.history.version

    @property
    def is_of_now(self) -> bool:
        """Whether no other machine's records have come into the folder since it was read."""
        return self.store.others_logs() == self._others_logs

    @property
    def is_set_up(self) -> bool:
        """Whether there is a bank and an exam day to plan for."""
        return bool(self.banks) and self.settings.plan.is_set_up

    def today(self) -> date:
        """The study day it is now."""
        return self.history.day(self.now())

    @property
    def notices(self) -> list[str]:
        """What the store has to say: what was set aside, carried over, brought up to date."""
        return self.store.notices

    def bank(self, bank_id: str) -> Bank:
        """The bank with this id. Raises KeyError."""
        return self.banks[bank_id]

    @property
    def question_count(self) -> int:
        """Questions in all banks, the retired ones too."""
        return sum(len(bank.questions) for bank in self.banks.values())

    def time_cap(self) -> float:
        """The most seconds one question may count: as set, or six own medians where that is more.

        The median is that of the newest sittings, so that a long history costs no more; a few
        times alone say nothing.
        """
        from domain.plan.outlook import time_cap

        timed: list[float] = []
        for sitting in reversed(list(self.history.sittings.values())):
            timed += (given.seconds for given in sitting.given.values() if given.seconds)
            if len(timed) >= TIMED_FOR_CAP:
                break
        known = timed if len(timed) >= FEWEST_FOR_CAP else []
        return time_cap(known, self.settings.idle_cap)

    def read_records(self) -> None:
        """Read every record: what was said of responses is in no column."""
        self.history.read_all()

    def sitting(self, sitting_id: str) -> Sitting:
        """What is on record of a sitting. Raises KeyError."""
        return self.history.sittings[sitting_id]

    def response_count(self, question_id: str) -> int:
        """How many responses to a question count."""
        tallied = self.history.tallied(question_id)
        return sum(isinstance(event, Mark) for _, event, _ in tallied)

    def responses_on(self, question_ids: Iterable[str], day: date) -> list[Response]:
        """The responses to these questions that count and are of this study day."""
        answered, history = self.history.answered_on(day), self.history
        return [
            response
            for name in question_ids
            if history.stays(name) in answered
            for response in history.responses_on(name, day)
        ]

    def figure_path(self, bank_id: str, name: str) -> Path:
        """The file of a bank's picture."""
        return self.store.figure_path(bank_id, name)

    def question(self, question_id: str) -> Question | None:
        """The question, retired or not, or None."""
        bank = self.banks.get(bank_of(question_id))
        return bank.questions.get(question_id) if bank else None

    def duplicates(self, question_id: str) -> tuple[str, ...]:
        """The retired duplicates of a question."""
        bank = self.banks.get(bank_of(question_id))
        return bank.duplicates(question_id) if bank else ()

    def stays(self, question_id: str) -> str:
        """The question that a retired duplicate turned out to be; any other id itself."""
        bank = self.banks.get(bank_of(question_id))
        return bank.index.same_as.get(question_id, question_id) if bank else question_id

    def location(self, question: Question) -> Location:
        """Where the question stands. Raises KeyError for a question of no bank."""
        bank = self.banks[bank_of(question.id)]
        return Location(bank, bank.subject_of(question.chapter), bank.chapter(question.chapter))

    def subject_id(self, question_id: str) -> str:
        """`<bank>/<subject>` of a question, "" for one of no bank."""
        bank = self.banks.get(bank_of(question_id))
        row = bank.index.rows.get(question_id) if bank else None
        if bank is None or row is None:
            return ""
        return f"{bank.id}/{bank.subject_of(bank.index.chapter(row)).id}"

    def locations(self, bank_id: str | None = None) -> Iterator[Location]:
        """Every chapter in the banks' order."""
        for bank in self.banks.values():
            if bank_id in (None, bank.id):
                for subject in bank.subjects:
                    for chapter in subject.chapters:
                        yield Location(bank, subject, chapter)

    def active_ids(self, bank_id: str | None = None) -> Iterator[tuple[Location, str]]:
        """The id of every question that is not retired, in the banks' order."""
        for location in self.locations(bank_id):
            for name in location.bank.index.ids_in(location.chapter.id):
                yield location, name

    def active_questions(self, bank_id: str | None = None) -> Iterator[tuple[Location, Question]]:
        """Every question that is not retired, in the banks' order. Each is read from the bank:
        where its id is enough, `active_ids` gives it sooner.
        """
        for location in self.locations(bank_id):
            for question in location.bank.in_chapter(location.chapter.id):
                yield location, question

    def answer_key(self, question: Question) -> tuple[str, ...]:
        """The key in force: the candidate's where they dispute the bank's."""
        dispute = self.history.dispute(question.id)
        return dispute.key if dispute else question.answer_key

    def stamp(self, at: datetime | None = None) -> dict[str, Any]:
        """What every new record begins with."""
        return {"id": self.store.new_id(), "at": at or self.now()}
