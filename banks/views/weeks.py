"""How things stood at the end of each week: tiers, coverage, the mark to expect."""

from collections import Counter
from datetime import date, timedelta

from msgspec import Struct

from banks.views.reading import Reading
from domain.evidence.forecast import forecast
from domain.marking.blueprint import Blueprint
from domain.responses import Purpose
from domain.tiers import Tier

AT_MOST = 30
"""Points in time, however long the history; a longer one is looked at every second week, …"""

REVISING = (Purpose.REVISION, Purpose.SWEEP)


class Week(Struct, frozen=True):
    """The end of one week (or of today): questions per tier, coverage, the mark expected then.

    `once` and `twice` are questions revised on at least one and on at least two days, first
    study apart. `mark` is what the memory model of today says of the history up to then, as if
    the exam had been that day; `low` and `high` are its 90 % range.
    """

    day: date
    untried: int
    clear: int
    hard: int
    harder: int
    hardest: int
    once: int
    twice: int
    mark: float
    low: float
    high: float


def weeks(reading: Reading, paper: Blueprint) -> list[Week]:
    """Week by week up to today, oldest first; empty without a history."""
    if not reading.told:
        return []
    visits = _visits(reading)
    return [_week(reading, paper, visits, day) for day in ends(_first(reading), reading.today)]


def ends(first: date, today: date) -> list[date]:
    """The Sundays from `first` on and today, at most `AT_MOST` of them, evenly thinned."""
    sunday = first + timedelta(days=6 - first.weekday())
    count = max(0, (today - sunday).days // 7 + 1)
    step = 1 + count // AT_MOST
    sundays = [sunday + timedelta(weeks=week) for week in range(count)]
    kept = sundays[::-1][::step][::-1]
    return kept if kept and kept[-1] == today else [*kept, today]


def _first(reading: Reading) -> date:
    return min(one.day for one in reading.told)


def _visits(reading: Reading) -> list[list[date]]:
    """Each question's days of revision, in order."""
    days: dict[str, set[date]] = {}
    for one in reading.told:
        if one.purpose in REVISING:
            days.setdefault(one.question, set()).add(one.day)
    return [sorted(own)[:2] for own in days.values()]


def _week(reading: Reading, paper: Blueprint, visits: list[list[date]], day: date) -> Week:
    ordinal = day.toordinal()
    held = list(reading.held(ordinal))
    tiers = Counter(one.practice.tier if one.practice else Tier.UNTRIED for one in held)
    found = forecast(held, reading.memory.chances, paper, ordinal, reading.blanks)
    low, high = found.interval()
    return Week(
        day,
        *(tiers[tier] for tier in Tier),
        sum(own[0] <= day for own in visits),
        sum(len(own) > 1 and own[1] <= day for own in visits),
        found.mark, low, high,
    )  # fmt: skip
