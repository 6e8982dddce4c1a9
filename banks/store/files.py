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
from domain.errors import StoreDamaged, StoreError
from domain.text import counted

_LEFTOVER = re.compile(r".+\.\d+\.(new|old)")


def make_folder(system: System, path: Path) -> None:
    """Make the folder and those above it, durably. Raises OSError."""
    missing = []
    while system.stamp(path) is None:
        missing.append(path)
        path = path.parent
    for folder in reversed(missing):
        system.make_folder(folder)
        system.fsync_folder(folder.parent)


def list_files(system: System, folder: Path, ending: str) -> list[Path]:
    """The folder's files with that ending, by name. Raises StoreDamaged for one unreadable."""
    try:
        return [folder / name for name in system.list_folder(folder) if name.endswith(ending)]
    except OSError as failure:
        raise StoreDamaged(f"{folder}: could not be read ({why(failure)})") from failure


def replace_file(
    system: System,
    path: Path,
    data: bytes,
    *,
    keep_previous: bool = True,
    make_folders: bool = True,
) -> Stamp:
    """Put `data` in the place of the file, atomically and durably; the new file's stamp.

    The generation before stays as `<name>.previous`. Folders that are missing are made, unless
    they may not be. Raises StoreError naming the file and what stands there now.
    """
    path = path.resolve()
    fresh = path.with_name(f"{path.name}.{os.getpid()}.new")
    try:
        if make_folders:
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
    try:
        system.link(path, spare)
    except OSError:  # a file system without links, or the name is taken: a copy serves as well
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
        replace_file(system, kept, data)
    return kept


def why(failure: OSError) -> str:
    """The system's reason in lower case."""
    return (failure.strerror or str(failure)).lower()


class Appender:
    """Adds whole lines to one file, durably: the file is read once, then only written to.

    A file-sync program may put another file under the name, take the name away, or write an older
    copy over what is there: what was acknowledged is carried over into what the name leads to
    then, and told by `notice`.
    `is_sound` tells whether a last line without its end is complete all the same.
    """

    def __init__(
        self,
        system: System,
        path: Path,
        is_sound: Callable[[bytes], bool],
        notice: Callable[[str], None],
    ) -> None:
        self._system = system
        self._path = path
        self._is_sound = is_sound
        self._notice = notice
        self._fd: int | None = None
        self._lines = bytearray()  # the file as it is known, all of it acknowledged
        self._stamp: Stamp | None = None  # of the file after the last write
        self._failed = b""  # the lines last not acknowledged, which may stand in the file

    def append(self, lines: bytes) -> None:
        """Return when the lines are on the drive. Raises StoreError when they are not.

        After a failure the file is cut back to what was acknowledged and opened afresh next time:
        a descriptor whose flush has failed can't be trusted any more.
        """
        try:
            self._add(self._make_ready(), lines)
            if not self._is_in_place():
                self._make_ready()
        except (OSError, StoreError) as failure:
            self.close()  # whatever it was, the file is to be made ready afresh
            if self._lines.endswith(lines):
                del self._lines[-len(lines) :]
            if isinstance(failure, StoreError):
                raise
            raise StoreError(f"{self._path}: not saved yet ({why(failure)})") from failure

    @property
    def content(self) -> bytes:
        """The file as it is known to be on the drive."""
        return bytes(self._lines)

    def close(self) -> None:
        """Let the file go. Everything acknowledged is on the drive already."""
        fd, self._fd = self._fd, None
        if fd is not None:
            try:
                self._system.close(fd)
            except OSError:
                return

    def _add(self, fd: int, lines: bytes) -> None:
        try:
            _write_all(self._system, fd, lines)
            self._system.fsync(fd)
        except OSError:
            self._failed = lines  # if cutting fails too, they are cut off at the next opening
            self._cut(fd, len(self._lines))
            raise
        self._lines += lines
        self._stamp = self._system.stamp_of(fd)

    def _make_ready(self) -> int:
        """The descriptor of the file that the name leads to, with all that was acknowledged."""
        if self._fd is not None and self._is_in_place():
            return self._fd
        self.close()
        make_folder(self._system, self._path.parent)
        fd = self._fd = self._system.open(self._path, os.O_RDWR | os.O_CREAT | os.O_APPEND)
        self._system.fsync_folder(self._path.parent)  # even an old name may not be on the drive yet
        content = self._system.read_at(fd, 0, self._system.stamp_of(fd).size)
        known, self._lines = self._lines, bytearray(self._whole_lines(fd, content))
        try:
            self._carry_over(fd, known)
        except OSError:
            self._lines = known
            raise
        return fd

    def _is_in_place(self) -> bool:
        """Whether the name still leads to the file held, and nothing else has written to it."""
        try:
            return self._system.stamp(self._path) == self._stamp
        except OSError:
            return True  # not to be known: then it counts as where it was

    def _whole_lines(self, fd: int, content: bytes) -> bytes:
        """Leave the file ending with a whole line; set aside what is torn."""
        left = content[len(self._lines) :]
        if left and self._failed.startswith(left) and content.startswith(self._lines):
            self._cut(fd, len(self._lines))
            return bytes(self._lines)
        whole = content.rfind(b"\n") + 1
        tail = content[whole:]
        if tail and self._is_sound(tail):
            _write_all(self._system, fd, b"\n")
            self._system.fsync(fd)
            content += b"\n"
        elif tail:
            set_aside(self._system, self._path, tail, "torn")
            self._cut(fd, whole)
            content = content[:whole]
        return content

    def _cut(self, fd: int, length: int) -> None:
        self._system.truncate(fd, length)
        self._system.fsync(fd)

    def _carry_over(self, fd: int, known: bytearray) -> None:
        """Add the lines that were acknowledged and are not in the file any more."""
        if self._lines.startswith(known):
            return
        there = set(bytes(self._lines).replace(b"\r\n", b"\n").split(b"\n"))
        gone = [line for line in bytes(known).split(b"\n") if line not in there]
        lost = [line for line in gone if self._is_sound(line)]
        if lost:
            self._add(fd, b"".join(line + b"\n" for line in lost))
            records = counted(len(lost), "record")
            self._notice(
                f"{self._path}: was changed by another program; put back {records} that it had lost"
            )
