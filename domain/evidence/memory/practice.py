"""A question's history as the memory model reads it: counts, streak, tier, dates."""

from array import array
from collections.abc import Collection, Iterable, Sequence
from datetime import date
from functools import cache
from math import log1p
from typing import TYPE_CHECKING, NamedTuple

from msgspec import Struct

from domain.tiers import HandSet, Judged, Tier, TierRules, trail
from domain.verdicts import Confidence, Verdict

if TYPE_CHECKING:
    from numpy import bool_, float64, int32, int_
    from numpy.typing import NDArray

Cell = tuple[int, ...]
"""What counts of a practice on a day: rights, misses, streak, sure, tier, lag, span (the last two
in steps of an eighth of ln(1 + days)). Questions in the same cell have the same chance; the empty
cell is a question that was never tried."""

UNSEEN: Cell = ()
_STEPS = 8
_STEP_OF_DAY = [round(_STEPS * log1p(day)) for day in range(3650)]


class Practice(Struct, frozen=True, gc=False, array_like=True):
    """What was practised so far, study day by study day; the first response of a day counts.

    `first` and `last` are ordinals of study days. `sure`: the last was right and sure.
    """

    rights: int
    misses: int
    streak: int
    sure: bool
    tier: int
    first: int
    last: int

    def cell(self, day: int) -> Cell:
        """The cell this practice is in on a later day (an ordinal)."""
        return (
            self.rights,
            self.misses,
            self.streak,
            int(self.sure),
            self.tier,
            steps(day - self.last),
            steps(self.last - self.first),
        )


class Trial(Struct, frozen=True, gc=False, array_like=True):
    """One try at a question: the day's ordinal, the cell it was in before, what came out."""

    subject: str
    day: int
    cell: Cell
    right: bool


def steps(days: int) -> int:
    """ln(1 + days) in the steps of a cell."""
    return _STEP_OF_DAY[min(max(days, 0), len(_STEP_OF_DAY) - 1)]


def days_of(step: int) -> float:
    """ln(1 + days) of a step."""
    return step / _STEPS


def tier_of(cell: Cell) -> Tier:
    """The tier in which a question of this cell is."""
    return Tier(cell[4]) if cell else Tier.UNTRIED


class Stage(NamedTuple):
    """From the day `since` (an ordinal) on the practice was so, with so many signs and settled or
    not.
    """

    since: int
    practice: Practice
    settled: bool
    signs: int


def read(
    subject: str, history: Iterable[Judged | HandSet], rules: TierRules
) -> tuple[list[Trial], list[Stage]]:
    """The tries in a question's history, and the stages of its practice, oldest first."""
    history = list(history)
    first_of_day = _first_of_day(history)
    trials: list[Trial] = []
    stages: list[Stage] = []
    now: Practice | None = None
    for step in trail(history, rules):
        event, day = first_of_day.pop(step.day, None), step.day.toordinal()
        if event is not None:
            right = event.verdict is Verdict.RIGHT
            trials.append(Trial(subject, day, now.cell(day) if now else UNSEEN, right))
            now = _after(now, event, day, right)
        # A tier set by hand before any try makes the question known, though with nothing to count.
        tier = step.after.tier
        now = _in_tier(now or Practice(0, 0, 0, False, tier, day, day), tier)
        stages.append(Stage(day, now, step.after.settled, step.after.signs))
    return trials, stages


def _first_of_day(history: list[Judged | HandSet]) -> dict[date, Judged]:
    first: dict[date, Judged] = {}
    current = date.min
    for event in history:
        current = max(current, event.day)
        if isinstance(event, Judged):
            first.setdefault(current, event)
    return first


def _after(now: Practice | None, event: Judged, day: int, right: bool) -> Practice:
    sure = right and event.confidence is Confidence.SURE
    if now is None:
        return Practice(int(right), int(not right), int(right), sure, Tier.UNTRIED, day, day)
    return Practice(
        now.rights + right,
        now.misses + (not right),
        now.streak + 1 if right else 0,
        sure,
        now.tier,
        now.first,
        day,
    )


def _in_tier(now: Practice, tier: Tier) -> Practice:
    if now.tier == tier:
        return now
    return Practice(now.rights, now.misses, now.streak, now.sure, int(tier), now.first, now.last)


