"""Records that a backup has and the log has not any more, found and brought back by union."""

from pathlib import Path

from msgspec import Struct

from banks.maintenance.backup import daily_backups, read_backup
from banks.store.files import list_files
from banks.store.filesystem import System
from banks.store.folder import Store
from banks.store.log import checked_lines
from domain.errors import InputError
from domain.text import counted


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
