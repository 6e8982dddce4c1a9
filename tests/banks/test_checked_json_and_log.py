"""Our TinyDB classes: the contract with TinyDB, and what each adds to it."""

import inspect
from pathlib import Path

import pytest
import tinydb.table
from tinydb import TinyDB, where

from banks.store.checked_json import SealedStorage, mark_of
from banks.store.filesystem import System
from banks.store.log import EventTable, LogDb, LogStorage
from domain.errors import StoreDamaged, StoreError
from tests.faults.systems import Recording, Refusing


def sealed_db(path: Path) -> TinyDB:
    return TinyDB(path, System(), storage=SealedStorage)


def events(folder: Path) -> EventTable:
    return LogDb(LogStorage(folder, "me", System())).events


RECORD = {"id": "r1", "at": "2026-03-02T09:00:00Z", "what": "note", "text": "Höhe → cirrus"}


def test_tinydb_still_has_the_private_names_we_build_on() -> None:
    table = tinydb.table.Table
    assert list(inspect.signature(table._update_table).parameters) == ["self", "updater"]
    assert list(inspect.signature(table._read_table).parameters) == ["self"]
    assert "self._storage" in inspect.getsource(table.__init__)
    changing = ("insert", "insert_multiple", "update", "update_multiple", "remove")
    assert all("self._update_table(" in inspect.getsource(getattr(table, n)) for n in changing)
    reading = ("search", "get", "__len__", "__iter__")
    assert all("self._read_table(" in inspect.getsource(getattr(table, n)) for n in reading)


def test_a_sealed_storage_does_all_that_tinydb_asks_of_one(tmp_path: Path) -> None:
    db = sealed_db(tmp_path / "x.json")
    first = db.insert({"title": "Höhe", "n": 1})
    db.table("other").insert_multiple([{"n": 2}, {"n": 3}])
    db.update({"n": 9}, doc_ids=[first])
    db.table("other").remove(where("n") == 3)
    again = sealed_db(tmp_path / "x.json")
    assert again.all() == [{"title": "Höhe", "n": 9}]
    assert again.table("other").all() == [{"n": 2}]
    assert again.tables() == {"_default", "other"}
    assert mark_of((tmp_path / "x.json").read_bytes())


def test_a_sealed_file_is_readable_one_document_a_line(tmp_path: Path) -> None:
    db = sealed_db(tmp_path / "x.json")
    db.insert_multiple([{"stem": "Wolke?"}, {"stem": "σ²"}])
    lines = (tmp_path / "x.json").read_text("utf-8").splitlines()
    assert '"1":{"stem":"Wolke?"},' in lines
    assert '"2":{"stem":"σ²"}' in lines


def test_a_value_that_is_no_json_never_reaches_the_file(tmp_path: Path) -> None:
    db = sealed_db(tmp_path / "x.json")
    db.insert({"n": 1})
    before = (tmp_path / "x.json").read_bytes()
    with pytest.raises(TypeError):
        db.insert({"n": object()})
    assert (tmp_path / "x.json").read_bytes() == before
    assert sealed_db(tmp_path / "x.json").insert({"n": 2}) == 2


def test_the_generation_before_is_kept(tmp_path: Path) -> None:
    db = sealed_db(tmp_path / "x.json")
    db.insert({"n": 1})
    before = (tmp_path / "x.json").read_bytes()
    db.insert({"n": 2})
    assert (tmp_path / "x.json.previous").read_bytes() == before


def test_a_link_to_a_bank_elsewhere_stays_a_link(tmp_path: Path) -> None:
    (tmp_path / "real.json").write_bytes(b'{"_default": {"1": {"n": 1}}}')
    (tmp_path / "link.json").symlink_to(tmp_path / "real.json")
    sealed_db(tmp_path / "link.json").insert({"n": 2})
    assert (tmp_path / "link.json").is_symlink()
    assert b'"n":2' in (tmp_path / "real.json").read_bytes()


def test_the_log_is_a_table_that_can_be_searched(tmp_path: Path) -> None:
    table = events(tmp_path)
    assert table.insert(RECORD) == "r1"
    table.insert_multiple([RECORD | {"id": "r2", "text": "b"}, RECORD | {"id": "r3"}])
    again = events(tmp_path)
    assert len(again) == 3
    assert again.get(doc_id="r2") == RECORD | {"id": "r2", "text": "b"}
    assert [record["id"] for record in again.search(where("text") == RECORD["text"])] == [
        "r1",
        "r3",
    ]
    assert again.all()[0].doc_id == "r1"


