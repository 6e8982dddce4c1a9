"""Copies of a store: whole, daily, thinned out, and what a start does with an older format."""

import os
import zipfile
from datetime import date, timedelta
from pathlib import Path

import pytest

from banks.clock import pretend_clock
from banks.library import Library
from banks.maintenance.backup import (
    LARGEST_FILE,
    MOST_UNPACKED,
    back_up_daily,
    backup_before,
    daily_backups,
    free_name,
    read_backup,
    worth_keeping,
    write_backup,
)
from banks.maintenance.opening import prepare
from banks.store.filesystem import System
from banks.store.folder import Store
from banks.store.formats import UPGRADES
from domain.errors import InputError, StoreDamaged, StoreError, StoreLost, StoreReadOnly
from tests.builders import FakeClock
from tests.faults.scenarios import (
    BOOK,
    SETTINGS,
    State,
    fill,
    knowing_format_0,
    leave_at_format_0,
    response,
    state_of,
)

MONDAY = date(2026, 3, 2)


def test_a_backup_holds_every_file_of_the_store_byte_for_byte(tmp_path: Path) -> None:
    fill(tmp_path / "store", response(1))
    store = Store.open(tmp_path / "store")
    store.save_figure("book", "halo.png", b"picture")
    store.close()
    write_backup(tmp_path / "store", tmp_path / "copy.zip", System())
    write_backup(tmp_path / "store", tmp_path / "copy.zip", System())
    assert {path.name for path in tmp_path.iterdir()} == {"store", "copy.zip"}
    members = dict(read_backup(tmp_path / "copy.zip"))
    assert members.keys() >= {"store.json", "banks/book.json", "banks/book.files/halo.png"}
    assert all((tmp_path / "store" / name).read_bytes() == data for name, data in members.items())


def test_a_backup_made_in_the_middle_of_a_write_leaves_the_torn_line_out(tmp_path: Path) -> None:
    fill(tmp_path / "store", response(1))
    log = next(tmp_path.glob("store/log/*"))
    whole = log.read_bytes()
    log.write_bytes(whole + b'{"half')
    write_backup(tmp_path / "store", tmp_path / "copy.zip", System())
    assert dict(read_backup(tmp_path / "copy.zip"))[f"log/{log.name}"] == whole


@pytest.mark.parametrize("name", [
    "../store.json", "/etc/passwd", "log/../../x.jsonl", "banks/a/b.json", "run.sh",
    "banks/..files/../x", "log\\..\\x.jsonl",
])  # fmt: skip
def test_an_archive_with_strange_names_is_refused(tmp_path: Path, name: str) -> None:
    with zipfile.ZipFile(tmp_path / "odd.zip", "w") as archive:
        archive.writestr(name, b"{}")
    with pytest.raises(InputError, match="no part of a store"):
        list(read_backup(tmp_path / "odd.zip"))


