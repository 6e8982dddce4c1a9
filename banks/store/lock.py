"""One writer at a time: a lock that the system itself lets go when its process dies."""

import errno
import os
import platform
from contextlib import suppress
from pathlib import Path

import msgspec

from banks.store.files import make_folder, replace_file, why
from banks.store.filesystem import System
from domain.errors import StoreBusy, StoreError, StoreLost, StoreReadOnly

_NO_LOCKS = {errno.ENOLCK, errno.ENOSYS, errno.EOPNOTSUPP, errno.EINVAL}


class Holder(msgspec.Struct, frozen=True):
    """Who holds the store for writing."""

    pid: int
    host: str


class WriterLock:
    """The right to write to a store's folder. `notice` tells if the file system has no locks."""

    def __init__(self, folder: Path, system: System) -> None:
        """Take the right, making the folder if there is none.

        Raises StoreBusy when another process has it, StoreReadOnly when nothing can be written.
        """
        from filelock import FileLock  # pulls in much that looking only does not need

        self.notice = ""
        self._holder = folder / "store.holder"
        self._system = system
        self._folder, self._path = folder, folder / "store.lock"
        self._lock = FileLock(self._path, mode=0o600, thread_local=False)
        self._file: tuple[int, int] | None = None
        try:
            make_folder(system, folder)
            self._place = _file(system, folder)
        except OSError as failure:
            raise StoreReadOnly(f"{folder}: can't be written to ({why(failure)})") from failure
        self._take()
        self._sign()

    def _take(self) -> None:
        from filelock import Timeout

        folder = self._folder
        try:
            self._lock.acquire(timeout=0)
            self._file = _file(self._system, self._path)
        except Timeout:
            raise StoreBusy(f"{folder}: {self._held_by()}") from None
        except NotImplementedError:
            self._go_without(folder)
        except OSError as failure:
            if failure.errno not in _NO_LOCKS:
                raise StoreReadOnly(f"{folder}: can't be written to ({why(failure)})") from failure
            self._go_without(folder)

    def confirm(self) -> None:
        """Look whether the right is still held, before anything is written.

        A lock file that was removed is taken anew. Raises StoreLost when the folder is another
        one or gone, StoreBusy when somebody else has the right meanwhile.
        """
        try:
            lock, place = _file(self._system, self._path), _file(self._system, self._folder)
        except OSError as failure:
            raise StoreLost(f"{self._folder}: can't be reached ({why(failure)})") from failure
        if place != self._place or place is None:
            raise StoreLost(
                f"{self._folder}: was deleted, moved or replaced while it was open; nothing is "
                "saved until it is put back"
            )
        if lock != self._file:
            self._lock.release()
            self._take()
            self._sign()

    def release(self) -> None:
        """Give the right back."""
        self._lock.release()

    def _go_without(self, folder: Path) -> None:
        self.notice = f"{folder}: this file system has no locks; start resieve only once"

    def _sign(self) -> None:
        """Leave a name for those who come second; without room for it the lock still holds."""
        holder = msgspec.json.encode(Holder(os.getpid(), platform.node()))
        with suppress(StoreError):
            replace_file(self._system, self._holder, holder, keep_previous=False)

    def _held_by(self) -> str:
        try:
            holder = msgspec.json.decode(self._system.read(self._holder), type=Holder)
        except (OSError, msgspec.DecodeError, UnicodeDecodeError):
            return "already open in another resieve; close that one first"
        where = f"a resieve on {holder.host} (process {holder.pid})"
        return f"{where} already has it open; close that one first"


def _file(system: System, path: Path) -> tuple[int, int] | None:
    """Which file or folder it is, whatever its name; None if there is none."""
    stamp = system.stamp(path)
    return stamp.file if stamp else None
