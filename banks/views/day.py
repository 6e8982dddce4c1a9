"""The day as it is shown: values alone, so that they can be read back before anything else is."""

from datetime import date

from msgspec import Struct

from domain.plan.days import Use


class WaitingState(Struct, frozen=True):
    """Questions waiting, how many more than a week ago (negative: fewer), and settled.

    Those that began to wait just now were last tried on `last_tried`.
    """

    waiting: int
    change: int
    settled: int
    last_tried: date


class TodayLine(Struct, frozen=True):
    """One line: consecutive questions of a chapter, or a sweep (then `chapter` is "").

    `questions` are question ids in order, of which `done` were answered today; a sweep has none:
    it is picked when it begins, from the subject's hard-tiers. `minutes` is for the whole line.
    """

    part: str
    part_minutes: int
    bank: str
    subject: str
    subject_title: str
    chapter: str
    chapter_title: str
    first: int
    last: int
    count: int
    done: int
    minutes: float
    questions: tuple[str, ...]

    @property
    def left(self) -> int:
        """Questions of the line still to do."""
        return max(0, self.count - self.done)

    @property
    def is_sweep(self) -> bool:
        """Whether it is a sweep."""
        return not self.chapter


class Ahead(Struct, frozen=True):
    """A later day: what for, the subject's title, its questions and minutes."""

    day: date
    use: Use
    subject_title: str
    questions: int
    minutes: float


class TodayView(Struct, frozen=True):
    """The day at a glance. Without a plan only `today` is told and `is_set_up` is False.

    `use` is what the day is for; `coming` are the days after it; `minutes_left` counts what is
    not done yet; `over` the minutes beyond those of the day; `changed` says in words what is new
    since yesterday.
    """

    today: date
    is_set_up: bool
    exam: date | None = None
    days_to_exam: int = 0
    use: Use = Use.REST
    round: int = 0
    rounds: int = 0
    subject_title: str = ""
    lines: tuple[TodayLine, ...] = ()
    over: float = 0.0
    coming: tuple[Ahead, ...] = ()
    next_sweep: Ahead | None = None
    feasible: bool = True
    slack_days: int = 0
    shortfall_minutes: float = 0.0
    changed: tuple[str, ...] = ()
    waiting: WaitingState | None = None

    @property
    def next_work(self) -> Ahead | None:
        """The next of the coming days with work."""
        return next((day for day in self.coming if day.questions), None)

    @property
    def count(self) -> int:
        """Questions planned today."""
        return sum(line.count for line in self.lines)

    @property
    def done(self) -> int:
        """Planned questions that are done."""
        return sum(line.count - line.left for line in self.lines)

    @property
    def minutes(self) -> float:
        """Minutes of work planned today."""
        return sum(line.minutes for line in self.lines)

    @property
    def minutes_left(self) -> float:
        """Minutes of what is not done yet."""
        return sum(line.minutes * line.left / line.count for line in self.lines)
