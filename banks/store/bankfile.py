"""A bank as a file: what its tables hold, and what makes a file edited by hand unusable.

A large file that resieve wrote itself is kept as bytes, and a question of it decoded when it is
asked for; where each lies, and their index, are kept in `cache/` for exactly these bytes.
"""

from array import array
from collections.abc import Iterator, Mapping
from functools import lru_cache
from typing import Any

import msgspec
from msgspec import Struct

from banks.store.cache import Cache
from banks.store.checked_json import SEAL, SealedStorage, decoded
from domain.errors import StoreDamaged
from domain.questions import Bank, Question, QuestionIndex, StoredQuestions, Subject
from domain.text import is_unsafe, tidy

LARGE = 1 << 18
"""Bytes of a file below which it is decoded whole as fast as what would be kept of it."""

_RECENT = 256
"""Questions that stay decoded."""


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


def load_bank(storage: SealedStorage, cache: Cache | None = None) -> tuple[Bank, list[str]]:
    """The bank, and what is odd about its file, in words. Raises StoreDamaged.

    With a cache, questions of a large file are decoded when they are asked for.
    """
    path = storage.path

    def read(content: bytes) -> Bank | BankTables:
        bank = None
        if cache is not None and not storage.edited and len(content) >= LARGE:
            bank = _stored_bank(path.stem, content, storage.mark, cache)
        return bank or decoded(content, BankTables)

    tables = storage.read_by(read)
    if isinstance(tables, Bank):
        return tables, []
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
    return _bank(header, tuple(tables.subjects.values()), tables.questions), notices


def _bank(
    header: BankHeader, subjects: tuple[Subject, ...], questions: Mapping[str, Question]
) -> Bank:
    return Bank(
        id=header.id,
        title=header.title,
        edition=header.edition,
        option_count=header.option_count,
        subjects=subjects,
        questions=questions,
    )


class KeptBank(Struct, frozen=True, array_like=True):
    """A bank as it was read of a file with this check sum and length: its head, the columns of
    `QuestionIndex`, and from where to where in the file each question lies.
    """

    mark: str
    length: int
    header: BankHeader
    subjects: tuple[Subject, ...]
    ids: list[str]
    numbers: list[int]
    traits: bytes
    chapter_ids: list[str]
    chapters: bytes
    active: dict[str, bytes]
    same_as: dict[str, str]
    starts: bytes
    ends: bytes


def _stored_bank(name: str, content: bytes, mark: str, cache: Cache) -> Bank | None:
    """The bank over the bytes of its sealed file; None where they aren't laid out as `sealed`
    does, or where there is something to tell of them.
    """
    kept = cache.load_packed(f"bank-{name}", KeptBank)
    if kept is None or (kept.mark, kept.length) != (mark, len(content)):
        kept = _columns(content, mark)
        if kept is None or kept.header.id != name or kept.header.questions != len(kept.ids):
            return None
        cache.save_packed(f"bank-{name}", kept)
    index = QuestionIndex(
        ids=kept.ids,
        numbers=kept.numbers,
        traits=kept.traits,
        chapter_ids=kept.chapter_ids,
        chapters=array("I", kept.chapters),
        active={chapter: array("I", rows) for chapter, rows in kept.active.items()},
        same_as=kept.same_as,
    )
    view, decode = memoryview(content), msgspec.json.Decoder(Question).decode
    starts, ends = array("Q", kept.starts), array("Q", kept.ends)

    @lru_cache(_RECENT)
    def read(row: int) -> Question:
        return decode(view[starts[row] : ends[row]])

    return _bank(kept.header, kept.subjects, StoredQuestions(index, read))


def _columns(content: bytes, mark: str) -> KeptBank | None:
    """What is kept of a sealed file; None where it isn't laid out as `sealed` does: the other
    tables, a question a line, the seal.
    """
    spans = array("Q"), array("Q")
    try:
        start, end = content.index(_QUESTIONS), content.rindex(_END + SEAL)
        tables = msgspec.json.decode(content[:start] + b"}", type=_Head)
        header = tables.bank["1"]
        index = QuestionIndex().with_questions(_lines(content, start + len(_QUESTIONS), end, spans))
    except (msgspec.DecodeError, ValueError, KeyError):
        return None
    if len(index.rows) < len(index.ids):
        return None
    return KeptBank(
        mark=mark,
        length=len(content),
        header=header,
        subjects=tuple(tables.subjects.values()),
        ids=index.ids,
        numbers=index.numbers,
        traits=index.traits,
        chapter_ids=index.chapter_ids,
        chapters=index.chapters.tobytes(),
        active={chapter: rows.tobytes() for chapter, rows in index.active.items()},
        same_as=index.same_as,
        starts=spans[0].tobytes(),
        ends=spans[1].tobytes(),
    )


class _Head(Struct, frozen=True):
    """The tables before the questions."""

    bank: dict[str, BankHeader]
    subjects: dict[str, Subject]


_QUESTIONS, _END = b',\n"questions": {\n', b"\n},"
"""What stands between the tables before and the first question, and behind the last one."""


def _lines(
    content: bytes, start: int, end: int, spans: tuple["array[int]", "array[int]"]
) -> Iterator[tuple[str, Question]]:
    """The questions of these lines with their ids; notes where each begins and ends.

    Raises ValueError, or what decoding does, for a line that `sealed` does not write.
    """
    view, decode = memoryview(content), msgspec.json.Decoder(Question).decode
    while start < end:
        line_end = content.index(b"\n", start)
        stop = line_end - (line_end < end)  # a comma, but for the last
        begin = content.find(b'":{', start, stop) + 2
        question = decode(view[begin:stop])
        if content[start:begin] != msgspec.json.encode(question.id) + b":":
            raise ValueError
        spans[0].append(begin)
        spans[1].append(stop)
        yield question.id, question
        start = line_end + 1


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
