"""What the candidate wrote: disputed keys, to check with a teacher, as CSV or as Markdown to print
and write on; notes as CSV.
"""

from collections.abc import Iterable, Iterator, Mapping, Sequence

from msgspec import Struct

from banks.exporters.bank_writers import csv_bytes
from banks.exporters.question_rows import LocatedQuestion, book_order, encoded, escaped, lettered
from domain.errors import InputError
from domain.history import History
from domain.questions import Bank

COLUMNS = (
    *("subject", "chapter", "number", "reference", "stem", "options"),
    *("key of the bank", "own key", "note"),
)


NOTE_COLUMNS = ("subject", "chapter", "number", "reference", "stem", "note")


class Disputed(Struct, frozen=True):
    """A question whose key the candidate does not believe, the key they believe, and why."""

    placed: LocatedQuestion
    key: tuple[str, ...]
    note: str = ""


def disputed(bank: Bank, history: History, subjects: Sequence[str] = ()) -> list[Disputed]:
    """The disputes in force, in the order of the book. Raises InputError when there is none."""
    disputes = [
        Disputed(placed, dispute.key, dispute.note)
        for placed in book_order(bank, subjects)
        if (dispute := history.dispute(placed.question.id))
    ]
    if not disputes:
        raise InputError(f"There is nothing to export: no key in {bank.title} is disputed.")
    return disputes


def notes_to_csv(
    bank: Bank, notes: Mapping[str, str], subjects: Sequence[str] = ()
) -> tuple[bytes, int]:
    """A row for each question with a note, in the order of the book, and how many there are.

    `notes` are by question id. Raises InputError when there is none.
    """
    rows = [
        (
            placed.subject.title,
            placed.chapter.title,
            str(placed.question.number),
            placed.question.reference,
            placed.question.stem,
            note,
        )
        for placed in book_order(bank, subjects)
        if (note := notes.get(placed.question.id))
    ]
    if not rows:
        raise InputError(f"There is nothing to export: {bank.title} has no note of yours.")
    return csv_bytes([NOTE_COLUMNS, *rows]), len(rows)


def in_words(dispute: Disputed) -> str:
    """A dispute on one line: "Clouds, 1 Genera, 12: b, not a (page 40)"."""
    located, note = dispute.placed, f" ({dispute.note})" if dispute.note else ""
    number = located.question.number
    own = _letters(dispute, dispute.key)
    printed = _letters(dispute, located.question.answer_key)
    return f"{located.subject.title}, {located.chapter.title}, {number}: {own}, not {printed}{note}"


def to_csv(disputes: Iterable[Disputed]) -> bytes:
    """A row a dispute."""
    return csv_bytes([COLUMNS, *map(_row, disputes)])


def to_markdown(disputes: Iterable[Disputed], title: str) -> bytes:
    """A section a dispute, with room for the teacher's word."""
    parts = [f"# Disputed keys – {escaped(title)}", *map(_section, disputes)]
    return encoded("\n\n".join(parts) + "\n")


def _row(dispute: Disputed) -> list[str]:
    placed = dispute.placed
    question = placed.question
    return [
        placed.subject.title,
        placed.chapter.title,
        str(question.number),
        question.reference,
        question.stem,
        "\n".join(_options(dispute)),
        _letters(dispute, question.answer_key),
        _letters(dispute, dispute.key),
        dispute.note,
    ]


def _section(dispute: Disputed) -> str:
    placed, question = dispute.placed, dispute.placed.question
    where = f"{placed.subject.title} · {placed.chapter.title} · {question.number}"
    reference = f" ({escaped(question.reference)})" if question.reference else ""
    options = "\n".join(f"- {escaped(option)}" for option in _options(dispute))
    own, of_bank = _letters(dispute, dispute.key), _letters(dispute, question.answer_key)
    keys = f"Key of the bank: **{escaped(of_bank)}** – own key: **{escaped(own)}**"
    lines = [f"## {escaped(where)}{reference}", escaped(question.stem), options, keys]
    lines += [escaped(dispute.note), "Teacher: ______________________"]
    return "\n\n".join(filter(None, lines))


def _options(dispute: Disputed) -> Iterator[str]:
    question = dispute.placed.question
    letters = lettered(question)
    return (f"{letters[option.id]}) {option.text}" for option in question.options)


def _letters(dispute: Disputed, key: Sequence[str]) -> str:
    letters = lettered(dispute.placed.question)
    return ", ".join(letters.get(each, each) for each in key) or "none"
