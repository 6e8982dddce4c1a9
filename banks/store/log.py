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

from banks.store.checked_json import BOM
from banks.store.files import Appender, list_files, why
from banks.store.filesystem import System

T = TypeVar("T")
_SUM = b',"sum":"'
_TAIL = len(_SUM) + 10  # the check sum closes every line: ,"sum":"0123abcd"}
_PORTION = 1 << 18  # bytes decoded at once: a few milliseconds, so that a screen stays lively


class Damage(msgspec.Struct, frozen=True):
    """A line of a log that can't be trusted (0: the file as a whole). It stays in the file."""

    line: int
    reason: str


class Sound(msgspec.Struct, frozen=True):
    """The beginning of a log file that was found sound: so many bytes with this check sum."""

    length: int = 0
    crc32: int = 0

    def still_holds(self, content: bytes) -> bool:
        """Whether it is still there, byte for byte."""
        beginning = memoryview(content)[: self.length]
        return len(beginning) == self.length and zlib.crc32(beginning) == self.crc32


class LogFile(msgspec.Struct, Generic[T], frozen=True):
    """What one log file holds. `sound` tells of the whole of it, if nothing is damaged."""

    records: list[T]
    damaged: list[Damage]
    sound: Sound = Sound()


class LogStorage(Storage):
    """A folder of append-only files, one a month and machine: `<year>-<month>.<writer>.jsonl`.

    `notices` tells in words what other programs did to files that were being added to.
    """

    def __init__(self, folder: Path, writer: str, system: System) -> None:
        self.folder = folder
        self._writer = writer
        self._system = system
        self._appenders: dict[str, Appender] = {}
        self.notices: list[str] = []

    def files(self) -> list[Path]:
        """Every log file there is, other machines' and file-sync copies too, by name."""
        return list_files(self._system, self.folder, ".jsonl")

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
            path = self.folder / name
            self._appenders[name] = Appender(self._system, path, is_sound, self.notices.append)
        self._appenders[name].append(lines)

    def read(self) -> dict[str, dict[str, Any]] | None:
        """All sound records of all files as one table, by record id."""
        records: dict[str, Any] = {}
        for path in self.files():
            for document in self.read_file(path, dict[str, Any]).records:
                document.pop("sum")
                records[document["id"]] = document
        return {"log": records} if records else None

    def read_file(self, path: Path, shape: type[T], known: Sound | None = None) -> LogFile[T]:
        """One file's sound records as `shape`, and the lines that are not sound."""
        try:
            return read_log(self._system.read(path), shape, known)
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


def read_log(content: bytes, shape: type[T], known: Sound | None = None) -> LogFile[T]:
    """The sound lines as `shape`: with a matching check sum, and valid.

    `known` is what was found sound before: if it is still so, its lines are not looked at one by
    one. Line ends and a byte-order mark that an editor may have brought in do no harm.
    """
    sound = known.length if known and known.still_holds(content) else 0
    total = Sound(len(content), zlib.crc32(content))
    if b"\r" in content or content.startswith(BOM):
        sound, content = 0, content.removeprefix(BOM).replace(b"\r\n", b"\n")
    decoder = msgspec.json.Decoder(shape)
    records: list[T] = []
    damaged: list[Damage] = []
    first = 1
    for begin, end in _portions(content):
        portion = content[begin:end]
        if end <= sound or all(map(is_sound, _lines(portion))):
            try:
                records.extend(decoder.decode_lines(portion))
            except (msgspec.DecodeError, UnicodeDecodeError):
                _read_singly(portion, first, decoder, records, damaged)
        else:
            _read_singly(portion, first, decoder, records, damaged)
        first += portion.count(b"\n")
    if damaged and damaged[-1].line == first:
        damaged[-1] = Damage(first, "torn: the line was never finished")
    return LogFile(records, damaged, Sound() if damaged else total)


def _portions(content: bytes) -> Iterator[tuple[int, int]]:
    """Where to cut the content into stretches of whole lines."""
    begin = 0
    while begin < len(content):
        end = content.find(b"\n", begin + _PORTION) + 1 or len(content)
        yield begin, end
        begin = end


def _lines(portion: bytes) -> list[bytes]:
    lines = portion.split(b"\n")
    return lines if lines[-1] else lines[:-1]


def _read_singly(
    portion: bytes,
    first: int,
    decoder: msgspec.json.Decoder[T],
    records: list[T],
    damaged: list[Damage],
) -> None:
    for number, line in enumerate(_lines(portion), first):
        if not line.strip():
            continue
        if not is_sound(line):
            damaged.append(Damage(number, "the check sum does not match"))
            continue
        try:
            records.append(decoder.decode(line))
        except (msgspec.DecodeError, UnicodeDecodeError) as failure:
            damaged.append(Damage(number, f"not a record this resieve knows ({failure})"))


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
