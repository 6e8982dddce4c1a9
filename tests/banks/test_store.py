"""The store as a folder: what it notices when opened, keeps for undo, and tells of its files."""

import errno
import os
import platform
import shutil
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from filelock import FileLock
from msgspec.structs import replace

from banks.settings import Settings
from banks.store.checked_json import SealedStorage
from banks.store.filesystem import System
from banks.store.folder import Store
from banks.store.log import line_of
from domain.errors import InputError, StoreDamaged, StoreError, StoreLost, StoreReadOnly
from domain.responses import BankSaved
from domain.tiers import TierRules
from tests.faults.scenarios import BOOK, REVISED, START, fill, response


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    """A store of two records, open."""
    fill(tmp_path / "store", response(1), response(2))
    opened = Store.open(tmp_path / "store")
    yield opened
    opened.close()


def again(store: Store) -> Store:
    """The same folder after a restart."""
    store.close()
    return Store.open(store.folder)


def edit_outside(path: Path, old: str, new: str) -> None:
    content = path.read_text("utf-8")
    assert old in content
    path.write_text(content.replace(old, new), "utf-8")


# opening


def test_a_closed_store_is_free_for_the_next_writer_though_somebody_still_holds_it(
    store: Store,
) -> None:
    store.close()
    following = Store.open(store.folder)
    store.close()
    following.append([response(3)])
    following.close()


@pytest.mark.parametrize(
    "refusal",
    [NotImplementedError(), *(OSError(code, "") for code in (errno.ENOLCK, errno.EINVAL))],
)
def test_a_file_system_without_locks_is_told_and_used(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, refusal: Exception
) -> None:
    waiting: list[float] = []

    def refuse(self: FileLock, timeout: float) -> None:
        waiting.append(timeout)
        raise refusal

    monkeypatch.setattr(FileLock, "acquire", refuse)
    opened = Store.open(tmp_path)
    assert waiting == [0]
    assert opened.notices == [f"{tmp_path}: this file system has no locks; start resieve only once"]
    opened.append([response(1)])
    assert opened.records() == [response(1)]


