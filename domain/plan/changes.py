"""What a new plan changes against the one before: the before/after that is shown."""

from datetime import date

from msgspec import Struct

from domain.plan.pairing import Visit
from domain.plan.result import Plan


class Shift(Struct, frozen=True):
    """A visit whose days changed; None where it has no day before the exam."""

    visit: Visit
    before: tuple[date, date] | None
    after: tuple[date, date] | None

    @property
    def days(self) -> int | None:
        """By how many days its end moved, later positive; None where it came or went."""
        if self.before is None or self.after is None:
            return None
        return (self.after[1] - self.before[1]).days


class Change(Struct, frozen=True):
    """The difference between two plans. Pairs are (before, after)."""

    feasible: tuple[bool, bool]
    slack_days: tuple[int, int]
    shortfall_minutes: tuple[float, float]
    last_days: tuple[date | None, date | None]
    shifts: tuple[Shift, ...]

    @property
    def is_none(self) -> bool:
        """Whether nothing changed that a candidate would notice."""
        return not self.shifts and self.slack_days[0] == self.slack_days[1]


def compare(before: Plan, after: Plan) -> Change:
    """What `after` changes. Visits that were finished in between are no change."""
    old, new = _spans(before), _spans(after)
    coming = new.keys() | {left.visit for left in after.unplaced}
    shifts = tuple(
        Shift(visit, old.get(visit), new.get(visit))
        for visit in sorted(coming, key=lambda visit: (visit.round, visit.sweep, visit.subject))
        if old.get(visit, (None, None))[1] != new.get(visit, (None, None))[1]
    )
    return Change(
        feasible=(before.feasible, after.feasible),
        slack_days=(before.slack_days, after.slack_days),
        shortfall_minutes=(before.shortfall_minutes, after.shortfall_minutes),
        last_days=(_last(before), _last(after)),
        shifts=shifts,
    )


def _spans(plan: Plan) -> dict[Visit, tuple[date, date]]:
    return {placed.visit: (placed.first, placed.last) for placed in plan.placed}


def _last(plan: Plan) -> date | None:
    return max((placed.last for placed in plan.placed), default=None)
