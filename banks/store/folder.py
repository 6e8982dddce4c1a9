"""The store: a folder of JSON documents that a person can read.

store.json                          format version and settings
banks/<bank>.json                   one bank, one question per line
banks/<bank>.files/                 its figures
log/<year>-<month>.<writer>.jsonl   what happened, a record a line
backups/                            copies made before upgrades, and daily
former/                             banks as they were before the newest changes, for undo
cache/                              may be deleted at any time
"""

import zlib
from collections.abc import Callable, Iterable, MutableMapping
from pathlib import Path
from typing import Any

import msgspec
from msgspec.structs import force_setattr
from tinydb import TinyDB
from tinydb.table import Document

from banks.settings import Settings
from banks.store import bankfile
from banks.store.cache import Cache
from banks.store.checked_json import SealedStorage
from banks.store.files import (
    discard,
    is_leftover,
    keep_copy,
    list_files,
    make_folder,
    replace_file,
    why,
)
from banks.store.filesystem import Stamp, System
from banks.store.formats import FORMAT, READABLE, format_of
from banks.store.lock import WriterLock
from banks.store.log import LogDb, LogStorage, RecordIds, Sound, writer_name
from domain.errors import InputError, StoreDamaged, StoreError, StoreReadOnly
from domain.questions import Bank
from domain.responses import AnyRecord, BankSaved, Response
from domain.tiers import translated

_FORMER = "former"
_FORMER_KEPT = 20
_FORMER_BYTES = 256 << 20
_CHANGED = "bank {}: was changed otherwise since; it can't be undone"

Prepare = Callable[[Path, System], list[str]]
"""Makes a folder fit to be opened for writing; what to tell of it, in words."""


FORMER_RULES = frozenset({"release", "spacing", "doubt_promotes"})
"""What tier rules were made of in format 1."""


