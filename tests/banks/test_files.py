"""Replacing a file and adding to one, call by call: what is done, in which order, and once."""

import errno
import os
from collections.abc import Callable
from pathlib import Path

import pytest

from banks.store.files import Appender, keep_copy, make_folder, replace_file, set_aside
from banks.store.filesystem import System
from domain.errors import StoreError
from tests.faults.systems import Recording, Refusing


def appender(path: Path, system: System, notice: Callable[[str], None] = print) -> Appender:
    """A line is sound that ends with a full stop."""
    return Appender(system, path, lambda line: line.endswith(b"."), notice)


def test_folders_are_made_from_the_top_each_made_durable_in_the_one_above(tmp_path: Path) -> None:
    system = Recording()
    make_folder(system, tmp_path / "a/b")
    assert system.calls == ["stamp"] * 3 + ["make_folder", "fsync_folder"] * 2
    assert (tmp_path / "a/b").is_dir()


def test_a_file_is_flushed_before_it_takes_the_name_and_the_folder_after(tmp_path: Path) -> None:
    system = Recording()
    path = tmp_path / "x.json"
    path.write_bytes(b"before")
    stamp = replace_file(system, path, b"after")
    write = ["unlink", "open", "write", "fsync", "stamp_of", "close"]
    assert system.calls == [
        "stamp", *write, "stamp", "link", "replace", "replace", "fsync_folder",
    ]  # fmt: skip
    assert path.read_bytes() == b"after"
    assert path.with_name("x.json.previous").read_bytes() == b"before"
    assert stamp == System().stamp(path)


def test_what_a_crash_left_under_the_temporary_names_is_in_nobodys_way(tmp_path: Path) -> None:
    path = tmp_path / "x.json"
    path.write_bytes(b"before")
    for ending in ("new", "old"):
        path.with_name(f"x.json.{os.getpid()}.{ending}").write_bytes(b"left")
    replace_file(System(), path, b"after")
    assert path.with_name("x.json.previous").read_bytes() == b"before"
    assert sorted(held.name for held in tmp_path.iterdir()) == ["x.json", "x.json.previous"]


def test_without_links_the_generation_before_is_copied(tmp_path: Path) -> None:
    path = tmp_path / "x.json"
    path.write_bytes(b"before")
    keep_copy(Refusing("link"), path, tmp_path / "spare")
    assert (tmp_path / "spare").read_bytes() == b"before"
    assert (tmp_path / "spare").stat().st_ino != path.stat().st_ino


@pytest.mark.parametrize("most", [0, 1])
def test_a_system_that_takes_a_byte_at_a_time_is_served_and_one_that_takes_none_is_told(
    tmp_path: Path, most: int
) -> None:
    class Slow(System):
        def write(self, fd: int, data: bytes | memoryview) -> int:
            return os.write(fd, data[:most]) if most else 0

    path = tmp_path / "x.json"
    if most:
        replace_file(Slow(), path, b"whole")
        assert path.read_bytes() == b"whole"
    else:
        with pytest.raises(StoreError, match="the system took no bytes"):
            replace_file(Slow(), path, b"whole")
        assert list(tmp_path.iterdir()) == []


def test_damaged_bytes_are_kept_once_beside_their_file(tmp_path: Path) -> None:
    path = tmp_path / "x.jsonl"
    kept = [set_aside(System(), path, data, "torn") for data in (b"one", b"one", b"two")]
    assert [held.read_bytes() for held in kept] == [b"one", b"one", b"two"]
    assert sorted(tmp_path.iterdir()) == sorted(set(kept))
    assert all(held.name.startswith("x.jsonl.torn-") for held in kept)


def test_the_first_line_makes_the_name_durable_and_the_next_ones_cost_two_calls(
    tmp_path: Path,
) -> None:
    system = Recording()
    log = appender(tmp_path / "x.jsonl", system)
    log.append(b"one.\n")
    opening = ["stamp", "open", "fsync_folder", "stamp_of", "read_at"]
    adding = ["write", "fsync", "stamp_of", "stamp"]
    assert system.calls == [*opening, *adding]
    system.calls.clear()
    log.append(b"two.\n")
    assert system.calls == ["stamp", *adding]
    log.close()
    log.close()
    assert system.calls.count("close") == 1
    assert log.content == (tmp_path / "x.jsonl").read_bytes() == b"one.\ntwo.\n"


