"""Views kept from the last time: shown again only while everything is as it was."""

from collections.abc import Callable
from datetime import date, timedelta
from functools import partial
from pathlib import Path
from shutil import rmtree

import pytest

import banks.kept_history
from banks.clock import pretend_clock
from banks.library import Given, Library
from banks.planning.intents import accept
from banks.store.cache import Cache
from banks.store.filesystem import Stamp, System
from banks.views.evidence import Evidence, evidence
from banks.views.figures import evidence_of_now, make_ahead
from banks.views.kept_views import (
    DAYS_KEPT,
    files_of,
    keep_later_snapshots,
    keep_snapshots,
    keep_view,
    recall_snapshot,
    recall_view,
    startup_snapshot,
)
from banks.views.plan import PlanReport, TodayReport, plan_report, today_report
from banks.views.sweeping import SweepView, sweep, sweep_request
from domain.plan.inputs import PlanInputs
from domain.responses import Purpose
from domain.verdicts import Verdict
from tests.builders import FakeClock, bank, bares, library

BOOK = bank("Book", {"Clouds": {"High": bares(60)}, "Tides": {"Spring": bares(40)}})


@pytest.fixture
def opened(tmp_path: Path) -> Library:
    """A library with a plan, whose glances are kept."""
    made = library(tmp_path, BOOK, clock=FakeClock())
    accept(made, PlanInputs(exam=date(2026, 6, 1)))
    keep(made)
    return made


def keep(library: Library) -> None:
    keep_snapshots(library, files_of(library.store.folder), startup_snapshot(library))


def test_the_glance_kept_is_the_one_a_full_reading_gives(opened: Library) -> None:
    assert recall_snapshot(opened.store.folder, opened.now) == startup_snapshot(opened)


def test_tomorrow_has_a_glance_of_its_own(opened: Library) -> None:
    opened.now.go_on(days=1)
    kept = recall_snapshot(opened.store.folder, opened.now)
    assert kept == startup_snapshot(opened, may_choose=False)
    assert kept.view.today == opened.today()
    opened.now.go_on(days=1)
    assert recall_snapshot(opened.store.folder, opened.now) is None


def test_who_skips_days_finds_the_first_screen_of_that_day(opened: Library) -> None:
    keep_later_snapshots(opened, files_of(opened.folder))
    for _ in range(DAYS_KEPT - 1):
        opened.now.go_on(days=1)
        kept = recall_snapshot(opened.folder, opened.now)
        assert kept == startup_snapshot(opened, may_choose=False)
        assert kept.view.today == opened.today()
    opened.now.go_on(days=1)
    assert recall_snapshot(opened.folder, opened.now) is None


def test_later_days_are_not_kept_of_files_that_changed(opened: Library) -> None:
    files = files_of(opened.folder)
    opened.save_settings(opened.settings)
    keep_later_snapshots(opened, files)
    keep(opened)
    opened.now.go_on(days=2)
    assert recall_snapshot(opened.folder, opened.now) is None


def test_after_midnight_it_is_still_the_evening_before(opened: Library) -> None:
    at = opened.now().replace(hour=2) + timedelta(days=1)
    kept = recall_snapshot(opened.store.folder, lambda: at)
    assert kept.view.today == date(2026, 3, 2)


def test_the_week_has_what_was_done_and_what_the_plan_holds(opened: Library) -> None:
    opened.save_bank(bank("Other", {"Wind": {"Force": bares(5)}}))
    first = startup_snapshot(opened).view.lines[0].questions
    opened.record([Given(question=name, verdict=Verdict.WRONG) for name in first], Purpose.REVISION)
    opened.now.go_on(days=1)

    snapshot = startup_snapshot(opened)

    monday, tuesday, *later = snapshot.week
    assert (monday.day, monday.done, monday.left) == (date(2026, 3, 2), len(first), 0)
    assert (tuesday.done, tuesday.left) == (0, snapshot.view.count)
    ahead = {day.day: day.questions for day in snapshot.view.coming}
    assert [day.left for day in later] == [ahead[day.day] for day in later]
    assert [subject.title for subject in snapshot.subjects] == [
        "Clouds",
        "Tides",
    ]  # not the other's
    assert sum(subject.counts.hard for subject in snapshot.subjects) == len(first)


def test_anything_recorded_or_changed_makes_it_void(opened: Library) -> None:
    folder = opened.store.folder
    for change in (
        lambda: opened.record(
            [Given(question="book/clouds.high/1", verdict=Verdict.RIGHT)], Purpose.REVISION
        ),
        lambda: opened.save_bank(opened.banks["book"]),
        lambda: opened.save_settings(opened.settings),
        lambda: (folder / "log" / "2026-02.elsewhere.jsonl").write_bytes(b""),
    ):
        assert recall_snapshot(folder, opened.now) is not None
        change()
        assert recall_snapshot(folder, opened.now) is None
        keep(opened)