class TryColumns:
    """Many tries, by day: a column of days, of outcomes, and of the numbers of their `places`,
    (subject, cell), each numbered when it is first met.
    """

    def __init__(self, trials: Sequence[Trial]) -> None:
        import numpy as np

        numbers: dict[tuple[str, Cell], int] = {}
        placed = (numbers.setdefault((trial.subject, trial.cell), len(numbers)) for trial in trials)
        count = len(trials)
        self.place = np.fromiter(placed, dtype=int, count=count)
        self.days = np.fromiter((trial.day for trial in trials), dtype=int, count=count)
        self.right = np.fromiter((trial.right for trial in trials), dtype=float, count=count)
        self.places = list(numbers)

    def tally(self, first: int, last: int) -> "tuple[NDArray[int_], NDArray[float64]]":
        """Of the tries from `first` up to `last`: how many there were at each place, and how many
        were right.
        """
        import numpy as np

        place, size = self.place[first:last], len(self.places)
        of = np.bincount(place, minlength=size)
        return of, np.bincount(place, self.right[first:last], size).astype(float)


class PracticeColumns(NamedTuple):
    """What counts of the practice of many questions, a column each; `sure` as a chance. What was
    never tried is not `seen`, and 0 in all others.
    """

    seen: "NDArray[bool_]"
    rights: "NDArray[int_]"
    misses: "NDArray[int_]"
    streak: "NDArray[int_]"
    sure: "NDArray[float64]"
    tier: "NDArray[int_]"
    first: "NDArray[int_]"
    last: "NDArray[int_]"

    @classmethod
    def of(cls, practices: Sequence[Practice | None]) -> "PracticeColumns":
        """The columns of these; None: never tried."""
        import numpy as np

        rows = [
            (each.rights, each.misses, each.streak, each.sure, each.tier, each.first, each.last)
            if each
            else (0,) * 7
            for each in practices
        ]
        rights, misses, streak, sure, *others = np.array(rows, dtype=int).reshape(-1, 7).T
        seen = np.array([practice is not None for practice in practices], dtype=bool)
        tier, first, last = others
        return cls(seen, rights, misses, streak, sure.astype(float), tier, first, last)

    def taken(self, chosen: "NDArray[bool_] | NDArray[int_]") -> "PracticeColumns":
        """Those where it says so, or at these places."""
        return PracticeColumns(
            self.seen[chosen],
            self.rights[chosen],
            self.misses[chosen],
            self.streak[chosen],
            self.sure[chosen],
            self.tier[chosen],
            self.first[chosen],
            self.last[chosen],
        )

    def practice(self, place: int) -> Practice | None:
        """The practice of one of them."""
        if not self.seen[place]:
            return None
        rights, misses, streak, sure, tier, first, last = (
            int(column[place]) for column in self[1:]
        )
        return Practice(rights, misses, streak, bool(sure), tier, first, last)


@cache
def log_days() -> "NDArray[float64]":
    """ln(1 + days) by days, in the steps of a cell."""
    import numpy as np

    return np.array([days_of(step) for step in _STEP_OF_DAY])


def logs_of_days(days: "NDArray[int_]") -> "NDArray[float64]":
    """ln(1 + days) of each, in the steps of a cell."""
    logarithms: NDArray[float64] = log_days()[days.clip(0, len(_STEP_OF_DAY) - 1)]
    return logarithms


class StandingColumns(NamedTuple):
    """Where many questions stood at the end of a day."""

    practice: PracticeColumns
    settled: "NDArray[bool_]"
    signs: "NDArray[int_]"

    @property
    def tiers(self) -> "NDArray[int_]":
        """The tier of each; that of what was never tried is `Tier.UNTRIED`."""
        import numpy as np

        return np.where(self.practice.seen, self.practice.tier, int(Tier.UNTRIED))

    @property
    def tried(self) -> "NDArray[bool_]":
        """Whether each was ever tried: a tier set by hand is no try."""
        return (self.practice.rights + self.practice.misses) > 0

    def waiting(self, day: int, after_days: int) -> "NDArray[bool_]":
        """Whether each is waiting on a day (an ordinal); see `domain.tiers.is_waiting`."""
        return self.tried & ~self.settled & (day - self.practice.last >= after_days)


STAGE_COLUMNS = 11
"""The numbers of a stage; see `stage_numbers`."""


