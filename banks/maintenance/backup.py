"""A store as one file: a zip archive of its documents, written and replaced like every other file.

The archive's own check sums tell whether it is whole. Copies that a crash or an upgrade may call
for lie in the store's `backups/`.
"""

import io
import re
import zipfile
import zlib
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import msgspec

from banks.clock import local_now
from banks.store.files import discard, replace_file, why
from banks.store.filesystem import System
from banks.store.formats import FORMAT
from domain.errors import InputError, StoreError

_MEMBER = re.compile(
    r"store\.json|(banks|conflicts)/[^/\\]+\.json|banks/[^/\\]+\.files/[^/\\]+|log/[^/\\]+\.jsonl"
)
_LIMIT = 4 << 30  # bytes unpacked; more than any store, and less than a hostile archive may claim
_DAILY = re.compile(r"daily-(\d{4}-\d\d-\d\d)\.zip")


def members(folder: Path) -> list[Path]:
    """The files that make the store, relative to its folder, by name."""
    patterns = ("store.json", "banks/*.json", "banks/*.files/*", "log/*.jsonl", "conflicts/*.json")
    found = (path for pattern in patterns for path in folder.glob(pattern) if path.is_file())
    return sorted(path.relative_to(folder) for path in found)


def write_backup(folder: Path, target: Path, system: System) -> None:
    """Copy the store into one archive. Raises StoreError when it is not on the drive."""
    packed = io.BytesIO()
    try:
        with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED, compresslevel=1) as archive:
            for name in members(folder):
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
            for name in archive.namelist():
                yield name, archive.read(name)
    except FileNotFoundError:
        raise InputError(f"{path}: there is no such file") from None
    except (zipfile.BadZipFile, zlib.error, EOFError, OSError, NotImplementedError) as failure:
        raise InputError(
            f"{path}: is not a whole backup ({failure}); nothing was changed"
        ) from failure


def _look_over(path: Path, archive: zipfile.ZipFile) -> None:
    for name in archive.namelist():
        if not _MEMBER.fullmatch(name) or ".." in name.split("/"):
            raise InputError(f"{path}: holds {name!r}, which is no part of a store")
    if sum(member.file_size for member in archive.infolist()) > _LIMIT:
        raise InputError(f"{path}: would unpack to more than {_LIMIT >> 30} GB")
    try:
        tables = msgspec.json.decode(archive.read("store.json"))
        version = tables["format"]["1"]["version"]
    except (KeyError, TypeError, msgspec.DecodeError, UnicodeDecodeError):
        raise InputError(f"{path}: holds no store.json that can be read") from None
    if version > FORMAT:
        raise InputError(f"{path}: was written by a newer resieve (format {version})")


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
    found = ((_DAILY.fullmatch(path.name), path) for path in folder.glob("backups/daily-*.zip"))
    return {date.fromisoformat(match[1]): path for match, path in found if match}


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
