"""A bank's file that somebody edited: read as it is, with what is odd about it told."""

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from banks.store.bankfile import load_bank, save_bank
from banks.store.checked_json import SealedStorage, sealed
from domain.errors import StoreDamaged
from tests.faults.scenarios import BOOK

FIRST, LAST = "book/clouds.high/1", "book/clouds.high/4"
EDITED = "was edited outside resieve since it was saved"
Tables = dict[str, Any]


def saved(folder: Path) -> SealedStorage:
    document = SealedStorage(folder / "book.json")
    save_bank(document, BOOK)
    return SealedStorage(folder / "book.json")


def edit(document: SealedStorage, change: Callable[[Tables], object]) -> None:
    tables = json.loads(document.path.read_bytes())
    del tables["seal"]
    change(tables)
    document.path.write_text(json.dumps(tables))


def question(tables: Tables, name: str, **fields: object) -> None:
    tables["questions"][name] |= fields


def rename(tables: Tables, name: str, new: str, own: str) -> None:
    tables["questions"][new] = tables["questions"].pop(name) | {"id": own}


def test_what_resieve_saved_is_read_without_a_word(tmp_path: Path) -> None:
    assert load_bank(saved(tmp_path)) == (BOOK, [])


@pytest.mark.parametrize(
    ("change", "problems"),
    [
        (lambda t: None, []),
        (
            lambda t: question(t, FIRST, chapter="gone"),
            [f"question {FIRST!r} refers to chapter 'gone', which does not exist"],
        ),
        (
            lambda t: question(t, FIRST, number=2),
            [f"questions {FIRST!r} and 'book/clouds.high/2' have the same number"],
        ),
        (lambda t: question(t, FIRST, number=2, retired=True), []),
        (
            lambda t: rename(t, LAST, LAST, FIRST),
            [f"question {LAST!r} is listed under another name than its own ({FIRST!r})"],
        ),
        (
            lambda t: rename(t, LAST, "other/4", "other/4"),
            ["question 'other/4' is listed under another name than its own ('other/4')"],
        ),
        (
            lambda t: t["questions"][LAST]["options"][1].update(id="a"),
            [f"question {LAST!r} has two options of the same letter"],
        ),
        (
            lambda t: question(t, LAST, key=["a", "x", "y"]),
            [f"question {LAST!r} has a key that is none of its options ('x')"],
        ),
        (lambda t: question(t, LAST, key=["7"], kind="numeric"), []),
        (lambda t: question(t, FIRST, key=["c"]), []),
        (lambda t: t["questions"].pop(LAST), ["3 questions where 4 were saved"]),
    ],
)
def test_what_is_odd_about_an_edited_bank_is_told(
    tmp_path: Path, change: Callable[[Tables], object], problems: list[str]
) -> None:
    document = saved(tmp_path)
    edit(document, change)
    bank, notices = load_bank(document)
    assert notices == [f"{document.path}: {words}" for words in (EDITED, *problems)]
    assert len(bank.questions) == (3 if "where" in str(problems) else 4)


def test_what_could_drive_a_terminal_is_left_out_of_an_edited_bank_and_stays_in_its_file(
    tmp_path: Path,
) -> None:
    document = saved(tmp_path)
    edit(document, lambda t: question(t, LAST, stem="Which\x1b[2J?", number=9))
    bank, _ = load_bank(document)
    assert bank.questions[LAST].number == 9
    assert bank.questions[LAST].options == BOOK.questions[LAST].options
    assert "\x1b" not in bank.questions[LAST].stem
    assert bank.questions[LAST].stem.startswith("Which")
    assert r"\u001b[2J" in document.path.read_text()


@pytest.mark.parametrize("tables", [{}, {"bank": {}}, {"bank": {"1": {"id": "x", "title": "X"}}}])
def test_a_file_that_is_not_the_bank_of_its_name_is_none(tmp_path: Path, tables: Tables) -> None:
    document = SealedStorage(tmp_path / "book.json")
    document.path.write_bytes(sealed({"subjects": {}, "questions": {}, "bank": {}} | tables))
    with pytest.raises(StoreDamaged, match="is not the bank its name says; it was left untouched"):
        load_bank(document)


def test_what_a_file_leaves_out_is_as_usual(tmp_path: Path) -> None:
    document = SealedStorage(tmp_path / "book.json")
    bank = {"1": {"id": "book", "title": "Book"}}
    document.path.write_bytes(sealed({"bank": bank, "subjects": {}, "questions": {}}))
    loaded, notices = load_bank(document)
    assert (loaded.option_count, loaded.edition, notices) == (4, "", [])
