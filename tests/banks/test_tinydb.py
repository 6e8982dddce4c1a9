"""The store is TinyDB's: a stock TinyDB opens it with our storages, and answers and changes."""

from pathlib import Path
from typing import Any

import msgspec
import pytest
from msgspec.structs import replace
from tinydb import TinyDB, where
from tinydb.table import Table

from banks.library import Given, Library
from banks.store.checked_json import SealedStorage
from banks.store.log import LogStorage
from domain.responses import Purpose
from tests.builders import FakeClock, bank, full, library

NAME = "observer/wind.force/{}"
QUESTIONS = [full(n, f"Which is force {n}?", ["calm", "gale"], "a") for n in (1, 2, 3)]
BOOK = bank("Observer", {"Wind": {"Force": QUESTIONS}})


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A store with a bank and two responses, closed."""
    opened = library(tmp_path, BOOK)
    for number, chosen in ((1, "a"), (2, "b")):
        given = Given(question=NAME.format(number), chosen=(chosen,))
        opened.record([given], Purpose.REVISION)
    opened.close()
    return tmp_path


def plain(value: Any) -> Any:
    """The value as JSON has it."""
    return msgspec.json.decode(msgspec.json.encode(value))


def questions(folder: Path) -> Table:
    """The questions of the bank's file, by their own ids."""
    table = TinyDB(folder / "banks" / "observer.json", storage=SealedStorage).table("questions")
    table.document_id_class = str
    return table


def test_a_stock_tinydb_answers_a_query_on_a_bank(folder: Path) -> None:
    [match] = questions(folder).search(where("stem").matches(".*force 2"))
    assert (match.doc_id, match["number"]) == (NAME.format(2), 2)


def test_a_stock_tinydb_answers_a_query_on_the_log(folder: Path) -> None:
    log = TinyDB(folder / "log", storage=LogStorage).table("log")
    assert [document["question"] for document in log.search(where("chosen") == ["b"])] == [
        NAME.format(2)
    ]
    with pytest.raises(TypeError, match="only added to"):
        log.truncate()


def test_a_stock_tinydb_reads_settings_and_format(folder: Path) -> None:
    db = TinyDB(folder / "store.json", storage=SealedStorage)
    assert db.table("format").get(doc_id=1) == {"version": 2}
    assert db.table("settings").get(doc_id=1) == {}


def test_a_setting_that_is_a_default_again_is_not_kept(folder: Path) -> None:
    opened = Library.open(folder, FakeClock())
    usual = opened.settings
    opened.save_settings(replace(usual, turn_hour=5))
    opened.save_settings(usual)
    opened.close()
    db = TinyDB(folder / "store.json", storage=SealedStorage)
    assert db.table("settings").get(doc_id=1) == {}
    assert Library.open(folder, FakeClock(), read_only=True).settings == usual


def test_what_a_stock_tinydb_changes_is_read_and_sealed(folder: Path) -> None:
    questions(folder).update({"reference": "page 4"}, where("number") == 3)
    opened = Library.open(folder, FakeClock(), read_only=True)
    assert opened.store.notices == []
    assert opened.question(NAME.format(3)).reference == "page 4"


def test_the_direct_decode_gives_what_tinydb_gives(folder: Path) -> None:
    by_tinydb = {str(document.doc_id): dict(document) for document in questions(folder).all()}
    opened = Library.open(folder, FakeClock(), read_only=True)
    assert plain(dict(opened.banks["observer"].questions)) == by_tinydb
    log = TinyDB(folder / "log", storage=LogStorage).table("log").all()
    records = sorted(opened.store.records(), key=lambda record: record.id)
    assert plain(records) == [dict(document) for document in log]
