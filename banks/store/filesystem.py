"""The operating system's calls on files, gathered so that tests can make each of them fail."""

import errno
import os
import stat
import sys
import time
from pathlib import Path
from typing import NamedTuple

_BUSY_ON_WINDOWS = {5, 32, 33}  # a virus scanner or indexer has the file open for a moment
_PATIENCE = (0.05, 0.1, 0.2, 0.4, 0.8)

_FLAGS = getattr(os, "O_BINARY", 0) | getattr(os, "O_NONBLOCK", 0)


class Stamp(NamedTuple):
    """What tells one state of a file from another. `file` is the file itself, whatever its name."""

    file: tuple[int, int]
    modified_ns: int
    size: int


class System:
    """The calls, as thin as can be. All raise OSError as the system does."""

    def read(self, path: Path) -> bytes:
        """The whole file. A pipe or device is refused at once instead of waited for."""
        fd = os.open(path, os.O_RDONLY | _FLAGS)
        with os.fdopen(fd, "rb") as file:
            _must_be_regular(fd)
            return file.read()

    def list_folder(self, folder: Path) -> list[str]:
        """The names in the folder, sorted; none where there is no folder."""
        try:
            return sorted(os.listdir(folder))
        except FileNotFoundError:
            return []

    def stamp(self, path: Path) -> Stamp | None:
        """The state of the file or folder of that name, or None if there is none."""
        try:
            return _stamp(os.stat(path))
        except (FileNotFoundError, NotADirectoryError):
            return None

    def identity(self, path: Path) -> tuple[int, ...]:
        """What no change of the file leaves as it is: file, size, times of change and of state."""
        state = os.stat(path)
        return state.st_ino, state.st_size, state.st_mtime_ns, state.st_ctime_ns

    def stamp_of(self, fd: int) -> Stamp:
        """The state of an open file."""
        return _stamp(os.fstat(fd))

    def open(self, path: Path, flags: int) -> int:
        """A file descriptor; new files are for the owner only. Pipes and devices are refused."""
        fd = os.open(path, flags | _FLAGS, 0o600)
        try:
            _must_be_regular(fd)
        except OSError:
            os.close(fd)
            raise
        return fd

    def read_at(self, fd: int, offset: int, length: int) -> bytes:
        """As many of the `length` bytes from `offset` on as there are."""
        os.lseek(fd, offset, os.SEEK_SET)
        parts = []
        while part := os.read(fd, length):
            parts.append(part)
            length -= len(part)
        return b"".join(parts)

    def write(self, fd: int, data: bytes | memoryview) -> int:
        """How many bytes were taken, as the system says: may be fewer than given."""
        return os.write(fd, data)

    def fsync(self, fd: int) -> None:
        """Returns when the drive has the bytes."""
        if sys.platform == "darwin":
            import fcntl

            fcntl.fcntl(fd, fcntl.F_FULLFSYNC)
        else:
            os.fsync(fd)

    def truncate(self, fd: int, length: int) -> None:
        """Cut the file to `length` bytes."""
        os.ftruncate(fd, length)

    def close(self, fd: int) -> None:
        """Let the descriptor go."""
        os.close(fd)

    def replace(self, source: Path, target: Path) -> None:
        """Rename over. Windows may refuse for a moment; that is waited out."""
        for pause in (*_PATIENCE, None):
            try:
                os.replace(source, target)
                return
            except PermissionError as refusal:
                busy = getattr(refusal, "winerror", None) in _BUSY_ON_WINDOWS
                if not busy or pause is None:
                    raise
                time.sleep(pause)

    def link(self, source: Path, target: Path) -> None:
        """A second name for the same file."""
        os.link(source, target)

    def unlink(self, path: Path) -> None:
        """Remove a name."""
        os.unlink(path)

    def make_folder(self, path: Path) -> None:
        """One folder, for the owner only; fine if it is there already."""
        path.mkdir(mode=0o700, exist_ok=True)

    def remove_folder(self, path: Path) -> None:
        """Remove an empty folder."""
        path.rmdir()

    def fsync_folder(self, path: Path) -> None:
        """Make new names in the folder durable, where the system can."""
        if os.name == "nt":
            return  # NTFS journals renames itself; folders can't be flushed there
        fd = os.open(path, os.O_RDONLY)
        try:
            os.fsync(fd)
        except OSError as refusal:
            if refusal.errno != errno.EINVAL:  # a file system without folder flush
                raise
        finally:
            os.close(fd)


def _must_be_regular(fd: int) -> None:
    if not stat.S_ISREG(os.fstat(fd).st_mode):
        raise OSError(errno.EINVAL, "it is no regular file")


def _stamp(state: os.stat_result) -> Stamp:
    return Stamp((state.st_dev, state.st_ino), state.st_mtime_ns, state.st_size)
