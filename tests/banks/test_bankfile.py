"""A bank's file: a large one is read question by question; one that somebody edited is read as it
is, with what is odd about it told.
"""

import json
import zlib
from collections.abc import Callable
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from msgspec.structs import replace

from banks.store import bankfile
from banks.store.bankfile import load_bank, save_bank
from banks.store.cache import Cache
from banks.store.checked_json import SEAL, SealedStorage, sealed
from banks.store.filesystem import System
from domain.errors import StoreDamaged
from domain.questions import Bank, Option, Question, StoredQuestions
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


@pytest.mark.parametrize("head", [{}, {"1": {"id": "x", "title": "X"}}])
def test_a_file_that_is_not_the_bank_of_its_name_is_none(
    tmp_path: Path, cache: Cache, head: Tables
) -> None:
    document = SealedStorage(tmp_path / "book.json")
    document.path.write_bytes(sealed({"bank": head, "subjects": {}, "questions": {}}))
    for kept in (None, cache):
        with pytest.raises(StoreDamaged, match="is not the bank its name says; it was left unto"):
            load_bank(document, kept)


def test_what_a_file_leaves_out_is_as_usual(tmp_path: Path) -> None:
    document = SealedStorage(tmp_path / "book.json")
    bank = {"1": {"id": "book", "title": "Book"}}
    document.path.write_bytes(sealed({"bank": bank, "subjects": {}, "questions": {}}))
    loaded, notices = load_bank(document)
    assert (loaded.option_count, loaded.edition, notices) == (4, "", [])