def stage_numbers(stages: Iterable[Stage], in_papers: Collection[int] = ()) -> "array[int]":
    """The stages as rows of `STAGE_COLUMNS` numbers; nothing is learnt from the tries of the days
    (ordinals) in `in_papers`.
    """
    numbers = array("i")
    for since, now, settled, signs in stages:
        numbers.extend(
            (since, now.rights, now.misses, now.streak, now.sure, now.tier, now.first, now.last,
             settled, signs, since in in_papers)
        )  # fmt: skip
    return numbers


class TrialColumns(NamedTuple):
    """Tries by day, a column each: the number of the question, the day, the cell that it was in
    (where it was `seen` before), what came out.
    """

    question: "NDArray[int_]"
    day: "NDArray[int_]"
    seen: "NDArray[bool_]"
    cell: "NDArray[int_]"
    right: "NDArray[bool_]"


class StageColumns:
    """The stages of many questions, looked up on a day all at once."""

    def __init__(
        self, rows: "NDArray[int32]", begins: "NDArray[int_]", ends: "NDArray[int_]"
    ) -> None:
        """Rows of `stage_numbers`, and from where to where each question's stand among them, the
        oldest first.
        """
        self._rows, self._begins, self._ends = rows, begins, ends

    def on(self, day: int | None = None) -> StandingColumns:
        """Where each question stood at the end of a day (an ordinal), or stands now."""
        import numpy as np

        last = self._ends
        if day is not None:
            begun = np.concatenate(([0], np.cumsum(self._rows[:, 0] <= day)))
            last = self._begins + begun[self._ends] - begun[self._begins]
        seen = last > self._begins
        columns = np.zeros((STAGE_COLUMNS, len(seen)), dtype=int)
        columns[:, seen] = self._rows[last[seen] - 1].T
        _, rights, misses, streak, sure, tier, first, newest, settled, signs, _ = columns
        practice = PracticeColumns(
            seen, rights, misses, streak, sure.astype(float), tier, first, newest
        )
        return StandingColumns(practice, settled > 0, signs)

    def settled_first(self) -> "NDArray[int_]":
        """The days (ordinals) on which a question became settled, in no order."""
        _, places, is_first = self._each()
        settled = self._rows[places, 8] > 0
        before = (self._rows[places - 1, 8] > 0) & ~is_first
        days: NDArray[int_] = self._rows[places[settled & ~before], 0]
        return days

    def tries(self, before: int | None = None) -> TrialColumns:
        """The tries before a day (an ordinal), or all, that something can be learnt from."""
        import numpy as np

        question, places, is_first = self._each()
        rows, former = self._rows[places].astype(int), self._rows[places - 1].astype(int)
        former[is_first] = 0
        is_try = (rows[:, 1:3] != former[:, 1:3]).any(axis=1) & (rows[:, 10] == 0)
        if before is not None:
            is_try &= rows[:, 0] < before
        chosen = np.flatnonzero(is_try)
        chosen = chosen[rows[chosen, 0].argsort(kind="stable")]
        rows, former = rows[chosen], former[chosen]
        days, first, last = rows[:, 0], former[:, 6], former[:, 7]
        step_of, most = np.array(_STEP_OF_DAY), len(_STEP_OF_DAY) - 1
        lag, span = (step_of[since.clip(0, most)] for since in (days - last, last - first))
        return TrialColumns(
            question[chosen],
            days,
            ~is_first[chosen],
            np.column_stack((former[:, 1:6], lag, span)),
            rows[:, 1] != former[:, 1],
        )

    def _each(self) -> "tuple[NDArray[int_], NDArray[int_], NDArray[bool_]]":
        """Every stage: its question's number, its place, whether it is the question's first."""
        import numpy as np

        lengths = self._ends - self._begins
        question = np.repeat(np.arange(len(lengths)), lengths)
        places = spread_out(self._begins, self._ends)
        return question, places, places == self._begins[question]


def spread_out(begins: "NDArray[int_]", ends: "NDArray[int_]") -> "NDArray[int_]":
    """All places from each beginning up to its end, one after another."""
    import numpy as np

    lengths = ends - begins
    places: NDArray[int_] = np.repeat(ends - np.cumsum(lengths), lengths) + np.arange(lengths.sum())
    return places
