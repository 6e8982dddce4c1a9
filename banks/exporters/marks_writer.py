"""Marks as CSV, `subject,chapter,number,date,verdict,sureness`: what was right, wrong or blank."""

from collections.abc import Iterator, Sequence

from banks.exporters.csv_writer import csv_bytes
from banks.exporters.located import Histories, book_order
from banks.importers.marks_reader import COLUMNS
from domain.errors import InputError
from domain.questions import Bank


def to_marks(bank: Bank, histories: Histories, subjects: Sequence[str] = ()) -> bytes:
    """A row a response, chapter by chapter, oldest first. Raises InputError when there is none."""
    rows = list(_rows(bank, histories, subjects))
    if not rows:
        raise InputError(f"There is nothing to export: nothing in {bank.title} was marked yet.")
    return csv_bytes([COLUMNS, *rows])


def _rows(bank: Bank, histories: Histories, subjects: Sequence[str]) -> Iterator[list[str]]:
    for placed in book_order(bank, subjects):
        where = [placed.subject.title, placed.chapter.title, str(placed.question.number)]
        for mark in histories.get(placed.question.id, ()):
            yield [*where, mark.day.isoformat(), str(mark.verdict), str(mark.confidence)]
