"""A response on the drive: ours beside a raw append, SQLite and stock TinyDB, and how it grows."""

import itertools
import os
import sqlite3
import tempfile
from collections.abc import Callable
from pathlib import Path

from tinydb import TinyDB

from banks.library import Given, Library
from banks.store.folder import Store
from banks.store.log import line_of
from domain.responses import Purpose
from domain.verdicts import Verdict
from tests.bench.sizes import REAL_RESPONSES, first_question, responses_of, store_of
from tests.bench.table import Row, exponent, milliseconds

TIMES = 200
RECORD = {
    "what": "response", "id": "0123456789abcdef01234", "at": "2026-06-04T18:00:00Z",
    "question": "book/s1.c1/12", "chosen": ["b"], "seconds": 42.5, "sitting": "0123456789abc",
}  # fmt: skip


def rows() -> list[Row]:
    """Everything on the same drive, one response at a time, medians."""
    sizes = [store_of(times) for times in (1, 3, 10)]
    counts = [responses_of(folder) for folder in sizes]
    ours = [_ours(folder) for folder in sizes]
    with tempfile.TemporaryDirectory(dir=sizes[0].parent) as room:
        raw, sqlite = _raw(Path(room)), _sqlite(Path(room))
        stock = _stock_tinydb(Path(room))
    whole = _whole_door(sizes[0])
    return [
        ("raw append + fsync", raw, "ms", None),
        ("SQLite, synchronous=FULL", sqlite, "ms", None),
        (f"stock TinyDB, {REAL_RESPONSES:,} records there", stock, "ms", None),
        ("our store, real size", ours[0], "ms", None),
        ("our store", ours[0] / raw, "× raw", None),
        ("our store", ours[0] / sqlite, "× SQLite", 2),
        ("our store", ours[0] / stock, "× stock", 0.01),
        ("growth from real size to ten times", exponent(counts, ours), "exponent", 0.1),
        ("through the library: graded, folded and on the drive", whole, "ms", None),
    ]


def _ours(folder: Path) -> float:
    """The store's own table, TinyDB's face and all."""
    store = Store.open(folder)
    numbers = itertools.count()
    table = store.log.append
    taken = milliseconds(lambda: table([RECORD | {"id": f"bench{next(numbers):08}"}]), TIMES)
    store.close()
    _forget(folder)
    return taken


def _whole_door(folder: Path) -> float:
    library = Library.open(folder)
    given = Given(question=first_question(folder), verdict=Verdict.WRONG)
    taken = milliseconds(lambda: library.record([given], Purpose.FREE), TIMES)
    library.close()
    _forget(folder)
    return taken


def _forget(folder: Path) -> None:
    """Take the measured records out again: they are in the file of this machine's own name."""
    for path in folder.glob("log/*.jsonl"):
        if ".bench-" not in path.name:
            path.unlink()


def _raw(room: Path) -> float:
    fd = os.open(room / "raw", os.O_WRONLY | os.O_CREAT | os.O_APPEND)
    line = line_of(RECORD)

    def append() -> None:
        os.write(fd, line)
        os.fsync(fd)

    return milliseconds(append, TIMES)


def _sqlite(room: Path) -> float:
    """In its default journal mode; WAL is a little faster, and both wait for the drive."""
    return min(_sqlite_in(room, mode) for mode in ("DELETE", "WAL"))


def _sqlite_in(room: Path, mode: str) -> float:
    base = sqlite3.connect(room / f"{mode}.db", isolation_level=None)
    base.execute(f"PRAGMA journal_mode={mode}")
    base.execute("PRAGMA synchronous=FULL")
    base.execute("CREATE TABLE log (id INTEGER PRIMARY KEY, at, question, chosen, seconds)")
    values = (RECORD["at"], RECORD["question"], "b", RECORD["seconds"])
    words = "INSERT INTO log (at, question, chosen, seconds) VALUES (?, ?, ?, ?)"
    return milliseconds(lambda: base.execute(words, values), TIMES)


def _stock_tinydb(room: Path) -> float:
    base = TinyDB(room / "stock.json")
    base.insert_multiple(dict(RECORD) for _ in range(REAL_RESPONSES))
    insert: Callable[[], object] = lambda: base.insert(dict(RECORD))  # noqa: E731
    return milliseconds(insert, 3)
