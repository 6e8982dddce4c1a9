"""The paper desk: what each key means while a printed chapter is marked. No mode: one rule.

A number says which question; without one it is the question under the cursor. So `7` then a
judging key marks question 7, a judging key alone marks the question under the cursor and moves
on, and a letter is a response in the same two ways. A number ended by space, comma or Enter is
wrong: that is what is typed most. The desk only says what a key asks for (`Act`); once that is on
record, `settle` takes it in.
"""

from bisect import bisect_left
from collections.abc import Iterator, Sequence

from msgspec import Struct

from domain.errors import InputError
from domain.printed.entry import TypedNumber, chosen, confidence
from domain.questions import Question
from domain.verdicts import Confidence, Verdict


class GridPart(Struct, frozen=True):
    """A stretch of one chapter under its heading: questions in ascending order of number."""

    title: str
    questions: tuple[Question, ...]
    option_count: int = 4


class GridMark(Struct, frozen=True):
    """A mark as the desk shows it. `letter` is the option chosen, "" where none was."""

    verdict: Verdict
    confidence: Confidence = Confidence.SURE
    letter: str = ""


class Act(Struct, frozen=True, kw_only=True):
    """What a key asks for: the same response to each of these slots.

    `chosen` None means judged by the candidate; `echo` is the number that was typed, "" for
    the one under the cursor; `then` is where the cursor stands afterwards.
    """

    slots: tuple[int, ...]
    verdict: Verdict | None = None
    chosen: tuple[str, ...] | None = None
    confidence: Confidence = Confidence.SURE
    in_turn: bool = False
    echo: str = ""
    then: int = 0


class MarkingGrid:
    """Questions in their order (slots 0, 1, 2 …), their marks, the cursor and what was typed."""

    def __init__(self, parts: Sequence[GridPart]) -> None:
        self.parts = tuple(parts)
        self.slots = [question for part in parts for question in part.questions]
        self.marks: dict[int, GridMark] = {}
        self.typed = TypedNumber()
        self.line: list[tuple[str, GridMark]] = []
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
        try:
            return self._named() if self.typed else ()
        except InputError:
            begun = int(self.typed.text.partition("-")[0])
            numbers = self._numbers[self.part]
            at = bisect_left(numbers, begun)
            is_there = at < len(numbers) and numbers[at] == begun
            return (self._starts[self.part] + at,) if is_there else ()

    def move(self, step: int) -> None:
        """The cursor so many slots on; a number typed so far is where it goes instead."""
        named = self.targets()
        self._close_line()
        self.go(named[0] if named else self.cursor + step)

    def move_part(self, step: int) -> None:
        """To the beginning of another part."""
        self.go(self._starts[max(0, min(self.part + step, len(self.parts) - 1))])

    def go(self, slot: int) -> None:
        """Put the cursor there, or as near as there is a question."""
        self.cursor = self.pointed = max(0, min(slot, len(self.slots) - 1))

    def go_open(self) -> None:
        """To the first question without a mark."""
        self.go(next(iter(self.open_slots()), len(self.slots) - 1))

    # typing a number

    def digit(self, digit: str) -> None:
        """A digit more. Raises InputError when no question's number begins so."""
        self.typed.digit(digit, self._numbers[self.part])

    def dash(self) -> None:
        """The number typed begins a range. Raises InputError."""
        self.typed.dash(self._numbers[self.part])

    def clear(self) -> bool:
        """Drop the number and the line; False when there was nothing to drop."""
        had = bool(self.typed or self.line)
        self._close_line()
        return had

    # asking for marks

    def judge(self, verdict: Verdict, confidence: Confidence = Confidence.SURE) -> Act:
        """The candidate's own verdict on the number typed, or under the cursor. InputError."""
        if self.typed:
            return Act(
                slots=self._named(), verdict=verdict, confidence=confidence, echo=self.typed.text,
                then=self.cursor,
            )  # fmt: skip
        here = self._here()
        return Act(
            slots=(here,),
            verdict=verdict,
            confidence=confidence,
            in_turn=True,
            then=self._after(here),
        )

    def respond(self, letter: str) -> Act:
        """An option as chosen, capital if unsure, from the number typed on. Raises InputError."""
        named = self._named() if self.typed else (self._here(),)
        if len(named) > 1:
            raise InputError(f"{self.typed.text}: a letter goes to one question, not to a range")
        slot = named[0]
        option_count = self.parts[self.part_of(slot)].option_count
        given = chosen(self.slots[slot], letter, option_count)
        return Act(
            slots=named, chosen=given, confidence=confidence(letter), in_turn=True,
            then=self._after(slot),
        )  # fmt: skip

    def space(self) -> Act | None:
        """Ends a number (wrong); between numbers nothing; otherwise leaves a blank. InputError."""
        if self.typed:
            return self.judge(Verdict.WRONG)
        return None if self.line else self.blank()

    def blank(self) -> Act:
        """Nothing was chosen. InputError past the end."""
        return self.judge(Verdict.BLANK)

    def enter(self) -> Act:
        """Ends a number (wrong); without one, the rest of this part is right. InputError."""
        if self.typed:
            return self.judge(Verdict.WRONG)
        rest = self.open_slots(self.part)
        if not rest:
            raise InputError("everything here is marked")
        on = [slot for slot in self.open_slots() if slot > rest[-1]]
        then = on[0] if on else len(self.slots)
        return Act(slots=tuple(rest), verdict=Verdict.RIGHT, then=then)

    # what became of it

    def settle(self, act: Act, marks: Sequence[GridMark]) -> None:
        """The act is on record and came to these marks, one a slot."""
        self._came_from.append(self.cursor)
        self.marks.update(zip(act.slots, marks, strict=True))
        self.line = [*self.line, (act.echo, marks[0])] if act.echo else []
        self.typed.clear()
        self.cursor = act.then
        self.pointed = act.slots[-1] if act.echo else act.then

    def unsettle(self, slots: Sequence[int], marks: dict[int, GridMark]) -> None:
        """An act on these slots was taken back: what is marked now, and the cursor as it was."""
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
        numbers = self._numbers[self.part]
        start = self._starts[self.part]
        found = self.typed.named(numbers)
        return tuple(start + bisect_left(numbers, number) for number in found)

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
