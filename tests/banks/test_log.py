"""The log's lines: which are records, which are not and why, where they lie, and their ids."""

import errno
import platform
import time
import uuid
import zlib
from datetime import UTC, datetime
from pathlib import Path

import msgspec
import pytest
from msgspec.structs import replace
from tinydb import where

from banks.store import log
from banks.store.checked_json import BOM
from banks.store.filesystem import System
from banks.store.log import (
    Checked,
    Damage,
    LocatedRecord,
    LogDb,
    LogStorage,
    RecordIds,
    Sound,
    checked_lines,
    line_of,
    located_records,
    read_log,
    record_in,
    writer_name,
)
from domain.responses import FIRST_YEAR, LAST_YEAR, Response
from tests.faults.scenarios import response
from tests.faults.systems import Recording

RECORDS = [response(n) for n in range(1, 6)]
NO_YEAR = "its time is of no year that can be"


def line(record: Response) -> bytes:
    return line_of(msgspec.to_builtins(record))


def in_year(year: int) -> Response:
    return replace(RECORDS[0], at=datetime(year, 1, 1, tzinfo=UTC))


LINES = [line(record) for record in RECORDS]
UNKNOWN = line_of({"what": "prophecy", "id": "r1"})


def with_sum(body: bytes) -> bytes:
    """A line whose check sum matches whatever its body is."""
    return body + b',"sum":"%08x"}\n' % zlib.crc32(body)


@pytest.mark.parametrize("portion", [1, len(LINES[0]) + 1, 1 << 18])
def test_of_what_is_damaged_each_line_is_named_and_the_rest_is_read(
    monkeypatch: pytest.MonkeyPatch, portion: int
) -> None:
    monkeypatch.setattr(log, "_PORTION", portion)
    bad = LINES[1].replace(b"record-0002", b"record-0009")
    odd = [line(in_year(1)), UNKNOWN]
    read = read_log(b"".join([LINES[0], bad, b"\n", LINES[2], *odd, LINES[3], LINES[4][:-20]]))
    assert read.records == [RECORDS[0], RECORDS[2], RECORDS[3]]
    assert [damage.line for damage in read.damaged] == [2, 5, 6, 8]
    reasons = [damage.reason for damage in read.damaged]
    assert reasons[:2] == ["the check sum does not match", NO_YEAR]
    assert "not a record this resieve knows" in reasons[2]
    assert reasons[3] == "torn: the line was never finished"
    assert read.sound == Sound(records=3)


@pytest.mark.parametrize("portion", [1, 1 << 18])
@pytest.mark.parametrize("spoil", [lambda c: c, lambda c: BOM + c.replace(b"\n", b"\r\n")])
def test_a_sound_log_is_read_whole_whatever_an_editor_did_to_its_line_ends(
    monkeypatch: pytest.MonkeyPatch, portion: int, spoil: object
) -> None:
    monkeypatch.setattr(log, "_PORTION", portion)
    content = spoil(b"".join(LINES))  # type: ignore[operator]
    read = read_log(content)
    assert (read.records, read.damaged) == (RECORDS, [])
    assert read.sound == Sound(len(content), zlib.crc32(content), 5)
    assert read_log(content, read.sound) == read
    assert read_log(content + b"x", read.sound).records == RECORDS
    assert read_log(b"").sound == Sound()


def test_only_years_that_can_be_are_read() -> None:
    possible = [in_year(year) for year in (FIRST_YEAR, LAST_YEAR)]
    impossible = [in_year(year) for year in (FIRST_YEAR - 1, LAST_YEAR + 1)]
    for record in possible:
        assert read_log(line(record)).records == [record]
        assert record_in(line(record)[:-1]) == record
        assert len(located_records(line(record)) or []) == 1
        assert [checked.id for checked in checked_lines(line(record))] == [record.id]
    for record in impossible:
        assert read_log(line(record)).damaged == [Damage(1, NO_YEAR)]
        assert record_in(line(record)[:-1]) is None
        assert located_records(line(record)) is None
        [checked] = checked_lines(line(record))
        assert (checked.id, checked.problem) == ("", NO_YEAR)


def test_lines_of_unknown_origin_are_judged_one_by_one() -> None:
    content = BOM + b"\r\n".join([LINES[0][:-1], b"", b"x", LINES[1][:-1]]) + b"\r\n"
    assert list(checked_lines(content)) == [
        Checked(1, LINES[0][:-1], id="record-0001"),
        Checked(3, b"x", problem="the check sum does not match"),
        Checked(4, LINES[1][:-1], id="record-0002"),
    ]


