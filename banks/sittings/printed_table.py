"""A paper go with its desk: what a key asks for goes on record, and only then onto the desk."""

from msgspec import Struct

from banks.library import Outcome
from banks.sittings.printed_sitting import PrintedSitting, QuestionRecord
from domain.printed.marking_grid import Act, GridMark, MarkingGrid
from domain.questions import Question
from domain.tiers import Standing


class MarkingResult(Struct, frozen=True):
    """What an act came to: a mark and an outcome for each question."""

    questions: list[Question]
    marks: list[GridMark]
    outcomes: list[Outcome]


class PrintedTable:
    """The questions as the bank has them now, with the marks that count in this go."""

    def __init__(self, go: PrintedSitting) -> None:
        self.sitting = go
        self.lay_out()
        self.desk.go_open()

    def lay_out(self) -> None:
        """Read bank and history again; the cursor stays where it was."""
        before = getattr(self, "desk", None)
        self.desk = MarkingGrid(self.sitting.parts())
        self.desk.marks = self._marks()
        if before is not None:
            self.desk.go(before.cursor)

    def do(self, act: Act) -> MarkingResult:
        """Put an act on record. Raises StoreError when it could not be; nothing is marked then."""
        questions = [self.desk.slots[slot] for slot in act.slots]
        outcomes = self.sitting.record(act, questions, len(self.desk.open_slots()))
        marks = [mark for slot in act.slots if (mark := self._mark(slot)) is not None]
        self.desk.settle(act, marks)
        return MarkingResult(questions, marks, outcomes)

    def undo(self) -> list[int]:
        """Take back the newest act; the slots that changed, none when nothing is left of it."""
        gone = set(self.sitting.undo())
        slots = [slot for slot, question in enumerate(self.desk.slots) if question.id in gone]
        if slots:
            self.desk.unsettle(slots, self._marks())
        return slots

    def about(self, slot: int) -> QuestionRecord:
        """What is known of the question in a slot; past the end, of the last."""
        return self.sitting.about(self.desk.slots[min(slot, len(self.desk.slots) - 1)])

    def standing(self, slot: int) -> Standing:
        """Where the question in a slot stands now."""
        return self.sitting.library.history.standing(self.desk.slots[slot].id)

    def _marks(self) -> dict[int, GridMark]:
        found = {slot: self._mark(slot) for slot in range(len(self.desk.slots))}
        return {slot: mark for slot, mark in found.items() if mark is not None}

    def _mark(self, slot: int) -> GridMark | None:
        option_count = self.desk.parts[self.desk.part_of(slot)].option_count
        return self.sitting.mark_of(self.desk.slots[slot], option_count)
