"""TinyDB's extension points, made safe: two storages and two tables.

`SealedStorage` keeps documents that are read often and written seldom (banks, settings): a whole
file, one document a line, replaced atomically, with a check sum at its end. `LogStorage` keeps
what happened: a folder of files to which lines are only ever added; `EventTable` gives it TinyDB's
table face and makes updating and removing impossible.
"""

import zlib
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import Any, NoReturn, TypeVar

import msgspec
from tinydb import Storage
from tinydb.table import Table

from banks.files import Appender, System, replace_file
from domain.errors import StoreChanged, StoreDamaged

T = TypeVar("T")
_SEAL = b'\n"seal": '
_SUM = b',"sum":"'
_TAIL = len(_SUM) + 10  # the check sum closes every log line: ,"sum":"0123abcd"}


class SealedStorage(Storage):
    """A JSON file that is only ever replaced whole. `edited` tells that the seal doesn't match."""

    def __init__(self, path: Path, system: System) -> None:
        self.path = path
        self.edited = False
        self._system = system
        self._seen: tuple[int, int] | None = None

    def read(self) -> dict[str, dict[str, Any]] | None:
        """The tables, or None when there is no file yet. Raises StoreDamaged."""
        return self.read_as(dict[str, dict[str, Any]])

    def read_as(self, shape: type[T]) -> T | None:
        """The tables, validated and converted to `shape`, or None when there is no file yet."""
        try:
            content = self._system.read(self.path)
        except FileNotFoundError:
            return None
        except OSError as failure:
            raise StoreDamaged(f"{self.path}: could not be read ({failure.strerror})") from failure
        self._seen = self._stamp()
        body, seal, _ = content.rpartition(_SEAL)
        self.edited = not seal or content[len(body) :] != _sealed(body)
        try:
            tables = msgspec.json.decode(content, type=shape)
        except (msgspec.DecodeError, UnicodeDecodeError) as failure:
            raise StoreDamaged(
                f"{self.path}: can't be understood ({failure}); it was left untouched"
            ) from failure
        if isinstance(tables, dict):
            tables.pop("seal", None)
        return tables

    def write(self, data: Mapping[str, Mapping[str, Any]]) -> None:
        """Replace the file. Raises StoreChanged if something else has changed it since `read`."""
        if self._stamp() != self._seen:
            raise StoreChanged(
                f"{self.path}: was changed by another program meanwhile; nothing was overwritten"
            )
        body = b"{" + b",".join(_table(name, documents) for name, documents in data.items()) + b","
        replace_file(self._system, self.path, body + _sealed(body))
        self._seen, self.edited = self._stamp(), False

    def _stamp(self) -> tuple[int, int] | None:
        try:
            state = self.path.stat()
        except OSError:
            return None
        return state.st_mtime_ns, state.st_size


def _table(name: str, documents: Mapping[str, Any]) -> bytes:
    encode = msgspec.json.encode
    lines = b",\n".join(encode(str(key)) + b":" + encode(value) for key, value in documents.items())
    return b"\n" + encode(name) + b": {\n" + lines + b"\n}"


def _sealed(body: bytes) -> bytes:
    return _SEAL + b'{"1": {"crc32": "%08x"}}\n}\n' % zlib.crc32(body)


