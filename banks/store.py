"""The store: a folder of JSON documents that a person can read.

store.json                          format version and settings
banks/<bank>.json                   one bank, one question a line
banks/<bank>.files/                 its figures
log/<year>-<month>.<writer>.jsonl   what happened, a record a line
backups/                            copies made before upgrades, and daily
"""

import os
import platform
import secrets
import time
import uuid
import zlib
from collections.abc import Iterable
from pathlib import Path
from typing import Any

import msgspec
from filelock import FileLock, Timeout
from tinydb import TinyDB

from banks.files import System, replace_file
from banks.settings import Settings
from banks.storage import EventTable, LogStorage, SealedStorage
from domain.errors import StoreBusy, StoreDamaged, StoreNewer, StoreReadOnly
from domain.questions import Bank, Question, Subject
from domain.responses import AnyRecord

FORMAT = 1
"""The store's format version; it grows when an older resieve could not read a newer store."""


class BankHeader(msgspec.Struct, frozen=True, omit_defaults=True):
    """What a bank's file says of the bank as a whole."""

    id: str
    title: str
    edition: str = ""
    option_count: int = 4
    questions: int = 0


class BankTables(msgspec.Struct, frozen=True):
    """The tables of a bank's file."""

    bank: dict[str, BankHeader]
    subjects: dict[str, Subject]
    questions: dict[str, Question]


class Holder(msgspec.Struct, frozen=True):
    """Who holds the store for writing."""

    pid: int
    host: str


class LogDb(TinyDB):
    """TinyDB over the log; its only table is the log itself."""

    table_class = EventTable