def test_a_file_replaced_by_another_is_let_go(tmp_path: Path) -> None:
    system = Recording()
    log = appender(tmp_path / "x.jsonl", system)
    for number in range(3):
        log.append(b"%d.\n" % number)
        (tmp_path / "coming").write_bytes(log.content)
        os.replace(tmp_path / "coming", tmp_path / "x.jsonl")
    log.close()
    assert system.calls.count("open") == system.calls.count("close") == 3


def test_a_last_line_without_its_end_is_ended_if_it_is_sound(tmp_path: Path) -> None:
    system = Recording()
    path = tmp_path / "x.jsonl"
    path.write_bytes(b"one.\ntwo.")
    log = appender(path, system)
    log.append(b"three.\n")
    assert log.content == path.read_bytes() == b"one.\ntwo.\nthree.\n"
    assert [call for call in system.calls if call in ("write", "fsync")] == ["write", "fsync"] * 2
    assert list(tmp_path.iterdir()) == [path]


def test_a_torn_last_line_is_set_aside(tmp_path: Path) -> None:
    path = tmp_path / "x.jsonl"
    path.write_bytes(b"one.\ntw")
    log = appender(path, System())
    log.append(b"three.\n")
    assert log.content == path.read_bytes() == b"one.\nthree.\n"
    [kept] = tmp_path.glob("x.jsonl.torn-*")
    assert kept.read_bytes() == b"tw"


def test_a_line_that_failed_is_cut_off_for_good_before_the_file_is_opened_afresh(
    tmp_path: Path,
) -> None:
    class FullOnce(Recording):
        is_full = False

        def write(self, fd: int, data: bytes | memoryview) -> int:
            if not self.is_full:
                return super().write(fd, data)
            if len(data) > 2:
                return super().write(fd, data[:2])
            self.is_full = False
            raise OSError(errno.ENOSPC, "No space left on device")

    system = FullOnce()
    log = appender(tmp_path / "x.jsonl", system)
    log.append(b"one.\n")
    system.is_full = True
    system.calls.clear()
    with pytest.raises(StoreError, match=r"not saved yet \(no space left on device\)"):
        log.append(b"!!..")
    assert system.calls == ["stamp", "write", "truncate", "fsync", "close"]
    assert (tmp_path / "x.jsonl").read_bytes() == log.content == b"one.\n"
    log.append(b"two.\n")
    assert "open" in system.calls
    assert (tmp_path / "x.jsonl").read_bytes() == log.content == b"one.\ntwo.\n"


def test_a_file_that_cannot_be_asked_about_counts_as_where_it_was(tmp_path: Path) -> None:
    system = Refusing()
    log = appender(tmp_path / "x.jsonl", system)
    log.append(b"one.\n")
    system.names = ["stamp", "open"]
    log.append(b"two.\n")
    assert system.names == ["open"]
    assert (tmp_path / "x.jsonl").read_bytes() == b"one.\ntwo.\n"


def test_what_was_acknowledged_is_carried_over_though_the_first_try_fails(tmp_path: Path) -> None:
    notices: list[str] = []
    system = Refusing()
    path = tmp_path / "x.jsonl"
    log = appender(path, system, notices.append)
    log.append(b"one.\ntwo.\n")
    path.write_bytes(b"one.\n")
    system.names = ["write"]
    with pytest.raises(StoreError, match="not saved yet"):
        log.append(b"three.\n")
    assert notices == []
    log.append(b"three.\n")
    assert log.content == path.read_bytes() == b"one.\ntwo.\nthree.\n"
    assert ["put back 1 record that it had lost" in notice for notice in notices] == [True]


def test_a_line_that_missed_the_new_file_is_not_acknowledged_and_not_doubled(
    tmp_path: Path,
) -> None:
    class Swapped(Refusing):
        """While the line is being flushed another file takes the name, and can't be opened."""

        def fsync(self, fd: int) -> None:
            if self.is_due:
                self.is_due = False
                (tmp_path / "coming").write_bytes(b"one.\n")
                os.replace(tmp_path / "coming", path)
                self.names = ["open"]

        is_due = False

    path = tmp_path / "x.jsonl"
    system = Swapped()
    log = appender(path, system)
    log.append(b"one.\n")
    system.is_due = True
    with pytest.raises(StoreError, match="not saved yet"):
        log.append(b"two.\n")
    assert log.content == b"one.\n"
    log.append(b"two.\n")
    assert log.content == path.read_bytes() == b"one.\ntwo.\n"
