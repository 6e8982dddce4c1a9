"""The calls on files: what each refuses, waits out, and gives back."""

import errno
import os
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from banks.store.filesystem import System


@pytest.fixture
def letters(tmp_path: Path) -> Iterator[int]:
    """An open file of five letters."""
    (tmp_path / "letters").write_bytes(b"abcde")
    fd = System().open(tmp_path / "letters", os.O_RDWR)
    yield fd
    os.close(fd)


def open_files() -> int:
    return len(os.listdir("/dev/fd"))


def test_a_part_of_a_file_is_read_from_where_it_begins(letters: int) -> None:
    system = System()
    for offset, length, part in ((2, 1, b"c"), (0, 2, b"ab"), (3, 9, b"de"), (1, 0, b"")):
        assert system.read_at(letters, offset, length) == part


def test_a_part_that_comes_in_pieces_is_put_together(
    letters: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    read = os.read
    monkeypatch.setattr(os, "read", lambda fd, length: read(fd, min(length, 2)))
    assert System().read_at(letters, 0, 4) == b"abcd"


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="the system has no named pipes")
def test_a_pipe_is_neither_read_nor_opened_nor_held(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe")
    before = open_files()
    with pytest.raises(OSError, match="no regular file"):
        System().read(tmp_path / "pipe")
    with pytest.raises(OSError, match="no regular file"):
        System().open(tmp_path / "pipe", os.O_RDWR)
    assert open_files() == before


def test_a_folder_that_is_not_there_has_no_files(tmp_path: Path) -> None:
    (tmp_path / "b").touch()
    (tmp_path / "a").touch()
    assert System().list_folder(tmp_path) == ["a", "b"]
    assert System().list_folder(tmp_path / "none") == []
    assert System().stamp(tmp_path / "a/below") is None


def test_a_change_that_hides_its_time_leaves_another_identity(tmp_path: Path) -> None:
    path = tmp_path / "x"
    path.write_bytes(b"one")
    os.utime(path, ns=(7, 7))
    before, stamp = System().identity(path), System().stamp(path)
    time.sleep(0.02)
    path.write_bytes(b"two")
    os.utime(path, ns=(7, 7))
    assert System().stamp(path) == stamp
    assert System().identity(path) != before
    assert before[:3] == (path.stat().st_ino, 3, 7)


@pytest.mark.skipif(sys.platform in ("darwin", "win32"), reason="they flush otherwise")
def test_a_file_and_a_folder_are_flushed_and_the_folder_let_go(
    letters: int, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    flushed: list[int] = []
    monkeypatch.setattr(os, "fsync", lambda fd: flushed.append(os.fstat(fd).st_ino))
    before = open_files()
    System().fsync(letters)
    System().fsync_folder(tmp_path)
    assert flushed == [os.fstat(letters).st_ino, tmp_path.stat().st_ino]
    assert open_files() == before


def test_what_is_closed_is_held_no_more(tmp_path: Path) -> None:
    before = open_files()
    System().close(System().open(tmp_path / "x", os.O_WRONLY | os.O_CREAT))
    assert open_files() == before


@pytest.mark.skipif(sys.platform == "win32", reason="the module is not there")
def test_a_mac_is_told_to_flush_the_drive_too(
    letters: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    import fcntl

    asked: list[tuple[int, int]] = []
    monkeypatch.setattr(sys, "platform", "darwin")
    monkeypatch.setattr(fcntl, "F_FULLFSYNC", 51, raising=False)
    monkeypatch.setattr(fcntl, "fcntl", lambda fd, code: asked.append((fd, code)))
    System().fsync(letters)
    assert asked == [(letters, 51)]


@pytest.mark.skipif(os.name == "nt", reason="folders are not flushed there")
def test_only_a_folder_that_cannot_be_flushed_at_all_is_passed_over(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(fd: int) -> None:
        raise OSError(code, "refused")

    before = open_files()
    monkeypatch.setattr(os, "fsync", refuse)
    code = errno.EINVAL
    System().fsync_folder(tmp_path)
    code = errno.EIO
    with pytest.raises(OSError, match="refused"):
        System().fsync_folder(tmp_path)
    assert open_files() == before


class Busy(PermissionError):
    """What Windows says while something else has the file open."""

    def __init__(self, code: int) -> None:
        self.winerror = code


@pytest.mark.parametrize(
    ("refusals", "pauses"), [(0, []), (3, [0.05, 0.1, 0.2]), (6, [0.05, 0.1, 0.2, 0.4, 0.8])]
)
def test_a_file_that_is_busy_for_a_moment_is_waited_for(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, refusals: int, pauses: list[float]
) -> None:
    rename, waited = os.replace, []
    left = [Busy(code) for code in (5, 32, 33, 5, 32, 33)[:refusals]]

    def replace(source: Path, target: Path) -> None:
        if left:
            raise left.pop()
        rename(source, target)

    monkeypatch.setattr(os, "replace", replace)
    monkeypatch.setattr(time, "sleep", waited.append)
    (tmp_path / "a").touch()
    if refusals > len(pauses):
        with pytest.raises(Busy):
            System().replace(tmp_path / "a", tmp_path / "b")
    else:
        System().replace(tmp_path / "a", tmp_path / "b")
    assert waited == pauses
    assert [path.name for path in tmp_path.iterdir()] == ["a" if refusals > len(pauses) else "b"]


def test_a_file_that_may_not_be_replaced_is_not_waited_for(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(source: Path, target: Path) -> None:
        raise PermissionError(errno.EACCES, "not yours")

    monkeypatch.setattr(os, "replace", refuse)
    monkeypatch.setattr(time, "sleep", lambda pause: pytest.fail("waited"))
    with pytest.raises(PermissionError, match="not yours"):
        System().replace(tmp_path / "a", tmp_path / "b")


def test_folders_and_files_are_for_the_owner_and_folders_may_be_there_already(
    tmp_path: Path,
) -> None:
    for _ in range(2):
        System().make_folder(tmp_path / "a")
    assert (tmp_path / "a").stat().st_mode & 0o777 == 0o700
    os.close(System().open(tmp_path / "a/x", os.O_WRONLY | os.O_CREAT))
    assert (tmp_path / "a/x").stat().st_mode & 0o777 == 0o600
    System().unlink(tmp_path / "a/x")
    System().remove_folder(tmp_path / "a")
    assert list(tmp_path.iterdir()) == []