@pytest.fixture
def cache(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Cache:
    """Where what is known of a file is kept; every file counts as large."""
    monkeypatch.setattr(bankfile, "LARGE", 0)
    return Cache(tmp_path, System())


TEXTS = st.sampled_from(["", "Why?", 'a":{"b', ",\n", "é\x1b\u2028\U0001f600", "a\\"])
NAMES = st.sampled_from(["", "c:1", ' "', "é\n", ",\n"])


@st.composite
def questions(draw: st.DrawFn) -> dict[str, Question]:
    """Questions with all that JSON has to escape."""
    names = [f"book/{draw(NAMES)}/{number}" for number in range(draw(st.integers(0, 5)))]
    return {
        name: Question(
            id=name,
            chapter=draw(TEXTS),
            number=draw(st.integers(0, 4) | st.just(1 << 70)),
            stem=draw(TEXTS),
            options=(Option("a", draw(TEXTS)),),
            answer_key=draw(st.sampled_from([(), ("a",)])),
            tolerance=draw(st.floats(0, 1)),
            credit=draw(st.sampled_from([{}, {"a": 0.5}])),
            retired=draw(st.booleans()),
            same_as=draw(st.sampled_from(["", *names])),
        )
        for name in names
    }


@given(questions())
def test_a_large_file_read_question_by_question_holds_what_it_does_as_a_whole(
    made: dict[str, Question],
) -> None:
    with TemporaryDirectory() as folder, pytest.MonkeyPatch.context() as patch:
        patch.setattr(bankfile, "LARGE", 0)
        document, kept = SealedStorage(Path(folder) / "book.json"), Cache(Path(folder), System())
        save_bank(document, Bank(id="book", title="Book", subjects=BOOK.subjects, questions=made))
        whole, _ = load_bank(document)
        for _ in range(2):  # first as it is read, then by what was kept of it
            bank, notices = load_bank(document, kept)
            assert isinstance(bank.questions, StoredQuestions)
            assert (bank, list(bank.questions.items())) == (whole, list(made.items()))
            assert (bank.index, notices) == (whole.index, [])
            assert all(name in bank.questions for name in made)
            assert "book/gone" not in bank.questions


def test_a_small_file_is_read_as_a_whole(
    tmp_path: Path, cache: Cache, monkeypatch: pytest.MonkeyPatch
) -> None:
    document = saved(tmp_path)
    size = document.path.stat().st_size
    for least, is_large in ((size, True), (size + 1, False)):
        monkeypatch.setattr(bankfile, "LARGE", least)
        bank, _ = load_bank(document, cache)
        assert isinstance(bank.questions, StoredQuestions) is is_large


def test_what_was_kept_of_a_large_file_is_taken_for_the_same_bytes_alone(
    tmp_path: Path, cache: Cache, monkeypatch: pytest.MonkeyPatch
) -> None:
    document = saved(tmp_path)
    load_bank(document, cache)
    with monkeypatch.context() as patch:
        patch.setattr(bankfile, "_columns", lambda *_: pytest.fail("it was gone through again"))
        assert load_bank(document, cache) == (BOOK, [])
    turned = BOOK.with_questions([replace(BOOK.questions[LAST], stem="Where?")])
    save_bank(document, turned)  # as long as it was
    assert load_bank(document, cache) == (turned, [])
    edit(document, lambda tables: question(tables, LAST, stem="Whose?"))
    bank, notices = load_bank(document, cache)
    assert (bank.questions[LAST].stem, notices) == ("Whose?", [f"{document.path}: {EDITED}"])
    (tmp_path / "cache/bank-book.packed").write_bytes(b"rubbish")
    save_bank(document, BOOK)
    assert load_bank(document, cache) == (BOOK, [])


def resealed(content: bytes) -> bytes:
    body = content[: content.rindex(SEAL)]
    return body + SEAL + b'{"1": {"crc32": "%08x"}}\n}\n' % zlib.crc32(body)


def turned(content: bytes) -> bytes:
    tables = json.loads(content)
    return sealed({name: tables[name] for name in ("questions", "subjects", "bank")})


FIRST_KEY, SECOND_KEY = b'"book/clouds.high/1":', b'"book/clouds.high/2":'
LAYOUTS: dict[str, Callable[[bytes], bytes]] = {
    "spaces": lambda content: content.replace(FIRST_KEY, FIRST_KEY + b" "),
    "a question over two lines": lambda content: content.replace(b',"number":1', b',\n"number":1'),
    "two questions in a line": lambda content: content.replace(
        b"},\n" + SECOND_KEY, b"}," + SECOND_KEY
    ),
    "another table behind": lambda content: content.replace(SEAL, b'\n"other": {},' + SEAL),
    "a question twice": lambda content: content.replace(
        SECOND_KEY,
        FIRST_KEY + b'{"id":"book/clouds.high/1","chapter":"x","number":1},\n' + SECOND_KEY,
    ),
    "a question under another name": lambda content: content.replace(SECOND_KEY, b'"book/x":'),
    "the heads behind": turned,
    "a byte order mark": lambda content: b"\xef\xbb\xbf" + content,
}


@pytest.mark.parametrize("layout", LAYOUTS)
def test_a_sealed_file_of_another_layout_is_read_as_a_whole(
    tmp_path: Path, cache: Cache, layout: str
) -> None:
    document = saved(tmp_path)
    content = document.path.read_bytes()
    document.path.write_bytes(resealed(LAYOUTS[layout](content)))
    assert document.path.read_bytes() != content
    bank, notices = load_bank(document, cache)
    assert (bank, notices) == load_bank(SealedStorage(document.path))
    assert not isinstance(bank.questions, StoredQuestions)


@pytest.mark.parametrize(
    ("right", "wrong"),
    [
        (b'"number":4', b'"number":"x"'),
        (b'"stem":"Which?"', b'"stem":"\xff"'),
        (b'"id":"book","title"', b'"id":"x","title"'),
        (b'"subjects": {', b'"subjects": ['),
    ],
)
def test_a_large_file_that_cannot_be_used_is_told_as_a_small_one(
    tmp_path: Path, cache: Cache, right: bytes, wrong: bytes
) -> None:
    document = saved(tmp_path)
    content = document.path.read_bytes()
    assert right in content
    document.path.write_bytes(resealed(content.replace(right, wrong)))
    with pytest.raises(StoreDamaged) as small:
        load_bank(SealedStorage(document.path))
    with pytest.raises(StoreDamaged) as large:
        load_bank(document, cache)
    assert str(large.value) == str(small.value)
