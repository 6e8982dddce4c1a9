"""What happened, as a TinyDB storage and table: a folder of files to which lines are only added.

A line is a record and its check sum. A line that does not match is never used and never removed.
"""

import platform
import secrets
import time
import uuid
import zlib
from collections.abc import Callable, Iterable, Iterator, Mapping
from itertools import groupby
from pathlib import Path
from typing import Any, Generic, NoReturn, TypeVar, cast

import msgspec
from tinydb import Storage, TinyDB
from tinydb.table import Table

from banks.store.checked_json import BOM
from banks.store.files import Appender, list_files, why
from banks.store.filesystem import System
from domain.responses import FIRST_YEAR, LAST_YEAR, AnyRecord

T = TypeVar("T")
_SUM = b',"sum":"'
_TAIL = len(_SUM) + 10  # the check sum closes every line: ,"sum":"0123abcd"}
_PORTION = 1 << 18  # bytes decoded at once: a few milliseconds, so that a screen stays lively


class Damage(msgspec.Struct, frozen=True):
    """A line of a log that can't be trusted (0: the file as a whole). It stays in the file."""

    line: int
    reason: str


class Sound(msgspec.Struct, frozen=True):
    """A log file as it was last seen: so many bytes were sound, with this check sum (0: not all
    of it was), and held so many records.
    """

    length: int = 0
    crc32: int = 0
    records: int = 0

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

    `notice` is told in words what other programs did to files that were being added to.
    """

    def __init__(
        self,
        folder: str | Path,
        writer: str = "here",
        system: System | None = None,
        notice: Callable[[str], None] = lambda words: None,
    ) -> None:
        self.folder = Path(folder)
        self._writer = writer
        self._system = system or System()
        self._appenders: dict[str, Appender] = {}
        self._notice = notice

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
            self._appenders[name] = Appender(self._system, path, is_sound, self._notice)
        self._appenders[name].append(lines)

    def read(self) -> dict[str, dict[str, Any]] | None:
        """All sound records of all files as one table, each once, numbered from 1."""
        records: dict[str, Any] = {}
        for path in self.files():
            try:
                content = self._system.read(path)
            except OSError:
                continue
            for document in _read(content, _DOCUMENTS).records:
                document.pop("sum", None)
                records[str(document.get("id", ""))] = document
        if not records:
            return None
        return {"log": {str(n): document for n, document in enumerate(records.values(), 1)}}

    def acknowledged(self) -> dict[str, bytes]:
        """The files that were added to, by name, as they are known to be on the drive."""
        return {name: appender.content for name, appender in self._appenders.items()}

    def read_file(self, path: Path, known: Sound | None = None) -> LogFile[AnyRecord]:
        """One file's sound records, and the lines that are not sound."""
        try:
            return read_log(self._system.read(path), known)
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
    return str(document["at"])[:7]


_RECORDS: msgspec.json.Decoder[AnyRecord] = msgspec.json.Decoder(cast(Any, AnyRecord))
_DOCUMENTS: msgspec.json.Decoder[dict[str, Any]] = msgspec.json.Decoder(dict[str, Any])
_UNREADABLE = (msgspec.DecodeError, UnicodeDecodeError, RecursionError, ValueError)


def read_log(content: bytes, known: Sound | None = None) -> LogFile[AnyRecord]:
    """The sound records: with a matching check sum, valid, and of a possible year.

    `known` is what was found sound before: if it is still so, its lines are not looked at one by
    one. Line ends and a byte-order mark that an editor may have brought in do no harm.
    """
    return _read(content, _RECORDS, known, _is_possible)


def _is_possible(record: AnyRecord) -> bool:
    return FIRST_YEAR <= record.at.year <= LAST_YEAR


def _read(
    content: bytes,
    decoder: msgspec.json.Decoder[T],
    known: Sound | None = None,
    is_possible: Callable[[T], bool] = lambda _: True,
) -> LogFile[T]:
    sound = known.length if known and known.still_holds(content) else 0
    length, crc32 = len(content), zlib.crc32(content)
    if b"\r" in content or content.startswith(BOM):
        sound, content = 0, content.removeprefix(BOM).replace(b"\r\n", b"\n")
    records: list[T] = []
    damaged: list[Damage] = []
    first = 1
    for begin, end in _portions(content):
        portion = content[begin:end]
        if end <= sound or all(map(is_sound, _lines(portion))):
            try:
                made = decoder.decode_lines(portion)
            except _UNREADABLE:
                made = []
            if made and all(map(is_possible, made)):
                records.extend(made)
                first += portion.count(b"\n")
                continue
        for number, record in _singly(portion, first, decoder):
            if isinstance(record, str):
                damaged.append(Damage(number, record))
            elif is_possible(record):
                records.append(record)
            else:
                damaged.append(Damage(number, "its time is of no year that can be"))
        first += portion.count(b"\n")
    if damaged and damaged[-1].line == first:
        damaged[-1] = Damage(first, "torn: the line was never finished")
    return LogFile(
        records,
        damaged,
        Sound(records=len(records)) if damaged else Sound(length, crc32, len(records)),
    )


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