class Store:
    """One folder, open for reading, and for writing when nobody else has it.

    `notices` tells in words what was found odd while reading: nothing of it stops the app.
    """

    def __init__(self, folder: Path, system: System, *, read_only: bool) -> None:
        self.folder = folder
        self.read_only = read_only
        self.system = system
        self.writer = _writer_name()
        self.notices: list[str] = []
        self._ids = _RecordIds()
        self._lock: FileLock | None = None
        self._document = SealedStorage(folder / "store.json", system)
        self._banks: dict[str, SealedStorage] = {}
        self.log = LogStorage(folder / "log", self.writer, system)
        self._events = LogDb(folder / "log", self.writer, system, storage=_given(self.log))

    @classmethod
    def open(
        cls, folder: Path, *, read_only: bool = False, system: System | None = None
    ) -> "Store":
        """Open the folder, making it if there is none.

        Raises StoreBusy when another process writes to it, StoreNewer when its format is newer,
        StoreDamaged when store.json can't be read; nothing is changed then.
        """
        store = cls(Path(folder), system or System(), read_only=read_only)
        if not read_only:
            store._take()
        try:
            store._check_format()
        except Exception:
            store.close()
            raise
        return store

    def close(self) -> None:
        """Let the folder go."""
        self.log.close()
        if self._lock is not None:
            self._lock.release()
            self._lock = None

    # settings

    def settings(self) -> Settings:
        """The settings; defaults where nothing was set. A field that can't be read is named."""
        tables = self._document.read() or {}
        try:
            return msgspec.convert(tables.get("settings", {}).get("1", {}), Settings)
        except msgspec.ValidationError as failure:
            raise StoreDamaged(
                f"{self._document.path}: settings: {failure}; it was left untouched"
            ) from failure

    def save_settings(self, settings: Settings) -> None:
        """Save the settings. Raises StoreError when they are not on the drive."""
        self._must_write()
        self._document.write(
            {"format": {"1": {"version": FORMAT}}, "settings": {"1": settings}},
        )

    # banks

    def bank_files(self) -> list[Path]:
        """The banks' files by name."""
        return sorted((self.folder / "banks").glob("*.json"))

    def load_banks(self) -> list[Bank]:
        """Every bank that can be read, by file name; of the others a notice each."""
        banks = []
        for path in self.bank_files():
            try:
                banks.append(self._load_bank(path))
            except StoreDamaged as failure:
                self.notices.append(str(failure))
        return banks

    def save_bank(self, bank: Bank) -> None:
        """Save the bank whole. Raises StoreError when it is not on the drive."""
        self._must_write()
        self.system.make_folder(self.folder / "banks")
        storage = self._bank_storage(self.folder / "banks" / f"{bank.id}.json")
        header = BankHeader(
            bank.id, bank.title, bank.edition, bank.option_count, len(bank.questions)
        )
        storage.write(
            {
                "bank": {"1": header},
                "subjects": {subject.id: subject for subject in bank.subjects},
                "questions": bank.questions,
            }
        )

    def figure_path(self, bank_id: str, name: str) -> Path:
        """Where a bank's figure lies. `name` is reduced to its last part."""
        return self.folder / "banks" / f"{bank_id}.files" / Path(name).name

    def save_figure(self, bank_id: str, name: str, content: bytes) -> None:
        """Keep a figure beside its bank."""
        self._must_write()
        path = self.figure_path(bank_id, name)
        self.system.make_folder(path.parent)
        replace_file(self.system, path, content, keep_previous=False)

    def _bank_storage(self, path: Path) -> SealedStorage:
        return self._banks.setdefault(path.stem, SealedStorage(path, self.system))

    def _load_bank(self, path: Path) -> Bank:
        storage = self._bank_storage(path)
        tables = storage.read_as(BankTables)
        header = tables.bank["1"] if tables and "1" in tables.bank else None
        if header is None or header.id != path.stem:
            raise StoreDamaged(f"{path}: is not the bank its name says; it was left untouched")
        if storage.edited:
            self.notices.append(f"{path}: was edited outside resieve since it was saved")
        if header.questions != len(tables.questions):
            self.notices.append(
                f"{path}: {len(tables.questions)} questions where {header.questions} were saved"
            )
        return Bank(
            id=header.id,
            title=header.title,
            edition=header.edition,
            option_count=header.option_count,
            subjects=tuple(tables.subjects.values()),
            questions=tables.questions,
        )

    # log

    def new_id(self) -> str:
        """An identity for a record: unique for ever, later ones sort after earlier ones."""
        return self._ids.new()

    def append(self, records: Iterable[AnyRecord]) -> None:
        """Add records; they are on the drive when this returns. Raises StoreError when not."""
        self._must_write()
        self._events.table("log").insert_multiple(map(msgspec.to_builtins, records))

    def records(self) -> list[AnyRecord]:
        """All sound records, file by file; of damaged lines a notice each file."""
        found: list[AnyRecord] = []
        for path in self.log.files():
            file = self.log.read_file(path, AnyRecord)
            found += file.records
            if file.damaged:
                first = file.damaged[0]
                self.notices.append(
                    f"{path}: {len(file.damaged)} damaged, the first in line {first.line}: "
                    f"{first.reason}; the rest was read"
                )
        return found

    # opening

    def _take(self) -> None:
        self.system.make_folder(self.folder)
        lock = FileLock(self.folder / "store.lock", thread_local=False)
        try:
            lock.acquire(timeout=0)
        except Timeout:
            raise StoreBusy(f"{self.folder}: {self._held_by()}") from None
        except (NotImplementedError, OSError) as failure:
            if not os.access(self.folder, os.W_OK):
                raise StoreReadOnly(f"{self.folder}: is read-only ({failure})") from failure
            self.notices.append(
                f"{self.folder}: this file system has no locks; start resieve only once"
            )
            return
        self._lock = lock
        holder = Holder(os.getpid(), platform.node())
        replace_file(
            self.system, self.folder / "store.holder", msgspec.json.encode(holder),
            keep_previous=False,
        )  # fmt: skip

    def _held_by(self) -> str:
        try:
            holder = msgspec.json.decode(
                self.system.read(self.folder / "store.holder"), type=Holder
            )
        except (OSError, msgspec.DecodeError):
            return "another resieve has it open"
        return f"a resieve on {holder.host} (process {holder.pid}) has it open"

    def _check_format(self) -> None:
        tables = self._document.read()
        if tables is None:
            if not self.read_only:
                self.save_settings(Settings())
            return
        version = _version(tables)
        if version is None:
            raise StoreDamaged(f"{self._document.path}: names no format; it was left untouched")
        if version > FORMAT:
            raise StoreNewer(
                f"{self.folder}: was written by a newer resieve (format {version}; this one knows "
                f"{FORMAT}); please update"
            )
        if self._document.edited:
            self.notices.append(f"{self._document.path}: was edited outside resieve")

    def _must_write(self) -> None:
        if self.read_only:
            raise StoreReadOnly(f"{self.folder}: is open for looking only; nothing was saved")


def _version(tables: dict[str, dict[str, Any]]) -> int | None:
    version = tables.get("format", {}).get("1", {})
    version = version.get("version") if isinstance(version, dict) else None
    return version if isinstance(version, int) else None


def _given(storage: LogStorage) -> Any:
    """A storage class, as TinyDB wants it, that gives the storage there is."""
    return lambda *_: storage


def _writer_name() -> str:
    """A name for this machine that is the same at every start."""
    node = "".join(c for c in platform.node().lower() if c.isascii() and c.isalnum())[:12]
    return f"{node or 'here'}-{zlib.crc32(str(uuid.getnode()).encode()):08x}"


class _RecordIds:
    """Milliseconds, a random part for this run, and a counter: sortable, never given twice."""

    def __init__(self) -> None:
        self._run = secrets.token_hex(3)
        self._last = 0
        self._count = 0

    def new(self) -> str:
        now = max(self._last, time.time_ns() // 1_000_000)
        self._count = self._count + 1 if now == self._last else 0
        self._last = now
        return f"{now:011x}{self._count:04x}{self._run}"


def default_folder(environ: dict[str, str] | None = None) -> Path:
    """`RESIEVE_STORE`, else the platform's folder for user data."""
    named = (os.environ if environ is None else environ).get("RESIEVE_STORE")
    if named:
        return Path(named).expanduser()
    from platformdirs import user_data_path

    return user_data_path("resieve", appauthor=False)
