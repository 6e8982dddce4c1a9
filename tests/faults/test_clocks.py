"""Clocks that jump, zones that change, daylight saving, and the hour at which a study day turns."""

from datetime import date, datetime, timedelta
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest

from banks.library import Given
from banks.store.log import RecordIds
from domain.responses import Purpose, study_day
from domain.tiers import Tier
from domain.verdicts import Verdict
from tests.builders import FakeClock, bank, bares, library

BOOK = bank("Book", {"Clouds": {"High": bares(3)}})
ONE = "book/clouds.high/1"
EUROPE = ZoneInfo("Europe/Berlin")


def miss(opened, at: datetime) -> None:
    opened.now.at = at
    opened.record([Given(question=ONE, verdict=Verdict.WRONG)], Purpose.REVISION)


def test_a_clock_set_back_never_makes_a_day_come_twice(tmp_path: Path) -> None:
    opened = library(tmp_path, BOOK, clock=FakeClock())
    noon = datetime(2026, 3, 2, 12, tzinfo=EUROPE)
    for hours in (0, 1, -0.5, 2):
        miss(opened, noon + timedelta(hours=hours))
    assert opened.history.standing(ONE).tier is Tier.HARD
    assert opened.history.standing(ONE).missed_days == 1


def test_a_clock_set_back_by_days_still_reads_the_same_after_a_restart(tmp_path: Path) -> None:
    opened = library(tmp_path, BOOK, clock=FakeClock())
    noon = datetime(2026, 3, 2, 12, tzinfo=EUROPE)
    for days in (0, 5, 1, 6, -3):
        miss(opened, noon + timedelta(days=days))
    before = opened.history.standing(ONE), opened.history.trail(ONE)
    opened.close()
    again = library(tmp_path, clock=FakeClock())
    assert (again.history.standing(ONE), again.history.trail(ONE)) == before
    again.close()


def test_new_names_sort_after_old_ones_even_when_the_clock_is_set_back(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    times = iter([5_000, 9_000, 1_000, 1_000, 9_001])
    monkeypatch.setattr("banks.store.log.time.time_ns", lambda: next(times) * 1_000_000)
    ids = RecordIds()
    made = [ids.new() for _ in range(5)]
    assert made == sorted(set(made))


@pytest.mark.parametrize(("moment", "day"), [
    ("2026-03-29T01:59", "2026-03-28"),  # the last minute before the clocks go forward
    ("2026-03-29T03:00", "2026-03-29"),  # the next minute
    ("2026-10-25T02:30", "2026-10-24"),  # comes twice that night: both belong to the evening
    ("2026-10-25T03:00", "2026-10-25"),
    ("2026-12-31T23:59", "2026-12-31"),
    ("2027-01-01T02:59", "2026-12-31"),
])  # fmt: skip
def test_the_study_day_turns_by_the_candidates_own_clock(moment: str, day: str) -> None:
    for fold in (0, 1):
        at = datetime.fromisoformat(moment).replace(tzinfo=EUROPE, fold=fold)
        assert study_day(at, 3) == date.fromisoformat(day)


def test_a_day_stays_the_day_it_was_when_the_zone_changes(tmp_path: Path) -> None:
    opened = library(tmp_path, BOOK, clock=FakeClock())
    miss(opened, datetime(2026, 3, 2, 22, tzinfo=ZoneInfo("Asia/Tokyo")))
    miss(opened, datetime(2026, 3, 2, 22, tzinfo=ZoneInfo("America/Lima")))
    opened.close()
    again = library(tmp_path, clock=FakeClock())
    days = [step.day for step in again.history.trail(ONE)]
    assert days == [date(2026, 3, 2)]
    again.close()


def test_work_after_midnight_belongs_to_the_evening_before(tmp_path: Path) -> None:
    opened = library(tmp_path, BOOK, clock=FakeClock())
    miss(opened, datetime(2026, 3, 2, 23, 50, tzinfo=EUROPE))
    miss(opened, datetime(2026, 3, 3, 2, 59, tzinfo=EUROPE))
    assert opened.history.standing(ONE).days == 1
    miss(opened, datetime(2026, 3, 3, 3, 0, tzinfo=EUROPE))
    assert opened.history.standing(ONE).days == 2
