"""Undo: one stack of what the candidate did, newest last, read from the log where a run ends.

An act is one or more records made in one go; they share its name, the id of its first record.
Taking an act back withdraws its records and records anew what they had replaced, under the act
that had first recorded it. So the log alone tells what is left to undo.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager

from msgspec import Struct

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
    Response,
    ResponseReason,
    Withdrawal,
)
from domain.text import counted

_WORDS: dict[type[AnyRecord], str] = {
    Dispute: "the disputed key",
    ExamTopic: "what came in the exam",
    Flag: "the flag",
    FirstStudyDone: "the first study",
    Note: "the note",
    OutsidePaper: "the outside paper",
    PlanAccepted: "the plan",
    ResponseReason: "the reason",
}


class Undone(Struct, frozen=True):
    """An act that can be undone, or was: in words, and as the records that are in force of it.

    `replaced` are the corrected responses that count again for it. `questions` are the ids of
    those whose text or key is as before again.
    """

    act: str
    label: str
    records: tuple[AnyRecord, ...]
    replaced: tuple[Response, ...] = ()
    questions: tuple[str, ...] = ()

    def without(self, gone: frozenset[str]) -> "Undone":
        """The same without the records of these ids."""
        records = tuple(record for record in self.records if record.id not in gone)
        return Undone(self.act, self.label, records, self.replaced)

    def renamed(self, again: Mapping[str, Response]) -> "Undone":
        """The same where responses were recorded anew under other ids: old id → new response."""
        records = tuple(again.get(record.id, record) for record in self.records)
        replaced = tuple(again.get(record.id, record) for record in self.replaced)
        return Undone(self.act, self.label, records, replaced)


def act_of(record: AnyRecord) -> str:
    """The name of the act that a record belongs to."""
    return record.act or record.id


def acts_in(log: Sequence[AnyRecord]) -> list[Undone]:
    """The acts in a log that can still be undone, by age."""
    by_id = {record.id: record for record in log}
    gone: set[str] = set()
    replaced: dict[str, dict[str, Response]] = {}
    for record in by_id.values():
        if isinstance(record, Withdrawal):
            gone.update(record.targets)
            if record.act:
                targets = (by_id.get(target) for target in record.targets)
                replaced.setdefault(record.act, {}).update(
                    (target.id, target) for target in targets if isinstance(target, Response)
                )
    acts: dict[str, list[AnyRecord]] = {}
    for record in by_id.values():
        if record.id not in gone and (type(record) in _WORDS or isinstance(record, _COUNTED)):
            acts.setdefault(act_of(record), []).append(record)
    return [
        Undone(
            act,
            label_of(records),
            tuple(sorted(records, key=lambda record: record.id)),
            tuple(replaced.get(act, {}).values()),
        )
        for act, records in sorted(acts.items())
    ]


_COUNTED = (Response, HandTier, BankSaved)


def label_of(records: Iterable[AnyRecord]) -> str:
    """What an act was, in words."""
    made = list(records)
    for record in made:
        if isinstance(record, BankSaved):
            return record.label
    responses = sum(isinstance(record, Response) for record in made)
    if responses:
        return counted(responses, "response")
    first = made[0]
    if isinstance(first, HandTier):
        return f"the tier set to {first.tier.word}"
    return _WORDS[type(first)]


class UndoStack:
    """The acts that can be undone, newest last: of this run, then those before it.

    `earlier` gives the records of former runs; it is asked once, when this run's acts are used up.
    """

    def __init__(self, earlier: Callable[[], Sequence[AnyRecord]]) -> None:
        self._acts: list[Undone] = []
        self._earlier: Callable[[], Sequence[AnyRecord]] | None = earlier
        self._open: Undone | None = None
        self._dropped: set[str] = set()

    @property
    def newest(self) -> Undone | None:
        """The act that is undone next, if any is left."""
        if not self._acts and self._earlier is not None:
            earlier, self._earlier = self._earlier, None
            self._acts = [act for act in acts_in(earlier()) if act.act not in self._dropped]
        return self._acts[-1] if self._acts else None

    @property
    def open_act(self) -> str:
        """The name of the act that is being made of several; "" outside one, or while empty."""
        return self._open.act if self._open else ""

    @contextmanager
    def one_act(self, label: str) -> Iterator[None]:
        """What is pushed meanwhile is one act of this label; within another one it joins that."""
        if self._open is not None:
            yield
            return
        self._open = Undone("", label, ())
        try:
            yield
        finally:
            made, self._open = self._open, None
            if made.records:
                self._acts.append(made)

    def push(self, made: Undone) -> None:
        """Put an act on the stack, or into the one that is being made."""
        if self._open is None:
            self._acts.append(made)
            return
        was = self._open
        self._open = Undone(
            was.act or made.act, was.label, was.records + made.records, was.replaced + made.replaced
        )

    def drop(self, act: str) -> None:
        """This act can't be undone any more."""
        self._dropped.add(act)
        self._acts = [other for other in self._acts if other.act != act]

    def withdrawn(self, gone: Iterable[str], again: Mapping[str, Response] | None = None) -> None:
        """Records are gone for good, and what they replaced with them, unless it was recorded
        anew: old id → new response.
        """
        anew, names = again or {}, set(gone)
        for act in self._acts:
            if names.issuperset(record.id for record in act.records):
                names.update(response.id for response in act.replaced if response.id not in anew)
        dead = frozenset(names)
        left = (act.without(dead).renamed(anew) for act in self._acts)
        self._acts = [act for act in left if act.records]
