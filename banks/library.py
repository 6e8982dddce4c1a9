"""The one door to bank and log: loads them into the domain, answers, and records.

Screens and commands ask here and hand their intents in here; `banks/views/` makes the plain
values that they show. What `record` returns is on the drive.
"""

from collections.abc import Iterable, Iterator, Sequence
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

from msgspec import Struct
from msgspec.structs import replace

from banks.clock import Clock, local_now
from banks.editing.edits import Edits
from banks.maintenance.opening import prepare
from banks.settings import Settings
from banks.store.folder import Store
from banks.store.gc_pause import paused_collector
from banks.undone import Undone
from domain.errors import InputError
from domain.history import History
from domain.marking.blueprint import Blueprint
from domain.questions import Bank, Chapter, Question, Subject
from domain.responses import (
    AnyRecord,
    Dispute,
    HandTier,
    Medium,
    Note,
    PaperKind,
    Purpose,
    Reason,
    Response,
    ResponseReason,
    SittingClosed,
    SittingOpened,
    Withdrawal,
)
from domain.text import safe_text, tidy
from domain.tiers import Standing, Tier
from domain.verdicts import Confidence, Verdict


class Location(Struct, frozen=True):
    """Where a question stands in the banks."""

    bank: Bank
    subject: Subject
    chapter: Chapter


class Given(Struct, frozen=True, kw_only=True):
    """What the candidate gave to one question: see `domain.responses.Response`."""

    question: str
    chosen: tuple[str, ...] | None = None
    verdict: Verdict | None = None
    confidence: Confidence = Confidence.SURE
    seconds: float = 0.0


class Outcome(Struct, frozen=True):
    """What a response came to."""

    response: Response
    verdict: Verdict
    before: Standing
    after: Standing


