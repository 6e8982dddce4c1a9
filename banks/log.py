"""What happened, as a TinyDB storage and table: a folder of files to which lines are only added.

A line is a record and its check sum. A line that does not match is never used and never removed.
"""

import zlib
from collections.abc import Callable, Iterable, Iterator, Mapping
from itertools import groupby
from pathlib import Path
from typing import Any, Generic, NoReturn, TypeVar

import msgspec
from tinydb import Storage, TinyDB
from tinydb.table import Table

from banks.files import Appender, why
from banks.sealed import BOM
from banks.system import System

T = TypeVar("T")
_SUM = b',"sum":"'
_TAIL = len(_SUM) + 10  # the check sum closes every line: ,"sum":"0123abcd"}
_PORTION = 2000  # lines decoded at once: some milliseconds, so that a screen stays lively meanwhile


class Damage(msgspec.Struct, frozen=True):
    """A line of a log that can't be trusted (0: the file as a whole). It stays in the file."""

    line: int
    reason: str


class LogFile(msgspec.Struct, Generic[T], frozen=True):
    """What one log file holds."""

    records: list[T]
    damaged: list[Damage]


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
        """Add the documents; they are on the drive when this returns.

        One write a month: records of one month are saved all or none.
        """
        by_month = sorted(documents, key=_month)
        for month, ones in groupby(by_month, _month):
            self.append_lines(f"{month}.{self._writer}.jsonl", b"".join(map(line_of, ones)))

    def append_lines(self, name: str, lines: bytes) -> None:
        """Add whole lines to the file of that name. Raises StoreError when they are not saved."""
        if name not in self._appenders:
            self._appenders[name] = Appender(self._system, self.folder / name, is_sound)
        self._appenders[name].append(lines)

    def read(self) -> dict[str, dict[str, Any]] | None:
        """All sound records of all files as one table, by record id."""
        records: dict[str, Any] = {}
        for path in self.files():
            for document in self.read_file(path, dict[str, Any]).records:
                document.pop("sum")
                records[document["id"]] = document
        return {"log": records} if records else None

    def read_file(self, path: Path, shape: type[T]) -> LogFile[T]:
        """One file's sound records as `shape`, and the lines that are not sound."""
        try:
            return read_log(self._system.read(path), shape)
        except OSError as failure:
            return LogFile([], [Damage(0, f"could not be read ({why(failure)})")])

    def write(self, data: Mapping[str, Mapping[str, Any]]) -> NoReturn:
        """Never: a log is only added to."""
        raise TypeError("a log is only added to")

    def close(self) -> None:
        """Let the files go."""
        for appender in self._appenders.values():
            appender.close()
        self._appenders.clear()


def _month(document: Mapping[str, Any]) -> str:
    return document["at"][:7]


def read_log(content: bytes, shape: type[T]) -> LogFile[T]:
    """The sound lines as `shape`: with a matching check sum, and valid.

    Line ends and a byte-order mark that an editor may have brought in do no harm.
    """
    if b"\r" in content or content.startswith(BOM):
        content = content.removeprefix(BOM).replace(b"\r\n", b"\n")
    lines = content.split(b"\n")
    if lines and not lines[-1]:
        lines.pop()
    decoder = msgspec.json.Decoder(shape)
    file: LogFile[T] = LogFile([], [])
    for start in range(0, len(lines), _PORTION):
        portion = lines[start : start + _PORTION]
        if all(map(is_sound, portion)):
            try:
                file.records.extend(decoder.decode_lines(b"\n".join(portion)))
                continue
            except (msgspec.DecodeError, UnicodeDecodeError):
                pass  # one of them is not a record we know: find it below
        _read_singly(portion, start + 1, decoder, file)
    if file.damaged and file.damaged[-1].line == len(lines) and not content.endswith(b"\n"):
        file.damaged[-1] = Damage(len(lines), "torn: the line was never finished")
    return file


def _read_singly(
    lines: list[bytes], first: int, decoder: msgspec.json.Decoder, file: LogFile
) -> None:
    for number, line in enumerate(lines, first):
        if not line.strip():
            continue
        if not is_sound(line):
            file.damaged.append(Damage(number, "the check sum does not match"))
            continue
        try:
            file.records.append(decoder.decode(line))
        except (msgspec.DecodeError, UnicodeDecodeError) as failure:
            file.damaged.append(Damage(number, f"not a record this resieve knows ({failure})"))


def line_of(document: Mapping[str, Any]) -> bytes:
    """The document as a line with its check sum."""
    body = msgspec.json.encode(document)[:-1]
    return body + _SUM + b'%08x"}\n' % zlib.crc32(body)


def is_sound(line: bytes) -> bool:
    """Whether the line, without its end, is just as it was written."""
    return line[-_TAIL:] == _SUM + b'%08x"}' % zlib.crc32(line[:-_TAIL])


def sound_lines(content: bytes) -> Iterator[bytes]:
    """The sound lines, without their ends."""
    plain = content.removeprefix(BOM).replace(b"\r\n", b"\n")
    return (line for line in plain.split(b"\n") if is_sound(line))


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


class LogDb(TinyDB):
    """TinyDB over the log; its only table is the log itself."""

    table_class = EventTable

    def __init__(self, storage: LogStorage) -> None:
        super().__init__(storage=lambda: storage)

    @property
    def events(self) -> EventTable:
        """The log."""
        return self.table("log")
