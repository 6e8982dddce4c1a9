"""Does the store keep its promises? Every file is read in full; nothing is changed.

Records that a backup has and the log has not any more are found, and restored by union.
"""

import zipfile
import zlib
from collections.abc import Iterator
from datetime import datetime, timedelta
from pathlib import Path

import msgspec
from msgspec import Struct

from banks.maintenance.backup import daily_backups, is_restoring, read_backup
from banks.settings import Settings
from banks.store import bankfile
from banks.store.checked_json import SealedStorage
from banks.store.files import is_leftover, list_files, why
from banks.store.filesystem import System
from banks.store.folder import Store
from banks.store.formats import FORMAT, format_of
from banks.store.log import checked_lines, read_log
from domain.errors import InputError, StoreDamaged, StoreError
from domain.responses import AnyRecord
from domain.text import counted


class CheckFinding(msgspec.Struct, frozen=True):
    """Something noticed about a file. `wrong` False: worth knowing, but no promise is broken."""

    file: str
    problem: str
    remedy: str
    wrong: bool = True


class CheckReport(msgspec.Struct):
    """What was looked at and what was found."""

    banks: int = 0
    questions: int = 0
    records: int = 0
    newest_backup: str = ""
    findings: list[CheckFinding] = []

    @property
    def is_well(self) -> bool:
        """Whether nothing is wrong."""
        return not any(finding.wrong for finding in self.findings)


_RESTORE = "put a sound copy in its place: `resieve restore` with a file from backups/"


def check(folder: Path, now: datetime, system: System | None = None) -> CheckReport:
    """Look through the whole store. Raises InputError when there is none."""
    if not folder.is_dir():
        raise InputError(f"{folder}: there is no store; `resieve` alone begins one")
    return _Checker(folder, now, system or System()).run()


