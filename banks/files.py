"""The only module that touches the store's files: atomic replacement, durable appending.

The recipe for replacement: everything is serialised first; a temporary file in the same folder is
written, flushed to the drive and renamed over the old one, and the folder is flushed too. A crash,
a power cut or a full disk at any instant leaves the file as it was before or as it is after. This
assumes a drive that honours flush; network folders and drives that lie are outside the promise.
"""

import errno
import os
import sys
import time
from pathlib import Path

from domain.errors import StoreError

_BUSY_ON_WINDOWS = {5, 32, 33}  # a virus scanner or indexer has the file open for a moment
_PATIENCE = (0.05, 0.1, 0.2, 0.4, 0.8)


class System:
    """The operating system's calls, gathered so that tests can make each of them fail."""

    def read(self, path: Path) -> bytes:
        """The whole file."""
        return path.read_bytes()

    def open(self, path: Path, flags: int) -> int:
        """A file descriptor; new files are for the owner only."""
        return os.open(path, flags | getattr(os, "O_CLOEXEC", 0), 0o600)

    def write(self, fd: int, data: bytes) -> int:
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
        """The folder and those above it, for the owner only."""
        path.mkdir(mode=0o700, parents=True, exist_ok=True)

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


def replace_file(system: System, path: Path, data: bytes, *, keep_previous: bool = True) -> None:
    """Put `data` in the place of the file, atomically and durably.

    The generation before stays as `<name>.previous`. Raises StoreError naming the file; whatever
    stood there is then unchanged.
    """
    path = path.resolve()
    fresh = path.with_name(f"{path.name}.{os.getpid()}.new")
    try:
        _write_new(system, fresh, data)
        if keep_previous and path.exists():
            _keep_previous(system, path)
        system.replace(fresh, path)
        system.fsync_folder(path.parent)
    except OSError as failure:
        _discard(system, fresh)
        raise StoreError(
            f"{path}: could not be saved ({_why(failure)}); what was saved before is unchanged"
        ) from failure


def _write_new(system: System, path: Path, data: bytes) -> None:
    _discard(system, path)
    fd = system.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL)
    try:
        _write_all(system, fd, data)
        system.fsync(fd)
    finally:
        system.close(fd)


def _write_all(system: System, fd: int, data: bytes) -> None:
    rest = memoryview(data)
    while rest:
        taken = system.write(fd, rest)
        if taken <= 0:
            raise OSError(errno.EIO, "the system took no bytes")
        rest = rest[taken:]


def _keep_previous(system: System, path: Path) -> None:
    spare = path.with_name(f"{path.name}.{os.getpid()}.old")
    _discard(system, spare)
    try:
        system.link(path, spare)
    except OSError:  # a file system without links: a copy serves as well
        _write_new(system, spare, system.read(path))
    system.replace(spare, path.with_name(f"{path.name}.previous"))


def _discard(system: System, path: Path) -> None:
    try:
        system.unlink(path)
    except OSError:
        return


def _why(failure: OSError) -> str:
    return (failure.strerror or str(failure)).lower()


class Appender:
    """Adds whole lines to one file, durably, at a cost that does not grow with the file."""

    def __init__(self, system: System, path: Path) -> None:
        self._system = system
        self._path = path
        self._fd: int | None = None
        self._length = 0

    def append(self, lines: bytes) -> None:
        """Return when the lines are on the drive. Raises StoreError when they are not.

        After a failure the file is cut back to what was acknowledged and opened afresh next time:
        a descriptor whose flush has failed can't be trusted any more.
        """
        try:
            if self._fd is None:
                self._open()
            _write_all(self._system, self._fd, lines)
            self._system.fsync(self._fd)
            self._length += len(lines)
        except OSError as failure:
            self._take_back()
            raise StoreError(f"{self._path}: not saved yet ({_why(failure)})") from failure

    def close(self) -> None:
        """Let the file go."""
        if self._fd is not None:
            fd, self._fd = self._fd, None
            self._system.close(fd)

    def _open(self) -> None:
        system, path = self._system, self._path
        system.make_folder(path.parent)
        is_new = not path.exists()
        self._fd = system.open(path, os.O_RDWR | os.O_CREAT | os.O_APPEND)
        if is_new:
            system.fsync_folder(path.parent)
            self._length = 0
            return
        content = system.read(path)
        whole = content.rfind(b"\n") + 1
        if whole < len(content):
            set_aside(system, path, content[whole:], "torn")
            system.truncate(self._fd, whole)
            system.fsync(self._fd)
        self._length = whole

    def _take_back(self) -> None:
        try:
            if self._fd is not None:
                self._system.truncate(self._fd, self._length)
                self._system.fsync(self._fd)
        except OSError:
            return  # a line left half-written is set aside at the next opening
        finally:
            try:
                self.close()
            except OSError:
                self._fd = None


def set_aside(system: System, path: Path, data: bytes, why: str) -> Path:
    """Keep damaged bytes beside the file they were found in; the same bytes are kept once."""
    import zlib

    kept = path.with_name(f"{path.name}.{why}-{zlib.crc32(data):08x}")
    if not kept.exists():
        _write_new(system, kept, data)
        system.fsync_folder(path.parent)
    return kept