def test_a_cut_or_flipped_archive_is_refused(tmp_path: Path) -> None:
    fill(tmp_path / "store", response(1))
    write_backup(tmp_path / "store", tmp_path / "copy.zip", System())
    content = (tmp_path / "copy.zip").read_bytes()
    flipped = bytearray(content)
    flipped[70] ^= 0x10  # in the middle of store.json
    for damaged in (b"", content[: len(content) // 2], content[:-5], bytes(flipped)):
        (tmp_path / "bad.zip").write_bytes(damaged)
        with pytest.raises(InputError, match=r"bad\.zip"):
            list(read_backup(tmp_path / "bad.zip"))


def test_an_archive_that_would_unpack_to_gigabytes_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("banks.maintenance.backup.MOST_UNPACKED", 1 << 20)
    with zipfile.ZipFile(tmp_path / "bomb.zip", "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("log/2026-03.x.jsonl", bytes(8 << 20))
    with pytest.raises(InputError, match="would unpack"):
        list(read_backup(tmp_path / "bomb.zip"))


def test_an_archive_may_hold_files_up_to_the_limits_and_says_which_they_are(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert (LARGEST_FILE, MOST_UNPACKED) == (536_870_912, 4_294_967_296)
    fill(tmp_path / "store")
    write_backup(tmp_path / "store", tmp_path / "copy.zip", System())
    sizes = [len(content) for _, content in read_backup(tmp_path / "copy.zip")]
    monkeypatch.setattr("banks.maintenance.backup.MOST_UNPACKED", sum(sizes))
    monkeypatch.setattr("banks.maintenance.backup.LARGEST_FILE", max(sizes))
    assert len(list(read_backup(tmp_path / "copy.zip"))) == 2
    monkeypatch.setattr("banks.maintenance.backup.LARGEST_FILE", 1 << 20)
    monkeypatch.setattr("banks.maintenance.backup.MOST_UNPACKED", 2 << 30)
    with zipfile.ZipFile(tmp_path / "copy.zip", "a", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr("log/2026-03.x.jsonl", bytes(2 << 20))
    with pytest.raises(InputError, match=r"log/2026-03\.x\.jsonl unpacks to more than 1 MB;"):
        list(read_backup(tmp_path / "copy.zip"))
    size, claimed = (2 << 20).to_bytes(4, "little"), (0xC000_0000).to_bytes(4, "little")
    (tmp_path / "copy.zip").write_bytes((tmp_path / "copy.zip").read_bytes().replace(size, claimed))
    with pytest.raises(InputError, match="would unpack to more than 2 GB"):
        list(read_backup(tmp_path / "copy.zip"))


def test_a_file_changed_in_the_copy_s_own_instant_is_in_it(tmp_path: Path) -> None:
    fill(tmp_path, response(1))
    made = back_up_daily(tmp_path, MONDAY, System())
    assert made is not None
    for path in tmp_path.glob("log/*"):
        os.utime(path, ns=(made.stat().st_mtime_ns,) * 2)
    assert back_up_daily(tmp_path, MONDAY + timedelta(days=1), System()) is None


def test_the_copy_made_before_something_is_done_is_named(tmp_path: Path) -> None:
    fill(tmp_path)
    made = [backup_before(tmp_path, "trial", System()) for _ in range(2)]
    assert sorted(tmp_path.glob("backups/before-trial-*.zip")) == sorted(made)


def test_there_is_one_daily_copy_a_day_and_none_when_nothing_changed(tmp_path: Path) -> None:
    fill(tmp_path, response(1))
    system = System()
    made = back_up_daily(tmp_path, MONDAY, system)
    assert made is not None
    assert back_up_daily(tmp_path, MONDAY, system) is None
    assert back_up_daily(tmp_path, MONDAY + timedelta(days=1), system) is None
    for path in tmp_path.glob("log/*"):
        os.utime(path, ns=(made.stat().st_mtime_ns + 10**9,) * 2)
    assert back_up_daily(tmp_path, MONDAY + timedelta(days=1), system) is not None
    assert len(daily_backups(tmp_path)) == 2


def test_a_year_of_daily_copies_is_thinned_to_days_weeks_and_months() -> None:
    last = date(2026, 12, 30)
    days = {last - timedelta(days=back): Path(str(back)) for back in range(365)}
    kept = sorted(worth_keeping(days), reverse=True)
    assert kept[:7] == [last - timedelta(days=back) for back in range(7)]
    sundays = [date(2026, 12, 20), date(2026, 12, 13), date(2026, 12, 6)]
    assert kept[7:] == [
        *sundays, date(2026, 11, 30),
        date(2026, 10, 31), date(2026, 9, 30), date(2026, 8, 31), date(2026, 7, 31),
        date(2026, 6, 30), date(2026, 5, 31), date(2026, 4, 30), date(2026, 3, 31),
        date(2026, 2, 28), date(2026, 1, 31),
    ]  # fmt: skip


def test_thinning_removes_daily_copies_alone(tmp_path: Path) -> None:
    fill(tmp_path, response(1))
    (tmp_path / "backups").mkdir()
    for back in range(1, 60):
        (tmp_path / "backups" / f"daily-{MONDAY - timedelta(days=back)}.zip").write_bytes(b"")
        os.utime(tmp_path / "backups" / f"daily-{MONDAY - timedelta(days=back)}.zip", (0, 0))
    (tmp_path / "backups" / "before-format-2-2026-01-01.zip").write_bytes(b"kept")
    back_up_daily(tmp_path, MONDAY, System())
    assert set(daily_backups(tmp_path)) == worth_keeping(daily_backups(tmp_path))
    assert len(daily_backups(tmp_path)) < 14
    assert (tmp_path / "backups" / "before-format-2-2026-01-01.zip").exists()


def test_an_older_format_is_brought_up_to_date_after_a_copy(tmp_path: Path) -> None:
    fill(tmp_path, response(1))
    leave_at_format_0(tmp_path)
    old = (tmp_path / "store.json").read_bytes()
    with knowing_format_0():
        store = Store.open(tmp_path, prepare=prepare)
    assert "brought up to date" in store.notices[0]
    store.close()
    assert state_of(tmp_path) == State(SETTINGS, (BOOK,), frozenset([response(1)]))
    copy = next(tmp_path.glob("backups/before-format-2-*.zip"))
    assert zipfile.ZipFile(copy).read("store.json") == old


def test_looking_only_does_not_touch_an_older_format(tmp_path: Path) -> None:
    fill(tmp_path)
    leave_at_format_0(tmp_path)
    before = {path: path.read_bytes() for path in tmp_path.rglob("*.*") if path.is_file()}
    with knowing_format_0(), pytest.raises(StoreReadOnly, match="older resieve"):
        Store.open(tmp_path, read_only=True)
    assert before == {path: path.read_bytes() for path in before}


def test_a_format_that_never_was_is_refused(tmp_path: Path) -> None:
    fill(tmp_path)
    leave_at_format_0(tmp_path)
    assert 0 not in UPGRADES
    with pytest.raises(StoreDamaged, match="no format that there is"):
        Store.open(tmp_path)


def test_a_copy_without_its_parts_is_never_made(tmp_path: Path) -> None:
    fill(tmp_path, response(1))
    (tmp_path / "store.json").unlink()
    with pytest.raises(StoreError, match="no copy was made"):
        back_up_daily(tmp_path, MONDAY, System())
    assert daily_backups(tmp_path) == {}


def test_a_copy_of_a_store_that_went_away_does_not_begin_it_anew(tmp_path: Path) -> None:
    with pytest.raises(StoreError):
        back_up_daily(tmp_path / "gone", MONDAY, System())
    assert not (tmp_path / "gone").exists()


def test_older_copies_stay_when_the_new_one_can_not_be_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    fill(tmp_path, response(1))
    (tmp_path / "backups").mkdir()
    for back in range(1, 60):
        copy = tmp_path / "backups" / f"daily-{MONDAY - timedelta(days=back)}.zip"
        copy.write_bytes(b"")
        os.utime(copy, (0, 0))

    def refuse(*_: object) -> None:
        raise StoreError("the disk is full")

    monkeypatch.setattr("banks.maintenance.backup.write_backup", refuse)
    with pytest.raises(StoreError):
        back_up_daily(tmp_path, MONDAY, System())
    assert len(daily_backups(tmp_path)) == 59


def test_the_daily_copy_of_a_store_that_went_away_fails_as_that(tmp_path: Path) -> None:
    fill(tmp_path / "store", response(1))
    opened = Library.open(tmp_path / "store", FakeClock())
    away = (tmp_path / "store").rename(tmp_path / "away")
    with pytest.raises(StoreLost):
        opened.keep_daily_copy()
    away.rename(tmp_path / "store")
    (tmp_path / "store/store.json").unlink()
    with pytest.raises(StoreError, match=r"holds no store\.json"):
        opened.keep_daily_copy()
    opened.close()


def test_app_and_commands_keep_the_daily_copy_by_one_rule(tmp_path: Path) -> None:
    fill(tmp_path / "store", response(1))
    for clock, is_looking in ((pretend_clock(MONDAY), False), (FakeClock(), True)):
        opened = Library.open(tmp_path / "store", clock, read_only=is_looking)
        opened.keep_daily_copy()
        opened.close()
        assert not daily_backups(tmp_path / "store")
    opened = Library.open(tmp_path / "store", FakeClock())
    opened.keep_daily_copy()
    opened.close()
    assert list(daily_backups(tmp_path / "store")) == [opened.today()]


def test_names_that_are_taken_are_numbered_from_two_on(tmp_path: Path) -> None:
    names = []
    for _ in range(3):
        names.append(free_name(tmp_path / "before.zip").name)
        (tmp_path / names[-1]).touch()
    assert names == ["before.zip", "before-2.zip", "before-3.zip"]
