"""The store's format: which there are, and the way from an older one to the present.

An upgrade is one step from format n to n + 1. It gets the folder and the seam, changes files by
`replace_file` alone, and may be killed and run again: what it finds done it leaves as it is.
The format is written into store.json after each step, so a store is never half of two formats
without saying so, and a copy of the whole is in backups/ before the first step.
"""

from collections.abc import Callable
from pathlib import Path
from typing import Any

from banks.store.checked_json import SealedStorage
from banks.store.filesystem import System
from domain.errors import StoreDamaged, StoreNewer

FORMAT = 2
"""The present format; it grows when an older resieve could not read a newer store."""

READABLE = 1
"""The oldest format that is read as it is, so that looking needs no upgrade."""

Upgrade = Callable[[Path, System], None]


def _leave_format_1(folder: Path, system: System) -> None:
    """Nothing to change: `domain.responses` reads records of format 1 as what they meant."""


UPGRADES: dict[int, Upgrade] = {1: _leave_format_1}
"""The step that leaves each older format."""


def format_of(document: SealedStorage) -> int | None:
    """The format that store.json names; None when there is no store.json.

    Raises StoreDamaged when it names none, StoreNewer when this resieve doesn't know it.
    """
    tables = document.read()
    if tables is None:
        return None
    version = tables.get("format", {}).get("1")
    version = version.get("version") if isinstance(version, dict) else None
    if type(version) is not int or (version < FORMAT and version not in UPGRADES):
        raise StoreDamaged(
            f"{document.path}: names no format that there is; it was left untouched; "
            "`resieve check` says more"
        )
    if version > FORMAT:
        raise StoreNewer(
            f"{document.path}: was written by a newer resieve (format {version}; this one knows "
            f"{FORMAT}); please update"
        )
    return version


def upgrade(document: SealedStorage, version: int, system: System) -> None:
    """Take the store from an older format to the present one, step by step."""
    while version < FORMAT:
        UPGRADES[version](document.path.parent, system)
        version += 1
        tables: dict[str, Any] = document.read() or {}
        document.write(tables | {"format": {"1": {"version": version}}})
