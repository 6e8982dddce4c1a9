"""Bank and log of one store: what it holds, and what puts something on record.

Screens and commands ask here and hand their intents in here; `banks/views/` makes the plain
values that they show. What `record` returns is on the drive.
"""

import gc
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import AbstractContextManager, contextmanager
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import msgspec
from msgspec import Struct
from msgspec.structs import replace

from banks.clock import Clock, is_pretended, local_now
from banks.contents import StoreContents
from banks.kept_history import keep_history
from banks.maintenance.opening import prepare
from banks.settings import Settings
from banks.store.folder import Store
from banks.undo import Undone, UndoStack, act_of, label_of
from domain.drill_choice import DrillChoice
from domain.errors import InputError, StoreError
from domain.marking.blueprint import Blueprint
from domain.plan.inputs import PlanInputs
from domain.questions import Bank
from domain.responses import (
    AnyRecord,
    BankSaved,
    Dispute,
    HandTier,
    Medium,
    Note,
    PaperKind,
    PlanAccepted,
    Purpose,
    Reason,
    Response,
    ResponseReason,
    SittingClosed,
    SittingOpened,
    VisitBegun,
    Withdrawal,
)
from domain.text import safe_text, tidy
from domain.tiers import Standing, Tier
from domain.verdicts import Confidence, Verdict

if TYPE_CHECKING:
    from banks.planning.visits import DueSweeps


R = TypeVar("R", bound=AnyRecord)


class Given(Struct, frozen=True, kw_only=True):
    """What the candidate gave to one question: see `domain.responses.Response`."""

    question: str
    chosen: tuple[str, ...] | None = None
    verdict: Verdict | None = None
    confidence: Confidence = Confidence.SURE
    seconds: float = 0.0
    reason: Reason | None = None
    was_sure: bool = False


class Outcome(Struct, frozen=True):
    """What a response came to."""

    response: Response
    verdict: Verdict
    before: Standing
    after: Standing


