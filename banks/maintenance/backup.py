"""A store as one file: a zip archive of its documents, written and replaced like every other file.

The archive's own check sums tell whether it is whole. Copies that a crash or an upgrade may call
for lie in the store's `backups/`.

A restore puts a store back as it was; what is there now is moved aside, never deleted. The files
are first unpacked beside the present ones, and only when all are on the drive do they change
places. A kill or power cut in between is finished at the next opening: the store is as it was
before or as the backup has it.
"""

import io
import re
import struct
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import suppress
from datetime import date
from pathlib import Path
from typing import Any

import msgspec

from banks.clock import local_now
from banks.settings import Settings
from banks.store.bankfile import BankTables
from banks.store.checked_json import BOM
from banks.store.files import discard, list_files, make_folder, replace_file, why
from banks.store.filesystem import System
from banks.store.formats import FORMAT, UPGRADES
from banks.store.lock import WriterLock
from domain.errors import InputError, StoreError

_MEMBER = re.compile(
    r"store\.json|(banks|conflicts)/[^/\\]+\.json|banks/[^/\\]+\.files/[^/\\]+|log/[^/\\]+\.jsonl"
)
LARGEST_FILE = 512 << 20
"""Bytes of one file; a bank of 110,000 questions takes a tenth."""

_BROKEN = (
    zipfile.BadZipFile,
    zlib.error,
    EOFError,
    OSError,
    NotImplementedError,
    RuntimeError,
    ValueError,
    struct.error,
)
MOST_UNPACKED = 4 << 30
"""Bytes unpacked; more than any store, and less than a hostile archive may claim."""

_DAILY = re.compile(r"daily-(\d{4}-\d\d-\d\d)\.zip")


def members(folder: Path, system: System | None = None) -> list[Path]:
    """The files that make the store, relative to its folder, by name.

    Raises StoreDamaged when one of its folders can't be read: a part would be missing.
    """
    system = system or System()
    paths = [folder / "store.json"]
    for name, ending in (("banks", ".json"), ("log", ".jsonl"), ("conflicts", ".json")):
        paths += list_files(system, folder / name, ending)
    for figures in list_files(system, folder / "banks", ".files"):
        paths += list_files(system, figures, "")
    return sorted(path.relative_to(folder) for path in paths if path.is_file())


def write_backup(folder: Path, target: Path, system: System) -> None:
    """Copy the store into one archive. Raises StoreError when it is not on the drive."""
    packed = io.BytesIO()
    names = members(folder, system)
    if Path("store.json") not in names:
        raise StoreError(f"{folder}: holds no store.json, so no copy was made of it")
    try:
        with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as archive:
            for name in names:
                archive.writestr(name.as_posix(), _settled(name, system.read(folder / name)))
    except OSError as failure:
        raise StoreError(f"{folder}: could not be copied ({why(failure)})") from failure
    replace_file(system, target, packed.getvalue(), keep_previous=False)


def _settled(name: Path, content: bytes) -> bytes:
    """Without a last line that is being written at this very moment."""
    return content[: content.rfind(b"\n") + 1] if name.suffix == ".jsonl" else content


def read_backup(path: Path) -> Iterator[tuple[str, bytes]]:
    """The files in an archive, each checked. Raises InputError when it is no whole backup.

    Errors may come late: look through all of it before trusting any.
    """
    try:
        with zipfile.ZipFile(path) as archive:
            _look_over(path, archive)
            for member in archive.infolist():
                with archive.open(member) as file:
                    content = file.read(LARGEST_FILE + 1)
                if problem := _problem(member.filename, content):
                    raise InputError(f"{path}: {member.filename} {problem}; nothing was changed")
                yield member.filename, content
    except FileNotFoundError:
        raise InputError(f"{path}: no such file") from None
    except _BROKEN as failure:
        raise InputError(
            f"{path}: is not a whole backup ({failure}); nothing was changed"
        ) from failure


def _look_over(path: Path, archive: zipfile.ZipFile) -> None:
    names = archive.namelist()
    if len(set(names)) < len(names):
        raise InputError(f"{path}: holds a file twice; nothing was changed")
    for name in names:
        if not _MEMBER.fullmatch(name) or ".." in name.split("/"):
            raise InputError(f"{path}: holds {name!r}, which is no part of a store")
    if sum(member.file_size for member in archive.infolist()) > MOST_UNPACKED:
        raise InputError(f"{path}: would unpack to more than {MOST_UNPACKED >> 30} GB")
    if "store.json" not in names:
        raise InputError(f"{path}: holds no store.json; nothing was changed")


def _problem(name: str, content: bytes) -> str:
    """In words, why a store with this file could not be opened; "" when it can."""
    if len(content) > LARGEST_FILE:
        return f"unpacks to more than {LARGEST_FILE >> 20} MB"
    try:
        if name == "store.json":
            return _document_problem(msgspec.json.decode(content.removeprefix(BOM)))
        if name.startswith("banks/") and name.endswith(".json"):
            tables = msgspec.json.decode(content.removeprefix(BOM), type=BankTables)
            header = tables.bank.get("1")
            if header is None or header.id != Path(name).stem:
                return "is not the bank its name says"
    except (msgspec.DecodeError, UnicodeDecodeError, RecursionError, ValueError) as failure:
        return f"can't be understood ({failure})"
    return ""


