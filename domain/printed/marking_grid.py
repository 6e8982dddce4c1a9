"""What each key means while a printed chapter is marked. No mode: one rule.

A number says which question; without one it is the question under the cursor. So `7` then a
judging key marks question 7, a judging key alone marks the question under the cursor and moves
on, and a letter is a response in the same two ways. A number ended by space, comma or Enter is
wrong: that is what is typed most. A number that names no question here is left out and named. The
grid only says what a key asks for (`Act`); once that is on record, `settle` takes it in.
"""

from bisect import bisect_left
from collections.abc import Iterator, Sequence

from msgspec import Struct

from domain.errors import InputError
from domain.printed.entry import JUDGEMENTS, Judgement, TypedNumber, chosen, confidence
from domain.questions import Question
from domain.verdicts import Confidence


class GridPart(Struct, frozen=True):
    """A stretch of one chapter under its heading: questions in ascending order of number."""

    title: str
    questions: tuple[Question, ...]
    option_count: int = 4


class GridMark(Judgement, frozen=True):
    """A mark as the grid shows it. `letter` is the option chosen, "" where none was."""

    letter: str = ""


class Act(Struct, frozen=True, kw_only=True):
    """What a key asks for: the same response to each of these slots.

    Either the candidate's own `judgement`, or what was `chosen` and how sure. `echo` is the number
    that was typed, "" for the one under the cursor; `then` is where the cursor stands afterwards.
    """

    slots: tuple[int, ...]
    judgement: Judgement | None = None
    chosen: tuple[str, ...] | None = None
    confidence: Confidence = Confidence.SURE
    in_turn: bool = False
    echo: str = ""
    then: int = 0


class TypedEntry(Struct, frozen=True):
    """A number of the line being typed and the mark it got; None: it was left out."""

    text: str
    mark: GridMark | None = None


