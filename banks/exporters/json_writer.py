"""Questions as JSON (RFC 8259), the whole bank in one document or an object a line."""

from collections.abc import Sequence
from typing import Any

import msgspec

from banks.exporters.question_rows import (
    Histories,
    LocatedQuestion,
    chosen,
    fields,
    key_letters,
    lettered,
)
from domain.questions import Bank
from domain.text import safe_value


def to_json(bank: Bank, histories: Histories | None = None, subjects: Sequence[str] = ()) -> bytes:
    """One document: the bank's title, edition and active questions. Raises InputError for none."""
    questions = [_object(placed, histories or {}) for placed in chosen(bank, subjects)]
    document = {"title": bank.title, "edition": bank.edition, "questions": questions}
    return msgspec.json.format(msgspec.json.encode(safe_value(document)), indent=2) + b"\n"


def to_handover(bank: Bank, disputes: Sequence[str], topics: Sequence[str]) -> bytes:
    """The bank for whoever revises after the candidate: questions, keys and weights, the disputed
    keys and what came in the exam as plain words; nothing of the history.
    """
    weights = {subject.title: subject.weight for subject in bank.subjects if subject.weight}
    document = {
        "title": bank.title,
        "edition": bank.edition,
        "weights": weights,
        "came in the exam": "; ".join(topics),
        "disputed keys": "; ".join(disputes),
        "questions": [_object(located, {}) for located in chosen(bank)],
    }
    return msgspec.json.format(msgspec.json.encode(safe_value(document)), indent=2) + b"\n"


def to_json_lines(
    bank: Bank, histories: Histories | None = None, subjects: Sequence[str] = ()
) -> bytes:
    """An object a line, a question each. Raises InputError when there is none."""
    objects = (_object(placed, histories or {}) for placed in chosen(bank, subjects))
    return b"".join(msgspec.json.encode(safe_value(each)) + b"\n" for each in objects)


def _object(placed: LocatedQuestion, histories: Histories) -> dict[str, Any]:
    """The same fields as a row has, with numbers, lists and objects where JSON has them."""
    question, said = placed.question, fields(placed, histories)
    letters = lettered(question)
    richer = {
        "number": question.number,
        "key": key_letters(question),
        "tolerance": question.tolerance,
        "tags": list(question.tags),
        "shuffle": question.shuffle,
        "credit": {letters[key]: mark for key, mark in question.credit.items()},
        "figures": [msgspec.to_builtins(figure) for figure in question.figures],
        "history": [msgspec.to_builtins(mark) for mark in histories.get(question.id, ())],
    }
    return {name: richer.get(name, text) for name, text in said.items()}
