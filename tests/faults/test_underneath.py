"""A file-sync program works in the same folder: files appear, vanish, are replaced and doubled."""

import errno
import os
import shutil
from pathlib import Path

import pytest

from banks.maintenance.check import check
from banks.store.files import replace_file
from banks.store.filesystem import System
from banks.store.folder import Store
from domain.errors import StoreBusy, StoreChanged, StoreDamaged, StoreError, StoreLost
from tests.faults.scenarios import BOOK, REVISED, START, fill, response, state_of


@pytest.fixture
def store(tmp_path: Path) -> Store:
    """A store in use, with two records."""
    fill(tmp_path / "store", response(1))
    opened = Store.open(tmp_path / "store")
    opened.append([response(2)])
    yield opened
    opened.close()


def the_log(store: Store) -> Path:
    return store.log.files()[0]


def numbers(store: Store) -> set[str]:
    store.close()
    return {record.id for record in state_of(store.folder).records}


def test_a_log_that_vanished_is_written_again_whole(store: Store) -> None:
    the_log(store).unlink()
    store.append([response(3)])
    assert numbers(store) == {"record-0001", "record-0002", "record-0003"}


def test_an_older_log_put_in_the_place_gets_what_it_lacks(store: Store) -> None:
    older = the_log(store).read_bytes().split(b"\n")[0] + b"\n"
    fresh = the_log(store).with_name("coming")
    fresh.write_bytes(older)
    os.replace(fresh, the_log(store))
    store.append([response(3)])
    assert numbers(store) == {"record-0001", "record-0002", "record-0003"}


def test_a_longer_log_put_in_the_place_keeps_its_own_records(store: Store, tmp_path: Path) -> None:
    fill(tmp_path / "elsewhere", response(1), response(7))
    shutil.copy(next((tmp_path / "elsewhere").glob("log/*.jsonl")), tmp_path / "coming")
    os.replace(tmp_path / "coming", the_log(store))
    store.append([response(3)])
    assert numbers(store) == {"record-0001", "record-0002", "record-0003", "record-0007"}


def test_the_whole_log_folder_may_vanish(store: Store) -> None:
    shutil.rmtree(store.folder / "log")
    store.append([response(3)])
    assert numbers(store) == {"record-0001", "record-0002", "record-0003"}


def test_lines_added_to_the_log_in_use_stay(store: Store, tmp_path: Path) -> None:
    fill(tmp_path / "elsewhere", response(7))
    with the_log(store).open("ab") as log:
        log.write(next((tmp_path / "elsewhere").glob("log/*.jsonl")).read_bytes())
    store.append([response(3)])
    assert numbers(store) == {"record-0001", "record-0002", "record-0003", "record-0007"}


def test_a_conflict_copy_of_a_log_is_taken_in_once(store: Store) -> None:
    log = the_log(store)
    shutil.copy(log, log.with_name(f"{log.stem}.conflict-20260302.jsonl"))
    store.append([response(3)])
    assert {record.id for record in store.records()} == {
        "record-0001", "record-0002", "record-0003",
    }  # fmt: skip


def test_a_conflict_copy_of_a_bank_is_told_and_not_used(store: Store) -> None:
    shutil.copy(store.folder / "banks/book.json", store.folder / "banks/book (conflict).json")
    assert store.load_banks() == [BOOK]
    assert "book (conflict).json" in store.notices[0]
    assert not check(store.folder, START).is_well


def test_a_bank_changed_underneath_is_never_overwritten(store: Store, tmp_path: Path) -> None:
    store.load_banks()
    fill(tmp_path / "elsewhere", banks=(REVISED,))
    shutil.copy(tmp_path / "elsewhere/banks/book.json", store.folder / "banks/book.json")
    with pytest.raises(StoreChanged, match="nothing was overwritten"):
        store.save_bank(BOOK)
    assert store.load_banks() == [REVISED]


def test_a_bank_that_appears_is_never_overwritten(store: Store, tmp_path: Path) -> None:
    shutil.copy(store.folder / "banks/book.json", tmp_path / "kept")
    fresh = Store(store.folder, store.system, read_only=False)
    with pytest.raises(StoreChanged):
        fresh.save_bank(REVISED)
    assert (store.folder / "banks/book.json").read_bytes() == (tmp_path / "kept").read_bytes()


def test_settings_changed_underneath_are_never_overwritten(store: Store) -> None:
    settings = store.settings()
    (store.folder / "store.json").write_bytes((store.folder / "store.json").read_bytes() + b"\n")
    with pytest.raises(StoreChanged):
        store.save_settings(settings)
    assert store.settings() == settings
    store.save_settings(settings)


def test_an_older_copy_written_in_place_gets_what_it_lacks_and_is_told(store: Store) -> None:
    store.append([response(3)])
    lines = the_log(store).read_bytes().splitlines(keepends=True)
    the_log(store).write_bytes(lines[0] + lines[1][:40])
    store.append([response(4)])
    assert numbers(store) == {f"record-000{n}" for n in (1, 2, 3, 4)}
    assert the_log(store).read_bytes().splitlines(keepends=True)[1:3] == lines[1:3]
    assert "put back 2 records that it had lost" in store.notices[-1]


def test_a_change_in_place_that_keeps_the_size_is_noticed(store: Store) -> None:
    content = the_log(store).read_bytes()
    first = content.index(b"\n") + 1
    with the_log(store).open("r+b") as log:
        log.write(b"x" * first)
    store.append([response(3)])
    assert numbers(store) == {f"record-000{n}" for n in (1, 2, 3)}


