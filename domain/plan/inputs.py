"""All that a plan is made of: the candidate's time, the calendar it gives, and the subjects."""

import math
from collections.abc import Iterator
from datetime import date, time, timedelta
from enum import StrEnum
from functools import cached_property

from msgspec import Struct

DAYS_A_WEEK = 7
LAST_DAYS = 7
"""The last days before the exam are planned, and told, a day at a time."""
LONGEST_DAY = 24 * 60
ONE_DAY = timedelta(days=1)


class Role(StrEnum):
    """What a weekday is for."""

    REVISION = "revision"
    SWEEP = "sweep"
    REST = "rest"


class Pin(Struct, frozen=True):
    """A subject whose block begins in a week of the candidate's choice; `week` is its Monday."""

    subject: str
    week: date


class DayMinutes(Struct, frozen=True):
    """One day that differs from its weekday: minutes per part of the day, () for none."""

    day: date
    minutes: tuple[int, ...]


class SubjectOpens(Struct, frozen=True):
    """The day from which a subject may be revised: its first study is done by then."""

    subject: str
    day: date


class PaperDay(Struct, frozen=True):
    """A paper written for a day; `kind` is "sample paper" or "rehearsal"."""

    day: date
    kind: str
    questions: int
    minutes: float


class PlanInputs(Struct, frozen=True, kw_only=True, omit_defaults=True):
    """The plan's inputs, a value that goes to JSON as it stands. Without `exam`: not set up yet.

    `banks` are the ids of the banks that are planned, () for all there are.
    `minutes` and `roles` run from Monday to Sunday; a day's minutes come in parts (morning,
    evening). `starts` are the local times at which the parts begin, for the calendar file.
    `order` lists subject ids: the first half takes the block in round one, in this order, the
    rest is swept in round one; subjects not named follow by need. `sweep_only` names subjects
    that get no block. `seconds` a question counts until the candidate's own pace is measured.
    `stretch` is how far a day may run over its minutes to keep chapters whole (a whole block: a
    third of it); `hard_share` the share of a subject expected in the hard-tiers while there is
    no history: 150 to 200 of 525 are missed again (common practice, no source).

    `passes` fill idle minutes, except for `keep_weeks` spare weeks. `paper_days` are written when
    a plan is accepted, as `banks`, `order` and `seconds` are. `final_revision` is how many days
    before the exam a plan that is short asks for it (0: never); taken, it begins on `final_from`.
    `last_week` keeps the eve of the exam free. `reserve` days are spare days the candidate has
    named. `left_out` are chapter ids whose blocks are given up, `unswept` subject ids whose sweeps
    are.
    """

    exam: date | None = None
    start: date | None = None
    banks: tuple[str, ...] = ()
    minutes: tuple[tuple[int, ...], ...] = ((30, 60),) * 5 + ((300,), ())
    roles: tuple[Role, ...] = (Role.REVISION,) * 5 + (Role.SWEEP, Role.REST)
    off: tuple[date, ...] = ()
    changed_days: tuple[DayMinutes, ...] = ()
    rounds: int = 2
    seconds: float = 51.0
    order: tuple[str, ...] = ()
    pins: tuple[Pin, ...] = ()
    sweep_only: tuple[str, ...] = ()
    stretch: float = 0.15
    hard_share: float = 1 / 3
    starts: tuple[time, ...] = (time(6, 30), time(19, 0), time(21, 30))
    open_from: tuple[SubjectOpens, ...] = ()
    passes: bool = True
    keep_weeks: int = 0
    papers: bool = True
    paper_days: tuple[PaperDay, ...] = ()
    final_revision: int = 21
    final_from: date | None = None
    final_declined: bool = False
    last_week: bool = True
    reserve: tuple[date, ...] = ()
    left_out: tuple[str, ...] = ()
    unswept: tuple[str, ...] = ()

    @property
    def is_set_up(self) -> bool:
        """Whether there is an exam day to plan for."""
        return self.exam is not None

    def problems(self, today: date) -> list[str]:
        """What keeps a plan from being made today, in plain sentences; empty when all is fine."""
        return _span_problems(self, today) + _week_problems(self) + _number_problems(self)


def _span_problems(inputs: PlanInputs, today: date) -> list[str]:
    if inputs.exam is None:
        return ["The plan needs the day of the exam."]
    first = inputs.start or today
    if inputs.exam <= first:
        return [f"The exam on {inputs.exam} must come after the first day, {first}."]
    if (inputs.exam - first) > timedelta(days=5 * 366):
        return [f"The exam on {inputs.exam} is more than five years after {first}."]
    days = {first + timedelta(days=n) for n in range((inputs.exam - first).days)}
    if days <= set(inputs.off):
        return [f"Every day from {first} to the exam is a day off: leave some to work on."]
    return []


