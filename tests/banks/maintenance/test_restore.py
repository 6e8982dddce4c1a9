"""Restoring: the store becomes what the backup holds, and what was there is kept."""

import errno
import json
import os
import zipfile
from pathlib import Path
from typing import Any

import pytest

from banks.maintenance.backup import restore, write_backup
from banks.maintenance.opening import prepare
from banks.store.filesystem import System
from banks.store.folder import Store
from domain.errors import InputError, StoreBusy, StoreError, StoreReadOnly
from tests.faults.scenarios import BOOK, SECOND, fill, response, state_of
from tests.faults.systems import Failing, Watched


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
    (folder / "restoring/banks").mkdir(parents=True)
    (folder / "restoring/banks/left.json").write_bytes(b"of a restore that was cut short")
    aside = restore(folder, backup)
    assert state_of(folder) == state_of(tmp_path / "then")
    assert state_of(aside) == now
    assert not (folder / "restoring").exists()
    assert not (folder / "banks/left.json").exists()


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


def rewritten(backup: Path, name: str, content: bytes) -> Path:
    """The backup with this file in the place of its own."""
    with zipfile.ZipFile(backup) as archive:
        parts = {member: archive.read(member) for member in archive.namelist()}
    with zipfile.ZipFile(backup, "w", zipfile.ZIP_DEFLATED) as archive:
        for member, kept in (parts | {name: content}).items():
            archive.writestr(member, kept)
    return backup


VERSIONS = (0, -5, "9", None, 99)


def document(**tables: object) -> bytes:
    made = {"format": {"1": {"version": 1}}, "settings": {"1": {}}} | tables
    return json.dumps(made).encode()


@pytest.mark.parametrize(
    ("name", "content"),
    [
        *(
            ("store.json", document(format={"1": {"version": version}}))
            for version in (0, -5, "9", None, 99)
        ),
        ("store.json", document(format={})),
        ("store.json", b"[]"),
        ("store.json", b"\xff"),
        ("store.json", b"[" * 100_000),
        ("store.json", document(settings={"1": {"plan": 7}})),
        ("banks/second.json", b"{}"),
        ("banks/second.json", b'{"bank": {}, "subjects": {}, "questions": {}}'),
        (
            "banks/second.json",
            b'{"bank": {"1": {"id": "x", "title": "X"}}, "subjects": {}, "questions": {}}',
        ),
        ("banks/third.json", b"\0" * 99),
        ("../out.json", b"{}"),
        ("banks/second.files/../../x", b""),
    ],
)
def test_a_backup_that_makes_no_store_is_refused_and_leaves_nothing(
    tmp_path: Path, backup: Path, name: str, content: bytes
) -> None:
    folder = tmp_path / "store"
    fill(folder, response(1))
    before = {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}
    with pytest.raises(InputError, match=r"then\.zip"):
        restore(folder, rewritten(backup, name, content))
    assert {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()} == before


def test_a_file_that_unpacks_beyond_all_bounds_is_refused(
    tmp_path: Path, backup: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("banks.maintenance.backup.LARGEST_FILE", 4_000)
    rewritten(backup, "log/2026-03.bomb.jsonl", b"x" * 1_000_000)
    with pytest.raises(InputError, match="unpacks to more"):
        restore(tmp_path / "store", backup)


def test_an_encrypted_backup_is_refused(tmp_path: Path, backup: Path) -> None:
    content = bytearray(backup.read_bytes())
    for mark, offset in ((b"PK\x03\x04", 6), (b"PK\x01\x02", 8)):
        place = -1
        while (place := content.find(mark, place + 1)) >= 0:
            content[place + offset] |= 1
    backup.write_bytes(content)
    with pytest.raises(InputError, match="encrypted"):
        restore(tmp_path / "store", backup)


@pytest.mark.parametrize("number", range(1, 40))
def test_a_restore_that_fails_leaves_nothing_behind(
    tmp_path: Path, backup: Path, number: int
) -> None:
    folder = tmp_path / "store"
    fill(folder, response(1))
    system = Failing(number, errno.ENOSPC)
    try:
        restore(folder, backup, system)
    except StoreError:
        if not (folder / "restoring" / "ready").exists():
            assert not (folder / "restoring").exists()
            library = Store.open(folder, read_only=True)
            assert {record.id for record in library.records()} == {"record-0001"}


class Moves(Watched):
    """Remembers what happened to which path."""

    def __init__(self) -> None:
        self.calls: list[tuple[str, Path]] = []

    def about_to(self, name: str, *arguments: Any) -> None:
        if arguments and isinstance(arguments[0], Path):
            self.calls.append((name, arguments[0]))


def test_every_folder_that_files_left_or_came_to_is_flushed_after_it(
    tmp_path: Path, backup: Path
) -> None:
    folder, system = tmp_path / "store", Moves()
    fill(folder, response(1))
    aside = restore(folder, backup, system)
    last = max(place for place, (name, _) in enumerate(system.calls) if name == "replace")
    flushed = {path for name, path in system.calls[last:] if name == "fsync_folder"}
    for name in ("", "log", "banks"):
        assert {folder / name, folder / "restoring" / name} <= flushed
    flushed = {path for name, path in system.calls if name == "fsync_folder"}
    assert {aside, aside / "log", aside / "banks"} <= flushed


class NeverReady(Moves):
    """The drive does not confirm that all is unpacked."""

    def fsync_folder(self, path: Path) -> None:
        if (path / "ready").exists():
            raise OSError(errno.EIO, "Input/output error")


def test_a_restore_that_is_given_up_is_first_of_all_not_ready_any_more(
    tmp_path: Path, backup: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    by_name = lambda folder: iter(sorted(map(folder.joinpath, os.listdir(folder))))  # noqa: E731
    monkeypatch.setattr(Path, "iterdir", by_name)  # so that it is not first by chance
    folder, system = tmp_path / "store", NeverReady()
    fill(folder, response(1))
    with pytest.raises(StoreError, match="has not confirmed"):
        restore(folder, backup, system)
    removed = [path for name, path in system.calls if name == "unlink" and path.suffix != ".new"]
    assert removed[0] == folder / "restoring" / "ready"
    assert not (folder / "restoring").exists()
    restore(folder, backup)  # the lock was let go


def test_reading_goes_on_beside_an_unpacked_restore(tmp_path: Path) -> None:
    folder = tmp_path / "store"
    fill(folder, response(1))
    (folder / "restoring" / "banks").mkdir(parents=True)
    assert len(Store.open(folder, read_only=True).records()) == 1
    (folder / "restoring" / "ready").write_bytes(b"replaced-2026-03-02")
    with pytest.raises(StoreReadOnly, match="being restored"):
        Store.open(folder, read_only=True)