def test_records_are_located_from_any_line_on() -> None:
    content = b"".join(LINES)
    located = located_records(content) or []
    assert [held.record for held in located] == RECORDS
    for held, expected in zip(located, LINES, strict=True):
        assert content[held.start : held.start + held.length] + b"\n" == expected
    begin = located[3].start
    assert located_records(content, begin) == located[3:]
    assert located[4] == LocatedRecord(RECORDS[4], len(b"".join(LINES[:4])), len(LINES[4]) - 1)
    assert located_records(content, len(content)) == located_records(b"") == []


@pytest.mark.parametrize(
    "content",
    [
        LINES[0][:-1],
        BOM + LINES[0],
        LINES[0].replace(b"\n", b"\r\n"),
        LINES[0] + b"\n",
        LINES[0] + LINES[1].replace(b"record-0002", b"record-0009"),
        UNKNOWN,
        LINES[0] + line(in_year(1)),
        with_sum(LINES[0][:-1] + b" " + LINES[1][:-19]),
    ],
    ids=["cut", "mark", "line end", "empty line", "sum", "unknown", "year", "two in a line"],
)
def test_nothing_is_located_where_a_line_is_not_as_it_was_written(content: bytes) -> None:
    assert located_records(content) is None


def test_one_line_is_a_record_or_none() -> None:
    assert record_in(LINES[0][:-1]) == RECORDS[0]
    assert record_in(LINES[0].replace(b"0001", b"0002")[:-1]) is None
    assert record_in(UNKNOWN[:-1]) is None


def test_a_file_that_cannot_be_read_is_damaged_as_a_whole(tmp_path: Path) -> None:
    class Refusing(System):
        def read(self, path: Path) -> bytes:
            raise PermissionError(errno.EACCES, "Permission denied")

    read = LogStorage(tmp_path, system=Refusing()).read_file(tmp_path / "x")
    assert read.damaged == [Damage(0, "could not be read (permission denied)")]
    assert read.records == []


def test_the_storage_numbers_records_from_one_and_lets_its_files_go(tmp_path: Path) -> None:
    system = Recording()
    storage = LogStorage(tmp_path, "me", system)
    assert storage.read() is None
    storage.append([{"id": "b", "at": "2026-03-01"}, {"id": "a", "at": "2026-02-01"}])
    assert storage.read() == {
        "log": {"1": {"id": "a", "at": "2026-02-01"}, "2": {"id": "b", "at": "2026-03-01"}}
    }
    assert sorted(storage.acknowledged()) == ["2026-02.me.jsonl", "2026-03.me.jsonl"]
    assert "close" not in system.calls[-10:]
    storage.close()
    assert system.calls[-2:] == ["close", "close"]
    assert storage.acknowledged() == {}


def test_a_search_sees_what_was_added_since_the_same_search(tmp_path: Path) -> None:
    table = LogDb(LogStorage(tmp_path)).events
    for count in (1, 2):
        table.insert({"id": f"r{count}", "at": "2026-03-02T09:00:00Z", "text": "b"})
        assert len(table.search(where("text") == "b")) == count


@pytest.mark.parametrize(
    ("node", "name"),
    [("Ömer-PC_07.local.lan", "merpc07local"), ("vm", "vm"), ("", "here"), ("Ω-_", "here")],
)
def test_a_machine_is_named_by_its_letters_and_address(
    monkeypatch: pytest.MonkeyPatch, node: str, name: str
) -> None:
    monkeypatch.setattr(platform, "node", lambda: node)
    monkeypatch.setattr(uuid, "getnode", lambda: 123)
    assert writer_name() == f"{name}-{zlib.crc32(b'123'):08x}"


def test_ids_sort_by_time_and_are_never_given_twice(monkeypatch: pytest.MonkeyPatch) -> None:
    nanoseconds = iter([0, 1_772_442_000_123_999_999, 1_772_442_000_123_999_999, 5, 10**19, 0])
    monkeypatch.setattr(time, "time_ns", lambda: next(nanoseconds))
    ids = RecordIds()
    given = [ids.new() for _ in range(5)]
    now = 1_772_442_000_123
    assert [name[:-6] for name in given] == [
        f"{0:011x}0001", f"{now:011x}0000", f"{now:011x}0001", f"{now:011x}0002",
        f"{10**13:011x}0000",
    ]  # fmt: skip
    assert {len(name) for name in given} == {21}
    assert {name[-6:] for name in given} == {given[0][-6:]}
    assert RecordIds().new()[-6:] != given[0][-6:]