class _Checker:
    """Gathers a report, part by part."""

    def __init__(self, folder: Path, now: datetime, system: System) -> None:
        self.folder, self.now, self.system = folder, now, system
        self.report = CheckReport()
        self.known: set[str] = set()

    def run(self) -> CheckReport:
        if is_restoring(self.folder):  # there may be parts of two stores: nothing to judge by
            self.report.findings.append(
                CheckFinding(
                    "restoring",
                    "a restore was interrupted",
                    "open the app: it is finished or undone; then check again",
                )
            )
            return self.report
        for part in (self._document, self._banks, self._log, self._strays, self._backups):
            try:
                self.report.findings += part()
            except StoreDamaged as failure:  # a folder that can't be read
                path, _, problem = str(failure).partition(": ")
                remedy = f"make it a folder that you may read, or {_RESTORE}"
                self.report.findings.append(CheckFinding(Path(path).name, problem, remedy))
        return self.report

    def _document(self) -> Iterator[CheckFinding]:
        storage = SealedStorage(self.folder / "store.json", self.system)
        try:
            version = format_of(storage)
            tables = storage.read() or {}
            settings = msgspec.convert(tables.get("settings", {}).get("1", {}), Settings)
        except (StoreError, msgspec.ValidationError) as failure:
            previous = "or copy store.json.previous over it"
            yield CheckFinding("store.json", _plain(failure), f"{_RESTORE}, {previous}")
            return
        if version is None:
            yield CheckFinding("store.json", "is missing", _RESTORE)
        elif version < FORMAT:
            yield CheckFinding(
                "store.json",
                f"is of the older format {version}",
                "open the app once: it brings the store up to date, after a backup",
                wrong=False,
            )
        if storage.edited:
            yield CheckFinding("store.json", "was edited outside resieve", _LOOK, wrong=False)
        for problem in settings.problems():
            yield CheckFinding("store.json", problem, "set it right in the settings")

    def _banks(self) -> Iterator[CheckFinding]:
        for path in list_files(self.system, self.folder / "banks", ".json"):
            storage, name = SealedStorage(path, self.system), f"banks/{path.name}"
            try:
                bank, notices = bankfile.load_bank(storage)
                tables = storage.read_as(bankfile.BankTables) or bankfile.BankTables({}, {}, {})
            except StoreError as failure:
                yield CheckFinding(name, _plain(failure), _bank_remedy(path))
                continue
            self.report.banks += 1
            self.report.questions += bank.index.active_count
            self.known |= bank.questions.keys()
            if notices:
                yield CheckFinding(name, _plain(notices[0]), _LOOK)
            for problem in bankfile.misfits(tables):
                yield CheckFinding(name, problem, "set it right on the bank screen or in the file")
            yield from self._figures(path, tables)

    def _figures(self, path: Path, tables: bankfile.BankTables) -> Iterator[CheckFinding]:
        there = {figure.name for figure in path.with_suffix(".files").glob("*")}
        for question in tables.questions.values():
            for figure in question.figures:
                if figure.file not in there:
                    problem = f"question {question.id!r}: its picture {figure.file!r} is missing"
                    yield CheckFinding(f"banks/{path.name}", problem, "import the bank again")

    def _log(self) -> Iterator[CheckFinding]:
        ids: dict[str, AnyRecord] = {}
        for path in list_files(self.system, self.folder / "log", ".jsonl"):
            name = f"log/{path.name}"
            try:
                file = read_log(self.system.read(path))
            except OSError as failure:
                yield CheckFinding(name, f"can't be read ({why(failure)})", _RESTORE)
                continue
            for damage in file.damaged:
                yield CheckFinding(
                    name,
                    f"line {damage.line}: {damage.reason}",
                    "the other lines are in use and nothing was removed; `resieve merge` with a "
                    "backup or with another machine's store brings a lost record back",
                )
            for record in file.records:
                if ids.setdefault(record.id, record) != record:
                    yield CheckFinding(name, f"record {record.id} exists in two versions", _LOOK)
        self.report.records = len(ids)
        if count := (missing := find_missing(self.folder, self.system)).records:
            names = ", ".join(f"backups/{path.name}" for path in missing.backups)
            records = counted(count, "record is", "records are")
            yield CheckFinding(
                "log",
                f"{records} missing that {names} has",
                "`resieve check --restore-missing` brings them back",
            )
        yield from self._odd_records(ids)

    def _odd_records(self, ids: dict[str, AnyRecord]) -> Iterator[CheckFinding]:
        late = sum(record.at > self.now + timedelta(days=1) for record in ids.values())
        if late:
            ahead = counted(late, "record is", "records are")
            problem = f"{ahead} in the future: was a clock wrong?"
            yield CheckFinding("log", problem, "they count on the day they name", wrong=False)
        named = {record.question for record in ids.values() if hasattr(record, "question")}
        if unknown := named - self.known:
            questions = counted(len(unknown), "question that is", "questions that are")
            problem = f"tells of {questions} in no bank ({min(unknown)!r})"
            yield CheckFinding(
                "log", problem, "import their bank again; until then they don't count", wrong=False
            )

    def _strays(self) -> Iterator[CheckFinding]:
        for path in sorted(self.folder.glob("conflicts/*.json")):
            problem = "merged stores differed on questions; the versions not in force are here"
            yield CheckFinding(f"conflicts/{path.name}", problem, _LOOK, wrong=False)
        for path in sorted(self.folder.glob("store*.json")):
            if path.name != "store.json":
                problem = "looks like a copy that a file-sync program made"
                yield CheckFinding(
                    path.name, problem, "compare it with store.json, then remove it", wrong=False
                )
        for path in sorted([*self.folder.glob("*"), *self.folder.glob("*/*")]):
            name = path.relative_to(self.folder).as_posix()
            if ".torn-" in path.name:
                yield CheckFinding(
                    name,
                    "holds the end of a record that was never finished",
                    "nothing that was shown as saved is in it",
                    wrong=False,
                )
            elif path.is_file() and is_leftover(path):
                yield CheckFinding(
                    name,
                    "was left by a save that was cut short",
                    "the next start removes it",
                    wrong=False,
                )

    def _backups(self) -> Iterator[CheckFinding]:
        days = daily_backups(self.folder)
        if not days:
            yield CheckFinding(
                "backups",
                "there is no daily backup yet",
                "the app makes one when it starts",
                wrong=False,
            )
            return
        self.report.newest_backup = max(days).isoformat()
        for path in days.values():
            try:
                for _ in read_backup(path):
                    pass
            except (InputError, zipfile.BadZipFile, zlib.error) as failure:
                yield CheckFinding(
                    f"backups/{path.name}", _plain(failure), "remove it; use another"
                )


