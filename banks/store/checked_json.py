"""Documents that are read often and written seldom (banks, settings), as a TinyDB storage.

A whole file, one document a line, replaced atomically, with a check sum at its end.
"""

import zlib
from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, TypeVar

import msgspec
from tinydb import Storage

from banks.store.files import make_folder, replace_file, why
from banks.store.filesystem import Stamp, System
from domain.errors import StoreChanged, StoreDamaged, StoreError

T = TypeVar("T")
BOM = b"\xef\xbb\xbf"
SEAL = b'\n"seal": '


class SealedStorage(Storage):
    """A JSON file that is only ever replaced whole.

    `mark` is the check sum of what is in force, "" where there is none; `edited` tells that the
    check sum in the file doesn't match.
    """

    def __init__(self, path: str | Path, system: System | None = None) -> None:
        self.path = Path(path)
        self.edited = False
        self.mark = ""
        self._system = system or System()
        self._seen: Stamp | None = None
        self._is_damaged = False

    def read(self) -> dict[str, dict[str, Any]] | None:
        """The tables, or None when there is no file yet. Raises StoreDamaged."""
        tables = self.read_as(dict[str, dict[str, Any]])
        if tables is not None:
            tables.pop("seal", None)
        return tables

    def read_as(self, shape: type[T]) -> T | None:
        """The tables, validated and converted to `shape`, or None when there is no file yet."""
        return self.read_by(lambda content: decoded(content, shape))

    def read_by(self, decode: Callable[[bytes], T]) -> T | None:
        """What `decode` makes of the file's bytes, or None when there is no file yet.

        `mark` and `edited` are those of the bytes when it is called.
        """
        self._is_damaged = True
        try:
            self._seen = self._system.stamp(self.path)
            if self._seen is None:
                self._is_damaged, self.mark = False, ""
                return None
            content = self._system.read(self.path)
        except OSError as failure:
            raise StoreDamaged(f"{self.path}: could not be read ({why(failure)})") from failure
        self.mark = mark_of(content)
        self.edited = not self.mark
        try:
            tables = decode(content)
        except (msgspec.DecodeError, UnicodeDecodeError, RecursionError) as failure:
            raise StoreDamaged(self._unreadable(failure)) from failure
        self._is_damaged = False
        return tables

    def write(self, data: Mapping[str, Mapping[str, Any]]) -> None:
        """Replace the file.

        Raises StoreChanged if something else has changed it since `read`, StoreDamaged if it
        could not be understood then: neither is ever overwritten.
        """
        self.write_content(sealed(data))

    def write_content(self, content: bytes) -> None:
        """Replace the file by what another one holds; raises as `write` does."""
        self.must_be_as_seen()
        try:
            self._seen = replace_file(self._system, self.path, content)
        except StoreError:
            self._look_again(content)
            raise
        self.edited, self.mark = False, mark_of(content)

    def move_away(self, target: Path) -> None:
        """Take the file out of the store's use: it lies at `target` then. Raises as `write`."""
        self.must_be_as_seen()
        try:
            make_folder(self._system, target.parent)
            self._system.replace(self.path, target)
            self._system.fsync_folder(self.path.parent)
        except OSError as failure:
            raise StoreError(f"{self.path}: could not be moved ({why(failure)})") from failure
        self._seen, self.mark = None, ""

    def must_be_as_seen(self) -> None:
        """Raises StoreChanged, or StoreDamaged, where the file must not be written; see `write`."""
        if self._is_damaged:
            raise StoreDamaged(
                f"{self.path}: could not be read, so it is not overwritten; "
                "move it away or restore it first"
            )
        if self._stamp() != self._seen:
            raise StoreChanged(
                f"{self.path}: was changed by another program meanwhile; nothing was overwritten; "
                "start again to see the change"
            )

    def _stamp(self) -> Stamp | None:
        try:
            return self._system.stamp(self.path)
        except OSError as failure:
            raise StoreError(
                f"{self.path}: could not be saved ({why(failure)}); it is unchanged"
            ) from failure

    def _look_again(self, content: bytes) -> None:
        """After a failure: if the new content is in place all the same, another try may follow."""
        try:
            if self._system.read(self.path) == content:
                self._seen = self._system.stamp(self.path)
        except OSError:
            return

    def _unreadable(self, failure: Exception) -> str:
        previous = self.path.with_name(f"{self.path.name}.previous")
        help_ = f"; the state before is in {previous.name}" if previous.exists() else ""
        return (
            f"{self.path}: can't be understood ({failure}); it was left untouched{help_}; "
            "`resieve check` says more"
        )


def decoded(content: bytes, shape: type[T]) -> T:
    """The tables in a file's bytes, validated and converted to `shape`."""
    return msgspec.json.decode(content.removeprefix(BOM), type=shape)


def sealed(tables: Mapping[str, Mapping[str, Any]]) -> bytes:
    """The file's bytes: every table, a document a line, and the check sum over all of it."""
    body = b"{" + b",".join(_table(name, documents) for name, documents in tables.items()) + b","
    return body + _seal(body)


def mark_of(content: bytes) -> str:
    """The check sum of the bytes if they are just as they were written, else ""."""
    begin = content.rfind(SEAL)
    seal = content[begin:] if begin >= 0 else b""
    is_whole = bool(seal) and seal == _seal(memoryview(content)[:begin])
    return seal.split(b'"')[-2].decode() if is_whole else ""


def _table(name: str, documents: Mapping[str, Any]) -> bytes:
    encode = msgspec.json.encode
    lines = b",\n".join(encode(str(key)) + b":" + encode(value) for key, value in documents.items())
    return b"\n" + encode(name) + b": {\n" + lines + b"\n}"


def _seal(body: bytes | memoryview) -> bytes:
    return SEAL + b'{"1": {"crc32": "%08x"}}\n}\n' % zlib.crc32(body)