def _week_problems(inputs: PlanInputs) -> list[str]:
    if len(inputs.minutes) != DAYS_A_WEEK or len(inputs.roles) != DAYS_A_WEEK:
        return ["Minutes and roles need seven entries, Monday to Sunday."]
    if any(part < 0 for parts in inputs.minutes for part in parts):
        return ["Minutes can't be less than 0."]
    if any(sum(parts) > LONGEST_DAY for parts in inputs.minutes):
        return [f"A day has no more than {LONGEST_DAY} minutes."]
    problems = []
    for role, purpose in ((Role.REVISION, "revise"), (Role.SWEEP, "sweep")):
        days = zip(inputs.roles, inputs.minutes, strict=True)
        if not any(sum(minutes) for held, minutes in days if held is role):
            problems.append(
                f"No minutes to {purpose}: give at least one weekday the role {role} and minutes."
            )
    return problems


def _number_problems(inputs: PlanInputs) -> list[str]:
    problems = []
    for name, value, low, high in (
        ("rounds", inputs.rounds, 1, 6),
        ("seconds per question", inputs.seconds, 1, 3600),
        ("the stretch of a day", inputs.stretch, 0, 1),
        ("the expected share of hard questions", inputs.hard_share, 0, 1),
        ("the spare weeks to keep", inputs.keep_weeks, 0, 52),
        ("the days of final revision", inputs.final_revision, 0, 90),
    ):
        if not low <= value <= high:
            problems.append(f"{name[0].upper()}{name[1:]}: {low} to {high}, not {value:g}.")
    return problems


# the calendar


class Use(StrEnum):
    """What a day of the plan is used for."""

    REVISION = "revision"
    SWEEP = "sweep"
    SLACK = "slack"
    REST = "rest"
    OFF = "off"
    FINAL = "final"


class OpenDay(Struct, frozen=True):
    """A calendar day before anything is planned on it; `parts` are minutes per part of the day."""

    day: date
    use: Use
    parts: tuple[int, ...]

    @property
    def minutes(self) -> int:
        """All the day's minutes."""
        return sum(self.parts)


def open_days(inputs: PlanInputs, first: date, end: date) -> Iterator[OpenDay]:
    """Every day from `first` up to, not including, `end`. A day without minutes is a rest."""
    off = frozenset(inputs.off)
    changed = {change.day: change.minutes for change in inputs.changed_days}
    for step in range((end - first).days):
        day = first + step * ONE_DAY
        if day in off:
            yield OpenDay(day, Use.OFF, ())
            continue
        role = inputs.roles[day.weekday()]
        parts = changed.get(day, inputs.minutes[day.weekday()])
        if role is Role.REST or not sum(parts):
            yield OpenDay(day, Use.REST, ())
        else:
            yield OpenDay(day, Use.SWEEP if role is Role.SWEEP else Use.REVISION, parts)


def monday(day: date) -> date:
    """The Monday of the day's ISO 8601 week."""
    return day - day.weekday() * ONE_DAY


def week_begin(inputs: PlanInputs, day: date) -> date:
    """The first day of the day's week: the seven days after the pattern's last rest day."""
    rests = [weekday for weekday, role in enumerate(inputs.roles) if role is Role.REST]
    begin = (rests[-1] + 1) % 7 if rests else 0
    return day - (day.weekday() - begin) % 7 * ONE_DAY


# what there is to plan


class ChapterLoad(Struct, frozen=True):
    """A chapter's active questions by number, in order."""

    id: str
    title: str
    numbers: tuple[int, ...]


class SubjectLoad(Struct, frozen=True, dict=True):
    """What a subject weighs on the plan.

    `tried` is how many of its questions have a history, `hard` how many of those are in the
    hard-tiers, `strength` the share answered right (0 to 1), None without history. `weight` is
    its share in the exam (None: as its questions), `open_from` the bank's. `repeated` counts the
    repeatedly missed questions, `tried_twice` those tried on two study days or more.
    """

    id: str
    title: str
    chapters: tuple[ChapterLoad, ...]
    weight: float | None = None
    open_from: date | None = None
    tried: int = 0
    hard: int = 0
    strength: float | None = None
    repeated: int = 0
    tried_twice: int = 0

    @cached_property
    def questions(self) -> int:
        """How many questions the subject has."""
        return sum(len(chapter.numbers) for chapter in self.chapters)

    def has(self, chapter: str, number: int) -> bool:
        """Whether the number is that of an active question in the chapter of this id."""
        return number in self._numbers.get(chapter, ())

    @cached_property
    def _numbers(self) -> dict[str, frozenset[int]]:
        return {chapter.id: frozenset(chapter.numbers) for chapter in self.chapters}

    def expected_repeated(self, share: float) -> int:
        """Repeatedly missed questions: those known, and `share` of what was not yet tried twice."""
        return self.repeated + math.ceil(share * max(0, self.questions - self.tried_twice) - 1e-9)
