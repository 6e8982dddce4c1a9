"""Questions as a workbook (.xlsx): a sheet a subject, every cell plain text or a number."""

import re
from collections.abc import Sequence
from io import BytesIO
from itertools import groupby
from typing import TYPE_CHECKING, cast

from banks.exporters.question_rows import (
    Histories,
    LocatedQuestion,
    chosen,
    fields,
    printable,
    table,
)
from domain.errors import InputError
from domain.questions import Bank

if TYPE_CHECKING:
    from openpyxl.cell.cell import Cell
    from openpyxl.worksheet.worksheet import Worksheet

MOST_CHARACTERS = 32_767
"""What one cell of a spreadsheet holds."""

_NARROW, _WIDE = 11, 48
_WIDE_COLUMNS = {"stem", "explanation"}


def to_xlsx(bank: Bank, histories: Histories | None = None, subjects: Sequence[str] = ()) -> bytes:
    """The bank's active questions. Raises InputError for none, or a text too long for a cell."""
    from openpyxl import Workbook

    placed = chosen(bank, subjects)
    _check_lengths(placed, histories or {})
    book = Workbook(write_only=True)
    taken: set[str] = set()
    for _, group in groupby(placed, key=lambda each: each.subject.id):
        of_subject = list(group)
        name = _sheet_name(of_subject[0].subject.title, taken)
        _fill(cast("Worksheet", book.create_sheet(name)), of_subject, histories or {})
    stream = BytesIO()
    book.save(stream)
    return stream.getvalue()


def _check_lengths(placed: Sequence[LocatedQuestion], histories: Histories) -> None:
    for each in placed:
        longest = max(fields(each, histories).values(), key=len)
        if len(longest) > MOST_CHARACTERS:
            where = f"{each.subject.title}, {each.chapter.title}, {each.question.number}"
            raise InputError(
                f"{where}: a text of {len(longest):,} characters does not fit a spreadsheet's"
                f" cell, which holds {MOST_CHARACTERS:,}; export as CSV or JSON instead."
            )


def _sheet_name(title: str, taken: set[str]) -> str:
    """A name that spreadsheets allow and no other sheet has (in any case of its letters)."""
    plain = re.sub(r"[\[\]:*?/\\]", " ", printable(title)).strip(" '")[:31] or "Sheet"
    name, count = plain, 1
    while name.casefold() in taken:
        count += 1
        name = f"{plain[:26]} {count}"
    taken.add(name.casefold())
    return name


def _fill(sheet: "Worksheet", placed: Sequence[LocatedQuestion], histories: Histories) -> None:
    from openpyxl.utils import get_column_letter

    headers, rows = table(placed, histories)
    sheet.freeze_panes = "A2"
    for at, header in enumerate(headers, start=1):
        wide = _WIDE if header in _WIDE_COLUMNS else _NARROW
        sheet.column_dimensions[get_column_letter(at)].width = wide
    sheet.append([_cell(sheet, header, bold=True) for header in headers])
    at_number = headers.index("number")
    for row in rows:
        cells: list[Cell | int] = [_cell(sheet, text) for text in row]
        cells[at_number] = int(row[at_number])
        sheet.append(cells)


def _cell(sheet: "Worksheet", text: str, *, bold: bool = False) -> "Cell":
    """Text that stays text, whatever sign it begins with."""
    from openpyxl.cell import WriteOnlyCell
    from openpyxl.styles import Font

    cell = WriteOnlyCell(sheet, value=printable(text))
    cell.data_type = "s"
    cell.quotePrefix = True
    if bold:
        cell.font = Font(bold=True)
    return cell
