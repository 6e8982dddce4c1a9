"""Questions as comma-separated values: RFC 4180, UTF-8 with a mark that spreadsheets look for."""

import csv
import io
from collections.abc import Iterable, Sequence

from banks.exporters.located import Histories, chosen
from banks.exporters.rows import table
from banks.importers.cells import guarded
from domain.questions import Bank
from domain.text import safe_text


def to_csv(bank: Bank, histories: Histories | None = None, subjects: Sequence[str] = ()) -> bytes:
    """The bank's living questions, a row each. Raises InputError when there is none."""
    headers, rows = table(chosen(bank, subjects), histories or {})
    return csv_bytes([headers, *rows])


def csv_bytes(rows: Iterable[Sequence[str]]) -> bytes:
    """Rows of text as a CSV file whose cells no spreadsheet takes for formulas."""
    stream = io.StringIO(newline="")
    writer = csv.writer(stream, lineterminator="\r\n")
    writer.writerows([guarded(safe_text(cell)) for cell in row] for row in rows)
    return stream.getvalue().encode("utf-8-sig")