class Store:
    """One folder, open for reading, and for writing when nobody else has it.

    `notices` tells in words what was found odd: nothing of it stops the app. `problem` says why
    nothing can be saved at present, "" when it can. `on_news` is called, in whatever thread, when
    one of the two has changed while the store is open.
    """

    def __init__(self, folder: Path, system: System, *, read_only: bool) -> None:
        self.folder = folder
        self.read_only = read_only
        self.system = system
        self.writer = writer_name()
        self.notices: list[str] = []
        self.problem = ""
        self.on_news: Callable[[], object] = lambda: None
        self.cache = Cache(folder, system)
        self.shrunk: dict[str, int] = {}
        self._seen: dict[str, Sound] = {}
        self._is_loaded = False
        self._ids = RecordIds()
        self._lock: WriterLock | None = None
        self._document = SealedStorage(folder / "store.json", system)
        self._db = TinyDB(storage=lambda: self._document)
        self._banks: dict[str, SealedStorage] = {}
        self.log = LogStorage(folder / "log", self.writer, system, self._note)
        self._events = LogDb(self.log).events

    @classmethod
    def open(
        cls,
        folder: Path,
        *,
        read_only: bool = False,
        system: System | None = None,
        prepare: Prepare | None = None,
    ) -> "Store":
        """Open the folder, making it if there is none.

        `prepare` is called first, under the lock, to finish what was begun and to upgrade.
        Raises StoreBusy when another process writes to it, StoreReadOnly when nobody can,
        StoreNewer when its format is newer, StoreDamaged when store.json can't be read; nothing
        is changed then.
        """
        store = cls(Path(folder), system or System(), read_only=read_only)
        try:
            if not read_only:
                store._lock = WriterLock(store.folder, store.system)
                store.notices += filter(None, [store._lock.notice])
                if prepare is not None:
                    store.notices += prepare(store.folder, store.system)
            store._open()
        except OSError as failure:
            store.close()
            raise StoreDamaged(f"{folder}: could not be read ({why(failure)})") from failure
        except BaseException:
            store.close()
            raise
        return store

    def close(self) -> None:
        """Let the folder go."""
        if self._is_loaded:
            self._remember_log()
        self.log.close()
        if self._lock is not None:
            self._lock.release()

    # settings

    def settings(self) -> Settings:
        """The settings; defaults where nothing was set. Raises StoreDamaged for odd ones."""
        document = self._db.table("settings").get(doc_id=1)
        try:
            return msgspec.convert(self._of_now(dict(document) if document else {}), Settings)
        except msgspec.ValidationError as failure:
            raise StoreDamaged(
                f"{self._document.path}: settings: {failure}; it was left untouched"
            ) from failure

    def _of_now(self, settings: dict[str, Any]) -> dict[str, Any]:
        """The settings with tier rules of the former kind translated, and said in a notice."""
        former = settings.get("ladder")
        if not isinstance(former, dict) or not former.keys() & FORMER_RULES:
            return settings
        rules = translated(former)
        kind = "strict" if rules.strict else "usual"
        self.notices.append(
            f"The tier rules are new: signs stay, and clean days that lie apart settle a question. "
            f"Your former numbers were read as “{kind}”; Settings shows and changes them."
        )
        settings = settings | {"ladder": msgspec.to_builtins(rules)}
        if not self.read_only:
            self._document.write((self._document.read() or {}) | {"settings": {"1": settings}})
        return settings

    def save_settings(self, settings: Settings) -> None:
        """Save the settings. Raises StoreError when they are not on the drive."""
        self._must_write()
        self._document.must_be_as_seen()
        table, document = self._db.table("settings"), msgspec.to_builtins(settings)

        def replace_all(held: MutableMapping[str, Any]) -> None:
            held.clear()  # TinyDB's upsert would keep what is a default again
            held.update(document)

        if table.contains(doc_id=1):
            table.update(replace_all, doc_ids=[1])
        else:
            table.insert(Document(document, doc_id=1))

    # banks

    def bank_files(self) -> list[Path]:
        """The banks' files by name."""
        return list_files(self.system, self.folder / "banks", ".json")

    def load_banks(self, *, whole: bool = False) -> list[Bank]:
        """Every bank that can be read, by file name; of the others a notice each.

        `whole` for a store that is none of ours: nothing of it is kept in its folder.
        """
        cache = None if whole else self.cache
        banks = []
        for path in self.bank_files():
            try:
                bank, notices = bankfile.load_bank(self._bank_storage(path.stem), cache)
            except StoreDamaged as failure:
                self.notices.append(str(failure))
            else:
                banks.append(bank)
                self.notices += notices[:3]
        return banks

    def save_bank(self, bank: Bank) -> str:
        """Save the bank whole; the mark of what is saved. Raises StoreError when it is not."""
        self._must_write()
        storage = self._bank_storage(bank.id)
        bankfile.save_bank(storage, bank)
        return storage.mark

    def keep_former(self, bank_id: str, name: str) -> str:
        """Keep the bank's present file in the folder `name` of `former/`; "" where there is none.

        The oldest are let go. Raises StoreError when it could not be kept.
        """
        self._must_write()
        path = self._bank_storage(bank_id).path
        former = f"{name}/{path.name}"
        if self.system.stamp(path) is None:
            return ""
        try:
            make_folder(self.system, self.folder / _FORMER / name)
            keep_copy(self.system, path, self.folder / _FORMER / former)
            self._thin_out_former()
        except OSError as failure:
            raise StoreError(f"{path}: could not be kept for undo ({why(failure)})") from failure
        return former

    def put_back(self, saved: BankSaved) -> Bank | None:
        """The bank's file as it was before that save; None where there was none.

        Done twice it is the same as done once. Raises InputError where the bank was changed
        otherwise since or what was before is not kept any more, StoreError when not saved.
        """
        self._must_write()
        storage = self._bank_storage(saved.bank)
        if not saved.before:
            if storage.mark == saved.after:
                storage.move_away(self.folder / _FORMER / saved.id / storage.path.name)
            elif storage.mark:
                raise InputError(_CHANGED.format(saved.bank))
            return None
        path = self.folder / _FORMER / saved.before
        former = SealedStorage(path, self.system)
        try:
            bank, _ = bankfile.load_bank(former, self.cache)
            content = self.system.read(path)
        except (OSError, StoreDamaged) as failure:
            raise InputError(
                f"bank {saved.bank}: what it was before is not kept any more; it can't be undone"
            ) from failure
        if storage.mark != former.mark:
            if storage.mark != saved.after:
                raise InputError(_CHANGED.format(saved.bank))
            storage.write_content(content)
        return bank

    def _thin_out_former(self) -> None:
        """Keep the newest former versions, within bounds."""
        size = 0
        for age, folder in enumerate(sorted((self.folder / _FORMER).iterdir(), reverse=True)):
            files = list(folder.iterdir())
            size += sum(path.stat().st_size for path in files)
            if age >= _FORMER_KEPT or (size > _FORMER_BYTES and age):
                for path in files:
                    discard(self.system, path)
                self.system.remove_folder(folder)

    def figure_path(self, bank_id: str, name: str) -> Path:
        """Where a bank's figure lies. `name` is reduced to its last part."""
        return self.folder / "banks" / f"{bank_id}.files" / Path(name).name

    def save_figure(self, bank_id: str, name: str, content: bytes) -> None:
        """Keep a figure beside its bank."""
        self._must_write()
        replace_file(self.system, self.figure_path(bank_id, name), content, keep_previous=False)

    def _bank_storage(self, bank_id: str) -> SealedStorage:
        path = self.folder / "banks" / f"{bank_id}.json"
        return self._banks.setdefault(bank_id, SealedStorage(path, self.system))

    def bank_marks(self) -> dict[str, str]:
        """The check sum of each bank as it was loaded or saved; "" where it was edited outside."""
        return {name: storage.mark for name, storage in self._banks.items()}

    # log

    def new_id(self) -> str:
        """An identity for a record: unique for ever, later ones sort after earlier ones."""
        return self._ids.new()

    def append(self, records: Iterable[AnyRecord]) -> None:
        """Add records; they are on the drive when this returns. Raises StoreError when not."""
        self._must_write()
        self._events.insert_multiple(map(msgspec.to_builtins, records))

    def append_lines(self, name: str, lines: bytes) -> None:
        """Add lines of another copy of this log file as they stand. Raises StoreError."""
        self._must_write()
        self.log.append_lines(name, lines)

    def own_records(self) -> list[AnyRecord]:
        """The sound records of this machine's two newest months."""
        own = [path for path in self.log.files() if self._is_own(path)]
        newest = (self.log.read_file(path).records for path in own[-2:])
        return [record for records in newest for record in records]

    def _is_own(self, log: Path) -> bool:
        return log.name.endswith(f".{self.writer}.jsonl")

    def records(self) -> list[AnyRecord]:
        """All sound records, file by file; of damaged lines a notice each file.

        `shrunk` names the files that hold fewer records than when they were last seen here.
        """
        known = self._known_logs()
        records: list[AnyRecord] = []
        seen: dict[str, Sound] = {}
        names: dict[str, str] = {}
        for path in self.log.files():
            file = self.log.read_file(path, known.get(path.name))
            share_names(file.records, names)
            records += file.records
            seen[path.name] = file.sound
            if file.damaged:
                first = file.damaged[0]
                self.notices.append(
                    f"{path}: {len(file.damaged)} damaged, the first in line {first.line}: "
                    f"{first.reason}; the rest was read"
                )
        self.compare_logs(seen)
        return records

    @property
    def record_count(self) -> int:
        """Records in the log when it was read."""
        return sum(sound.records for sound in self._seen.values())

    def others_logs(self) -> dict[str, Stamp | None]:
        """The log files of other machines and the state of each, None where it is gone again."""
        others = (path for path in self.log.files() if not self._is_own(path))
        return {path.name: self.system.stamp(path) for path in others}

    def _known_logs(self) -> dict[str, Sound]:
        return self.cache.load("sound", dict[str, Sound]) or {}

    def compare_logs(self, seen: dict[str, Sound]) -> None:
        """Tell which of the log files have `shrunk` since they were last seen, and note them."""
        known = self._known_logs()
        self.shrunk = {
            name: before.records - seen.get(name, Sound()).records
            for name, before in known.items()
            if seen.get(name, Sound()).records < before.records
        }
        self._is_loaded = True
        self._seen = seen | {name: known[name] for name in self.shrunk}
        if self._seen != known and not self.read_only:
            self.cache.save("sound", self._seen)

    def forget_shrunk(self) -> None:
        """Take the log files as they are: what they once held is not asked for any more."""
        self.cache.save("sound", {})
        self.shrunk, self._seen = {}, {}

    def _remember_log(self) -> None:
        """Note how the files that were added to look now, for the next start."""
        seen = dict(self._seen)
        for name, content in self.log.acknowledged().items():
            before = seen.get(name, Sound())
            added = content.count(b"\n") - content[: before.length].count(b"\n")
            is_sound = name not in self._seen or (before.length and before.still_holds(content))
            if name in self.shrunk:
                continue
            seen[name] = (
                Sound(len(content), zlib.crc32(content), before.records + added)
                if is_sound
                else Sound(records=before.records)
            )
        if seen != self._seen:
            self.cache.save("sound", seen)

    # opening

    def _open(self) -> None:
        if (self.folder / "restoring" / "ready").exists():
            raise StoreReadOnly(
                f"{self.folder}: is being restored; start the app once to finish, then go on"
            )
        version = format_of(self._document)
        if version is None:
            self._begin()
        elif version < (READABLE if self.read_only else FORMAT):
            raise StoreReadOnly(
                f"{self.folder}: was written by an older resieve (format {version}); open it for "
                "writing once, then it is brought up to date"
            )
        if self._document.edited:
            self.notices.append(f"{self._document.path}: was edited outside resieve")
        if not self.read_only:
            self._tidy()

    def _begin(self) -> None:
        previous = self._document.path.with_name("store.json.previous")
        if previous.exists():
            self.notices.append(
                f"{self._document.path}: is gone; the usual settings are in use, the former ones "
                f"are in {previous.name}"
            )
        if not self.read_only:
            self._document.write({"format": {"1": {"version": FORMAT}}, "settings": {"1": {}}})

    def _tidy(self) -> None:
        """Remove what a crash in the middle of a replacement left behind."""
        for pattern in ("*.new", "*.old", "*/*.new", "*/*.old"):
            for path in filter(is_leftover, self.folder.glob(pattern)):
                discard(self.system, path)

    def confirm(self) -> None:
        """Raise StoreError if the folder or the right to write to it was lost since the start."""
        problem = ""
        try:
            if self._lock is not None:
                self._lock.confirm()
        except StoreError as failure:
            problem = str(failure)
            raise
        finally:
            if problem != self.problem:
                self.problem = problem
                self.on_news()

    def _note(self, words: str) -> None:
        self.notices.append(words)
        self.on_news()

    def _must_write(self) -> None:
        if self.read_only:
            raise StoreReadOnly(f"{self.folder}: is open for looking only; nothing was saved")
        self.confirm()


def share_names(records: Iterable[AnyRecord], names: dict[str, str]) -> None:
    """Let responses have their questions' and sittings' names in common: a third less memory."""
    for record in records:
        if type(record) is Response:
            force_setattr(record, "question", names.setdefault(record.question, record.question))
            force_setattr(record, "sitting", names.setdefault(record.sitting, record.sitting))
