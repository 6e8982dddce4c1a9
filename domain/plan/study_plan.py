"""A plan: an entry for each day and visit up to the exam, and what the whole amounts to."""

from collections.abc import Iterator
from datetime import date
from enum import StrEnum
from math import ceil

from msgspec import Struct

from domain.plan.inputs import PaperDay, PlanInputs, Use, open_days
from domain.plan.visits import Visit


class EntryKind(StrEnum):
    """What an entry holds."""

    BLOCK = "block"
    SWEEP = "sweep"
    PAPER = "paper"
    PASS = "pass"
    NONE = "none"


class PassKind(StrEnum):
    """What a pass is chosen by, on its morning."""

    WORTH = "worth"
    WAITING = "waiting"
    SURE_AND_WRONG = "sure and wrong"


class PlanPart(Struct, frozen=True, gc=False):
    """Consecutive work in one part of a day (0 for the first).

    A sweep, paper or pass has no chapter and no numbers: what it holds is fixed on its day.
    """

    part: int
    chapter: str | None
    numbers: tuple[int, ...]
    questions: int
    minutes: float


class PlanEntry(Struct, frozen=True, kw_only=True):
    """A day and what it holds for one visit, or of one other kind.

    `spill` marks what an earlier day of the visit left. `over_minutes` is how far the whole day
    is over its minutes. `paper` names the kind of a paper.
    """

    day: date
    role: Use
    kind: EntryKind = EntryKind.NONE
    round: int | None = None
    subject: str | None = None
    parts: tuple[PlanPart, ...] = ()
    over_minutes: float = 0.0
    reserve: bool = False
    spill: bool = False
    pass_kind: PassKind | None = None
    paper: str | None = None

    @property
    def is_visit(self) -> bool:
        """Whether it belongs to a block or a sweep."""
        return self.kind in (EntryKind.BLOCK, EntryKind.SWEEP)

    @property
    def visit(self) -> Visit | None:
        """The visit it belongs to, if any."""
        if not self.is_visit:
            return None
        return Visit(self.round or 0, self.subject or "", self.kind is EntryKind.SWEEP)

    @property
    def minutes(self) -> float:
        """Minutes of work."""
        return sum(part.minutes for part in self.parts)

    @property
    def questions(self) -> int:
        """Questions, as far as they are known."""
        return sum(part.questions for part in self.parts)


class StudyDay(Struct, frozen=True):
    """A day of the plan with its minutes per part (() for none) and its entries in their order."""

    day: date
    role: Use
    parts: tuple[int, ...]
    entries: tuple[PlanEntry, ...]

    @property
    def visits(self) -> tuple[PlanEntry, ...]:
        """The entries of blocks and sweeps."""
        return tuple(entry for entry in self.entries if entry.is_visit)

    @property
    def kind(self) -> EntryKind:
        """What the day is mainly for."""
        return next((entry.kind for entry in self.entries), EntryKind.NONE)

    @property
    def questions(self) -> int:
        """Questions of its visits."""
        return sum(entry.questions for entry in self.visits)

    @property
    def minutes(self) -> float:
        """Minutes of its visits."""
        return sum(entry.minutes for entry in self.visits)

    @property
    def over_minutes(self) -> float:
        """How far the day is over its minutes."""
        return max((entry.over_minutes for entry in self.entries), default=0.0)

    @property
    def rounds(self) -> tuple[int, ...]:
        """The rounds its visits belong to."""
        return tuple(sorted({entry.round for entry in self.visits if entry.round}))


class ScheduledVisit(Struct, frozen=True):
    """A visit on its days, with the questions that have minutes there."""

    visit: Visit
    first: date
    last: date
    questions: int


class BeyondPlan(Struct, frozen=True):
    """What of a visit finds no minutes before the exam."""

    visit: Visit
    questions: int
    minutes: float


class RoundDays(Struct, frozen=True):
    """A round's first and last day of visits, done or planned, and the spare days up to the next.

    The rounds' spare days add up to the plan's.
    """

    round: int
    first_day: date | None
    last_day: date | None
    slack_days: int


class IdleMinutes(Struct, frozen=True):
    """Minutes of a day that no visit needs; its role says what could stand there."""

    day: date
    role: Use
    minutes: float


class StudyPlan(Struct, frozen=True, kw_only=True, dict=True):
    """The plan from `first` to the day before `exam`. Equal requests give equal plans.

    `study_days` counts the days left that have minutes, the eve of the exam left out where it is
    kept free; `visit_days` those of them that hold a visit.
    """

    first: date
    exam: date
    order: tuple[str, ...]
    entries: tuple[PlanEntry, ...]
    visits: tuple[ScheduledVisit, ...]
    rounds: tuple[RoundDays, ...]
    beyond: tuple[BeyondPlan, ...]
    idle: tuple[IdleMinutes, ...]
    paper_days: tuple[PaperDay, ...]
    study_days: int
    visit_days: int

    @property
    def feasible(self) -> bool:
        """Whether every visit has its minutes before the exam."""
        return not self.beyond

    @property
    def shortfall_minutes(self) -> float:
        """Minutes of work that find no day before the exam."""
        return sum(left.minutes for left in self.beyond)

    @property
    def slack_days(self) -> int:
        """Spare days: study days that hold no visit."""
        return self.study_days - self.visit_days

    @property
    def needs_attendance(self) -> int | None:
        """Of 100 study days left, how many the plan needs; None when it is short."""
        if not self.feasible:
            return None
        return ceil(100 * self.visit_days / self.study_days) if self.study_days else 0

    @property
    def last_day(self) -> date | None:
        """The last day with a visit."""
        return max((visit.last for visit in self.visits), default=None)

    def on(self, day: date) -> tuple[PlanEntry, ...]:
        """The entries of a day, in the order in which they take its minutes."""
        return tuple(entry for entry in self.entries if entry.day == day)

    def minutes_beside(self, entry: PlanEntry) -> dict[int, float]:
        """Minutes by part of the entry's day that other visits and papers take.

        A block of the subject whose sweep the entry is stands beside it like any other.
        """
        beside: dict[int, float] = {}
        for other in self.on(entry.day):
            if other.visit != entry.visit and other.kind is not EntryKind.PASS:
                for part in other.parts:
                    beside[part.part] = beside.get(part.part, 0.0) + part.minutes
        return beside

    def days(self, inputs: PlanInputs) -> tuple[StudyDay, ...]:
        """Every day of the plan, made of these inputs, from the first to the eve of the exam."""
        by_day: dict[date, list[PlanEntry]] = {}
        for entry in self.entries:
            by_day.setdefault(entry.day, []).append(entry)
        study_days = []
        for day in open_days(inputs, self.first, self.exam):
            entries = tuple(by_day.get(day.day, ()))
            role = entries[0].role if entries else day.use
            study_days.append(StudyDay(day.day, role, day.parts, entries))
        return tuple(study_days)

    def coming(self) -> Iterator[Visit]:
        """Every visit that is not finished yet, each once."""
        yield from dict.fromkeys(
            [scheduled.visit for scheduled in self.visits] + [left.visit for left in self.beyond]
        )