def _document_problem(tables: Any) -> str:
    try:
        version = tables["format"]["1"]["version"]
    except (KeyError, TypeError):
        return "names no format"
    if type(version) is int and version > FORMAT:
        return f"was written by a newer resieve (format {version})"
    if type(version) is not int or not (version == FORMAT or version in UPGRADES):
        return f"names no format that there is ({version!r})"
    msgspec.convert(tables.get("settings", {}).get("1", {}), Settings)
    return ""


def backup_before(folder: Path, event: str, system: System) -> Path:
    """A copy in the store's own `backups/` before something is done to it; its path."""
    target = free_name(folder / "backups" / f"before-{event}-{local_now():%Y-%m-%d}.zip")
    write_backup(folder, target, system)
    return target


def free_name(path: Path) -> Path:
    """The path, or the first of its kind with a number that is not taken."""
    number, free = 1, path
    while free.exists():
        number += 1
        free = path.with_stem(f"{path.stem}-{number}")
    return free


def back_up_daily(folder: Path, today: date, system: System) -> Path | None:
    """Keep today's copy, unless there is one or nothing has changed; then thin out older ones.

    Raises StoreError when it could not be saved; older copies are then all still there.
    """
    days = daily_backups(folder)
    if today in days or (days and not _changed_since(folder, days[max(days)])):
        return None
    target = folder / "backups" / f"daily-{today}.zip"
    write_backup(folder, target, system)
    days[today] = target
    for day in set(days) - worth_keeping(days):
        discard(system, days[day])
    return target


def daily_backups(folder: Path) -> dict[date, Path]:
    """The daily copies by day."""
    dated = ((_DAILY.fullmatch(path.name), path) for path in folder.glob("backups/daily-*.zip"))
    return {date.fromisoformat(match[1]): path for match, path in dated if match}


def worth_keeping(days: dict[date, Path]) -> set[date]:
    """The newest seven, and the newest of each of five weeks and of twelve months."""
    newest = sorted(days, reverse=True)
    weeks: dict[tuple[int, int], date] = {}
    months: dict[tuple[int, int], date] = {}
    for day in newest:
        weeks.setdefault(day.isocalendar()[:2], day)
        months.setdefault((day.year, day.month), day)
    return {*newest[:7], *list(weeks.values())[:5], *list(months.values())[:12]}


def _changed_since(folder: Path, copy: Path) -> bool:
    made = copy.stat().st_mtime_ns
    return any((folder / name).stat().st_mtime_ns > made for name in members(folder))


_COMING = "restoring"
_READY, _CLEARED = "ready", "cleared"  # all unpacked; all present files moved aside


def restore(folder: Path, backup: Path, system: System | None = None) -> Path:
    """Put the backup in the place of the store; where the present state is kept now.

    Raises InputError for a backup that is not whole, StoreError when something could not be
    written; the store is unchanged then.
    """
    system = system or System()
    for _ in read_backup(backup):  # all of it must be sound before anything is touched
        pass
    lock = WriterLock(folder, system)
    try:
        finish_restoring(folder, system)
        coming = folder / _COMING
        aside = free_name(folder / "backups" / f"replaced-{local_now():%Y-%m-%d}")
        try:
            for name, content in read_backup(backup):
                replace_file(system, coming / name, content, keep_previous=False)
            replace_file(system, coming / _READY, aside.name.encode(), keep_previous=False)
        except BaseException:  # nothing of it stays, least of all on a full disk
            with suppress(OSError):
                discard(system, coming / _READY)
                _drop(coming, system)
            raise
        finish_restoring(folder, system)
        return aside
    finally:
        lock.release()


def is_restoring(folder: Path) -> bool:
    """Whether a restore was begun and not finished."""
    return (folder / _COMING).exists()


def finish_restoring(folder: Path, system: System) -> None:
    """Finish a restore that was interrupted, or clear away one that had not got far enough."""
    coming = folder / _COMING
    if not coming.exists():
        return
    try:
        if (coming / _READY).exists():
            _change_places(folder, coming, system)
        _drop(coming, system)
    except OSError as failure:
        raise StoreError(
            f"{folder}: the restore is not finished ({why(failure)}); it goes on at the next start"
        ) from failure


def _change_places(folder: Path, coming: Path, system: System) -> None:
    if not (coming / _CLEARED).exists():
        aside = folder / "backups" / system.read(coming / _READY).decode()
        _move(folder, aside, members(folder), system)
        replace_file(system, coming / _CLEARED, b"", keep_previous=False)
    _move(coming, folder, members(coming), system)
    discard(system, folder / "cache" / "sound.json")  # the log is meant to be another one now
    system.unlink(coming / _READY)
    system.fsync_folder(coming)


def _move(source: Path, target: Path, names: list[Path], system: System) -> None:
    for name in names:
        make_folder(system, (target / name).parent)
        system.replace(source / name, target / name)
    for folder in {name.parent for name in names}:
        system.fsync_folder(target / folder)
        system.fsync_folder(source / folder)


def _drop(folder: Path, system: System) -> None:
    if not folder.exists():
        return
    for path in folder.iterdir():
        if path.is_dir():
            _drop(path, system)
        else:
            discard(system, path)
    system.remove_folder(folder)
