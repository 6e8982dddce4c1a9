"""A bank as a file: what its tables hold, and what makes a file edited by hand unusable."""

from collections.abc import Iterator
from typing import Any

import msgspec
from msgspec import Struct

from banks.store.checked_json import SealedStorage
from domain.errors import StoreDamaged
from domain.questions import Bank, Question, Subject
from domain.text import is_unsafe, tidy


class BankHeader(Struct, frozen=True, omit_defaults=True):
    """What a bank's file says of the bank as a whole. `questions` counts retired ones too."""

    id: str
    title: str
    edition: str = ""
    option_count: int = 4
    questions: int = 0


class BankTables(Struct, frozen=True):
    """The tables of a bank's file."""

    bank: dict[str, BankHeader]
    subjects: dict[str, Subject]
    questions: dict[str, Question]


def load_bank(storage: SealedStorage) -> tuple[Bank, list[str]]:
    """The bank, and what is odd about its file, in words. Raises StoreDamaged."""
    path = storage.path
    tables = storage.read_as(BankTables)
    header = tables.bank.get("1") if tables else None
    if tables is None or header is None or header.id != path.stem:
        raise StoreDamaged(f"{path}: is not the bank its name says; it was left untouched")
    notices = []
    if storage.edited:  # what resieve itself has written is clean
        tables = _cleaned(tables)
        header = tables.bank["1"]
        notices.append(f"{path}: was edited outside resieve since it was saved")
        notices += [f"{path}: {problem}" for problem in misfits(tables)]
    if header.questions != len(tables.questions):
        notices.append(
            f"{path}: {len(tables.questions)} questions where {header.questions} were saved"
        )
    bank = Bank(
        id=header.id,
        title=header.title,
        edition=header.edition,
        option_count=header.option_count,
        subjects=tuple(tables.subjects.values()),
        questions=tables.questions,
    )
    return bank, notices


def save_bank(storage: SealedStorage, bank: Bank) -> None:
    """Save the bank whole. Raises StoreError when it is not on the drive."""
    header = BankHeader(bank.id, bank.title, bank.edition, bank.option_count, len(bank.questions))
    storage.write(
        {
            "bank": {"1": header},
            "subjects": {subject.id: subject for subject in bank.subjects},
            "questions": bank.questions,
        }
    )


def misfits(tables: BankTables) -> Iterator[str]:
    """What in the tables does not fit together, in words."""
    chapters = {chapter.id for subject in tables.subjects.values() for chapter in subject.chapters}
    taken: dict[tuple[str, int], str] = {}
    for key, question in tables.questions.items():
        if question.id != key or not key.startswith(f"{tables.bank['1'].id}/"):
            yield f"question {key!r} is listed under another name than its own ({question.id!r})"
        if question.chapter not in chapters:
            yield f"question {key!r} refers to chapter {question.chapter!r}, which does not exist"
        if not question.retired:
            other = taken.setdefault((question.chapter, question.number), key)
            if other != key:
                yield f"questions {other!r} and {key!r} have the same number"
        yield from _odd_options(question)


def _cleaned(tables: BankTables) -> BankTables:
    """The tables without what could drive a terminal; the file is left as it is."""
    return msgspec.convert(_clean(msgspec.to_builtins(tables)), BankTables)


def _clean(value: Any) -> Any:
    if isinstance(value, str):
        return tidy(value) if is_unsafe(value) else value
    if isinstance(value, dict):
        return {name: _clean(held) for name, held in value.items()}
    return [_clean(held) for held in value] if isinstance(value, list | tuple) else value


def _odd_options(question: Question) -> Iterator[str]:
    ids = [option.id for option in question.options]
    if len(set(ids)) != len(ids):
        yield f"question {question.id!r} has two options of the same letter"
    if ids and question.kind in ("best", "multiple", "true-false"):
        unknown = [option_id for option_id in question.answer_key if option_id not in ids]
        if unknown:
            yield f"question {question.id!r} has a key that is none of its options ({unknown[0]!r})"