def test_a_log_cut_short_that_keeps_its_time_is_noticed(store: Store) -> None:
    log = the_log(store)
    store.append([response(3)])
    changed = log.stat().st_mtime_ns
    with log.open("r+b") as file:
        file.truncate(file.seek(0, os.SEEK_END) // 2)
    os.utime(log, ns=(changed, changed))
    store.append([response(4)])
    assert numbers(store) == {f"record-000{n}" for n in (1, 2, 3, 4)}


def test_a_folder_deleted_while_open_is_told_and_not_begun_anew(store: Store) -> None:
    shutil.rmtree(store.folder)
    for change in (
        lambda: store.append([response(3)]),
        lambda: store.save_settings(store.settings()),
        lambda: store.save_bank(BOOK),
    ):
        with pytest.raises(StoreLost, match="deleted, moved or replaced"):
            change()
    store.cache.save("x", 1)
    assert not store.folder.exists()


def test_a_folder_put_back_is_gone_on_with(store: Store) -> None:
    away = store.folder.rename(store.folder.with_name("away"))
    with pytest.raises(StoreLost):
        store.append([response(3)])
    away.rename(store.folder)
    store.append([response(3)])
    assert numbers(store) == {f"record-000{n}" for n in (1, 2, 3)}


def test_another_folder_in_the_place_is_not_written_to(store: Store) -> None:
    kept = store.folder.rename(store.folder.with_name("away"))
    shutil.copytree(kept, store.folder)
    before = {path: path.read_bytes() for path in store.folder.rglob("*") if path.is_file()}
    with pytest.raises(StoreLost):
        store.append([response(3)])
    assert before == {path: path.read_bytes() for path in before}


def test_a_lock_file_that_was_removed_is_taken_anew(store: Store) -> None:
    (store.folder / "store.lock").unlink()
    store.append([response(3)])
    with pytest.raises(StoreBusy):
        Store.open(store.folder)


def test_there_is_never_a_second_writer(store: Store) -> None:
    (store.folder / "store.lock").unlink()
    second = Store.open(store.folder)
    with pytest.raises(StoreBusy):
        store.append([response(3)])
    second.append([response(4)])
    second.close()
    assert numbers(store) == {f"record-000{n}" for n in (1, 2, 4)}


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="the system has no named pipes")
@pytest.mark.parametrize("name", ["log/2026-01.other.jsonl", "banks/pipe.json", "store.json"])
def test_a_pipe_in_the_store_does_not_hang_it(tmp_path: Path, name: str) -> None:
    fill(tmp_path / "store", response(1))
    path = tmp_path / "store" / name
    path.unlink(missing_ok=True)
    os.mkfifo(path)
    if name == "store.json":
        with pytest.raises(StoreDamaged, match="no regular file"):
            Store.open(tmp_path / "store", read_only=True)
        return
    opened = Store.open(tmp_path / "store", read_only=True)
    assert len(opened.records()) == 1
    opened.load_banks()
    assert any("no regular file" in notice for notice in opened.notices)


def test_the_lock_file_is_for_the_owner_only(store: Store) -> None:
    files = [path for path in store.folder.rglob("*") if path.is_file()]
    assert {path.name for path in files} >= {"store.lock", "store.json", "book.json"}
    assert {oct(path.stat().st_mode & 0o777) for path in files} == {"0o600"}
    folders = [path for path in store.folder.rglob("*") if path.is_dir()]
    assert {oct(path.stat().st_mode & 0o777) for path in folders} == {"0o700"}


class Replacing(System):
    """While the line is on its way to the drive, another program puts an older log in the place."""

    older: Path | None = None
    log: Path

    def fsync(self, fd: int) -> None:
        super().fsync(fd)
        if self.older is not None:
            older, self.older = self.older, None
            os.replace(older, self.log)


def test_a_log_replaced_in_the_very_moment_of_writing_gets_the_line_too(tmp_path: Path) -> None:
    fill(tmp_path / "store", response(1))
    system = Replacing()
    opened = Store.open(tmp_path / "store", system=system)
    opened.append([response(2)])
    system.log = the_log(opened)
    older = tmp_path / "older"
    older.write_bytes(system.log.read_bytes().splitlines(keepends=True)[0])
    system.older = older
    opened.append([response(3)])
    assert system.older is None
    assert numbers(opened) == {f"record-000{n}" for n in (1, 2, 3)}


class Unruly(System):
    """The next flush of a file fails, and so does cutting it back."""

    failing = 0

    def fsync(self, fd: int) -> None:
        self._fail()

    def truncate(self, fd: int, length: int) -> None:
        self._fail()
        super().truncate(fd, length)

    def _fail(self) -> None:
        if self.failing:
            self.failing -= 1
            raise OSError(errno.EIO, "the drive is gone")


def test_a_line_that_was_not_acknowledged_is_never_there_though_cutting_failed_too(
    tmp_path: Path,
) -> None:
    fill(tmp_path / "store", response(1))
    system = Unruly()
    opened = Store.open(tmp_path / "store", system=system)
    opened.append([response(2)])
    system.failing = 2
    with pytest.raises(StoreError, match="not saved yet"):
        opened.append([response(3)])
    assert b"record-0003" in the_log(opened).read_bytes()  # it could not be cut off
    opened.append([response(4)])
    assert numbers(opened) == {f"record-000{n}" for n in (1, 2, 4)}


def test_a_save_that_fails_leaves_no_temporary_file(tmp_path: Path) -> None:
    class Refusing(System):
        def replace(self, source: Path, target: Path) -> None:
            raise PermissionError(errno.EACCES, "not now")

    path = tmp_path / "x.json"
    path.write_bytes(b"kept")
    for keep_previous in (True, False):
        with pytest.raises(StoreError, match="what was saved before is unchanged"):
            replace_file(Refusing(), path, b"new", keep_previous=keep_previous)
        assert [finding.name for finding in tmp_path.iterdir()] == ["x.json"]
