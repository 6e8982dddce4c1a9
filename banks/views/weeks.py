"""How things stood at the end of each week: coverage, the mark to expect."""

from datetime import date, timedelta

from msgspec import Struct

from banks.views.coverage import Coverage
from banks.views.evidence_log import EvidenceLog
from domain.evidence.forecast import forecast
from domain.marking.blueprint import Blueprint

AT_MOST = 30
"""Points in time, however long the history; a longer one is looked at every second week, …"""


class Week(Struct, frozen=True):
    """The end of one week (or of today): coverage, and the mark expected then.

    `revised` and `swept` are questions taken in blocks and in sweeps, `due` those that the first
    plan had revised by then (None without a plan). `mark` is what the memory model of today says
    of the history up to then, as if the exam had been that day, `low` to `high` its 90 % range.
    """

    day: date
    revised: int
    swept: int
    due: int | None
    mark: float
    low: float
    high: float


def weeks(reading: EvidenceLog, paper: Blueprint, coverage: Coverage) -> list[Week]:
    """Week by week up to today, oldest first; empty without a history."""
    if not reading.responses:
        return []
    first = min(one.day for one in reading.responses)
    return [_week(reading, paper, coverage, day) for day in ends(first, reading.today)]


def ends(first: date, today: date) -> list[date]:
    """The Sundays from `first` on and today, at most `AT_MOST` of them, evenly thinned."""
    sunday = first + timedelta(days=6 - first.weekday())
    count = max(0, (today - sunday).days // 7 + 1)
    step = 1 + count // AT_MOST
    sundays = [sunday + timedelta(weeks=week) for week in range(count)]
    kept = sundays[::-1][::step][::-1]
    return kept if kept and kept[-1] == today else [*kept, today]


def _week(reading: EvidenceLog, paper: Blueprint, coverage: Coverage, day: date) -> Week:
    ordinal = day.toordinal()
    held = reading.held(ordinal)
    memory = reading.memory
    found = forecast(held, memory.chances, paper, ordinal, reading.blanks, memory.day_spread)
    low, high = found.interval()
    return Week(
        day,
        coverage.revised(day),
        coverage.swept(day),
        coverage.due(day),
        found.mark,
        low,
        high,
    )
