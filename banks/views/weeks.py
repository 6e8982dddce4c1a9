"""How things stood at the end of each week: what is settled, coverage, the predicted score."""

from collections import Counter
from datetime import date, timedelta

from msgspec import Struct

from banks.views.coverage import Coverage
from banks.views.evidence_log import EvidenceLog
from domain.evidence.forecast import Held, forecast
from domain.evidence.memory.practice import Stage
from domain.marking.blueprint import Blueprint
from domain.tiers import Tier

AT_MOST = 30
"""Points in time, however long the history; a longer one is looked at every second week, …"""


class Week(Struct, frozen=True):
    """The end of one week (or of today): where the questions stood, and the score predicted then.

    Of all questions `settled`, `waiting` and `untried` are three parts; the rest is under way.
    `revised` and `swept` are questions taken in blocks and in sweeps, `due` those that the first
    plan had revised by then (None without a plan). `mark` is what the memory model of today says
    of the history up to then, as if the exam had been that day, `low` to `high` its 90 % range.
    """

    day: date
    settled: int
    waiting: int
    untried: int
    revised: int
    swept: int
    due: int | None
    mark: float
    low: float
    high: float


def weeks(
    reading: EvidenceLog, paper: Blueprint, coverage: Coverage, waiting_days: int
) -> list[Week]:
    """Week by week up to today, oldest first; empty without a history."""
    if not reading.responses:
        return []
    first = min(one.day for one in reading.responses)
    return [
        _week(reading, paper, coverage, day, waiting_days) for day in ends(first, reading.today)
    ]


def ends(first: date, today: date) -> list[date]:
    """The Sundays from `first` on and today, at most `AT_MOST` of them, evenly thinned."""
    sunday = first + timedelta(days=6 - first.weekday())
    count = max(0, (today - sunday).days // 7 + 1)
    step = 1 + count // AT_MOST
    sundays = [sunday + timedelta(weeks=week) for week in range(count)]
    kept = sundays[::-1][::step][::-1]
    return kept if kept and kept[-1] == today else [*kept, today]


def _week(
    reading: EvidenceLog, paper: Blueprint, coverage: Coverage, day: date, waiting_days: int
) -> Week:
    ordinal = day.toordinal()
    memory = reading.memory
    stages = [(one.subject, one.stage(ordinal)) for one in reading.studied]
    standings = Counter(_standing(stage, ordinal, waiting_days) for _, stage in stages)
    held = (Held(subject, stage.practice if stage else None) for subject, stage in stages)
    found = forecast(held, memory.chances, paper, ordinal, reading.blanks, memory.day_spread)
    low, high = found.interval()
    return Week(
        day, standings["settled"], standings["waiting"], standings["untried"],
        coverage.revised(day), coverage.swept(day), coverage.due(day), found.mark, low, high,
    )  # fmt: skip


def _standing(stage: Stage | None, day: int, waiting_days: int) -> str:
    """As `is_waiting` tells it, of a stage of the past."""
    if stage is None or stage.practice.tier == Tier.UNTRIED:
        return "untried"
    if stage.settled:
        return "settled"
    tries = stage.practice.rights + stage.practice.misses
    return "waiting" if tries and day - stage.practice.last >= waiting_days else "under way"
