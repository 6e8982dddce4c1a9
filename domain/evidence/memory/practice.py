"""A question's history as the memory model reads it: counts, streak, tier, dates."""

from array import array
from collections import Counter
from collections.abc import Iterable, Sequence
from datetime import date
from math import log1p
from typing import TYPE_CHECKING, NamedTuple

from msgspec import Struct

from domain.tiers import HandSet, Judged, Tier, TierRules, trail
from domain.verdicts import Confidence, Verdict

if TYPE_CHECKING:
    from numpy import bool_, float64, int_
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
    """From the day `since` (an ordinal) on the practice was so; settled or not by then."""

    since: int
    practice: Practice
    settled: bool


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
        stages.append(Stage(day, now, step.after.settled))
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


class StageColumns:
    """The stages of many questions, looked up on a day all at once."""

    def __init__(self, questions: Sequence[Sequence[Stage]], subjects: Sequence[str]) -> None:
        """Each question's stages, oldest first, and its subject."""
        import numpy as np  # takes as long as a command's start: only where evidence is read

        numbers = array("q")
        for stages in questions:
            for since, now, settled in stages:
                numbers.extend(
                    (since, now.rights, now.misses, now.streak, now.sure, now.tier, now.last,
                     now.first, settled)
                )  # fmt: skip
        self._rows = np.frombuffer(numbers, dtype=np.int64).reshape(-1, 9)
        self._ends = np.cumsum([len(stages) for stages in questions], dtype=int)
        self._begins = np.concatenate(([0], self._ends[:-1])).astype(int)
        self._subjects = list(dict.fromkeys(subjects))
        place = {subject: n for n, subject in enumerate(self._subjects)}
        self._own = np.fromiter(map(place.__getitem__, subjects), dtype=int, count=len(subjects))
        counts = np.zeros(len(self._rows), dtype=np.int64)
        for column in self._rows.T[1:6]:  # renumbered each time, so that no number grows too large
            counts = np.unique(counts * (1 + column.max(initial=0)) + column, return_inverse=True)[
                1
            ]
        self._counts = counts

    def cells(self, day: int, until: int | None = None) -> dict[str, Counter[Cell]]:
        """How many questions of each subject are in which cell on a day (an ordinal), by their
        practice at the end of another, or now.
        """
        import numpy as np

        known, last = self._on(until)
        rows, own, steps_of = self._rows[last], self._own[known], np.array(_STEP_OF_DAY)
        since = np.stack((day - rows[:, 6], rows[:, 6] - rows[:, 7])).clip(0, len(steps_of) - 1)
        lag, span = steps_of[since]
        most = steps_of[-1] + 1
        codes = ((own * (1 + len(self._rows)) + self._counts[last]) * most + lag) * most + span
        _, first, counts = np.unique(codes, return_index=True, return_counts=True)
        kinds = np.column_stack((rows[first, 1:6], lag[first], span[first])).tolist()
        cells = {subject: Counter[Cell]() for subject in self._subjects}
        for number, cell, count in zip(own[first].tolist(), kinds, counts.tolist(), strict=True):
            cells[self._subjects[number]][tuple(cell)] = count
        untried = np.bincount(self._own[~known], minlength=len(self._subjects))
        for subject, count in zip(self._subjects, untried.tolist(), strict=True):
            if count:
                cells[subject][UNSEEN] = count
        return cells

    def standings(self, day: int, waiting_days: int) -> tuple[int, int, int]:
        """How many were settled, waiting and untried at the end of a day (an ordinal)."""
        known, last = self._on(day)
        rows = self._rows[last]
        tried = rows[rows[:, 5] != Tier.UNTRIED]
        is_settled = tried[:, 8] > 0
        is_old = day - tried[:, 6] >= waiting_days
        is_waiting = ~is_settled & (tried[:, 1] + tried[:, 2] > 0) & is_old
        return int(is_settled.sum()), int(is_waiting.sum()), len(known) - len(tried)

    def _on(self, day: int | None) -> "tuple[NDArray[bool_], NDArray[int_]]":
        """Whether each question had a stage at the end of a day, and the places of the last."""
        import numpy as np

        last = self._ends
        if day is not None:
            begun = np.concatenate(([0], np.cumsum(self._rows[:, 0] <= day)))
            last = self._begins + begun[self._ends] - begun[self._begins]
        known: NDArray[bool_] = last > self._begins
        return known, last[known] - 1