class LogStorage(Storage):
    """A folder of append-only files, one a month and machine: `<year>-<month>.<writer>.jsonl`."""

    def __init__(self, folder: Path, writer: str, system: System) -> None:
        self.folder = folder
        self._writer = writer
        self._system = system
        self._appenders: dict[str, Appender] = {}

    def files(self) -> list[Path]:
        """Every log file there is, other machines' and file-sync copies too, by name."""
        return sorted(self.folder.glob("*.jsonl"))

    def append(self, documents: list[dict[str, Any]]) -> None:
        """Add the documents in one write; they are on the drive when this returns."""
        month = max(document["at"] for document in documents)[:7]
        name = f"{month}.{self._writer}.jsonl"
        if name not in self._appenders:
            self._appenders[name] = Appender(self._system, self.folder / name)
        self._appenders[name].append(b"".join(map(_line, documents)))

    def read(self) -> dict[str, dict[str, Any]] | None:
        """All sound records of all files as one table, by record id."""
        records: dict[str, Any] = {}
        for path in self.files():
            for document in self.read_file(path, dict[str, Any]).records:
                document.pop("sum")
                records[document["id"]] = document
        return {"log": records} if records else None

    def read_file(self, path: Path, shape: type[T]) -> "LogFile[T]":
        """One file's sound records as `shape`, and the lines that are not sound."""
        try:
            return read_log(self._system.read(path), shape)
        except OSError as failure:
            return LogFile([], [Damage(0, f"could not be read ({failure.strerror})")])

    def write(self, data: Mapping[str, Mapping[str, Any]]) -> NoReturn:
        """Never: a log is only added to."""
        raise TypeError("a log is only added to")

    def close(self) -> None:
        """Let the files go."""
        for appender in self._appenders.values():
            appender.close()
        self._appenders.clear()


class Damage(msgspec.Struct, frozen=True):
    """A line of a log that can't be trusted (0: the file as a whole). It stays in the file."""

    line: int
    reason: str


class LogFile(msgspec.Struct, frozen=True):
    """What one log file holds."""

    records: list[Any]
    damaged: list[Damage]


def read_log(content: bytes, shape: type[T]) -> LogFile:
    """The sound lines as `shape`: whole, with a matching check sum, and valid."""
    lines = content.split(b"\n")
    damaged = []
    if lines.pop():
        damaged.append(Damage(len(lines) + 1, "torn: the line was never finished"))
    decoder = msgspec.json.Decoder(shape)
    sound = [line for line in lines if _is_sound(line)]
    if len(sound) == len(lines):
        try:
            return LogFile(decoder.decode_lines(content[: content.rfind(b"\n") + 1]), damaged)
        except (msgspec.DecodeError, UnicodeDecodeError):
            pass  # one of them is not a record we know: find it below
    records = []
    for number, line in enumerate(lines, 1):
        reason = "the check sum does not match"
        if _is_sound(line):
            try:
                records.append(decoder.decode(line))
                continue
            except (msgspec.DecodeError, UnicodeDecodeError) as failure:
                reason = f"not a record this resieve knows ({failure})"
        damaged.append(Damage(number, reason))
    return LogFile(records, damaged)


def _line(document: dict[str, Any]) -> bytes:
    body = msgspec.json.encode(document)[:-1]
    return body + _SUM + b'%08x"}\n' % zlib.crc32(body)


def _is_sound(line: bytes) -> bool:
    body = line[:-_TAIL]
    return line[-_TAIL:] == _SUM + b'%08x"}' % zlib.crc32(body)


class EventTable(Table):
    """TinyDB's table over the log: insert and search, never update or remove.

    Document ids are the records' own `id`.
    """

    document_id_class = str

    def __init__(self, storage: LogStorage, name: str, **options: Any) -> None:
        super().__init__(storage, name, **{"cache_size": 0} | options)

    def insert(self, document: Mapping[str, Any]) -> str:
        """Add one record. Raises StoreError when it is not on the drive."""
        return self.insert_multiple([document])[0]

    def insert_multiple(self, documents: Iterable[Mapping[str, Any]]) -> list[str]:
        """Add records in one durable write. Raises StoreError when they are not on the drive."""
        added = [dict(document) for document in documents]
        if added:
            self._storage.append(added)
        return [document["id"] for document in added]

    def _update_table(self, updater: Callable[[dict[Any, Mapping]], None]) -> NoReturn:
        raise TypeError("the log is only added to: record a correction or a withdrawal instead")

    def _read_table(self) -> dict[str, Mapping]:
        return (self._storage.read() or {}).get("log", {})
