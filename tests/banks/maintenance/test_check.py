"""`check` says what is wrong, where, and what to do; a sound store is well."""

import os
import shutil
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

import pytest
from msgspec.structs import replace

from banks.maintenance.backup import back_up_daily
from banks.maintenance.check import CheckReport, check
from banks.store.filesystem import System
from banks.store.folder import Store
from domain.errors import InputError
from domain.questions import Figure
from tests.faults.scenarios import BOOK, START, fill, response

ONE = BOOK.questions["book/clouds.high/1"]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """A sound store with a daily copy."""
    fill(tmp_path / "store", response(1), response(2))
    back_up_daily(tmp_path / "store", START.date(), System())
    return tmp_path / "store"


def looked_at(folder: Path) -> CheckReport:
    return check(folder, START)


def test_a_sound_store_is_well_and_counted(folder: Path) -> None:
    report = looked_at(folder)
    assert report.is_well
    assert report.findings == []
    assert (report.banks, report.questions, report.records) == (1, 4, 2)
    assert report.newest_backup == "2026-03-02"


def overwrite(pattern: str, change: Callable[[bytes], bytes]) -> Callable[[Path], object]:
    def do(folder: Path) -> None:
        path = next(folder.glob(pattern))
        path.write_bytes(change(path.read_bytes()))

    return do


def save(question: object) -> Callable[[Path], object]:
    def do(folder: Path) -> None:
        store = Store.open(folder)
        store.load_banks()
        store.save_bank(BOOK.with_questions([question]))
        store.close()

    return do


def swap(pattern: str, old: bytes, new: bytes) -> Callable[[Path], object]:
    return overwrite(pattern, lambda content: content.replace(old, new))


def cut(pattern: str) -> Callable[[Path], object]:
    return overwrite(pattern, lambda content: content[:-9])


def a_file_for_the_folder(name: str) -> Callable[[Path], object]:
    def harm(folder: Path) -> None:
        shutil.rmtree(folder / name)
        (folder / name).write_bytes(b"")

    return harm


WRONG: list[tuple[Callable[[Path], object], str, str]] = [
    (overwrite("store.json", lambda _: b""), "store.json", "can't be understood"),
    (lambda folder: (folder / "store.json").unlink(), "store.json", "is missing"),
    (swap("store.json", b'"1":{}\n', b'"1":{"turn_hour":23}\n'), "store.json", "study day starts"),
    (cut("banks/*.json"), "banks/book.json", "can't be understood"),
    (swap("banks/*.json", b"Which", b"What"), "banks/book.json", "edited"),
    (save(replace(ONE, answer_key=("z",), options=BOOK.questions["book/clouds.high/4"].options)),
     "banks/book.json", "none of its options"),
    (save(replace(ONE, number=2)), "banks/book.json", "the same number"),
    (save(replace(ONE, chapter="lost")), "banks/book.json", "which does not exist"),
    (save(replace(ONE, figures=(Figure("halo.png"),))), "banks/book.json", "picture 'halo.png'"),
    (swap("log/*", b"record-0001", b"record-0007"), "log/", "line 1: the check sum"),
    (cut("log/*"), "log/", "line 2: torn"),
    (lambda folder: (folder / "restoring").mkdir(), "restoring", "interrupted"),
    (a_file_for_the_folder("banks"), "banks", "could not be read (not a directory)"),
    (a_file_for_the_folder("log"), "log", "could not be read (not a directory)"),
    (cut("backups/*"), "backups/daily-2026-03-02.zip", "not a whole backup"),
    (swap("banks/*.json", b"Which", b"Why: what"), "banks/book.json", "edited outside"),
]  # fmt: skip


@pytest.mark.parametrize(
    ("harm", "file", "words"), WRONG, ids=[f"{file} {words}" for _, file, words in WRONG]
)
def test_what_is_wrong_is_named_with_a_remedy(
    folder: Path, harm: Callable[[Path], object], file: str, words: str
) -> None:
    harm(folder)
    report = looked_at(folder)
    assert not report.is_well
    faults = [finding for finding in report.findings if finding.wrong]
    assert any(fault.file.startswith(file) and words in fault.problem for fault in faults), faults
    assert all(fault.remedy and "\n" not in fault.problem for fault in faults)
    assert all(fault.problem and str(folder) not in fault.problem for fault in faults)


def conflict(folder: Path) -> None:
    (folder / "conflicts").mkdir()
    (folder / "conflicts/book.json").write_bytes(b"{}")


NOTES: list[tuple[Callable[[Path], object], str]] = [
    (lambda folder: (folder / "store.json.77.new").write_bytes(b""), "cut short"),
    (lambda folder: (folder / "log/x.jsonl.torn-01").write_bytes(b""), "never finished"),
    (lambda folder: (folder / "store (conflict).json").write_bytes(b"{}"), "file-sync program"),
    (lambda folder: [path.unlink() for path in folder.glob("backups/*")], "no daily backup"),
    (lambda folder: (folder / "banks/book.json").unlink(), "in no bank"),
    (swap("store.json", b'"1":{}\n', b'"1":{"turn_hour":4}\n'), "edited outside"),
    (swap("store.json", b'"version":2', b'"version":1'), "older format 1"),
    (conflict, "versions not in force"),
]


@pytest.mark.parametrize(("harm", "words"), NOTES, ids=[words for _, words in NOTES])
def test_what_is_only_worth_knowing_leaves_the_store_well(
    folder: Path, harm: Callable[[Path], object], words: str
) -> None:
    harm(folder)
    report = looked_at(folder)
    assert report.is_well
    assert any(words in finding.problem for finding in report.findings)


def test_a_record_more_than_a_day_ahead_is_told(folder: Path) -> None:
    a_day_before = START + timedelta(minutes=2, days=-1)  # the newer record's minute
    assert check(folder, a_day_before).findings == []
    (finding,) = check(folder, a_day_before - timedelta(minutes=1)).findings
    assert finding.problem.startswith("1 record is in the future")
    assert not finding.wrong


def test_the_remedy_for_a_bank_names_the_state_before_where_there_is_one(folder: Path) -> None:
    remedies = []
    for has_previous in (False, True):
        if has_previous:
            (folder / "banks/book.json.previous").write_bytes(b"{}")
        (folder / "banks/book.json").write_bytes(b"")
        remedies += [each.remedy for each in looked_at(folder).findings if each.wrong]
    assert "restore" in remedies[0]
    assert "previous" not in remedies[0]
    assert "copy book.json.previous over it" in remedies[1]


def test_nothing_is_counted_while_a_restore_is_under_way(folder: Path) -> None:
    (folder / "restoring").mkdir()
    report = looked_at(folder)
    assert (report.banks, report.questions, report.records) == (0, 0, 0)


def test_a_folder_in_the_place_of_a_log_is_named(folder: Path) -> None:
    (folder / "log/odd.jsonl").mkdir()
    assert any(each.file == "log/odd.jsonl" for each in looked_at(folder).findings if each.wrong)


def test_checking_changes_nothing(folder: Path) -> None:
    before = {path: os.stat(path).st_mtime_ns for path in sorted(folder.rglob("*"))}
    looked_at(folder)
    assert {path: os.stat(path).st_mtime_ns for path in sorted(folder.rglob("*"))} == before


def test_where_there_is_no_store_that_is_said(tmp_path: Path) -> None:
    with pytest.raises(InputError, match="there is no store"):
        looked_at(tmp_path / "nowhere")