_LOOK = "look through it; saving it once in the app settles it"


def _bank_remedy(path: Path) -> str:
    previous = path.with_name(f"{path.name}.previous")
    if previous.exists():
        return f"copy {previous.name} over it (the state before the last save), or restore a backup"
    return _RESTORE


def _plain(problem: object) -> str:
    """The sentence without the path in front of it."""
    text = str(problem)
    return text.partition(": ")[2] if text.partition(": ")[0].endswith((".json", ".zip")) else text


class Missing(Struct, frozen=True):
    """What is missing: log file name → record id → line; `backups` the files that have it."""

    lines: dict[str, dict[str, bytes]] = {}
    backups: tuple[Path, ...] = ()

    @property
    def records(self) -> int:
        """How many records are missing."""
        return sum(map(len, self.lines.values()))


def find_missing(folder: Path, system: System) -> Missing:
    """What the daily backups made since the last restore have more than the log.

    Backups that can't be read are passed over; `check` names them.
    """
    known = {
        line.id
        for path in list_files(system, folder / "log", ".jsonl")
        for line in checked_lines(_content(system, path))
        if line.id
    }
    lines: dict[str, dict[str, bytes]] = {}
    backups: list[Path] = []
    since = _last_restore(folder)
    for _, path in sorted(daily_backups(folder).items(), reverse=True):
        if path.stat().st_mtime_ns < since:
            continue
        try:
            for name, content in read_backup(path):
                if name.startswith("log/"):
                    for line in checked_lines(content):
                        if line.id and line.id not in known:
                            known.add(line.id)
                            lines.setdefault(Path(name).name, {})[line.id] = line.line
                            backups += [] if path in backups else [path]
        except InputError:
            continue
    return Missing(lines, tuple(backups))


def restore_missing(store: Store) -> int:
    """Add what is missing to the log; how many records came back. Raises StoreError."""
    missing = find_missing(store.folder, store.system)
    for name, lines in missing.lines.items():
        store.append_lines(name, b"".join(line + b"\n" for line in lines.values()))
    store.forget_shrunk()
    return missing.records


def tell_shrunk(store: Store) -> None:
    """Put into the store's notices what its log lost since it was last seen, and who has it."""
    missing = find_missing(store.folder, store.system)
    for name, count in store.shrunk.items():
        there = len(missing.lines.get(name, {}))
        records = counted(count, "record is", "records are")
        help_ = (
            f"{', '.join(f'backups/{path.name}' for path in missing.backups)} has {there}; "
            "`resieve check --restore-missing` brings them back"
            if there
            else "no backup has them"
        )
        store.notices.append(
            f"{store.folder / 'log' / name}: is shorter than last time: {records} missing; {help_}"
        )
    if not missing.records and not store.read_only:
        store.forget_shrunk()


def _content(system: System, path: Path) -> bytes:
    try:
        return system.read(path)
    except OSError:  # named by whoever reads the log; here its records count as missing
        return b""


def _last_restore(folder: Path) -> int:
    """When the store was last replaced by a backup, as a file time; older backups may hold more."""
    times = [path.stat().st_mtime_ns for path in folder.glob("backups/replaced-*")]
    return max(times, default=0)
