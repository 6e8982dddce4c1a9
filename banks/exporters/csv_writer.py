"""Questions as comma-separated values: RFC 4180, UTF-8 with a mark that spreadsheets look for."""

import csv
import io
from collections.abc import Iterable, Iterator, Sequence

from banks.exporters.question_rows import Histories, book_order, chosen, table
from banks.importers.cells import guarded
from banks.importers.marks_reader import COLUMNS
from domain.errors import InputError
from domain.questions import Bank
from domain.text import safe_text


def to_csv(bank: Bank, histories: Histories | None = None, subjects: Sequence[str] = ()) -> bytes:
    """The bank's active questions, a row each. Raises InputError when there is none."""
    headers, rows = table(chosen(bank, subjects), histories or {})
    return csv_bytes([headers, *rows])


def csv_bytes(rows: Iterable[Sequence[str]]) -> bytes:
    """Rows of text as a CSV file whose cells no spreadsheet takes for formulas."""
    stream = io.StringIO(newline="")
    writer = csv.writer(stream, lineterminator="\r\n")
    writer.writerows([guarded(safe_text(cell)) for cell in row] for row in rows)
    return stream.getvalue().encode("utf-8-sig")


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
