"""What comes before a store is opened for writing: a restore is finished, the format upgraded."""

from pathlib import Path

from banks.store.checked_json import SealedStorage
from banks.store.filesystem import System
from banks.store.formats import FORMAT, format_of, upgrade


def prepare(folder: Path, system: System) -> list[str]:
    """For `Store.open`: an older format is upgraded after a copy of the whole was made.

    Raises StoreError when that can't be done; the store is then as it was.
    """
    if system.stamp(folder / "restoring") is not None:
        from banks.maintenance.backup import finish_restoring  # a start needs no archives

        finish_restoring(folder, system)
    document = SealedStorage(folder / "store.json", system)
    version = format_of(document)
    if version is None or version == FORMAT:
        return []
    from banks.maintenance.backup import backup_before

    kept = backup_before(folder, f"format-{FORMAT}", system)
    upgrade(document, version, system)
    return [f"{folder}: brought up to date; the state before is in {kept}"]
