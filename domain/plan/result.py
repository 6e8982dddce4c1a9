"""A plan: every day up to the exam, and what the whole amounts to."""

from collections.abc import Iterator
from datetime import date

from msgspec import Struct

from domain.plan.days import Use
from domain.plan.pairing import Visit


class Piece(Struct, frozen=True, gc=False):
    """Consecutive work in one part of a day (0 for the first): questions of a chapter by number.

    A sweep has no chapter and no numbers: its questions are picked on the day.
    """

    part: int
    subject: str
    chapter: str
    numbers: tuple[int, ...]
    questions: int
    minutes: float


class PlannedDay(Struct, frozen=True):
    """One day. `parts` are its minutes per part of the day, `over` the minutes beyond them."""

    day: date
    use: Use
    parts: tuple[int, ...] = ()
    round: int = 0
    subject: str = ""
    pieces: tuple[Piece, ...] = ()
    over: float = 0.0

    @property
    def subjects(self) -> tuple[str, ...]:
        """The day's subjects in the order in which they are taken."""
        return tuple(dict.fromkeys(piece.subject for piece in self.pieces))

    @property
    def questions(self) -> int:
        """Questions planned for the day."""
        return sum(piece.questions for piece in self.pieces)

    @property
    def minutes(self) -> float:
        """Minutes of work planned for the day."""
        return sum(piece.minutes for piece in self.pieces)


class Placed(Struct, frozen=True):
    """A visit that has its days. `slack_days` is what is left free between it and the next."""

    visit: Visit
    first: date
    last: date
    questions: int
    slack_days: int = 0


class Unplaced(Struct, frozen=True):
    """Work of a visit that found no day before the exam."""

    visit: Visit
    questions: int
    minutes: float


class RoundSpan(Struct, frozen=True):
    """A round's first and last day of work, None where it has none, and its free study days."""

    round: int
    first_day: date | None
    last_day: date | None
    slack_days: int


class Plan(Struct, frozen=True, kw_only=True, dict=True):
    """The plan from `first` up to the day before `exam`. Equal inputs give an equal plan.

    `days_needed` and `days_there_are` count study days; `unswept` maps subject ids to hard-tier
    questions that are more than a sweep day holds (the day takes the hardest first).
    """

    first: date
    exam: date
    order: tuple[str, ...]
    days: tuple[PlannedDay, ...]
    rounds: tuple[RoundSpan, ...]
    placed: tuple[Placed, ...]
    unplaced: tuple[Unplaced, ...]
    days_needed: int
    days_there_are: int
    unswept: dict[str, int]

    @property
    def feasible(self) -> bool:
        """Whether everything is placed before the exam."""
        return not self.unplaced

    @property
    def shortfall_minutes(self) -> float:
        """Minutes of work that found no day before the exam."""
        return sum(left.minutes for left in self.unplaced)

    @property
    def slack_days(self) -> int:
        """Study days in hand: those without work before the exam."""
        return sum(day.use is Use.SLACK for day in self.days)

    def on(self, day: date) -> PlannedDay | None:
        """The plan for a day, None outside the plan."""
        step = (day - self.first).days
        return self.days[step] if 0 <= step < len(self.days) else None

    def coming(self) -> Iterator[Visit]:
        """Every visit that is not finished yet."""
        yield from (placed.visit for placed in self.placed)
        yield from (left.visit for left in self.unplaced)

    def pieces(self) -> Iterator[Piece]:
        """All the planned work in time order."""
        for day in self.days:
            yield from day.pieces
