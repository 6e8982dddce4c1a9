"""A log that grew shorter behind the store's back is named, and restored from a backup."""

import os
from datetime import timedelta
from pathlib import Path

import pytest

from banks.library import Library
from banks.maintenance.backup import back_up_daily, restore, write_backup
from banks.maintenance.check import check, find_missing, restore_missing
from banks.store.filesystem import System
from banks.store.folder import Store
from tests.builders import FakeClock
from tests.faults.scenarios import START, fill, response, state_of


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A store of five records that was opened once and backed up that day."""
    fill(tmp_path / "store", *(response(n) for n in range(1, 6)))
    open_once(tmp_path / "store")
    back_up_daily(tmp_path / "store", START.date(), System())
    return tmp_path / "store"


def open_once(folder: Path) -> list[str]:
    library = Library.open(folder, FakeClock())
    library.close()
    return library.store.notices


def cut(folder: Path, lines: int) -> None:
    log = next(folder.glob("log/*.jsonl"))
    log.write_bytes(b"".join(log.read_bytes().splitlines(keepends=True)[:lines]))


def ids(folder: Path) -> set[str]:
    return {record.id for record in state_of(folder).records}


@pytest.mark.parametrize("how", ["emptied", "cut", "deleted"])
def test_what_is_missing_is_counted_and_who_has_it_named(folder: Path, how: str) -> None:
    missing = {"emptied": 5, "cut": 2, "deleted": 5}[how]
    if how == "deleted":
        next(folder.glob("log/*.jsonl")).unlink()
    else:
        cut(folder, 5 - missing)
    for _ in range(2):  # as long as a backup can help
        [notice] = open_once(folder)
        assert f"{missing} records are missing" in notice
        assert f"backups/daily-{START.date()}.zip has {missing}" in notice
    [finding] = [finding for finding in check(folder, START).findings if finding.wrong]
    assert (finding.file, f"{missing} records are missing" in finding.problem) == ("log", True)

    store = Store.open(folder)
    assert restore_missing(store) == missing
    store.close()
    assert ids(folder) == {f"record-000{n}" for n in range(1, 6)}
    assert open_once(folder) == []
    assert check(folder, START).is_well


def test_what_was_added_in_the_last_run_is_missed_too(folder: Path) -> None:
    before = next(folder.glob("log/*.jsonl")).read_bytes()
    library = Library.open(folder, FakeClock())
    library.store.append([response(6), response(7)])
    library.close()
    next(folder.glob("log/*.jsonl")).write_bytes(before)
    assert "2 records are missing; no backup has them" in open_once(folder)[0]
    assert open_once(folder) == []  # said once where nothing can be done


def test_a_log_that_only_grew_is_nothing_to_tell(folder: Path) -> None:
    library = Library.open(folder, FakeClock())
    library.store.append([response(6)])
    library.close()
    assert open_once(folder) == []
    fill(folder, response(7), banks=())
    assert open_once(folder) == []


def test_damage_is_not_taken_for_sound_after_more_was_added(folder: Path) -> None:
    log = next(folder.glob("log/*.jsonl"))
    log.write_bytes(log.read_bytes().replace(b"record-0002", b"record-0009"))
    library = Library.open(folder, FakeClock())
    library.store.append([response(6)])
    library.close()
    assert any("1 damaged" in notice for notice in open_once(folder))


def test_after_a_restore_newer_backups_are_not_missed(folder: Path, tmp_path: Path) -> None:
    fill(tmp_path / "older", response(1))
    write_backup(tmp_path / "older", tmp_path / "older.zip", System())
    restore(folder, tmp_path / "older.zip")
    assert find_missing(folder, System()).records == 0
    assert open_once(folder) == []


def test_the_newest_backup_that_has_a_record_is_named_alone(folder: Path) -> None:
    fill(folder, response(6), banks=())
    newest = back_up_daily(folder, START.date() + timedelta(days=1), System())
    cut(folder, 4)
    (folder / "backups/replaced-2026-03-01").mkdir()
    for at in (0, 10**18):  # made in the very instant of the last restore
        os.utime(folder / "backups/replaced-2026-03-01", ns=(at, at))
        for path in folder.glob("backups/*.zip"):
            os.utime(path, ns=(at, at))
        missing = find_missing(folder, System())
        assert (missing.records, missing.backups) == (2, (newest,))
    (folder / "backups/replaced-2026-03-01").rmdir()
    for path in folder.glob("backups/*.zip"):
        os.utime(path, ns=(0, 0))
    assert find_missing(folder, System()).records == 2
    store = Store.open(folder)
    store.records()
    assert sum(store.shrunk.values()) == 1
    restore_missing(store)
    assert store.shrunk == {}
    store.close()


def test_records_lost_on_both_sides_of_a_backup_come_back_from_each(folder: Path) -> None:
    cut(folder, 3)
    fill(folder, response(8), banks=())
    back_up_daily(folder, START.date() + timedelta(days=1), System())
    cut(folder, 1)
    store = Store.open(folder)
    assert restore_missing(store) == 5
    store.close()
    assert ids(folder) == {f"record-000{n}" for n in (1, 2, 3, 4, 5, 8)}