def _singly(
    portion: bytes, first: int, decoder: msgspec.json.Decoder[T]
) -> Iterator[tuple[int, T | str]]:
    """Line by line with its number: what it holds, or in words why it can't be used."""
    for number, line in enumerate(_lines(portion), first):
        if not line.strip():
            continue
        if not is_sound(line):
            yield number, "the check sum does not match"
            continue
        try:
            yield number, decoder.decode(line)
        except _UNREADABLE as failure:
            yield number, f"not a record this resieve knows ({failure})"


class Checked(msgspec.Struct, frozen=True):
    """A line of a log of unknown origin: its record's id, or in words why it is none."""

    number: int
    line: bytes
    id: str = ""
    problem: str = ""


def checked_lines(content: bytes) -> Iterator[Checked]:
    """Every line that is not empty, decoded and judged on its own."""
    plain = content.removeprefix(BOM).replace(b"\r\n", b"\n")
    lines = plain.split(b"\n")
    for number, record in _singly(plain, 1, _RECORDS):
        line = lines[number - 1]
        if isinstance(record, str):
            yield Checked(number, line, problem=record)
        elif _is_possible(record):
            yield Checked(number, line, id=record.id)
        else:
            yield Checked(number, line, problem="its time is of no year that can be")


def line_of(document: Mapping[str, Any]) -> bytes:
    """The document as a line with its check sum."""
    body = msgspec.json.encode(document)[:-1]
    return body + _SUM + b'%08x"}\n' % zlib.crc32(body)


def is_sound(line: bytes) -> bool:
    """Whether the line, without its end, is just as it was written."""
    return line[-_TAIL:] == _SUM + b'%08x"}' % zlib.crc32(line[:-_TAIL])


class EventTable(Table):
    """TinyDB's table over the log: insert and search, never update or remove.

    Document ids are the records' own `id`; TinyDB's types know integers alone, though it lets
    `document_id_class` be any.
    """

    document_id_class = str  # type: ignore[assignment]

    def __init__(self, storage: LogStorage, name: str, **options: Any) -> None:
        super().__init__(storage, name, **{"cache_size": 0} | options)
        self._log = storage

    def insert(self, document: Mapping[str, Any]) -> str:  # type: ignore[override]
        """Add one record. Raises StoreError when it is not on the drive."""
        return self.insert_multiple([document])[0]

    def insert_multiple(  # type: ignore[override]
        self, documents: Iterable[Mapping[str, Any]]
    ) -> list[str]:
        """Add records in one durable write. Raises StoreError when they are not on the drive."""
        added = [dict(document) for document in documents]
        if added:
            self._log.append(added)
        return [document["id"] for document in added]

    def _update_table(self, updater: Callable[[dict[Any, Mapping[str, Any]]], None]) -> NoReturn:
        raise TypeError("the log is only added to: record a correction or a withdrawal instead")

    def _read_table(self) -> dict[str, Mapping[str, Any]]:
        documents = (self._log.read() or {}).get("log", {}).values()
        return {document["id"]: document for document in documents}


class LogDb(TinyDB):
    """TinyDB over the log; its only table is the log itself."""

    table_class = EventTable  # type: ignore[assignment]

    def __init__(self, storage: LogStorage) -> None:
        super().__init__(storage=lambda: storage)

    @property
    def events(self) -> EventTable:
        """The log."""
        return cast(EventTable, self.table("log"))


class LocatedRecord(msgspec.Struct, frozen=True, gc=False):
    """A record, and where its line begins in its file and how long it is, without its end."""

    record: AnyRecord
    start: int
    length: int


def located_records(content: bytes, begin: int = 0) -> list[LocatedRecord] | None:
    """Every record from byte `begin` on; None unless each line is sound and whole."""
    tail = content[begin:]
    if not tail:
        return []
    lines = tail[:-1].split(b"\n")
    if not all(map(is_sound, lines)):
        return None
    try:
        records = _RECORDS.decode_lines(tail)
    except _UNREADABLE:
        return None
    if len(records) != len(lines) or not all(map(_is_possible, records)):
        return None
    located = []
    for record, line in zip(records, lines, strict=True):
        located.append(LocatedRecord(record, begin, len(line)))
        begin += len(line) + 1
    return located


def record_in(line: bytes) -> AnyRecord | None:
    """The record of one line; None where it is not sound."""
    if not is_sound(line):
        return None
    try:
        record = _RECORDS.decode(line)
    except _UNREADABLE:
        return None
    return record if _is_possible(record) else None


def writer_name() -> str:
    """A name for this machine that is the same at every start."""
    node = "".join(c for c in platform.node().lower() if c.isascii() and c.isalnum())[:12]
    return f"{node or 'here'}-{zlib.crc32(str(uuid.getnode()).encode()):08x}"


class RecordIds:
    """Milliseconds, a counter, and a random part for this run: sortable, never given twice.

    A clock that is set back does not make later ids sort before earlier ones of the same run.
    """

    def __init__(self) -> None:
        self._run = secrets.token_hex(3)
        self._last = 0
        self._count = 0

    def new(self) -> str:
        """The next identity: 21 characters."""
        now = max(self._last, time.time_ns() // 1_000_000)
        self._count = self._count + 1 if now == self._last else 0
        self._last = now
        return f"{now:011x}{self._count:04x}{self._run}"
