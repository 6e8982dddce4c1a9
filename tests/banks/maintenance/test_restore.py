"""Restoring: the store becomes what the backup holds, and what was there is kept."""

from pathlib import Path

import pytest

from banks.maintenance.backup import write_backup
from banks.maintenance.opening import prepare
from banks.maintenance.restore import restore
from banks.store.filesystem import System
from banks.store.folder import Store
from domain.errors import InputError, StoreBusy
from tests.faults.scenarios import BOOK, SECOND, fill, response, state_of


@pytest.fixture
def backup(tmp_path: Path) -> Path:
    """A backup of a store with another bank and another history."""
    fill(tmp_path / "then", response(7), banks=(SECOND,))
    write_backup(tmp_path / "then", tmp_path / "then.zip", System())
    return tmp_path / "then.zip"


def test_the_store_is_what_it_was_and_the_present_one_is_kept(tmp_path: Path, backup: Path) -> None:
    folder = tmp_path / "store"
    fill(folder, response(1))
    now = state_of(folder)
    aside = restore(folder, backup)
    assert state_of(folder) == state_of(tmp_path / "then")
    assert state_of(aside) == now
    assert not (folder / "restoring").exists()


def test_a_damaged_store_can_be_restored(tmp_path: Path, backup: Path) -> None:
    folder = tmp_path / "store"
    fill(folder, response(1))
    (folder / "store.json").write_bytes(b"\0" * 50)
    aside = restore(folder, backup)
    assert state_of(folder) == state_of(tmp_path / "then")
    assert (aside / "store.json").read_bytes() == b"\0" * 50


def test_restoring_into_an_empty_place_makes_the_store(tmp_path: Path, backup: Path) -> None:
    restore(tmp_path / "new" / "store", backup)
    assert state_of(tmp_path / "new" / "store") == state_of(tmp_path / "then")


def test_restoring_twice_keeps_both_former_states(tmp_path: Path, backup: Path) -> None:
    folder = tmp_path / "store"
    fill(folder, response(1))
    first, second = restore(folder, backup), restore(folder, backup)
    assert first != second
    assert state_of(first).banks == (BOOK,)
    assert state_of(second).banks == (SECOND,)


def test_a_bad_backup_changes_nothing(tmp_path: Path, backup: Path) -> None:
    folder = tmp_path / "store"
    fill(folder, response(1))
    before = state_of(folder)
    backup.write_bytes(backup.read_bytes()[:-40])
    with pytest.raises(InputError, match=r"then\.zip"):
        restore(folder, backup)
    assert state_of(folder) == before


def test_a_store_in_use_is_not_restored(tmp_path: Path, backup: Path) -> None:
    store = Store.open(tmp_path / "store", prepare=prepare)
    with pytest.raises(StoreBusy):
        restore(tmp_path / "store", backup)
    store.close()
