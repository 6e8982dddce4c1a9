"""The only module that touches the store's files: atomic replacement, durable appending.

The recipe for replacement: everything is serialised first; a temporary file in the same folder is
written, flushed to the drive and renamed over the old one, and the folder is flushed too. A crash,
a power cut or a full disk at any instant leaves the file as it was before or as it is after. This
assumes a drive that honours flush; network folders and drives that lie are outside the promise.
"""

import errno
import os
import re
import zlib
from collections.abc import Callable
from pathlib import Path

from banks.store.filesystem import Stamp, System
from domain.errors import StoreError

_LEFTOVER = re.compile(r".+\.\d+\.(new|old)")
_TAIL = 1 << 20  # how much of a log's end is read to find its last whole line


def make_folder(system: System, path: Path) -> None:
    """Make the folder and those above it, durably. Raises OSError."""
    missing = []
    while system.stamp(path) is None:
        missing.append(path)
        path = path.parent
    for folder in reversed(missing):
        system.make_folder(folder)
        system.fsync_folder(folder.parent)


def replace_file(system: System, path: Path, data: bytes, *, keep_previous: bool = True) -> Stamp:
    """Put `data` in the place of the file, atomically and durably; the new file's stamp.

    The generation before stays as `<name>.previous`. Raises StoreError naming the file and what
    stands there now.
    """
    path = path.resolve()
    fresh = path.with_name(f"{path.name}.{os.getpid()}.new")
    try:
        make_folder(system, path.parent)
        stamp = _write_new(system, fresh, data)
        if keep_previous and system.stamp(path) is not None:
            _keep_previous(system, path)
        system.replace(fresh, path)
    except OSError as failure:
        discard(system, fresh)
        raise StoreError(
            f"{path}: could not be saved ({why(failure)}); what was saved before is unchanged"
        ) from failure
    try:
        system.fsync_folder(path.parent)
    except OSError as failure:
        raise StoreError(
            f"{path}: was saved, but the drive has not confirmed it ({why(failure)}); "
            "please save again"
        ) from failure
    return stamp


def _write_new(system: System, path: Path, data: bytes) -> Stamp:
    discard(system, path)
    fd = system.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL)
    try:
        _write_all(system, fd, data)
        system.fsync(fd)
        return system.stamp_of(fd)
    finally:
        system.close(fd)


def _write_all(system: System, fd: int, data: bytes) -> None:
    rest = memoryview(data)
    while rest:
        taken = system.write(fd, rest)
        if taken <= 0:
            raise OSError(errno.EIO, "the system took no bytes")
        rest = rest[taken:]


def keep_copy(system: System, path: Path, spare: Path) -> None:
    """Keep the file under another name too. It is only ever replaced, so a link will do."""
    discard(system, spare)
    try:
        system.link(path, spare)
    except OSError:  # a file system without links: a copy serves as well
        _write_new(system, spare, system.read(path))


def _keep_previous(system: System, path: Path) -> None:
    spare = path.with_name(f"{path.name}.{os.getpid()}.old")
    keep_copy(system, path, spare)
    try:
        system.replace(spare, path.with_name(f"{path.name}.previous"))
    except OSError:
        discard(system, spare)
        raise


def discard(system: System, path: Path) -> None:
    """Remove a temporary file, if it is there and can be removed."""
    try:
        system.unlink(path)
    except OSError:
        return


def is_leftover(path: Path) -> bool:
    """Whether the file is a temporary one that a crash may have left behind."""
    return _LEFTOVER.fullmatch(path.name) is not None


def set_aside(system: System, path: Path, data: bytes, why: str) -> Path:
    """Keep damaged bytes beside the file they were found in; the same bytes are kept once."""
    kept = path.with_name(f"{path.name}.{why}-{zlib.crc32(data):08x}")
    if system.stamp(kept) is None:
        replace_file(system, kept, data, keep_previous=False)
    return kept


def why(failure: OSError) -> str:
    """The system's reason in lower case."""
    return (failure.strerror or str(failure)).lower()