class Library:
    """Banks, settings and history of one store."""

    def __init__(self, store: Store, clock: Clock = local_now) -> None:
        self.store = store
        self.now = clock
        self.settings = store.settings()
        self.banks: dict[str, Bank] = {bank.id: bank for bank in store.load_banks()}
        self.history = History(
            store.records(), self.question, self.settings.tier_rules, self.settings.turn_hour,
            self._duplicates,
        )  # fmt: skip
        self.edits = Edits(self)
        self._done: list[Undone] = []

    @classmethod
    def open(cls, folder: Path, clock: Clock = local_now, *, read_only: bool = False) -> "Library":
        """Open the store in `folder`. Raises StoreError; see `Store.open`."""
        store = Store.open(folder, read_only=read_only, prepare=prepare)
        try:
            with paused_collector():
                return cls(store, clock)
        except BaseException:
            store.close()
            raise

    def close(self) -> None:
        """Let the store go."""
        self.store.close()

    # looking

    def today(self) -> date:
        """The study day it is now."""
        return self.history.day(self.now())

    def question(self, question_id: str) -> Question | None:
        """The question, retired or not, or None."""
        bank = self.banks.get(question_id.partition("/")[0])
        return bank.questions.get(question_id) if bank else None

    def _duplicates(self, question_id: str) -> tuple[str, ...]:
        bank = self.banks.get(question_id.partition("/")[0])
        return bank.duplicates(question_id) if bank else ()

    def location(self, question: Question) -> Location:
        """Where the question stands. Raises KeyError for a question of no bank."""
        bank = self.banks[question.id.partition("/")[0]]
        return Location(bank, bank.subject_of(question.chapter), bank.chapter(question.chapter))

    def active_questions(self, bank_id: str | None = None) -> Iterator[tuple[Location, Question]]:
        """Every question that is not retired, in the banks' order."""
        for bank in self.banks.values():
            if bank_id in (None, bank.id):
                for subject in bank.subjects:
                    for chapter in subject.chapters:
                        location = Location(bank, subject, chapter)
                        for question in bank.in_chapter(chapter.id):
                            yield location, question

    def answer_key(self, question: Question) -> tuple[str, ...]:
        """The key in force: the candidate's where they dispute the bank's."""
        dispute = self.history.dispute(question.id)
        return dispute.key if dispute else question.answer_key

    # responding

    def record(
        self,
        given: Sequence[Given],
        purpose: Purpose,
        *,
        sitting: str = "",
        day: date | None = None,
        label: str = "",
        replacing: Sequence[Response] = (),
    ) -> list[Outcome]:
        """Put responses into the log, all in one write. Undone together.

        `day` records for an earlier study day (paper marked then). `replacing` names responses
        that these correct: they are withdrawn in the same write, and count again after an undo.
        They are judged before they are written, so that nothing can stand in the log that no
        verdict can be given on. Raises InputError for an unknown question, StoreError when
        nothing was saved.
        """
        at = self._moment(day)
        responses = [
            Response(
                id=self.store.new_id(), at=at, question=one.question,
                chosen=None if one.chosen is None else tuple(map(safe_text, one.chosen)),
                verdict=one.verdict, confidence=one.confidence, seconds=_tenths(one.seconds),
                purpose=purpose, sitting=sitting,
            )
            for one in given
        ]  # fmt: skip
        for response in responses:
            if self.question(response.question) is None:
                raise InputError(f"{response.question}: there is no such question")
        before = [self.history.standing(response.question) for response in responses]
        verdicts = [self.history.verdict(response) for response in responses]
        self._commit(responses, label or f"{len(responses)} marks", replacing)
        return [
            Outcome(response, verdict, stood, self.history.standing(response.question))
            for response, verdict, stood in zip(responses, verdicts, before, strict=True)
        ]

    def _moment(self, day: date | None) -> datetime:
        now = self.now()
        if day is None or day == self.history.day(now):
            return now
        if day > self.history.day(now):
            raise InputError(f"{day}: lies in the future; nothing was recorded")
        noon = now.replace(hour=12, minute=0, second=0, microsecond=0)
        return noon + timedelta(days=(day - noon.date()).days)

    def open_sitting(
        self,
        title: str,
        purpose: Purpose,
        questions: Sequence[str],
        seed: int = 0,
        paper: Blueprint | None = None,
        *,
        paper_kind: PaperKind | None = None,
        medium: Medium = Medium.ON_SCREEN,
        visit: str = "",
        sheet: bool = False,
    ) -> str:
        """Begin a sitting over these questions; the name to record its responses under."""
        opened = SittingOpened(
            **self._stamp(), title=tidy(title), purpose=purpose, questions=tuple(questions),
            seed=seed, paper=paper, paper_kind=paper_kind, medium=medium, visit=visit,
            sheet=sheet,
        )  # fmt: skip
        self._save([opened])
        return opened.id

    def close_sitting(self, sitting: str) -> None:
        """End a go: it is not offered for resuming any more."""
        self._save([SittingClosed(**self._stamp(), sitting=sitting)])

    # saying things about questions

    def dispute(self, question_id: str, key: tuple[str, ...], note: str = "") -> None:
        """Believe another key (an empty one: the bank's again); the history regrades."""
        own = tuple(map(safe_text, key))
        record = Dispute(**self._stamp(), question=question_id, key=own, note=tidy(note))
        self._commit([record], "the disputed key")

    def note(self, question_id: str, text: str) -> None:
        """Keep a note on a question."""
        self._commit([Note(**self._stamp(), question=question_id, text=tidy(text))], "the note")

    def reason(self, response_id: str, reason: Reason) -> None:
        """Say why a response was a miss."""
        record = ResponseReason(**self._stamp(), response=response_id, reason=reason)
        self._commit([record], "the reason")

    def set_tier(self, question_id: str, tier: Tier, reason: str) -> None:
        """Set a tier by hand. Raises InputError without a reason."""
        reason = tidy(reason)
        if not reason:
            raise InputError("a tier set by hand needs a reason; nothing was changed")
        record = HandTier(**self._stamp(), question=question_id, tier=tier, reason=reason)
        self._commit([record], f"the tier set to {tier.word}")

    def _stamp(self) -> dict[str, Any]:
        """What every new record begins with."""
        return {"id": self.store.new_id(), "at": self.now()}

    # undo

    @property
    def newest(self) -> Undone | None:
        """What `undo` would take back: the newest thing said in this run, if any is left."""
        return self._done[-1] if self._done else None

    def undo(self) -> Undone | None:
        """Take back the newest thing said in this run, or None when there is nothing left."""
        undone = self.newest
        if undone is None:
            return None
        restored = [replace(one, id=self.store.new_id()) for one in undone.replaced]
        self._exchange(undone.records, restored)
        self._done.pop()
        again = dict(zip((one.id for one in undone.replaced), restored, strict=True))
        self._done = [one.renamed(again) for one in self._done] if again else self._done
        return undone

    def withdraw(self, records: Iterable[AnyRecord]) -> None:
        """Put on record that these never happened."""
        self._exchange(tuple(records), ())

    def _commit(
        self, records: Sequence[AnyRecord], label: str, replaced: Sequence[Response] = ()
    ) -> None:
        self._exchange(replaced, records)
        self._done.append(Undone(label, tuple(records), tuple(replaced)))

    def _save(self, records: Sequence[AnyRecord]) -> None:
        self._exchange((), records)

    def _exchange(self, gone: Sequence[AnyRecord], added: Sequence[AnyRecord]) -> None:
        """Withdraw and add in one write.

        The withdrawal stands last: a write that the power cuts short may leave a response too
        many, never one too few.
        """
        self.store.append([*added, *self._withdrawal(gone)])
        self.history.remove(gone)
        for record in added:
            self.history.add(record)

    def _withdrawal(self, gone: Sequence[AnyRecord]) -> list[Withdrawal]:
        targets = tuple(record.id for record in gone)
        return [Withdrawal(**self._stamp(), targets=targets)] if gone else []

    # changing

    def save_bank(self, bank: Bank, changed: Iterable[str] | None = None) -> None:
        """Put a changed bank in the place of the old. `changed` names the questions to regrade."""
        self.store.save_bank(bank)
        self.banks = self.banks | {bank.id: bank}  # a new one: another thread may go through it
        self.history.regrade(bank.questions if changed is None else changed)

    def save_settings(self, settings: Settings) -> None:
        """Use and keep these settings. Raises InputError when they can't be used."""
        problems = settings.problems()
        if problems:
            raise InputError("; ".join(problems) + "; the settings are unchanged")
        self.store.save_settings(settings)
        self.settings = settings
        if (settings.tier_rules, settings.turn_hour) != (
            self.history.rules,
            self.history.turn_hour,
        ):
            self.history.reread(settings.tier_rules, settings.turn_hour)


def _tenths(seconds: float) -> float:
    """Seconds as they are recorded; what is no duration was not measured."""
    return round(seconds, 1) if 0 <= seconds < float("inf") else 0.0