class MarkingGrid:
    """Questions in their order (slots 0, 1, 2 …), their marks, the cursor and what was typed.

    `is_asking`: Enter was pressed before anything was marked, and waits to be pressed again.
    """

    def __init__(self, parts: Sequence[GridPart]) -> None:
        self.parts = tuple(parts)
        self.slots = [question for part in parts for question in part.questions]
        self.marks: dict[int, GridMark] = {}
        self.typed = TypedNumber()
        self.line: list[TypedEntry] = []
        self.is_asking = False
        self.cursor = 0
        self.pointed = 0
        self._numbers = [[question.number for question in part.questions] for part in parts]
        self._starts = list(_starts(parts))
        self._came_from: list[int] = []

    # where

    @property
    def part(self) -> int:
        """The part that the cursor is in; past the end, the last."""
        return self.part_of(min(self.cursor, len(self.slots) - 1))

    def part_of(self, slot: int) -> int:
        """The part that a slot is in."""
        return bisect_left(self._starts, slot + 1) - 1

    def open_slots(self, part: int | None = None) -> list[int]:
        """The slots without a mark, of one part or of all."""
        span = range(len(self.slots)) if part is None else self._span(part)
        return [slot for slot in span if slot not in self.marks]

    def targets(self) -> tuple[int, ...]:
        """The slots that the number typed so far names; of half a range its beginning."""
        numbers = self._numbers[self.part]
        try:
            named = self.typed.peek(numbers) if self.typed else []
        except InputError:
            begun = self.typed.text.partition("-")[0]
            named = [int(begun)] if begun.isdecimal() and int(begun) in numbers else []
        return self._slots_of(named)

    def move(self, step: int) -> None:
        """The cursor so many slots on; a number typed so far is where it goes instead."""
        named = self.targets()
        self._close_line()
        self.go(named[0] if named else self.cursor + step)
        self.is_asking = False

    def move_part(self, step: int) -> None:
        """To the beginning of another part."""
        self.go(self._starts[max(0, min(self.part + step, len(self.parts) - 1))])

    def go(self, slot: int) -> None:
        """Put the cursor there, or as near as there is a question."""
        self.cursor = self.pointed = max(0, min(slot, len(self.slots) - 1))

    def go_open(self) -> None:
        """To the first question without a mark."""
        self.go(next(iter(self.open_slots()), len(self.slots) - 1))

    def resume(self, before: "MarkingGrid") -> None:
        """Go on as in a grid of the same list, whose questions may have changed meanwhile."""
        self.go(before.cursor)
        if [question.id for question in before.slots] == [question.id for question in self.slots]:
            self.cursor, self.pointed = before.cursor, before.pointed
            self.typed, self.line, self.is_asking = before.typed, before.line, before.is_asking
            self._came_from = before._came_from

    # typing a number

    def digit(self, digit: str) -> None:
        """A digit more. Raises InputError when no question's number begins so."""
        self.is_asking = False
        self.typed.digit(digit, self._numbers[self.part])

    def dash(self) -> None:
        """The number typed begins a range. Raises InputError."""
        self.is_asking = False
        self.typed.dash(self._numbers[self.part])

    def clear(self) -> bool:
        """Drop the number and the line; False when there was nothing to drop."""
        had = bool(self.typed or self.line)
        self._close_line()
        return had

    # asking for marks

    def judge(self, judgement: Judgement) -> Act:
        """The candidate's own verdict on the number typed, or under the cursor. InputError."""
        self.is_asking = False
        if self.typed:
            return Act(
                slots=self._named(), judgement=judgement, echo=self.typed.text, then=self.cursor
            )
        here = self._here()
        return Act(slots=(here,), judgement=judgement, in_turn=True, then=self._after(here))

    def respond(self, letter: str) -> Act:
        """An option as chosen, capital if unsure, from the number typed on. Raises InputError."""
        self.is_asking = False
        if not self.typed:
            self.typed.go_on()
        named = self._named() if self.typed else (self._here(),)
        slot = named[0]
        option_count = self.parts[self.part_of(slot)].option_count
        try:
            if len(named) > 1:
                raise InputError(
                    f"{self.typed.text}: a letter goes to one question, not to a range"
                )
            given = chosen(self.slots[slot], letter, option_count)
        except InputError:
            self._leave_out()
            raise
        return Act(
            slots=named,
            chosen=given,
            confidence=confidence(letter),
            in_turn=True,
            then=self._after(slot),
        )

    def end_number(self) -> Act | None:
        """What ends a number: it is wrong. Without a number, or within a range, nothing."""
        self.is_asking = False
        if not self.typed or self.typed.is_half_range:
            return None
        return self.judge(JUDGEMENTS["wrong"])

    def enter(self) -> Act | None:
        """Ends a number (wrong); without one, the rest of this part is right. InputError.

        Where nothing is marked yet a first Enter only asks, as it may be one too many from the
        screen before.
        """
        if self.typed:
            return self.judge(JUDGEMENTS["wrong"])
        rest = self.open_slots(self.part)
        if not rest:
            raise InputError("everything here is marked")
        if not self.marks and not self.is_asking:
            self.is_asking = True
            return None
        self.is_asking = False
        on = [slot for slot in self.open_slots() if slot > rest[-1]]
        then = on[0] if on else len(self.slots)
        return Act(slots=tuple(rest), judgement=JUDGEMENTS["right"], then=then)

    # what became of it

    def settle(self, act: Act, marks: Sequence[GridMark]) -> None:
        """The act is on record and came to these marks, one a slot."""
        self.remember_cursor()
        self.marks.update(zip(act.slots, marks, strict=True))
        self.line = [*self.line, TypedEntry(act.echo, marks[0])] if act.echo else []
        self.typed.clear()
        self.cursor = act.then
        self.pointed = act.slots[-1] if act.echo else act.then

    def remember_cursor(self) -> None:
        """An act that can be undone begins here."""
        self._came_from.append(self.cursor)

    def unsettle(self, slots: Sequence[int], marks: dict[int, GridMark]) -> None:
        """An act on these slots was undone: what is marked now, and the cursor as it was."""
        self.marks = marks
        self._close_line()
        self.pointed = min(slots)
        self.cursor = self._came_from.pop() if self._came_from else self.pointed

    # inside

    def _here(self) -> int:
        if self.cursor >= len(self.slots):
            last = self.slots[-1].number
            raise InputError(f"one too many: {last} was the last question; nothing was marked")
        return self.cursor

    def _after(self, slot: int) -> int:
        """Behind a new mark the next question without one; behind a correction just the next."""
        following = slot + 1
        while slot not in self.marks and following in self.marks:
            following += 1
        return following

    def _named(self) -> tuple[int, ...]:
        try:
            return self._slots_of(self.typed.named(self._numbers[self.part]))
        except InputError:
            self._leave_out()
            raise

    def _leave_out(self) -> None:
        """The number typed, if any, marks nothing and stays in sight as left out."""
        if self.typed:
            self.typed.refuse()
        if self.typed.refused:
            self.line = [*self.line, TypedEntry(self.typed.refused)]

    def _slots_of(self, numbers: Sequence[int]) -> tuple[int, ...]:
        """The slots of numbers of the cursor's part."""
        known, start = self._numbers[self.part], self._starts[self.part]
        return tuple(start + bisect_left(known, number) for number in numbers)

    def _close_line(self) -> None:
        self.typed.clear()
        self.line = []

    def _span(self, part: int) -> range:
        start = self._starts[part]
        return range(start, start + len(self.parts[part].questions))


def _starts(parts: Sequence[GridPart]) -> Iterator[int]:
    start = 0
    for part in parts:
        yield start
        start += len(part.questions)