class Appender:
    """Adds whole lines to one file, durably, at a cost that does not grow with the file.

    A file-sync program may put another file under the name, or take the name away: what was
    acknowledged is then carried over into the file that has the name now.
    `is_sound` tells whether a last line without its end is complete all the same.
    """

    def __init__(self, system: System, path: Path, is_sound: Callable[[bytes], bool]) -> None:
        self._system = system
        self._path = path
        self._is_sound = is_sound
        self._fd: int | None = None
        self._length = 0  # of what was acknowledged
        self._failed = b""  # lines that were not acknowledged but may stand in the file
        self._owed = b""  # lines that were acknowledged but may be missing in the file

    def append(self, lines: bytes) -> None:
        """Return when the lines are on the drive. Raises StoreError when they are not.

        After a failure the file is cut back to what was acknowledged and opened afresh next time:
        a descriptor whose flush has failed can't be trusted any more.
        """
        try:
            self._make_ready()
            self._add(lines)
            if not self._is_in_place():
                self._make_ready()
        except (OSError, StoreError) as failure:
            self.close()  # whatever it was, the file is to be made ready afresh
            self._owed = self._owed.removesuffix(lines)
            if isinstance(failure, StoreError):
                raise
            raise StoreError(f"{self._path}: not saved yet ({why(failure)})") from failure

    def close(self) -> None:
        """Let the file go. Everything acknowledged is on the drive already."""
        fd, self._fd = self._fd, None
        if fd is not None:
            try:
                self._system.close(fd)
            except OSError:
                return

    def _add(self, lines: bytes) -> None:
        try:
            _write_all(self._system, self._fd, lines)
            self._system.fsync(self._fd)
        except OSError:
            self._failed = lines  # if cutting fails too, they are cut off at the next opening
            self._cut(self._length)
            raise
        self._length += len(lines)

    def _make_ready(self) -> None:
        if self._fd is not None and not self._is_in_place():
            self._owed = self._system.read_at(self._fd, 0, self._length)
            self.close()
        if self._fd is None:
            self._open()
            self._pay()

    def _is_in_place(self) -> bool:
        """Whether the name still leads to the file held, and nothing else has written to it."""
        try:
            named, held = self._system.stamp(self._path), self._system.stamp_of(self._fd)
        except OSError:
            return True  # not to be known: then it counts as where it was
        return named is not None and named.file == held.file and held.size == self._length

    def _open(self) -> None:
        system, path = self._system, self._path
        make_folder(system, path.parent)
        self._fd = system.open(path, os.O_RDWR | os.O_CREAT | os.O_APPEND)
        system.fsync_folder(path.parent)  # even an old name may not be on the drive yet
        self._cut_or_finish(system.stamp_of(self._fd).size)

    def _cut_or_finish(self, size: int) -> None:
        """Leave the file ending with a whole line; set aside what is torn."""
        left = self._system.read_at(self._fd, self._length, size) if self._failed else b""
        if left and self._failed.startswith(left):
            self._cut(self._length)
            return
        end = self._end(size)
        tail = end[end.rfind(b"\n") + 1 :]
        self._length = size - len(tail)
        if tail and self._is_sound(tail):
            self._length = size
            self._add(b"\n")
        elif tail:
            set_aside(self._system, self._path, tail, "torn")
            self._cut(self._length)
        self._failed = b""

    def _end(self, size: int) -> bytes:
        """The end of the file, or all of it: as much as has a whole line in it."""
        end = self._system.read_at(self._fd, max(0, size - _TAIL), _TAIL)
        return end if b"\n" in end else self._system.read_at(self._fd, 0, size)

    def _cut(self, length: int) -> None:
        self._system.truncate(self._fd, length)
        self._system.fsync(self._fd)
        self._length, self._failed = length, b""

    def _pay(self) -> None:
        if not self._owed:
            return
        there = set(self._system.read_at(self._fd, 0, self._length).split(b"\n"))
        missing = [line for line in self._owed.split(b"\n") if line not in there]
        if missing:
            self._add(b"".join(line + b"\n" for line in missing))
        self._owed = b""
