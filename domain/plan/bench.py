"""The work to be laid on days, at the candidate's own pace, less what is done."""

from collections.abc import Iterable, Iterator, Sequence

from msgspec import Struct
from msgspec.structs import replace

from domain.plan.days import OpenDay, Use
from domain.plan.inputs import PlanInputs
from domain.plan.load import Done, Pace, SubjectLoad
from domain.plan.pairing import Visit
from domain.plan.result import Piece, PlannedDay

HUNDREDTHS_A_MINUTE = 6000
"""Loads and rooms are whole hundredths of a second, so that comparing them is exact."""


class Item(Struct, frozen=True, gc=False):
    """A chapter's questions left to do, or a slice of them: what is never divided over days."""

    chapter: str
    numbers: tuple[int, ...]


class Bench:
    """Everything about the work that does not depend on the day it is laid on."""

    def __init__(
        self, inputs: PlanInputs, subjects: Iterable[SubjectLoad], done: Done, pace: Pace
    ) -> None:
        self.inputs = inputs
        self.subjects = {subject.id: subject for subject in subjects if subject.questions}
        self.done = done
        self._pace = pace

    def hundredths(self, subject: str) -> int:
        """Hundredths of a second a question of the subject takes."""
        return max(1, round(self._pace.of(subject) * 100))

    def minutes(self, subject: str, questions: int) -> float:
        """Minutes that so many questions of the subject take."""
        return questions * self.hundredths(subject) / HUNDREDTHS_A_MINUTE

    def split(self, visits: Iterable[Visit]) -> tuple[list[Visit], list[Visit]]:
        """The visits that are finished, and those that are still to come, in order.

        A block of which nothing is left is finished: what it lacked has left the bank.
        """
        seen: dict[tuple[str, bool], int] = {}
        finished, coming = [], []
        for visit in visits:
            kind = (visit.subject, visit.sweep)
            seen[kind] = seen.get(kind, 0) + 1
            counts = self.done.sweeps if visit.sweep else self.done.blocks
            ahead = seen[kind] - counts.get(visit.subject, 0)
            over = ahead <= 0 or (ahead == 1 and not visit.sweep and self._is_spent(visit.subject))
            (finished if over else coming).append(visit)
        return finished, coming

    def _is_spent(self, subject: str) -> bool:
        return self.block_questions(subject, fresh=False) == 0

    def block_questions(self, subject: str, fresh: bool) -> int:
        """Questions that a block of the subject has; if not `fresh`, what is covered is done."""
        items = self.items(subject, fresh, most=self.subjects[subject].questions)
        return sum(len(item.numbers) for item in items)

    def is_begun(self, subject: str) -> bool:
        """Whether a block of the subject is under way."""
        covered = self.done.covered
        return any(covered.get(chapter.id) for chapter in self.subjects[subject].chapters)

    def items(self, subject: str, fresh: bool, most: int) -> list[Item]:
        """A block's items in order; a chapter of more than `most` questions is cut evenly.

        `fresh` asks for the whole subject, otherwise what is covered is left out.
        """
        found = []
        for chapter in self.subjects[subject].chapters:
            gone = frozenset() if fresh else self.done.covered.get(chapter.id, frozenset())
            left = tuple(number for number in chapter.numbers if number not in gone)
            found.extend(Item(chapter.id, numbers) for numbers in cut(left, most))
        return found

    def sweep_questions(self, subject: str, fresh: bool) -> int:
        """Hard-tier questions a sweep of the subject is expected to take."""
        swept = 0 if fresh else self.done.swept.get(subject, 0)
        expected = self.subjects[subject].expected_hard(self.inputs.hard_share)
        return max(1, expected - swept)


def cut(numbers: tuple[int, ...], most: int) -> Iterator[tuple[int, ...]]:
    """The numbers in the fewest slices of at most `most`, their lengths as even as can be."""
    count = -(-len(numbers) // max(1, most))
    for piece in range(count):
        begin, end = (len(numbers) * edge // count for edge in (piece, piece + 1))
        yield numbers[begin:end]


def room(day: OpenDay) -> int:
    """What a day holds, in hundredths of a second."""
    return day.minutes * HUNDREDTHS_A_MINUTE


def revision_day(bench: Bench, visit: Visit, day: OpenDay, items: Sequence[Item]) -> PlannedDay:
    """A day of a block: the items divided over the parts of the day at question numbers."""
    total = sum(len(item.numbers) for item in items)
    pieces = []
    ends = part_ends(total, room(day) // bench.hundredths(visit.subject), day.parts)
    part, begin = 0, 0
    for item in items:
        numbers = item.numbers
        while numbers:
            while begin >= ends[part]:
                part += 1
            taken, numbers = numbers[: ends[part] - begin], numbers[ends[part] - begin :]
            begin += len(taken)
            minutes = bench.minutes(visit.subject, len(taken))
            pieces.append(Piece(part, visit.subject, item.chapter, taken, len(taken), minutes))
    return planned(day, visit.round, _joined(pieces))


def _joined(pieces: Sequence[Piece]) -> list[Piece]:
    """Slices of one chapter in the same part of the day as one piece."""
    joined: list[Piece] = []
    for piece in pieces:
        last = joined[-1] if joined else None
        if last and (last.part, last.chapter) == (piece.part, piece.chapter):
            joined[-1] = replace(
                last,
                numbers=last.numbers + piece.numbers,
                questions=last.questions + piece.questions,
                minutes=last.minutes + piece.minutes,
            )
        else:
            joined.append(piece)
    return joined


def part_ends(total: int, holds: int, parts: Sequence[int]) -> list[int]:
    """After how many of the day's questions each part ends.

    Parts fill up one after the other; a day that runs over is shared out by the parts' minutes.
    """
    scale, minutes, ends, gone = max(total, holds), sum(parts), [], 0
    for part in parts:
        gone += part
        ends.append(min(total, round(scale * gone / minutes)))
    ends[-1] = total
    return ends


def planned(day: OpenDay, number: int, pieces: Sequence[Piece]) -> PlannedDay:
    """The day with its work, and by how many minutes that is more than the day has."""
    if not pieces:
        return PlannedDay(day.day, Use.SLACK, day.parts)
    over = max(0.0, sum(piece.minutes for piece in pieces) - day.minutes)
    return PlannedDay(
        day.day, day.use, day.parts, number, pieces[0].subject, tuple(pieces), round(over, 2)
    )
