"""A store as it was when a backup was made; what is there now is moved aside, never deleted.

The files are first unpacked beside the present ones, and only when all are on the drive do they
change places. A kill or power cut in between is finished at the next opening: the store is as it
was before or as the backup has it.
"""

from contextlib import suppress
from pathlib import Path

from banks.clock import local_now
from banks.maintenance.backup import free_name, members, read_backup
from banks.store.files import discard, make_folder, replace_file, why
from banks.store.filesystem import System
from banks.store.lock import WriterLock
from domain.errors import StoreError

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