def test_a_lock_that_cannot_be_taken_for_another_reason_leaves_looking(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(self: FileLock, timeout: float) -> None:
        raise PermissionError(errno.EACCES, "Permission denied")

    monkeypatch.setattr(FileLock, "acquire", refuse)
    with pytest.raises(StoreReadOnly, match=r"can't be written to \(permission denied\)"):
        Store.open(tmp_path)


def test_a_settings_file_that_went_away_is_told(store: Store) -> None:
    store.save_settings(Settings(turn_hour=5))
    (store.folder / "store.json").unlink()
    following = again(store)
    [notice] = following.notices
    assert "is gone; the usual settings are in use" in notice
    assert following.settings() == Settings()


def test_settings_edited_outside_are_told(store: Store) -> None:
    path = store.folder / "store.json"
    edit_outside(path, '"version":', '"version": ')
    following = again(store)
    assert following.notices == [f"{path}: was edited outside resieve"]
    following.close()


def test_what_a_crash_left_behind_is_removed_and_nothing_else(store: Store) -> None:
    left = [store.folder / name for name in ("store.json.77.new", "banks/book.json.77.old")]
    kept = [store.folder / name for name in ("mine.new", "banks/notes.old")]
    for path in (*left, *kept):
        path.write_bytes(b"x")
    store.close()
    Store.open(store.folder, read_only=True).close()
    assert all(path.exists() for path in left)
    again(store).close()
    assert [path for path in (*left, *kept) if path.exists()] == kept


def test_a_store_being_restored_is_not_used(store: Store) -> None:
    store.close()
    (store.folder / "restoring/ready").mkdir(parents=True)
    for read_only in (True, False):
        with pytest.raises(StoreReadOnly, match="being restored"):
            Store.open(store.folder, read_only=read_only)


def test_what_is_lost_and_found_again_while_open_is_news_each_time(store: Store) -> None:
    news: list[str] = []
    store.on_news = lambda: news.append(store.problem)
    away = store.folder.rename(store.folder.with_name("away"))
    for _ in range(2):
        with pytest.raises(StoreLost):
            store.append([response(3)])
    assert len(news) == 1
    assert "deleted, moved or replaced" in news[0]
    away.rename(store.folder)
    store.append([response(3)])
    store.append([response(4)])
    assert news[1:] == [""]


def test_a_folder_that_cannot_be_asked_about_is_lost(store: Store) -> None:
    def refuse(path: Path) -> None:
        raise PermissionError(errno.EACCES, "Permission denied")

    store.system.stamp = refuse  # type: ignore[method-assign]
    with pytest.raises(StoreLost, match=r"can't be reached \(permission denied\)"):
        store.append([response(3)])
    del store.system.stamp


def test_a_log_mended_while_open_is_news(store: Store) -> None:
    news: list[str] = []
    store.on_news = lambda: news.append(store.notices[-1])
    store.append([response(3)])
    store.log.files()[0].write_bytes(b"")
    store.append([response(4)])
    assert ["put back 3 records" in notice for notice in news] == [True]


# settings


@pytest.mark.parametrize("rules", [TierRules(), TierRules(strict=True)])
def test_rules_of_the_present_kind_are_left_as_they_are(store: Store, rules: TierRules) -> None:
    settings = Settings(tier_rules=rules, turn_hour=5)
    store.save_settings(settings)
    following = again(store)
    assert following.settings() == settings
    assert following.notices == []
    following.close()


def test_settings_are_saved_where_none_were(store: Store) -> None:
    document = SealedStorage(store.folder / "store.json")
    document.write({"format": (document.read() or {})["format"]})
    following = again(store)
    following.save_settings(Settings(turn_hour=5))
    third = again(following)
    assert third.settings() == Settings(turn_hour=5)
    third.save_settings(Settings())  # what is usual again is not kept as it was
    assert third.settings() == Settings()
    third.close()


# banks


def test_what_is_odd_about_an_edited_bank_is_told_in_three_lines(store: Store) -> None:
    edit_outside(store.folder / "banks/book.json", '"chapter":"clouds.high"', '"chapter":"lost"')
    assert len(store.load_banks()) == 1
    assert len(store.notices) == 3
    assert store.bank_marks() == {"book": ""}


def test_a_bank_is_marked_by_its_check_sum(store: Store) -> None:
    store.load_banks()
    before = store.bank_marks()["book"]
    mark = store.save_bank(REVISED)
    assert store.bank_marks() == {"book": mark}
    assert mark not in ("", before)
    assert mark in (store.folder / "banks/book.json").read_text("utf-8")


def test_a_figure_is_kept_once_beside_its_bank(store: Store) -> None:
    for content in (b"first", b"second"):
        store.save_figure("book", "../halo.png", content)
    [figure] = (store.folder / "banks/book.files").iterdir()
    assert (figure.name, figure.read_bytes()) == ("halo.png", b"second")


def keep(store: Store, *names: str) -> list[str]:
    """Keep the bank's present version under these names; those that are still there then."""
    for name in names:
        assert store.keep_former("book", name) == f"{name}/book.json"
    return sorted(path.name for path in (store.folder / "former").iterdir())


def test_twenty_former_versions_are_kept(store: Store) -> None:
    names = [f"{number:02}" for number in range(21)]
    assert keep(store, *names[:20]) == names[:20]
    assert keep(store, names[20]) == names[1:]


def test_former_versions_of_256_mb_are_kept_and_the_newest_always(store: Store) -> None:
    size = (store.folder / "banks/book.json").stat().st_size
    keep(store, "1")
    large = store.folder / "former/1/book.json"
    large.unlink()
    large.touch()
    os.truncate(large, (256 << 20) - size)
    assert keep(store, "2") == ["1", "2"]
    os.truncate(large, (256 << 20) - size + 1)
    assert keep(store, "2") == ["2"]
    os.truncate(store.folder / "banks/book.json", (256 << 20) + 1)
    assert keep(store, "3") == ["3"]


def test_of_a_bank_that_is_not_there_nothing_is_kept(store: Store) -> None:
    assert store.keep_former("none", "1") == ""
    assert not (store.folder / "former").exists()


def test_a_former_version_that_cannot_be_kept_is_said(store: Store) -> None:
    (store.folder / "former").write_bytes(b"")
    with pytest.raises(StoreError, match=r"book\.json: could not be kept for undo"):
        store.keep_former("book", "1")


def test_a_new_bank_is_put_away_unless_it_was_changed_since(store: Store) -> None:
    path = store.folder / "banks/book.json"
    store.load_banks()
    saved = BankSaved(id="1", at=START, bank="book", label="added", after=store.save_bank(REVISED))
    store.save_bank(BOOK)
    with pytest.raises(InputError, match="bank book: was changed otherwise since"):
        store.put_back(saved)
    assert path.exists()
    store.save_bank(REVISED)
    for _ in range(2):  # done twice it is the same
        assert store.put_back(saved) is None
        assert not path.exists()
    assert (store.folder / "former/1/book.json").exists()


# log


def test_only_this_machines_two_newest_months_are_its_own_records(store: Store) -> None:
    months = [replace(response(9), id=f"m{n}", at=START.replace(month=n)) for n in (4, 5, 6)]
    store.append(months)
    log = store.folder / "log"
    shutil.copy(log / f"2026-06.{store.writer}.jsonl", log / "2026-07.other.jsonl")
    assert store.own_records() == months[1:]


def test_the_records_that_were_read_are_counted(store: Store) -> None:
    assert store.record_count == 0
    assert len(store.records()) == store.record_count == 2


def test_names_are_held_once_however_many_records_have_them(store: Store) -> None:
    store.append([replace(response(n), sitting="by and by") for n in (3, 4)])
    first, second = store.records()[2:]
    assert first.question is second.question
    assert first.sitting is second.sitting


def test_looking_notes_nothing(store: Store) -> None:
    store.close()
    reading = Store.open(store.folder, read_only=True)
    assert len(reading.records()) == 2
    reading.close()
    assert not (store.folder / "cache").exists()


def test_a_store_open_for_looking_refuses_every_change(store: Store) -> None:
    saved = BankSaved(id="1", at=START, bank="book", label="added")
    looking = Store.open(store.folder, read_only=True)
    looking.load_banks()
    before = {path: path.read_bytes() for path in store.folder.rglob("*") if path.is_file()}
    for change in (
        lambda: looking.append([response(3)]),
        lambda: looking.append_lines("2026-03.other.jsonl", line_of({"id": "1"})),
        lambda: looking.save_settings(Settings(turn_hour=5)),
        lambda: looking.save_bank(REVISED),
        lambda: looking.save_figure("book", "halo.png", b"x"),
        lambda: looking.keep_former("book", "1"),
        lambda: looking.put_back(saved),
    ):
        with pytest.raises(StoreReadOnly, match="open for looking only; nothing was saved"):
            change()
    assert before == {path: path.read_bytes() for path in store.folder.rglob("*") if path.is_file()}


def test_lines_of_another_copy_are_added_as_they_stand(store: Store) -> None:
    [log] = store.log.files()
    store.append_lines("2026-03.other.jsonl", log.read_bytes())
    assert (store.folder / "log/2026-03.other.jsonl").read_bytes() == log.read_bytes()


def test_a_log_that_lost_records_is_told_at_each_start_until_it_is_taken_as_it_is(
    store: Store,
) -> None:
    store.records()
    store.append([replace(response(3), at=START.replace(month=4)), response(4)])
    store.close()
    april, march = f"2026-04.{store.writer}.jsonl", f"2026-03.{store.writer}.jsonl"
    (store.folder / "log" / april).unlink()
    for _ in range(2):
        following = Store.open(store.folder)
        following.records()
        assert following.shrunk == {april: 1}
        following.close()
    following = Store.open(store.folder)
    following.records()
    following.forget_shrunk()
    assert (following.shrunk, following.record_count) == ({}, 0)
    following.close()
    following = Store.open(store.folder)
    assert len(following.records()) == 3
    assert following.shrunk == {}
    (following.folder / "log" / march).write_bytes(b"")
    following.records()
    assert following.shrunk == {march: 3}
    following.close()


def test_a_closed_store_holds_no_file_and_ids_are_never_given_twice(store: Store) -> None:
    store.append([response(3)])
    assert len(store.log.acknowledged()) == 1
    store.close()
    assert store.log.acknowledged() == {}
    assert store.new_id() < store.new_id()


def test_damage_is_still_told_after_more_was_added(store: Store) -> None:
    [log] = store.log.files()
    log.write_bytes(log.read_bytes().replace(b"record-0002", b"record-0009"))
    store.records()
    store.append([response(3)])
    following = again(store)
    assert [record.id for record in following.records()] == ["record-0001", "record-0003"]
    following.close()


def test_what_is_damaged_is_told_by_file_and_line(store: Store) -> None:
    [log] = store.log.files()
    log.write_bytes(log.read_bytes().replace(b"record-0002", b"record-0009"))
    assert len(store.records()) == 1
    [notice] = store.notices
    assert notice == (
        f"{log}: 1 damaged, the first in line 2: the check sum does not match; the rest was read"
    )


def test_other_machines_logs_are_told_by_their_states(store: Store) -> None:
    assert store.others_logs() == {}
    other = store.folder / "log/2026-03.other.jsonl"
    other.write_bytes(b"12345")
    first = store.others_logs()
    assert first == {other.name: System().stamp(other)}
    other.write_bytes(b"123456")
    assert store.others_logs() != first


def test_a_store_that_cannot_be_read_says_why(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    class Refusing(System):
        def read(self, path: Path) -> bytes:
            raise PermissionError(errno.EACCES, "Permission denied")

    fill(tmp_path)
    with pytest.raises(StoreDamaged, match=r"store\.json: could not be read \(permission denied\)"):
        Store.open(tmp_path, system=Refusing())
    Store.open(tmp_path).close()  # and has let it go


def test_who_holds_the_store_is_named_by_process_and_machine(store: Store) -> None:
    with pytest.raises(StoreError, match=f"on {platform.node()} .process {os.getpid()}"):
        Store.open(store.folder)
    (store.folder / "store.holder").write_bytes(b"?")
    with pytest.raises(StoreError, match="already open in another resieve"):
        Store.open(store.folder)
    (store.folder / "store.lock").unlink()  # then it is taken anew, and signed
    store.append([response(3)])
    with pytest.raises(StoreError, match=f"process {os.getpid()}"):
        Store.open(store.folder)
    assert not (store.folder / "store.holder.previous").exists()


def test_a_store_opened_in_one_thread_is_let_go_in_another(tmp_path: Path) -> None:
    with ThreadPoolExecutor(1) as thread:
        opened = thread.submit(Store.open, tmp_path).result()
    opened.close()
    Store.open(tmp_path).close()