class Library(StoreContents):
    """One store, read and written."""

    def __init__(self, store: Store, clock: Clock = local_now) -> None:
        super().__init__(store, clock)
        self._acts = UndoStack(store.own_records)
        self._due: DueSweeps | None = None

    @classmethod
    def open(cls, folder: Path, clock: Clock = local_now, *, read_only: bool = False) -> "Library":
        """Open the store in `folder`. Raises StoreError; see `Store.open`."""
        store = Store.open(folder, read_only=read_only, prepare=prepare)
        try:
            with paused_collector():
                library = cls(store, clock)
            if store.shrunk:
                from banks.maintenance.check import tell_shrunk  # a start needs no archives

                tell_shrunk(store)
            return library
        except BaseException:
            store.close()
            raise

    def keep_daily_copy(self) -> None:
        """Keep today's copy of the store, if anything has changed. Raises StoreError.

        Neither a store that is only looked at nor a pretended day leaves one.
        """
        if self.read_only or is_pretended(self.now):
            return
        from banks.maintenance.backup import back_up_daily

        try:
            back_up_daily(self.store.folder, self.today(), self.store.system)
        except StoreError:
            self.confirm()  # one that went away is told as that
            raise

    def keep_history(self) -> None:
        """Keep what was read of the log, where it saves the next start time."""
        keep_history(self)

    def close(self) -> None:
        """Let the store go."""
        self.store.close()

    @property
    def problem(self) -> str:
        """Why nothing can be saved at present, "" when it can; see `confirm`."""
        return self.store.problem

    def listen(self, on_news: Callable[[], object]) -> None:
        """Have `on_news` called, in whatever thread, when `problem` or `notices` has changed."""
        self.store.on_news = on_news

    def confirm(self) -> None:
        """Raise StoreError if the store's folder or the right to write was lost meanwhile."""
        self.store.confirm()

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
        if not given and not replacing:
            return []
        at = self._moment(day)
        for answered in given:
            if self.question(answered.question) is None:
                raise InputError(f"{answered.question}: there is no such question")
        begun = self._begun_visits(given, at, purpose)
        responses = [
            Response(
                id=self.store.new_id(),
                at=at,
                question=answered.question,
                chosen=None if answered.chosen is None else tuple(map(safe_text, answered.chosen)),
                verdict=answered.verdict,
                confidence=answered.confidence,
                seconds=_tenths(answered.seconds),
                purpose=purpose,
                sitting=sitting,
                reason=answered.reason,
                was_sure=answered.was_sure,
            )
            for answered in given
        ]
        if not responses:
            if replacing:
                self.withdraw(replacing)
            return []
        before = [self.history.standing(response.question) for response in responses]
        verdicts = [self.history.verdict(response) for response in responses]
        records: list[AnyRecord] = [*begun, *responses]
        made = self._commit(records, label or label_of(responses), replacing)
        responses = [record for record in made if isinstance(record, Response)]
        return [
            Outcome(response, verdict, stood, self.history.standing(response.question))
            for response, verdict, stood in zip(responses, verdicts, before, strict=True)
        ]

    def _begun_visits(
        self, given: Sequence[Given], at: datetime, purpose: Purpose
    ) -> list[VisitBegun]:
        """What begins the sweeps that are due, or the day's pass, to which these belong."""
        if purpose not in (Purpose.SWEEP, Purpose.PASS):
            return []
        from banks.planning.visits import DueSweeps, pass_begun_by

        questions = [answered.question for answered in given]
        if purpose is Purpose.PASS:
            return pass_begun_by(self, questions, at)
        if self._due is None:
            self._due = DueSweeps(self)
        return self._due.begun_by(questions, at)

    def _moment(self, day: date | None) -> datetime:
        now = self.now()
        if day is None or day == self.history.day(now):
            return now
        if day > self.history.day(now):
            raise InputError(f"{day}: is in the future; nothing was recorded")
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
        predicted: tuple[float, float] | None = None,
        minutes: int = 0,
    ) -> str:
        """Begin a sitting over these questions; the name to record its responses under."""
        opened = SittingOpened(
            **self.stamp(),
            title=tidy(title),
            purpose=purpose,
            questions=tuple(questions),
            seed=seed,
            paper=paper,
            paper_kind=paper_kind,
            medium=medium,
            visit=visit,
            sheet=sheet,
            predicted=predicted,
            minutes=minutes,
        )
        self._save([opened])
        return opened.id

    def close_sitting(self, sitting: str, *, discarded: bool = False) -> None:
        """End a sitting: it is not offered for resuming any more; a paper `discarded` is no paper
        taken.
        """
        self._save([SittingClosed(**self.stamp(), sitting=sitting, discarded=discarded)])

    # saying things about questions

    def dispute(self, question_id: str, key: tuple[str, ...], note: str = "") -> None:
        """Believe another key (an empty one: the bank's again); the history regrades."""
        own = tuple(map(safe_text, key))
        record = Dispute(**self.stamp(), question=question_id, key=own, note=tidy(note))
        self._commit([record], "the disputed key")

    def note(self, question_id: str, text: str) -> None:
        """Keep a note on a question."""
        self._commit([Note(**self.stamp(), question=question_id, text=tidy(text))], "the note")

    def reason(self, response_id: str, reason: Reason) -> None:
        """Say why a response was a miss."""
        record = ResponseReason(**self.stamp(), response=response_id, reason=reason)
        self._commit([record], "the reason")

    def set_tier(self, question_id: str, tier: Tier, reason: str) -> None:
        """Set a tier by hand. Raises InputError without a reason."""
        reason = tidy(reason)
        if not reason:
            raise InputError("a tier set by hand needs a reason; nothing was changed")
        record = HandTier(**self.stamp(), question=question_id, tier=tier, reason=reason)
        self._commit([record], f"the tier set to {tier.word}")

    # undo

    @property
    def newest(self) -> Undone | None:
        """The act that `undo` is about: the newest that is left, of this run or an earlier."""
        return self._acts.newest

    def newest_bank(self) -> Bank | None:
        """The bank that the newest act changed, None where it changed none."""
        records = self.newest.records if self.newest else ()
        saved = next((record for record in records if isinstance(record, BankSaved)), None)
        return self.banks.get(saved.bank) if saved else None

    def undo(self) -> Undone | None:
        """Undo the newest act, or None when there is nothing left.

        Raises InputError where something else has changed a bank or the plan since: that act
        can't be undone and is left out from now on. Raises StoreError when it was not saved;
        then it can be tried again.
        """
        undone = self._acts.newest
        if undone is None:
            return None
        questions: list[str] = []
        try:
            for record in reversed(undone.records):
                if isinstance(record, BankSaved):
                    questions += self._put_back(record)
                elif isinstance(record, PlanAccepted):
                    self._plan_before(record)
        except InputError:
            self._acts.drop(undone.act)
            raise
        restored = [
            replace(record, id=self.store.new_id(), act=act_of(record))
            for record in undone.replaced
        ]
        self._exchange(undone.records, restored)
        again = dict(zip((record.id for record in undone.replaced), restored, strict=True))
        self._acts.withdrawn((record.id for record in undone.records), again)
        return replace(undone, questions=tuple(questions))

    def one_act(self, label: str) -> AbstractContextManager[None]:
        """All that is recorded and saved within is one act: undone together."""
        return self._acts.one_act(label)

    def withdraw(self, records: Iterable[AnyRecord]) -> None:
        """Put on record that these never happened."""
        gone = tuple(records)
        self._exchange(gone, ())
        self._acts.withdrawn(record.id for record in gone)

    def keep(self, records: Sequence[AnyRecord], *, label: str = "") -> None:
        """Put records into the log that are made already; with a label they can be undone."""
        if label:
            self._commit(records, label)
        else:
            self._save(records)

    def put_on_record(self, kind: type[R], *, label: str = "", **fields: Any) -> R:
        """Put a record of this kind into the log; with a label it can be undone."""
        record = kind(**self.stamp(), **fields)
        self.keep([record], label=label)
        return record

    def _commit(
        self, records: Sequence[R], label: str, replaced: Sequence[Response] = ()
    ) -> list[R]:
        """Put an act on record; its records as they stand in the log."""
        act = self._acts.open_act or act_of(records[0])
        made = [record if record.id == act else replace(record, act=act) for record in records]
        self._exchange(replaced, made, act)
        self._acts.push(Undone(act, label, tuple(made), tuple(replaced)))
        return made

    def _save(self, records: Sequence[AnyRecord]) -> None:
        self._exchange((), records)

    def _exchange(
        self, gone: Sequence[AnyRecord], added: Sequence[AnyRecord], act: str = ""
    ) -> None:
        """Withdraw and add in one write.

        The withdrawal stands last: a write that the power cuts short may leave a response too
        many, never one too few.
        """
        self.store.append([*added, *self._withdrawal(gone, act)])
        self.history.remove(gone)
        for record in added:
            self.history.add(record)

    def _withdrawal(self, gone: Sequence[AnyRecord], act: str) -> list[Withdrawal]:
        targets = tuple(record.id for record in gone)
        return [Withdrawal(**self.stamp(), act=act, targets=targets)] if gone else []

    # changing

    def save_bank(
        self, bank: Bank, changed: Iterable[str] | None = None, *, label: str = ""
    ) -> None:
        """Put a changed bank in the place of the old. `changed` names the questions to regrade.

        With a label this can be undone. Raises StoreError; nothing is changed then.
        """
        if not label:
            self.store.save_bank(bank)
        else:
            stamp = self.stamp()
            before = self.store.keep_former(bank.id, stamp["id"])
            after = self.store.save_bank(bank)
            record = BankSaved(**stamp, bank=bank.id, label=label, before=before, after=after)
            try:
                self._commit([record], label)
            except StoreError:
                self.store.put_back(record)
                raise
        self._use_bank(bank.id, bank, bank.questions if changed is None else changed)

    def _use_bank(self, bank_id: str, bank: Bank | None, changed: Iterable[str]) -> None:
        """Go on with this bank (None: there is none any more). Other threads may read meanwhile."""
        others = {name: held for name, held in self.banks.items() if name != bank_id}
        self.banks = others if bank is None else self.banks | {bank_id: bank}
        self.history.regrade(changed)

    def _put_back(self, saved: BankSaved) -> list[str]:
        """The bank is as it was before it was saved; the ids of the questions that differ."""
        now, before = self.banks.get(saved.bank), self.store.put_back(saved)
        was = now.questions if now else {}
        again = before.questions if before else {}
        names = dict.fromkeys((*was, *again))
        changed = [name for name in names if was.get(name) != again.get(name)]
        merged = [
            question.same_as
            for questions in (again, was)
            for question in map(questions.get, changed)
            if question and question.same_as
        ]
        self._use_bank(saved.bank, before, [*changed, *merged])
        return changed

    def accept_plan(self, inputs: PlanInputs) -> None:
        """Keep the plan's inputs, on record. Raises StoreError; nothing is changed then."""
        kept = self.settings.plan
        before = msgspec.to_builtins(kept) if kept != PlanInputs() else None
        self._keep_plan(inputs)
        try:
            self.put_on_record(
                PlanAccepted, label="the plan", before=before, after=msgspec.to_builtins(inputs)
            )
        except StoreError:
            self._keep_plan(kept)
            raise

    def _plan_before(self, accepted: PlanAccepted) -> None:
        before = msgspec.convert(accepted.before or {}, PlanInputs)
        if self.settings.plan not in (before, msgspec.convert(accepted.after, PlanInputs)):
            raise InputError("the plan was changed otherwise since; this can't be undone")
        self._keep_plan(before)

    def _keep_plan(self, inputs: PlanInputs) -> None:
        self.change_settings(plan=inputs)

    def keep_drill_choice(self, choice: DrillChoice) -> None:
        """Keep what a free drill is made of, for the next one. Raises StoreError."""
        if choice != self.settings.drill and not self.read_only:
            self.change_settings(drill=choice)

    def change_settings(self, **changes: Any) -> None:
        """Use and keep other values for these fields of the settings. Raises InputError."""
        self.save_settings(replace(self.settings, **changes))

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


@contextmanager
def paused_collector() -> Iterator[None]:
    """While much is made of which nothing is garbage: loading takes half the time."""
    was_on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_on:
            gc.enable()