def test_nothing_in_the_log_can_be_changed_or_removed(tmp_path: Path) -> None:
    table = events(tmp_path)
    table.insert(RECORD)
    before = {path: path.read_bytes() for path in tmp_path.glob("*")}
    for change in (
        lambda: table.update({"text": "x"}), lambda: table.remove(doc_ids=["r1"]),
        lambda: table.truncate(), lambda: table.upsert(RECORD, where("id") == "r1"),
        lambda: LogDb(LogStorage(tmp_path, "me", System())).drop_tables(),
    ):  # fmt: skip
        with pytest.raises(TypeError, match="only added to"):
            change()
    assert {path: path.read_bytes() for path in tmp_path.glob("*")} == before


def test_a_record_costs_one_write_and_one_flush_however_long_the_log(tmp_path: Path) -> None:
    system = Recording()
    storage = LogStorage(tmp_path, "me", system)
    table = LogDb(storage).events
    costs = []
    for number in range(200):
        system.calls.clear()
        table.insert(RECORD | {"id": f"r{number:03}"})
        costs.append(list(system.calls))
    assert costs[1] == costs[-1]
    assert [call for call in costs[-1] if call not in ("stamp", "stamp_of")] == ["write", "fsync"]
    assert (tmp_path / "2026-03.me.jsonl").stat().st_size == 200 * len(
        (tmp_path / "2026-03.me.jsonl").read_bytes().split(b"\n")[0] + b"\n"
    )


def test_every_month_and_machine_has_a_file_of_its_own(tmp_path: Path) -> None:
    events(tmp_path).insert(RECORD)
    LogDb(LogStorage(tmp_path, "you", System())).events.insert_multiple(
        [RECORD | {"id": "r2"}, RECORD | {"id": "r3", "at": "2026-04-01T09:00:00Z"}]
    )
    assert sorted(path.name for path in tmp_path.glob("*")) == [
        "2026-03.me.jsonl", "2026-03.you.jsonl", "2026-04.you.jsonl",
    ]  # fmt: skip
    assert len(events(tmp_path)) == 3


def test_a_document_says_what_it_is_before_and_after_it_was_read(tmp_path: Path) -> None:
    path = tmp_path / "x.json"
    document = SealedStorage(path)
    assert (document.mark, document.edited) == ("", False)
    document.write({"t": {"1": {"n": 1}}})
    mark = document.mark
    path.write_bytes(path.read_bytes() + b"\n")
    again = SealedStorage(path)
    assert again.read() == {"t": {"1": {"n": 1}}}
    assert (again.mark, again.edited) == ("", True)
    again.write({"t": {"1": {"n": 1}}})
    assert (again.mark, again.edited) == (mark, False)


def test_what_could_not_be_understood_is_told_and_never_overwritten(tmp_path: Path) -> None:
    path = tmp_path / "x.json"
    document = SealedStorage(path)
    document.write({"t": {}})
    assert document.read() == {"t": {}}
    path.write_bytes(b"{")
    with pytest.raises(StoreDamaged, match="it was left untouched; `resieve check`"):
        document.read()
    document.path.with_name("x.json.previous").write_bytes(b"")
    with pytest.raises(StoreDamaged, match=r"the state before is in x\.json\.previous"):
        document.read()
    for change in (lambda: document.write({}), lambda: document.move_away(tmp_path / "y")):
        with pytest.raises(StoreDamaged, match="it is not overwritten"):
            change()
    assert path.read_bytes() == b"{"


def test_a_change_that_the_drive_did_not_confirm_may_be_saved_again(tmp_path: Path) -> None:
    system = Refusing()
    document = SealedStorage(tmp_path / "x.json", system)
    document.write({"t": {"1": {"n": 1}}})
    for call in ("fsync_folder", "replace"):
        system.names = [call]
        with pytest.raises(StoreError, match=r"please save again|could not be saved"):
            document.write({"t": {"1": {"n": 2}}})
        document.write({"t": {"1": {"n": 2}}})
    assert SealedStorage(tmp_path / "x.json").read() == {"t": {"1": {"n": 2}}}


def test_a_document_moved_away_is_gone_from_its_folder_for_good(tmp_path: Path) -> None:
    system = Recording()
    document = SealedStorage(tmp_path / "x.json", system)
    document.write({"t": {}})
    system.calls.clear()
    document.move_away(tmp_path / "away/y.json")
    assert system.calls[-2:] == ["replace", "fsync_folder"]
    assert (document.mark, document.read()) == ("", None)
    document.write({"t": {"1": {}}})
    assert SealedStorage(tmp_path / "away/y.json").read() == {"t": {}}


def test_a_document_that_cannot_be_asked_about_is_unchanged(tmp_path: Path) -> None:
    system = Refusing()
    document = SealedStorage(tmp_path / "x.json", system)
    for call, change in (
        ("stamp", lambda: document.write({})),
        ("make_folder", lambda: document.move_away(tmp_path / "a/y.json")),
    ):
        system.names = [call]
        with pytest.raises(StoreError, match=r"could not be \w+ \(input/output error\)"):
            change()
    system.names = ["stamp"]
    with pytest.raises(StoreDamaged, match=r"could not be read \(input/output error\)"):
        document.read()