def test_a_glance_that_can_not_be_read_is_as_good_as_none(opened: Library) -> None:
    (opened.store.folder / "cache/glance.json").write_bytes(b'{"files":')
    assert recall_snapshot(opened.store.folder, opened.now) is None


VIEWS: dict[str, tuple[type, Callable[[Library], object]]] = {
    "today": (TodayReport, today_report),
    "plan": (PlanReport, plan_report),
    "sweep": (SweepView, partial(sweep, minutes=10)),
    "evidence": (Evidence, evidence),
}
"""What the commands show, by the name under which it is kept."""


def test_a_kept_view_is_the_one_that_would_be_made_and_only_while_nothing_changes(
    opened: Library,
) -> None:
    folder, clock = opened.store.folder, opened.now
    for number in (1, 2, 45):
        question = f"book/clouds.high/{number}"
        opened.record([Given(question=question, verdict=Verdict.WRONG)], Purpose.REVISION)
        clock.go_on(days=7)
        for name, (shape, make) in VIEWS.items():
            assert recall_view(folder, clock, name, shape) is None
            keep_view(opened, files_of(folder), name, make(opened))
            assert recall_view(folder, clock, name, shape) == make(opened)
            assert recall_view(folder, clock, name, shape, "another request") is None
    clock.go_on(days=1)
    assert recall_view(folder, clock, "plan", PlanReport) is None


def test_nothing_is_kept_of_files_that_changed_meanwhile_or_are_told_of(opened: Library) -> None:
    folder, files = opened.store.folder, files_of(opened.store.folder)
    opened.record([Given(question="book/clouds.high/1", verdict=Verdict.RIGHT)], Purpose.FREE)
    keep_view(opened, files, "today", today_report(opened))
    assert recall_view(folder, opened.now, "today", TodayReport) is None
    opened.store.notices.append("log/…: 1 damaged line was skipped")
    keep_view(opened, files_of(folder), "today", today_report(opened))
    assert recall_view(folder, opened.now, "today", TodayReport) is None


class Fleeting(System):
    """A file system on which the store's folder goes away right after it was looked for."""

    def stamp(self, path: Path) -> Stamp | None:
        stamp = super().stamp(path)
        if path.name in ("store", "cache") and path.parent.exists():
            rmtree(path if path.name == "store" else path.parent, ignore_errors=True)
        return stamp


def test_nothing_kept_brings_a_store_back_that_went_away_meanwhile(tmp_path: Path) -> None:
    for has_cache in (False, True):
        store = tmp_path / "store"
        (store / "cache" if has_cache else store).mkdir(parents=True)

        Cache(store, Fleeting()).save("glance", [1])

        assert not store.exists()


def test_a_number_beyond_64_bits_is_shown_and_not_kept(opened: Library) -> None:
    folder = opened.store.folder
    keep_view(opened, files_of(folder), "today", [10**30])
    opened.store.cache.save_packed("numbers", [10**30])

    assert recall_view(folder, opened.now, "today", list[int]) is None
    assert opened.store.cache.load_packed("numbers", list[int]) is None


def test_figures_are_made_ahead_by_another_process_and_shown_as_kept(
    opened: Library, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder = opened.folder
    opened.record([Given(question="book/clouds.high/1", verdict=Verdict.WRONG)], Purpose.FREE)
    opened.now = pretend_clock(opened.today())
    assert make_ahead(opened) is None  # so few are made as fast
    monkeypatch.setattr(banks.kept_history, "FEWEST", 0)
    keep(opened)
    process = make_ahead(opened)
    assert process is not None
    assert process.wait() == 0

    later = pretend_clock(opened.today() + timedelta(days=9))
    assert recall_snapshot(folder, later) is not None
    expected = evidence(opened)
    monkeypatch.setattr("banks.views.evidence.evidence", lambda _: pytest.fail("made again"))
    assert evidence_of_now(opened) == expected
    assert recall_view(folder, opened.now, "sweep", SweepView, sweep_request(30)) is not None


def test_what_another_machine_records_meanwhile_is_in_no_kept_view(opened: Library) -> None:
    """An open library has not read it, so that nothing of it may be kept under the files of now."""
    (opened.folder / "log/2026-03.other.jsonl").write_bytes(b"")
    assert evidence_of_now(opened) == evidence(opened)
    assert recall_view(opened.folder, opened.now, "evidence", Evidence) is None
