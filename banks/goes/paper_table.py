"""A paper go with its desk: what a key asks for goes on record, and only then onto the desk."""

from msgspec import Struct

from banks.goes.paper import About, PaperGo
from banks.library import Outcome
from domain.paper.desk import Act, Desk, Mark
from domain.questions import Question


class Done(Struct, frozen=True):
    """What an act came to: a mark and an outcome for each question."""

    questions: list[Question]
    marks: list[Mark]
    outcomes: list[Outcome]


class Table:
    """The questions as the bank has them now, with the marks that count in this go."""

    def __init__(self, go: PaperGo) -> None:
        self.go = go
        self.lay_out()
        self.desk.go_open()

    def lay_out(self) -> None:
        """Read bank and history again; the cursor stays where it was."""
        before = getattr(self, "desk", None)
        self.desk = Desk(self.go.parts())
        self.desk.marks = self._marks()
        if before is not None:
            self.desk.go(before.cursor)

    def do(self, act: Act) -> Done:
        """Put an act on record. Raises StoreError when it could not be; nothing is marked then."""
        questions = [self.desk.slots[slot] for slot in act.slots]
        outcomes = self.go.record(act, questions, len(self.desk.open_slots()))
        marks = [mark for slot in act.slots if (mark := self._mark(slot)) is not None]
        self.desk.settle(act, marks)
        return Done(questions, marks, outcomes)

    def undo(self) -> list[int]:
        """Take back the newest act; the slots that changed, none when nothing is left of it."""
        gone = set(self.go.undo())
        slots = [slot for slot, question in enumerate(self.desk.slots) if question.id in gone]
        if slots:
            self.desk.unsettle(slots, self._marks())
        return slots

    def about(self, slot: int) -> About:
        """What is known of the question in a slot; past the end, of the last."""
        return self.go.about(self.desk.slots[min(slot, len(self.desk.slots) - 1)])

    def _marks(self) -> dict[int, Mark]:
        found = {slot: self._mark(slot) for slot in range(len(self.desk.slots))}
        return {slot: mark for slot, mark in found.items() if mark is not None}

    def _mark(self, slot: int) -> Mark | None:
        option_count = self.desk.parts[self.desk.part_of(slot)].option_count
        return self.go.mark_of(self.desk.slots[slot], option_count)
